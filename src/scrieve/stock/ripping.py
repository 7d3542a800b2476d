"""Ripping: laminations out of real boards: clear straight pieces, strips ripped, scarfs shifted."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely import box

from scrieve.errors import BadBoard
from scrieve.frames.parts import StripOrder
from scrieve.stock.board import Board
from scrieve.stock.cutting import CutBoard, CutPlan, Piece, Stock, Strip, cut
from scrieve.stock.parts import Rules
from scrieve.stock.profiles import shape_profile, wood_profile
from scrieve.stock.usable import usable_wood

Array = NDArray[np.float64]

#: Length of scarf to thickness; hull-practice: 8 : 1 the least, 12 : 1 for solid plank and spars.
SCARF_SLOPE = 12.0
#: Clear pieces shorter than this are not ripped [mm]. Shop default, no source.
LEAST_CLEAR_MM = 600.0
#: Least distance between scarfs of neighbouring laminations, in thicknesses. Common practice, no source.
STAGGER = 24.0


@dataclass(frozen=True, slots=True)
class Clear:
    """A clear straight-edged piece of a board: where it begins and ends along the board, and its edges [mm]."""

    board: str
    first_mm: float
    last_mm: float
    lower_mm: float
    upper_mm: float
    thickness_mm: float

    @property
    def length_mm(self) -> float:
        """Its length."""
        return self.last_mm - self.first_mm

    @property
    def width_mm(self) -> float:
        """Its width."""
        return self.upper_mm - self.lower_mm


@dataclass(frozen=True, slots=True)
class Scarfed:
    """One lamination put together from pieces: their lengths, and the middle of each scarf from its heel [mm]."""

    lamination: int
    pieces_mm: tuple[float, ...]
    scarfs_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class RipPlan:
    """Laminations out of boards.

    `clear` are the pieces of boards ripped, in the order of the stock of `plan`; `pieces` those of `plan`;
    `scarfed` how each order's laminations are put together, by the order's number.
    """

    clear: tuple[Clear, ...]
    pieces: tuple[Piece, ...]
    plan: CutPlan
    scarfed: tuple[tuple[Scarfed, ...], ...]


def clear_pieces(
    board: Board, thickness_mm: float, *, rules: Rules, least_length_mm: float, least_width_mm: float,
    cell_mm: float = 25.0, most: int = 6,
) -> tuple[Clear, ...]:  # fmt: skip
    """Return the largest clear rectangle along a board, then the largest of what is left, and so on.

    Cut from a board so, nothing of them touches a defect, sapwood or wane. The rectangle on cells along the board is
    exact to a cell at each end.
    """
    wood = usable_wood(board, thickness_mm, rules)
    count = math.floor(board.length_mm / cell_mm)
    low, high = wood_profile(wood, 0.0, cell_mm, count, 0.0)
    starts = cell_mm * np.arange(count)
    inside = (starts >= wood.x_mm[0] - 1e-6) & (starts + cell_mm <= wood.x_mm[-1] + 1e-6)
    low, high = np.where(inside, low, 0.0), np.where(inside, high, -1.0)
    taken = [region.buffer(rules.defect_margin_mm, join_style="mitre") for region in wood.avoid]
    found: list[Clear] = []
    while len(found) < most:
        avoid = [shape_profile(shape, 0.0, cell_mm, count) for shape in taken]
        best = _largest(low, high, avoid, cell_mm, least_length_mm, least_width_mm)
        if best is None:
            break
        first, last, lower, upper = best
        found.append(Clear(board.name, first, last, lower, upper, thickness_mm))
        taken.append(box(first + 1e-3, lower, last - 1e-3, upper))
    return tuple(found)


def _largest(
    low: Array, high: Array, avoid: Sequence[tuple[Array, Array]], cell: float, length: float, width: float
) -> tuple[float, float, float, float] | None:
    count, best, area = len(low), None, 0.0
    none = np.empty((0, count))
    bottoms, tops = (np.concatenate([none, *(one[side] for one in avoid)]) for side in (0, 1))
    for first in range(count):
        # Over the cells from the first up to each: the wood's edges, and how far each thing to avoid reaches.
        lower, upper = np.maximum.accumulate(low[first:]), np.minimum.accumulate(high[first:])
        lengths = cell * np.arange(1, len(lower) + 1)
        far = np.flatnonzero((lengths * (upper - lower) > area) & (lengths >= length) & (upper - lower >= width))
        if not far.size:
            continue
        below = np.minimum.accumulate(bottoms[:, first:], axis=1)[:, far]
        above = np.maximum.accumulate(tops[:, first:], axis=1)[:, far]
        order = np.argsort(below, axis=0)
        below = np.concatenate([np.take_along_axis(below, order, 0), upper[None, far]])
        above = np.concatenate([lower[None, far], np.take_along_axis(above, order, 0)])
        edge = np.maximum.accumulate(above, axis=0)
        gap = np.minimum(below, upper[None, far]) - edge
        areas = np.where(gap >= width, gap * lengths[far], 0.0)
        row, at = np.unravel_index(int(np.argmax(areas)), areas.shape)
        if areas[row, at] > area:
            area = float(areas[row, at])
            best = (first * cell, first * cell + float(lengths[far[at]]), float(edge[row, at]),
                    float(edge[row, at] + gap[row, at]))  # fmt: skip
    return best


def scarf_plan(length_mm: float, thickness_mm: Sequence[float], longest_mm: float, *, slope: float = SCARF_SLOPE,
               stagger: float = STAGGER) -> tuple[Scarfed, ...]:  # fmt: skip
    """Divide laminations that are longer than the stock, the scarfs of neighbours kept apart.

    Parameters
    ----------
    length_mm : float
        Length of every lamination.
    thickness_mm : sequence of n
        From the inside outwards.
    longest_mm : float
        Longest clear piece to be had.
    slope : float
        Length of a scarf is slope × thickness.
    stagger : float
        Least distance between the middles of scarfs in neighbouring laminations, in thicknesses of the thicker.

    Raises
    ------
    BadBoard
        Scarfs cannot be kept apart with pieces so short; the message says what would do.
    """
    plans: list[Scarfed] = []
    before: tuple[float, ...] = ()
    for number, thickness in enumerate(thickness_mm):
        scarf = slope * thickness
        if length_mm <= longest_mm:
            plans.append(Scarfed(number, (length_mm,), ()))
            before = ()
            continue
        if longest_mm <= 2 * scarf:
            raise BadBoard(
                f"pieces of {longest_mm:g} mm are too short for scarfs {scarf:g} mm long; use longer boards."
            )
        apart = stagger * max(thickness, thickness_mm[number - 1] if number else thickness)
        least = math.ceil((length_mm - scarf) / (longest_mm - scarf) - 1e-9) - 1
        tries = (_joints(length_mm, scarf, longest_mm, least + more, before, apart) for more in range(3))
        joints = next((found for found in tries if found is not None), None)
        if joints is None:
            raise BadBoard(f"lamination {number + 1}: scarfs cannot be kept {apart:g} mm from those of its neighbour "
                           f"with pieces of {longest_mm:g} mm; use longer boards or a smaller stagger.")  # fmt: skip
        ends = [0.0, *joints, length_mm]
        pieces = tuple(
            b - a + (scarf / 2 if a > 0 else 0.0) + (scarf / 2 if b < length_mm else 0.0) for a, b in pairwise(ends)
        )
        plans.append(Scarfed(number, pieces, joints))
        before = joints
    return tuple(plans)


def _joints(
    length: float, scarf: float, longest: float, count: int, before: Sequence[float], apart: float
) -> tuple[float, ...] | None:
    """Return places of joints, each piece within the longest and each joint clear of those before; first ones first."""
    steps = np.arange(scarf, length - scarf + 1e-9, max(scarf / 4, 5.0))
    ok = (
        np.all(np.abs(steps[:, None] - np.array(before)[None, :]) >= apart - 1e-9, axis=1) if len(before) else steps > 0
    )
    places = steps[ok]
    # By piece count: which places can be reached, and from where.
    reach: list[dict[float, float]] = [{0.0: -1.0}]
    for _ in range(count):
        ahead: dict[float, float] = {}
        for place in places:
            for start in reach[-1]:
                own = place - start + scarf / 2 + (scarf / 2 if start > 0 else 0.0)
                if place > start + scarf and own <= longest + 1e-9:
                    ahead.setdefault(float(place), start)
                    break
        reach.append(ahead)
    last = [place for place in reach[-1] if length - place + scarf / 2 <= longest + 1e-9 and place < length - scarf / 2]
    if not last:
        return None
    chain = [min(last)]
    for row in range(count, 1, -1):
        chain.append(reach[row][chain[-1]])
    return tuple(reversed(chain))


def rip_laminations(
    orders: Sequence[StripOrder],
    boards: Sequence[Board],
    *,
    kerf_mm: float = 4.0,
    trim_mm: float = 50.0,
    rules: Rules | None = None,
    slope: float = SCARF_SLOPE,
    stagger: float = STAGGER,
    seconds: float = 20.0,
) -> RipPlan:
    """Rip laminations from boards standing on edge: the board's thickness gives their width, its width their number.

    Each board's clear straight pieces are ripped into strips as thick as the laminations are sawn, and these cut to
    length, with the fewest square metres of board. Laminations come out of boards of their own timber, or of none
    named. Pieces that no board gives are told as short by the plan, where the rack is empty all of them.

    Parameters
    ----------
    orders : sequence of StripOrder
        Strips as sawn, planing included, of one frame or many.
    boards : sequence of Board
        Those thinner than a strip is wide are passed over for it.
    kerf_mm, trim_mm : float
        Saw kerf, and wood cut off each end of a clear piece.
    rules : Rules, optional
        Which wood laminations will stand; clear wood without sapwood unless given.

    Raises
    ------
    BadBoard
        Scarfs cannot be kept apart.
    """
    own_rules = rules or Rules(grain_limit_rad=None)
    if not orders:
        return RipPlan((), (), CutPlan((), 0.0, True, 0.0), ())
    clear: list[Clear] = []
    pieces: list[Piece] = []
    cut_up: list[CutBoard] = []
    short: list[tuple[int, int]] = []
    scarfed: dict[int, tuple[Scarfed, ...]] = {}
    cost, proved, grid = 0.0, True, 0.0
    timbers = sorted({order.timber for order in orders})
    for timber in timbers:
        mine = [number for number, order in enumerate(orders) if order.timber == timber]
        taken = {clear[one.stock].board for one in cut_up}  # a board of no named timber is used once
        own = [board for board in boards if board.timber in ("", timber) and board.name not in taken]
        widest = max(orders[number].sawn_width_mm for number in mine)
        thinnest = min(orders[number].sawn_thickness_mm for number in mine)
        found = [one for board in own if board.thickness_mm >= widest
                 for one in clear_pieces(board, widest, rules=own_rules, least_length_mm=LEAST_CLEAR_MM,
                                         least_width_mm=thinnest)]  # fmt: skip
        longest = max((one.length_mm for one in found), default=math.inf) - 2 * trim_mm
        wanted: list[Piece] = []
        for number in mine:
            order = orders[number]
            put = scarf_plan(order.length_mm, [order.thickness_mm] * order.count, longest, slope=slope,
                             stagger=stagger)  # fmt: skip
            scarfed[number] = put
            lengths = Counter(round(length, 3) for one in put for length in one.pieces_mm)
            wanted += [Piece(length, count, order.sawn_thickness_mm, f"order {number + 1}, {timber}")
                       for length, count in sorted(lengths.items(), reverse=True)]  # fmt: skip
        stock = [
            Stock(max(one.length_mm - 2 * trim_mm, 1.0), 1, one.width_mm, one.length_mm * one.width_mm * 1e-6,
                  one.board)
            for one in found
        ]  # fmt: skip
        if stock:
            plan = cut(wanted, stock, kerf_mm=kerf_mm, grid_mm=10.0, seconds=seconds / len(timbers))
        else:
            plan = CutPlan((), 0.0, True, 0.0, tuple((at, piece.count) for at, piece in enumerate(wanted)))
        first, before = len(pieces), len(clear)
        cut_up += [
            CutBoard(one.stock + before, tuple(Strip(strip.width_mm, tuple(at + first for at in strip.pieces))
                                               for strip in one.strips))
            for one in plan.boards
        ]  # fmt: skip
        short += [(at + first, count) for at, count in plan.short]
        clear, pieces = clear + found, pieces + wanted
        cost, proved, grid = cost + plan.cost, proved and plan.proved, max(grid, plan.grid_mm)
    plan = CutPlan(tuple(cut_up), cost, proved, grid, tuple(short))
    return RipPlan(tuple(clear), tuple(pieces), plan, tuple(scarfed[number] for number in range(len(orders))))
