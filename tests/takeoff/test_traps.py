"""Blunder traps: each blunder planted in a clean hull is named, and clean hulls are left in peace.

The hulls are made up of plain shapes (conftest.py); the Wigley hull is in tests/published/test_traps_on_wigley.py.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.boat import Boat
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.traps import traps

BOAT = Boat("Merganser", half_beam_mm=1560.0)
NO_BEAM = Boat("Merganser")
SHAPES = ["round", "tumblehome", "hollow garboards", "flat floors", "chine", "straight", "flare"]
LISTED = [
    "up", "down", "sheer first", "sheer and keel first", "one buttock last", "waterlines, then buttocks",
]  # fmt: skip


def changed_over(mark):
    return replace(mark, height_mm=mark.half_breadth_mm, half_breadth_mm=mark.height_mm)


def only(found, kind):
    """Return the one doubt found, which must be of `kind`."""
    assert [one.kind for one in found] == [kind], [one.text for one in found]
    return found[0]


@pytest.mark.parametrize("listed", LISTED)
@pytest.mark.parametrize("shape", SHAPES)
def test_a_clean_hull_is_left_in_peace(hull, shape, listed):
    for frames, count, base, seed in [(15, 12, 0, 1), (8, 6, 300, 2), (25, 20, 800, 3), (5, 14, 0, 4)]:
        marks = hull(shape, frames=frames, count=count, base=base, seed=seed, listed=listed)
        assert traps(marks, BOAT) == ()


def test_both_sides_are_left_in_peace(hull):
    marks = hull(side="P", seed=1) + hull(side="S", seed=2)
    assert traps(sorted(marks, key=lambda mark: mark.station_mm), BOAT) == ()


def test_hulls_whose_end_frames_were_measured_below_only(hull):
    for shape in SHAPES:
        marks = [mark for mark in hull(shape) if 3 <= int(mark.frame) <= 13 or mark.height_mm < 800]
        assert traps(marks, BOAT) == ()


def test_a_few_frames_and_none():
    assert traps([], BOAT) == ()
    assert traps([Mark("1", 0.0, 0.0, 0.0)], BOAT) == ()
    assert traps([Mark(str(i), 0.0 + i * 500, j * 100.0, 50.0 * j) for i in range(3) for j in range(3)], BOAT) == ()


@pytest.mark.parametrize("sides", ["", "PS"])
def test_of_some_marks_the_same_is_doubted_as_among_all(hull, sides):
    """What is sent is held against all that stands, and looked for where it was sent alone: by our own whole search."""
    rng = np.random.default_rng(5)
    marks = [mark for side in sides or [""] for mark in hull(side=side, seed=7)]
    for i in rng.choice(len(marks), 6, replace=False):
        marks[i] = changed_over(marks[i])
    marks = [changed_over(mark) if mark.frame == "4" else mark for mark in marks]
    marks += [replace(marks[20], half_breadth_mm=BOAT.half_beam_mm + 50.0), marks[33]]
    marks = [replace(mark, number=n) for n, mark in enumerate(marks, start=1)]
    found = traps(marks, BOAT)
    assert len({one.kind for one in found}) >= 3
    for frame, side in {(mark.frame, mark.side) for mark in marks}:
        new = {mark.number for mark in marks if (mark.frame, mark.side) == (frame, side)}
        assert traps(marks, BOAT, new) == tuple(one for one in found if new & set(one.numbers))


def test_over_the_half_beam(hull):
    marks = hull()
    marks[100] = replace(marks[100], half_breadth_mm=1600.0)
    found = only(traps(marks, BOAT), "half-beam")
    assert (found.frame, found.numbers, found.lines) == ("9", (101,), (102,))
    assert found.text == (
        "frame 9, m4 (line 102): half-breadth 1600 is over the half-beam 1560; measure again, or "
        "put the half-beam right."
    )


def test_the_measuring_error_is_allowed_over_the_half_beam():
    at = [Mark("9", 0.0, 500.0, over) for over in (1565.9, 1566.1)]
    assert [found.numbers for found in traps(at, BOAT) if found.kind == "half-beam"] == [(0,)]
    loose = [replace(mark, sigma_mm=10.0) for mark in at]
    assert not [found for found in traps(loose, BOAT) if found.kind == "half-beam"]


def test_in_feet_the_words_are_in_feet():
    found = traps([Mark("2", 0.0, 228.6, 692.15, "P", "WL 3")], Boat("x", units="ft", half_beam_mm=609.6))
    assert "frame 2 port, WL 3: half-breadth 2-3-2 is over the half-beam 2-0-0" in found[0].text
    twice = traps([Mark("2", 0.0, 228.6, 692.15, "P", label) for label in ("a", "b")], Boat("x", units="ft"))
    assert "lies within 3/64 in of frame 2 port, a" in twice[0].text


def test_a_mark_entered_twice(hull):
    marks = hull()
    marks.append(replace(marks[40], number=999, line=500, label="again", height_mm=marks[40].height_mm + 0.9))
    found = only(traps(marks, BOAT), "duplicate")
    assert found.numbers == (41, 999)
    assert found.text.startswith("frame 4, again (line 500): lies within 1 mm of frame 4, m4 (line 42); if it is")


def test_marks_close_together_are_not_the_same(hull):
    marks = hull()
    marks.insert(41, replace(marks[40], number=999, label="again", height_mm=marks[40].height_mm + 1.1))
    assert traps(marks, BOAT) == ()


def test_the_same_point_of_the_other_side_is_another_mark():
    marks = [Mark("1", 0.0, 100.0, 200.0, side) for side in ("P", "S", "")]
    assert traps(marks, BOAT) == ()


def test_a_frame_entered_twice_is_told_once(hull):
    marks = hull()
    again = [replace(mark, number=mark.number + 500) for mark in marks if mark.frame == "4"]
    found = only(traps(marks + again, BOAT), "duplicate")
    assert "frame 4: 12 of 24 marks lie on marks given before; was it entered twice?" in found.text
    assert len(found.numbers) == 24


def test_one_label_for_two_marks(hull):
    marks = hull()
    marks[40] = replace(marks[40], label="M7")
    found = only(traps(marks, BOAT), "label twice")
    assert found.numbers == (41, 44)
    assert found.text.endswith("the label m7 comes 2 times in frame 4 (42, 45); give each mark its own.")


@pytest.mark.parametrize("shape", SHAPES)
def test_a_mark_changed_over(hull, shape):
    named = tried = 0
    for count, base, seed in [(12, 0, seed) for seed in range(12)] + [(20, 800, seed) for seed in range(12)]:
        marks, rng = hull(shape, count=count, base=base, seed=seed), np.random.default_rng(seed)
        far = [i for i, m in enumerate(marks) if abs(m.height_mm - m.half_breadth_mm) > 6000 / count]
        i = int(rng.choice(far))
        marks[i] = changed_over(marks[i])
        found = traps(marks, NO_BEAM)
        tried += 1
        named += any(one.kind == "swapped" and one.numbers == (i + 1,) for one in found)
        assert len(found) <= 1
    assert named >= 0.9 * tried


def test_the_words_for_a_mark_changed_over(hull):
    marks = hull()
    marks[95] = changed_over(marks[95])
    found = only(traps(marks, NO_BEAM), "swapped")
    assert found.text.startswith(
        "frame 8, m11 (line 97): fits its frame much better with height and half-breadth changed"
    )


@pytest.mark.parametrize("shape", SHAPES)
def test_a_frame_changed_over(hull, shape):
    for frame in ("6", "8", "11"):
        marks = [changed_over(m) if m.frame == frame else m for m in hull(shape, base=800)]
        found = only(traps(marks, NO_BEAM), "swapped")
        assert (found.frame, len(found.numbers)) == (frame, 12)
        assert f"frame {frame}: all 12 marks fit the frames beside it much better" in found.text


@pytest.mark.parametrize("shape", SHAPES)
def test_two_frames_side_by_side_changed_over(hull, shape):
    marks = [changed_over(m) if m.frame in ("8", "9") else m for m in hull(shape, base=800)]
    found = traps(marks, NO_BEAM)
    assert sorted(one.frame for one in found) == ["8", "9"]
    assert all(one.kind == "swapped" and len(one.numbers) == 12 for one in found)


@pytest.mark.parametrize("base", [0, 300, 800])
@pytest.mark.parametrize("shape", SHAPES)
def test_a_file_changed_over_is_told_once(hull, shape, base):
    marks = [changed_over(mark) for mark in hull(shape, base=base)]
    for boat in (BOAT, NO_BEAM):
        found = only(traps(marks, boat), "swapped")
        assert len(found.numbers) == len(marks)
        assert "height and half-breadth may be in each other's column throughout" in found.text


@pytest.mark.parametrize(("here", "there"), [(5, 8), (3, 9), (8, 4)])
@pytest.mark.parametrize("shape", SHAPES)
def test_a_mark_out_of_order(hull, shape, here, there):
    marks = hull(shape)
    marks.insert(7 * 12 + there, marks.pop(7 * 12 + here))
    found = only(traps(marks, NO_BEAM), "order")
    assert found.numbers == (7 * 12 + here + 1,)
    assert "stands out of order between its neighbours as listed" in found.text


def test_the_same_stray_in_two_frames_is_a_habit(hull):
    marks = hull()
    for frame in (4, 7):
        marks.insert(frame * 12 + 8, marks.pop(frame * 12 + 5))
    assert traps(marks, NO_BEAM) == ()


def station(marks, frame, mm):
    return [replace(mark, station_mm=mm) if mark.frame == frame else mark for mark in marks]


@pytest.mark.parametrize("turned", [1, -1])
def test_a_station_that_does_not_rise_with_the_numbers(hull, turned):
    marks = [replace(mark, station_mm=turned * mark.station_mm) for mark in hull()]
    found = only(traps(station(marks, "6", turned * 6150.0), NO_BEAM), "station")
    assert found.frame == "6"
    assert "frame 6: station" in found.text
    assert "does not rise with the frame numbers (5 at" in found.text


def test_a_station_that_no_unit_puts_right(hull):
    found = only(traps(station(hull(), "6", 500.0), NO_BEAM), "station")
    assert "frame 6: station 500 does not rise with the frame numbers (5 at 2400 and 7 at 3600)" in found.text


def test_frames_between_frames_keep_their_order(hull):
    marks = [replace(mark, frame={"7": "6A", "8": "6b"}.get(mark.frame, mark.frame)) for mark in hull()]
    assert traps(marks, BOAT) == ()
    assert only(traps(station(marks, "6A", 5000.0), BOAT), "station").frame == "6A"


def test_numbers_that_mean_no_order_are_left_in_peace(hull):
    rng = np.random.default_rng(3)
    other = {str(i + 1): str(n + 1) for i, n in enumerate(rng.permutation(15))}
    assert traps([replace(mark, frame=other[mark.frame]) for mark in hull()], BOAT) == ()
    names = [replace(mark, frame="ABCDEFGHIJKLMNO"[int(mark.frame) - 1]) for mark in hull()]
    assert traps(names, BOAT) == ()


@pytest.mark.parametrize("frame", ["2", "3", "9", "15"])
@pytest.mark.parametrize(("unit", "mm"), [("m", 1000.0), ("in", 25.4), ("ft", 304.8), ("cm", 10.0)])
def test_a_station_in_another_unit(hull, frame, unit, mm):
    marks = hull()
    right = next(mark.station_mm for mark in marks if mark.frame == frame)
    found = only(traps(station(marks, frame, right / mm), NO_BEAM), "station unit")
    assert found.frame == frame
    assert f"taken as {unit} it would be {right:.0f}, which fits them" in found.text


@pytest.mark.parametrize("frame", ["8", "8a", "9", "14"])
@pytest.mark.parametrize("inserted", ["9", "14"])
def test_a_station_in_metres_beside_a_frame_put_in(hull, inserted, frame):
    """Frame 8a stands a whole space after 8, or 13a after 13, whatever their names say of how near they are."""
    put_in = int(inserted)
    called = {str(n): str(n) if n < put_in else f"{put_in - 1}a" if n == put_in else str(n - 1) for n in range(1, 16)}
    marks = [replace(mark, frame=called[mark.frame]) for mark in hull()]
    if frame == "8a" and inserted != "9":
        frame = "13a"
    right = next(mark.station_mm for mark in marks if mark.frame == frame)
    found = only(traps(station(marks, frame, right / 1000), NO_BEAM), "station unit")
    assert f"taken as m it would be {right:.0f}, which fits them" in found.text


def test_two_frames_at_one_station(hull):
    marks = [replace(mark, frame="ABCDEFGHIJKLMNO"[int(mark.frame) - 1]) for mark in hull()]
    found = only(traps(station(marks, "F", 3600.0), NO_BEAM), "station")
    assert found.text.startswith("frames F and G both stand at 3600; give each its own station, or both the same name")


@pytest.mark.parametrize(("times", "word"), [(1 / 1000, "close"), (1 / 25.4, "close"), (1000, "far apart")])
def test_all_stations_in_another_unit_are_told_once(hull, times, word):
    marks = [replace(mark, station_mm=mark.station_mm * times) for mark in hull()]
    found = only(traps(marks, NO_BEAM), "station unit")
    assert f"the frames stand {word} for sections of this size" in found.text


@pytest.mark.parametrize("space", [150.0, 300.0, 3000.0])
def test_spaces_that_hulls_have(hull, space):
    assert traps(hull(space=space), BOAT) == ()


def test_uneven_spaces_are_left_in_peace(hull):
    rng = np.random.default_rng(8)
    for seed in range(20):
        steps = np.cumsum(rng.uniform(150, 1200, 15))
        marks = [replace(mark, station_mm=float(steps[int(mark.frame) - 1])) for mark in hull(seed=seed, count=6)]
        assert traps(marks, BOAT) == ()


def test_many_marks_at_once_are_not_compared_each_with_each():
    rng = np.random.default_rng(1)
    cloud = [Mark("1", 0.0, float(z), float(y), number=i) for i, (y, z) in enumerate(rng.uniform(0, 1500, (20_000, 2)))]
    assert all(found.kind == "duplicate" for found in traps([*cloud, *cloud[:10]], BOAT))


length = st.sampled_from([0.0, 1.0, 500.0, 1e6]) | st.floats(-1e6, 1e6)
marks_of_any_kind = st.lists(
    st.builds(
        Mark,
        frame=st.sampled_from(["1", "2", "3A", "bow", "4.5", "5"]),
        station_mm=length,
        height_mm=length,
        half_breadth_mm=length.map(abs),
        side=st.sampled_from(["P", "S", ""]),
        label=st.sampled_from(["", "a", "A"]),
        number=st.integers(0, 3),
    ),
    max_size=40,
)


@settings(max_examples=150, deadline=None)
@given(marks_of_any_kind, st.none() | st.floats(1, 1e6), st.sampled_from(["mm", "ft"]))
def test_any_marks_are_looked_through(marks, half_beam, units):
    for found in traps(marks, Boat("x", half_beam_mm=half_beam, units=units)):
        assert found.text.endswith(".")
        assert found.numbers
        assert len(found.numbers) == len(found.lines)


@pytest.mark.parametrize("shape", [shape for shape in SHAPES if shape != "straight"])
@pytest.mark.parametrize("hands", ["P", "PS"])
def test_a_frame_changed_over_on_one_hand_or_both_is_named_wherever_it_stands(hull, shape, hands):
    """The sections of the frames beside it tell where it lies, at the ends and amidships alike."""
    both = sorted(hull(shape, side="P", seed=1) + hull(shape, side="S", seed=2), key=lambda mark: mark.station_mm)
    numbered = [replace(mark, number=i + 1, line=i + 2) for i, mark in enumerate(both)]
    for frame in ("1", "3", "8", "12", "15"):
        marks = [changed_over(m) if m.frame == frame and m.side in hands else m for m in numbered]
        found = [one for one in traps(marks, NO_BEAM) if one.kind == "swapped"]
        assert {one.frame for one in found} == {frame}
        if hands == "PS":
            assert len(found) == 2
