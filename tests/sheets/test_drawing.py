"""The drawing model: measures, hatching, dimensions, turning; checks are closed forms and laws of plane geometry."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.errors import BadGeometry
from scrieve.sheets.drawing import (
    LAYERS,
    Circle,
    Dimension,
    Drawing,
    Hatch,
    Line,
    Text,
    one_to,
    plain,
    polyline,
    printable,
    shorten,
)

SQUARE = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)])
L_SHAPE = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 20.0), (20.0, 20.0), (20.0, 100.0), (0.0, 100.0)])


@pytest.mark.parametrize(("shape", "area"), [(SQUARE, 10_000.0), (L_SHAPE, 3_600.0)])
@pytest.mark.parametrize("style", ["diagonal", "back", "upright", "level"])
def test_hatching_length_times_spacing_is_the_area(shape, area, style):
    # Cavalieri: lines `spacing` apart cut an area of about length × spacing; end effects fall with the spacing
    lines = Hatch(shape, style, 0.5).lines()
    length = np.hypot(*(lines[:, 1] - lines[:, 0]).T).sum()
    assert length * 0.5 == pytest.approx(area, rel=0.005)


def test_cross_hatching_is_both_ways():
    assert len(Hatch(SQUARE, "cross", 5).lines()) == sum(
        len(Hatch(SQUARE, style, 5).lines()) for style in ("diagonal", "back")
    )


def test_hatching_stays_inside_a_hollow_outline():
    lines = Hatch(L_SHAPE, "diagonal", 3).lines()
    middle = lines.mean(axis=1)
    assert (((middle > -1e-9) & (middle < 100 + 1e-9)).all(axis=1)).all()
    assert not ((middle > 20 + 1e-9).all(axis=1)).any()  # the notch of the L stays clear


def test_a_dimension_line_stands_to_the_left_of_its_direction_and_is_as_long_as_the_distance():
    parts = Dimension((0, 0), (300, 400), 50, "500", 5).parts()
    line = parts[2]
    assert np.hypot(line.end[0] - line.start[0], line.end[1] - line.start[1]) == pytest.approx(500)
    assert line.start == pytest.approx((-40.0, 30.0))  # left of (3, 4)/5 is (-4, 3)/5, times 50


@pytest.mark.parametrize("end", [(100, 0), (-100, 0), (0, 100), (0, -100), (-70, 50)])
def test_dimension_lettering_is_never_upside_down(end):
    text = Dimension((0, 0), end, 20, "100", 5).parts()[-1]
    assert isinstance(text, Text)
    assert -90 <= text.angle_deg <= 90


@settings(max_examples=40, deadline=None)
@given(st.floats(-360, 360))
def test_turning_keeps_every_distance(degrees):
    items = (Line((3, 4), (60, -8), "CENTRELINE"), Circle((10, 20), 2, "MARKS"), Text((5, 5), "14", 4))
    turned = Drawing(items).turned(degrees)
    line, circle, text = turned.items
    assert np.hypot(line.end[0] - line.start[0], line.end[1] - line.start[1]) == pytest.approx(np.hypot(57, 12))
    assert np.hypot(*circle.at) == pytest.approx(np.hypot(10, 20))
    assert text.angle_deg == degrees


def test_a_quarter_turn_is_exact():
    turned = Drawing((polyline(SQUARE, "SEAM EDGE", closed=True),)).turned(90)
    assert turned.bounds == (-100.0, 0.0, 0.0, 100.0)


def test_bounds_take_in_the_lettering():
    drawing = Drawing((Line((0, 0), (10, 0), "GRID"), Text((0, 0), "a long label", 5)))
    assert drawing.bounds[2] == pytest.approx(12 * 5 * 0.602 / 0.729)


def test_lettering_level_moves_the_baseline():
    text = Text((0, 0), "14", 10, level="top", angle_deg=90)
    assert text.foot == pytest.approx((10.0, 0.0))  # a turned 'down' points to the right


@pytest.mark.parametrize(
    ("size", "n"), [((176, 100), 1), ((200, 100), 1.5), ((1760, 10), 10), ((1761, 10), 15), ((13600, 2000), 80)]
)
def test_scale_is_the_largest_usual_one_that_fits(size, n):
    assert one_to(*size, room_mm=(176, 128)) == n


def test_an_empty_drawing_and_a_point_that_is_no_number_are_named():
    with pytest.raises(BadGeometry, match="'nothing' is empty"):
        _ = Drawing((), "nothing").bounds
    with pytest.raises(BadGeometry, match=r"SEAM EDGE.*two finite points"):
        polyline([(0, 0), (np.nan, 1)], "SEAM EDGE")
    with pytest.raises(BadGeometry, match="not numbers"):
        _ = Drawing((Line((0, 0), (np.inf, 1), "GRID"),), "x").bounds


def test_plain_takes_hatching_and_dimensions_apart(hand):
    kinds = {type(part).__name__ for item in hand.items for part in plain(item)}
    assert kinds == {"Polyline", "Line", "Circle", "Text"}


def test_user_text_is_made_printable_and_short():
    assert printable("a\r\n b\x00\ud800\u202e") == "a b���"
    assert len(shorten("x" * 500, 20)) == 20
    assert shorten("14 P") == "14 P"


def test_a_drawing_can_be_retitled(hand):
    assert replace(hand, title="other").items is hand.items


def test_the_page_on_sheets_names_every_layer_and_no_other():
    words = (Path(__file__).parents[2] / "docs" / "sheets.md").read_text(encoding="utf-8")
    listed = words.split("## Layers")[1].split("A file holds")[0]
    assert set(re.findall(r"`([A-Z ]+)`", listed)) == set(LAYERS)
