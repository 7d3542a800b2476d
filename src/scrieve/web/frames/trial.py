"""A frame pair as the form stands, before it is stored: designed, drawn and checked while it is typed."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import Response

from scrieve.chain import entry_of
from scrieve.errors import BadLength, CannotFair, NoSuchFrame, ScrieveError
from scrieve.frames.choice import FrameChoice
from scrieve.frames.columns.design import design_columns
from scrieve.frames.design import FrameDesign
from scrieve.frames.forms import first
from scrieve.sheets.frame_sheet import frame_bench_sheet
from scrieve.units import parse_length
from scrieve.web.column_whys import table_whys
from scrieve.web.faults import FRAME_NAMES, at_fault, in_words
from scrieve.web.forms import FrameForm, Sent
from scrieve.web.frames.work import split_workings
from scrieve.web.views import View
from scrieve.wording import in_units

pages = APIRouter()


def tried(view: View, form: FrameForm) -> tuple[FrameChoice, float | None, FrameDesign]:
    """Return the choice typed, the station of a frame without marks, and the pair designed from them.

    Raises
    ------
    ScrieveError
        A value cannot be read or used, or no pair can be designed from it; the message says which.
    """
    if view.hull is None:
        raise view.cannot or CannotFair("the hull is still being faired; send this again in a moment.")
    entry = entry_of(view.kept, form.label, view.hull.stations, first(view.boat.units))
    choice = form.choice(entry.get("choice"), view.boat.units)
    station = None
    if form.label not in view.hull.stations:
        if not form.station and entry.get("station_mm") is None:
            raise NoSuchFrame(f"frame {form.label!r} has no marks; give the station where it stands.")
        try:
            station = parse_length(form.station, view.boat.units) if form.station else entry["station_mm"]
        except BadLength as error:
            raise BadLength(f"Station: {error}") from error
        if entry.get("station_mm") is not None and abs(station - entry["station_mm"]) < 1.0:
            station = entry["station_mm"]  # as the page had rounded it
    return choice, station, view.kept.design(choice, station)


@pages.post("/frames/try")
def trial(request: Request, sent: Sent) -> Response:
    """What the form would make, or why it cannot be made, as a part of the frame's page; nothing is stored."""
    view = View(request)
    if not view.fairing.done.is_set():
        raise HTTPException(503, "The hull is being faired; ask again in a moment.", {"Retry-After": "1"})
    form = FrameForm.typed(sent)
    try:
        _, _, design = tried(view, form)
        sheet = frame_bench_sheet(design, view.boat, "")
    except ScrieveError as error:
        at = at_fault(error, FRAME_NAMES, form.fields)
        told = in_words(error, FRAME_NAMES, form.fields, view.boat.units)
        return _fragment(view.page("frame_trial.html", error=told, at=at))
    tables = {table.name: table for table in sheet.tables}
    groups = split_workings(design.workings)
    whys = table_whys(sheet.tables, design_columns(design), view.boat.units)
    context: dict[str, Any] = {
        "design": design,
        "sheet": sheet,
        "tables": tables,
        "groups": groups,
        "whys": whys,
        "in_units": in_units,
    }
    return _fragment(view.page("frame_trial.html", error=None, **context))


def _fragment(response: Response) -> Response:
    """A part of a page is never kept by the browser in place of it."""
    response.headers["cache-control"] = "no-store"
    if "etag" in response.headers:
        del response.headers["etag"]
    return response
