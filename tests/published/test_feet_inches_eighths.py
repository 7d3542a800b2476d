"""Feet-inches-eighths.

Sources: hobby and model builders' pages on reading a table of offsets, as gathered in the project's notes (2-3-4 is
27.5 in; 3-8-4 is 44.5 in; 0-6-2 is 6-1/4 in, with + a sixteenth more; 13-0-2 is 13 ft 0-1/4 in), and an old canoe
book's packed form (227 is 22-7/8 in, 1 54 is 1 ft 5-4/8 in). The rest follows from their rule by hand. The inch is
25.4 mm exactly (ISO 31-1 / the 1959 agreement), so every value is exact in binary arithmetic or nearly.
"""

import pytest

from scrieve.units import format_length, parse_length, parse_packed


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("2-3-4", 27.5),
        ("3-8-4", 44.5),
        ("0-6-2", 6.25),
        ("0-6-2+", 6.3125),
        ("0-6-2-", 6.1875),
        ("13-0-2", 156.25),
        ("10-1-6", 121.75),
        ("1-7-4+", 19.5625),
        ("1-7-3+", 19.4375),
        ("1-7-4-", 19.4375),
    ],
)
@pytest.mark.parametrize("units", ["mm", "ft", "m"])  # the notation says its own unit
def test_read(text, inches, units):
    assert parse_length(text, units) == inches * 25.4


def test_an_eighth_with_plus_and_the_next_with_minus_are_one_length():
    assert parse_length("1-7-3+") == parse_length("1-7-4-")


@pytest.mark.parametrize(("text", "inches"), [("227", 22.875), ("1 54", 17.5)])
def test_packed(text, inches):
    assert parse_packed(text) == inches * 25.4


@pytest.mark.parametrize(
    ("inches", "text"),
    [(27.5, "2-3-4"), (44.5, "3-8-4"), (6.3125, "0-6-2+"), (6.1875, "0-6-1+"), (156.25, "13-0-2"), (19.4375, "1-7-3+")],
)
def test_write(inches, text):  # odd sixteenths as the eighth below with a plus
    assert format_length(inches * 25.4, "ft") == text
