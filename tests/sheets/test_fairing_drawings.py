"""Drawings to fair by: what is drawn stands where the hull and the marks put it, stretched as stated.

Source of the form: the Wigley hull (analytic test hull of ship hydrodynamics); its sections are hollow inboard
throughout, and its lines follow from the formula.
"""

import re
from dataclasses import replace

import numpy as np
import pytest

from scrieve.boat import Boat
from scrieve.errors import BadGeometry
from scrieve.fairing.fairness import fairness
from scrieve.fairing.lines_plan import default_diagonals, diagonal_plane, level_line, line_in, upright_line
from scrieve.fairing.next_mark import next_marks
from scrieve.fairing.sides import sides
from scrieve.sheets.drawing import Circle, Line, Polyline, Text
from scrieve.sheets.fairing_drawings import asymmetry_drawing, diagonals_drawing, fairing_body_plan
from scrieve.sheets.svg import page_svg
from scrieve.takeoff.marks import Mark

from .conftest import overlapping

LENGTH, BEAM, DRAUGHT = 15000.0, 3000.0, 1200.0
STATIONS = np.linspace(-6000, 6000, 9)


def marks():
    """Both sides with seeded error, port out by up to 25 mm about frame 5, and two blunders."""
    rng = np.random.default_rng(7)
    made = []
    for frame, x in enumerate(STATIONS):
        for side in ("P", "S"):
            for k, v in enumerate(np.linspace(0, 1, 9)):
                z = DRAUGHT * (v - 1)
                y = BEAM / 2 * (1 - (2 * x / LENGTH) ** 2) * (1 - (z / DRAUGHT) ** 2)
                bulge = 8 * np.exp(-(((x - 1500) / 2500) ** 2) - ((v - 0.6) / 0.25) ** 2) if side == "P" else 0
                at = np.array([y + bulge, z]) + rng.normal(0, 1.0, 2)
                kind = {0: "heel", 8: "head"}.get(k, "")
                made.append(Mark(str(frame), x, at[1], abs(at[0]), side, "", None, kind, "", len(made)))
    for number, slip in ((23, 60.0), (115, 304.8)):
        made[number] = replace(made[number], half_breadth_mm=made[number].half_breadth_mm + slip)
    return made


@pytest.fixture(scope="module")
def compared():
    return sides(marks(), Boat("a form", sigma_mm=1.0), "compared")


@pytest.fixture(scope="module")
def hull(compared):
    return compared.together


def words(drawing):
    return [item.text for item in drawing.items if isinstance(item, Text)]


def stretch(drawing):
    return float(re.search(r"drawn (\d+) times", " ".join(words(drawing)))[1])


def named(drawing, title):
    return [item for item in drawing.items if getattr(item, "title", "").startswith(title)]


def test_a_departure_stands_off_the_fair_line_by_the_stated_number_of_its_millimetres(hull):
    drawing = fairing_body_plan(hull)
    k = stretch(drawing)
    assert k > 1
    dots = {(item.title, round(item.at[0])): item for item in drawing.items if isinstance(item, Circle) and item.title}
    checked = 0
    for off in hull.offs:
        if off.suspect or off.frame != "2":
            continue
        x = hull.stations["2"]
        foot, (normal, _) = hull.point(x, off.v)[1:], hull.normal(x, off.v)
        end = foot + normal[0] * off.residual_mm * k
        side = {"P": "port", "S": "starboard"}[off.side]
        dot = dots[
            f"frame 2, {side}: {off.residual_mm:+.1f} mm".replace("+0.0", "0.0").replace("-0.0", "0.0"), round(end[0])
        ]
        assert dot.at == pytest.approx(tuple(end), abs=0.01)
        assert dot.filled == (off.side == "S")
        checked += 1
    assert checked >= 16


def test_bands_are_two_standard_deviations_stretched_alike(hull):
    drawing = fairing_body_plan(hull)
    outer, inner = (item.points for item in named(drawing, "± of frame 3"))
    section = hull.section("3", 120)
    assert np.hypot(*(outer - inner).T) == pytest.approx(4 * stretch(drawing) * section.sd_mm, rel=1e-6)


def test_suspects_are_written_out_in_red_and_cut_short(hull):
    drawing = fairing_body_plan(hull)
    assert {off.number for off in hull.suspects} >= {23, 115}
    for off in hull.suspects:
        if off.number in (23, 115):
            assert any(text.startswith(f"{off.frame}: {off.residual_mm:+.0f}") for text in words(drawing))
    dots = [item for item in drawing.items if isinstance(item, Circle) and ", suspect" in item.title]
    assert len(dots) == sum(2 if off.frame == "4" else 1 for off in hull.suspects)  # the broadest is drawn twice
    bare = fairing_body_plan(hull, whiskers=False, bands=False)
    assert drawing.size_mm[0] < 1.25 * bare.size_mm[0]


def test_teeth_of_a_comb_point_outwards_and_are_as_long_as_the_curvature(hull):
    drawing = fairing_body_plan(hull, combs=["4"], bands=False, whiskers=False)
    teeth = [item for item in drawing.items if isinstance(item, Line) and item.layer == "HATCHING"]
    section = hull.section("4", 81)
    normal = np.column_stack([np.sin(section.direction_rad), -np.cos(section.direction_rad)])
    for hand in (1, -1):  # the broadest frame is drawn on both sides
        here = [t for t in teeth if np.sign(t.start[0] + t.end[0]) == hand and abs(t.start[0]) > 100]
        for tooth in here:
            at = int(np.argmin(np.hypot(*(section.points_mm * (hand, 1) - tooth.start).T)))
            out = (np.array(tooth.end) - tooth.start) @ (normal[at] * (hand, 1))
            assert out > 0
        lengths = np.array([np.hypot(*(np.array(t.end) - t.start)) for t in here])
        curvature = np.array(
            [section.curvature_per_mm[np.argmin(np.abs(section.half_breadth_mm - abs(t.start[0])))] for t in here]
        )
        cut = lengths < 0.999 * lengths.max()
        ratio = lengths[cut] / curvature[cut]
        assert cut.sum() > 20
        assert ratio == pytest.approx(np.full(cut.sum(), np.median(ratio)), rel=1e-6)


def test_places_to_measure_next_are_crossed_and_numbered_where_they_are(hull):
    places = next_marks(hull, ["4", 900.0], 4, where=["4", 900.0])
    drawing = fairing_body_plan(hull, measure_next=places)
    crosses = [item for item in drawing.items if isinstance(item, Line) and item.layer == "FRAME MARKS"]
    assert len(crosses) == 8
    middles = [(np.array(cross.start) + cross.end) / 2 for cross in crosses[::2]]
    for place, at in zip(places, middles, strict=True):
        assert (abs(at[0]), at[1]) == pytest.approx((place.half_breadth_mm, place.height_mm), abs=1e-6)
    figures = [item for item in named(drawing, "measure here") if isinstance(item, Text)]
    assert [item.text for item in figures] == ["1", "2", "3", "4"]
    # the station between frames is there to hold the cross, dashed
    assert any(place.frame == "" for place in places)
    assert drawing.on_layer("SECTIONS NOT MEASURED")


def test_lines_are_drawn_out_in_their_own_plane(hull):
    planes = [diagonal_plane((0.0, 0.0), np.radians(30)), diagonal_plane((0.0, -200.0), np.radians(50))]
    lines = [line_in(hull, plane) for plane in planes] + [level_line(hull, -500.0), upright_line(hull, 900.0)]
    drawing = diagonals_drawing(hull, lines)
    drawn = [item for item in drawing.items if isinstance(item, Polyline) and item.layer == "PROFILE"]
    assert len(drawn) == sum(len(line.runs) for line in lines)
    for line in lines:
        for run, item in zip(line.runs, [one for one in drawn if one.title == line.name], strict=True):
            shift = item.points - run.flat_mm
            assert shift[:, 0] == pytest.approx(0)
            assert np.ptp(shift[:, 1]) == pytest.approx(0, abs=1e-6)  # its strip stands higher, no more
    # every frame can be picked
    linked = diagonals_drawing(hull, lines, link=lambda label: f"frames/{label}")
    assert {item.link for item in linked.items if isinstance(item, Line) and item.link} == {
        f"frames/{label}" for label in hull.stations
    }


def test_readings_of_the_frames_own_marks_stand_off_the_line_as_stated(hull):
    planes = default_diagonals(hull, 2)
    report = fairness(hull, planes, counted_only=True)
    drawing = diagonals_drawing(hull, [line_in(hull, plane) for plane in planes], report)
    k = stretch(drawing)
    stems = [item for item in drawing.items if isinstance(item, Line) and item.layer == "MARKS"]
    moved = sorted(float(d) for line in report.lines for d in line.before_mm - line.after_mm)
    drawn = sorted(stem.end[1] - stem.start[1] for stem in stems)
    small = np.abs(moved) * k < 4 * 2.4 * drawing.one_to
    assert small.sum() > 20
    assert np.array(drawn)[small] == pytest.approx(np.array(moved)[small] * k, abs=1e-6)


def test_the_difference_of_the_sides_is_drawn_outside_where_port_is_wider(compared):
    drawing = asymmetry_drawing(compared)
    k = stretch(drawing)
    frame = next(frame for frame in compared.frames if frame.frame == "5")
    assert frame.real
    (line,) = (item for item in named(drawing, "frame 5: largest") if isinstance(item, Polyline))
    assert line.layer == "MARKS"
    has = np.isfinite(frame.difference_mm)
    shift = np.abs(line.points) * (1, -1) - frame.points_mm[has] * (1, 1)
    assert np.hypot(*shift.T) == pytest.approx(k * np.abs(frame.difference_mm[has]), rel=0.05, abs=1.0)
    most = int(np.nanargmax(frame.difference_mm[has]))
    assert abs(line.points[most, 0]) > frame.half_breadth_mm[has][most]
    assert any(text.startswith(f"5: {frame.largest_mm:+.0f}") for text in words(drawing))


def test_no_lettering_lies_on_other_lettering(hull, compared):
    planes = default_diagonals(hull)
    lines = [line_in(hull, plane) for plane in planes]
    for drawing in (
        fairing_body_plan(hull, combs=["2"], measure_next=next_marks(hull, ["3", "4"], 6)),
        fairing_body_plan(hull, units="ft"),
        diagonals_drawing(hull, lines, fairness(hull, planes)),
        diagonals_drawing(hull, lines, units="ft"),
        asymmetry_drawing(compared),
    ):
        assert overlapping(drawing) == []
        assert page_svg(drawing).startswith("<svg")


def test_what_cannot_be_drawn_is_told(hull):
    with pytest.raises(BadGeometry, match="there is no line to draw out; give diagonals"):
        diagonals_drawing(hull, [level_line(hull, 9000.0)])
    with pytest.raises(BadGeometry, match="the sides were not compared; fair them with 'compared'"):
        asymmetry_drawing(sides(marks(), Boat("a form", sigma_mm=1.0)))
