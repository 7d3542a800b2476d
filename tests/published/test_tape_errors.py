"""The error of a point from tapes.

Sources: the parameter covariance of a general weighted least-squares fit (scipy.optimize.curve_fit); how points scatter
over many draws, of the tapes and of the nails; by hand, two tapes at right angles carry each their own error.
"""

import numpy as np
import pytest
from scipy.optimize import curve_fit

from scrieve.takeoff.tape_form import read_tapes
from scrieve.takeoff.tapes import fix_point

HEAD = "frame,station,mark,nail,nail_height,nail_half_breadth,tape,lies,sigma,nail_sigma\n"


@pytest.mark.parametrize("seed", range(8))
def test_covariance_is_that_of_a_general_fit(seed):
    rng = np.random.default_rng(seed)
    nails, point = rng.uniform(-2500, 2500, (5, 2)), rng.uniform(-2500, 2500, 2)
    sigma = rng.uniform(0.5, 3, 5)
    tapes = np.hypot(*(point - nails).T) + rng.normal(0, sigma)
    found, cover = curve_fit(
        lambda n, x, y: np.hypot(n[0] - x, n[1] - y), nails.T, tapes, point, sigma=sigma, absolute_sigma=True
    )
    fix = fix_point(nails, tapes, sigma=sigma)
    assert fix.point_mm == pytest.approx(found, abs=1e-4)
    assert fix.covariance_mm2 == pytest.approx(cover, rel=1e-4, abs=1e-4 * np.trace(cover))


def test_tapes_at_right_angles_carry_each_their_own_error():  # 1200, 1600 and a base of 2000
    fix = fix_point([[0, 0], [2000, 0]], [1200, 1600], sigma=[1, 3], side="left")
    one, two = np.array([0.6, 0.8]), np.array([-0.8, 0.6])
    assert fix.covariance_mm2 == pytest.approx(np.outer(one, one) + 9 * np.outer(two, two))
    assert fix.ellipse_mm == pytest.approx([1, 3])


@pytest.mark.parametrize(("degrees", "times"), [(15, 3.8637), (25, 2.3662), (90, 1.0)])
def test_the_mean_square_error_by_the_angle_of_crossing(degrees, times):
    """Two equal tapes crossing at γ: both variances add up to 2σ²/sin²γ, by the inverse of [[1, cos γ], [cos γ, 1]]."""
    off = 1000 / np.tan(np.radians(degrees / 2))
    fix = fix_point([[0, 0], [2000, 0]], [np.hypot(1000, off)] * 2, side="left")
    assert np.trace(fix.covariance_mm2) == pytest.approx(2 / np.sin(np.radians(degrees)) ** 2)
    assert np.sqrt(np.trace(fix.covariance_mm2) / 2) == pytest.approx(times, abs=5e-5)


def test_nails_that_are_out_themselves():
    rng = np.random.default_rng(6)
    nails, point = np.array([[1050.0, -250.0], [2100.0, 1250.0], [1900.0, 150.0]]), np.array([700.0, 374.0])
    tapes = np.hypot(*(point - nails).T)

    def rows(nail_sigma):
        return "".join(
            f"14,1,m,n{i},{z},{y},{t},{'in' if i == 0 else ''},1.5,{nail_sigma}\n"
            for i, ((y, z), t) in enumerate(zip(nails, tapes, strict=True))
        )

    (mark,) = read_tapes((HEAD + rows(2.0)).encode(), "t.csv").marks
    points = np.array(
        [
            fix_point(nails + rng.normal(0, 2.0, nails.shape), tapes + rng.normal(0, 1.5, 3), side="left").point_mm
            for _ in range(600)
        ]
    )
    said = mark.covariance_mm2(9.0)
    assert [mark.half_breadth_mm, mark.height_mm] == pytest.approx(point, abs=1e-6)
    assert np.cov(points.T) == pytest.approx(said, abs=0.2 * np.trace(said) / 2)  # sd of a variance: 5.8 %
