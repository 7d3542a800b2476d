"""What a builder is told when no hull can be found, and that nonsense never ends in anything else."""

from dataclasses import replace

import numpy as np
import pytest
from forms import FORMS, MORE
from hypothesis import given, settings
from hypothesis import strategies as st
from planted import take_off

from scrieve.boat import Boat
from scrieve.errors import CannotFair, ScrieveError
from scrieve.fairing import fair
from scrieve.takeoff.marks import Mark

BOAT = Boat("some boat", sigma_mm=1.5)
WIGLEY, _, CHINE = FORMS
TWO_CHINES = MORE[1]


def some_marks(**changes):
    return take_off(WIGLEY, frames=6, marks=6, **changes).marks


def test_three_frames_are_too_few():
    marks = [mark for mark in some_marks() if mark.frame in "012"]
    with pytest.raises(CannotFair, match=r"at least 4 frames with 3 or more marks each.* 3 found of 3\.$"):
        fair(marks, BOAT)


def test_no_marks_at_all():
    with pytest.raises(CannotFair, match="there are no marks yet; a hull needs at least 4 frames"):
        fair([], BOAT)


def test_frames_with_too_few_marks_are_named():
    marks = [mark for mark in some_marks() if mark.frame not in "145" or mark.number % 6 in (1, 2)]
    with pytest.raises(CannotFair, match=r"3 found of 6; too few marks on 1 \(2\), 4 \(2\), 5 \(2\)\."):
        fair(marks, BOAT)


def test_marks_all_at_one_place_count_once():
    heap = [Mark(str(i // 5), 500.0 * (i // 5), 300.0, 700.0, number=i + 1) for i in range(30)]
    with pytest.raises(CannotFair, match=r"at different places; 0 found of 6; too few marks on 0 \(1\), 1 \(1\)"):
        fair(heap, BOAT)


def test_dropped_marks_count_for_nothing():
    marks = some_marks()
    drop = {mark.number: "drop" for mark in marks if mark.frame in "012" and mark.kind == ""}
    with pytest.raises(CannotFair, match=r"3 found of 6; too few marks on 0 \(2\), 1 \(2\), 2 \(2\)"):
        fair(marks, BOAT, answers=drop)


def test_two_frames_at_one_station():
    marks = [replace(mark, station_mm=0.0) if mark.frame in "23" else mark for mark in some_marks()]
    with pytest.raises(CannotFair, match="frames 2 and 3 stand at one station, 0 mm"):
        fair(marks, BOAT)


def test_one_frame_with_two_stations():
    marks = some_marks()
    marks[8] = replace(marks[8], station_mm=marks[8].station_mm + 70)
    with pytest.raises(CannotFair, match=r"frame 1 has two stations, .* give each frame one station"):
        fair(marks, BOAT)


def test_heels_on_two_frames_only():
    marks = [replace(mark, kind="") if mark.kind == "heel" and mark.frame in "0125" else mark for mark in some_marks()]
    with pytest.raises(CannotFair, match=r"the heel is marked on too few frames \(3, 4\); mark it on at least 3"):
        fair(marks, BOAT)


@pytest.mark.parametrize(("form", "frame"), [(TWO_CHINES, "3"), (CHINE, "0")])
def test_a_dropped_knuckle_mark_leaves_the_knuckle_in_its_frame(form, frame):
    """One tap says that the mark is wrong, not that the frame is round there: the truth is the form's own knuckle."""
    take = take_off(form, 2, frames=8)
    first = next(mark for mark in take.marks if mark.frame == frame and mark.kind == "knuckle")
    slipped = [replace(mark, height_mm=mark.height_mm + 120) if mark == first else mark for mark in take.marks]
    hull = fair(slipped, BOAT, answers={first.number: "drop"})
    assert len(hull.knuckles_at(first.station_mm)) == len(form.knuckles)
    true = form.section(first.station_mm, np.array(form.knuckles[:1]))[0]
    found = hull.fit.value(first.station_mm, hull.features[1])[0]
    spread = np.sqrt(np.trace(hull.fit.point_covariance(first.station_mm, hull.features[1])[0]))
    assert np.hypot(*(found - true)) < 2.5 * spread
    assert spread < 25


def test_a_knuckle_that_cannot_be_told_from_another():
    marks = take_off(CHINE, frames=6, marks=8).marks
    second = next(i for i, mark in enumerate(marks) if mark.frame == "2" and mark.kind == "")
    marks[second] = replace(marks[second], kind="knuckle")
    with pytest.raises(CannotFair, match=r"frame 0 has fewer knuckle marks than others \(2\); give every knuckle mark"):
        fair(marks, BOAT)


def test_a_number_that_is_none():
    marks = some_marks()
    marks[9] = replace(marks[9], height_mm=float("nan"))
    with pytest.raises(CannotFair, match="mark 10 of frame 1 is no number"):
        fair(marks, BOAT)


@settings(max_examples=40, deadline=None)
@given(
    frames=st.integers(1, 7),
    reach=st.sampled_from([3.0, 2000.0, 1e6]),
    spacing=st.sampled_from([0.3, 500.0, 1e5]),
    chance=st.randoms(use_true_random=False),
    outside=st.booleans(),
    kinds=st.booleans(),
)
def test_nonsense_gives_finite_numbers_or_is_told(frames, reach, spacing, chance, outside, kinds):
    # any warning is an error in the test run
    def kind():
        return chance.choice(["", "", "", "heel", "head", "knuckle"]) if kinds else ""

    marks = [
        Mark(
            str(f), spacing * f, chance.uniform(-reach, reach), chance.uniform(0, reach), kind=kind(), number=10 * f + i
        )
        for f in range(frames)
        for i in range(chance.randint(2, 6))
    ]
    answers = {mark.number: chance.choice(["keep", "drop"]) for mark in marks if chance.random() < 0.1}
    boat = Boat("nonsense", planking="outside", thickness_mm=30) if outside else Boat("nonsense")
    try:
        hull = fair(marks, boat, answers=answers)
    except ScrieveError:
        return
    for x in np.linspace(*hull.x_range, 3):
        section = hull.section(x, points=40)
        for column in (section.points_mm, section.sd_mm, section.bevel_rad, section.curvature_per_mm):
            assert np.all(np.isfinite(column))
    assert np.all(np.isfinite([(off.residual_mm, off.out_by_sd, off.line_sd_mm) for off in hull.offs]))


def test_upright_stack_of_equal_marks():
    # a slab-sided box, the same frame four times over: nothing bends, and that is no fault
    marks = [
        Mark(str(f), 800.0 * f, 150.0 * i, 600.0, kind="heel" if i == 0 else "head" if i == 4 else "", number=5 * f + i)
        for f in range(5)
        for i in range(5)
    ]
    section = fair(marks, BOAT).section("2")
    assert section.half_breadth_mm == pytest.approx(600.0, abs=0.05)
    assert np.abs(section.bevel_rad).max() < 1e-4
    assert np.abs(section.curvature_per_mm).max() < 1e-5
