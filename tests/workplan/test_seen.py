"""What the bench recorded of a frame stands done in the plan: the glue-up and all before it, the release."""

from datetime import datetime, timedelta

import pytest
from yards import LABELS, frames, job, yard

from scrieve.workplan import Did, Job, faults, make_plan
from scrieve.workplan.kinds import FRAME
from scrieve.workplan.members import on_jigs
from scrieve.workplan.status import Seen, waits_for, with_seen
from scrieve.workplan.work import prepare

NOON = datetime(2026, 3, 4, 12)
DAY = timedelta(days=1)
KEYS = [kind.key for kind in FRAME]


def finished(done, label):
    return [key for key in KEYS if (did := done.get(f"frame {label}: {key}")) and did.finished]


def test_a_glue_up_and_a_release_tell_of_all_before_them():
    done = with_seen({}, [Seen("3", "glue", NOON)], {}, 1)
    assert finished(done, "3") == ["stock", "plane", "set", "dry", "glue"]
    assert finished(with_seen({}, [Seen("3", "glue", NOON), Seen("3", "release", NOON + DAY)], {}, 1), "3") == [
        "stock", "plane", "set", "dry", "glue", "release"
    ]  # fmt: skip
    work = prepare(yard(2), Job(frames("3"), LABELS, done), NOON, 30)
    assert work.turns[0].held == 1, "it is on the jig"
    assert [each.why for each in waits_for(work, "frame 3: release")] == ["cure in the clamps"]
    assert all(each.signature for each in waits_for(work, "frame 3: rip") if each.op == "frame 3: accept"), (
        "a signature is never concluded"
    )


def test_what_was_recorded_or_denied_goes_before_what_is_concluded():
    own = Did(NOON - 2 * DAY, NOON - DAY, ("Ada",), 2, 90.0)
    done = with_seen({"frame 3: glue": own}, [Seen("3", "glue", NOON)], {}, 2)
    assert done["frame 3: glue"] is own
    said = {"frame 3: dry": NOON + DAY, "frame 3: plane": NOON - DAY}
    assert "dry" not in finished(with_seen({}, [Seen("3", "glue", NOON)], said, 1), "3")
    assert "plane" in finished(with_seen({}, [Seen("3", "glue", NOON)], said, 1), "3")


@pytest.mark.parametrize(("jigs", "on"), [(1, {"8": 1}), (2, {"3": 1, "8": 2})])
def test_a_frame_that_another_was_glued_after_on_the_only_jig_is_off_it_and_still_to_be_measured(jigs, on):
    done = with_seen({}, [Seen("3", "glue", NOON), Seen("8", "glue", NOON + DAY)], {}, jigs)
    assert on_jigs(done) == on
    what, crew, at = Job(frames("3", "8"), LABELS, done), yard(2, jigs=jigs), NOON + 5 * DAY
    work = prepare(crew, what, at, 30)
    assert {turn.label: turn.held for turn in work.turns} == on
    assert waits_for(work, "frame 3: release") == (), "cured: it may be measured, wherever it lies"
    assert [each.op for each in waits_for(work, "frame 3: accept")] == ["frame 3: release"], "nothing was measured"
    plan = make_plan(crew, what, at, seconds=1.0)
    assert faults(plan, crew, what) == ()
    assert not {f"frame {label}: glue" for label in ("3", "8")} & set(plan.by_op)
    assert {"frame 3: release", "frame 8: release"} <= set(plan.by_op)


def test_the_first_of_two_jigs_to_be_filled_is_the_one_that_a_third_frame_takes():
    seen = [Seen(label, "glue", NOON + n * DAY) for n, label in enumerate(("3", "8", "5"))]
    assert on_jigs(with_seen({}, seen, {}, 2)) == {"8": 2, "5": 1}
    later = {"frame 3: release": Did(NOON + 3 * DAY, NOON + 3 * DAY)}
    assert on_jigs(with_seen(later, seen[:2], {}, 2)) == {"8": 2}, "it was on the first jig as frame 8 was glued"
    off = Seen("8", "release", NOON + 1.5 * DAY)
    assert on_jigs(with_seen({}, [*seen, off], {}, 2)) == {"3": 1, "5": 2}


def test_a_jig_set_for_a_frame_is_to_be_set_anew_once_another_was_glued_on_it():
    own = {f"frame 8: {key}": Did(NOON, NOON, ("Ada",), 1) for key in ("stock", "plane", "set", "dry")}
    assert finished(with_seen(own, [], {}, 1), "8") == ["stock", "plane", "set", "dry"]
    assert finished(with_seen(own, [Seen("3", "glue", NOON + DAY)], {}, 1), "8") == ["stock", "plane"]
    assert finished(with_seen(own, [Seen("3", "glue", NOON + DAY)], {}, 2), "8") == ["stock", "plane", "set", "dry"]


def test_a_pair_made_again_is_measured_again():
    told = [Seen("3", "glue", NOON), Seen("3", "release", NOON + DAY), Seen("3", "glue", NOON + 2 * DAY)]
    rip = Did(NOON + DAY, NOON + DAY, ("Ada",))
    assert finished(with_seen({"frame 3: rip": rip}, told, {}, 1), "3") == ["stock", "plane", "set", "dry", "glue"]
    assert "rip" in finished(with_seen({"frame 3: rip": rip}, told[:2], {}, 1), "3")
    assert finished(with_seen({}, (), {}, 1), job("3").members[0].name) == []


def test_a_pair_glued_again_cures_from_the_second_glue_up_on_and_what_was_set_for_it_since_stands():
    told = [Seen("3", "glue", NOON), Seen("3", "glue", NOON + 7 * DAY)]
    own = {"frame 3: set": Did(NOON + 6 * DAY, NOON + 6 * DAY, ("Ada",), 1, 35.0)}
    done = with_seen(own, told, {}, 1)
    assert done["frame 3: glue"].finished == NOON + 7 * DAY
    assert done["frame 3: set"].minutes == 35.0
    old = with_seen({"frame 3: set": Did(NOON, NOON, ("Ada",), 1, 35.0)}, told, {}, 1)
    assert old["frame 3: set"].minutes is None, "that was for the first"
