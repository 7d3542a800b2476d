"""Laminations ripped out of boards, on paper: each board with its strips, what to rip and cross-cut, the scarfs."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace

from scrieve.boat import Boat
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.board_drawings import board_drawing
from scrieve.sheets.board_tables import order_list
from scrieve.sheets.drawing import Drawing, Item, Line, polyline
from scrieve.sheets.figures import length, thin, thin_unit, unit, workings_table
from scrieve.stock.board import Board
from scrieve.stock.rip_kept import Ripped
from scrieve.stock.rip_orders import rip_orders
from scrieve.units import Units
from scrieve.wording import by_itself, in_units, small
from scrieve.working import Working

CAUTIONS = (
    "Rip each board over-width first where it moves as it is opened: a strip that springs is kept for a short piece.",
    "Guards, push sticks, feather boards and extraction as the saw's maker asks; thin strips kick back.",
    "Look at every strip on all four sides before it is planed; grain that runs out of a strip breaks in the bend.",
)


def rip_table(ripped: Ripped, units: Units) -> Table:
    """What each board gives: strips ripped, and the lengths cut off each, from its first end."""
    plan, u = ripped.plan, unit(units)
    rows = []
    for cut in plan.plan.boards:
        clear = plan.clear[cut.stock]
        alike = Counter((strip.width_mm, strip.pieces) for strip in cut.strips)
        for (width, pieces), count in sorted(alike.items(), key=lambda pair: (-pair[0][0], pair[0][1])):
            lengths = " + ".join(length(plan.pieces[at].length_mm, units) for at in pieces)
            rows.append((clear.board, length(clear.first_mm + ripped.trim_mm, units), length(clear.lower_mm, units),
                         length(clear.upper_mm, units), str(count), thin(width, units), lengths))  # fmt: skip
    return Table(
        "Rip", ("board", f"from ({u})", f"lowest ({u})", f"highest ({u})", "strips", f"sawn ({thin_unit(units)})",
                f"cut to ({u})"), tuple(rows),
        "From, lowest and highest: the clear piece on the board's top face, by its datum line. The board's thickness "
        "gives the strips their width.", name="rip",
    )  # fmt: skip


def scarf_table(ripped: Ripped, units: Units) -> Table:
    """Laminations put together from pieces."""
    rows = [
        (frame, str(one.lamination + 1), " + ".join(length(x, units) for x in one.pieces_mm),
         ", ".join(length(x, units) for x in one.scarfs_mm))
        for frame, own in zip(ripped.frames, ripped.plan.scarfed, strict=True) for one in own if one.scarfs_mm
    ]  # fmt: skip
    u = unit(units)
    return Table(
        "Scarfs", ("frame", "lamination, of those alike", f"pieces ({u})", f"scarfs' middles, from the heel ({u})"),
        tuple(rows), "Pieces with their scarfs; neighbours' scarfs stand apart.", name="rip-scarfs",
    )  # fmt: skip


def short_table(ripped: Ripped, units: Units) -> Table:
    """Pieces for which there is no board: to be ordered."""
    plan = ripped.plan
    wide = max(order.sawn_width_mm for order in ripped.orders)
    rows = tuple(
        (str(count), length(plan.pieces[at].length_mm, units), thin(plan.pieces[at].width_mm, units),
         length(wide, units), plan.pieces[at].name)
        for at, count in plan.plan.short
    )  # fmt: skip
    u = unit(units)
    return Table("Laminations without a board", ("pieces", f"length ({u})", f"sawn ({thin_unit(units)})",
                 f"out of boards as thick as ({u})", "for"), rows, name="rip-order")  # fmt: skip


def rip_drawing(board: Board, ripped: Ripped, *, units: Units = "mm") -> Drawing:
    """Return a board with its clear pieces (dashed), and where each is ripped and cross-cut."""
    base = board_drawing(board, units=units)
    items: list[Item] = []
    for cut in ripped.plan.plan.boards:
        clear = ripped.plan.clear[cut.stock]
        if clear.board != board.name:
            continue
        box = [(clear.first_mm, clear.lower_mm), (clear.last_mm, clear.lower_mm), (clear.last_mm, clear.upper_mm),
               (clear.first_mm, clear.upper_mm)]  # fmt: skip
        items.append(polyline(box, "OFF CUTS", closed=True))
        low = clear.lower_mm
        for strip in cut.strips:
            at = clear.first_mm + ripped.trim_mm
            for piece in strip.pieces:
                last = at + ripped.plan.pieces[piece].length_mm
                ring = [(at, low), (last, low), (last, low + strip.width_mm), (at, low + strip.width_mm)]
                items.append(polyline(ring, "LAMINATIONS", closed=True))
                items.append(Line((last, low), (last, low + strip.width_mm), "FRAME MARKS"))
                at = last + ripped.kerf_mm
            low += strip.width_mm + ripped.kerf_mm
    return Drawing((*base.items, *items), base.title, base.one_to)


def boards_ripped(ripped: Ripped, boards: Sequence[Board]) -> tuple[Board, ...]:
    """Return the boards that are ripped, in the order of the plan."""
    names = dict.fromkeys(ripped.plan.clear[cut.stock].board for cut in ripped.plan.plan.boards)
    known = {board.name: board for board in boards}
    return tuple(known[name] for name in names if name in known)


def rip_workings(ripped: Ripped, units: Units) -> tuple[Working, ...]:
    """How the figures of a plan of ripping came about."""
    plan = ripped.plan.plan
    of: dict[str, int] = defaultdict(int)
    for frame, order in zip(ripped.frames, ripped.orders, strict=True):
        of[frame] += order.count
    made = (
        Working(
            "Yield of the clear pieces ripped", f"{ripped.share:.0%}", "area of the pieces / area of the clear pieces",
            (("kerf", by_itself(small(ripped.kerf_mm, None))),
             *((f"frame {frame}", f"{count} strips") for frame, count in of.items())),
            "areas on the board's face",
        ),
        Working(
            "Boards", str(len({ripped.plan.clear[one.stock].board for one in plan.boards})),
            "fewest square metres of clear piece that give every piece, by arc flow",
            (("proved the least", "yes" if plan.proved else "no"),
             ("lengths rounded to", by_itself(small(plan.grid_mm, None)))),
            "Valério de Carvalho, Annals of Operations Research 86 (1999)",
        ),
    )  # fmt: skip
    return in_units(made, units)


def ripping_tables(ripped: Ripped, boards: Sequence[Board], units: Units) -> tuple[Table, ...]:
    """What to rip, the scarfs, and what there is no board for with the boards to order; `boards` is the rack."""
    order = replace(order_list(rip_orders(ripped, boards), units), title="Boards to order", name="rip-boards")
    every = (rip_table(ripped, units), scarf_table(ripped, units), short_table(ripped, units), order)
    return tuple(table for table in every if table.rows)


def ripping_boards_sheet(ripped: Ripped, boards: Sequence[Board], boat: Boat, link: str = "") -> BenchSheet:
    """Return the plan of ripping as a bench sheet."""
    units, cut = boat.units, boards_ripped(ripped, boards)
    count = sum(order.count for order in ripped.orders)
    short = sum(number for _, number in ripped.plan.plan.short)
    return BenchSheet(
        title="Laminations out of boards",
        boat=boat.name,
        member="laminations",
        revision=ripped.made_from,
        link=link,
        drawings=tuple((f"Board {board.name}", rip_drawing(board, ripped, units=units)) for board in cut),
        tables=(*ripping_tables(ripped, boards, units), workings_table(rip_workings(ripped, units))),
        cautions=CAUTIONS,
        summary=(
            ("frames", ", ".join(dict.fromkeys(ripped.frames))),
            ("laminations", f"{count}"),
            ("boards ripped", f"{len(cut)}"),
            ("yield", f"{ripped.share:.0%} of the clear pieces"),
            ("pieces without a board", f"{short}"),
        ),
    )
