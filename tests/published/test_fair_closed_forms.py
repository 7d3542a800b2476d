"""Fairing of exact marks on hulls with closed answers: what went in must come out, to a fraction of a millimetre.

Sources: the Wigley hull (analytic, see wigley.py); a sphere, whose section at x is a circle of radius √(R² - x²) with
bevel asin(x/R) everywhere; a cone about the long axis, whose bevel is the same everywhere. Elementary geometry.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import cKDTree
from wigley import Wigley

from scrieve.boat import Boat
from scrieve.fairing import FairHull, fair
from scrieve.takeoff.marks import Mark

BOAT = Boat("a form", sigma_mm=2.0)


def marks_of(stations, points_at, n):
    made = []
    for frame, x in enumerate(stations):
        for i, (y, z) in enumerate(points_at(x, np.linspace(0, 1, n))):
            kind = "heel" if i == 0 else "head" if i == n - 1 else ""
            made.append(Mark(str(frame), float(x), float(z), float(y), kind=kind, number=len(made) + 1))
    return made


def departure(section, true_points):
    """Furthest distance of either line from the other; `true_points` must be dense."""
    fine = np.column_stack(
        [
            np.interp(np.linspace(0, section.girth_mm, 20_000), section.s_mm, axis)
            for axis in (section.half_breadth_mm, section.height_mm)
        ]
    )
    return max(cKDTree(true_points).query(section.points_mm)[0].max(), cKDTree(fine).query(true_points[::50])[0].max())


@pytest.fixture(scope="module")
def wigley_hull() -> FairHull:
    form = Wigley()
    stations = np.unique(np.r_[np.linspace(-0.46, 0.46, 25) * form.length_mm, -5000.0, 3000.0, 6000.0])
    return fair(marks_of(stations, lambda x, v: form.point(x, v)[:, 1:], 14), BOAT)


def test_wigley_everywhere_within_a_third_of_a_millimetre(wigley_hull):
    # between the frames too, heel to head; 14 marks round the girth leave 0.28 mm between marks at the waterline
    form, (low, high) = Wigley(), wigley_hull.x_range
    assert not wigley_hull.suspects
    for x in np.linspace(low, high, 37):
        section = wigley_hull.section(x, points=400)
        assert departure(section, form.point(x, np.linspace(0, 1, 20_001))[:, 1:]) < 0.33
        assert section.girth_mm == pytest.approx(float(form.girth(x)), abs=0.2)
        z = np.minimum(section.height_mm, 0)
        assert np.degrees(np.abs(section.bevel_rad - form.bevel(x, z)).max()) < 0.1
        if abs(x) < 0.42 * form.length_mm:  # at the ends of a section the curvature rests on one side only
            inner = slice(40, -40)
            assert section.curvature_per_mm[inner] == pytest.approx(form.curvature(x, z)[inner], rel=0.08)


@pytest.mark.parametrize(
    ("x", "z", "half_breadth", "bevel_deg", "curvature_per_m"),
    [  # the formula's values, worked to ten digits
        (0.0, -600.0, 1125.0, 0.0, 0.5078821525),
        (3000.0, -300.0, 1181.25, 7.565162600, 1.214656604),
        (-5000.0, -900.0, 364.5833333, 4.619200497, 0.3844195549),
        (6000.0, -600.0, 405.0, 12.34516536, 0.5687660115),
    ],
)
def test_wigley_printed_values(wigley_hull, x, z, half_breadth, bevel_deg, curvature_per_m):
    section = wigley_hull.section(x, points=2000)

    def at(values):
        return float(np.interp(z, section.height_mm, values))

    assert at(section.half_breadth_mm) == pytest.approx(half_breadth, abs=0.2)
    # the hull swells going aft before amidships and fines away behind it
    assert np.degrees(at(section.bevel_rad)) == pytest.approx(bevel_deg * -np.sign(x), abs=0.1)
    assert at(section.curvature_per_mm) * 1000 == pytest.approx(curvature_per_m, rel=0.05)


@pytest.mark.parametrize(("x", "girth"), [(0.0, 2010.884917), (3000.0, 1820.559498), (6000.0, 1346.462067)])
def test_wigley_girths(wigley_hull, x, girth):
    assert wigley_hull.section(x).girth_mm == pytest.approx(girth, abs=0.2)


def test_sphere():
    radius = 3000.0

    def quarter(x, v):
        r, angle = np.sqrt(radius**2 - x**2), v * np.pi / 2
        return np.column_stack([r * np.sin(angle), -r * np.cos(angle)])

    hull = fair(marks_of(np.arange(-2000, 2001, 250.0), quarter, 14), BOAT)
    for x, bevel_deg in (
        (500.0, 9.594068227),
        (1500.0, 30.0),
        (-1500.0, -30.0),
        (1125.0, np.degrees(np.arcsin(0.375))),
    ):
        section = hull.section(x)
        r = np.sqrt(radius**2 - x**2)
        assert np.abs(np.hypot(*section.points_mm.T) - r).max() < 0.3
        assert np.degrees(section.bevel_rad) == pytest.approx(-bevel_deg, abs=0.1)
        assert section.curvature_per_mm[10:-10] == pytest.approx(1 / r, rel=0.02)
        assert section.girth_mm == pytest.approx(r * np.pi / 2, abs=0.3)


def test_cone_has_one_bevel():
    # end radii 1200 and 800 over 6000: atan(400/6000) everywhere
    def quarter(x, v):
        r, angle = 1200 - x * 400 / 6000, v * np.pi / 2
        return np.column_stack([r * np.sin(angle), -r * np.cos(angle)])

    hull = fair(marks_of(np.linspace(0, 6000, 13), quarter, 12), BOAT)
    for x in (0.0, 777.0, 3000.0, 6000.0):
        section = hull.section(x)
        assert np.degrees(section.bevel_rad) == pytest.approx(-3.814074834, abs=0.02)
        assert np.abs(np.hypot(*section.points_mm.T) - (1200 - x * 400 / 6000)).max() < 0.2
