"""The jig described once, one frame set on it, its refusals, and the changes from one setting to the next."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from sections import circle, s_shape

from scrieve.errors import BadJig
from scrieve.frames import FrameChoice
from scrieve.frames.jig.bed import JigBed
from scrieve.frames.jig.poses_curve import Curve, Pose
from scrieve.frames.jig.setting import JigSetting, changes
from scrieve.frames.jig.setting_on_bed import refusals, set_on_bed
from scrieve.frames.packet.bending import bend
from scrieve.frames.packet.laminations import lay
from scrieve.frames.shape.line import line_of
from scrieve.timber.species import species

EI = 2e8


def bent_of(shape, **choice):
    line = line_of(shape)
    found = lay(line, [species("larch")] * 8, [8.0] * 8, 3.0, 1.0)
    chosen = FrameChoice(frame="14", **choice)
    return bend(line, found, chosen), chosen


def rho(radius, bearing):
    """Radius of the bearing face in the jig in closed form: eight alike, r = 1/64, neutral line in the middle."""
    return (radius - 61.0 + 32.0) * (1 - 1 / 64) + (-32.0 if bearing == "inside" else 32.0)


@pytest.mark.parametrize("bearing", ["inside", "outside"])
@pytest.mark.parametrize("pose", [None, Pose(1400.0, 260.0, 0.08)])
def test_brackets_on_the_rails_of_the_bed_touch_the_arc(bearing, pose):
    bent, choice = bent_of(circle(1500.0, turn=1.2), bearing=bearing)
    bed = JigBed(pitch_mm=200.0, rails=19, bearing=bearing, face="round")
    jig, lie = set_on_bed(bent, choice, EI, bed, pose)
    radius = rho(1500.0, bearing)
    ends = jig.face_mm[[0, -1]]
    middle, chord = ends.mean(axis=0), ends[1] - ends[0]
    square = np.array([-chord[1], chord[0]]) / np.hypot(*chord)
    centre = middle + square * math.sqrt(radius**2 - (np.hypot(*chord) / 2) ** 2)
    assert len(jig.brackets) >= 8
    for each in jig.brackets:
        assert each.rail == 0 or each.along_mm == pytest.approx(200.0 * (each.rail - 1))
        at = np.array([each.along_mm, each.exact_travel_mm])
        assert np.hypot(*(at - centre)) == pytest.approx(radius, abs=0.02)
        way = np.array([math.cos(each.swivel_rad), math.sin(each.swivel_rad)])
        assert abs(way @ (at - centre)) < 0.6  # square to the radius: 0.02° at 1.5 m
    assert [b.s_mm for b in jig.brackets] == sorted(b.s_mm for b in jig.brackets)
    assert jig.error_mm == lie.error_mm <= 1.0
    if pose is None:
        assert jig.face_mm[:, 1].min() == pytest.approx(choice.clearance_mm, abs=1e-6)


def test_a_flat_face_stands_off_a_hollow_packet():
    # closed form: a chord of 60 mm on the inside of an arc lies w²/8ρ off its middle
    bent, choice = bent_of(circle(700.0, turn=1.2))
    flat, round_ = (
        set_on_bed(bent, choice, EI, JigBed(pitch_mm=150.0, rails=24, face=face, face_width_mm=60.0))[0]
        for face in ("flat", "round")
    )
    alike = [(a, b) for a, b in zip(flat.brackets, round_.brackets, strict=True) if a.rail and a.rail == b.rail]
    assert len(alike) >= 6
    for a, b in alike:
        off = (b.exact_travel_mm - a.exact_travel_mm) * math.cos(a.swivel_rad)
        assert off == pytest.approx(60.0**2 / 8 / rho(700.0, "inside"), rel=0.01)
    outside, chosen = bent_of(circle(700.0, turn=1.2), bearing="outside")
    for face in ("flat", "round"):  # on the round side it touches with its middle
        bed = JigBed(pitch_mm=150.0, rails=24, face=face, face_width_mm=60.0, bearing="outside")
        low = min(b.exact_travel_mm for b in set_on_bed(outside, chosen, EI, bed)[0].brackets)
        assert low == pytest.approx(100.0, abs=2.0)


def test_the_packet_bears_on_what_pushes_it():
    bent, choice = bent_of(circle(1500.0, turn=1.2))
    jig, _ = set_on_bed(bent, choice, EI, JigBed(pitch_mm=250.0, rails=16, between=False))
    forces = [each.force_n for each in jig.brackets]
    assert forces[0] < 0 < forces[1]  # bent round the brackets: its ends are clamped down to them
    assert sum(forces) == pytest.approx(0, abs=0.25 * max(forces))
    outside, chosen = bent_of(circle(1500.0, turn=1.2), bearing="outside")
    other, _ = set_on_bed(outside, chosen, EI, JigBed(pitch_mm=250.0, rails=16, between=False, bearing="outside"))
    assert other.brackets[0].force_n > 0 > other.brackets[1].force_n


@pytest.mark.parametrize(
    ("bed", "reason"),
    [
        ({"length_mm": 1500.0, "rails": 6}, r"stands \d+ mm over the (left|right) end of the bed"),
        ({"depth_mm": 250.0}, r"stands \d+ mm over the far edge of the bed"),
        ({"brackets": 5}, r"it needs \d+ brackets and the jig has 5"),
        ({"swivel_most_rad": math.radians(20)}, r"bracket 1 would swivel 3\d\.\d° and its stop is at 20°"),
        ({"travel_most_mm": 200.0}, r"bracket \d would stand at \d+ mm and its travel is 40 mm to 200 mm"),
        ({"row_mm": 400.0, "travel_most_mm": 150.0}, r"from its hole, rows 400 mm apart"),
        ({"length_mm": 3000.0, "rails": 3, "pitch_mm": 900.0}, r"meets 2 of its 3 rails, and three are the least"),
    ],
)
def test_what_does_not_go_is_refused_with_the_reason(bed, reason):
    bent, choice = bent_of(circle(1500.0, turn=1.2))
    described = JigBed.from_mapping({"pitch_mm": 250.0, **bed})
    with pytest.raises(BadJig, match=r"frame 14 does not go on this jig: .*" + reason):
        set_on_bed(bent, choice, EI, described)


def test_faces_that_overlap_are_refused_and_no_extra_bracket_is_set_so():
    bent, choice = bent_of(circle(700.0, turn=1.2))
    for width in (40.0, 90.0):
        bed = JigBed(pitch_mm=200.0, rails=18, face_width_mm=width)
        jig, _ = set_on_bed(bent, choice, EI, bed)
        at = np.array([(each.along_mm, each.travel_mm) for each in jig.brackets])
        assert np.hypot(*np.diff(at, axis=0).T).min() >= width
    wide = JigBed(pitch_mm=200.0, rails=18, face_width_mm=199.0)
    close = (jig.brackets[0], replace(jig.brackets[1], along_mm=jig.brackets[0].along_mm - 80.0, travel_mm=200.0))
    found = refusals(wide, close, jig.face_mm, jig.other_mm)
    apart = math.hypot(80.0, 200.0 - close[0].travel_mm)
    assert f"the faces of brackets 1 and 2 overlap: {apart:.0f} mm from middle to middle, each 199 mm wide" in found


def test_a_refusal_speaks_the_builders_units():
    bent, choice = bent_of(circle(1500.0, turn=1.2))
    with pytest.raises(BadJig, match=r"stands 0-\d+-\d\+? over the far edge"):
        set_on_bed(bent, choice, EI, JigBed(depth_mm=250.0), units="ft")


def test_a_bed_that_cannot_be_is_refused():
    for wrong, message in (
        ({"rails": 30}, r"rails: found 30; 7375 mm of rails lie on 4000 mm of bed"),
        ({"pitch_mm": float("nan")}, r"pitch_mm: found nan; give a number"),
        ({"bearing": "left"}, r"say inside or outside"),
        ({"travel_most_mm": 30.0}, r"the most lies above the least"),
        ({"brackets": 2}, r"give a whole number, 3 or more"),
        ({"colour": "red"}, r"'colour' is not known"),
        ({"swivel_most_rad": 1.5}, r"80° at most"),
    ):
        with pytest.raises(BadJig, match=message):
            JigBed.from_mapping(wrong)
    bed = JigBed(row_mm=50.0, travel_least_mm=20.0, travel_most_mm=90.0)
    assert JigBed.from_mapping(json.loads(json.dumps(bed.to_mapping()))) == bed
    bent, choice = bent_of(circle(1500.0, turn=1.2))
    with pytest.raises(BadJig, match="bears with the inside face, the jig takes the outside face"):
        Curve(bent, choice, JigBed(bearing="outside"))


def test_the_bed_of_a_choice_has_its_rails():
    bed = JigBed.of(FrameChoice(pitch_mm=180.0, bearing="outside", clearance_mm=30.0))
    assert (bed.pitch_mm, bed.bearing, bed.travel_least_mm) == (180.0, "outside", 30.0)
    assert bed.rails * 180.0 <= bed.length_mm


def test_a_grid_of_holes_gives_row_and_reach():
    bed = JigBed(row_mm=100.0, travel_least_mm=20.0, travel_most_mm=140.0)
    assert bed.reach(250.0) == (3, 50.0)
    assert bed.reach(215.0) == (2, 115.0)  # 15 mm from the third row is too near
    assert bed.reach(10.0) is None
    assert JigBed().reach(250.0) == (0, 250.0)


def test_changes_from_one_setting_to_the_next_add_up():
    bed = JigBed(pitch_mm=200.0, rails=19, between=False, frame_min=10.0, swivel_min=0.5)
    one, choice = bent_of(circle(1500.0, turn=1.2))
    two, _ = bent_of(circle(1520.0, turn=1.19))
    first, _ = set_on_bed(one, choice, EI, bed)
    second, _ = set_on_bed(two, choice, EI, bed)
    anew = changes(first, bed)
    assert anew.moved == len(first.brackets)
    assert anew.minutes == pytest.approx(10.0 + len(first.brackets) * (1.5 + 0.5))
    stands = JigSetting.of_jig(first)
    assert JigSetting.from_mapping(json.loads(json.dumps(stands.to_mapping()))) == stands
    assert changes(first, bed, stands).minutes == pytest.approx(10.0)
    listed = changes(second, bed, stands)
    was = {each.rail: each.travel_mm for each in first.brackets}
    for change, each in zip(listed.changes, second.brackets, strict=True):
        assert change.by_mm == pytest.approx(each.travel_mm - was[each.rail])
        assert change.moved == (each.travel_mm != was[each.rail])
    by = sum(abs(change.by_mm) for change in listed.changes)
    swivels = sum(abs(c.swivel_by_rad) >= math.radians(1) for c in listed.changes)
    assert listed.travel_mm == by > 0
    assert listed.minutes == pytest.approx(10.0 + 1.5 * listed.moved + 0.004 * by + 0.5 * swivels)


def test_rails_that_a_frame_does_not_use_stay_as_they_stood():
    bed = JigBed(pitch_mm=200.0, rails=19, between=False)
    long, choice = bent_of(circle(1500.0, turn=1.3))
    short, _ = bent_of(circle(1500.0, turn=0.8))
    before = JigSetting.of_jig(set_on_bed(long, choice, EI, bed)[0])
    jig, _ = set_on_bed(short, choice, EI, bed)
    after = JigSetting.of_jig(jig, before)
    assert len(after.stands) == len(before.stands) > len(jig.brackets)
    travel, _ = after.arrays(bed)
    old, _ = before.arrays(bed)
    used = [each.rail - 1 for each in jig.brackets]
    unused = np.setdiff1d(np.arange(19), used)
    np.testing.assert_array_equal(travel[unused], old[unused])
    with pytest.raises(BadJig, match=r"bracket on rail \d+; the bed has 5 rails"):
        before.arrays(JigBed(rails=5))


def test_a_change_is_told_as_at_the_bench():
    bed = JigBed(pitch_mm=250.0, rails=16)
    bent, choice = bent_of(s_shape())
    jig, _ = set_on_bed(bent, choice, EI, bed)
    seven = next(each for each in jig.brackets if each.number == 7)
    stood = {
        "stands": [
            {
                "rail": each.rail,
                "along_mm": each.along_mm,
                "travel_mm": each.travel_mm - 4.5 * (each is seven),
                "swivel_rad": each.swivel_rad - math.radians(1.2) * (each is seven),
            }
            for each in jig.brackets
        ]
        + [{"rail": 0, "along_mm": 4321.0, "travel_mm": 90.0, "swivel_rad": 0.0}]
    }
    listed = changes(jig, bed, JigSetting.from_mapping(stood)).changes
    place = f"rail {seven.rail}" if seven.rail else ""
    assert listed[6].words() == f"bracket 7 ({place}): out 4.5 mm, swivel +1.2°"
    assert listed[6].words("ft") == f"bracket 7 ({place}): out by 3/16 in, swivel +1.2°"
    assert listed[0].words().endswith(": stays")
    assert listed[-1].words() == "the bracket at 4321 mm from rail 1: take away"
    assert changes(jig, bed).changes[0].words().startswith("bracket 1 (")
    with pytest.raises(BadJig, match="cannot be read"):
        JigSetting.from_mapping({"stands": [{"rail": 1}]})
    with pytest.raises(BadJig, match="no number"):
        JigSetting.from_mapping({"stands": [{"rail": 1, "along_mm": 0, "travel_mm": math.nan, "swivel_rad": 0}]})


def test_a_grid_jig_takes_a_frame():
    bent, choice = bent_of(circle(1500.0, turn=1.2))
    bed = JigBed(row_mm=100.0, travel_least_mm=20.0, travel_most_mm=125.0)
    jig, _ = set_on_bed(bent, choice, EI, bed)
    for each in jig.brackets:
        row, reach = bed.reach(each.travel_mm)
        assert (row - 1) * 100.0 + reach == pytest.approx(each.travel_mm)
