"""The hull-support rule, looked at by itself: which members may be out together, and what must stand before each.

The rule is the yard's own (common practice, no source); each expected value follows from its words by counting frames.
"""

from dataclasses import replace

import pytest
from yards import LABELS, MONDAY, frames

from scrieve.workplan import Did, HullRules, Job, Member, breaches, shoring
from scrieve.workplan.support import Open, Pair, frame_pairs, plank_clash

TWO_BETWEEN = HullRules(sound_between=2, frames_out=3)


def plank(name, side, strake, *labels):
    return Member("plank", name, 25.0, 0, side, strake, labels)


def test_every_two_frames_that_may_not_simply_be_out_at_once_are_told():
    """3 and 6 have 4 and 5 between, which wait; 6 and 9 have 7 and 8, which stay; 3 and 9 have 5 between, of which 4,
    5 and 6 wait. At the ends of the row nothing lies between."""
    every = Job(frames("3", "4", "5", "6", "9"), LABELS)
    never = [("3", "4"), ("3", "5"), ("4", "5"), ("4", "6"), ("5", "6")]
    waiting = [Pair("frame 3", "frame 6", ("frame 4", "frame 5"), 0, 2)]
    found = frame_pairs(every, TWO_BETWEEN)
    assert [(p.one[6:], p.other[6:]) for p in found if p.least is None] == never
    assert [p for p in found if p.least is not None] == waiting
    one_stays = Job(frames("3", "4", "6"), LABELS)
    assert Pair("frame 3", "frame 6", ("frame 4",), 1, 1) in frame_pairs(one_stays, TWO_BETWEEN)
    counts = frame_pairs(every, replace(TWO_BETWEEN, old_counts=True))
    assert [(p.one[6:], p.other[6:]) for p in counts] == never, "those that wait count as sound where the builder says"


def test_a_frame_that_was_renewed_and_signed_is_sound():
    signed = {"frame 4: inspect": Did(MONDAY, MONDAY)}
    found = frame_pairs(Job(frames("3", "4", "5", "6"), LABELS, signed), TWO_BETWEEN)
    assert {"frame 4"} & {key for p in found for key in (p.one, p.other)} == set()
    assert Pair("frame 3", "frame 6", ("frame 5",), 1, 1) in found


@pytest.mark.parametrize(
    ("one", "other", "clash"),
    [
        (("P", 2), ("S", 2), False),  # the other side
        (("P", 2), ("P", 3), True),
        (("P", 2), ("P", 4), True),  # one strake between, two are wanted
        (("P", 2), ("P", 5), False),
        (("P", None), ("P", 9), True),  # not known: taken for a neighbour
        (("", 2), ("S", 3), True),  # of both sides
    ],
)
def test_planks_that_may_not_be_off_together(one, other, clash):
    pair = plank("a", *one), plank("b", *other)
    assert plank_clash(*pair, HullRules(strakes_between=2)) is clash
    assert plank_clash(*pair[::-1], HullRules(strakes_between=2)) is clash


def told(job, rules=TWO_BETWEEN, **opens):
    """What is told of members open from a time to a time, by number: f3=(0, 5)."""
    keys = {("frame " if name[0] == "f" else "plank ") + name[1:]: Open(*span) for name, span in opens.items()}
    return breaches(job, keys, rules)


def test_the_hull_is_looked_along_at_the_moment_something_comes_out():
    four = Job(frames("3", "4", "5", "6"), LABELS)
    (said,) = told(four, f3=(0, 5), f6=(4, 9))
    assert said == "frames 3 and 6 are out at once (4) with 0 sound between; 2 are wanted"
    assert told(four, f3=(0, 5), f6=(5, 9)) == (), "closed as the other comes out"
    assert told(four, f3=(0, 5), f6=(0, 5)) != (), "both at one blow"
    assert told(four, f4=(0, 2), f5=(2, 4), f3=(4, 9), f6=(5, 9)) == (), "4 and 5 are renewed by then"
    (said,) = told(four, f4=(0, 2), f3=(2, 9), f6=(5, 9))
    assert "with 1 sound between" in said
    assert told(four, replace(TWO_BETWEEN, old_counts=True), f3=(0, 5), f6=(4, 9)) == ()
    renewed = replace_done(four, "frame 4", "frame 5")
    assert told(renewed, f3=(0, 5), f6=(4, 9)) == ()
    far = Job(frames("1", "5", "9", "12"), LABELS)
    assert told(far, f1=(0, 5), f5=(0, 5), f9=(0, 5)) == ()
    assert "4 frames are out at once" in told(far, f1=(0, 5), f5=(0, 5), f9=(0, 5), f12=(1, 5))[-1]


def replace_done(job, *keys):
    return Job(job.members, job.hull_frames, {f"{key}: inspect": Did(MONDAY, MONDAY) for key in keys})


def test_planks_are_counted_side_by_side():
    shell = Job((plank("a", "P", 2), plank("b", "P", 5), plank("c", "S", 2), plank("d", "", 9)), LABELS)
    one, two = HullRules(planks_off=1), HullRules(planks_off=2)
    assert told(shell, one, pa=(0, 5), pc=(0, 5)) == ()
    assert told(shell, one, pc=(0, 5), pb=(1, 5)) == ()
    assert told(shell, one, pa=(0, 5), pb=(1, 5)) == ("2 planks are off at once (1) on side P; 1 may be",)
    assert told(shell, two, pa=(0, 5), pb=(1, 5)) == ()
    assert told(shell, one, pc=(0, 5), pd=(1, 5)) == ("2 planks are off at once (1) on side S; 1 may be",)
    assert "3 planks are off at once (2) on side P" in told(shell, two, pa=(0, 5), pb=(1, 5), pd=(2, 5))[0]


def test_what_must_stand_names_the_frames_beside():
    what = Job(frames("1", "2", "5", "12"), LABELS)
    at = {m.name: shoring(what, m, TWO_BETWEEN) for m in what.members}
    assert "at frames 4 and 6; none is moved" in at["5"][0]
    assert at["5"][-1] == "Frames that must stay in meanwhile: 3, 4, 6, 7."
    assert at["1"][-1] == "Frames that must stay in meanwhile: 2, 3.", "the first of the hull"
    assert at["2"][-1] == "Frames that must stay in meanwhile: 1, 3, 4."
    assert at["12"][-1] == "Frames that must stay in meanwhile: 10, 11."
    strake = shoring(what, plank("a", "S", 2, "4", "5", "6"), TWO_BETWEEN)
    assert "starboard" in strake[0]
    assert "over frames 4 to 6" in strake[1]
