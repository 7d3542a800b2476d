"""A template: what is drawn on it, brought to the hull by the reference marks that it carries; never stretched."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtri

from scrieve.errors import BadMarks, above_zero

Array = NDArray[np.float64]

#: Odds against reference marks of the stated error disagreeing by more than is then warned of.
_CHANCE = 1e-3
#: The other face is taken when it fits by so much better, in squares of the error.
_PLAINLY_BETTER = 16.0
#: Reference marks stand in one line when none is further off it than this share of their spread.
_IN_LINE = 0.02
#: Ratios of size that come of a wrong unit, and the words for them.
_UNITS = {25.4: "read in inches", 10.0: "read in cm", 1000.0: "read in m", 304.8: "read in feet"}


@dataclass(frozen=True, slots=True, eq=False)
class TemplateFit:
    """How a template lies on the hull.

    Attributes
    ----------
    turned : bool
        Whether it lies with the other face up: mirrored.
    angle_rad, shift_mm : float, ndarray (2,)
        A point p of the template comes to R(angle) p + shift; a turned one with its first coordinate reversed first.
    residuals_mm : ndarray (n, 2)
        Of each reference mark: computed minus known.
    warnings : tuple of str
        What to look at before the points are used.
    """

    turned: bool
    angle_rad: float
    shift_mm: Array
    residuals_mm: Array
    warnings: tuple[str, ...]
    _middle_mm: Array
    _weight: float
    _inertia: float

    def place(self, points: ArrayLike, sigma: ArrayLike) -> tuple[Array, Array]:
        """Bring points (n, 2) of the template, each of standard deviation `sigma` [mm], to the hull.

        Returns
        -------
        points : ndarray (n, 2)
            Half-breadth and height [mm].
        covariance : ndarray (n, 2, 2)
            σ²·1 + 1/Σw + r⊥r⊥ᵀ/Σw|p − p̄|², r from the weighted middle of the reference marks, w = 1/σ² of each: the
            point's own error, that of the template's place, and that of its angle. The last two are common to all
            points of one template; the covariance is of each point by itself.
        """
        drawn = np.atleast_2d(np.asarray(points, dtype=float))
        found = _turned(drawn, self.turned) @ _rotation(self.angle_rad).T + self.shift_mm
        arm = found - self._middle_mm
        square = np.column_stack([-arm[:, 1], arm[:, 0]])
        own = np.broadcast_to(np.asarray(sigma, dtype=float) ** 2, (len(drawn),)) + 1 / self._weight
        return found, own[:, None, None] * np.eye(2) + square[:, :, None] * square[:, None] / self._inertia


def fit_template(
    drawn: ArrayLike, known: ArrayLike, *, sigma: ArrayLike = 1.0, turned: bool | None = None
) -> TemplateFit:
    """Lay a template on its reference marks by least squares, turned and moved, never stretched.

    Parameters
    ----------
    drawn : array_like (n, 2)
        The reference marks as read on the template, in axes of its own, n ≥ 2 [mm].
    known : array_like (n, 2)
        The same marks on the hull: half-breadth and height [mm].
    sigma : array_like, broadcast with n
        Standard deviation of each, its reading and its known place together, in each direction [mm].
    turned : bool, optional
        Whether the template lies with the other face up. Where it is not said, three or more reference marks that do
        not stand in one line tell it.

    Returns
    -------
    TemplateFit
        angle = atan2(Σw p×q, Σw p·q) about the weighted middles, w = 1/σ².

    Raises
    ------
    BadMarks
        Fewer than two reference marks, marks on one another, or both faces fit alike.

    References
    ----------
    .. [1] Rigid registration of point sets by least squares (orthogonal Procrustes without scale), in the plane.
       Check values: tests/published/test_template.py.

    Examples
    --------
    >>> fit = fit_template([[0, 0], [100, 0]], [[500, 200], [500, 300]], turned=False)
    >>> round(math.degrees(fit.angle_rad), 9), fit.place([[100, 50]], 1.0)[0].round(9).tolist()
    (90.0, [[450.0, 300.0]])
    """
    p, q = np.asarray(drawn, dtype=float), np.asarray(known, dtype=float)
    if p.ndim != 2 or p.shape[1:] != (2,) or p.shape != q.shape or len(p) < 2:
        raise BadMarks(f"a template of {len(p)} reference marks; give two or more, each with both its positions.")
    if not (np.all(np.isfinite(p)) and np.all(np.isfinite(q))):
        raise BadMarks("a reference mark has a position that is not finite; give lengths in mm.")
    error = np.broadcast_to(above_zero("error of a reference mark", sigma, "mm", BadMarks), (len(p),))
    w = error**-2.0
    for places, where in ((p, "on the template"), (q, "on the hull")):
        if _spread(places, w)[0] < 1.0:
            raise BadMarks(f"the reference marks stand on one another {where}; give marks well apart.")
    plain, mirrored = _fit(p, q, w, False), _fit(p, q, w, True)
    if turned is None:
        if max(_off_line(p, w), _off_line(q, w)) < _IN_LINE or abs(plain[2] - mirrored[2]) < _PLAINLY_BETTER:
            raise BadMarks(
                f"{len(p)} reference marks fit this template with either face up; say yes or no in the column turned, "
                "or add a reference mark off the line of the others."
            )
        chosen = mirrored[2] < plain[2]
        said = ["the template fits turned over, mirrored as read, and was laid so."] if chosen else []
    else:
        chosen, said = turned, []
        here, there = (mirrored, plain) if turned else (plain, mirrored)
        if here[2] - there[2] > _PLAINLY_BETTER and here[2] > chdtri(2 * len(p) - 3, _CHANCE):
            word = "not turned over" if turned else "turned over (mirrored)"
            said.append(f"the reference marks fit much better {word}; look at the column turned.")
    angle, shift, misfit = mirrored if chosen else plain
    residuals = _turned(p, chosen) @ _rotation(angle).T + shift - q
    said += _doubts(p, q, w, chosen, residuals, misfit)
    inertia = float(w @ np.sum((p - w @ p / w.sum()) ** 2, axis=1))
    return TemplateFit(chosen, angle, shift, residuals, tuple(said), w @ q / w.sum(), float(w.sum()), inertia)


def _rotation(angle: float) -> Array:
    return np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])


def _turned(points: Array, turned: bool) -> Array:
    return points * [-1.0, 1.0] if turned else points


def _fit(p: Array, q: Array, w: Array, turned: bool) -> tuple[float, Array, float]:
    """Return angle, shift, and the sum of squares in units of the error."""
    r = _turned(p, turned)
    p0, q0 = w @ r / w.sum(), w @ q / w.sum()
    a, b = r - p0, q - q0
    angle = math.atan2(float(w @ (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])), float(w @ np.sum(a * b, axis=1)))
    way = _rotation(angle)
    return angle, q0 - way @ p0, float(w @ np.sum((a @ way.T - b) ** 2, axis=1))


def _spread(points: Array, w: Array) -> tuple[float, float]:
    """Root mean square distance from the middle, along the line of the points and square to it."""
    off = (points - w @ points / w.sum()) * np.sqrt(w / w.sum())[:, None]
    long, short = np.linalg.svd(off, compute_uv=False)
    return float(long), float(short)


def _off_line(points: Array, w: Array) -> float:
    long, short = _spread(points, w)
    return short / long


def _doubts(p: Array, q: Array, w: Array, turned: bool, residuals: Array, misfit: float) -> list[str]:
    if misfit <= chdtri(2 * len(p) - 3, _CHANCE):
        return []
    ratio = _spread(q, w)[0] / _spread(p, w)[0]
    for times, word in _UNITS.items():
        for found, where in ((ratio, "template"), (1 / ratio, "hull")):
            if abs(found / times - 1) < 0.05:
                return [f"the reference marks fit {times:g} times larger: was the {where} {word}? Look at the units."]
    listed = ", ".join(f"{math.hypot(*off):.1f}" for off in residuals)
    said = f"the reference marks disagree by more than their error (off by {listed} mm in turn)"
    if len(p) > 2:
        limit = chdtri(2 * len(p) - 5, _CHANCE)
        kept = [np.delete(np.arange(len(p)), i) for i in range(len(p))]
        without = [i for i, rest in enumerate(kept) if _fit(p[rest], q[rest], w[rest], turned)[2] <= limit]
        said += f"; without no. {without[0] + 1} the others agree" if len(without) == 1 else ""
    return [f"{said}; read them again before the points are used."]
