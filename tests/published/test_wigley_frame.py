"""Frames of the Wigley hull, whose sections, bevels and curvatures are known in closed form.

Source: y = (B/2)(1 - (2x/L)²)(1 - (z/T)²), an analytic test hull in wide use; L 15000, B 3000, T 1200 mm. Values by
calculus from that one line, the tabled ones computed twice by independent routes.
"""

import numpy as np
import pytest
from wigley import Wigley

from scrieve.fairing.section import Section
from scrieve.frames import FrameChoice, design_frame
from scrieve.frames.shape.line import line_of

HULL = Wigley()


def wigley_section(x, n=200):
    v = np.linspace(0, 1, n)
    points = HULL.point(x, v)
    y, z = points[:, 1], points[:, 2]
    girth = float(HULL.girth(x))
    return Section("W", x, v * girth, y, z, 0 * v, HULL.bevel(x, z), HULL.curvature(x, z))


@pytest.mark.parametrize(("x", "girth"), [(0.0, 2010.884917), (3000.0, 1820.559498), (6000.0, 1346.462067)])
def test_line_through_the_section_has_its_girth_and_curvature(x, girth):
    shape = wigley_section(x)
    line = line_of(shape)
    assert line.length_mm == pytest.approx(girth, abs=1e-5)
    inner = slice(3, -3)  # an interpolating spline is a little less sure at its very ends
    np.testing.assert_allclose(
        np.interp(shape.s_mm, line.s_mm, line.curvature_per_mm)[inner], shape.curvature_per_mm[inner], rtol=2e-4
    )


def test_bevel_table_at_a_known_point():
    # x = 3000, z = -300: bevel 7.565162600°, the hull drawing in going aft
    shape = wigley_section(3000.0, n=400)
    design = design_frame(shape, FrameChoice(timber="larch"))
    assert design.moulding_edge == "fore"  # towards amidships: the bevel is wood removed
    z = [mark.height_mm for mark in design.bevels]
    np.testing.assert_allclose([mark.bevel_rad for mark in design.bevels], HULL.bevel(3000.0, z), atol=np.radians(0.01))
    assert np.degrees(np.interp(-300, shape.height_mm, shape.bevel_rad)) == pytest.approx(-7.5651626, abs=0.001)


@pytest.mark.parametrize("x", [-4500.0, 3000.0])
@pytest.mark.parametrize("edge", ["fore", "aft"])
def test_far_face_lies_on_the_hull(x, edge):
    # the far face is drawn from slope alone; the hull itself, sided further on, must agree to the second order:
    # sided²/2 × the change of slope along the hull (B·4/L² at most), 0.03 mm here, and the surface's own curvature
    sided = 45.0
    design = design_frame(wigley_section(x), FrameChoice(timber="larch", sided_mm=sided, moulding_edge=edge))
    far = x + sided if edge == "fore" else x - sided
    y, z = design.outline.far_outer_mm.T
    inside = (z > -1150) & (z < 0)
    _, by_z = HULL.slopes(far, z[inside])
    gap = (y[inside] - HULL.half_breadth(far, z[inside])) / np.sqrt(1 + by_z**2)
    assert np.abs(gap).max() < 0.12


def test_lengths_of_laminations():
    # ∫(1 - κd) ds with ∫κ ds = turn of the tangent, here atan(1/y_z) from keel to waterline: closed form
    x = 3000.0
    design = design_frame(wigley_section(x), FrameChoice(timber="sapele/larch"))
    _, at_keel = HULL.slopes(x, -1200.0)
    turn = np.arctan(float(at_keel))  # from the keel's slope to upright at the waterline
    for each in design.packet.laminations:
        below = sum(other.thickness_mm for other in design.packet.laminations[: each.number]) - each.thickness_mm / 2
        d = design.blank.inside_mm - below
        assert each.developed_mm == pytest.approx(float(HULL.girth(x)) - d * turn, abs=0.02)
        assert each.length_mm == pytest.approx(each.developed_mm + 150)
