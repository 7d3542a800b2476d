"""Cutting to length: pieces out of strips, strips out of boards, fewest boards, proved by arc flow."""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from scrieve.errors import BadBoard
from scrieve.stock.arc_flow import nets_of, solved
from scrieve.stock.cut_plan import CutBoard, CutPlan, Piece, Stock, Strip

__all__ = ["CutBoard", "CutPlan", "Piece", "Stock", "Strip", "cut", "first_fit"]

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
    nets = nets_of(pieces, wanted, stock, kerf_mm, grid) if grid else {}
    arcs = sum(len(net.arcs) for net in nets.values())
    if not grid or (grid < grid_mm and arcs > FEW_ARCS) or arcs > MOST_ARCS:
        grid = max(grid, grid_mm)
        while True:
            nets = nets_of(pieces, wanted, stock, kerf_mm, grid)
            if sum(len(net.arcs) for net in nets.values()) <= MOST_ARCS:
                break
            grid *= 2
    began = time.monotonic()
    plan = solved(pieces, wanted, stock, rips, nets, kerf_mm, grid, FIRST_SHARE * seconds, everything=True)
    if plan is None:  # not enough of it: now what is left over counts too, which is harder to solve
        left = max(seconds - (time.monotonic() - began), 0.1)
        plan = solved(pieces, wanted, stock, rips, nets, kerf_mm, grid, left, everything=False)
    if plan is None:
        plan = CutPlan((), 0.0, False, grid, tuple((at, pieces[at].count) for at in wanted))
    if not plan.proved or plan.short:  # rounding may have cost a piece that just fits
        reach = [replace(piece, count=piece.count if at in wanted else 0) for at, piece in enumerate(pieces)]
        simple = first_fit(reach, stock, kerf_mm=kerf_mm, grid_mm=grid)
        if _judged(simple, pieces) < _judged(plan, pieces):
            plan = simple
    return CutPlan(plan.boards, plan.cost, plan.proved and all(every_way), grid, tuple(short) + plan.short)


def _judged(plan: CutPlan, pieces: Sequence[Piece]) -> tuple[float, float]:
    return sum(pieces[at].length_mm * count for at, count in plan.short), plan.cost


def first_fit(pieces: Sequence[Piece], stock: Sequence[Stock], *, kerf_mm: float, grid_mm: float = 0.0) -> CutPlan:
    """Cut each piece, widest and longest first, from the first strip or board that holds it: at once, not the best."""
    wanted, beyond = _within_reach(pieces, stock)
    kerf = kerf_mm
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
    return CutPlan(boards, sum(stock[one.stock].cost for one in boards), False, grid_mm, (*beyond, *short.items()))


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
