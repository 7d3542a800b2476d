"""Edges, faces and the board: laws and messages; published values are in tests/published/test_backing_out.py."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strips import cylinder

from scrieve.errors import BadPlank
from scrieve.planking.board import board_for, crown, least_strip
from scrieve.planking.edges import across, backing_out, edge_bevels, outgauge_angle, seam_opening, stock_thickness


def inside_out(patch):
    """The same strip on a hull that is hollow outside (reverse curve)."""

    def there(u, w):
        point, along, over = patch(u, w)
        flip = np.array([1, -1, 1])
        return point * flip, along * flip, over * flip

    return there


def test_a_straight_frame_needs_no_hollow():
    assert backing_out(np.inf, 150) == 0
    width, hollow, radius = across(cylinder(1e9, 3000, 150), np.array([0.5]))
    assert (width[0], hollow[0]) == pytest.approx((150, 0), abs=1e-4)
    assert abs(radius[0]) > 1e6


def test_a_hollow_hull_wants_the_inside_rounded_and_the_edges_under():
    width, hollow, radius = across(inside_out(cylinder(600, 3000, 150)), np.array([0.5]))
    assert hollow[0] == pytest.approx(-float(backing_out(600, width[0])), abs=1e-4)
    assert radius[0] == pytest.approx(-600, rel=1e-4)
    for edge in edge_bevels(inside_out(cylinder(600, 3000, 150)), np.array([0.5])):
        assert edge[0] == pytest.approx(-0.125, abs=1e-9)
    assert stock_thickness(28, hollow[0], 3) == pytest.approx(31 - hollow[0])


def test_a_plank_wider_than_its_frame_is_refused():
    with pytest.raises(BadPlank, match=r"a plank 210 mm wide cannot lie on a frame of radius 100 mm; divide it"):
        backing_out([600, 100], [120, 210])
    with pytest.raises(BadPlank, match=r"radius: 0 mm; give a value above zero"):
        backing_out(0, 120)
    with pytest.raises(BadPlank, match=r"width: -1 mm; give"):
        backing_out(600, -1)


def test_the_outgauge_opens_the_seam_by_both_edges():
    opening = seam_opening(28)
    assert 2 * 28 * np.tan(outgauge_angle(opening, 28)) == pytest.approx(opening)
    with pytest.raises(BadPlank, match=r"thickness: 0 mm"):
        seam_opening(0)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-500, 500), st.floats(-100, 100)), min_size=3, max_size=25, unique=True),
    st.floats(0, np.pi),
)
def test_the_least_strip_holds_all_and_none_is_narrower(points, turn):
    given_ = np.array(points)
    spread = np.linalg.svd(given_ - given_.mean(axis=0), compute_uv=False)
    if spread[-1] < 1e-2:
        return  # points in a line enclose nothing
    width, length, angle = least_strip(given_)
    every = np.linspace(0, np.pi, 721)
    widths = np.ptp(given_ @ np.array([-np.sin(every), np.cos(every)]), axis=0)
    assert width <= widths.min() + 1e-9
    assert np.ptp(given_ @ [-np.sin(angle), np.cos(angle)]) == pytest.approx(width, abs=1e-9)
    assert np.ptp(given_ @ [np.cos(angle), np.sin(angle)]) == pytest.approx(length, abs=1e-6)
    turned = given_ @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    assert least_strip(turned)[0] == pytest.approx(width, abs=1e-7)


def test_a_board_for_a_straight_and_for_a_curved_plank():
    x = np.linspace(0, 4000, 101)
    straight = board_for(
        np.column_stack([x, 0 * x]), np.column_stack([x, 0 * x + 150]), thickness_mm=34, ends_mm=100, margin_mm=10
    )
    assert (straight.length_mm, straight.width_mm, straight.thickness_mm) == pytest.approx((4100, 170, 34))
    assert (straight.crown_mm, straight.plank_width_mm, straight.plank_length_mm) == pytest.approx((0, 150, 4000))
    bowed = -80 * (x / 2000 - 1) ** 2
    hog = board_for(np.column_stack([x, bowed]), np.column_stack([x, bowed + 150]), thickness_mm=34)
    assert hog.crown_mm == pytest.approx(80, abs=1e-6)
    assert hog.width_mm == pytest.approx(230, abs=1e-6)
    assert hog.plank_width_mm == pytest.approx(150, abs=0.01)


def test_crown_has_a_side():
    x = np.linspace(0, 1000, 51)
    up = np.column_stack([x, 20 * np.sin(np.pi * x / 1000)])
    assert crown(up) == pytest.approx(20, abs=1e-3)
    assert crown(up * [1, -1]) == pytest.approx(-20, abs=1e-3)


def test_edges_on_one_another_enclose_nothing():
    x = np.linspace(0, 1000, 11)
    with pytest.raises(BadPlank, match="encloses nothing"):
        least_strip(np.column_stack([x, 0 * x]))
