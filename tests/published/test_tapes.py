"""A point from tapes.

Sources: the right triangle 1200, 1600, 2000; the law of cosines for two tapes; for three, the least-squares point,
found here again by a general-purpose minimiser (scipy.optimize.least_squares); covariance by the derivative of the
intersection, taken by differences; staff of 8 ft, tapes of 5 and 7 ft: x = (60² − 84² + 96²)/(2·96) = 30 in by hand.
"""

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from scrieve.takeoff.tapes import fix_point

THREE = np.array([[0, 0], [2000, 0], [1000, -800]], dtype=float)


def test_tapes_at_a_right_angle():
    fix = fix_point([[0, 0], [2000, 0]], [1200, 1600], side="left")
    assert fix.point_mm == pytest.approx([720, 960], abs=1e-9)
    assert math.degrees(fix.crossing_rad) == pytest.approx(90, abs=1e-9)
    assert fix.warnings == ()


def test_two_tapes():  # the digits printed are all reliable, so half of the last one is allowed
    fix = fix_point([[0, 0], [2000, 0]], [1300, 1500], sigma=1.0, side="left")
    assert fix.point_mm == pytest.approx([860, 974.8846086], abs=5e-8)
    assert fix.residuals_mm == pytest.approx([0, 0], abs=1e-9)
    assert math.degrees(fix.crossing_rad) == pytest.approx(90.8815083, abs=5e-8)
    assert fix.covariance_mm2 == pytest.approx(np.array([[0.985, -0.0021541], [-0.0021541, 1.0154735]]), abs=5e-8)
    assert fix.ellipse_mm == pytest.approx([0.9923953, 1.0077822], abs=5e-8)


def test_two_tapes_to_the_other_hand():
    fix = fix_point([[0, 0], [2000, 0]], [1300, 1500], side="right")
    assert fix.point_mm == pytest.approx([860, -974.8846086], abs=5e-8)


def test_three_tapes_one_of_them_misread():
    fix = fix_point(THREE, [1500, 1204, 1718])
    assert fix.point_mm == pytest.approx([1200.476710, 903.179805], abs=5e-7)
    assert fix.residuals_mm == pytest.approx([2.290948, 2.221891, -3.061996], abs=5e-7)
    assert np.linalg.norm(fix.residuals_mm) == pytest.approx(4.422789, abs=5e-7)


def test_three_tapes_read_right():
    fix = fix_point(THREE, [1500, 1204.159458, 1711.724277])
    assert fix.point_mm == pytest.approx([1200, 900], abs=1e-5)


@pytest.mark.parametrize("seed", range(20))
def test_any_number_of_tapes_against_a_general_minimiser(seed):
    rng = np.random.default_rng(seed)
    nails = rng.uniform(-3000, 3000, (rng.integers(3, 7), 2))
    point = rng.uniform(-3000, 3000, 2)
    sigma = rng.uniform(0.5, 3, len(nails))
    tapes = np.hypot(*(point - nails).T) + rng.normal(0, sigma)
    other = least_squares(lambda p: (np.hypot(*(p - nails).T) - tapes) / sigma, point, xtol=1e-15, ftol=1e-15)
    fix = fix_point(nails, tapes, sigma=sigma)
    assert fix.point_mm == pytest.approx(other.x, abs=1e-4)  # the minimiser stops at its own differences
    assert fix.covariance_mm2 == pytest.approx(np.linalg.inv(other.jac.T @ other.jac), rel=1e-4)


def test_an_eight_foot_staff():
    inch = 25.4
    nails = np.array([[0, 0], [96, 0]]) * inch
    fix = fix_point(nails, np.array([60, 84]) * inch, side="left")
    assert fix.point_mm / inch == pytest.approx([30.000, 51.962], abs=0.0005)
    slipped = fix_point(nails, np.array([60.125, 84]) * inch, side="left")
    moved = (slipped.point_mm - fix.point_mm) / inch
    assert moved == pytest.approx([0.078, 0.099], abs=0.0005)
    assert np.hypot(*moved) == pytest.approx(0.13, abs=0.005)
