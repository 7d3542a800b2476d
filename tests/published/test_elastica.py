"""The batten against closed forms of the elastica and printed tables.

Sources: Euler 1744, additamentum I, and Love, Mathematical Theory of Elasticity, art. 262-263 (rectangular elastica);
Timoshenko & Gere, Theory of Elastic Stability, art. 2.7 (strut); Bisshopp & Drucker, Quart. Appl. Math. 3 (1945) 272
(cantilever); the three-moment equations (Clapeyron) for the spline. Elliptic integrals and special functions: SciPy.
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline, make_smoothing_spline
from scipy.special import ellipe, ellipk, gamma

from scrieve.fairing.batten import End, lay_batten
from scrieve.fairing.batten_strut import cantilever, strut

HALF = gamma(0.25) ** 2 / (4 * np.sqrt(2 * np.pi))  # half length of the arch over its height: 1.311028777


def arch(height: float):
    """The rectangular elastica by its own equations x' = cos θ, y' = sin θ, θ' = -2y/H²."""
    way = solve_ivp(
        lambda s, u: [np.cos(u[2]), np.sin(u[2]), -2 * u[1]],
        (0, 2 * HALF),
        [0, 0, np.pi / 2],
        rtol=1e-12,
        atol=1e-13,
        method="DOP853",
        dense_output=True,
    ).sol
    return lambda s: np.array([height, height, 1.0])[:, None] * way(np.atleast_1d(s) / height)


def square_off(points, curve, length):
    """Distance of points from a curve x, y, θ of s, square to it: the foot by Newton along the tangent."""
    near = np.linspace(0, length, 4001)
    x, y, _ = curve(near)
    s = near[np.hypot(points[:, :1] - x, points[:, 1:] - y).argmin(axis=1)]
    for _ in range(4):
        x, y, way = curve(s)
        along = (points[:, 0] - x) * np.cos(way) + (points[:, 1] - y) * np.sin(way)
        s = np.clip(s + along, 0, length)
    x, y, way = curve(s)
    return (points[:, 1] - y) * np.cos(way) - (points[:, 0] - x) * np.sin(way)


@pytest.mark.parametrize("count", [5, 7, 9, 15, 25])
def test_rectangular_elastica(count):
    curve = arch(1000.0)
    length = 2000 * HALF
    marks = curve(np.linspace(0, length, count))[:2].T
    line = lay_batten(marks, smoothing=0, judge=False)
    off = square_off(line.points_mm, curve, length)
    assert np.abs(off).max() < 0.01  # mm on a height of 1 m; second order at 200 nodes leaves 0.001
    assert np.abs(line.curvature_per_mm).max() * 1000 == pytest.approx(2, abs=1e-3)
    assert 2 * line.energy_per_mm * 1000 == pytest.approx(8 * 0.5990701174, rel=1e-4)
    assert line.length_mm == pytest.approx(2000 * 1.311028777, rel=1e-5)


def test_the_arch_needs_no_nails_between_its_ends():
    # pinned where it stands square to the chord, the free-sliding batten keeps its shape: only the ends carry load
    curve, length = arch(1000.0), 2000 * HALF
    marks = curve(np.linspace(0, length, 3))[:2].T
    line = lay_batten(marks, smoothing=0, judge=False, ends=(End(True, np.pi / 2), End(True, -np.pi / 2)), nodes=400)
    assert np.abs(square_off(line.points_mm, curve, length)).max() < 0.01


@pytest.mark.parametrize("degrees", [20, 40, 60, 80, 100, 120, 140, 160, 176])
def test_strut_past_its_buckling_load(degrees):
    k = np.sin(np.radians(degrees) / 2)
    whole, second = ellipk(k**2), ellipe(k**2)
    line = strut(1000, np.radians(degrees))
    assert line.sag_mm == pytest.approx(1000 * k / whole, abs=0.01 if degrees <= 120 else 0.04)
    assert line.span_mm == pytest.approx(1000 * (2 * second / whole - 1), abs=0.06)
    assert line.over_euler == pytest.approx((2 * whole / np.pi) ** 2, rel=4e-5 if degrees <= 140 else 2e-4)


@pytest.mark.parametrize(
    ("degrees", "over_euler", "span", "sag"),
    [
        (20, 1.015396866, 0.9697309074, 0.1097065212),
        (80, 1.293889324, 0.5593959190, 0.3597485524),
        (120, 1.884800869, 0.1231599724, 0.4015854950),
        (160, 4.030085966, -0.3403188557, 0.3123017565),
    ],
)
def test_strut_by_the_figures(degrees, over_euler, span, sag):
    line = strut(1.0, np.radians(degrees), nodes=800)  # second order: a sixteenth of the error at 200
    assert line.over_euler == pytest.approx(over_euler, rel=1e-5)
    assert line.span_mm == pytest.approx(span, abs=4e-6)
    assert line.sag_mm == pytest.approx(sag, abs=1e-6)


def test_ends_of_the_strut_touch():
    # 2E = K: k = 0.9089085575
    assert strut(1000, np.radians(130.7099107)).span_mm == pytest.approx(0, abs=0.02)


@pytest.mark.parametrize(
    ("load", "drop", "shortening", "degrees"),
    [
        (0.25, 0.0827459154, 0.0041178184, 7.121432358),
        (1, 0.3017207738, 0.0564332363, 26.43351959),
        (2, 0.4934574804, 0.1606417208, 44.79096598),
        (5, 0.7137915236, 0.3876283607, 69.63546369),
        (10, 0.8106090249, 0.5549955978, 81.94932487),
    ],
)
def test_cantilever(load, drop, shortening, degrees):
    line = cantilever(1000, load / 1e6)
    assert line.points_mm[-1, 1] == pytest.approx(1000 * drop, abs=0.01)
    assert line.points_mm[-1, 0] == pytest.approx(1000 * (1 - shortening), abs=0.01)
    assert np.degrees(line.direction_rad[-1]) == pytest.approx(degrees, abs=5e-4)


@pytest.mark.parametrize(
    ("ordinates", "at", "values"),
    [([0, 1, 0], [0.5, 1.5], [11 / 16, 11 / 16]), ([0, 1, 0, 1], [0.5, 1.5, 2.5], [3 / 4, 1 / 2, 1 / 4])],
)
def test_low_lines_are_the_natural_cubic(ordinates, at, values):
    x = np.arange(len(ordinates), dtype=float)
    line = lay_batten(np.c_[x, 1e-4 * np.array(ordinates)], smoothing=0, judge=False, nodes=2000)
    found = CubicSpline(*line.points_mm.T)(at) * 1e4
    assert found == pytest.approx(values, abs=1e-6)
    high = lay_batten(np.c_[x, ordinates], smoothing=0, judge=False)
    assert np.interp(0.5, *high.points_mm.T) != pytest.approx(values[0], abs=0.02)  # not so at scale 1


def test_moments_of_the_low_line():
    # 4M₁ + M₂ = -12, M₁ + 4M₂ = 12: y'' = -4 and +4 over the inner supports
    line = lay_batten([(0, 0), (1, 1e-4), (2, 0), (3, 1e-4)], smoothing=0, judge=False, nodes=2000)
    bend = np.interp([1.0, 2.0], line.points_mm[:, 0], line.curvature_per_mm) * 1e4
    assert bend == pytest.approx([-4, 4], abs=2e-3)


def test_low_smoothed_line_is_the_smoothing_spline():
    # SciPy's make_smoothing_spline minimises Σ(y - f)² + λ∫f''²
    rng = np.random.default_rng(5)
    x = np.linspace(0, 1000, 15)
    y = 0.1 * np.sin(x / 200) + 0.01 * rng.normal(size=15)
    line = lay_batten(np.c_[x, y], smoothing=2e5, judge=False)
    want = make_smoothing_spline(x, y, lam=2e5)
    assert line.points_mm[:, 1] == pytest.approx(want(line.points_mm[:, 0]), abs=2e-5)
    assert line.residual_mm == pytest.approx(-(y - want(x)), abs=2e-5)  # above zero to the right: below the line


def test_freedoms_and_band_are_those_of_the_smoothing_spline():
    # tr A and the posterior sd of the cubic smoothing spline from Reinsch's matrices (Green & Silverman 1994, ch. 2)
    x = np.linspace(0, 1000, 12)
    h = np.diff(x)
    Q = np.zeros((12, 10))
    R = np.zeros((10, 10))
    for j in range(10):
        Q[j : j + 3, j] = 1 / h[j], -1 / h[j] - 1 / h[j + 1], 1 / h[j + 1]
        R[j, j] = (h[j] + h[j + 1]) / 3
        if j < 9:
            R[j, j + 1] = R[j + 1, j] = h[j + 1] / 6
    stiffness = Q @ np.linalg.solve(R, Q.T)
    sigma, smoothing = 0.01, 2e9
    answer = np.linalg.inv(np.eye(12) / sigma**2 + smoothing * stiffness)
    y = 0.1 * np.sin(x / 300)
    line = lay_batten(np.c_[x, y], sigma, smoothing=smoothing, judge=False, nodes=1000)
    assert line.freedoms == pytest.approx(np.trace(answer) / sigma**2, rel=1e-4)
    at_marks = np.interp(line.mark_s_mm, line.s_mm, line.sd_mm)
    assert at_marks == pytest.approx(np.sqrt(np.diag(answer)), rel=1e-3)
