"""The bevel board on its page: a table pasted or sent, bevels typed; kept, and held against the hull's own bevels."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve.errors import BadMarks, ScrieveError
from scrieve.fairing.bevel_board import TOLERANCE_RAD
from scrieve.takeoff.bevels import BevelReading, read_bevels
from scrieve.takeoff.bevels_kept import bevels_words
from scrieve.takeoff.tables import read_table
from scrieve.web.forms import Parcel, Parcelled
from scrieve.web.takeoff.assessing import table_text
from scrieve.web.takeoff.bevels_work import Held, held, keep_bevels, kept_bevels, sendings, take_back
from scrieve.web.views import View

pages = APIRouter()
PASTED = "the pasted table"
_TOLERANCE_DEG = math.degrees(TOLERANCE_RAD)
#: The longest text that is given back into the page to be put right [characters].
_MOST_GIVEN_BACK = 400_000


@dataclass(frozen=True)
class Board:
    """A board as pasted or sent, not kept yet: its text, what cannot be read, and its readings."""

    text: str = ""
    name: str = PASTED
    bad: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    readings: tuple[BevelReading, ...] = ()
    tried: bool = False
    error: ScrieveError | None = None


@pages.get("/marks/bevels")
def bevel_board(
    request: Request,
    tolerance: Annotated[float, Query(gt=0, le=45)] = _TOLERANCE_DEG,
    new: Annotated[int, Query(ge=-1, lt=10**9)] = -1,
) -> Response:
    """The bevels kept, held against the fair hull as it stands."""
    view = View(request)
    if not view.fairing.done.is_set():
        return view.wait()
    said = "" if new < 0 else "Nothing new was kept: these bevels are on the board already."
    if new > 0:
        said = f"{new} bevel{'' if new == 1 else 's'} kept."
    return _page(view, Board(), tolerance_deg=tolerance, said=said)


@pages.post("/marks/bevels")
def sent_board(request: Request, sent: Parcelled) -> Response:
    """Keep a board that was pasted or sent, hold it against the hull by way of trial, or take one back."""
    view = View(request)
    if sent.fields.get("do") == "back":
        try:
            take_back(view, sent.fields.get("number", ""), sent.fields.get("key") or None)
        except ScrieveError as error:
            return _page(view, Board(error=error), status=422)
        return RedirectResponse("/marks/bevels", 303)
    return take_board(view, sent)


def take_board(view: View, sent: Parcel) -> Response:
    """Answer a table of bevels: kept, tried, or given back to be put right."""
    do = sent.fields.get("do", "keep")
    name = sent.file_name or sent.fields.get("name") or PASTED
    data = sent.file or sent.fields.get("text", "").encode()
    given = Board(sent.fields.get("text", ""), name)
    try:
        if sent.file_name and not data.strip():
            raise BadMarks(f"{name}: the file is empty; save the table again and choose it anew.")
        if not data.strip():
            raise BadMarks("nothing was pasted, and no file was chosen; the first row names the columns.")
        if sent.file:
            text = table_text(read_table(data, name))
            given = replace(given, text=text if len(text) <= _MOST_GIVEN_BACK else "")
        taken = read_bevels(data, name, units=view.boat.units)
        given = replace(given, bad=taken.bad, warnings=taken.warnings, readings=taken.bevels)
        if do == "judge":
            return _page(view, replace(given, tried=True), status=422 if taken.bad else 200)
        if taken.bad and (do != "good" or not taken.bevels):
            return _page(view, given, status=422)
        return keep_and_show(view, taken.bevels, name, sent.fields.get("key", ""))
    except ScrieveError as error:
        return _page(view, replace(given, error=error), status=422)


def keep_and_show(view: View, readings: Sequence[BevelReading], source: str, key: str) -> Response:
    """Keep readings and lead to the board; raises as `keep_bevels` does."""
    content = hashlib.sha256(repr(tuple(readings)).encode()).hexdigest()[:24]
    _, many = keep_bevels(view, readings, source, f"{key[:80]}-{content}" if key else None)
    return RedirectResponse("/marks/bevels?" + urlencode({"new": many}) + "#board", 303)


def _page(
    view: View, given: Board, *, tolerance_deg: float = _TOLERANCE_DEG, said: str = "", status: int = 200
) -> Response:
    kept = kept_bevels(view)
    shown = given.readings if given.tried else kept
    found: Held | None = None
    error = given.error
    if view.hull is not None and shown:
        try:
            found = held(view, view.hull, shown, math.radians(tolerance_deg))
        except ScrieveError as problem:
            error = error or problem
    why = "" if view.hull else str(view.cannot) if view.cannot else "the hull is just being faired; ask again shortly."
    response = view.page(
        "takeoff_bevels.html", status, given=given, kept=kept, kept_words=bevels_words(kept), held=found, error=error,
        said=said, why=why, tolerance_deg=f"{tolerance_deg:g}", sendings=list(reversed(sendings(view))),
    )  # fmt: skip
    response.headers["cache-control"] = "no-store"
    del response.headers["etag"]
    return response
