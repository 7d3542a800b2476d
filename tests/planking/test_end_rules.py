"""The ends of single planks held against sets of rules: on a cone, frames 500 mm apart."""

from dataclasses import replace

import numpy as np
import pytest
from hulls import ConeHull

from scrieve.planking.butts.end_rules import end_checks, end_shifts, ends_beside
from scrieve.planking.butts.rules import DEFAULT_RULES, butt_rules
from scrieve.planking.choice import PlankEnds, SeamMark, StrakeChoice
from scrieve.wording import in_units

HULL = ConeHull()
YACHT = butt_rules("small yacht")  # adjacent strakes: two spaces


def plank(row, first, last, **more):
    seams = [
        tuple(SeamMark(float(share * np.pi / 2 * HULL.radius(x)), "girth", label) for label, x in HULL.stations.items())
        for share in (0.3 + 0.1 * row, 0.4 + 0.1 * row)
    ]
    return StrakeChoice(f"plank {row}", lower=seams[0], upper=seams[1], first=str(first), last=str(last),
                        thickness_mm=25, **more)  # fmt: skip


def judged(own, other, rules=YACHT):
    return end_checks(ends_beside(HULL, {"own": own, "other": other}, "own"), rules)


@pytest.mark.parametrize(("apart", "ok"), [(0, False), (500, False), (1000, True)])
@pytest.mark.parametrize("row", [0, 2])  # the plank below, the plank above
def test_ends_beside_each_other_keep_their_shift(apart, ok, row):
    (shift,) = judged(plank(1, 1250, 4250), plank(row, 1250 + apart, 5750))
    assert shift.ok is ok
    if not ok:
        assert f"of the plank {'above' if row else 'below'}" in shift.found
        assert f"{apart // 500} frame space" in shift.found or "in one bay" in shift.found


def test_lengths_in_them_are_told_in_the_builders_units():
    army = butt_rules(DEFAULT_RULES)
    found = in_units(judged(plank(1, 1500, 4250), plank(0, 1500, 5750), army), "ft")
    assert "0-0-0; between frames, 0-1-7+ clear" in found[0].found  # on a frame; 50 mm are asked
    assert "and 5-0-0" in found[-1].limit  # six frame spaces and five feet


def test_strakes_further_off_and_the_other_hand_are_not_beside_it():
    own = plank(1, 1250, 4250)
    assert judged(own, plank(4, 1250, 4250))[0].ok
    assert judged(replace(own, side="P"), plank(2, 1250, 4250, side="S"))[0].ok
    assert not judged(replace(own, side="P"), plank(2, 1250, 4250))[0].ok  # for both hands


def test_a_butt_on_a_frame_and_a_short_plank_are_told():
    army = butt_rules("army, usual frame spacing")
    shift, shortest = judged(plank(1, 1500, 3750), plank(4, 1250, 4250), army)
    assert "between frames" in shift.found
    assert not shortest.ok
    assert shortest.found.startswith("4.5 frame spaces, 2.2")  # 2250 / cos of the cone's slope, 3.8°
    scarfs = replace(plank(1, 1500, 4750), ends=PlankEnds("scarf", "scarf"))
    shift, shortest = judged(scarfs, plank(4, 1250, 4250), army)
    assert shift.ok  # a scarf may lie on a frame
    assert shortest.ok


def test_each_end_is_told_beside_the_nearest_joint_of_every_strake():
    planks = {"own": plank(1, 1250, 4250), "above": plank(2, 1250, 5750), "second": plank(3, 1250, 4750),
              "far": plank(4, 1250, 4250), "too far": plank(5, 1250, 4250)}  # fmt: skip
    army = butt_rules("army, usual frame spacing")  # adjacent three spaces; one or two between: not in one bay
    told = [(one.at, one.off, one.names, one.spaces, one.apart_mm, one.asked, one.ok)
            for one in end_shifts(ends_beside(HULL, planks, "own"), army)]  # fmt: skip
    first, last = told[0][0], told[-1][0]
    assert told == [
        (first, 1, ("above",), 0, 0, "3 frame spaces", False),
        (first, 2, ("second",), 0, 0, "not in one bay", False),
        (first, 3, ("far",), 0, 0, "not in one bay", False),
        (last, 1, ("above",), 3, 1500, "3 frame spaces", True),
        (last, 2, ("second",), 1, 500, "not in one bay", True),
        (last, 3, ("far",), 0, 0, "not in one bay", False),
    ]


def test_frames_without_marks_count_as_frames_once_told_of():
    planks = {"own": plank(1, 1250, 4250), "above": plank(2, 2250, 5750)}
    bare = end_shifts(ends_beside(HULL, planks, "own"), YACHT)
    told = end_shifts(ends_beside(HULL, planks, "own", {"1a": 1600.0}), YACHT)
    assert [one.spaces for one in bare] == [2, 3]
    assert [one.spaces for one in told] == [3, 3]


def test_a_plank_that_lies_on_no_hull_is_told_and_not_judged():
    planks = {"own": plank(1, 1250, 4250), "lost": plank(2, 1250, 99_999)}
    (shift,) = end_checks(ends_beside(HULL, planks, "own"), YACHT)
    assert shift.ok
    assert "not on this hull: lost" in shift.limit
