"""The slip that a suspect may be is found by trying it."""

from dataclasses import replace

import numpy as np
import pytest

from scrieve.boat import Boat
from scrieve.fairing import fair
from scrieve.fairing.result import SLIPS, guess
from scrieve.takeoff.marks import Mark

SLOPE = np.array([[0.0, 0.0], [2000.0, 1000.0]])  # a side at 1 in 2


@pytest.mark.parametrize(("slip", "words"), SLIPS)
@pytest.mark.parametrize(("axis", "name"), [(0, "half-breadth"), (1, "height")])
@pytest.mark.parametrize(("sign", "which"), [(1, "great"), (-1, "small")])
def test_a_slip_on_an_upright_or_level_line_is_named(slip, words, axis, name, sign, which):
    # a line square to the slip: only this one brings the mark back
    line = np.array([[900.0, -4000.0], [900.0, 4000.0]]) if axis == 0 else np.array([[0.0, 700.0], [4000.0, 700.0]])
    point = np.array([900.0, 700.0])
    point[axis] += sign * slip
    assert guess(point, line, sd=0.5) == f"{name} {words} too {which}?"


def test_a_foot_of_height_on_a_sloping_side():
    # square to the line the mark is out by only 304.8 · cos(atan ½) = 272.6 mm
    point = np.array([1000.0, 500.0 + 304.8 + 1.0])
    # on a side of one in two, two feet of half-breadth come to the same place: both are named, and the tape must tell
    assert guess(point, SLOPE, sd=1.5) == "height a foot too great, or half-breadth two feet too small?"


def test_no_slip_fits():
    assert guess(np.array([1000.0, 500.0 + 170.0]), SLOPE, sd=1.5) == ""


def test_a_small_miss_is_no_slip():
    # shifted by 10 mm it would lie within three sd of any line whose own doubt is 5 mm: that says nothing
    assert guess(np.array([1000.0, 504.0]), SLOPE, sd=5.0) == ""


def test_no_half_breadth_is_set_beyond_the_centreline():
    upright = np.array([[0.0, -1000.0], [0.0, 1000.0]])
    assert guess(np.array([50.0, 0.0]), upright + np.array([350.0, 0.0]), sd=2.0) == "half-breadth 300 mm too small?"
    assert guess(np.array([50.0, 0.0]), upright - np.array([250.0, 0.0]), sd=2.0) == ""


def test_an_end_is_compared_with_its_one_point():
    assert guess(np.array([42.0, 603.5]), np.array([[41.0, 503.0]]), sd=1.5) == "height 100 mm too great?"
    assert guess(np.array([91.0, 603.5]), np.array([[41.0, 503.0]]), sd=1.5) == ""


def cone_marks():
    """Twelve marks on each of ten sections of a cone of 3.8°, its girth a quarter of a turn."""
    made = []
    for n, x in enumerate(np.linspace(0, 9000, 10)):
        for k, a in enumerate(np.linspace(0, np.pi / 2, 12)):
            r = 1200 - x / 15
            made.append(
                Mark(str(n + 1), float(x), float(1200 - r * np.cos(a)), float(r * np.sin(a)), number=12 * n + k + 1)
            )
    return made


@pytest.mark.parametrize(
    "boat", [Boat("in", sigma_mm=1.0), Boat("out", planking="outside", thickness_mm=32, sigma_mm=1.0)]
)
def test_a_suspect_is_told_as_what_it_may_have_been_on_its_own_side_of_the_planking(boat):
    """Outside marks are brought in square to the planking: a foot out they are brought in askew, and fitted no slip."""
    marks = cone_marks()
    foot, over = marks[12 * 4 + 5], marks[12 * 6 + 8]
    marks[foot.number - 1] = replace(foot, half_breadth_mm=foot.half_breadth_mm + 304.8)
    marks[over.number - 1] = replace(over, height_mm=over.half_breadth_mm, half_breadth_mm=over.height_mm)
    hull = fair(marks, boat)
    told = {off.number: off.guess for off in hull.suspects}
    assert set(told) == {foot.number, over.number}
    assert "half-breadth a foot too great" in told[foot.number]
    assert told[over.number] == "height and half-breadth changed over?"
