"""What the bench recorded of a frame stands done in the plan: the glue-up and all before it, the release."""

from datetime import datetime, timedelta

import pytest
from yards import LABELS, frames, job, yard

from scrieve.workplan import Did, Job, make_plan
from scrieve.workplan.kinds import FRAME
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


@pytest.mark.parametrize(("jigs", "off"), [(1, True), (2, False)])
def test_a_frame_glued_on_the_only_jig_shows_that_the_one_before_is_off_it(jigs, off):
    done = with_seen({}, [Seen("3", "glue", NOON), Seen("8", "glue", NOON + DAY)], {}, jigs)
    assert ("release" in finished(done, "3")) is off
    what = Job(frames("3", "8"), LABELS, done)
    assert sorted(turn.held for turn in prepare(yard(2, jigs=jigs), what, NOON + DAY, 30).turns) == (
        [1] if off else [1, 2]
    )
    plan = make_plan(yard(2, jigs=jigs), what, NOON + DAY, seconds=1.0)
    assert not {f"frame {label}: glue" for label in ("3", "8")} & set(plan.by_op)


def test_a_pair_made_again_is_measured_again():
    told = [Seen("3", "glue", NOON), Seen("3", "release", NOON + DAY), Seen("3", "glue", NOON + 2 * DAY)]
    rip = Did(NOON + DAY, NOON + DAY, ("Ada",))
    assert finished(with_seen({"frame 3: rip": rip}, told, {}, 1), "3") == ["stock", "plane", "set", "dry", "glue"]
    assert "rip" in finished(with_seen({"frame 3: rip": rip}, told[:2], {}, 1), "3")
    assert finished(with_seen({}, (), {}, 1), job("3").members[0].name) == []
