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
SUSPECT_AT = 4.5
#: Fewer points than this cannot tell which of them is wrong.
ENOUGH_TO_JUDGE = 6
#: No more points than this are suspected along one edge: with more, the whole edge is to be measured again.
MOST_SUSPECTS = 3

_CANDIDATES = 6


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
    plank is not straightened. To find what stands out, points are set aside one by one, each time the one without
    which the rest lie smoothest, three or a quarter of all at most; then each is held against the cubic through its
    neighbours among the rest, and is suspect where it stands off by more than 4.5 standard deviations (from the median
    of the rest, and not under half the tolerance or 0.25 mm). The others are put back.

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
    clean = np.flatnonzero(~keep)
    aside: list[int] = []
    most = min(len(clean) // 4, MOST_SUSPECTS)
    for _ in range(most):
        if len(clean) <= ENOUGH_TO_JUDGE:
            break
        likely = np.argsort(-np.abs(_misses(x, y, clean)))[:_CANDIDATES]
        rest = [np.sum(np.abs(_misses(x, y, np.delete(clean, i)))) for i in likely]
        worst = int(likely[int(np.argmin(rest))])
        aside.append(int(clean[worst]))
        clean = np.delete(clean, worst)
    if not aside:
        return suspect
    # Setting aside the roughest leaves the rest smoother than they were: the spread is put back by their share.
    spread = 1.4826 * float(np.median(np.abs(_misses(x, y, clean)))) * (1 + 2 * len(aside) / len(x))
    spread = max(spread, tolerance / 2, 0.25)
    for i in reversed(aside):  # the last set aside is the least likely; put back, it helps to judge the others
        suspect[i] = abs(_miss(x, y, i, clean)) > SUSPECT_AT * spread
        if not suspect[i]:
            clean = np.sort(np.append(clean, i))
    return suspect


def _misses(x: Array, y: Array, among: NDArray[np.intp]) -> Array:
    return np.array([_miss(x, y, int(i), among) for i in among])


def _miss(x: Array, y: Array, i: int, among: NDArray[np.intp]) -> float:
    """How far point i stands off the cubic through its neighbours, in its own spread.

    At an end it is held against the parabola through the next three, which a line that bends more and more leaves too:
    as the next point leaves that of the three after it. Three times as much is allowed the end.
    """
    before, after = among[among < i], among[among > i]
    if before.size and after.size:
        left = min(before.size, max(2, 4 - after.size))
        return _off(x, y, i, np.concatenate([before[-left:], after[: 4 - left]]))
    inward = after if after.size else before[::-1]
    off = _off(x, y, i, inward[:3])
    if inward.size < 4:
        return off
    bends = _off(x, y, int(inward[0]), inward[1:4])
    return float(np.sign(off) * max(abs(off) - 3 * abs(bends), 0.0))


def _off(x: Array, y: Array, i: int, near: NDArray[np.intp]) -> float:
    """How far point i stands off the polynomial through others, in its own spread."""
    others = x[near]
    from_others = x[i] - others
    weights = np.array(
        [np.prod(np.delete(from_others, j) / (others[j] - np.delete(others, j))) for j in range(len(near))]
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
    # Of all splines with given ordinates at the points, two coefficients are free: they make ∫f‴² least. What is left
    # of it is a square of the ordinates, whose singular values give the fair line of every weight at once.
    null = np.linalg.qr(values.T, mode="complete")[0][:, count:]
    through = np.linalg.pinv(values)
    through = through - null @ np.linalg.lstsq(third @ null, third @ through, rcond=None)[0]
    _, singular, modes = np.linalg.svd(third @ through)
    rough = np.zeros(count)
    rough[: len(singular)] = singular**2
    share = modes @ y
    best: tuple[float, Array] | None = None
    for weight in np.logspace(-14, 2, 65):
        kept = 1 / (1 + weight * rough)
        fair = modes.T @ (kept * share)
        miss = y - fair
        if np.max(np.abs(miss)) > tolerance:
            break
        freedom = count - float(np.sum(kept))
        score = float(miss @ miss) / max(freedom, 1e-9) ** 2
        if best is None or score <= best[0]:
            best = score, through @ fair
    if best is None:
        return make_interp_spline(x, y, k=3)
    return BSpline(np.concatenate([np.full(3, x[0]), x, np.full(3, x[-1])]), best[1], 3)
