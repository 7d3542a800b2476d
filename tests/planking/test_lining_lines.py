"""The sum behind lining off against scipy, and the sweep of a seam against closed forms."""

import numpy as np
import pytest
from hulls import ConeHull
from scipy.optimize import lsq_linear, minimize
from scipy.sparse import csr_array

from scrieve.planking.lining.fairness import sweep
from scrieve.planking.lining.girth import FrameAt, Girths
from scrieve.planking.lining.limits import allowed_width, hollow_of
from scrieve.planking.lining.quadratic import least_squares_within


def a_sum(seed, n=12, m=16):
    draw = np.random.default_rng(seed)
    rows = np.diag(draw.uniform(0.5, 2, n)) + np.diag(0.4 * draw.normal(size=n - 1), 1)
    limits = np.zeros((m, n))
    for i in range(m):
        limits[i, [i % (n - 1), i % (n - 1) + 1]] = draw.normal(size=2)
    return rows, 4 * draw.normal(size=n), limits, draw.uniform(0.1, 2, m)  # z = 0 keeps all limits


@pytest.mark.parametrize("seed", range(6))
def test_limited_sum_as_scipy_finds_it(seed):  # reference: scipy's SLSQP, a general-purpose method
    rows, wanted, limits, most = a_sum(seed)
    found = least_squares_within(csr_array(rows), wanted, csr_array(limits), most)
    other = minimize(
        lambda z: np.sum((rows @ z - wanted) ** 2) / 2, np.zeros(len(wanted)),
        jac=lambda z: rows.T @ (rows @ z - wanted),
        constraints={"type": "ineq", "fun": lambda z: most - limits @ z, "jac": lambda z: -limits},
        method="SLSQP", options={"maxiter": 300, "ftol": 1e-13},
    )  # fmt: skip
    assert found.z == pytest.approx(other.x, abs=1e-4)
    assert found.value == pytest.approx(other.fun, rel=1e-7)
    assert (limits @ found.z <= most + 1e-6).all()
    assert (limits @ found.z > most - 1e-6).any(), "no limit bites: the case proves nothing"


def test_boxes_as_scipy_finds_them():  # reference: scipy's lsq_linear
    rows, wanted, _, _ = a_sum(3)
    box = csr_array(np.concatenate([np.eye(12), -np.eye(12)]))
    found = least_squares_within(csr_array(rows), wanted, box, np.full(24, 0.5))
    assert found.z == pytest.approx(lsq_linear(rows, wanted, (-0.5, 0.5), tol=1e-14).x, abs=1e-6)


def test_limits_that_exclude_each_other_are_passed_by_the_least():
    both = csr_array(np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0]]))  # z₀ ≤ 1, z₀ ≥ 3, z₁ ≤ 0.5
    found = least_squares_within(csr_array(np.eye(2)), np.array([0.0, 2.0]), both, np.array([1.0, -3.0, 0.5]))
    assert found.passed.sum() == pytest.approx(2.0, abs=1e-5)
    assert found.z[1] == pytest.approx(0.5, abs=1e-6)


def girths(hull, x):
    return Girths.of(hull, [FrameAt("", float(at)) for at in x])


class Sphere:
    """A quarter of a sphere of radius 3000, sections square to its x axis."""

    x_range = (-1500.0, 1500.0)
    stations = {str(i): -1500.0 + 100.0 * i for i in range(31)}  # noqa: RUF012

    def point(self, x, v):
        x, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        r, angle = np.sqrt(3000.0**2 - x**2), np.pi / 2 * v
        return np.stack([x, r * np.sin(angle), -r * np.cos(angle)], axis=-1)

    def partials(self, x, v):
        x, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        r, angle = np.sqrt(3000.0**2 - x**2), np.pi / 2 * v
        out = np.stack([np.zeros_like(x), np.sin(angle), -np.cos(angle)], axis=-1)
        up = np.stack([np.zeros_like(x), np.cos(angle), np.sin(angle)], axis=-1)
        by_x = np.stack([np.ones_like(x), 0 * x, 0 * x], axis=-1) - (x / r)[..., None] * out
        return by_x, np.pi / 2 * r[..., None] * up


def test_great_circles_have_no_sweep_small_ones_tan_over_r():
    # Closed form, check problem 2.4: a small circle at angle φ from the great circle beside it has geodesic curvature
    # tan φ / R; every great circle none; the normal curvature of any is 1/R. Tolerance: second order in the spacing.
    x = np.linspace(-600, 600, 41)
    ground = girths(Sphere(), x)
    great = sweep(ground, 0.7 * ground.whole[None])
    assert np.abs(great.geodesic).max() * 3000 < 1e-9
    assert great.normal == pytest.approx(np.full_like(great.normal, 1 / 3000), rel=1e-4)
    height = 3000 * np.sin(0.2)  # the plane z = -height cuts a small circle, φ = 0.2
    girth = np.sqrt(3000**2 - x**2) * np.arccos(height / np.sqrt(3000**2 - x**2))
    small = sweep(ground, girth[None])
    assert np.abs(small.geodesic) == pytest.approx(np.full_like(small.geodesic, np.tan(0.2) / 3000), rel=1e-3)


def test_sweep_is_linear_in_small_moves_as_told():
    ground = girths(ConeHull(), np.linspace(0, 6000, 13))
    at = 0.5 * ground.whole[None]
    before = sweep(ground, at)
    move = 0.01 * np.sin(np.arange(13))[None]
    told = sum(before.factors[i] * move[:, i : i + 11] for i in range(3))
    assert sweep(ground, at + move).geodesic - before.geodesic == pytest.approx(told, abs=1e-12)


def test_girth_and_share_undo_each_other():
    ground = girths(Sphere(), np.linspace(-1400, 1400, 9))
    share = np.random.default_rng(2).uniform(0, 1, (5, 9))
    assert ground.share(ground.girth_at(share)) == pytest.approx(share, abs=1e-9)
    assert ground.girth_at(share) == pytest.approx(share * np.pi / 2 * np.sqrt(3000**2 - ground.x**2), abs=1e-4)


def test_hollow_of_a_round_frame():  # closed form: rise of an arc, r(1 − cos(w/2r)); check problem 5: R 600, chord 120
    assert hollow_of(600 * 0.3, 0.3) == pytest.approx(600 * (1 - np.cos(0.15)), rel=1e-12)
    arc = 2 * 600 * np.arcsin(60 / 600)
    assert hollow_of(arc, arc / 600) == pytest.approx(3.0075377, abs=1e-7)
    assert allowed_width(3.0075377, 1 / 600) == pytest.approx(arc, abs=1e-4)
    assert np.isinf(allowed_width(3.0, 0.0))
