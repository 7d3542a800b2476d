"""A spiled plank laid over the same plank expanded from the hull: how far the two outlines differ."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from scrieve.errors import BadPlank
from scrieve.planking.plank import PlankDesign
from scrieve.wording import by_itself, length, small, tell
from scrieve.working import Check, Working

Array = NDArray[np.float64]

#: Differences above this are told as not met; the spiling batten's own tolerance is the least of it.
LIMIT_MM = 3.0
_POINTS = 121


@dataclass(frozen=True, slots=True)
class FrameDifference:
    """Spiled less expanded at one frame [mm]: offsets of the edges square to them, and the width."""

    label: str
    lower_mm: float
    upper_mm: float
    width_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Two outlines of one plank; lengths in mm.

    `lower_mm` and `upper_mm` (n, 2) are the spiled edges, turned and shifted, never stretched, to lie best on the
    expanded plank; `lower_off_mm`, `upper_off_mm` (n,) how far each point lies off the expanded edge, above zero
    towards the upper edge. `turned_over` tells that the spiled plank lies much better turned over: one of the two is
    drawn from the other face. `edge_set_mm` is the bow of the middle line of the spiled plank against the expanded.
    """

    lower_mm: Array
    upper_mm: Array
    lower_off_mm: Array
    upper_off_mm: Array
    frames: tuple[FrameDifference, ...]
    greatest_mm: float
    bow_mm: float
    turned_over: bool
    checks: tuple[Check, ...]
    workings: tuple[Working, ...]


def compare_planks(spiled: PlankDesign, expanded: PlankDesign) -> Comparison:
    """Lay a spiled (or traced) plank over the expanded one.

    Raises
    ------
    BadPlank
        They share no two frames and differ in length by over a tenth, so that nothing says how they lie.
    """
    common = [label for label in (f.label for f in spiled.frames) if label in {f.label for f in expanded.frames}]
    ours, theirs = ({f.label: f for f in design.frames} for design in (spiled, expanded))
    lengths = [float(np.ptp(design.outline_mm[:, 0])) for design in (spiled, expanded)]
    if len(common) < 2 and abs(lengths[0] - lengths[1]) > 0.1 * max(lengths):
        raise BadPlank(
            f"{spiled.name!r} and {expanded.name!r} share {len(common)} frame(s), and are {lengths[0]:.0f} and "
            f"{lengths[1]:.0f} mm long; mark two frames on the batten that the other has too."
        )
    over = _fit(spiled, expanded, common, -1.0)
    straight = _fit(spiled, expanded, common, 1.0)
    turned = over[0] < 0.25 * straight[0] and straight[0] > LIMIT_MM
    place = straight[1]
    lower, upper = (place(_even(edge)) for edge in (spiled.lower_mm, spiled.upper_mm))
    lower_off, upper_off = _off(lower, expanded.lower_mm), _off(upper, expanded.upper_mm)
    rows = []
    for label in common:
        points = place(np.array([ours[label].lower_mm, ours[label].upper_mm]))
        off = (float(_off(points[:1], expanded.lower_mm)[0]), float(_off(points[1:], expanded.upper_mm)[0]))
        rows.append(FrameDifference(label, off[0], off[1], ours[label].width_mm - theirs[label].width_mm))
    both = np.concatenate([lower_off, upper_off])
    greatest = float(np.nanmax(np.abs(both)))
    middle = (np.nan_to_num(lower_off) + np.nan_to_num(upper_off)) / 2
    chord = np.interp(lower[:, 0], lower[[0, -1], 0], middle[[0, -1]])
    bow = float((middle - chord)[int(np.argmax(np.abs(middle - chord)))])
    at = lower if np.nanmax(np.abs(lower_off)) >= greatest - 1e-12 else upper
    where = float(at[int(np.nanargmax(np.abs(lower_off if at is lower else upper_off))), 0])
    edge = "lower" if at is lower else "upper"
    checks = (
        Check("Spiled against the hull", tell("{it} at most, {edge} edge {where} along", it=small(greatest), edge=edge,
                                            where=length(where)),
              by_itself(small(LIMIT_MM, 0)), greatest <= LIMIT_MM, "shop default, no source; change to suit",
              "Spile again there, and measure the hull's seam there again: one of the two is wrong."),
        Check("Bow of the one against the other", by_itself(small(bow)),
              by_itself(small(LIMIT_MM, 0)), abs(bow) <= LIMIT_MM,
              "shop default, no source; change to suit",
              "A batten that was sprung edgewise gives a plank that is bowed by as much."),
        Check("Same face", "the spiled plank lies better turned over" if turned else "both drawn from one face",
              "both drawn from one face", not turned, "derived: docs/planking.md",
              "Turn the pattern of one of them over before they are compared."),
    )  # fmt: skip
    working = Working(
        "Difference", by_itself(small(greatest)),
        "least Σ (distance off the expanded edges)² over turn and shift",
        (("frames shared", ", ".join(common) or "none"), ("points along each edge", str(_POINTS)),
         ("root of the mean square", by_itself(small(float(np.sqrt(np.nanmean(both**2))))))),
        "derived: docs/planking.md",
    )  # fmt: skip
    return Comparison(lower, upper, lower_off, upper_off, tuple(rows), greatest, bow, turned, checks, (working,))


def _fit(one: PlankDesign, other: PlankDesign, common: list[str], hand: float) -> tuple[float, _Place]:
    """Root mean square of what is left off [mm], and the place of `one` on `other`; `hand` −1: turned over."""
    ours, theirs = ({f.label: f for f in design.frames} for design in (one, other))
    edges = _even(one.lower_mm), _even(one.upper_mm)
    if hand < 0:
        edges = edges[1], edges[0]
    pairs = [(ours[label], theirs[label]) for label in common] if len(common) > 1 else []
    low, high = ("lower_mm", "upper_mm") if hand > 0 else ("upper_mm", "lower_mm")
    own = np.array([getattr(a, name) for a, _ in pairs for name in (low, high)]).reshape(-1, 2)
    wanted = np.array([getattr(b, name) for _, b in pairs for name in ("lower_mm", "upper_mm")]).reshape(-1, 2)
    flip = np.array([1.0, hand])

    def off(p: Array) -> Array:
        place = _Place(float(p[0]), (float(p[1]), float(p[2])), hand)
        found = [_off(place(line), edge) for line, edge in zip(edges, (other.lower_mm, other.upper_mm), strict=True)]
        rest = np.nan_to_num(np.concatenate(found))
        if len(own):  # along the plank only the frame lines tell where it lies
            rest = np.concatenate([rest, (place(own) - wanted)[:, 0]])
        else:
            ends = [place(line)[[0, -1], 0].mean() - edge[[0, -1], 0].mean()
                    for line, edge in zip(edges, (other.lower_mm, other.upper_mm), strict=True)]  # fmt: skip
            rest = np.concatenate([rest, ends])
        return np.asarray(rest)

    middle = (edges[0].mean(axis=0) + edges[1].mean(axis=0)) / 2 * flip
    target = (other.lower_mm.mean(axis=0) + other.upper_mm.mean(axis=0)) / 2
    if len(own):
        middle, target = own.mean(axis=0) * flip, wanted.mean(axis=0)
    start = np.array([0.0, *(target - middle)])
    fitted = least_squares(off, start, x_scale=[1e-4, 1.0, 1.0], xtol=1e-10, ftol=1e-10)
    p = fitted.x
    return float(np.sqrt(np.mean(fitted.fun**2))), _Place(float(p[0]), (float(p[1]), float(p[2])), hand)


@dataclass(frozen=True, slots=True)
class _Place:
    """Points (n, 2) turned over where `hand` is −1, turned by `angle` [rad] and shifted [mm]."""

    angle: float
    shift: tuple[float, float]
    hand: float

    def __call__(self, points: Array) -> Array:
        cos, sin = np.cos(self.angle), np.sin(self.angle)
        return np.asarray((points * [1.0, self.hand]) @ np.array([[cos, sin], [-sin, cos]]) + self.shift)


def _even(edge: Array) -> Array:
    """`_POINTS` points along an edge."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(edge, axis=0).T))])
    at = np.linspace(0, run[-1], _POINTS)
    return np.column_stack([np.interp(at, run, edge[:, k]) for k in (0, 1)])


def _off(points: Array, edge: Array) -> Array:
    """How far points lie above an edge, square to it [mm]; nan beyond its ends."""
    x = np.clip(points[:, 0], edge[0, 0], edge[-1, 0])
    slope = np.interp(x, (edge[1:, 0] + edge[:-1, 0]) / 2, np.diff(edge[:, 1]) / np.diff(edge[:, 0]))
    off = (points[:, 1] - np.interp(x, *edge.T)) / np.hypot(1, slope)
    return np.asarray(np.where(np.abs(points[:, 0] - x) > 1.0, np.nan, off))
