"""A fair edge through points that are a little wrong, and the points that stand out from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import BSpline, make_interp_spline

from scrieve.errors import BadPlank

Array = NDArray[np.float64]

#: A point is suspect when it lies further from where its neighbours put it than this many standard deviations.
SUSPECT_AT = 3.5
#: Fewer points than this cannot tell which of them is wrong.
ENOUGH_TO_JUDGE = 6


@dataclass(frozen=True, slots=True, eq=False)
class FairEdge:
    """A fair line y(x) between its first and last point; `residual_mm` (n,) is point less line, `suspect` (n,) bool."""

    x: Array
    line: BSpline
    residual_mm: Array
    suspect: NDArray[np.bool_]

    def __call__(self, x: ArrayLike) -> Array:
        """Ordinate at x [mm]."""
        return np.asarray(self.line(np.asarray(x, dtype=float)), dtype=float)

    def slope(self, x: ArrayLike) -> Array:
        """dy/dx."""
        return np.asarray(self.line(np.asarray(x, dtype=float), 1), dtype=float)


def fair_edge(
    x: ArrayLike, y: ArrayLike, *, tolerance_mm: float = 0.0, keep: Sequence[bool] | None = None, name: str = "edge"
) -> FairEdge:
    """A fair line through points, moving none that is not suspect by more than the tolerance.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Points with x rising [mm]; two or more.
    tolerance_mm : float
        How far the line may pass from a point; 0 goes through every point.
    keep : sequence of bool, optional
        Points that are not to be judged.
    name : str
        For the messages.

    Notes
    -----
    Among cubic splines with a knot at every point, the one that makes Σ(y − f)² + λ∫f‴² least, λ by generalised
    cross-validation from those that keep within the tolerance: a circular arc or a parabola costs nothing, so a curved
    plank is not straightened. A point is suspect when it stands off the cubic through its two neighbours each side by
    more than 3.5 standard deviations (from the median of all points, and not under half the tolerance or 0.25 mm); the
    worst is set aside and the rest are judged anew. At most a quarter of the points are set aside.

    Raises
    ------
    BadPlank
        Fewer than two points, points not in order, or a value that is no number.
    """
    at, given = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if len(at) < 2:
        raise BadPlank(f"{name}: {len(at)} point(s); two or more are needed, at different places along the plank.")
    if not (np.all(np.isfinite(at)) and np.all(np.isfinite(given))):
        raise BadPlank(f"{name}: a point is no number; measure again.")
    if np.any(np.diff(at) < 0.5):
        where = float(at[int(np.argmin(np.diff(at)))])
        raise BadPlank(f"{name}: two points at {where:.0f} mm along, or out of order; keep one there.")
    suspect = stand_out(at, given, tolerance_mm, np.zeros(len(at), bool) if keep is None else np.asarray(keep, bool))
    good = ~suspect
    line = _fair(at[good], given[good], tolerance_mm)
    return FairEdge(at, line, given - np.asarray(line(at)), suspect)


def stand_out(x: Array, y: Array, tolerance: float, keep: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which of the points (n,) stand out from their neighbours; see `fair_edge`."""
    suspect = np.zeros(len(x), bool)
    for _ in range(len(x) // 4):
        good = np.flatnonzero(~suspect)
        if len(good) < ENOUGH_TO_JUDGE:
            break
        miss = np.array([_miss(x[good], y[good], i) for i in range(len(good))])
        spread = max(1.4826 * float(np.median(np.abs(miss))), tolerance / 2, 0.25)
        judged = np.where(keep[good], 0.0, np.abs(miss))
        worst = int(np.argmax(judged))
        if judged[worst] <= SUSPECT_AT * spread:
            break
        suspect[good[worst]] = True
    return suspect


def _miss(x: Array, y: Array, i: int) -> float:
    """How far point i stands off the cubic through its neighbours (parabola at the ends), in its own spread."""
    first, last = i in (0, len(x) - 1), i in (1, len(x) - 2)
    if first:
        near = np.array([1, 2, 3]) if i == 0 else np.array([i - 1, i - 2, i - 3])
    elif last:
        near = np.array([0, 2, 3, 4]) if i == 1 else np.array([i + 1, i - 1, i - 2, i - 3])
    else:
        near = np.array([i - 2, i - 1, i + 1, i + 2])
    others = x[near]
    weights = np.array(
        [np.prod((x[i] - np.delete(others, j)) / (others[j] - np.delete(others, j))) for j in range(len(near))]
    )
    return float((y[i] - weights @ y[near]) / np.sqrt(1 + weights @ weights))


def _fair(x: Array, y: Array, tolerance: float) -> BSpline:
    count = len(x)
    if tolerance <= 0 or count < ENOUGH_TO_JUDGE:
        return make_interp_spline(x, y, k=min(3, count - 1))
    span = x[-1] - x[0]
    t = (x - x[0]) / span
    knots = np.concatenate([np.zeros(3), t, np.ones(3)])
    basis = BSpline(knots, np.eye(count + 2), 3)
    values = np.asarray(basis(t))
    third = np.asarray(basis((t[:-1] + t[1:]) / 2, 3)) * np.sqrt(np.diff(t))[:, None]
    best: tuple[float, Array] | None = None
    for weight in np.logspace(-14, 2, 65):
        hat = np.linalg.lstsq(
            np.concatenate([values, np.sqrt(weight) * third]),
            np.concatenate([np.eye(count), np.zeros((len(third), count))]),
            rcond=None,
        )[0]
        coefficients = hat @ y
        miss = y - values @ coefficients
        if np.max(np.abs(miss)) > tolerance:
            break
        freedom = count - float(np.trace(values @ hat))
        score = float(miss @ miss) / max(freedom, 1e-9) ** 2
        if best is None or score <= best[0]:
            best = score, coefficients
    if best is None:
        return make_interp_spline(x, y, k=3)
    return BSpline(np.concatenate([np.full(3, x[0]), x, np.full(3, x[-1])]), best[1], 3)
