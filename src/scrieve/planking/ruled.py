"""A strip between two curves in space, as `expand` takes it: for a plank whose edges are known but not its hull."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline

from scrieve.errors import BadPlank

Array = NDArray[np.float64]

_DENSE = 48


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A curve in space through given points; told by the share u of its length, 0 to 1."""

    by_chord: CubicSpline
    chord_at: CubicSpline
    length_mm: float

    def __call__(self, u: Array) -> tuple[Array, Array]:
        """Points and derivatives by u, each (..., 3) [mm]."""
        chord = self.chord_at(u)
        return self.by_chord(chord), self.by_chord(chord, 1) * self.chord_at(u, 1)[..., None]


@dataclass(frozen=True, slots=True, eq=False)
class RuledStrip:
    """Straight lines from one edge to the other, between places at the same share of each edge's length: a `Patch`."""

    lower: Curve
    upper: Curve

    def __call__(self, u: Array, w: Array) -> tuple[Array, Array, Array]:
        """Points and first derivatives by u and by w, each (..., 3) [mm]; `u` and `w` have one shape."""
        low, by_low = self.lower(u)
        high, by_high = self.upper(u)
        share = np.asarray(w, dtype=float)[..., None]
        return low + share * (high - low), by_low + share * (by_high - by_low), high - low


def ruled_strip(lower_mm: ArrayLike, upper_mm: ArrayLike) -> RuledStrip:
    """Return the strip between two edges given by points in space.

    Parameters
    ----------
    lower_mm, upper_mm : array_like (n, 3), (m, 3)
        Points along each edge, the same way; two for a straight edge, five or more for a curved one [mm]. Each edge is
        the cubic spline through its points over their chords.

    Raises
    ------
    BadPlank
        Points that are none, that lie on one another, or edges that run opposite ways.

    Notes
    -----
    A plank is straight across only where the hull is: on a round bilge hollow and bevels come from the hull itself
    (`design_plank`). Outline, edge-set and twist are those of this strip.

    Examples
    --------
    >>> from scrieve.planking.expansion import expand
    >>> flat = expand(ruled_strip([(0, 0, 0), (4000, 0, 0)], [(0, 150, 0), (4000, 150, 0)]))
    >>> (np.round(flat.upper_mm[[0, -1]], 6) + 0).tolist()
    [[0.0, 75.0], [4000.0, 75.0]]
    """
    lower, upper = _curve("the lower edge", lower_mm), _curve("the upper edge", upper_mm)
    ends = np.array([0.0, 1.0])
    (low, _), (high, _) = lower(ends), upper(ends)
    if float(np.dot(low[1] - low[0], high[1] - high[0])) <= 0:
        raise BadPlank("the edges of the plank run opposite ways; give the points of both from the same end.")
    return RuledStrip(lower, upper)


def _curve(name: str, given: ArrayLike) -> Curve:
    try:
        points = np.asarray(given, dtype=float)
    except (TypeError, ValueError) as error:
        raise BadPlank(f"{name}: found something that is no table of numbers; give x, y, z of each point.") from error
    if points.ndim != 2 or points.shape[1] != 3 or len(points) < 2:
        raise BadPlank(f"{name}: found points of shape {points.shape}; give two or more, with x, y and z each.")
    if not np.isfinite(points).all():
        number = int(np.flatnonzero(~np.isfinite(points).all(axis=1))[0]) + 1
        raise BadPlank(f"{name}, point {number}: found a figure that is no number; give x, y and z in mm.")
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    if steps.min() < 1e-6:
        number = int(steps.argmin()) + 1
        raise BadPlank(f"{name}: points {number} and {number + 1} lie on one another; leave one of them out.")
    chord = np.concatenate([[0.0], np.cumsum(steps)])
    spline = CubicSpline(chord, points)
    finely = np.unique(np.concatenate([np.linspace(a, b, _DENSE) for a, b in pairwise(chord)]))
    speed = np.linalg.norm(spline(finely, 1), axis=1)
    arc = CubicSpline(finely, speed).antiderivative()(finely)
    return Curve(spline, CubicSpline(arc / arc[-1], finely), float(arc[-1]))
