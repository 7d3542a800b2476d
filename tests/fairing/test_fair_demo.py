"""The demo boat: her true shape is one formula (examples/merganser/form.py); two readings are wrong on purpose."""

from dataclasses import replace
from pathlib import Path

import pytest

from scrieve.boat import Boat
from scrieve.fairing import fair
from scrieve.takeoff.offsets import read_marks

MARKS = Path(__file__).parents[2] / "examples" / "merganser" / "marks.csv"


@pytest.fixture(scope="module")
def hull_and_marks():
    reading = read_marks(MARKS.read_bytes(), MARKS.name)
    marks = [replace(mark, number=number) for number, mark in enumerate(reading.marks, 1)]
    return fair(marks, Boat("Merganser", sigma_mm=1.5)), marks


def test_the_two_planted_blunders_are_named_first_and_few_others(hull_and_marks):
    hull, marks = hull_and_marks
    named = [(off.frame, off.side, marks[off.number - 1].label, off.guess) for off in hull.suspects]
    # make_merganser.py: 304.8 mm on the height, 25 mm off the half-breadth
    assert named[0] == ("17", "P", "6", "height a foot too great?")
    assert named[1] == ("29", "S", "9", "half-breadth an inch or 20 mm too small?")
    assert len(named) <= 4  # of 1001


def test_the_error_is_found_again(hull_and_marks):
    hull, _ = hull_and_marks
    assert hull.error_mm == pytest.approx(1.5, rel=0.15)  # readings are good to 1.5 mm, and taken to the whole mm
