"""The timber page: boards in the rack, planks laid on them, cutting list, off-cuts, and what to order."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import BadBoard, BadLength, BadMarks, ScrieveError
from scrieve.sheets.board_drawings import board_drawing
from scrieve.sheets.board_tables import cutting_list, off_cut_list, order_list
from scrieve.sheets.csvs import table_csv
from scrieve.sheets.drawing import Drawing
from scrieve.stock.board import Board, rectangular
from scrieve.stock.forms import mapping_of, read_boards
from scrieve.stock.layout import Shop
from scrieve.stock.result import Result, result_of
from scrieve.units import format_length, parse_length
from scrieve.web.addresses import plank_path
from scrieve.web.forms import Parcel, Parcelled
from scrieve.web.timber_work import LAYINGS, Timber, keep_laying, keep_shop, timber
from scrieve.web.views import View
from scrieve.wording import in_units

pages = APIRouter()
_WHO = "pages"
#: Fields of the shop's rules that are lengths, and those that are plain numbers.
LENGTHS = ("sound_knot_mm", "defect_margin_mm", "edge_margin_mm", "kerf_mm", "margin_mm", "keep_length_mm",
           "keep_width_mm")  # fmt: skip
NUMBERS = ("grain_run", "seconds")


@pages.get("/timber")
def timber_page(request: Request) -> Response:
    """The rack, the laying, and forms for both."""
    view = View(request)
    if not view.fairing.done.is_set():
        return view.wait()
    return _page(view)


@pages.get("/timber/cutting-list.csv")
def cutting_csv(request: Request) -> Response:
    """The cutting list as a table."""
    view = View(request)
    found = timber(view)
    result = result_of(found.laying) if found.laying else None
    table = cutting_list(result.cuts if result else (), view.boat.units)
    head = {"Content-Disposition": 'attachment; filename="cutting-list.csv"', "Cache-Control": "no-cache"}
    return Response(table_csv(table), media_type="text/csv; charset=utf-8", headers=head)


@pages.post("/timber")
def act(request: Request, parcel: Parcelled) -> Response:
    """One act on the rack or the laying, by its word under `do`; back to the page, or what was typed with what is
    wrong with it."""
    view = View(request)
    sent = parcel.fields
    do = sent.get("do", "")
    try:
        place = _ACTS.get(do, _unknown)(view, parcel)
    except ScrieveError as error:
        return _page(view, 422, typed=sent, error=error, at=do)
    return RedirectResponse(f"/timber#{place}", 303)


def _page(view: View, status: int = 200, *, typed: Mapping[str, str] | None = None, error: ScrieveError | None = None,
          at: str = "") -> Response:  # fmt: skip
    found = timber(view)
    job = LAYINGS.latest(view)
    units = view.boat.units
    result = result_of(found.laying) if (found.laying and found.laying.placements) or found.laying else None
    response = view.page(
        "timber.html", status, found=found, result=in_units(result, units) if result else None,
        running=job if job is not None and not job.done.is_set() else None,
        failed=job.error if job is not None and job.done.is_set() else None,
        drawings=_drawings(found, result, view), typed=typed or {}, error=error, at=at,
        shop=_shop_form(found.shop, view),
        lists=_lists(result, view), orders=order_list(result.orders, units) if result else None,
    )  # fmt: skip
    del response.headers["etag"]
    response.headers["cache-control"] = "no-store"
    return response


def _drawings(found: Timber, result: Result | None, view: View) -> list[tuple[Board, Drawing, bool]]:
    uses = {use.board.name: use for use in result.uses} if result else {}
    links: dict[str, str] = {}
    for name in view.kept.planks:
        links |= {part: plank_path(name) for part in (name, f"{name} P", f"{name} S")}
    drawn = []
    for board in sorted(found.boards, key=lambda one: one.name not in uses):
        use = uses.get(board.name)
        picture = board_drawing(board, found.laying, use.off_cuts if use else (), units=view.boat.units, links=links)
        drawn.append((board, picture, use is not None))
    return drawn


def _lists(result: Result | None, view: View) -> list[Any]:
    if result is None:
        return []
    return [cutting_list(result.cuts, view.boat.units), off_cut_list(result.off_cuts, view.boat.units)]


def _shop_form(shop: Shop, view: View) -> dict[str, str]:
    kept = shop.to_mapping()
    units = view.boat.units
    form = {name: format_length(kept[name], units, 0 if kept[name] == round(kept[name]) else 1) for name in LENGTHS}
    return form | {name: f"{kept[name]:g}" for name in NUMBERS} | {
        "sapwood": shop.sapwood, "knot_face": shop.knot_face, "show": shop.show,
        "book_matched": "yes" if shop.book_matched else "",
    }  # fmt: skip


def _add(view: View, parcel: Parcel) -> str:
    """Add a square-edged board as typed."""
    sent = parcel.fields
    name = sent.get("name", "").strip()
    if not name:
        raise BadBoard("the board has no name; give what is written on its end.")
    values = {what: _length(sent, what, view) for what in ("length", "width", "thickness")}
    cost = _number(sent["cost"], "cost") if sent.get("cost", "").strip() else None
    face = sent.get("best_face", "")
    if face not in ("", "top", "under"):
        raise BadBoard(f"best face {face!r}: say top, under, or neither.")
    board = rectangular(name, values["length"], values["width"], values["thickness"], cost=cost, best_face=face,
                        timber=sent.get("timber", "").strip().lower())  # fmt: skip
    _store(view, [board], sent)
    return "rack"


def _table(view: View, parcel: Parcel) -> str:
    """Add the boards of a table, pasted or as a file."""
    text = parcel.fields.get("table", "")
    data, name = (parcel.file, parcel.file_name) if parcel.file else (text.encode(), "the pasted table")
    if not data.strip():
        raise BadMarks("nothing was pasted, and no file was chosen.")
    reading = read_boards(data, name, units=view.boat.units)
    if reading.bad:
        raise BadMarks("some cells cannot be read, so nothing was stored:", reading.bad)
    _store(view, reading.boards, parcel.fields)
    return "rack"


def _store(view: View, boards: Sequence[Board], sent: Mapping[str, str]) -> None:
    taken = store.choices(view.file.engine, "board")
    twice = [board.name for board in boards if board.name in taken and taken[board.name] != mapping_of(board)]
    if twice:
        raise BadBoard(f"board {twice[0]!r} is in the rack already; take it off first, or give another name.")
    for board in boards:
        key = f"{sent['key']}-{board.name}" if sent.get("key") else None
        store.keep_choice(view.file.engine, "board", board.name, mapping_of(board), key=key, who=_WHO)


def _forget(view: View, parcel: Parcel) -> str:
    """Take a board off the rack."""
    name = parcel.fields.get("board", "")
    if name not in store.choices(view.file.engine, "board"):
        raise BadBoard(f"board {name!r} is not in the rack.")
    store.keep_choice(view.file.engine, "board", name, None, who=_WHO)
    return "rack"


def _shop(view: View, parcel: Parcel) -> str:
    """Keep the shop's rules."""
    sent, before = parcel.fields, timber(view).shop
    told = _shop_form(before, view)
    given: dict[str, Any] = {
        name: _length(sent, name, view) for name in LENGTHS if name in sent and sent[name].strip() != told[name]
    }
    given |= {name: _number(sent[name], name.replace("_", " ")) for name in NUMBERS if name in sent}
    given |= {name: sent[name] for name in ("sapwood", "knot_face", "show") if name in sent}
    given["book_matched"] = sent.get("book_matched", "") == "yes"
    keep_shop(view.file.engine, replace(before, **given))
    return "shop"


def _lay(view: View, _parcel: Parcel) -> str:
    """Begin laying all parts on all boards."""
    found = timber(view)
    if not found.boards:
        raise BadBoard("there are no boards to lay anything on; add them first.")
    if not found.parts:
        raise BadBoard("there is nothing to lay: no plank is drawn that is not cut already.")
    LAYINGS.begin(view, found)
    return "laying"


def _stop(view: View, _parcel: Parcel) -> str:
    """Stop laying, with the best so far."""
    job = LAYINGS.latest(view)
    if job is not None:
        job.stop.set()
        job.done.wait(5.0)
    return "laying"


def _cut(view: View, parcel: Parcel) -> str:
    """A board is cut: its parts are done, its off-cuts go to the rack."""
    name, engine = parcel.fields.get("board", ""), view.file.engine
    found = timber(view)
    if found.laying is None or found.stale:
        raise BadBoard("boards, planks or rules have changed since the parts were laid; lay them again first.")
    use = next((one for one in result_of(found.laying).uses if one.board.name == name), None)
    if use is None:
        raise BadBoard(f"nothing is laid on board {name!r}.")
    for cut in use.cuts:
        store.keep_choice(engine, "part", cut.part, {"cut_from": name}, who=_WHO)
    for one in use.off_cuts:
        store.keep_choice(engine, "board", one.board.name, mapping_of(one.board), who=_WHO)
    store.keep_choice(engine, "board", name, None, who=_WHO)
    after = timber(View(view.request))
    left = tuple(one for one in found.laying.placements if one.board != name)
    keep_laying(engine, replace(found.laying, boards=after.boards, placements=left), after.made_from)
    return "rack"


def _unknown(_view: View, parcel: Parcel) -> str:
    raise BadBoard(f"{parcel.fields.get('do', '')!r} cannot be done here.")


_ACTS = {"add": _add, "table": _table, "forget": _forget, "shop": _shop, "lay": _lay, "stop": _stop, "cut": _cut}


def _length(sent: Mapping[str, str], what: str, view: View) -> float:
    named = what.removesuffix("_mm").replace("_", " ")
    try:
        return parse_length(sent.get(what, ""), view.boat.units)
    except BadLength as error:
        raise BadLength(f"{named}: {error}") from error


def _number(text: str, what: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and value >= 0):
        raise BadBoard(f"{what}: found {text!r}; expected a plain number, not below zero.")
    return value
