"""Arc flow: cutting to length as a flow through the places where a strip may be cut, solved whole."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from scrieve.stock.cut_plan import CutBoard, CutPlan, Piece, Stock, Strip


@dataclass(frozen=True, slots=True)
class Net:
    """The arc-flow network of one width of strip: arcs (from, to, piece or -1), and the ends of the stock."""

    arcs: tuple[tuple[int, int, int], ...]
    ends: tuple[int, ...]


def nets_of(
    pieces: Sequence[Piece], wanted: Sequence[int], stock: Sequence[Stock], kerf: float, grid: float
) -> dict[float, Net]:
    """Return the network of each width of strip."""
    widths = sorted({pieces[at].width_mm for at in wanted})
    return {
        width: _net(pieces, [at for at in wanted if pieces[at].width_mm == width], stock, kerf, grid)
        for width in widths
    }


def _net(pieces: Sequence[Piece], own: Sequence[int], stock: Sequence[Stock], kerf: float, grid: float) -> Net:
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
    return Net(tuple(arcs), tuple(ends))


def solved(
    pieces: Sequence[Piece],
    wanted: Sequence[int],
    stock: Sequence[Stock],
    rips: Sequence[Sequence[tuple[int, ...]]],
    nets: dict[float, Net],
    kerf: float,
    grid: float,
    seconds: float,
    *,
    everything: bool,
) -> CutPlan | None:
    """Return the plan of least cost, or None where there is none in the time.

    With `everything` nothing may be left over; without, what is left over counts for more than any board.
    """
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
    net: Net, counts: NDArray[np.int_], flows: Sequence[int], strips: dict[tuple[float, int], int], width: float
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
