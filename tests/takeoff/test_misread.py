"""Figures written down wrongly are undone: whatever slip of the pen is planted, what was meant is among those tried."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.takeoff.misread import misread

LENGTHS = st.integers(10, 9999).map(str)


@settings(max_examples=60, deadline=None)
@given(LENGTHS, st.data())
def test_what_was_meant_is_among_those_tried(meant, data):
    at = data.draw(st.integers(0, len(meant) - 1))
    planted = {
        "two figures changed over": meant[:at] + meant[at : at + 2][::-1] + meant[at + 2 :],
        "a figure too many": meant[:at] + meant[at] + meant[at:],
        "the last figure left out": meant[:-1],
        "a minus left out": meant.removeprefix("-"),
    }
    for words, written in planted.items():
        wanted = f"-{meant}" if words == "a minus left out" else meant
        assert written == wanted or (words, wanted) in misread(written)
    assert ("a minus too much", meant) in misread(f"-{meant}")


@pytest.mark.parametrize(
    ("written", "meant"), [("1129.5 mm", "1192.5 mm"), ("3-5-4", "3-4-5"), ("4-3-5+", "3-4-5+"), ("12,9", "21,9")]
)
def test_units_and_fractions_stay_as_they_were_written(written, meant):
    assert ("two figures changed over", meant) in misread(written)


@pytest.mark.parametrize("text", ["", "abc", "3' 4\"", "3-4", "--1", "1/2"])
def test_what_is_no_plain_length_is_left_alone(text):
    assert list(misread(text)) == []
