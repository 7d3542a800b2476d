"""Cutting to length: pieces out of strips, strips out of boards, fewest boards, proved by arc flow."""

from __future__ import annotations

import math
import time
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from scrieve.errors import BadBoard

#: Lengths are rounded up, stock down, to this where they have no greater common measure [mm].
GRID_MM = 5.0
#: More arcs than this are thinned by a coarser grid.
MOST_ARCS = 40_000
#: With no more arcs than this the lengths are not rounded at all where they are whole mm.
FEW_ARCS = 4_000
#: More ways than this of ripping one kind of board are not looked at.
MOST_RIPS = 2_000
#: Of the time for the solver, so much goes to plans that leave nothing over; the rest is kept for those that do.
FIRST_SHARE = 0.7


@dataclass(frozen=True, slots=True)
class Piece:
    """One length to be cut, how many, and the width of strip it is cut from; lengths in mm."""

    length_mm: float
    count: int = 1
    width_mm: float = 1.0
    name: str = ""


@dataclass(frozen=True, slots=True)
class Stock:
    """One kind of board: clear length and width, how many, and what each costs."""

    length_mm: float
    count: int
    width_mm: float = 1.0
    cost: float = 1.0
    name: str = ""


@dataclass(frozen=True, slots=True)
class Strip:
    """One strip off a board: its width, and the pieces cut from it in turn (indices into the pieces asked for)."""

    width_mm: float
    pieces: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class CutBoard:
    """One board as it is cut: which kind, and its strips."""

    stock: int
    strips: tuple[Strip, ...]


@dataclass(frozen=True, slots=True)
class CutPlan:
    """Every board to be cut.

    `proved` tells that no plan costs less, lengths rounded up and stock down to `grid_mm`; it is never said where not
    every way of ripping a board was looked at. `short` are the pieces for which there is no board, (index, count) each.
    """

    boards: tuple[CutBoard, ...]
    cost: float
    proved: bool
    grid_mm: float
    short: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class _Net:
    """The arc-flow network of one width of strip: arcs (from, to, piece or -1), and the ends of the stock."""

    arcs: tuple[tuple[int, int, int], ...]
    ends: tuple[int, ...]


def cut(
    pieces: Sequence[Piece],
    stock: Sequence[Stock],
    *,
    kerf_mm: float = 0.0,
    grid_mm: float = GRID_MM,
    seconds: float = 20.0,
) -> CutPlan:
    """Cut pieces from boards at the least cost: rips along the board first, then each strip to lengths.

    Every cut takes a kerf; no kerf is counted past the last piece of a strip, nor past the last strip of a board.

    Parameters
    ----------
    pieces : sequence of Piece
    stock : sequence of Stock
        With widths of 1 for pieces and stock alike, this is cutting to length alone.
    kerf_mm : float
    grid_mm : float
        Rounding of lengths, to the safe side, where they have no greater common measure.
    seconds : float
        Time for the solver, in all; past it the best plan so far is given, not proved.

    Raises
    ------
    BadBoard
        A length, width or count is not above zero.

    References
    ----------
    .. [1] J. M. Valério de Carvalho, "Exact solution of bin-packing problems using column generation and
       branch-and-bound", Annals of Operations Research 86 (1999): the arc-flow network, arcs in falling length.
    """
    both: list[Piece | Stock] = [*pieces, *stock]
    for what, value in [("length", one.length_mm) for one in both] + [("width", one.width_mm) for one in both]:
        if not (math.isfinite(value) and value > 0):
            raise BadBoard(f"{what} {value:g} mm in the cutting list; give a value above zero.")
    if any(one.count < 0 for one in both):
        raise BadBoard("a count below zero in the cutting list; give none or more.")
    wanted, short = _within_reach(pieces, stock)
    if not wanted:
        return CutPlan((), 0.0, True, grid_mm, tuple(short))
    widths = sorted({pieces[at].width_mm for at in wanted})
    rips, every_way = zip(*(_rip_ways(one, widths, kerf_mm) for one in stock), strict=True)
    grid = _common(pieces, stock, kerf_mm)
    nets = _nets(pieces, wanted, stock, kerf_mm, grid) if grid else {}
    arcs = sum(len(net.arcs) for net in nets.values())
    if not grid or (grid < grid_mm and arcs > FEW_ARCS) or arcs > MOST_ARCS:
        grid = max(grid, grid_mm)
        while True:
            nets = _nets(pieces, wanted, stock, kerf_mm, grid)
            if sum(len(net.arcs) for net in nets.values()) <= MOST_ARCS:
                break
            grid *= 2
    began = time.monotonic()
    plan = _solved(pieces, wanted, stock, rips, nets, kerf_mm, grid, FIRST_SHARE * seconds, everything=True)
    if plan is None:  # not enough of it: now what is left over counts too, which is harder to solve
        left = max(seconds - (time.monotonic() - began), 0.1)
        plan = _solved(pieces, wanted, stock, rips, nets, kerf_mm, grid, left, everything=False)
    if plan is None:
        plan = CutPlan((), 0.0, False, grid, tuple((at, pieces[at].count) for at in wanted))
    if not plan.proved or plan.short:  # rounding may have cost a piece that just fits
        simple = _first_fit(pieces, wanted, stock, kerf_mm, grid)
        if _judged(simple, pieces) < _judged(plan, pieces):
            plan = simple
    return CutPlan(plan.boards, plan.cost, plan.proved and all(every_way), grid, tuple(short) + plan.short)


def _judged(plan: CutPlan, pieces: Sequence[Piece]) -> tuple[float, float]:
    return sum(pieces[at].length_mm * count for at, count in plan.short), plan.cost


def _first_fit(
    pieces: Sequence[Piece], wanted: Sequence[int], stock: Sequence[Stock], kerf: float, grid: float
) -> CutPlan:
    """Cut each piece, widest and longest first, from the first strip or board that holds it."""
    free = [(number, one) for number, one in enumerate(stock) for _ in range(one.count)]
    free.sort(key=lambda pair: pair[1].cost / (pair[1].length_mm * pair[1].width_mm))
    cut_up: list[tuple[int, list[tuple[float, list[int]]]]] = []
    short: Counter[int] = Counter()

    def room(number: int, strips: list[tuple[float, list[int]]], at: int) -> bool:
        piece, one = pieces[at], stock[number]
        for width, own in strips:
            spent = sum(pieces[other].length_mm + kerf for other in own)
            if width == piece.width_mm and spent + piece.length_mm <= one.length_mm + 1e-9:
                own.append(at)
                return True
        if sum(width + kerf for width, _ in strips) + piece.width_mm <= one.width_mm + 1e-9:
            strips.append((piece.width_mm, [at]))
            return True
        return False

    order = sorted(wanted, key=lambda at: (-pieces[at].width_mm, -pieces[at].length_mm))
    for at in np.repeat(order, [pieces[one].count for one in order]).tolist():
        if any(room(number, strips, at) for number, strips in cut_up):
            continue
        place = next((place for place, (_, one) in enumerate(free) if one.length_mm >= pieces[at].length_mm
                      and one.width_mm >= pieces[at].width_mm), None)  # fmt: skip
        if place is None:
            short[at] += 1
            continue
        cut_up.append((free.pop(place)[0], [(pieces[at].width_mm, [at])]))
    boards = tuple(
        CutBoard(number, tuple(Strip(width, tuple(own)) for width, own in strips)) for number, strips in cut_up
    )
    return CutPlan(boards, sum(stock[one.stock].cost for one in boards), False, grid, tuple(short.items()))


def _within_reach(pieces: Sequence[Piece], stock: Sequence[Stock]) -> tuple[list[int], list[tuple[int, int]]]:
    wanted, short = [], []
    for at, piece in enumerate(pieces):
        fits = any(one.count and one.length_mm >= piece.length_mm and one.width_mm >= piece.width_mm for one in stock)
        if piece.count and fits:
            wanted.append(at)
        elif piece.count:
            short.append((at, piece.count))
    return wanted, short


def _common(pieces: Sequence[Piece], stock: Sequence[Stock], kerf: float) -> float:
    """Return the greatest measure that goes into every length with its kerf, 0 where they are not whole mm."""
    both: list[Piece | Stock] = [*pieces, *stock]
    values = [one.length_mm + kerf for one in both]
    if any(abs(value - round(value)) > 1e-9 for value in values):
        return 0.0
    return float(math.gcd(*(round(value) for value in values)))


def _rip_ways(one: Stock, widths: Sequence[float], kerf: float) -> tuple[list[tuple[int, ...]], bool]:
    """Return the fullest ways of ripping a board, how many strips of each width; and whether these are all."""
    ways: list[tuple[int, ...]] = []
    every = True

    def fill(at: int, left: float, so_far: tuple[int, ...]) -> None:
        nonlocal every
        if len(ways) >= MOST_RIPS:
            every = False
            return
        most = math.floor((left + kerf) / (widths[at] + kerf) + 1e-9)
        if at == 0:  # the narrowest takes what is left
            ways.append((most, *so_far))
            return
        for count in range(most, -1, -1):
            fill(at - 1, left - count * (widths[at] + kerf), (count, *so_far))

    fill(len(widths) - 1, one.width_mm, ())
    return [way for way in ways if any(way)], every


def _nets(
    pieces: Sequence[Piece], wanted: Sequence[int], stock: Sequence[Stock], kerf: float, grid: float
) -> dict[float, _Net]:
    widths = sorted({pieces[at].width_mm for at in wanted})
    return {
        width: _net(pieces, [at for at in wanted if pieces[at].width_mm == width], stock, kerf, grid)
        for width in widths
    }


def _net(pieces: Sequence[Piece], own: Sequence[int], stock: Sequence[Stock], kerf: float, grid: float) -> _Net:
    ends = sorted({math.floor((one.length_mm + kerf) / grid + 1e-9) for one in stock if one.count})
    most = ends[-1]
    arcs: list[tuple[int, int, int]] = []
    reached = {0}
    for at in sorted(own, key=lambda at: -pieces[at].length_mm):
        units = math.ceil((pieces[at].length_mm + kerf) / grid - 1e-9)
        tails: dict[int, int] = {}
        # Each node remembers how many of this piece in turn led to it: no more than are wanted.
        for node in sorted(reached):
            tail, count = node, 0
            while tail + units <= most and count < pieces[at].count:
                if tails.get(tail, pieces[at].count) <= count:
                    break
                tails[tail] = count
                count += 1
                tail += units
        arcs += [(tail, tail + units, at) for tail in sorted(tails)]
        reached |= {tail + units for tail in tails}
    nodes = sorted(reached | set(ends))
    arcs += [(a, b, -1) for a, b in pairwise(nodes)]
    return _Net(tuple(arcs), tuple(ends))


def _solved(
    pieces: Sequence[Piece],
    wanted: Sequence[int],
    stock: Sequence[Stock],
    rips: Sequence[Sequence[tuple[int, ...]]],
    nets: dict[float, _Net],
    kerf: float,
    grid: float,
    seconds: float,
    *,
    everything: bool,
) -> CutPlan | None:
    widths = sorted(nets)
    cost: list[float] = []
    high: list[float] = []
    entries: list[tuple[int, int, float]] = []
    low_row: list[float] = []
    high_row: list[float] = []

    def variable(price: float, most: float) -> int:
        cost.append(price)
        high.append(most)
        return len(cost) - 1

    def row(least: float, most: float) -> int:
        low_row.append(least)
        high_row.append(most)
        return len(low_row) - 1

    ripped = [[variable(one.cost, one.count) for _ in ways] for one, ways in zip(stock, rips, strict=True)]
    for one, uses in zip(stock, ripped, strict=True):
        limit = row(-np.inf, one.count)
        entries += [(limit, use, 1.0) for use in uses]
    flows: dict[float, list[int]] = {}
    strips: dict[tuple[float, int], int] = {}
    for at, width in enumerate(widths):
        net = nets[width]
        flows[width] = [variable(0.0, pieces[arc[2]].count if arc[2] >= 0 else np.inf) for arc in net.arcs]
        for end in net.ends:
            offers = [
                (use, way[at])
                for one, ways, uses in zip(stock, rips, ripped, strict=True)
                if math.floor((one.length_mm + kerf) / grid + 1e-9) == end
                for way, use in zip(ways, uses, strict=True)
                if way[at]
            ]
            if len(offers) == 1 and offers[0][1] == 1:
                strips[width, end] = offers[0][0]
                continue
            strip = strips[width, end] = variable(0.0, np.inf)
            offered = row(0.0, 0.0)  # a strip may be left whole, so that all are counted
            entries.append((offered, strip, -1.0))
            entries += [(offered, use, float(count)) for use, count in offers]
        nodes: dict[int, int] = defaultdict(lambda: row(0.0, 0.0))
        for (tail, head, _), flow in zip(net.arcs, flows[width], strict=True):
            entries += [(nodes[head], flow, 1.0), (nodes[tail], flow, -1.0)]
        for end in net.ends:
            entries += [(nodes[end], strips[width, end], -1.0), (nodes[0], strips[width, end], 1.0)]
    dearest = max(one.cost for one in stock)
    price = 10.0 * dearest / min(pieces[at].length_mm for at in wanted)
    missing = {} if everything else {at: variable(price * pieces[at].length_mm, pieces[at].count) for at in wanted}
    for at in wanted:
        met = row(pieces[at].count, np.inf)
        net = nets[pieces[at].width_mm]
        own = zip(net.arcs, flows[pieces[at].width_mm], strict=True)
        entries += [(met, flow, 1.0) for arc, flow in own if arc[2] == at]
        if at in missing:
            entries.append((met, missing[at], 1.0))
    rows, columns, values = (np.array(part) for part in zip(*entries, strict=True))
    matrix = coo_array((values, (rows, columns)), shape=(len(low_row), len(cost))).tocsc()
    found = milp(
        np.array(cost), integrality=np.ones(len(cost), dtype=int), bounds=Bounds(np.zeros(len(cost)), np.array(high)),
        constraints=LinearConstraint(matrix, np.array(low_row), np.array(high_row)),
        options={"time_limit": seconds, "mip_rel_gap": 1e-9},
    )  # fmt: skip
    if found.x is None:
        return None
    counts = np.round(found.x).astype(int)
    cut_strips = {width: _paths(nets[width], counts, flows[width], strips, width) for width in widths}
    boards = _boards(pieces, stock, rips, ripped, counts, widths, cut_strips, kerf, grid)
    short = tuple((at, int(counts[var])) for at, var in missing.items() if counts[var])
    return CutPlan(boards, sum(stock[one.stock].cost for one in boards), found.status == 0, grid, short)


def _paths(
    net: _Net, counts: NDArray[np.int_], flows: Sequence[int], strips: dict[tuple[float, int], int], width: float
) -> dict[int, list[tuple[int, ...]]]:
    """Return the strips of each end: the pieces along each path of the flow."""
    out: dict[int, list[list[int]]] = defaultdict(list)
    for (tail, head, piece), flow in zip(net.arcs, flows, strict=True):
        if counts[flow] > 0:
            out[tail].append([head, piece, int(counts[flow])])
    left = {end: int(counts[strips[width, end]]) for end in net.ends}
    found: dict[int, list[tuple[int, ...]]] = defaultdict(list)
    for _ in range(sum(left.values())):
        node, path = 0, []
        while not left.get(node):
            arc = next(arc for arc in out[node] if arc[2] > 0)
            arc[2] -= 1
            if arc[1] >= 0:
                path.append(arc[1])
            node = arc[0]
        left[node] -= 1
        found[node].append(tuple(path))
    return found


def _boards(
    pieces: Sequence[Piece],
    stock: Sequence[Stock],
    rips: Sequence[Sequence[tuple[int, ...]]],
    ripped: Sequence[Sequence[int]],
    counts: NDArray[np.int_],
    widths: Sequence[float],
    cut_strips: dict[float, dict[int, list[tuple[int, ...]]]],
    kerf: float,
    grid: float,
) -> tuple[CutBoard, ...]:
    """Return the boards, each strip given its path; pieces over what is wanted are left off."""
    left = Counter({at: piece.count for at, piece in enumerate(pieces)})
    boards = []
    for number, (one, ways, uses) in enumerate(zip(stock, rips, ripped, strict=True)):
        end = math.floor((one.length_mm + kerf) / grid + 1e-9)
        for way, use in zip(ways, uses, strict=True):
            for _ in range(int(counts[use])):
                strips = []
                for width, count in zip(widths, way, strict=True):
                    for _ in range(count):
                        paths = cut_strips[width][end]
                        own = []
                        for at in paths.pop() if paths else ():
                            if left[at] > 0:
                                left[at] -= 1
                                own.append(at)
                        if own:
                            strips.append(Strip(width, tuple(own)))
                if strips:
                    boards.append(CutBoard(number, tuple(strips)))
    return tuple(boards)
