"""Waterlines, buttocks and diagonals against closed forms.

Sources: the Wigley hull y = (B/2)(1 - (2x/L)²)(1 - (z/T)²) (analytic test hull of ship hydrodynamics), whose waterlines
and buttocks follow from the formula; a circular cone, whose level cuts are hyperbolas and whose cuts through the axis
are straight (conic sections); an ellipse and its curvature at the vertices, a/b² and b/a². Elementary geometry.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from scrieve.errors import BadGeometry
from scrieve.fairing.lines_plan import (
    _edge_on,
    default_diagonals,
    diagonal,
    diagonal_plane,
    level_line,
    line_in,
    upright_line,
)

from .exact_hulls import APEX, BEAM, DRAUGHT, LENGTH, TAPER, cone_hull, dense, hull_of, placed, wigley_hull


@pytest.fixture(scope="module")
def hull():
    return wigley_hull()


@pytest.fixture(scope="module")
def cone():
    return cone_hull()


def fullness(z):
    return 1 - (z / DRAUGHT) ** 2


@settings(max_examples=12, deadline=None)
@given(z=st.floats(-1150, -20))
def test_a_waterline_of_wigleys_hull_is_the_parabola_of_its_formula(hull, z):
    (run,) = level_line(hull, z).runs
    x = run.x_mm
    assert (run.starts, run.ends) == ("forward", "aft")
    assert x[[0, -1]] == pytest.approx([-6900, 6900], abs=1e-9)
    assert set(hull.stations.values()) <= set(x.tolist())
    assert run.ordinate_mm == pytest.approx(BEAM / 2 * (1 - (2 * x / LENGTH) ** 2) * fullness(z), abs=1e-6)
    assert run.height_mm == pytest.approx(np.full(len(x), z), abs=1e-6)
    slope = -4 * BEAM * x / LENGTH**2 * fullness(z)
    assert np.tan(run.direction_rad) == pytest.approx(slope, abs=1e-9)
    # hollow inboard all along, by the formula of the plane curve's curvature
    assert run.curvature_per_mm == pytest.approx(4 * BEAM / LENGTH**2 * fullness(z) / (1 + slope**2) ** 1.5, rel=1e-6)
    assert run.reversals == 0


@settings(max_examples=12, deadline=None)
@given(b=st.floats(350, 1480))
def test_a_buttock_runs_out_exactly_at_the_sheer_and_bellies_down(hull, b):
    (run,) = upright_line(hull, b).runs
    end = LENGTH / 2 * np.sqrt(1 - b / (BEAM / 2))  # where the waterline at z = 0 is b wide
    # the plane stands 1e-7 mm off, over the waterline's slope there of 0.05 and more
    assert run.x_mm[[0, -1]] == pytest.approx([-end, end], abs=3e-6)
    assert (run.starts, run.ends) == ("head", "head")
    assert run.v[[0, -1]] == pytest.approx([1, 1], abs=1e-12)
    by_formula = BEAM / 2 * (1 - (2 * run.x_mm / LENGTH) ** 2) * fullness(run.height_mm)
    assert by_formula == pytest.approx(np.full(len(run.x_mm), b), abs=1e-6)
    assert run.half_breadth_mm == pytest.approx(by_formula, abs=1e-6)
    assert run.ordinate_mm == pytest.approx(run.height_mm)
    assert (run.curvature_per_mm > 0).all()


@settings(max_examples=12, deadline=None)
@given(angle=st.floats(np.radians(8), np.radians(80)))
def test_a_diagonal_through_the_axis_of_a_cone_is_straight_when_laid_flat(cone, angle):
    (run,) = diagonal(cone, (0.0, 0.0), angle).runs
    # the plane holds the axis, so the line is one straight generator; the cone is held to 0.0002 mm by the spline
    assert run.ordinate_mm == pytest.approx(TAPER * (APEX - run.x_mm), abs=1e-3)
    assert run.direction_rad == pytest.approx(np.full(len(run.x_mm), -np.arctan(TAPER)), abs=1e-6)
    assert np.abs(run.curvature_per_mm).max() < 1e-9
    assert run.reversals == 0


def test_a_level_cut_of_a_cone_is_a_hyperbola_that_ends_at_the_heel(cone):
    (run,) = level_line(cone, -800.0).runs
    assert (run.starts, run.ends) == ("forward", "heel")
    assert run.x_mm[-1] == pytest.approx(APEX - 800 / TAPER, abs=1e-3)
    r = TAPER * (APEX - run.x_mm[:-1])
    y = np.sqrt(r**2 - 800**2)
    assert run.half_breadth_mm[:-1] == pytest.approx(y, abs=2e-3)
    # of y² = k²(A - x)² - h²: y' = -k²(A - x)/y and y'' = -k²h²/y³; near the heel y' runs away, so not there
    clear = y > 200
    slope, bend = -(TAPER**2) * (APEX - run.x_mm[:-1]) / y, TAPER**2 * 800**2 / y**3
    assert run.direction_rad[:-1][clear] == pytest.approx(np.arctan(slope)[clear], abs=3e-5)  # the spline's own
    assert run.curvature_per_mm[:-1][clear] == pytest.approx((bend / (1 + slope**2) ** 1.5)[clear], rel=5e-3)


def test_a_plane_that_holds_the_whole_head_or_heel_gives_one_line_or_none(hull):
    # the head of Wigley's hull lies at z = 0 to the last digit, its heel at z = -T
    (run,) = level_line(hull, 0.0).runs
    assert (run.starts, run.ends) == ("forward", "aft")
    assert run.v == pytest.approx(np.ones(len(run.v)), abs=1e-9)
    assert run.half_breadth_mm == pytest.approx(BEAM / 2 * (1 - (2 * run.x_mm / LENGTH) ** 2), abs=1e-6)
    assert level_line(hull, -DRAUGHT).runs == ()


def bubble(x, v):
    """A side that swells and closes again: buttocks are ellipses round (0, 500)."""
    z = 1000 * np.asarray(v)
    return np.column_stack([900 - 300 * (x / 2000) ** 2 - 300 * ((z - 500) / 500) ** 2 + 0 * x, z])


def test_a_closed_buttock_is_one_ellipse_and_the_two_ends_of_its_axes_have_the_right_curvature():
    hull = hull_of(bubble, np.linspace(-2500, 2500, 9))
    (run,) = upright_line(hull, 750.0).runs
    assert (run.starts, run.ends) == ("closed", "closed")
    a, b = 2000 * np.sqrt(0.5), 500 * np.sqrt(0.5)
    assert (run.x_mm / a) ** 2 + ((run.height_mm - 500) / b) ** 2 == pytest.approx(np.ones(len(run.x_mm)), abs=1e-6)
    assert run.flat_mm[0] == pytest.approx(run.flat_mm[-1])
    # outwards the side falls away from within the ellipse: seen in the plane it is round everywhere
    for at, expected in (((0, 500 - b), b / a**2), ((0, 500 + b), b / a**2), ((a, 500), a / b**2)):
        near = int(np.argmin(np.hypot(*(run.flat_mm - at).T)))
        assert abs(run.curvature_per_mm[near]) == pytest.approx(expected, rel=0.01)
    assert (np.abs(np.diff(np.sign(run.curvature_per_mm))) == 0).all()
    # a level line through the middle is crossed there once, forward end to aft end
    assert [(r.starts, r.ends) for r in level_line(hull, 500.0).runs] == [("forward", "aft")]
    # and above 900 mm out there is no hull
    assert upright_line(hull, 901.0).runs == ()


def test_both_branches_are_found_where_a_buttock_passes_either_side_of_a_saddle():
    def saddle(x, v):
        z = 1000 * np.asarray(v)
        return np.column_stack([900 + 300 * (x / 2000) ** 2 - 300 * ((z - 500) / 500) ** 2, z])

    hull = hull_of(saddle, np.linspace(-2500, 2500, 9))
    outer, inner = upright_line(hull, 950.0), upright_line(hull, 850.0)
    assert len(outer.runs) == 2
    for run in outer.runs:  # two branches that do not pass x = 0
        assert np.abs(run.x_mm).min() == pytest.approx(2000 * np.sqrt(50 / 300), rel=1e-3)
    assert len(inner.runs) == 2  # one above, one below
    assert {bool(run.height_mm.mean() > 500) for run in inner.runs} == {True, False}
    for run in (*outer.runs, *inner.runs):
        assert run.half_breadth_mm.std() < 1e-6


@settings(max_examples=10, deadline=None)
@given(share=st.floats(0.15, 0.9), station=st.floats(-6000, 6000), angle=st.floats(0.1, 1.2))
@example(share=0.5, station=0.125, angle=1.0)  # all but on a crossing of the net
def test_the_three_views_agree(hull, share, station, angle):
    # a law: waterline, buttock and diagonal through one point of the surface all pass through that point
    y, z = hull.fit.value(station, share)[0]
    for line in (level_line(hull, z), upright_line(hull, y), diagonal(hull, (y, z), angle)):
        at = np.array([station, line.plane.ordinate(np.array([[y, z]]))[0]])
        away = min(distance(at, run.flat_mm) for run in line.runs)
        assert away < 0.7  # straight pieces at most 300 mm long between points on the line: l²κ/8


def distance(at, way):
    """Least distance of a point from a polyline."""
    a, d = way[:-1], np.diff(way, axis=0)
    t = np.clip(((at - a) * d).sum(axis=1) / (d * d).sum(axis=1), 0, 1)
    return float(np.hypot(*(a + t[:, None] * d - at).T).min())


def test_the_band_of_a_line_is_the_scatter_of_lines_cut_from_drawn_surfaces():
    # surfaces drawn from the posterior by numpy's Cholesky root of its whole inverse; 400 draws give an sd to 4 %
    problem, hull = placed()
    precision = dense(problem, hull.fit.stiffness)
    root = np.linalg.cholesky(precision)
    drawn = np.linalg.solve(root.T, np.random.default_rng(1).normal(size=(len(precision), 400))).T
    x, v = hull.stations["3"], np.linspace(0, 1, 401)
    for line in (level_line(hull, -1000.0), diagonal(hull, (0.0, 0.0), 0.6), upright_line(hull, 1200.0)):
        for run in line.runs:
            at = int(np.flatnonzero(run.x_mm == x)[0])
            cut = []
            for move in drawn:
                points = replace(hull.fit, c=hull.fit.c + move).value(x, v)
                off = line.plane.off(points)
                near = np.abs(v - run.v[at]) < 0.1
                order = np.argsort(off[near])
                cut.append(np.interp(0.0, off[near][order], line.plane.ordinate(points)[near][order]))
            square_to_line = np.std(cut) * np.cos(run.direction_rad[at])
            assert run.sd_mm[at] == pytest.approx(square_to_line, rel=0.15)


def test_a_plane_that_misses_the_hull_is_as_bad_as_one_met_edge_on():
    v = np.linspace(0, 1, 50)
    points = np.stack([np.column_stack([500 * v, 1000 * v])] * 3)
    tangent = np.tile(np.array([1.0, 2.0]) / np.sqrt(5), (3, 49, 1))
    assert _edge_on(diagonal_plane((0.0, 9000.0), 0.1), points, tangent) == 1.0
    square = diagonal_plane((250.0, 500.0), np.arctan(0.5))
    assert _edge_on(square, points, tangent) == pytest.approx(0.0, abs=1e-12)
    assert _edge_on(diagonal_plane((250.0, 500.0), 0.0), points, tangent) == pytest.approx(0.2)


def test_proposed_diagonals_are_square_to_the_hull_and_pass_through_crossings(cone, hull):
    # sections of the cone are circles about the axis: the square plane is the one through the axis
    for plane in default_diagonals(cone):
        (run,) = line_in(cone, plane).runs
        assert (run.starts, run.ends) == ("forward", "aft")
    for plane in default_diagonals(hull, 4):
        assert plane.kind == "diagonal"
        (run,) = line_in(hull, plane).runs
        normal, _ = hull.normal(run.x_mm, run.v)
        assert np.abs(normal @ plane.outward).mean() > 0.9
    assert len({plane.angle_rad for plane in default_diagonals(hull, 4)}) == 4


def test_a_knuckled_hull_keeps_its_knuckle_in_the_line():
    def chine(x, v):
        v = np.asarray(v)
        y = np.where(v < 0.5, 2000 * v, 1000 + 100 * (v - 0.5)) * (1 - (x / 9000) ** 2)
        return np.column_stack([y, 300 * np.minimum(v, 0.5) + 1400 * np.maximum(v - 0.5, 0)])

    hull = hull_of(chine, np.linspace(-4000, 4000, 9), features=(0.0, 0.5, 1.0))
    (run,) = diagonal(hull, (0.0, 150.0 + 900 * np.tan(0.4)), 0.4).runs
    on = np.isclose(run.v, 0.5, atol=1e-9)
    assert on.sum() == 2  # it crosses the chine going out and coming in, and has a point on it each time
    assert run.height_mm[on] == pytest.approx([150, 150], abs=1e-6)
    assert np.abs(run.x_mm[on]) == pytest.approx(9000 * np.sqrt(0.1), abs=1e-4)  # 1000(1 - x²/9000²) = 900


@pytest.mark.parametrize("angle", [1.5, -1.5])
def test_too_steep_a_diagonal_is_refused(angle):
    with pytest.raises(BadGeometry, match="86°; give 85° or less"):
        diagonal_plane((0.0, 0.0), angle)


def test_a_height_that_is_no_number_is_refused(hull):
    with pytest.raises(BadGeometry, match="height of a line: found nan; give a number"):
        level_line(hull, float("nan"))
