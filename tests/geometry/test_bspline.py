"""B-splines against scipy's BSpline, and their energies against quadrature of it."""

import itertools

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import BSpline

from scrieve.geometry.bspline import Basis

BREAKS = np.array([0.0, 0.7, 1.0, 2.5, 2.6, 4.0])


@pytest.mark.parametrize(("degree", "order"), [(d, n) for d in (1, 2, 3) for n in range(d + 1)])
def test_values_and_derivatives(degree, order):
    basis, x = Basis(BREAKS, degree), np.linspace(0, 4, 197)[:-1]
    assert basis.dense(x, order) == pytest.approx(
        BSpline(basis.knots, np.eye(basis.size), degree)(x, nu=order), abs=1e-8
    )


def test_beyond_the_ends_the_last_piece_goes_on():
    basis = Basis(BREAKS)
    whole = BSpline(basis.knots, np.eye(basis.size), 3, extrapolate=True)
    x = np.array([-0.3, 4.0, 4.2])
    assert basis.dense(x) == pytest.approx(whole(x), abs=1e-9)


def test_a_break_given_three_times_lets_the_curve_turn_sharply():
    basis = Basis(np.array([0.0, 1.0, 2.0, 2.0, 2.0, 3.0, 4.0]))
    x = np.linspace(0, 4, 81)
    corner = np.abs(x - 2)
    c = np.linalg.lstsq(basis.dense(x), corner, rcond=None)[0]
    assert basis.dense(x) @ c == pytest.approx(corner, abs=1e-12)
    smooth = Basis(np.array([0.0, 1.0, 2.0, 3.0, 4.0]))
    rest = smooth.dense(x) @ np.linalg.lstsq(smooth.dense(x), corner, rcond=None)[0] - corner
    assert np.abs(rest).max() > 0.02


@pytest.mark.parametrize("order", [0, 1, 2, 3])
def test_energy(order):
    basis = Basis(BREAKS)
    c = np.random.default_rng(2).normal(size=basis.size)
    curve = BSpline(basis.knots, c, 3).derivative(order) if order else BSpline(basis.knots, c, 3)
    pieces = [quad(lambda t: float(curve(t)) ** 2, a, b - 1e-12)[0] for a, b in itertools.pairwise(BREAKS)]
    assert c @ basis.energy(order) @ c == pytest.approx(sum(pieces), rel=1e-7)


def test_a_constant_and_a_line_have_no_energy():
    basis = Basis(BREAKS)
    line = np.array([basis.knots[i + 1 : i + 4].mean() for i in range(basis.size)])
    assert np.ones(basis.size) @ basis.energy(1) @ np.ones(basis.size) == pytest.approx(0, abs=1e-9)
    assert line @ basis.energy(2) @ line == pytest.approx(0, abs=1e-7)
