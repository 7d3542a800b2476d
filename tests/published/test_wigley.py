"""Source: the Wigley hull's own formula, a standard analytic test hull of ship hydrodynamics.

The printed figures were worked from the formula by two independent routes (closed form against quadrature or finite
difference), so the module that other checks lean on is itself held to figures that it did not make.
"""

import numpy as np
import pytest
from numpy.polynomial.legendre import leggauss
from wigley import Wigley

HULL = Wigley()  # 15 m x 3 m x 1.2 m

# x, z, half-breadth, bevel in degrees (its size), curvature of the section in 1/m
TABLE = [
    (0, 0, 1500, 0, 2.083333333),
    (0, -600, 1125, 0, 0.5078821525),
    (3000, -300, 1181.25, 7.565162600, 1.214656604),
    (-5000, -900, 364.5833333, 4.619200497, 0.3844195549),
    (6000, -600, 405, 12.34516536, 0.5687660115),
]


@pytest.mark.parametrize(("x", "z", "half_breadth", "bevel_deg", "curvature_per_m"), TABLE)
def test_points_bevels_and_curvatures(x, z, half_breadth, bevel_deg, curvature_per_m):
    assert HULL.half_breadth(x, z) == pytest.approx(half_breadth, rel=1e-9)
    assert abs(np.degrees(HULL.bevel(x, z))) == pytest.approx(bevel_deg, rel=1e-9)
    assert HULL.curvature(x, z) * 1000 == pytest.approx(curvature_per_m, rel=1e-9)


def test_she_swells_aft_in_the_forebody_and_fines_aft():
    assert HULL.bevel(-3000, -300) > 0 > HULL.bevel(3000, -300)


@pytest.mark.parametrize(("x", "girth"), [(0, 2010.884917), (3000, 1820.559498), (6000, 1346.462067)])
def test_girths_from_keel_to_waterline(x, girth):
    assert HULL.girth(x) == pytest.approx(girth, rel=1e-9)
    assert HULL.girth(x, -HULL.draught_mm) == pytest.approx(0.0, abs=1e-9)


def test_volume():
    assert HULL.volume() == pytest.approx(24e9, rel=1e-12)


def test_a_small_wigley_hull():
    """L 10, B 1, T 0.625: half-breadths exact, the other figures as far as they are printed."""
    small = Wigley(10.0, 1.0, 0.625)
    x, z = np.array([0, 2.5, 0, 2.5]), np.array([0, 0, -0.3125, -0.3125])
    assert small.half_breadth(x, z) == pytest.approx([0.5, 0.375, 0.375, 0.28125], rel=1e-12)
    assert small.volume() == pytest.approx(2.77778, abs=5e-6)
    assert small.girth(0.0) == pytest.approx(0.83357, abs=5e-6)
    assert np.degrees(np.arctan(small.slopes(2.5, 0.0)[0])) == pytest.approx(-5.711, abs=5e-4)
    t, w = leggauss(60)
    by_x, by_z = small.slopes(5 * t[:, None], 0.3125 * (t - 1))
    wetted = 2 * 5 * 0.3125 * np.einsum("i,j,ij", w, w, np.sqrt(1 + by_x**2 + by_z**2))
    assert wetted == pytest.approx(14.879, abs=5e-4)


@pytest.mark.parametrize("x", [-7000.0, -2000.0, 0.0, 6000.0])
def test_points_by_share_of_girth(x):
    """Chords of a line cut at even shares of its length are equal, but for their sag; the last point is the head."""
    p = HULL.point(x, np.linspace(0, 1, 1001))
    chords = np.linalg.norm(np.diff(p, axis=0), axis=-1)
    assert chords == pytest.approx(np.full(1000, HULL.girth(x) / 1000), rel=1e-6)
    assert p[0] == pytest.approx([x, 0, -HULL.draught_mm], abs=1e-9)
    assert p[-1] == pytest.approx([x, float(HULL.waterline(x)), 0], abs=1e-9)


def test_partials_agree_with_differences():
    x, v = np.meshgrid([-6500.0, -1000.0, 500.0, 5000.0], [0.05, 0.4, 0.95])
    by_x, by_v = HULL.partials(x, v)
    # central differences: wrong by step² times a sixth of the third derivative, and by rounding
    assert by_x == pytest.approx((HULL.point(x + 1, v) - HULL.point(x - 1, v)) / 2, abs=1e-7)
    assert by_v == pytest.approx((HULL.point(x, v + 1e-5) - HULL.point(x, v - 1e-5)) / 2e-5, abs=1e-4)


def test_bevel_agrees_with_the_partials():
    """The bevel of a surface is the angle of its normal out of the station plane, whatever its parameters."""
    x, v = np.meshgrid([-6500.0, -1000.0, 500.0, 5000.0], [0.05, 0.4, 0.95])
    normal = np.cross(*HULL.partials(x, v)[::-1])
    out_of_plane = np.arctan2(normal[..., 0], np.hypot(normal[..., 1], normal[..., 2]))
    z = HULL.point(x, v)[..., 2]
    assert np.abs(HULL.bevel(x, z)) == pytest.approx(np.abs(out_of_plane), rel=1e-9)
