"""Arcs of a circle: sagitta, radius and length from what a builder measures, the chord."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadGeometry, above_zero

Array = NDArray[np.float64]


def sagitta(radius: ArrayLike, chord: ArrayLike) -> Array:
    """Depth of an arc under the middle of its chord, the arc being no more than half the circle.

    Parameters
    ----------
    radius, chord : array_like, broadcast
        [mm].

    Returns
    -------
    ndarray
        R − √(R² − c²/4) [mm], in the form that loses no digits where the arc is flat.

    Raises
    ------
    BadGeometry
        A value is not above zero, or a chord is longer than twice its radius.

    References
    ----------
    .. [1] Euclid, Elements III.35 (crossing chords): (c/2)² = h (2R − h).

    Examples
    --------
    >>> round(float(sagitta(1000, 600)), 7)
    46.0607986
    """
    r, half = np.broadcast_arrays(_positive("radius", radius), _positive("chord", chord) / 2)
    over = np.flatnonzero(half > r)
    if over.size:
        raise BadGeometry(
            f"chord {2 * half.flat[over[0]]:g} mm on a radius of {r.flat[over[0]]:g} mm: a chord is at most twice the "
            "radius; measure again."
        )
    return np.asarray(half**2 / (r + np.sqrt((r - half) * (r + half))))


def radius_from_chord(chord: ArrayLike, depth: ArrayLike) -> Array:
    """Radius of the arc of this `chord` and `depth` (sagitta, camber): (c²/4 + h²) / 2h; all [mm].

    Raises
    ------
    BadGeometry
        A value is not above zero.

    Examples
    --------
    >>> float(radius_from_chord(60, 12))
    43.5
    """
    half, h = _positive("chord", chord) / 2, _positive("depth", depth)
    return np.asarray((half**2 + h**2) / (2 * h))


def arc_length(chord: ArrayLike, depth: ArrayLike) -> Array:
    """Length of the arc of this `chord` and `depth` (sagitta, camber): 4 R atan(2h/c); all [mm].

    Right beyond half a circle too, where the depth is more than half the chord.

    Raises
    ------
    BadGeometry
        A value is not above zero.

    Examples
    --------
    >>> round(float(arc_length(2, 1)), 9)  # half a circle of radius 1
    3.141592654
    """
    half, h = _positive("chord", chord) / 2, _positive("depth", depth)
    return np.asarray(4 * radius_from_chord(2 * half, h) * np.arctan2(h, half))


def _positive(name: str, given: ArrayLike) -> Array:
    return above_zero(name, given, "mm", BadGeometry)
