"""Tapes: a point of the hull from two or more tapes stretched to it from nails of known position."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtri

from scrieve.errors import BadMarks, above_zero

Array = NDArray[np.float64]
Side = Literal["left", "right"]

#: Tapes that cross at a smaller angle give a point that a small slip moves far.
LEAST_CROSSING_RAD = math.radians(25.0)
#: Odds against tapes of the stated error disagreeing by more than is then warned of.
_CHANCE = 1e-3
#: One of two points is taken without asking when it fits by so much better, in squares of the error.
_PLAINLY_BETTER = 16.0
#: A step smaller than this share of the distances is standing still.
_STILL = 1e-11


@dataclass(frozen=True, slots=True, eq=False)
class Fix:
    """A point found by tapes.

    Attributes
    ----------
    point_mm : ndarray (2,)
        In the plane and axes of the nails.
    residuals_mm : ndarray (n,)
        Computed minus read, of each tape.
    covariance_mm2 : ndarray (2, 2)
        Of the point, from the tapes' stated error.
    crossing_rad : float
        Angle at the point between the two tapes that cross nearest to square.
    warnings : tuple of str
        What to look at before the point is used.
    other_mm : ndarray (2,) or None
        The point on the other side of the nails, where it fits the tapes about as well.
    """

    point_mm: Array
    residuals_mm: Array
    covariance_mm2: Array
    crossing_rad: float
    warnings: tuple[str, ...]
    other_mm: Array | None = None

    @property
    def ellipse_mm(self) -> Array:
        """(2,) semi-axes of the error ellipse (one standard deviation), the shorter first [mm]."""
        return np.asarray(np.sqrt(np.linalg.eigvalsh(self.covariance_mm2)))


def fix_point(nails: ArrayLike, readings: ArrayLike, *, sigma: ArrayLike = 1.0, side: Side | None = None) -> Fix:
    """Find the point that tapes from known nails meet in, by least squares.

    Parameters
    ----------
    nails : array_like (n, 2)
        The nails in the section plane, n ≥ 2 [mm].
    readings : array_like (n,)
        What each tape read [mm].
    sigma : array_like, broadcast with `readings`
        Standard deviation of a tape [mm].
    side : {'left', 'right'}, optional
        On which side of the line from the first nail to the second the point lies, looking along that line. Needed
        where the nails stand in one line, since two points then fit alike.

    Returns
    -------
    Fix
        The p that makes Σ ((|p − nᵢ| − lᵢ)/σᵢ)² least, iterated from the crossings of the two tapes of the longest
        base until it stands still; covariance (JᵀWJ)⁻¹, J holding the directions from nails to point.

    Raises
    ------
    BadMarks
        Fewer than two nails, nails on one another, tapes that do not meet, or two points that fit alike.

    References
    ----------
    .. [1] Gauss-Newton for the intersection of distances: any textbook of survey adjustment (observation equations of
       trilateration). Check values: tests/published/test_tapes.py.

    Examples
    --------
    >>> fix = fix_point([[0, 0], [2000, 0]], [1200, 1600], side="left")
    >>> fix.point_mm.round(6).tolist(), round(math.degrees(fix.crossing_rad), 6)
    ([720.0, 960.0], 90.0)
    """
    n = np.asarray(nails, dtype=float)
    if n.ndim != 2 or n.shape[1] != 2 or len(n) < 2 or not np.all(np.isfinite(n)):
        raise BadMarks(f"nails: found the shape {n.shape}; give two or more nails, each with its two coordinates.")
    tapes = above_zero("tape", readings, "mm", BadMarks)
    if tapes.shape != (len(n),):
        raise BadMarks(f"{len(n)} nails and {tapes.size} tapes; give one reading for each nail.")
    error = np.broadcast_to(above_zero("error of a tape", sigma, "mm", BadMarks), tapes.shape)
    if side not in (None, "left", "right"):
        raise BadMarks(f"side {side!r}; say 'left' or 'right' of the line from the first nail to the second.")
    found = [_settle(n, tapes, error, start) for start in _crossings(n, tapes, error)]
    point = _chosen(n, tapes, error, found, side)
    reach = point - n
    far = np.hypot(reach[:, 0], reach[:, 1])
    rows = reach / far[:, None] / error[:, None]
    crossing = _crossing(reach)
    if math.sin(crossing) < 1e-6:
        raise BadMarks("the tapes lie in one line and fix no point; set a nail further to the side.")
    covariance = np.linalg.inv(rows.T @ rows)
    residuals = far - tapes
    other = max(found, key=lambda one: float(np.hypot(*(one - point))))
    worse = _misfit(n, tapes, error, other) - _misfit(n, tapes, error, point) >= _PLAINLY_BETTER
    worse = worse or bool(np.hypot(*(other - point)) < 1e-3 * float(tapes.max()))
    return Fix(point, residuals, covariance, crossing, _warnings(crossing, residuals, error), None if worse else other)


def _crossings(nails: Array, tapes: Array, error: Array) -> list[Array]:
    """Return the two crossings of the tapes from the two nails furthest apart (or where they come nearest)."""
    apart = np.hypot(*(nails[:, None] - nails).transpose(2, 0, 1))
    first, second = (int(i) for i in np.unravel_index(np.argmax(apart), apart.shape))
    base = float(apart[first, second])
    if base == 0 or (len(nails) == 2 and base < 1e-6):
        raise BadMarks("the nails stand on one another; give their positions again.")
    one, two = float(tapes[first]), float(tapes[second])
    gap = max(base - one - two, abs(one - two) - base)
    if len(nails) == 2 and gap > 0:
        raise BadMarks(
            f"tapes of {one:g} and {two:g} mm from nails {base:g} mm apart do not meet, by {gap:.1f} mm; read the "
            "tapes and the nails again."
        )
    along = (one**2 - two**2 + base**2) / (2 * base)
    off = math.sqrt(max(one**2 - along**2, float(error.max()) ** 2))
    axis = (nails[second] - nails[first]) / base
    square = np.array([-axis[1], axis[0]])
    return [nails[first] + along * axis + sign * off * square for sign in (1, -1)]


def _settle(nails: Array, tapes: Array, error: Array, start: Array) -> Array:
    """Gauss-Newton with a step that is shortened until the fit gets better."""
    point, fit = start, _misfit(nails, tapes, error, start)
    damping = 0.0
    for _ in range(200):
        reach = point - nails
        far = np.maximum(np.hypot(reach[:, 0], reach[:, 1]), 1e-9)
        rows = reach / far[:, None] / error[:, None]
        square = rows.T @ rows
        step = -_solve(square + damping * np.eye(2), rows.T @ ((far - tapes) / error))
        new = _misfit(nails, tapes, error, point + step)
        better, small = new <= fit, np.hypot(*step) <= _STILL * (1 + np.abs(point).max())
        if better:
            point, fit, damping = point + step, new, damping / 10
        if small:  # whether better or not: then it is rounding that decides
            break
        if not better:
            damping = max(10 * damping, 1e-6 * float(np.trace(square)))
            if damping > 1e12 * float(np.trace(square)):
                break
    return np.asarray(point)


def _solve(square: Array, right: Array) -> Array:
    """Solve two equations; the least of all solutions where they are one and the same."""
    (a, b), (_, c) = square
    det = a * c - b * b
    if det > 1e-14 * (a + c) ** 2:
        return np.asarray(np.array([c * right[0] - b * right[1], a * right[1] - b * right[0]]) / det)
    return np.asarray(np.linalg.lstsq(square, right, rcond=None)[0])


def _misfit(nails: Array, tapes: Array, error: Array, point: Array) -> float:
    return float(np.sum(((np.hypot(*(point - nails).T) - tapes) / error) ** 2))


def _chosen(nails: Array, tapes: Array, error: Array, found: list[Array], side: Side | None) -> Array:
    fits = [_misfit(nails, tapes, error, point) for point in found]
    order = np.argsort(fits)
    best, other = found[int(order[0])], found[int(order[1])]
    if side is not None:
        start, way = nails[0], nails[1] - nails[0]
        for point in (best, other):
            left = way[0] * (point - start)[1] - way[1] * (point - start)[0] >= 0
            if left == (side == "left"):
                return point
        raise BadMarks(f"the tapes meet only on the other side than the {side}; look at the order of the nails.")
    alike = np.hypot(*(best - other)) < 1e-3 * float(tapes.max())
    if not alike and fits[order[1]] - fits[order[0]] < _PLAINLY_BETTER:
        raise BadMarks(
            f"two points fit these tapes, {best[0]:.0f} mm out and {best[1]:.0f} mm up, or {other[0]:.0f} mm out and "
            f"{other[1]:.0f} mm up; say on which side of the line from the first nail to the second the point lies."
        )
    return best


def _crossing(reach: Array) -> float:
    angles = np.arctan2(reach[:, 1], reach[:, 0])
    turns = np.abs((angles[:, None] - angles + np.pi) % (2 * np.pi) - np.pi)
    return float(turns.flat[int(np.argmax(np.sin(turns)))])


def _warnings(crossing: float, residuals: Array, error: Array) -> tuple[str, ...]:
    said = []
    if math.sin(crossing) < math.sin(LEAST_CROSSING_RAD):
        said.append(
            f"the tapes cross at {math.degrees(crossing):.0f}°, nearly in one line, so that a small slip moves the "
            "point far; set a nail further to the side, or add a tape."
        )
    spare = len(residuals) - 2
    if spare > 0 and np.sum((residuals / error) ** 2) > chdtri(spare, _CHANCE):
        listed = ", ".join(f"{residual:+.1f}" for residual in residuals)
        said.append(
            f"the tapes disagree by more than their error (computed minus read: {listed} mm); read them again before "
            "the point is used."
        )
    return tuple(said)
