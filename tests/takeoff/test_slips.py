"""Slips against a fair line: each kind planted is named; measuring noise and odd misses are not.

The fair lines are a circle and straight lines, so that where a mark should lie is known exactly.
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.errors import BadMarks
from scrieve.takeoff.slips import slip, slip_to_line

SIZES = {"1 inch": 25.4, "1 foot": 304.8, "2 feet": 609.6} | {f"{mm} mm": float(mm) for mm in (100, 200, 400, 700)}
ARC = np.radians(np.linspace(0, 90, 181))
BILGE = np.column_stack([1200 * np.sin(ARC), 1200 - 1200 * np.cos(ARC)])  # a bilge of 1200 mm radius, heel to head


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("words", SIZES)
def test_one_reading(words, sign):
    rng = np.random.default_rng(4)
    named = 0
    for miss in sign * SIZES[words] + rng.normal(0, 1.5, 200):
        found = slip(miss, 1.5)
        named += found is not None and words in found.words and (found.size_mm > 0) == (sign > 0)
    assert named >= 0.97 * 200  # within 2.5 sd: 98.8 %


@pytest.mark.parametrize("lean", [0, 20, 70, 90, 160, 250])
@pytest.mark.parametrize("of", ["height", "half-breadth"])
@pytest.mark.parametrize("words", SIZES)
def test_a_straight_line_however_it_leans(words, of, lean):
    """The slip shows square to the line by its share of the normal; where that is small, nothing is named."""
    normal = np.array([math.sin(math.radians(lean)), -math.cos(math.radians(lean))])
    slipped = SIZES[words] * (np.array([0, 1]) if of == "height" else np.array([1, 0]))
    miss = float(slipped @ normal) * normal
    found = slip(miss, 1.0)
    share = abs(normal[1 if of == "height" else 0])
    if share * SIZES[words] <= 2.5:
        assert found is None
    elif share >= 0.7:
        assert words in found.words
        assert found.text.startswith(f"{of} too large by ")


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("words", SIZES)
def test_slips_planted_on_a_bilge(words, sign):
    """A mark on a bent line, slipped in one reading: taken back, it must come on to the line again."""
    rng, named, tried = np.random.default_rng(7), 0, 0
    for _ in range(60):
        angle = rng.uniform(0.1, 1.45)
        of = 0 if math.sin(angle) > math.cos(angle) else 1  # the reading that goes more nearly square to the line
        point = np.array([1200 * math.sin(angle), 1200 - 1200 * math.cos(angle)]) + rng.normal(0, 1.5, 2)
        point[of] += sign * SIZES[words]
        if point[0] < 0 or abs(math.hypot(point[0], point[1] - 1200) - 1200) < 12:
            continue  # it came out near the line again: no trap can see it
        tried += 1
        found = slip_to_line(point, BILGE, 1.5)
        right = found is not None and words in found.words and (found.size_mm > 0) == (sign > 0)
        named += right and found.of == ("half-breadth", "height")[of]
    assert named >= 0.8 * tried > 8  # the rest fit another slip as well, or better


def test_misses_of_any_size_are_seldom_named():
    """A miss that is no slip is named by chance only: 2 x 2.5 sd of each 100 mm, and a little for inch and foot."""
    rng = np.random.default_rng(5)
    misses = rng.uniform(30, 900, 2000)
    named = sum(slip(miss, 1.0) is not None for miss in misses)
    assert named / 2000 < 0.05 + 0.03
    assert named / 2000 > 0.03  # the count is not empty


def test_a_loose_measure_names_nothing():
    assert slip(25.4, 2.5).words == "1 inch"
    assert slip(25.4, 2.6) is None
    assert slip(300.0, 15.0).words == "1 foot"  # hundreds are too close together for this error, feet are not
    assert slip(304.8, 40.0) is None


def test_what_a_foot_and_300_mm_have_in_common_is_said():
    assert slip(302.0, 2.0).words in ("1 foot or 300 mm", "300 mm or 1 foot")
    assert slip(299.0, 1.0).words == "300 mm"


@settings(max_examples=100, deadline=None)
@given(st.floats(-4, 4), st.floats(0.2, 3), st.sampled_from([25.4, 304.8, 100.0, 500.0]))
def test_mirrored_and_turned_by_a_right_angle(noise, sd, size):
    """Half-breadth and height are judged alike, over and under alike."""
    out, up, under = slip([size + noise, 0], sd), slip([0, size + noise], sd), slip([-size - noise, 0], sd)
    assert (out is None) == (up is None) == (under is None)
    if out is not None:
        assert (out.of, up.of) == ("half-breadth", "height")
        assert out.words == up.words == under.words
        assert out.size_mm == up.size_mm == -under.size_mm
        assert slip(size + noise, sd).size_mm == out.size_mm


@settings(max_examples=100, deadline=None)
@given(st.tuples(st.floats(-2000, 2000), st.floats(-2000, 2000)), st.floats(0.1, 20))
def test_any_miss_and_any_point(point, sd):
    for found in (slip(point, sd), slip_to_line(point, BILGE, sd)):
        assert found is None or (found.text.endswith("?") and found.left_sd <= 2.5)


@pytest.mark.parametrize(
    ("make", "match"),
    [
        (lambda: slip([1, 2, 3], 1), r"miss of the shape \(3,\); give one reading's miss, or half-breadth and height"),
        (lambda: slip(math.nan, 1), "miss of the shape"),
        (lambda: slip(30, 0), "standard deviation: 0 mm"),
        (lambda: slip_to_line([1, 2], [[0, 0]], 1), "off a line of two points or more"),
    ],
)
def test_what_cannot_be_judged(make, match):
    with pytest.raises(BadMarks, match=match):
        make()
