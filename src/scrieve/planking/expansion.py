"""Expansion: a strake of a curved hull laid out flat with the least strain, and what that strain means for hanging it.

The flat shape is X(u, w), a cubic tensor spline over the strake's own coordinates (u along, w across). With
G = [S_u, S_w]ᵀ[S_u, S_w] the metric of the hull, M any matrix with MᵀGM = I and J = [X_u, X_w], the Green strain of
the laying-out is E = ½(MᵀJᵀJM − I), and a short line drawn on the strake in the direction d is longer on the flat by
the share dᵀEd. Integrated over the strake, E₁₁² + 1.5 E₂₂² + 0.19 E₁₁E₂₂ + 0.98 E₁₂², 1 along the plank and 2 square to
it, with 1/35 of the width times E₁₁² along each edge, is made least by Gauss-Newton steps. The sum of the squared
errors of length on a mesh over the strake depends on how its cells are cut; these weights keep it low on all usual.
Lengths are taken from the metric, never from chords across a mesh: those come short by w³/24R² and bow the shape.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import BSpline, CubicSpline, NdBSpline, PPoly, make_interp_spline
from scipy.linalg import LinAlgError, solveh_banded

from scrieve.errors import BadPlank
from scrieve.planking.curvature import Patch, around, bends_from, unit

Array = NDArray[np.float64]

#: The shop's own measure of edge-set is read over ten feet.
TEN_FEET_MM = 3048.0

_DENSE = 241
_SPACING_MM = 62.5
#: Points of a cell along, by Gauss. Across, one cell holds the whole width: by Lobatto, whose first and last points lie
#: on the edges.
_GAUSS_ALONG = 3
_LOBATTO = np.array([0, (1 - 5**-0.5) / 2, (1 + 5**-0.5) / 2, 1]), np.array([1, 5, 5, 1]) / 12
#: What strain across counts for, what strain along and across have to do with each other, shear, and what the strain
#: along an edge counts for, as a share of the width; all against the strain along elsewhere.
_ACROSS, _TOGETHER, _SHEAR, _EDGE = 1.5, 0.095, 0.98, 1 / 35
#: What is made least, for workings.
FORMULA = (
    "flat shape X(u, w) with the least ∫ (E₁₁² + 1.5 E₂₂² + 0.19 E₁₁E₂₂ + 0.98 E₁₂²) dA and strain along its edges; "
    "E = ½(MᵀJᵀJM − I), MᵀGM = I, G the metric of the hull"
)


@dataclass(frozen=True, slots=True, eq=False)
class FlatMap:
    """Where a point of the strake lies on the flat plank: tensor spline coefficients (nu, nw, 2) [mm]."""

    knots_u: Array
    knots_w: Array
    coefficients: Array

    def __call__(self, u: ArrayLike, w: ArrayLike) -> Array:
        """(..., 2) flat points of `u` and `w`, which broadcast [mm]."""
        spline = NdBSpline((self.knots_u, self.knots_w), self.coefficients, 3)
        at = np.stack(np.broadcast_arrays(np.asarray(u, dtype=float), np.asarray(w, dtype=float)), axis=-1)
        return np.asarray(spline(np.clip(at, 0, 1)))

    def edges(self, u: Array, order: int = 0) -> Array:
        """(n, 2, 2) points of the lower edge and of the upper, or a derivative of them by u [mm]."""
        # the splines are clamped: the outermost coefficients across are those of the edges
        return np.asarray(BSpline(self.knots_u, self.coefficients[:, [0, -1]], 3)(u, nu=order))


@dataclass(frozen=True, slots=True, eq=False)
class Expansion:
    """A strake laid out flat; n points along.

    Attributes
    ----------
    flat : FlatMap
        The map (u, w) -> (x, y) [mm]: x along the straight line through the middles of both ends, from the first end.
    u : ndarray (n,)
        Where along the strake the arrays below are sampled.
    lower_mm, upper_mm : ndarray (n, 2)
        The two edges.
    strain : ndarray (m, 2)
        Principal strains at the integration points, least first [-]; above zero where the flat plank is longer.
    true_lengths_mm, flat_lengths_mm : (lower, upper)
        Length of each edge on the hull and on the flat plank.
    edge_set_mm, edge_set_ten_feet_mm : float
        Bow of the edges' residual geodesic curvature over the whole length, and the worst over ten feet.
    twist_rad : float
        Twist from end to end along the middle; above zero where the outside turns upwards going towards the last end.
    bend_along_per_mm, bend_across_per_mm : ndarray (n,)
        Curvature of the hull along the middle and square to it; above zero where hollow inboard [1/mm].
    """

    flat: FlatMap
    u: Array
    lower_mm: Array
    upper_mm: Array
    strain: Array
    true_lengths_mm: tuple[float, float]
    flat_lengths_mm: tuple[float, float]
    edge_set_mm: float
    edge_set_ten_feet_mm: float
    twist_rad: float
    bend_along_per_mm: Array
    bend_across_per_mm: Array

    @property
    def strain_max(self) -> float:
        """Greatest principal strain, whichever its sign [-]."""
        return float(np.max(np.abs(self.strain)))

    @property
    def bend_radius_mm(self) -> float:
        """Least radius the plank is bent to along its length; infinite for a straight run [mm]."""
        return _radius(self.bend_along_per_mm)

    @property
    def across_radius_mm(self) -> float:
        """Least radius across the plank; infinite for a flat-sided hull [mm]."""
        return _radius(self.bend_across_per_mm)


def _radius(curvature: Array) -> float:
    tightest = float(np.max(np.abs(curvature)))
    return 1 / tightest if tightest > 1e-12 else float("inf")


def expand(
    patch: Patch,
    *,
    along: int | None = None,
    across: int = 4,
    points: int = _DENSE,
) -> Expansion:
    """Lay a strip of surface out flat with the least strain.

    Parameters
    ----------
    patch : Patch
        The strip; its sides must not cross, and u and w must not run along each other.
    along, across : int
        Spline coefficients each way, 4 or more. `along` is chosen by length if left out: one to 250 mm, at least 20.
    points : int
        Samples along each edge.

    Raises
    ------
    BadPlank
        The strip has no width somewhere, or its flat shape cannot be found.

    References
    ----------
    .. [1] docs/planking.md, "Expansion": derivation, and the exact developments it is checked on.

    Examples
    --------
    >>> def flat_board(u, w):
    ...     ones, zeros = np.ones_like(u), np.zeros_like(u)
    ...     return (np.stack([6000 * u, 150 * w, zeros], -1), np.stack([6000 * ones, zeros, zeros], -1),
    ...             np.stack([zeros, 150 * ones, zeros], -1))
    >>> board = expand(flat_board)
    >>> (np.round(board.upper_mm[[0, -1]], 6) + 0).tolist()
    [[0.0, 75.0], [6000.0, 75.0]]
    """
    u = np.linspace(0, 1, points)
    # the middle, what lies around it, and both edges in one look
    places = around(u, np.full_like(u, 0.5))
    _, along_it, across_it = patch(
        np.concatenate([places[0], [u, u]]), np.concatenate([places[1], [np.zeros_like(u), np.ones_like(u)]])
    )
    length = float(np.trapezoid(np.linalg.norm(along_it[0], axis=-1), u))
    if along is None:
        along = int(np.clip(np.ceil(length / _SPACING_MM), 20, 320))
    along, across = max(along, 4), max(across, 4)
    knots_u, knots_w = _knots(along), _knots(across)
    gu, weight_u = _gauss(knots_u, _GAUSS_ALONG)
    gw, weight_w = _lobatto(knots_w)
    uu, ww = (grid.ravel() for grid in np.meshgrid(gu, gw, indexing="ij"))
    _, s_u, s_w = patch(uu, ww)
    metric_e, metric_f, metric_g = (np.sum(a * b, axis=-1) for a, b in ((s_u, s_u), (s_u, s_w), (s_w, s_w)))
    area = np.sqrt(np.maximum(metric_e * metric_g - metric_f**2, 0.0))
    if not np.all(np.isfinite(area)) or np.min(area) <= 1e-9 * np.max(area):
        where = float(uu[int(np.nanargmin(np.where(np.isfinite(area), area, -1.0)))])
        raise BadPlank(f"the strake has no width at {where:.0%} of its length; let its seams lie apart all along.")
    root_e = np.sqrt(metric_e)
    # M takes a unit vector along u, and the unit vector square to it in the surface, to (du, dw).
    m11, m12, m22 = 1 / root_e, -metric_f / (root_e * area), root_e / area
    # Per cell along: only four of the `along` rows of coefficients count there.
    spans = along - 3
    near = np.arange(spans)[:, None] + np.arange(4)
    bu, bu1 = (
        _basis(knots_u, gu, order)
        .reshape(spans, _GAUSS_ALONG, along)[np.arange(spans)[:, None], :, near]
        .swapaxes(1, 2)
        for order in (0, 1)
    )
    bw, bw1 = _basis(knots_w, gw, 0), _basis(knots_w, gw, 1)
    by_u, by_w = _tensor(bu1, bw), _tensor(bu, bw1)
    m11, m12, m22 = (m.reshape(spans, -1, 1) for m in (m11, m12, m22))
    q = np.stack([by_u * m11, by_u * m12 + by_w * m22])
    share = np.outer(weight_u, weight_w).ravel() * area
    root = np.sqrt(share / share.sum())

    bent = bends_from(places, along_it[:5], across_it[:5])
    turned = _Turned.of(u, along_it[[0, 5, 6]], across_it[[0, 5, 6]])
    lengthwise = np.sum(across_it[0] * along_it[0], axis=-1) / bent.speed
    start = _start(u, turned, bent.reach, lengthwise, knots_u, knots_w)
    coefficients, strains = _least_strain(start, q, root.reshape(spans, -1), _rows(weight_w), length)
    flat = FlatMap(knots_u, knots_w, coefficients)
    flat = FlatMap(knots_u, knots_w, _placed(flat))
    flat_lengths, flat_curvatures = _edges_laid(flat, u)
    bows = [_Bow.of(turned.arc[side], turned.curvature[side] - flat_curvatures[side - 1]) for side in (1, 2)]
    lower, upper = flat.edges(u).swapaxes(0, 1)
    return Expansion(
        flat=flat,
        u=u,
        lower_mm=lower,
        upper_mm=upper,
        strain=strains,
        true_lengths_mm=(float(turned.arc[1, -1]), float(turned.arc[2, -1])),
        flat_lengths_mm=flat_lengths,
        edge_set_mm=max(bow.over(None) for bow in bows),
        edge_set_ten_feet_mm=max(bow.over(TEN_FEET_MM) for bow in bows),
        twist_rad=float(CubicSpline(u, bent.twist * bent.speed).integrate(0, 1)),
        bend_along_per_mm=bent.along,
        bend_across_per_mm=bent.across,
    )


def _rows(weights: Array) -> tuple[Array, Array, Array, float]:
    """What takes the strains (E11, E22, E12) to what is squared, (a E11 + b E22, c E22, d E12); a, b, c at each point.

    At the edges the strain along counts for more.
    """
    along = np.ones_like(weights)
    along[[0, -1]] += _EDGE / weights[[0, -1]]
    a = np.tile(np.sqrt(along), _GAUSS_ALONG)
    return a, _TOGETHER / a, np.sqrt(_ACROSS - (_TOGETHER / a) ** 2), _SHEAR**0.5


def _least_strain(
    start: Array, q: Array, root: Array, rows: tuple[Array, Array, Array, float], length: float
) -> tuple[Array, Array]:
    """Gauss-Newton on the strains weighted by root area.

    `start` (nu, nw, 2), `q` (2, cells, points, 4 nw) takes the coefficients of a cell to the derivatives along and
    across, `rows` the strains to what is squared. Return the coefficients and the principal strains (m, 2).
    Three coefficients are held, against shifting and turning; the system is banded, since a coefficient meets only
    those of seven rows.
    """
    c = start
    nu, nw, _ = c.shape
    along, both, across, shear = rows
    cells, points = root.shape
    local = 8 * nw
    held = (0, 1, (nu - 1) * nw * 2 + 1)
    weighted = q * root[..., None]
    for _ in range(40):
        near = np.stack([c[i : i + 4].reshape(-1, 2) for i in range(cells)])
        f = q @ near
        e11, e22, e12 = _strain(f)
        jacobian = np.empty((cells, 3, points, 4 * nw, 2))
        for axis in (0, 1):
            (a, b), (f1, f2) = weighted, f[..., axis, None]
            first, second = a * f1, b * f2
            jacobian[:, 0, ..., axis] = along[:, None] * first + both[:, None] * second
            jacobian[:, 1, ..., axis] = across[:, None] * second
            jacobian[:, 2, ..., axis] = shear / 2 * (b * f1 + a * f2)
        jac = jacobian.reshape(cells, 3 * points, local)
        told = np.stack([along * e11 + both * e22, across * e22, shear * e12], axis=1)
        residual = (told * root[:, None]).reshape(cells, -1, 1)
        blocks = jac.swapaxes(1, 2) @ jac
        slopes = (jac.swapaxes(1, 2) @ residual)[..., 0]
        banded, slope = np.zeros((local, 2 * nu * nw)), np.zeros(2 * nu * nw)
        for column in range(local):
            at = slice(column, column + 2 * nw * (cells - 1) + 1, 2 * nw)
            banded[: local - column, at] += blocks[:, column:, column].T
            slope[at] += slopes[:, column]
        for k in held:
            back = np.arange(1, min(k, local - 1) + 1)
            banded[back, k - back] = 0
            banded[1:, k] = slope[k] = 0
        try:
            step = -solveh_banded(banded, slope, lower=True, overwrite_ab=True, check_finite=False)
        except LinAlgError as error:
            raise BadPlank("no flat shape was found for this strake; take a shorter or a narrower one.") from error
        c = c + step.reshape(c.shape)
        if np.max(np.abs(step)) <= 1e-8 * length:
            near = np.stack([c[i : i + 4].reshape(-1, 2) for i in range(cells)])
            e11, e22, e12 = (e.ravel() for e in _strain(q @ near))
            mean, half = (e11 + e22) / 2, np.hypot((e11 - e22) / 2, e12)
            return c, np.column_stack([mean - half, mean + half])
    raise BadPlank("the strake is too strongly curved to lie flat; divide it into shorter or narrower planks.")


def _strain(f: Array) -> tuple[Array, Array, Array]:
    f1, f2 = f
    return (
        (np.sum(f1 * f1, axis=-1) - 1) / 2,
        (np.sum(f2 * f2, axis=-1) - 1) / 2,
        np.sum(f1 * f2, axis=-1) / 2,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Turned:
    """Lines of equal w: length and geodesic curvature at each u, above zero where they turn towards w = 1; (lines, n).

    `turn` is the integral of that curvature [rad].
    """

    arc: Array
    curvature: Array
    turn: Array
    speed: Array

    @classmethod
    def of(cls, u: Array, along: Array, across: Array) -> _Turned:
        """Of derivatives of points of the lines by u and w, (lines, n, 3)."""
        speed = np.linalg.norm(along, axis=-1)
        run = along / speed[..., None]
        normal = unit(np.cross(along, across))
        turned = np.sum(CubicSpline(u, run, axis=1)(u, 1) * np.cross(normal, run), axis=-1)  # by u, not by length
        arc, turn = CubicSpline(u, np.stack([speed, turned]), axis=2).antiderivative()(u)
        return cls(arc, turned / speed, turn, speed)


def _start(u: Array, turned: _Turned, square: Array, lengthwise: Array, knots_u: Array, knots_w: Array) -> Array:
    """First guess: the middle line unrolled by its geodesic curvature, the width set off from it.

    `square` and `lengthwise` are the parts of the width square to the line and along it.
    """
    cos, sin = np.cos(turned.turn[0]), np.sin(turned.turn[0])
    way = CubicSpline(u, turned.speed[0][:, None] * np.column_stack([cos, sin])).antiderivative()
    half = CubicSpline(u, np.column_stack([lengthwise * cos - square * sin, lengthwise * sin + square * cos]))
    at = _greville(knots_u)
    w = _greville(knots_w)
    points = way(at)[:, None, :] + (w[None, :, None] - 0.5) * half(at)[:, None, :]
    by_u = make_interp_spline(at, points, t=knots_u).c
    return np.asarray(make_interp_spline(w, by_u, t=knots_w, axis=1).c.swapaxes(0, 1))


def _placed(flat: FlatMap) -> Array:
    """Coefficients moved so that x runs through the middles of both ends, from the first end."""
    ends = (flat([0, 0], [0, 1]).mean(axis=0), flat([1, 1], [0, 1]).mean(axis=0))
    line = ends[1] - ends[0]
    cos, sin = line / np.hypot(*line)
    moved = flat.coefficients - ends[0]
    return np.asarray(moved @ np.array([[cos, -sin], [sin, cos]]))


def _edges_laid(flat: FlatMap, u: Array) -> tuple[tuple[float, float], Array]:
    """Lengths of the flat plank's edges, and their curvatures (2, n), lower and upper."""
    (x1, y1), (x2, y2) = (flat.edges(u, order).T for order in (1, 2))
    speed = np.hypot(x1, y1)
    lower, upper = CubicSpline(u, speed, axis=1).integrate(0, 1)
    return (float(lower), float(upper)), np.asarray((x1 * y2 - y1 * x2) / speed**3)


@dataclass(frozen=True, slots=True, eq=False)
class _Bow:
    """A nearly straight line by its length from the first end to the other, and its distance from its tangent there."""

    length: float
    line: PPoly

    @classmethod
    def of(cls, arc: Array, curvature: Array) -> _Bow:
        return cls(float(arc[-1]), CubicSpline(arc, curvature).antiderivative(2))

    def over(self, span: float | None) -> float:
        """Greatest distance from its chord in any window of `span`, or over the whole [mm]."""
        if span is None or span >= self.length:
            starts, span = np.zeros(1), self.length
        else:
            starts = np.linspace(0, self.length - span, 41)
        within = np.linspace(0, 1, 61)
        y = self.line(starts[:, None] + span * within)
        chord = y[:, :1] + (y[:, -1:] - y[:, :1]) * within
        return float(np.max(np.abs(y - chord)))


def _knots(count: int) -> Array:
    return np.concatenate([np.zeros(3), np.linspace(0, 1, count - 2), np.ones(3)])


def _greville(knots: Array) -> Array:
    return np.asarray((knots[1:-3] + knots[2:-2] + knots[3:-1]) / 3)


def _gauss(knots: Array, points: int) -> tuple[Array, Array]:
    """Gauss points of all cells, so many in each, and their weights."""
    node, weight = np.polynomial.legendre.leggauss(points)
    cells = knots[3:-3]
    half = np.diff(cells)[:, None] / 2
    middle = (cells[:-1, None] + cells[1:, None]) / 2
    return (middle + half * node).ravel(), (half * weight).ravel()


def _lobatto(knots: Array) -> tuple[Array, Array]:
    """Lobatto points of all cells, four in each, and their weights; a point between two cells counts for both."""
    node, weight = _LOBATTO
    low, size = knots[3:-4, None], np.diff(knots[3:-3])[:, None]
    return (low + size * node).ravel(), (size * weight).ravel()


def _basis(knots: Array, at: Array, order: int) -> Array:
    """(len(at), count) values of the cubic basis, or of its derivative."""
    spline = BSpline(knots, np.eye(len(knots) - 4), 3)
    if order:
        spline = spline.derivative(order)
    return np.asarray(spline(np.clip(at, 0, 1)))


def _tensor(a: Array, b: Array) -> Array:
    """(cells, points, 4 nw) products of the bases along (cells, points, 4) and across (points, nw)."""
    return np.asarray(np.einsum("cai,bj->cabij", a, b).reshape(a.shape[0], a.shape[1] * len(b), -1))
