"""The finished outline and the blank, against closed forms and brute force."""

import numpy as np
import pytest
from sections import circle, s_shape, section

from scrieve.errors import BadGeometry, BadLamination
from scrieve.frames import FrameChoice, design_frame
from scrieve.frames.shape.line import lengthened, line_of, offset, offset_length, tightest_radius
from scrieve.frames.shape.outline import bevel_marks, settle_moulding_edge


def distance_to(points, line):
    """Brute force: least distance from each point to a finely drawn line, signed: above zero to its left."""
    found = []
    for point in points:
        way = line.points_mm - point
        i = int(np.argmin(np.hypot(*way.T)))
        found.append(-float(way[i] @ line.left[i]))
    return np.array(found)


def test_arc_outline_is_three_more_arcs():
    # closed form: all edges are arcs about the same centre: R, R - m, R + sided tan β and that less m
    beta = 0.15
    design = design_frame(circle(bevel=beta), FrameChoice(timber="larch", moulding_edge="fore", sided_mm=50))
    centre, out = np.array([0.0, 1500.0]), 50 * np.tan(beta)
    for name, radius in (
        ("moulding_outer_mm", 1500),
        ("moulding_inner_mm", 1440),
        ("far_outer_mm", 1500 + out),
        ("far_inner_mm", 1440 + out),
    ):
        np.testing.assert_allclose(np.hypot(*(getattr(design.outline, name) - centre).T), radius, atol=1e-3)


def test_standing_or_under_by_the_face_chosen():
    # the hull swells going aft: from the fore face wood stands outside the line, from the after face it is taken off
    beta, y = 0.1, circle(bevel=0.1)
    fore = design_frame(y, FrameChoice(timber="larch", moulding_edge="fore"))
    aft = design_frame(y, FrameChoice(timber="larch", moulding_edge="aft"))
    auto = design_frame(y, FrameChoice(timber="larch"))
    assert {mark.word for mark in fore.bevels} == {"standing"}
    assert {mark.word for mark in aft.bevels} == {"under"}
    assert auto.moulding_edge == "aft"
    assert settle_moulding_edge(circle(bevel=-0.1), "auto") == "fore"
    assert np.all(fore.outline.shift_mm > 0)
    assert np.all(aft.outline.shift_mm < 0)
    assert fore.bevels[0].wood_mm == pytest.approx(45 * np.tan(beta))
    assert fore.bevels[0].bevel_rad == pytest.approx(beta)
    assert aft.bevels[0].bevel_rad == pytest.approx(-beta)


@pytest.mark.parametrize("edge", ["fore", "aft"])
def test_bevelled_frame_lies_in_the_blank_on_both_faces(edge):
    # brute force: distance of every point of both faces to the moulded line against the packet's faces
    n = 200
    bevel = np.linspace(-0.12, 0.2, n)  # changes from under to standing along the frame
    design = design_frame(s_shape(bevel=bevel), FrameChoice(timber="sapele/larch", moulding_edge=edge))
    fine = lengthened(line_of(design.section, 0.5), 200.0, 0.5)
    blank, cleaning = design.blank, design.choice.cleaning_mm
    least = np.inf
    for name in ("moulding_outer_mm", "moulding_inner_mm", "far_outer_mm", "far_inner_mm"):
        inboard = distance_to(getattr(design.outline, name)[::7], fine)
        least = min(least, (inboard + blank.outside_mm - cleaning).min(), (blank.inside_mm - cleaning - inboard).min())
    assert least >= -0.01
    assert blank.spare_mm == pytest.approx(least, abs=0.05)  # every 28 mm is looked at
    assert blank.depth_mm == pytest.approx(blank.outside_mm + blank.inside_mm)


def test_a_packet_forced_too_thin_is_designed_and_flagged():
    design = design_frame(circle(bevel=0.2), FrameChoice(timber="larch", count=6, lamination_mm=10.0))
    failed = {check.name: check for check in design.checks if not check.ok}
    assert {"Depth of the packet", "Bevelled frame within the packet"} <= set(failed)
    assert failed["Depth of the packet"].found == "60.0 mm"
    assert not design.all_ok
    assert any("the blank is too thin" in caution for caution in design.cautions)
    assert design.blank.spare_mm < 0


def test_taper_runs_evenly_from_heel_to_head():
    design = design_frame(circle(), FrameChoice(timber="larch", moulded_mm=70, moulded_head_mm=40))
    outline = design.outline
    depth = np.hypot(*(outline.moulding_outer_mm - outline.moulding_inner_mm).T)
    np.testing.assert_allclose(depth, 70 - 30 * outline.s_mm / outline.s_mm[-1], atol=1e-6)


def test_bevels_are_about_300_mm_apart_with_both_ends():
    shape = circle(1500.0)
    marks = bevel_marks(shape, line_of(shape), 45, "fore")
    assert (marks[0].s_mm, marks[-1].s_mm) == (0.0, pytest.approx(shape.girth_mm))
    gaps = np.diff([mark.s_mm for mark in marks])
    np.testing.assert_allclose(gaps, gaps[0])
    assert 200 < gaps[0] <= 300
    assert [mark.number for mark in marks] == list(range(1, len(marks) + 1))
    assert {mark.word for mark in marks} == {"square"}


def test_offsets_of_an_arc():
    # parallel curves: an arc of R less d; length s - d Δθ
    line = line_of(circle(1000.0))
    inner = offset(line, 80.0)
    assert tightest_radius(inner) == pytest.approx(920, rel=1e-6)
    assert inner.length_mm == pytest.approx(920 * np.pi / 2, abs=1e-4)
    assert offset_length(line, 80.0) == pytest.approx(920 * np.pi / 2, abs=1e-4)


def test_an_s_shape_turns_back_so_both_edges_are_as_long():
    # ∫κ ds = 0 over a whole wave: any parallel line has the same length
    line = line_of(s_shape())
    assert offset_length(line, 60.0) == pytest.approx(line.length_mm, abs=1e-3)


def test_moulded_depth_past_the_centre_is_refused_with_the_place():
    with pytest.raises(
        BadLamination, match=r"frame 14: the inner edge.* folds \d+ mm along from the heel .*radius of 50 mm"
    ):
        design_frame(circle(50.0), FrameChoice(timber="larch", moulded_mm=60))


def test_lengthened_line_keeps_its_curvature():
    run = lengthened(line_of(circle(700.0, turn=1.0)), 75.0)
    np.testing.assert_allclose(np.hypot(*(run.points_mm - [0, 700]).T), 700, atol=1e-4)
    assert run.length_mm == pytest.approx(850.0)
    assert run.turn_rad == pytest.approx(850 / 700, rel=1e-6)


def test_sections_that_cannot_be_framed_are_refused():
    with pytest.raises(BadGeometry, match=r"frame 14: the section has 5 points; give 8 or more"):
        line_of(circle(n=5))
    with pytest.raises(BadGeometry, match=r"bevel is 86°.*cant frame"):
        design_frame(circle(bevel=1.5), FrameChoice(timber="larch"))
    knee = np.vstack(
        [np.column_stack([np.linspace(0, 500, 50), np.zeros(50)]), [[500.0, y] for y in range(10, 500, 10)]]
    )
    s = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(knee, axis=0).T))])
    with pytest.raises((BadGeometry, BadLamination), match=r"(knuckle|folds)"):
        design_frame(section(s, knee, 0.0, np.zeros(len(s))), FrameChoice(timber="larch"))


def test_waterlines_and_hands_are_carried():
    design = design_frame(circle(1000.0), FrameChoice(timber="larch", waterlines_mm=(500.0, 5000.0)))
    # closed form: height 500 on a quarter circle of 1000 is at 60°, half-breadth 866.03
    port = [mark for mark in design.marks_to_carry if mark.hand == "P"]
    starboard = [mark for mark in design.marks_to_carry if mark.hand == "S"]
    assert len(port) == len(starboard)
    water = next(mark for mark in port if mark.text == "waterline 500")
    assert water.s_mm == pytest.approx(1000 * np.pi / 3, abs=1e-3)
    assert water.half_breadth_mm == pytest.approx(1000 * np.sin(np.pi / 3), abs=1e-3)
    assert any("Waterline 5000 mm does not cross" in caution for caution in design.cautions)
    assert {"heel", "head"} <= {mark.text for mark in port}
    assert any("port" in mark.text and "frame 14 P" in mark.text for mark in port)
