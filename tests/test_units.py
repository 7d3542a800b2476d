"""Lengths and angles: what a person types, and what is written back."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scrieve.errors import BadLength
from scrieve.units import format_angle, format_length, parse_length, parse_packed

INCH = 25.4


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1234", 1234.0),
        (" 28mm ", 28.0),
        ("28 MM", 28.0),
        ("2.8 cm", 28.0),
        ("1.2m", 1200.0),
        ("1,5", 1.5),
        ("1234,5 mm", 1234.5),
        (".5", 0.5),
        ("-12", -12.0),
        ("−12", -12.0),
        ("(0-0-4)", -12.7),
        ("(12)", -12.0),
        ('4 5/8"', 4.625 * INCH),
        ("4⅝ in", 4.625 * INCH),
        ("½ in", 0.5 * INCH),
        ("3' 4 5/8\"", 40.625 * INCH),
        ("3′ 4⅝″", 40.625 * INCH),
        ('1-1/4"', 1.25 * INCH),
        ("1-1/4in", 1.25 * INCH),
        ("3'-4 5/8\"", 40.625 * INCH),
        ("3'-4-5/8\"", 40.625 * INCH),
        ("3ft 4in", 40 * INCH),
        ("3'", 36 * INCH),
        ("2.5 ft", 30 * INCH),
        ("3–4–5", 40.625 * INCH),
        (12, 12.0),
        (0.1, 0.1),
        (-3.5, -3.5),
    ],
)
def test_read(text, mm):
    assert parse_length(text) == pytest.approx(mm, rel=1e-15)


@pytest.mark.parametrize(("units", "mm"), [("mm", 2.0), ("cm", 20.0), ("m", 2000.0), ("in", 50.8)])
def test_a_bare_number_is_of_the_unit_in_force(units, mm):
    assert parse_length("2", units) == mm
    assert parse_length(2, units) == mm
    assert parse_length("2mm", units) == 2.0


def test_in_feet_a_bare_number_is_not_guessed_at():
    with pytest.raises(
        BadLength, match=r"found '12' where feet-inches-eighths are expected; write 3-4-5, or add a unit"
    ):
        parse_length("12", "ft")
    assert parse_length("0", "ft") == 0


@pytest.mark.parametrize(
    "text",
    [
        "",
        "  ",
        "abc",
        "23-10",
        "1-2-3-4",
        "1-1/4",
        "-1/4in",
        "3'-",
        "1--2",
        "1-2-3*",
        "-1-2-3",
        "12 34",
        "5/0 in",
        "1e3",
        "12 furlongs",
        "()",
        "3' 4' 5'",
    ],
)
def test_what_is_no_length_is_named(text):
    with pytest.raises(BadLength, match=r"found .*; expected mm or feet-inches-eighths such as 3-4-5\."):
        parse_length(text)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_none(value):
    with pytest.raises(BadLength, match=r"found '-?(nan|inf)'; expected"):
        parse_length(value)


def test_true_is_no_length():
    with pytest.raises(BadLength, match=r"found 'True'"):
        parse_length(True)


@pytest.mark.parametrize(("text", "part"), [("3-12-1", "inches 12"), ("3-4-8", "eighths 8"), ("0-11-9+", "eighths 9")])
def test_inches_and_eighths_out_of_their_run(text, part):
    with pytest.raises(BadLength, match=rf"{part}; inches run 0 to 11 and eighths 0 to 7"):
        parse_length(text)


def test_a_comma_that_may_be_for_thousands_is_asked_about():
    with pytest.raises(BadLength, match=r"found '1,234': is the comma a decimal sign or for thousands"):
        parse_length("1,234")


def test_an_unknown_unit_in_force():
    with pytest.raises(BadLength, match=r"unit 'yd' is not known; use one of mm, cm, m, in, ft"):
        parse_length("2", "yd")


@pytest.mark.parametrize("text", ["", "228", "1 125 3", "abc", "12-3", "9 128", "1 1234"])
def test_packed_that_is_not(text):
    with pytest.raises(BadLength, match=r"expected inches and eighths packed, such as 227 or 1 54"):
        parse_packed(text)


@given(st.integers(0, 16 * 12 * 200))
def test_every_sixteenth_comes_back(sixteenths):
    mm = sixteenths / 16 * INCH
    for sign in (1, -1):
        assert parse_length(format_length(sign * mm, "ft"), "ft") == pytest.approx(sign * mm, abs=1e-9)


@given(st.floats(-1e5, 1e5))
def test_eighths_are_written_to_the_nearest_sixteenth(mm):
    assert abs(parse_length(format_length(mm, "ft"), "ft") - mm) <= INCH / 32 + 1e-9


@given(st.floats(-1e6, 1e6), st.integers(0, 6))
def test_mm_are_written_to_their_digits(mm, digits):
    assert abs(parse_length(format_length(mm, digits=digits)) - mm) <= 0.5 * 10**-digits + 1e-9


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_in_words(text):
    try:
        assert math.isfinite(parse_length(text))
    except BadLength as error:
        assert str(error).startswith("found ")  # noqa: PT017 - either is right


@pytest.mark.parametrize(
    ("mm", "units", "text"),
    [
        (-0.2, "mm", "0"),
        (-0.6, "mm", "-1"),
        (math.nan, "mm", "–"),
        (-0.3, "ft", "0-0-0"),
        (-12.7, "ft", "(0-0-4)"),
        (304.8 - 0.1, "ft", "1-0-0"),
        (1.5875 / 2, "ft", "0-0-0+"),  # half a sixteenth goes up
    ],
)
def test_write(mm, units, text):
    assert format_length(mm, units) == text


def test_angles():
    assert format_angle(math.pi / 6) == "30.0°"
    assert format_angle(math.atan(4.5 / 30), 2) == "8.53°"
