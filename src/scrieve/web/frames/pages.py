"""The list of frames, one frame, and the section at any station."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import quote, urlencode

import numpy as np
from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from scrieve.errors import BadLength, NoSuchFrame, ScrieveError
from scrieve.fairing.section import Section
from scrieve.frames.choice import MadeFrom
from scrieve.frames.columns.design import design_columns
from scrieve.frames.columns.shape import doubt_working, girth_working, line_columns
from scrieve.frames.design import FrameDesign
from scrieve.frames.packet.options import Option
from scrieve.frames.written import OLD_FRAME, SETTINGS, written_as
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.csvs import table_csv
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.fair_line import fair_line_drawing
from scrieve.sheets.figures import degrees, length, unit
from scrieve.takeoff.frame_names import frames_meant, part_hand
from scrieve.takeoff.marks import Mark
from scrieve.units import Units
from scrieve.web.boat.pages import FrameState, frame_states
from scrieve.web.column_whys import ColumnWhy, column_whys, table_whys
from scrieve.web.faults import FRAME_NAMES, at_fault, in_words
from scrieve.web.forms import FrameForm
from scrieve.web.frames import trial as frame_trial
from scrieve.web.frames.progress import STEPS, progress
from scrieve.web.frames.work import Asked, history, split_workings, taken, way_words, ways, ways_whys
from scrieve.web.glue_up.curing import curing_of, hour_told
from scrieve.web.views import View, off_by, small_unit
from scrieve.wording import in_units
from scrieve.working import Working

pages = APIRouter()
pages.include_router(frame_trial.pages)

#: Rows of the offsets table, heel to head.
ROWS = 17


@dataclass(frozen=True)
class Sight:
    """One frame or station as its page shows it; what could not be computed is None, `said` says why."""

    label: str
    station_mm: float | None
    section: Section | None
    line: Drawing | None
    offsets: Table | None
    marks: tuple[Mark, ...]
    design: FrameDesign | None
    sheet: BenchSheet | None
    revision: str
    said: ScrieveError | None
    of: str = ""
    made_from: MadeFrom = "both"
    line_workings: tuple[Working, ...] = ()
    offset_whys: tuple[ColumnWhy, ...] = ()

    @property
    def tables(self) -> dict[str, Table]:
        """The sheet's tables by their short names."""
        return {table.name: table for table in self.sheet.tables} if self.sheet else {}


def offset_rows(section: Section, rows: int = ROWS) -> list[int]:
    """Points of a section that its table of offsets shows, heel to head."""
    return [int(i) for i in np.linspace(0, len(section.s_mm) - 1, rows).round()]


def offset_table(section: Section, units: Units, rows: int = ROWS) -> Table:
    """Return the fair line as offsets at even girths, with its ± and bevel."""
    at = offset_rows(section, rows)
    head = (
        f"from heel ({unit(units)})",
        f"half-breadth ({unit(units)})",
        f"height ({unit(units)})",
        f"± 1 sd ({small_unit(units)})",
        "bevel (°)",
        f"radius ({unit(units)})",
    )
    body = tuple(
        (
            length(float(section.s_mm[i]), units),
            length(float(section.half_breadth_mm[i]), units, 1),
            length(float(section.height_mm[i]), units, 1),
            off_by(float(section.sd_mm[i]), units).lstrip("+"),
            degrees(float(section.bevel_rad[i])),
            _radius(float(section.curvature_per_mm[i]), units),
        )
        for i in at
    )
    note = "Bevel: of the hull to the station plane. Radius below zero: hollow outboard, as in a flared bow."
    return Table("Offsets of the fair line", head, body, note, name="offsets")


def _radius(curvature: float, units: Units) -> str:
    return "straight" if abs(curvature) < 1e-5 else length(math.copysign(1 / abs(curvature), curvature), units)


def see(view: View, label: str, station_mm: float | None = None) -> Sight:
    """Return what there is to show of a frame, or of a station.

    Raises
    ------
    NoSuchFrame
        Nothing of this boat is called so, or the hull does not reach it.
    """
    kept, hull = view.kept, view.hull
    entry = kept.frames.get(label) if label else None
    of = (entry or {}).get("of") or label
    made_from: MadeFrom = entry["choice"].get("hull", "both") if entry else "both"
    hands = hands_in(made_from if entry and entry.get("of") else "both")
    marks = tuple(mark for mark in view.state.every_mark if of and mark.frame == of and mark.side in hands)
    if station_mm is None:
        station_mm = entry.get("station_mm") if entry else None
    if label and not marks and entry is None and not (hull and label in hull.stations):
        met = frames_meant(label, {mark.frame: mark.station_mm for mark in view.state.every_mark})
        if not met:
            raise NoSuchFrame(f"frame {label!r} is not in this boat: it has no marks and has not been designed.")
        own = part_hand(label)[1]
        marks = tuple(
            mark for mark in view.state.every_mark if mark.frame in met and (mark.side in ("", own) or not own)
        )
    if station_mm is None and marks and not (hull and label in hull.stations):
        station_mm = marks[0].station_mm
    blank = Sight(label, station_mm, None, None, None, marks, None, None, "", view.cannot, of, made_from)
    if hull is None:
        return blank
    try:
        hull = hull if made_from == "both" else kept.hull(None, made_from)
        section = hull.section(label if label in hull.stations else station_mm if station_mm is not None else label)
    except ScrieveError as error:
        if not label:
            raise
        return Sight(**{**vars(blank), "said": error})
    there = hands_in(made_from)
    standing = [mark for mark in kept.marks if mark.frame == of and mark.side in there]
    line = fair_line_drawing(section, standing, hull.offs, units=view.boat.units)
    offsets = offset_table(section, view.boat.units)
    rms = [off.residual_mm for off in hull.offs if off.number in {mark.number for mark in standing}]
    found = {
        **vars(blank),
        "station_mm": section.station_mm,
        "section": section,
        "line": line,
        "offsets": offsets,
        "line_workings": (
            girth_working(section),
            doubt_working(section, view.boat.sigma_mm, len(standing), float(np.sqrt(np.mean(np.square(rms)))) if rms
                          else None),
        ),
        "offset_whys": column_whys(offsets, line_columns(section, offset_rows(section), len(standing)),
                                   view.boat.units),
    }  # fmt: skip
    if entry is not None:
        try:
            found["design"], found["sheet"], found["revision"] = view.frame(label)
        except ScrieveError as error:
            found["said"] = error
    return Sight(**found)


def hands_in(made_from: MadeFrom) -> tuple[str, ...]:
    """The sides whose marks a hull is faired from; '' for marks that stand for both."""
    return {"both": ("P", "S", ""), "port": ("P", ""), "starboard": ("S", "")}[made_from]


def neighbours(frames: list[FrameState], station_mm: float | None) -> tuple[str, str]:
    """Labels of the next frame forward and the next aft; '' where there is none."""
    if station_mm is None:
        return "", ""
    placed = [(frame.station_mm, frame.label) for frame in frames if frame.station_mm is not None]
    forward = [label for x, label in placed if x < station_mm - 0.05]
    aft = [label for x, label in placed if x > station_mm + 0.05]
    return (forward[-1] if forward else "", aft[0] if aft else "")


def frame_page(
    view: View,
    label: str,
    typed: FrameForm | None = None,
    error: ScrieveError | None = None,
    status: int = 200,
    asked: Asked | None = None,
) -> Response:
    """Return the page of a frame; `typed` and `error` are a form that was refused, `asked` other ways to build it."""
    sight = see(view, label)
    choice = view.kept.frames.get(label, {}).get("choice")
    found: tuple[Option, ...] = ()
    said: ScrieveError | None = None
    if asked and sight.design:
        try:
            found = ways(sight.design, asked, view.boat.units, sight.revision)
        except ScrieveError as wrong:
            said = wrong
    form = typed or FrameForm.of(label, sight.station_mm, choice, view.boat.units)
    states = frame_states(view.kept, view.hull)
    curing = curing_of(view.file.engine, label) if sight.design else None
    return view.page(
        "frame.html",
        status,
        sight=sight,
        around=neighbours(states, sight.station_mm),
        form=form,
        error=in_words(error, FRAME_NAMES, form.fields, view.boat.units) if error else None,
        at=at_fault(error, FRAME_NAMES, form.fields),
        onward=onward(label) if sight.design else (),
        asked=asked or (Asked.of(sight.design.choice, view.boat.units) if sight.design else None),
        ways=found,
        ways_said=said,
        ways_whys=ways_whys(found, view.boat.units) if found else (),
        way_words=way_words,
        taken=taken,
        history=history(view, label) if sight.design else (),
        groups=split_workings(sight.design.workings) if sight.design else {},
        whys=table_whys(sight.sheet.tables, design_columns(sight.design), view.boat.units)
        if sight.design and sight.sheet
        else {},
        tabs=TABS,
        opened="bend" if error or asked else "shape",
        steps=[name for name, _ in STEPS],
        progress=next(iter(progress(view, [state for state in states if state.label == label])), None),
        curing=curing,
        clamps_off=hour_told(curing.off) if curing else "",
        settings=SETTINGS,
        written_as=written_as,
        old_frame=OLD_FRAME,
        in_units=in_units,
        apart=[other for other, entry in view.kept.frames.items() if entry.get("of") == sight.of],
    )


#: The tabs of a designed frame, by what is being done.
TABS = (
    ("shape", "Shape"),
    ("bend", "Bend"),
    ("bevel", "Bevel"),
    ("jig", "Jig"),
    ("glue-up", "Glue-up"),
    ("judged", "Checks"),
    ("history", "History"),
)
#: The pages on which a designed frame is worked further: address, and what is done there.
ONWARD = (
    ("/jig", "Set the jig", "bracket by bracket"),
    ("/glue-up", "Glue it up", "card, dry run, clamps"),
    ("/release", "Off the jig", "measure, learn, rip"),
)


def onward(label: str) -> tuple[tuple[str, str, str], ...]:
    """Address, name and use of the pages that go on with a frame."""
    from scrieve.web.app import PARTS  # which knows this module

    asked = urlencode({"frame": label}, quote_via=quote)
    paths = {getattr(route, "path", "") for part in PARTS for route in part.pages.routes}
    return tuple((f"{path}?{asked}", name, use) for path, name, use in ONWARD if path in paths)


@pages.get("/frames")
def frames(
    request: Request,
    label: Annotated[str | None, Query()] = None,
    ways: Annotated[str, Query()] = "",
    timbers: Annotated[str, Query(max_length=400)] = "",
    thicknesses: Annotated[str, Query(max_length=400)] = "",
    steamed: Annotated[str, Query(max_length=100)] = "",
) -> Response:
    """The list of frames; with `label`, the page of a frame whose label no path can carry, with `ways` other ways to
    build it in the timbers, thicknesses and shares asked for."""
    view = View(request)
    if early := view.early():
        return early
    if label is not None:
        return frame_page(view, label, asked=Asked(timbers, thicknesses, steamed) if ways else None)
    return frames_page(view)


def frames_page(
    view: View, typed: FrameForm | None = None, error: ScrieveError | None = None, status: int = 200
) -> Response:
    """Return the list of frames with the form for a frame that has no marks."""
    form = typed or FrameForm()
    states = frame_states(view.kept, view.hull)
    going = [each for each in progress(view, states) if each.done]
    return view.page(
        "frames.html",
        status,
        frames=states,
        going=going,
        far={each.label: each for each in going},
        steps=[name for name, _ in STEPS],
        form=form,
        error=in_words(error, FRAME_NAMES, form.fields, view.boat.units) if error else None,
        at=at_fault(error, FRAME_NAMES, form.fields),
    )


@pages.get("/frames/{label:path}")
def frame(request: Request, label: str) -> Response:
    """One frame: marks, fair line, residuals; jig and tables where it has been designed."""
    view = View(request)
    return view.early() or frame_page(view, label)


@pages.get("/stations/{at}")
def station(request: Request, at: str) -> Response:
    """The section at a station in mm."""
    view = View(request)
    if early := view.early():
        return early
    if view.hull is None:
        return view.page("station.html", 422, sight=None, around=("", ""))
    x = _station(at)
    sight = see(view, "", x)
    return view.page(
        "station.html", sight=sight, in_units=in_units, around=neighbours(frame_states(view.kept, view.hull), x)
    )


@pages.get("/section.csv")
def section_csv(
    request: Request, at: Annotated[str, Query()], points: Annotated[int, Query(ge=2, le=5000)] = 200
) -> Response:
    """The section at a frame label or a station in mm, heel to head."""
    view = View(request)
    hull = view.ready()
    entry = view.kept.frames.get(at, {})
    station = entry.get("station_mm")
    made_from = entry.get("choice", {}).get("hull", "both")
    if made_from != "both":
        hull = view.kept.hull(None, made_from)
    asked = at if at in hull.stations or station is None else station
    text = table_csv(section_table(hull.section(asked, points), at))
    headers = {"Content-Disposition": 'attachment; filename="section.csv"', "Cache-Control": "no-cache"}
    return Response(text, media_type="text/csv; charset=utf-8", headers=headers)


def section_table(section: Section, label: str) -> Table:
    """Return every point of a section in mm and degrees, for other programs."""
    head = ("frame", "station_mm", "s_mm", "half_breadth_mm", "height_mm", "sd_mm", "bevel_deg", "curvature_per_m")
    values = np.column_stack(
        [
            np.full(len(section.s_mm), section.station_mm),
            section.s_mm,
            section.half_breadth_mm,
            section.height_mm,
            section.sd_mm,
            np.degrees(section.bevel_rad),
            1000 * section.curvature_per_mm,
        ]
    )
    name = section.frame or label
    return Table("Section", head, tuple((name, *(f"{value:.3f}" for value in row)) for row in values))


def _station(at: str) -> float:
    try:
        x = float(at)
    except ValueError:
        x = math.nan
    if not math.isfinite(x):
        raise BadLength(f"station {at!r}: give a number of mm, such as 3600.")
    return x
