"""Fairness of a seam judged in space: how it sweeps within the hull's surface, and how it bends with it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scrieve.planking.curvature import unit
from scrieve.planking.lining.girth import Girths
from scrieve.planking.seams import place

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """Seams (s) through the marks at frames (k) as curves in space, at the inner frames (k − 2).

    `geodesic` is the curvature within the surface, above zero where a seam sweeps upwards; `normal` that with the
    surface, above zero where it is hollow inboard [1/mm]. `factors` (3, s, k − 2) tell how `geodesic` changes with the
    girth at the frame before, at it, and after it. `reach` (s, k − 2) is half the length along the seam from the frame
    before to the frame after [mm].
    """

    geodesic: Array
    normal: Array
    factors: Array
    reach: Array


def sweep(girths: Girths, at: Array) -> Sweep:
    """How seams at girths `at` (s, k) sweep, from the second differences of their points in space.

    The second difference of three neighbouring marks, over the spaces between them, is the seam's curvature as a space
    curve; its part along the surface, square to the seam, is the geodesic curvature: what a batten laid flat on the
    hull has to be bent edgewise. The rest is the hull's own.
    """
    v = girths.share(at)
    point = girths.hull.point(girths.x, v)
    by_x, by_v = girths.hull.partials(girths.x, v)
    up = unit(by_v)
    step = np.diff(point, axis=1)
    length = np.linalg.norm(step, axis=-1)
    before, after = length[:, :-1], length[:, 1:]
    run = unit(step[:, 1:] * (before / after)[..., None] + step[:, :-1] * (after / before)[..., None])
    inboard = unit(np.cross(by_x, by_v))[:, 1:-1]
    across = unit(np.cross(inboard, run))
    weights = np.stack([2 / (before * (before + after)), -2 / (before * after), 2 / (after * (before + after))])
    near = np.stack([point[:, :-2], point[:, 1:-1], point[:, 2:]])
    bend = np.sum(weights[..., None] * near, axis=0)
    tilt = np.stack([np.sum(up[:, part] * across, axis=-1) for part in (slice(-2), slice(1, -1), slice(2, None))])
    return Sweep(
        geodesic=np.sum(bend * across, axis=-1),
        normal=np.sum(bend * inboard, axis=-1),
        factors=weights * tilt,
        reach=(before + after) / 2,
    )


@dataclass(frozen=True, slots=True)
class SeamFairness:
    """How fair one seam lies; lengths in mm.

    `off_mm`, at `off_at`, is the greatest second difference in the surface: how far three neighbouring marks stand
    from a line that runs straight on the hull (twice the bow over two frame spaces). `change_mm` is the greatest step
    of it from frame to frame, which shows a bump; `turns` how often the sweep changes sides. `edge_radius_mm` is the
    least radius of the sweep, `bend_radius_mm` the least radius to which the hull bends the seam. `girth_mm` is the
    greatest second difference of the girths alone, for comparison: it is not small where the girth itself bends.
    """

    seam: int
    off_mm: float
    off_at: str
    change_mm: float
    turns: int
    edge_radius_mm: float
    bend_radius_mm: float
    girth_mm: float


#: Sweep under this second difference counts as straight when turns are counted [mm].
_STRAIGHT_MM = 0.1


def fairness(girths: Girths, at: Array, exists: Mask) -> tuple[SeamFairness, ...]:
    """Judge seams at girths `at` (s, k) where they exist (s, k)."""
    found = sweep(girths, at)
    second = found.geodesic * found.reach**2
    there = exists[:, :-2] & exists[:, 1:-1] & exists[:, 2:]
    gaps = np.diff(girths.x)
    even = (gaps[1:] + gaps[:-1]) / 2
    girth = 2 * (np.diff(at[:, 1:]) / gaps[1:] - np.diff(at[:, :-1]) / gaps[:-1]) / (gaps[1:] + gaps[:-1]) * even**2
    told = []
    for j in range(len(at)):
        here = there[j]
        parts = (second[j][here], found.geodesic[j][here], found.normal[j][here], girth[j][here])
        told.append(_one(girths, j, *parts, girths.x[1:-1][here]))
    return tuple(told)


def _one(girths: Girths, j: int, second: Array, edge: Array, bend: Array, girth: Array, x: Array) -> SeamFairness:
    if not second.size:
        return SeamFairness(j, 0.0, "", 0.0, 0, np.inf, np.inf, 0.0)
    worst = int(np.argmax(np.abs(second)))
    sides = np.sign(second[np.abs(second) > _STRAIGHT_MM])
    with np.errstate(divide="ignore"):
        radii = [float(1 / np.max(np.abs(part))) for part in (edge, bend)]
    return SeamFairness(
        seam=j,
        off_mm=float(abs(second[worst])),
        off_at=place(girths.hull, float(x[worst])),
        change_mm=float(np.max(np.abs(np.diff(second)), initial=0.0)),
        turns=int(np.sum(sides[1:] != sides[:-1])),
        edge_radius_mm=radii[0],
        bend_radius_mm=radii[1],
        girth_mm=float(np.max(np.abs(girth))),
    )
