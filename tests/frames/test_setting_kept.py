"""What is kept of the jig: a frame set by ticks, its plan, and what no longer holds once something has changed."""

import json
from dataclasses import replace

import numpy as np
import pytest
from sections import circle

from scrieve.errors import BadJig
from scrieve.frames.choice import FrameChoice
from scrieve.frames.design import design_frame
from scrieve.frames.jig.bed import JigBed
from scrieve.frames.jig.poses import FrameToSet, plan_settings
from scrieve.frames.jig.setting import JigSetting, Stand, changes
from scrieve.frames.jig.setting_kept import JigKept, PlanKept, frame_on_bed, read_after
from scrieve.frames.jig.setting_workings import setting_limits
from scrieve.frames.packet.designed import bent_of
from scrieve.wording import in_units

BED = JigBed(pitch_mm=150.0, rails=25)
KEPT = JigKept(BED)


@pytest.fixture(scope="module")
def designs():
    return {
        name: design_frame(circle(radius, turn=1.1), FrameChoice(frame=name))
        for name, radius in (("14", 1500.0), ("15", 1560.0))
    }


@pytest.fixture(scope="module")
def on_bed(designs):
    return frame_on_bed(designs["14"], "AAAA", KEPT)


def through_store(kept):
    """What comes back from the store, which keeps JSON."""
    stored = {"bed": kept.bed.to_mapping(), "setting": kept.setting_mapping()}
    if kept.plan:
        stored["plan"] = kept.plan.to_mapping()
    return JigKept.of(json.loads(json.dumps(stored)))


@pytest.mark.parametrize("cleaned", [False, True])
def test_the_packet_of_a_design_is_found_again(cleaned):
    design = design_frame(circle(1500.0, turn=1.1), FrameChoice(frame="14", allow_for_cleaning=cleaned))
    bent, jig = bent_of(design), design.jig
    there = np.interp(jig.s_mm, bent.girth_mm, bent.neutral.curvature_per_mm)
    assert np.allclose(there, jig.curvature_per_mm, rtol=0, atol=2e-9)
    assert bent.neutral.s_mm[-1] == pytest.approx(np.hypot(*np.diff(jig.neutral_mm, axis=0).T).sum(), abs=0.01)


def test_ticked_one_by_one_the_jig_stands_as_if_set_whole(on_bed, designs):
    kept, numbers = KEPT, [each.number for each in on_bed.jig.brackets]
    assert on_bed.ticked(kept) == ()
    for done, number in enumerate(numbers):
        kept = through_store(on_bed.tick(kept, number))
        now = frame_on_bed(designs["14"], "AAAA", kept)
        assert now.key == on_bed.key
        assert now.ticked(kept) == tuple(numbers[: done + 1])
        left = [change.bracket for change in now.change.changes if change.moved]
        assert left == numbers[done + 1 :], "what is ticked stands in the setting, nothing else does"
    assert kept.setting.stands == on_bed.set_whole(KEPT).setting.stands
    assert changes(on_bed.jig, BED, kept.setting).minutes == 0.0


def test_a_tick_taken_back_leaves_the_place_unknown(on_bed):
    kept = on_bed.set_whole(KEPT)
    undone = on_bed.untick(kept, 3)
    assert 3 not in on_bed.ticked(undone)
    change = changes(on_bed.jig, BED, undone.setting).changes[2]
    assert (change.bracket, change.was_mm) == (3, None)
    assert len(undone.setting.stands) == len(kept.setting.stands) - 1


def test_an_extra_bracket_in_the_way_is_taken_off_and_the_rails_stay(on_bed, designs):
    in_the_way = Stand(0, 913.0, 300.0, 0.0)
    rail = Stand(1, 0.0, 77.0, 0.0)
    kept = replace(KEPT, setting=JigSetting((rail, in_the_way)))
    found = frame_on_bed(designs["14"], "AAAA", kept)
    assert [change.along_mm for change in found.away] == [913.0]
    after = found.take_away(kept, 913.0)
    assert after.setting.stands == (rail,)


def test_ticks_of_another_frame_or_design_do_not_count(on_bed, designs):
    kept = on_bed.tick(KEPT, 1)
    assert frame_on_bed(designs["15"], "BBBB", kept).ticked(kept) == ()
    other = frame_on_bed(replace(designs["14"]), "AAAA", replace(kept, bed=replace(BED, face="round")))
    assert other.ticked(kept) == (), "another bed asks for other travels"
    with pytest.raises(BadJig, match="no bracket 99"):
        on_bed.tick(KEPT, 99)


def test_a_plan_is_kept_and_set_by_until_frame_or_bed_changes(designs):
    plan = plan_settings([FrameToSet(bent_of(each), each.choice) for each in designs.values()], BED)
    held = PlanKept.of(plan, {"14": "AAAA", "15": "BBBB"})
    kept = through_store(replace(KEPT, plan=held))
    assert kept.plan == held
    assert kept.plan.saving == plan.saving
    setting = None
    for turn in held.turns:
        now = replace(kept, setting=setting)
        found = frame_on_bed(designs[turn.frame], turn.revision, now)
        assert found.turn == turn
        assert found.lie.error_mm == pytest.approx(turn.departure_mm, abs=0.02)
        moved = sorted(change.rail for change in found.change.changes if change.moved)
        assert moved == sorted(turn.moved), "the change list moves what the plan moves"
        assert found.change.minutes == pytest.approx(turn.minutes)
        setting = found.set_whole(now).setting
    again = plan_settings([FrameToSet(bent_of(designs["14"]), designs["14"].choice)], BED, setting)
    later = through_store(replace(KEPT, plan=PlanKept.of(again, {"14": "AAAA"}))).plan
    assert held.before is None
    assert later.before == setting, "the first turn's changes are told from how the jig stood"
    last = held.turns[-1]
    assert frame_on_bed(designs[last.frame], "CCCC", kept).turn is None
    assert kept.plan.turn(last.frame, last.revision, replace(BED, brackets=15)) is None


def test_what_the_setting_takes_is_held_against_the_jig(on_bed):
    limits = {each.name: each for each in setting_limits(on_bed.jig, on_bed.lie, BED)}
    assert all(each.ok for each in limits.values())
    count = len(on_bed.jig.brackets)
    small = {each.name: each for each in setting_limits(on_bed.jig, on_bed.lie, replace(BED, brackets=count - 1))}
    assert not small["Brackets"].ok
    names = [working.figure for working in on_bed.workings]
    assert names == ["Greatest travel", "Departure between brackets", "Setting time"]


def test_nonsense_that_was_stored_is_told():
    with pytest.raises(BadJig, match="work it out again"):
        JigKept.of({"plan": {"turns": [{}]}})
    with pytest.raises(BadJig, match="15 after 14"):
        read_after(["15 before 14"])


def test_a_planned_frame_that_its_rails_do_not_hold_gets_brackets_between_them(designs):
    """The packet's true shape on them is that of tests/published/test_packet_between_brackets.py."""
    wide = JigBed(pitch_mm=320.0, rails=12)
    plan = plan_settings([FrameToSet(bent_of(designs["14"]), designs["14"].choice)], wide)
    kept = JigKept(wide, plan=PlanKept.of(plan, {"14": "AAAA"}))
    assert plan.setups[0].departure_mm > 1.0
    found = frame_on_bed(designs["14"], "AAAA", kept)
    assert found.turn is not None
    assert found.lie.error_mm <= 1.005
    assert [each.ok for each in found.limits] == [True] * 4
    planned = {stand.rail: stand.travel_mm for stand in plan.setups[0].setting.stands}
    assert {each.rail: each.travel_mm for each in found.jig.brackets if each.rail} == planned
    extra = [each for each in found.jig.brackets if not each.rail]
    near = np.diff(sorted(each.along_mm for each in found.jig.brackets))
    assert extra
    assert near.min() >= wide.face_width_mm, "no two faces touch"


def test_where_no_bracket_goes_between_it_is_said_where_a_block_holds_it(designs):
    holes = JigBed(pitch_mm=320.0, rails=12, row_mm=100.0, travel_most_mm=300.0, between=False)
    found = frame_on_bed(designs["14"], "AAAA", JigKept(holes))
    assert all(each.rail for each in found.jig.brackets)
    (said,) = (each for each in found.limits if not each.ok)
    block, *_ = found.blocks
    assert f"{block.along_mm:.0f} mm from column 1, face {block.travel_mm:.1f} mm out" in said.caution
    assert "ft" not in in_units(said, "ft").caution
    assert " mm" not in in_units(said, "ft").caution
    # clamped just there, as a bed that takes such brackets would, the packet lies as it is said to
    free = frame_on_bed(designs["14"], "AAAA", JigKept(replace(holes, between=True)))
    assert found.blocked_mm <= 1.005 < found.lie.error_mm
    assert free.lie.error_mm <= 1.005
