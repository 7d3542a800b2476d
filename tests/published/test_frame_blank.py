"""The blank, the bevel and the lengths of laminations: worked values of the trade's arithmetic.

Sources beside each value: a hull-practice reference's worked examples, each re-done here in inches.
"""

import numpy as np
import pytest

from scrieve.fairing.section import Section
from scrieve.frames import FrameChoice, design_frame
from scrieve.frames.blank import blank_siding
from scrieve.frames.shape.line import line_of, offset_length

INCH = 25.4


def quarter(radius_mm, bevel_rad=0.0, n=120):
    a = np.linspace(0, np.pi / 2, n)
    across, up = radius_mm * np.sin(a), radius_mm * (1 - np.cos(a))
    return Section("7", 3000.0, radius_mm * a, across, up, 0 * a, 0 * a + bevel_rad, 0 * a + 1 / radius_mm)


def test_siding_of_a_pair():  # 2 × 1-1/2 + 1/8 + 4 × 1/16 = 3-3/8 in, exact
    assert blank_siding(1.5 * INCH, INCH / 8, INCH / 16, INCH / 16) == pytest.approx(3.375 * INCH, abs=1e-12)
    choice = FrameChoice(
        timber="larch", sided_mm=1.5 * INCH, kerf_mm=INCH / 8, cleaning_mm=INCH / 16, edge_cleaning_mm=INCH / 16
    )
    design = design_frame(quarter(1500), choice)
    assert design.blank.siding_mm == pytest.approx(3.375 * INCH, abs=1e-12)
    cuts = [place for _, place in design.blank.rips]
    assert cuts == sorted(cuts)
    assert cuts[1] - cuts[0] == pytest.approx(1.5 * INCH)  # half P between its planed faces
    assert cuts[5] - cuts[4] == pytest.approx(1.5 * INCH)  # half S
    assert cuts[3] - cuts[2] == pytest.approx(INCH / 8)  # the kerf
    assert cuts[0] + cuts[5] == pytest.approx(design.blank.siding_mm)


def test_outside_less_inside_length_through_a_right_angle():
    # 2-3/4 in moulded through 90°: 2.75 × π/2 = 4.320 in whatever the radius; each 1/4 in ply 0.393 in
    for radius in (800.0, 1500.0):
        line = line_of(quarter(radius))
        assert (line.length_mm - offset_length(line, 2.75 * INCH)) / INCH == pytest.approx(4.320, abs=0.0005)
        assert (line.length_mm - offset_length(line, 0.25 * INCH)) / INCH == pytest.approx(0.393, abs=0.0005)
    design = design_frame(quarter(1500), FrameChoice(timber="larch", lamination_mm=0.25 * INCH))
    lengths = [each.developed_mm for each in design.packet.laminations]
    np.testing.assert_allclose(np.diff(lengths) / INCH, np.pi / 8, atol=1e-4)


def test_bevel_and_bevel_wood():
    # half-breadth grows 4-1/2 in over 30 in: 8.531°; on 1-1/2 in sided 0.225 in of bevel wood
    beta = np.arctan(4.5 / 30)
    assert np.degrees(beta) == pytest.approx(8.531, abs=0.0005)
    design = design_frame(quarter(1500, beta), FrameChoice(timber="larch", sided_mm=1.5 * INCH))
    for mark in design.bevels:
        assert mark.wood_mm / INCH == pytest.approx(0.225, abs=0.0005)
        assert abs(np.degrees(mark.bevel_rad)) == pytest.approx(8.531, abs=0.0005)
    grown = design.blank.needed_mm - design_frame(quarter(1500), FrameChoice(timber="larch")).blank.needed_mm
    assert grown / INCH == pytest.approx(0.225, abs=0.0005)


def test_strain_of_a_quarter_inch_ply_on_its_own_radius():
    # arc of 60 in chord and 12 in camber: R 43.5 in, strain 0.00287; here the innermost ply lies on that radius
    timber, ply = "sapele", 0.25 * INCH
    wanted = 43.5 * INCH
    shape = quarter(wanted + 50.0)
    choice = FrameChoice(timber=timber, lamination_mm=ply, cleaning_mm=0, spring_factor=1e-9)
    design = design_frame(shape, choice)
    inner = design.packet.laminations[0]
    assert inner.radius_mm == pytest.approx(wanted + 50 - design.blank.inside_mm + ply / 2, abs=0.01)
    assert inner.strain == pytest.approx(ply / 2 / inner.radius_mm, rel=1e-9)
    assert inner.strain * inner.radius_mm / wanted == pytest.approx(0.00287, abs=0.00001)
