"""Wrong hand and wrong side: each slip planted is named, and clean hulls are left in peace.

Clean hulls of all shapes are also in test_traps.py, since `traps` looks for these slips too.
"""

import json
from dataclasses import replace

import numpy as np
import pytest

from scrieve.boat import Boat
from scrieve.takeoff.tapes import fix_point
from scrieve.takeoff.traps import traps

BOAT = Boat("Merganser")
SHAPES = ["round", "tumblehome", "hollow garboards", "flat floors", "chine", "straight", "flare"]
OTHER = {"P": "S", "S": "P"}


def only(found, kind):
    assert [one.kind for one in found] == [kind], [one.text for one in found]
    return found[0]


@pytest.fixture
def both(hull):
    """Both hands of a hull, frame by frame, each mark numbered."""

    def make(shape="round", **more):
        marks = hull(shape, side="P", seed=1, **more) + hull(shape, side="S", seed=2, **more)
        marks.sort(key=lambda mark: (mark.station_mm, mark.side))
        return [replace(mark, number=n + 1, line=n + 2) for n, mark in enumerate(marks)]

    return make


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("side", ["P", "S"])
def test_a_mark_of_the_wrong_hand(both, shape, side):
    marks = both(shape)
    i = next(i for i, m in enumerate(marks) if (m.frame, m.side, m.label) == ("6", side, "m7"))
    marks[i] = replace(marks[i], side=OTHER[side])
    found = [one for one in traps(marks, BOAT) if one.kind != "duplicate"]  # alike to 1 mm by chance
    said = only(found, "wrong hand")
    names = {"P": "port", "S": "starboard"}
    assert said.frame == "6"
    assert i + 1 in said.numbers
    assert len(said.numbers) == 2
    assert f"frame 6: m7 comes twice to {names[OTHER[side]]} and never to {names[side]}; one of the two" in said.text


def test_a_frame_of_the_wrong_hand_is_told_once(both):
    marks = [replace(m, side="P") if m.frame == "6" else m for m in both()]
    said = only([one for one in traps(marks, BOAT) if one.kind != "duplicate"], "wrong hand")
    assert len(said.numbers) == 24
    assert said.text.startswith("frame 6: m0, m1, m2")


def test_a_frame_of_the_wrong_hand_without_labels(both):
    marks = [replace(m, label="", side="S" if m.frame == "6" else m.side) for m in both()]
    found = [one for one in traps(marks, BOAT) if one.kind != "duplicate"]
    said = only(found, "wrong hand")
    assert "frame 6: all 24 marks are to starboard, about twice as many as other frames have on each hand" in said.text


def test_frames_measured_on_one_hand_only_are_left_in_peace(both, hull):
    marks = [m for m in both() if m.side == "P" or int(m.frame) % 3]
    assert traps(marks, BOAT) == ()
    assert traps(hull(side="S"), BOAT) == ()
    assert traps([m for m in both() if m.side == "P" or m.frame == "4"], BOAT) == ()


def test_labels_that_come_on_every_frame_of_one_hand_alone(hull):
    """A hull of one hand only: a label that comes twice is that, and no question of hands."""
    marks = hull(side="P")
    marks[40] = replace(marks[40], label="m7")
    assert only(traps(marks, BOAT), "label twice").numbers == (41, 44)


def taped(marks, frame):
    """The frame's marks as three tapes in one line would have placed them, with the mirror image of each."""
    nails, found = np.array([[1950.0, -100.0], [1850.0, 700.0], [1750.0, 1500.0]]), []
    for mark in marks:
        if mark.frame == frame:
            point = np.array([mark.half_breadth_mm, mark.height_mm])
            tapes = np.hypot(*(point - nails).T)
            here, there = (fix_point(nails, tapes, side=side).point_mm for side in ("left", "right"))
            assert here == pytest.approx(point, abs=1e-6)
            mark = replace(mark, way="tapes", raw=json.dumps({"read": {}, "found": {"other_mm": there.tolist()}}))
        found.append(mark)
    return found


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("place", [3, 6, 10])
def test_a_mark_on_the_wrong_side_of_the_nails(hull, shape, place):
    marks = taped(hull(shape, base=300, frames=9), "5")
    assert traps(marks, BOAT) == ()
    i = 4 * 12 + place
    across, up = marks[i].found["other_mm"]
    raw = json.dumps({"found": {"other_mm": [marks[i].half_breadth_mm, marks[i].height_mm]}})
    marks[i] = replace(marks[i], half_breadth_mm=across, height_mm=up, raw=raw)
    said = only(traps(marks, BOAT), "wrong side")
    assert (said.frame, said.numbers) == ("5", (i + 1,))
    assert "fits its frame much better on the other side of what it was set off from. Look at 'lies'" in said.text
