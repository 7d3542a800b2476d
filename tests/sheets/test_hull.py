"""The three views, drawn from a hull known in closed form.

Source of the form: the Wigley hull y = (B/2)(1 - (2x/L)²)(1 - (z/T)²), Canadian Defence Research (Atlantic) technical
communication 89/308, 1989; half-breadths of any waterline follow from the formula.
"""

import xml.etree.ElementTree as ET
from typing import ClassVar

import numpy as np
import pytest

from scrieve.sheets.drawing import Line, Polyline, Text
from scrieve.sheets.hull import body_plan, half_breadth_plan, profile, waterline
from scrieve.sheets.svg import page_svg

from .conftest import overlapping

LENGTH, BEAM, DEPTH = 10_000.0, 1_000.0, 625.0


def half_breadth(x, z):
    return BEAM / 2 * (1 - (2 * x / LENGTH - 1) ** 2) * (1 - ((z - DEPTH) / DEPTH) ** 2)


class Wigley:
    """Stations 0 to 10 m aft, heel at the baseline, head at the waterline; a little in from both ends."""

    x_range = (200.0, 9_800.0)
    stations: ClassVar = {str(n): 400.0 * n for n in range(1, 25)}

    def point(self, x, v):
        x, z = np.broadcast_arrays(x, np.asarray(v) * DEPTH)
        return np.stack([x, half_breadth(x, z), z], axis=-1)


@pytest.fixture
def hull():
    return Wigley()


def lines(drawing, layer):
    return [item for item in drawing.on_layer(layer) if isinstance(item, Polyline)]


def test_waterlines_of_the_half_breadth_plan_lie_on_the_formula(hull):
    drawing = half_breadth_plan(hull, waterlines_mm=(150.0, 300.0, 450.0))
    runs = lines(drawing, "WATERLINES")
    assert len(runs) == 3
    for run, z in zip(runs, (150.0, 300.0, 450.0), strict=True):
        x, y = run.points.T
        # straight pieces 4 mm high: off the curve by h²/8 · B/T² < 0.01 mm
        assert y == pytest.approx(half_breadth(x, z), abs=0.01)


def test_a_waterline_ends_where_the_heel_line_comes_up_to_it():
    x = np.array([0.0, 100.0, 200.0, 300.0])
    heel = np.array([300.0, 100.0, 0.0, 0.0])  # a raked forefoot
    grid = np.array([[(10.0, z), (50.0, 400.0)] for z in heel])
    (run,) = waterline(x, grid, 200.0)
    assert run[0] == pytest.approx((50.0, 10.0))  # half-way from 300 up to 100
    assert len(run) == 4


def test_forward_frames_lie_to_the_right_and_after_frames_to_the_left(hull):
    drawing = body_plan(hull, link=lambda label: f"frames/{label}")
    for item in lines(drawing, "SECTIONS"):
        label = int(item.title.removeprefix("frame "))
        broadest = 12 if label in (12, 13) else None
        if broadest is None:
            assert (item.points[-1, 0] > 0) == (400.0 * label < LENGTH / 2)
        z = item.points[:, 1]
        assert np.abs(item.points[:, 0]) == pytest.approx(half_breadth(400.0 * label, z), abs=0.1)


@pytest.mark.parametrize("view", [body_plan, profile, half_breadth_plan])
def test_every_frame_can_be_picked_in_every_view(hull, view):
    drawing = view(hull, link=lambda label: f"frames/{label}", not_measured={"7": 2800.0, "7a": 3000.0})
    picked = {item.link for item in drawing.items if isinstance(item, (Polyline, Line)) and item.link}
    assert picked == {f"frames/{label}" for label in [*hull.stations, "7a"]}
    assert len(drawing.on_layer("SECTIONS NOT MEASURED")) == 2
    root = ET.fromstring(page_svg(drawing))
    assert len(root.findall(".//{http://www.w3.org/2000/svg}a")) >= len(hull.stations)


@pytest.mark.parametrize("view", [body_plan, profile, half_breadth_plan])
def test_no_lettering_stands_on_other_lettering(hull, view):
    assert overlapping(view(hull)) == []


@pytest.mark.parametrize("view", [body_plan, profile, half_breadth_plan])
def test_heights_are_written_in_the_builders_units(hull, view):
    words = {item.text for item in view(hull, units="ft").items if isinstance(item, Text)}
    assert words & {"0-6-0", "1-0-0"} or view is half_breadth_plan


def test_the_profile_shows_heel_and_head(hull):
    heel, head = lines(profile(hull), "PROFILE")
    assert heel.points[:, 1] == pytest.approx(0.0)
    assert head.points[:, 1] == pytest.approx(DEPTH)


def test_a_hull_without_named_stations_still_has_a_body_plan(hull):
    hull.stations = {}
    assert len(lines(body_plan(hull), "SECTIONS")) == 10  # nine, the broadest on both sides
