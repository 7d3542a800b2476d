"""Where a smooth function over station and share of the girth is nought: every branch of the line, from end to end.

The sign of the function is taken on a fine net; wherever it changes along a side of a mesh the crossing is found to
rounding, and the crossings are then strung together. Lines that run out do so on the net's edge, exactly.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Function = Callable[[Array, Array], Array]

_ROUNDS = 60


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """One unbroken branch: stations and shares of the girth (n,) of its points; `closed` where it ends as it began."""

    x: Array
    v: Array
    closed: bool


def trace(function: Function, x: Array, v: Array, tiny: float = 0.0) -> tuple[Trace, ...]:
    """Branches of function(x, v) = 0 over the net of rising `x` (m,) and `v` (k,).

    Every point lies on a line of the net and on the function's zero to rounding; a branch that crosses one side of one
    mesh twice and no other side is smaller than the net and is not seen.

    Parameters
    ----------
    function : callable (n,), (n,) -> (n,)
    x, v : ndarray
        Lines of the net.
    tiny : float
        The line is taken where the function is this much below nought, so that a zero which runs along the very edge
        of the net, to rounding, does not fall to pieces.

    Returns
    -------
    tuple of Trace
        Open branches run from the lesser x to the greater.
    """
    if tiny:
        return trace(lambda at, share: function(at, share) + tiny, x, v)
    m, k = len(x), len(v)
    at = np.broadcast_arrays(x[:, None], v[None, :])
    value = function(at[0].ravel(), at[1].ravel()).reshape(m, k)
    above = value >= 0
    # sides along x first (numbered i·k + j), then sides along v
    flat = np.argwhere(above[1:] != above[:-1])
    up = np.argwhere(above[:, 1:] != above[:, :-1])
    ids = np.r_[flat[:, 0] * k + flat[:, 1], m * k + up[:, 0] * k + up[:, 1]]
    if not ids.size:
        return ()
    i, j = np.vstack([flat, up]).T
    ends = np.r_[np.ones(len(flat), bool), np.zeros(len(up), bool)]
    low = np.column_stack([x[i], v[j]])
    high = np.column_stack([np.where(ends, x[np.minimum(i + 1, m - 1)], x[i]), np.where(ends, v[j], v[_next(j, k)])])
    points = dict(zip(ids.tolist(), _roots(function, low, high), strict=True))
    return _string(_links(function, x, v, above), points)


def _next(j: NDArray[np.intp], k: int) -> NDArray[np.intp]:
    return np.minimum(j + 1, k - 1)


def _roots(function: Function, low: Array, high: Array) -> Array:
    """The zero on each straight side from `low` to `high` (n, 2), between whose ends the sign changes.

    False position with the Illinois weight, and a halving wherever that has not shortened the bracket enough.
    """
    a, b = np.zeros(len(low)), np.ones(len(low))
    step = high - low

    def value(t: Array) -> Array:
        place = low + t[:, None] * step
        return function(place[:, 0], place[:, 1])

    fa, fb = value(a), value(b)
    scale = np.maximum(np.abs(fa), np.abs(fb))
    wa, wb = fa.copy(), fb.copy()
    best = b
    for turn in range(_ROUNDS):
        width = b - a
        gap = wb - wa
        t = np.where(gap != 0, a - wa * width / np.where(gap != 0, gap, 1.0), (a + b) / 2)
        t = np.where((turn % 4 == 3) | (t <= a) | (t >= b), (a + b) / 2, t)
        f = value(t)
        best = t
        same = (f >= 0) == (fa >= 0)
        a, fa, wb = np.where(same, t, a), np.where(same, f, fa), np.where(same, wb / 2, f)
        wa = np.where(same, f, wa / 2)
        b, fb = np.where(same, b, t), np.where(same, fb, f)
        done = (np.abs(f) <= 1e-14 * scale) | (b - a <= 4e-16)
        if done.all():
            break
        # a side that is done keeps its zero: nothing further may move it
        a, b = np.where(done, t, a), np.where(done, t, b)
        wa, wb = np.where(done, f, wa), np.where(done, f, wb)
    return low + best[:, None] * step


def _links(function: Function, x: Array, v: Array, above: NDArray[np.bool_]) -> dict[int, list[int]]:
    """For each crossed side, the crossed sides that the line goes on to: two, or one at the edge of the net."""
    m, k = above.shape
    corner = np.stack([above[:-1, :-1], above[1:, :-1], above[1:, 1:], above[:-1, 1:]], axis=-1)
    crossed = corner != np.roll(corner, -1, axis=-1)  # lower, after, upper, forward side of each mesh
    i, j = np.nonzero(crossed.any(axis=-1))
    sides = np.column_stack([i * k + j, m * k + (i + 1) * k + j, i * k + j + 1, m * k + i * k + j])
    links: dict[int, list[int]] = {}

    def link(a: int, b: int) -> None:
        links.setdefault(a, []).append(b)
        links.setdefault(b, []).append(a)

    middle = function((x[i] + x[i + 1]) / 2, (v[j] + v[j + 1]) / 2) >= 0
    for which, (names, cut) in enumerate(zip(sides.tolist(), crossed[i, j], strict=True)):
        here = [name for name, on in zip(names, cut, strict=True) if on]
        if len(here) == 2:
            link(*here)
        elif middle[which] == corner[i[which], j[which], 0]:  # the lower forward corner and the upper after one join
            link(names[0], names[1])
            link(names[2], names[3])
        else:
            link(names[3], names[0])
            link(names[1], names[2])
    return links


def _string(links: dict[int, list[int]], points: dict[int, Array]) -> tuple[Trace, ...]:
    left = dict(links)
    made = []
    starts = [side for side, others in links.items() if len(others) == 1]
    for start in [*starts, *links]:
        if start not in left:
            continue
        chain = [start]
        others = left.pop(start)
        while onward := [side for side in others if side in left]:
            chain.append(onward[0])
            others = left.pop(onward[0])
        closed = len(links[start]) == 2
        way = np.array([points[side] for side in chain])
        if closed:
            way = np.vstack([way, way[:1]])
        elif way[0, 0] > way[-1, 0]:
            way = way[::-1]
        if len(way) > 1:
            made.append(Trace(way[:, 0].copy(), way[:, 1].copy(), closed))
    return tuple(sorted(made, key=lambda line: (line.x[0], line.v[0])))
