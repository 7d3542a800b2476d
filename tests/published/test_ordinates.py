"""Ordinates and blocks, against closed forms and what many readings scatter by.

Sources: the sagitta of a chord, R − √(R² − c²/4), printed to seven decimals for three circles; the parallel curve of a
circle is a circle; derivatives by differences (scipy.optimize.approx_fprime) for the propagation of error.
"""

import numpy as np
import pytest
from scipy.optimize import approx_fprime

from scrieve.takeoff.arcs import _set_off, set_off_block
from scrieve.takeoff.ordinates import set_off


@pytest.mark.parametrize(
    ("radius", "chord", "sagitta"), [(600, 300, 19.0524981), (1000, 600, 46.0607986), (2500, 1000, 50.5102572)]
)
def test_the_sagitta_set_off_a_chord_lies_on_the_circle(radius, chord, sagitta):
    turn = 0.7
    way = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    ends = np.array([[-chord / 2, radius - sagitta], [chord / 2, radius - sagitta]]) @ way + [40, 900]
    (crown,) = set_off(*ends, chord / 2, sagitta, side="left").points_mm
    assert np.hypot(*(crown - [40, 900])) == pytest.approx(radius, abs=1e-7)
    assert np.hypot(*(ends[0] - [40, 900])) == pytest.approx(radius, abs=1e-7)  # the printed digits close the circle


def test_ordinates_at_any_place_of_a_chord():  # off(x) = √(R² − (x − c/2)²) − (R − sagitta)
    radius, chord = 1000.0, 600.0
    along = np.linspace(0, chord, 13)
    off = np.sqrt(radius**2 - (along - chord / 2) ** 2) - np.sqrt(radius**2 - chord**2 / 4)
    found = set_off((0, 0), (chord, 0), along, off, side="left").points_mm
    middle = [chord / 2, -np.sqrt(radius**2 - chord**2 / 4)]
    assert np.hypot(*(found - middle).T) == pytest.approx(np.full(13, radius), abs=1e-9)


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_error_of_an_ordinate_by_differences(side):
    one, two, along, off, sigma, ends = np.array([30.0, 100.0]), np.array([1250.0, 700.0]), 420.0, 260.0, 1.5, 2.5

    def point(v, axis):
        return set_off(v[:2], v[2:4], v[4], v[5], side=side).points_mm[0, axis]

    at = np.array([*one, *two, along, off])
    rows = np.array([approx_fprime(at, point, 1e-4, axis) for axis in (0, 1)])
    expected = rows @ np.diag([ends**2] * 4 + [sigma**2] * 2) @ rows.T
    said = set_off(one, two, along, off, side=side, sigma=sigma, end_sigma=ends).covariance_mm2[0]
    assert said == pytest.approx(expected, abs=1e-4)


def test_the_error_of_an_ordinate_in_closed_form():  # docs/taking-off.md, "Ordinate": by hand from P = A + a·u + o·n
    length, along, off, sigma, ends = 1000.0, 650.0, 500.0, 1.5, 2.0
    said = set_off((0, 0), (length, 0), along, off, side="left", sigma=sigma, end_sigma=ends).covariance_mm2[0]
    t, turn = along / length, off / length
    assert said[0, 0] == pytest.approx(sigma**2 + ends**2 * (1 + 2 * turn**2))
    assert said[1, 1] == pytest.approx(sigma**2 + ends**2 * ((1 - t) ** 2 + t**2))
    assert said[0, 1] == pytest.approx(ends**2 * turn * (1 - 2 * t))


def test_the_error_of_an_ordinate_is_what_many_readings_scatter_by():
    rng = np.random.default_rng(8)
    one, two, along, off, sigma, ends = np.array([0.0, 0.0]), np.array([800.0, 300.0]), 650.0, 500.0, 1.0, 2.0
    points = np.array(
        [
            set_off(
                one + rng.normal(0, ends, 2), two + rng.normal(0, ends, 2),
                along + rng.normal(0, sigma), off + rng.normal(0, sigma), side="left",
            ).points_mm[0]
            for _ in range(3000)
        ]
    )  # fmt: skip
    said = set_off(one, two, along, off, side="left", sigma=sigma, end_sigma=ends).covariance_mm2[0]
    assert np.cov(points.T) == pytest.approx(said, abs=0.1 * np.trace(said) / 2)


@pytest.mark.parametrize(("side", "other"), [("left", 1140), ("right", 1260)])
def test_a_block_along_a_circle_gives_the_parallel_circle(side, other):
    angle = np.linspace(0, 1.5, 16)
    edge = 1200 * np.column_stack([np.cos(angle), np.sin(angle)]) + [100, 50]
    found = set_off_block(edge, 60, side=side).points_mm
    # the cubic's direction is a little out, most at its ends: 0.2 % of the block's width
    assert np.hypot(*(found - [100, 50]).T) == pytest.approx(np.full(16, other), abs=0.005)
    assert found == pytest.approx((edge - [100, 50]) * other / 1200 + [100, 50], abs=0.12)


def test_the_error_of_a_block_is_what_many_marks_scatter_by():
    rng = np.random.default_rng(9)
    edge = np.array([[0.0, 0.0], [150.0, 20.0], [320.0, 75.0], [470.0, 160.0], [600.0, 280.0]])
    said = set_off_block(edge, 150, side="left", sigma=1.0).covariance_mm2
    points = np.array([_set_off(edge + rng.normal(0, 1.0, edge.shape), np.full(5, 150.0))[0] for _ in range(3000)])
    for i in range(5):
        assert np.cov(points[:, i].T) == pytest.approx(said[i], abs=0.1 * np.trace(said[i]) / 2)
