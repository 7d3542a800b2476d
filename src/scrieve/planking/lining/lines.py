"""The lines themselves: battens of least energy on the hull, held to a pattern of widths, within limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, vstack

from scrieve.planking.lining.fairness import sweep
from scrieve.planking.lining.girth import Girths
from scrieve.planking.lining.limits import Limits, hollow_of
from scrieve.planking.lining.quadratic import least_squares_within
from scrieve.planking.lining.unknowns import Unknowns

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_PASSES = 8
#: Lines that move less than this between two passes have settled [mm].
_SETTLED_MM = 0.5
_SETTLED_HOLLOW_MM = 0.002
#: A hollow under this share of the depth allowed is not looked at in the next pass.
_DEEP = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """What the lines are asked for: seams (n + 1), strakes (n), frames (k).

    `pattern` (n, k) are the widths wanted, `drawn` (n + 1, k) where a seam is to be fair, `is_there` (n, k) where a
    strake has a width to be judged, `hollow_mm` how deep a plank may be backed out, `hold_mm` the length over which a
    batten gives way to the pattern, `land_rad` the most that a strake may turn inboard from the one below it.
    """

    girths: Girths
    unknowns: Unknowns
    pattern: Array
    drawn: Mask
    is_there: Mask
    limits: Limits
    hollow_mm: float
    hold_mm: float
    land_rad: float = np.inf


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Girths (n + 1, k) of the seams, the energy of the lines, and the passes it took."""

    girth: Array
    value: float
    passes: int


def lines(task: Task, passes: int = _PASSES) -> Lines:
    """Lay the lines, in `passes` at most.

    Every seam is a batten laid flat on the hull: ∫κg² ds along it, κg its curvature within the surface, is made least
    together with ∫((w − p)/p)²·p̄² dx/ℓ⁴ over the strakes, p their wanted width and ℓ = `hold_mm`; so a seam follows the
    pattern in runs much longer than ℓ and is fair in shorter ones. Limits of width, of hollow and of the land hold at
    every frame. κg is linear in small moves, so each pass is a least-squares sum with linear limits; two or three
    passes settle.

    References
    ----------
    .. [1] docs/lining-off.md, "The lines".
    """
    girth = task.unknowns.spread(task.unknowns.gather(np.concatenate([
        task.unknowns.offset[:1], task.unknowns.offset[:1] + np.cumsum(task.pattern, axis=0)])))  # fmt: skip
    settled = _SETTLED_MM if np.isinf(task.hollow_mm) and np.isinf(task.land_rad) else _SETTLED_HOLLOW_MM
    value = np.inf
    turn = 0
    for turn in range(1, passes + 1):  # noqa: B007
        rows, wanted = _sums(task, girth)
        limited, most = _bounds(task, girth)
        found = least_squares_within(rows, wanted, limited, most)
        moved = task.unknowns.spread(found.z) - task.unknowns.offset
        girth, value = girth + moved, found.value
        if float(np.abs(found.z).max(initial=0.0)) < settled:
            break
    return Lines(girth, value, turn)


def _sums(task: Task, girth: Array) -> tuple[csr_array, Array]:
    """Rows for the change of the unknowns: sweep of the inner seams, and width against the pattern."""
    seams, frames = girth.shape
    place = np.arange(seams * frames).reshape(seams, frames)
    now = sweep(task.girths, girth[1:-1])
    root = np.sqrt(now.reach)
    drawn = task.drawn[1:-1]
    there = (drawn[:, :-2] & drawn[:, 1:-1] & drawn[:, 2:]).ravel()
    number = np.arange(there.sum())
    terms = [
        (number, place[1:-1, part].ravel()[there], (now.factors[i] * root).ravel()[there])
        for i, part in enumerate((slice(-2), slice(1, -1), slice(2, None)))
    ]
    smooth = task.unknowns.rows(terms, len(number))
    spacing = np.gradient(task.girths.x)
    target = task.pattern[task.is_there]
    factor = (np.broadcast_to(np.sqrt(spacing), task.pattern.shape)[task.is_there]
              * target.mean() / target / task.hold_mm**2)  # fmt: skip
    number = np.arange(len(target))
    low, high = place[:-1][task.is_there], place[1:][task.is_there]
    hold = task.unknowns.rows([(number, high, factor), (number, low, -factor)], len(target))
    width = np.diff(girth, axis=0)[task.is_there]
    wanted = np.concatenate([-(now.geodesic * root).ravel()[there], (target - width) * factor])
    return csr_array(vstack([smooth, hold])), wanted


def _bounds(task: Task, girth: Array) -> tuple[csr_array, Array]:
    """Rows C and most d: widths, hollows and lands within their limits, as far as they can still move."""
    seams, frames = girth.shape
    place = np.arange(seams * frames).reshape(seams, frames)
    there = task.is_there
    low, high = place[:-1][there], place[1:][there]
    width = np.diff(girth, axis=0)[there]
    number, ones = np.arange(len(width)), np.ones(len(width))
    parts = [
        task.unknowns.rows([(number, high, ones), (number, low, -ones)], len(width)),
        task.unknowns.rows([(number, high, -ones), (number, low, ones)], len(width)),
    ]
    most = [task.limits.widest[there] - width, width - task.limits.narrowest[there]]
    if np.isfinite(task.hollow_mm):
        turn, kappa = task.girths.turned(girth)
        across = np.diff(turn, axis=0)[there]
        hollow = hollow_of(width, across)
        deep = hollow > _DEEP * task.hollow_mm
        by_turn = (hollow_of(width, np.abs(across) + 1e-6) - hollow) / 1e-6 * np.sign(across)
        by_width = hollow / np.maximum(width, 1e-9)
        ends = [by_turn * kappa[1:][there] + by_width, by_turn * kappa[:-1][there] + by_width]
        scale = 1 / np.maximum(2 * by_width, 1e-9)  # so that a row reads in mm of width
        number = np.arange(deep.sum())
        terms = [(number, high[deep], (ends[0] * scale)[deep]), (number, low[deep], -(ends[1] * scale)[deep])]
        parts.append(task.unknowns.rows(terms, len(number)))
        most.append(((task.hollow_mm - hollow) * scale)[deep])
    if np.isfinite(task.land_rad):
        row, bound = _lands(task, girth)
        parts.append(row)
        most.append(bound)
    matrix, bound = csr_array(vstack(parts)), np.concatenate(most)
    moves = np.diff(matrix.indptr) > 0
    return csr_array(matrix[np.flatnonzero(moves)]), bound[moves]


def _lands(task: Task, girth: Array) -> tuple[csr_array, Array]:
    """Rows and bounds of the angle by which each strake, straight from seam to seam, turns from the one below it.

    A chord c from a seam to the next turns by c × t/|c|² for each mm that the upper seam moves along the frame's
    direction t there, and by as much the other way for the lower. A row reads in mm of width.
    """
    seams, frames = girth.shape
    place = np.arange(seams * frames).reshape(seams, frames)
    point = task.girths.hull.point(task.girths.x, np.clip(task.girths.share(girth), 0, 1))[..., 1:]
    angle, _ = task.girths.turned(girth)
    chord = np.diff(point, axis=0)
    square = np.maximum(np.sum(chord**2, axis=-1), 1e-9)
    below, above = (
        (chord[..., 0] * np.sin(at) - chord[..., 1] * np.cos(at)) / square for at in (angle[:-1], angle[1:])
    )
    one, other = chord[:-1], chord[1:]
    fold = np.arctan2(one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0], np.sum(one * other, axis=-1))
    there = task.is_there[:-1] & task.is_there[1:] & (fold > _DEEP * task.land_rad)
    by_seam = [part[there] for part in (below[:-1], -below[1:] - above[:-1], above[1:])]
    scale = 1 / np.maximum(np.abs(by_seam[0]) + np.abs(by_seam[2]), 1e-9)
    number = np.arange(int(there.sum()))
    terms = [(number, place[i : seams - 2 + i][there], by * scale) for i, by in enumerate(by_seam)]
    return task.unknowns.rows(terms, len(number)), (task.land_rad - fold[there]) * scale
