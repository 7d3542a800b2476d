"""Result: what a laying comes to: cutting list, yield, off-cuts kept, what is missing and why, what to order, cost."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from shapely import Polygon

from scrieve.planking.board import least_strip
from scrieve.stock.board import Board
from scrieve.stock.cut_plan import Piece, Stock
from scrieve.stock.cutting import first_fit
from scrieve.stock.laying import Laying, Placement, lay_parts
from scrieve.stock.offcuts import OffCut, off_cuts
from scrieve.stock.parts import Part
from scrieve.stock.usable import Up
from scrieve.wording import by_itself, length, small, tell
from scrieve.working import Working

#: Share of wany boards that becomes planks, for orders, until this rack has its own. Shop default, no source.
ORDER_YIELD = 0.5
#: From so many boards cut into, the rack's own yield is taken for orders.
OWN_YIELD_FROM = 3
#: Lengths to order are rounded up to this, widths to the other [mm]. Shop default, no source.
ORDER_LENGTH_STEP_MM, ORDER_WIDTH_STEP_MM = 100.0, 10.0
#: A part is resawn where so much is left past the kerf. Shop default, no source.
RESAW_FROM_MM = 10.0
#: Rounds in which missing parts are tried on slabs: these are few, and hold a part each.
_SLAB_ROUNDS = 20


@dataclass(frozen=True, slots=True)
class Cut:
    """One line of the cutting list; lengths in mm.

    `first_mm`, `last_mm` are where the part begins and ends along the board's datum line, `lower_mm`, `upper_mm` how
    far it reaches across it. `up` is the face of the part that lies on the board's top face; `end_for_end` that its
    last end lies towards the board's first. `thickness_mm` is what the board is planed to, `over_mm` what comes off its
    thickness, and `left_mm` the thickness of the piece left where that is resawn and not planed away; 0 where it is.
    """

    part: str
    board: str
    first_mm: float
    last_mm: float
    lower_mm: float
    upper_mm: float
    up: Up
    end_for_end: bool
    turned_rad: float
    thickness_mm: float
    over_mm: float
    left_mm: float
    book_matched: bool
    held: bool


@dataclass(frozen=True, slots=True)
class BoardUse:
    """One board that is cut into: the parts off it, the off-cuts kept, the share of it that becomes parts."""

    board: Board
    cuts: tuple[Cut, ...]
    off_cuts: tuple[OffCut, ...]
    share: float


@dataclass(frozen=True, slots=True)
class Missing:
    """A part that found no place, and why."""

    part: str
    why: str


@dataclass(frozen=True, slots=True)
class Order:
    """Boards to order for the parts that are missing, of one timber and thickness; lengths in mm.

    `length_mm`, `width_mm` are what a board must have at the least for the longest and the widest of them, the width
    clear of wane; `count` how many such boards hold them all; `area_m2` of wany board, wane and waste included; `share`
    the yield that was reckoned with. `cost` goes by `price_m3`, what the rack's own boards of that timber cost; None
    where no cost is known.
    """

    timber: str
    thickness_mm: float
    length_mm: float
    width_mm: float
    count: int
    area_m2: float
    volume_m3: float
    share: float
    parts: tuple[str, ...]
    price_m3: float | None = None
    cost: float | None = None


@dataclass(frozen=True, slots=True)
class Result:
    """What a laying comes to.

    `share` is the parts' area in that of the boards cut into, `share_kept` with the off-cuts kept left out of the
    count, `share_volume` the parts' volume in the boards'; `cost` what is used up, in the shop's money, None where the
    cost of a board is not known.
    """

    uses: tuple[BoardUse, ...]
    missing: tuple[Missing, ...]
    orders: tuple[Order, ...]
    share: float
    share_kept: float
    share_volume: float
    cost: float | None
    workings: tuple[Working, ...]

    @property
    def cuts(self) -> tuple[Cut, ...]:
        """The cutting list, board by board."""
        return tuple(cut for use in self.uses for cut in use.cuts)

    @property
    def off_cuts(self) -> tuple[OffCut, ...]:
        """Every off-cut kept."""
        return tuple(one for use in self.uses for one in use.off_cuts)


def result_of(laying: Laying) -> Result:
    """Return what a laying comes to.

    Examples
    --------
    >>> from scrieve.stock import Part, lay_parts, rectangular
    >>> plank = Part("p", ((0, 0), (900, 0), (900, 100), (0, 100)), 20)
    >>> found = result_of(lay_parts([rectangular("A", 1000, 120, 25, cost=12.0)], [plank], rounds=1))
    >>> found.share, found.cost
    (0.75, 12.0)
    """
    names = {board.name for board in laying.boards}
    uses = []
    for board in laying.boards:
        placements = laying.on(board.name)
        if not placements:
            continue
        shapes = [Polygon(laying.outline(one)) for one in placements]
        cuts = tuple(_cut(laying, one) for one in placements)
        left = [cut.left_mm for cut in cuts]
        kept = off_cuts(board, shapes, saw=laying.saw, keep=laying.keep, names=names, left_mm=left)
        names |= {one.board.name for one in kept}
        uses.append(BoardUse(board, cuts, kept, sum(shape.area for shape in shapes) / board.area_mm2))
    wood = sum(use.board.area_mm2 for use in uses)
    parts = sum(use.share * use.board.area_mm2 for use in uses)
    kept_area = sum(one.board.area_mm2 for use in uses for one in use.off_cuts if one.how != "resawn")
    share, share_kept = (parts / wood, parts / (wood - kept_area)) if wood else (0.0, 0.0)
    volume = sum(use.board.volume_m3 for use in uses)
    in_parts = sum(laying.part(one.part).area_mm2 * laying.part(one.part).stock_mm(laying.saw.kerf_mm) * 1e-9
                   for one in laying.placements)  # fmt: skip
    share_volume = in_parts / volume if volume else 0.0
    costs = [_spent(use) for use in uses]
    known = [cost for cost in costs if cost is not None]
    cost = sum(known) if len(known) == len(costs) else None
    later = off_slabs(laying, uses)
    missing = tuple(Missing(name, _told(laying, name, uses, later)) for name in laying.missing)
    own = share_kept if len(uses) >= OWN_YIELD_FROM else ORDER_YIELD
    orders = _orders(laying, own, later)
    workings = _workings(laying, uses, orders, (parts, wood, kept_area, share, share_kept), cost)
    return Result(tuple(uses), missing, orders, share, share_kept, share_volume, cost, workings)


def off_slabs(laying: Laying, uses: Sequence[BoardUse]) -> Mapping[str, tuple[str, str]]:
    """Missing parts that can come off a slab: part -> slab, and the board whose part is resawn to leave it.

    A slab is no board before its board is cut, so that no part is laid on it; laid on the slabs, those parts find a
    place there.
    """
    slabs = {one.board.name: (one.board, use.board.name)
             for use in uses for one in use.off_cuts if one.how == "resawn"}  # fmt: skip
    fit = [part for part in map(laying.part, laying.missing)
           if any(_large_enough(board, part, laying) for board, _ in slabs.values())]  # fmt: skip
    if not fit:
        return {}
    tried = lay_parts(
        [board for board, _ in slabs.values()], fit, saw=laying.saw, keep=laying.keep, rounds=_SLAB_ROUNDS
    )
    return {one.part: (one.board, slabs[one.board][1]) for one in tried.placements}


def _large_enough(board: Board, part: Part, laying: Laying) -> bool:
    width, along, _ = least_strip(part.outline)
    margin = 2 * part.rules.edge_margin_mm
    return (
        (not part.timber or board.timber in ("", part.timber))
        and board.thickness_mm >= part.stock_mm(laying.saw.kerf_mm) - 1e-6
        and board.length_mm >= along + margin
        and _widest(board) >= width + margin
    )


def _told(laying: Laying, name: str, uses: Sequence[BoardUse], later: Mapping[str, tuple[str, str]]) -> str:
    """Why a part found no place, and what gives it one without an order."""
    if name in later:
        slab, board = later[name]
        return (f"it can come off {slab}, which is left when {board} is cut: cut that first, then lay them all again. "
                "It is not among what to order.")  # fmt: skip
    why = why_missing(laying, name)
    fellow = next((f"{name[:-1]}{other}" for own, other in ("PS", "SP") if name.endswith(f" {own}")), "")
    need = laying.part(name).stock_mm(laying.saw.kerf_mm)
    for cut in (cut for use in uses for cut in use.cuts if cut.part == fellow):
        if cut.left_mm >= need:
            why += (f" Its fellow {fellow} lies on {cut.board}, which is thick enough for both: let the pair be resawn "
                    "from one board.")  # fmt: skip
    return why


def why_missing(laying: Laying, name: str) -> str:
    """Return why a part found no place, as the builder is told."""
    part = laying.part(name)
    boards: Sequence[Board] = laying.boards
    if not boards:
        return "there are no boards."
    if part.timber:
        boards = [board for board in boards if board.timber in ("", part.timber)]
        if not boards:
            return f"no board is {part.timber}."
    stock = part.stock_mm(laying.saw.kerf_mm)
    thick = [board for board in boards if board.thickness_mm >= stock - 1e-6]
    if not thick:
        most = max(board.thickness_mm for board in boards)
        return tell(
            "it needs {need} of thickness; the thickest board has {most}.",
            need=small(stock, None),
            most=small(most, None),
        )
    width, along, _ = least_strip(part.outline)
    need = along + 2 * part.rules.edge_margin_mm
    long = [board for board in thick if board.length_mm >= need]
    if not long:
        most = max(board.length_mm for board in thick)
        return tell("it needs {need} of length; the longest board thick enough has {most}.", need=length(need),
                    most=length(most))  # fmt: skip
    need = width + 2 * part.rules.edge_margin_mm
    if not (wide := [board for board in long if _widest(board) >= need]):
        most = max(_widest(board) for board in long)
        return tell("it needs {need} of width; the widest board long and thick enough has {most}.", need=length(need),
                    most=length(most))  # fmt: skip
    count = len(wide)
    return (
        f"on the {count} board{'' if count == 1 else 's'} large enough no clear place is left: other parts, defects, "
        "sapwood or the run of the grain are in the way."
    )


def _widest(board: Board) -> float:
    low, high = board.top.at(board.breaks)
    return float((high - low).max())


def _cut(laying: Laying, one: Placement) -> Cut:
    part = laying.part(one.part)
    left, low, right, high = Polygon(laying.outline(one)).bounds
    turn = (one.lie.angle_rad + math.pi / 2) % math.pi - math.pi / 2
    end_for_end = math.cos(one.lie.angle_rad) < 0
    stock = part.stock_mm(laying.saw.kerf_mm)
    over = next(board for board in laying.boards if board.name == one.board).thickness_mm - stock
    left_over = over - laying.saw.kerf_mm
    return Cut(one.part, one.board, left, right, low, high, one.lie.up, end_for_end, turn, stock, over,
               left_over if left_over >= RESAW_FROM_MM else 0.0, part.book_matched, one.held)  # fmt: skip


def _spent(use: BoardUse) -> float | None:
    if use.board.cost is None:
        return None
    return use.board.cost * (1 - sum(one.board.volume_m3 for one in use.off_cuts) / use.board.volume_m3)


def _orders(laying: Laying, share: float, later: Collection[str]) -> tuple[Order, ...]:
    groups: dict[tuple[str, float], list[Part]] = defaultdict(list)
    for part in (laying.part(name) for name in laying.missing if name not in later):
        groups[part.timber, round(part.stock_mm(laying.saw.kerf_mm), 3)].append(part)
    return tuple(_order(timber, thickness, own, laying, share) for (timber, thickness), own in sorted(groups.items()))


def _order(timber: str, thickness: float, parts: Sequence[Part], laying: Laying, share: float) -> Order:
    pieces = []
    for part in parts:
        across, along, _ = least_strip(part.outline)
        margin = 2 * part.rules.edge_margin_mm
        pieces.append(Piece(along + margin, 1, across + margin, part.name))
    long = rounded_up(max(piece.length_mm for piece in pieces), ORDER_LENGTH_STEP_MM)
    wide = rounded_up(max(piece.width_mm for piece in pieces), ORDER_WIDTH_STEP_MM)
    # Each part in the least strip that holds it: curved parts that lie one in the other may need fewer.
    plan = first_fit(pieces, [Stock(long, len(pieces), wide)], kerf_mm=laying.saw.apart_mm)
    count = len(plan.boards)
    area = max(sum(part.area_mm2 for part in parts) / share, count * long * wide) * 1e-6
    volume = area * thickness * 1e-3
    price = price_m3(laying.boards, timber)
    return Order(timber, thickness, long, wide, count, area, volume, share, tuple(part.name for part in parts), price,
                 None if price is None else price * volume)  # fmt: skip


def price_m3(boards: Sequence[Board], timber: str) -> float | None:
    """Return what a cubic metre of the rack's boards of a timber has cost on average."""
    known = [(board.cost, board.volume_m3) for board in boards if board.cost and timber in ("", board.timber)]
    return sum(cost for cost, _ in known) / sum(volume for _, volume in known) if known else None


def rounded_up(value: float, step: float) -> float:
    """Return the next whole step at or above a value."""
    return math.ceil(value / step - 1e-9) * step


def _workings(
    laying: Laying, uses: Sequence[BoardUse], orders: Sequence[Order],
    areas: tuple[float, float, float, float, float], cost: float | None,
) -> tuple[Working, ...]:  # fmt: skip
    parts, wood, kept, share, share_kept = areas
    found = []
    if uses:
        found.append(Working(
            "Yield", f"{share:.1%}", "parts' area / area of the top faces of the boards cut into",
            (("parts", _m2(parts)), ("boards cut into", _m2(wood)), ("off-cuts kept", _m2(kept)),
             ("yield, off-cuts kept not counted as used", f"{share_kept:.1%}")),
            "areas of the outlines as measured and drawn; allowances for ends and bevels count as part",
        ))  # fmt: skip
        keep = laying.keep
        found.append(Working(
            "Off-cuts kept", str(sum(len(use.off_cuts) for use in uses)),
            "lengths sawn off across the board where no part lies, the largest straight-edged clear pieces beside the "
            "parts, then what is left of the thickness where a part is resawn",
            (("not shorter than", by_itself(length(keep.length_mm))),
             ("not narrower than", by_itself(length(keep.width_mm))),
             ("left for the saw", by_itself(small(laying.saw.apart_mm, None)))),
            "common practice, no source",
        ))  # fmt: skip
    if cost is not None and uses:
        found.append(Working(
            "Cost of the wood used up", f"{cost:.2f}",
            "each board's cost × (1 - volume of its off-cuts kept / its volume)",
            tuple((use.board.name, f"{use.board.cost or 0:.2f} → {_spent(use) or 0:.2f}") for use in uses),
            "costs as typed, in the shop's money",
        ))  # fmt: skip
    for one in orders:
        own = "this rack's own yield" if len(uses) >= OWN_YIELD_FROM else "shop default, no source"
        found.append(Working(
            tell("To order, {t} thick", t=small(round(one.thickness_mm, 1), None)), f"{one.area_m2:.2f} m²",
            "area of the missing parts / yield; at the least the boards that hold each in its least strip",
            (("parts", ", ".join(one.parts)), ("yield", f"{one.share:.0%} ({own})"), ("boards", str(one.count)),
             ("cost of a m³ in the rack", "not known" if one.price_m3 is None else f"{one.price_m3:.0f}")),
            "common practice, no source",
            "Ask for boards free of heart shakes, dry enough for the work, and look at them before they are bought; "
            "defects and crooked grain can ask for more.",
        ))  # fmt: skip
    found.append(Working(
        "Search", f"{laying.rounds} rounds", "boards emptied and laid anew by chance, the best of all met put "
        "together; each part in its place is then held against every rule exactly",
        (("seed", str(laying.seed)), ("stopped before its rounds were done", "yes" if laying.stopped else "no")),
        "the same boards, parts, seed and rounds lay the same; that nothing better exists is not proved",
    ))  # fmt: skip
    return tuple(found)


def _m2(mm2: float) -> str:
    return f"{mm2 * 1e-6:.3f} m²"
