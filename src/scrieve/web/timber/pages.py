"""The timber page: boards in the rack, planks laid on them, cutting list, off-cuts, and what to order."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.athand import AtHand
from scrieve.errors import BadBoard, ScrieveError
from scrieve.sheets.bench import Table
from scrieve.sheets.board_drawings import board_drawing
from scrieve.sheets.board_ripping import (
    boards_ripped,
    rip_drawing,
    rip_workings,
    ripping_boards_sheet,
    ripping_tables,
)
from scrieve.sheets.board_sheet import write_boards
from scrieve.sheets.board_tables import cutting_list, off_cut_list, order_list
from scrieve.sheets.csvs import table_csv
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.pdf import bench_sheet_pdf
from scrieve.stock.board import Board
from scrieve.stock.check import Breach
from scrieve.stock.parts import parts_meant
from scrieve.stock.result import Result, result_of
from scrieve.stock.rip_kept import RIPPING, Ripped, boards_free, rip_revision, ripping_from
from scrieve.stock.rip_orders import rip_orders
from scrieve.stock.standing import Standing, fresh
from scrieve.store import Conflict
from scrieve.web.addresses import part_path, plank_path
from scrieve.web.forms import Parcelled
from scrieve.web.settling import Seen
from scrieve.web.sheet_pages import code_of, zipped
from scrieve.web.timber.acts import ACTS, shop_form
from scrieve.web.timber.hand import Hand, hand_drawing, in_hand, standing_breaches
from scrieve.web.timber.work import (
    LAYINGS,
    Job,
    frames_wanted,
    timber,
)
from scrieve.web.views import ENVIRONMENT, View, drawn
from scrieve.wording import in_units
from scrieve.working import Working

pages = APIRouter()
#: Sheets made last.
_packs: AtHand[dict[str, bytes]] = AtHand(4)


@pages.get("/timber")
def timber_page(request: Request) -> Response:
    """The rack, the laying, and forms for both; with `part`, that part in hand, where it lies or as it is tried."""
    view = View(request)
    if not view.fairing.done.is_set():
        return view.wait()
    return _page(view, asked=dict(request.query_params))


@pages.get("/timber/try")
def tried(request: Request) -> Response:
    """One part as it is tried on a board: its place, what it breaks there, the drawing. Nothing is stored by it."""
    view = View(request)
    found = timber(view)
    hand = in_hand(found, dict(request.query_params), view.boat.units) if not found.stale else None
    if hand is None:
        raise HTTPException(409, "Boards or planks have changed meanwhile; open this page again.")
    first, lowest = hand.corner_mm
    told = {
        "part": hand.part.name, "board": hand.one.board, "first_mm": round(first, 3), "lowest_mm": round(lowest, 3),
        "fields": hand.fields, "tried": hand.tried, "clear": not hand.breaches and not hand.said, "said": hand.said,
        "sawable": hand.sawable,
        "breaches": [{"what": one.what, "text": one.text, "neighbour": one.neighbour} for one in hand.breaches],
        "drawing": drawn(hand_drawing(found, hand, _links(found))),
        "panel": ENVIRONMENT.get_template("timber_hand.html").render(hand=hand, found=found, u=view.boat.units,
                                                                     plank=_plank_of(hand.part.name, view),
                                                                     **_sent_with(view, request.query_params)),
    }  # fmt: skip
    return Response(json.dumps(told, ensure_ascii=False), media_type="application/json",
                    headers={"Cache-Control": "no-store"})  # fmt: skip


@pages.get("/timber/cutting-list.csv")
def cutting_csv(request: Request) -> Response:
    """The cutting list as a table."""
    return _csv(View(request), "cutting-list")


@pages.get("/timber/order.csv")
def order_csv(request: Request) -> Response:
    """What to order, as a table."""
    return _csv(View(request), "order")


def _csv(view: View, name: str) -> Response:
    found = timber(view)
    result = result_of(found.laying) if found.laying else None
    units = view.boat.units
    ripping = _ripping(view, found)
    laminations = rip_orders(ripping.ripped, found.boards) if ripping.ripped and not ripping.stale else ()
    table = (cutting_list(result.cuts if result else (), units) if name == "cutting-list" else
             order_list((*(result.orders if result else ()), *laminations), units))  # fmt: skip
    head = {"Content-Disposition": f'attachment; filename="{name}.csv"', "Cache-Control": "no-cache"}
    return Response(table_csv(table), media_type="text/csv; charset=utf-8", headers=head)


@pages.get("/timber/sheet.pdf")
def sheet(request: Request) -> Response:
    """The boards' bench sheet."""
    return _sheets(request, "boards-bench.pdf")


@pages.get("/timber/laminations.pdf")
def ripping_sheet(request: Request) -> Response:
    """The bench sheet of laminations ripped out of boards."""
    view = View(request)
    found = timber(view)
    ripped = ripping_from(store.choices(view.file.engine, "layout").get(RIPPING))
    if ripped is None:
        return RedirectResponse("/timber#ripping", 303)  # nothing to print yet
    sheet = ripping_boards_sheet(ripped, found.boards, view.boat, code_of(view, "/timber", ripped.made_from))
    head = {"Content-Disposition": 'attachment; filename="laminations-bench.pdf"', "Cache-Control": "no-cache"}
    return Response(bench_sheet_pdf(sheet, date=date.today().isoformat()), media_type="application/pdf", headers=head)


@pages.get("/timber/sheets.zip")
def all_sheets(request: Request) -> Response:
    """The bench sheet, its tables, and each board cut into as DXF; with the laminations ripped, unless out of date."""
    return _sheets(request, "boards.zip")


def _sheets(request: Request, name: str) -> Response:
    view = View(request)
    found = timber(view)
    if not found.at_hand.placements:
        return RedirectResponse("/timber#laying", 303)  # nothing to print yet
    laying, today, link = fresh(found), date.today().isoformat(), code_of(view, "/timber", found.made_from)
    key = (found.made_from, laying.placements, today, link, view.boat)
    files = _packs.get(key, lambda: write_boards(laying, view.boat, found.made_from, link=link, date=today))
    if name not in files and (ripping := _ripping(view, found)).ripped is not None and not ripping.stale:
        sheet = ripping_boards_sheet(
            ripping.ripped, found.boards, view.boat, code_of(view, "/timber", ripping.ripped.made_from)
        )
        tables = {f"laminations-{table.name}.csv": table_csv(table).encode("utf-8-sig") for table in ripping.tables}
        files = {**files, "laminations-bench.pdf": bench_sheet_pdf(sheet, date=today), **tables}
    data = files[name] if name in files else zipped(files)[1]
    head = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-cache"}
    kind = "application/pdf" if name.endswith(".pdf") else "application/zip"
    return Response(data, media_type=kind, headers=head)


@pages.post("/timber")
def act(request: Request, parcel: Parcelled) -> Response:
    """One act on the rack or the laying, by its word under `do`; back to the page, or what was typed with what is
    wrong with it."""
    view = View(request)
    sent = parcel.fields
    do = sent.get("do", "")
    try:
        place = ACTS[do](view, parcel) if do in ACTS else _unknown(do)
    except Conflict:
        raise
    except ScrieveError as error:
        return _page(view, 422, typed=sent, error=error, at=do, asked=sent)
    return RedirectResponse(place if place.startswith("/") else f"/timber#{place}", 303)


def _page(view: View, status: int = 200, *, typed: Mapping[str, str] | None = None, error: ScrieveError | None = None,
          at: str = "", asked: Mapping[str, str] | None = None) -> Response:  # fmt: skip
    found = timber(view)
    job = LAYINGS.latest(view)
    units = view.boat.units
    running = job if job is not None and not job.done.is_set() else None
    result = result_of(found.laying) if found.laying is not None and running is None else None
    hand = in_hand(found, asked or {}, units) if running is None and not found.stale else None
    response = view.page(
        "timber.html", status, found=found, result=in_units(result, units) if result else None, running=running,
        failed=job.error if job is not None and job.done.is_set() else None, hand=hand,
        plank=_plank_of(hand.part.name, view) if hand else "", **_sent_with(view, asked or {}),
        drawings=_drawings(found, result, hand, running, view), typed=typed or {}, error=error, at=at,
        shop=shop_form(found.shop, view), held=len([one for one in found.at_hand.placements if one.held]),
        ripping=_ripping(view, found), lists=_lists(result, view),
        orders=order_list(result.orders, units) if result else None,
    )  # fmt: skip
    del response.headers["etag"]
    response.headers["cache-control"] = "no-store"
    return response


def _sent_with(view: View, asked: Mapping[str, str]) -> dict[str, str | int]:
    """What the form of a part in hand is sent with: the last act that its sender had seen when he took it up."""
    seen = Seen.of(asked).act
    return {"seen": view.state.acts if seen is None else seen, "key": view.key("part in hand")}


@dataclass(frozen=True)
class _Shown:
    """One board as the page shows it."""

    board: Board
    drawing: Drawing
    used: bool
    broken: Sequence[tuple[str, Breach]]


@dataclass(frozen=True)
class _Ripping:
    """Laminations out of boards as the page shows them; `ripped` is None where none are ripped yet."""

    wanted: int
    ripped: Ripped | None
    stale: bool
    drawings: Sequence[tuple[str, Drawing]]
    tables: Sequence[Table]
    workings: Sequence[Working]


def _ripping(view: View, found: Standing) -> _Ripping:
    wanted = frames_wanted(view)
    ripped = ripping_from(store.choices(view.file.engine, "layout").get(RIPPING))
    units = view.boat.units
    if ripped is None:
        return _Ripping(len(wanted), None, False, (), (), ())
    free = boards_free(found.boards, found.laying)
    stale = rip_revision(free, wanted, found.shop) != ripped.made_from
    drawings = [(board.name, rip_drawing(board, ripped, units=units)) for board in boards_ripped(ripped, found.boards)]
    tables = ripping_tables(ripped, found.boards, units)
    return _Ripping(len(wanted), ripped, stale, drawings, tables, rip_workings(ripped, units))


def _drawings(found: Standing, result: Result | None, hand: Hand | None, running: Job | None,
              view: View) -> list[_Shown]:  # fmt: skip
    uses = {use.board.name: use for use in result.uses} if result else {}
    laying = running.best if running else found.at_hand
    links = {} if running or found.stale else _links(found)
    shown = []
    for board in sorted(found.boards, key=lambda one: one.name not in uses):
        use, units = uses.get(board.name), view.boat.units
        if hand is not None and hand.one.board == board.name:
            drawing = hand_drawing(found, hand, links)
        else:
            drawing = board_drawing(board, laying, use.off_cuts if use else (), units=units, links=links, room=True)
        broken = standing_breaches(found.at_hand, board.name, units) if not (running or found.stale) else ()
        shown.append(_Shown(board, drawing, use is not None, broken))
    return shown


def _links(found: Standing) -> dict[str, str]:
    return {part.name: part_path(part.name) for part in found.at_hand.parts}


def _plank_of(part: str, view: View) -> str:
    """Return the address of the plank that a part is of."""
    planks = view.kept.planks
    names = (each for name in parts_meant(part) for each in (name, name.removesuffix(" P"), name.removesuffix(" S")))
    return next((plank_path(name) for name in (part, *names) if name in planks), "")


def _lists(result: Result | None, view: View) -> list[Any]:
    if result is None:
        return []
    return [cutting_list(result.cuts, view.boat.units), off_cut_list(result.off_cuts, view.boat.units)]


def _unknown(do: str) -> str:
    raise BadBoard(f"{do!r} cannot be done here.")
