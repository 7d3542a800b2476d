"""A point measured twice: second measurings planted in a clean hull, good and bad ones.

The limit is the two-sided 1 in 1000 point of the normal distribution (SciPy); the hulls are made up (conftest.py).
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from scrieve.boat import Boat
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.measured_twice import OUT_BY_SD, pairs
from scrieve.takeoff.traps import traps

BOAT = Boat("Merganser", sigma_mm=2.0)


def planted(marks, which, number=999, **change):
    """Return the marks and a second measuring of one of them."""
    old = marks[which]
    if "half_breadth_mm" in change:
        change["half_breadth_mm"] += old.half_breadth_mm
    return [*marks, replace(old, number=number, line=0, **change)]


def test_the_limit_is_one_in_a_thousand():
    assert pytest.approx(norm.isf(0.0005), abs=0.005) == OUT_BY_SD


@pytest.mark.parametrize("label", ["", "M7"])
@pytest.mark.parametrize("shape", ["round", "tumblehome", "flare", "straight", "chine", "flat floors"])
def test_a_second_half_breadth_that_differs_is_told_with_both_values(hull, shape, label):
    marks = planted(hull(shape), 7 * 12 + 7, half_breadth_mm=25.0, label=label)
    first, second = marks[7 * 12 + 7], marks[-1]
    (found,) = traps(marks, BOAT)
    assert (found.kind, found.frame, found.numbers) == ("measured twice", "8", (first.number, 999))
    assert f"half-breadth {first.half_breadth_mm:.1f} as mark {first.number}" in found.text
    assert f"half-breadth {second.half_breadth_mm:.1f} now" in found.text
    assert "a printed guide: 5 mm in a metre" in found.text


def test_what_the_errors_allow_is_left_in_peace(hull):
    """Straight sections: a level difference d stands d·cos(slope) square to them; 3.29·2√2 mm is the limit."""
    marks = hull("straight")
    group = marks[84:96]
    away = np.subtract((group[-1].half_breadth_mm, group[-1].height_mm), (group[0].half_breadth_mm, group[0].height_mm))
    share = away[1] / np.hypot(*away)
    limit = 3.29 * 2 * np.sqrt(2) / share
    assert traps(planted(marks, 90, half_breadth_mm=0.9 * limit), BOAT) == ()
    assert [one.kind for one in traps(planted(marks, 90, half_breadth_mm=1.1 * limit), BOAT)] == ["measured twice"]


def test_a_loose_mark_may_differ_by_more(hull):
    marks = planted(hull(), 91, half_breadth_mm=25.0, sigma_mm=15.0)
    assert traps(marks, BOAT) == ()


def test_each_covariance_counts_in_its_own_direction(hull):
    """A mark from tapes that cross at a small angle: sure of its height, unsure of its half-breadth."""
    unsure = {"var_half_breadth_mm2": 225.0, "var_height_mm2": 1.0, "cov_mm2": 0.0}
    assert traps(planted(hull(), 94, half_breadth_mm=25.0, **unsure), BOAT) == ()
    sure = {"var_half_breadth_mm2": 1.0, "var_height_mm2": 225.0, "cov_mm2": 0.0}
    assert [one.kind for one in traps(planted(hull(), 94, half_breadth_mm=25.0, **sure), BOAT)] == ["measured twice"]


def test_a_foot_between_two_measurings_is_named(hull):
    marks = planted(hull(), 91, half_breadth_mm=-304.8)
    (found,) = traps(marks, BOAT)
    assert found.kind == "measured twice"
    assert "1 foot or 300 mm is the difference of one reading" in found.text


def test_a_frame_measured_twice_that_agrees_is_left_in_peace(hull):
    """Its second marks bear the labels of the first, and lie within the errors of both."""
    marks = hull(seed=1)
    again = [replace(mark, number=mark.number + 500, line=0) for mark in hull(seed=2) if mark.frame == "6"]
    assert {one.kind for one in traps([*marks, *again], BOAT)} <= {"duplicate"}  # two of them within 1 mm
    assert len(pairs([*marks, *again], BOAT)) >= 6
    again[5] = replace(again[5], half_breadth_mm=again[5].half_breadth_mm + 20)
    (found,) = (one for one in traps([*marks, *again], BOAT) if one.kind != "duplicate")
    assert (found.kind, found.numbers[1]) == ("measured twice", again[5].number)


@pytest.mark.parametrize("shape", ["round", "tumblehome", "flare", "straight", "chine", "flat floors"])
def test_marks_without_names_are_left_in_peace(hull, shape):
    for frames, count, seed in [(15, 12, 1), (25, 20, 3)]:
        marks = [replace(mark, label="") for mark in hull(shape, frames=frames, count=count, seed=seed)]
        assert [pair for pair in pairs(marks, BOAT) if pair.differs] == []


def test_flat_floors_are_many_points_at_one_height(hull):
    """Marks at one height whose line lies level are points of their own, however close."""
    marks = hull("flat floors", count=20)
    one = next(m for m in marks if m.frame == "8" and m.label == "m3")
    assert traps([*marks, replace(one, number=999, half_breadth_mm=one.half_breadth_mm + 30, label="")], BOAT) == ()


def test_the_other_hand_is_another_point(hull):
    marks = hull(side="P", seed=1) + hull(side="S", seed=2)
    assert not pairs(sorted(marks, key=lambda mark: mark.station_mm), BOAT)


def test_too_few_marks_tell_no_direction():
    assert pairs([Mark("1", 0.0, 100.0, 100.0 + 9 * i) for i in range(3)], BOAT) == []
