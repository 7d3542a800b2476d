"""The fair line with its marks: departures on the right side of the line, at the stated stretch."""

from dataclasses import dataclass

import numpy as np
import pytest

from scrieve.errors import BadGeometry
from scrieve.sheets.drawing import Circle, Line, Text
from scrieve.sheets.fair_line import fair_line_drawing
from scrieve.takeoff.marks import Mark

from .conftest import overlapping
from .members import section


@dataclass(frozen=True)
class Departure:
    number: int
    residual_mm: float
    suspect: bool = False


def at(k: int, number: int, side: str = "S", out: float = 0.0) -> Mark:
    """A mark `out` mm outside point `k` of the section."""
    line = section().points_mm
    t = line[k + 1] - line[k - 1]
    y, z = line[k] + out * np.array([t[1], -t[0]]) / np.hypot(*t)
    return Mark("14", 7616.0, float(z), float(y), side=side, number=number)


def test_a_departure_is_drawn_outwards_where_the_mark_lies_outside_and_stretched_as_stated():
    marks = [at(100, 1, "P", 3.0), at(300, 2, "S", -2.0)]
    drawing = fair_line_drawing(section(), marks, [Departure(1, 3.0), Departure(2, -2.0)])
    words = next(item.text for item in drawing.items if isinstance(item, Text) and "drawn" in item.text)
    stretch = float(words.split("drawn ")[1].split()[0])
    dots = [item for item in drawing.items if isinstance(item, Circle)]
    line = section().points_mm
    assert stretch > 1
    assert [dot.filled for dot in dots] == [False, True]
    for dot, k, out in zip(dots, (100, 300), (3.0, -2.0), strict=True):
        wanted = at(k, 0, out=out * stretch)
        assert dot.at == pytest.approx((wanted.half_breadth_mm, wanted.height_mm), abs=0.5)
        assert np.hypot(*(np.array(dot.at) - line[k])) == pytest.approx(abs(out) * stretch, abs=0.5)


def test_a_suspect_is_written_out_and_kept_on_the_sheet():
    drawing = fair_line_drawing(section(), [at(200, 7, "P", -300.0)], [Departure(7, -304.8, suspect=True)])
    assert "-305 mm P" in {item.text for item in drawing.items if isinstance(item, Text)}
    assert {item.layer for item in drawing.items if isinstance(item, Circle)} == {"MARKS"}
    bare = fair_line_drawing(section())
    assert drawing.size_mm[0] <= 1.2 * bare.size_mm[0]


def test_the_band_is_two_standard_deviations_stretched_alike():
    drawing = fair_line_drawing(section())
    stretch = float(next(i.text for i in drawing.items if isinstance(i, Text)).split("drawn ")[1].split()[0])
    outer, inner = drawing.on_layer("BAND")
    width = np.hypot(*(outer.points - inner.points).T)  # the section's sd is 1 mm all along
    assert width == pytest.approx(4.0 * stretch)


def test_marks_of_other_frames_and_of_none_are_left_out():
    drawing = fair_line_drawing(section(), [at(100, 1)], [])
    assert not [item for item in drawing.items if isinstance(item, Circle)]
    assert [item for item in drawing.items if isinstance(item, Line)]  # the centreline
    assert overlapping(drawing) == []


def test_marks_without_numbers_of_their_own_are_refused():
    with pytest.raises(BadGeometry, match="share a number"):
        fair_line_drawing(section(), [at(100, 0), at(200, 0)], [Departure(0, 1.0), Departure(0, 2.0)])
