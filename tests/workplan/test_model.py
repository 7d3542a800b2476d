"""The constraint model refuses what this yard cannot do: plans that a laxer yard can carry out are put to it, fixed.

The checker, which shares nothing with the model, says which those are.
"""

from dataclasses import replace
from datetime import date, datetime
from functools import cache

import numpy as np
import pytest
from ortools.sat.python import cp_model
from yards import LABELS, MONDAY, frames, yard

from scrieve.workplan import Did, HullRules, Job, Member, Plan, Setups, faults
from scrieve.workplan.first import first_plan
from scrieve.workplan.model import build
from scrieve.workplan.solve import _entries
from scrieve.workplan.work import prepare

PLANKS = (Member("plank", "one", 10.0, 0, "P", 2, LABELS[1:5]), Member("plank", "two", 10.0, 0, "P", 4, LABELS[1:5]))
PAIR = (Member("plank", "port", 10.0, 0, "P", 1), Member("plank", "starboard", 40.0, 0, "S", 1))
LAX = yard(12, jigs=2, clamps=60, machines={"saw": 4, "planer": 4, "bandsaw": 4, "steam box": 2}, moisture_days=0.5,
           hull=HullRules(1, 4, 4, 1, 0, old_counts=True, ready_first=False, frames_first=False))  # fmt: skip
MANY = Job((*frames("3", "5", "8"), *PLANKS), LABELS)
SETUPS = Setups(("3", "5", "8"), np.full(3, 30.0), np.full((3, 3), 300.0))
FIRST = Setups(("3", "5", "8"), np.full(3, 300.0), np.full((3, 3), 30.0))
FOUR = Job(frames("3", "4", "5", "6"), LABELS)


def hull(**change):
    return replace(LAX, hull=replace(LAX.hull, **change))


STRICT = {
    "one saw": (replace(LAX, machines={**LAX.machines, "saw": 1}), MANY, "at the saw at once"),
    "two planers": (replace(LAX, machines={**LAX.machines, "planer": 2}), MANY, "at the planer at once"),
    "one away": (replace(LAX, people=tuple(
        replace(p, off=frozenset({date(2026, 3, 3)} if n == 1 else ())) for n, p in enumerate(LAX.people))),
        MANY, "is away on 2026-03-03"),
    "few clamps": (replace(LAX, clamps=20), MANY, "clamps are in use at once"),
    "one at the machines": (replace(LAX, people=tuple(
        replace(p, skills=p.skills if n == 7 else p.skills - {"machines"}) for n, p in enumerate(LAX.people))),
        Job(PLANKS, LABELS), "nobody there has the skill machines"),
    "long settings": (LAX, Job(MANY.members, LABELS, {}, SETUPS), "quarters of an hour for 300 min"),
    "long first settings": (LAX, Job(MANY.members, LABELS, {}, FIRST), "quarters of an hour for 300 min"),
    "wet stock": (replace(LAX, moisture_days=30.0), MANY, "moisture is over only"),
    "cold shed": (replace(LAX, shed=((datetime(2000, 1, 1), 8.0),)), MANY, "clamps is over only"),
    "slow paint": (replace(LAX, paint_h=90.0), MANY, "paint is over only"),
    "two sound frames between": (hull(sound_between=2), MANY, "2 are wanted"),
    "waiting frames do not count": (hull(sound_between=2, old_counts=False), FOUR, "2 are wanted"),
    "one pair out": (hull(frames_out=1), MANY, "frames are out at once"),
    "one plank off": (hull(planks_off=1), MANY, "planks are off at once"),
    "two strakes between": (hull(strakes_between=2), MANY, "are off at once"),
    "the new is made first": (hull(ready_first=True), MANY, "paint is over only"),
    "planks after frames": (hull(frames_first=True), MANY, "comes off before frame"),
    "hung together": (hull(pair_days=1), Job(PAIR, LABELS), "are hung"),
}  # fmt: skip


def possible(work, laid):
    """Whether a model holds one plan, everything in it fixed, to be possible."""
    model = build(work, work.calendar.ticks)
    for n, start in enumerate(laid.starts):
        model.cp.add(model.starts[n] == start)
        model.cp.add(model.sizes[n] == laid.ticks[n])
        for p in {*model.does[n], *laid.people[n]}:
            model.cp.add(model.does[n].get(p, 0) == (p in laid.people[n]))
    for turn, jig in zip(model.on, laid.jigs, strict=True):
        for number, literal in turn.items():
            model.cp.add(literal == (number == jig))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    return solver.solve(model.cp) in (cp_model.OPTIMAL, cp_model.FEASIBLE)


def plan_of(work, laid):
    return Plan(MONDAY, _entries(work, laid))


@cache
def lax_plan(members):
    """The work of the lax yard and a plan of it, which it can carry out; of four in a row, 3 and 6 may be out."""
    free = Job(members, LABELS)
    lax = hull(sound_between=2) if members == FOUR.members else LAX
    work = prepare(lax, free, MONDAY, 60)
    laid = first_plan(work)
    assert faults(plan_of(work, laid), lax, free) == ()
    assert possible(work, laid)
    return work, laid


@pytest.mark.parametrize("case", STRICT)
def test_what_a_laxer_yard_can_do_is_refused_where_this_one_cannot(case):
    strict, what, said = STRICT[case]
    lax, laid = lax_plan(what.members)
    wrong = faults(plan_of(lax, laid), strict, what)
    assert wrong
    assert any(said in each for each in wrong), wrong
    assert not possible(prepare(strict, what, MONDAY, 60), laid)


def test_two_frames_are_never_on_one_jig_at_once():
    """The second frame's place on the other jig is taken away from it: the same times, both on the first."""
    work, laid = lax_plan(MANY.members)
    assert set(laid.jigs) == {1, 2}
    both = replace(laid, jigs=tuple(1 for _ in laid.jigs))
    assert any("before the one on it is off" in each for each in faults(plan_of(work, both), LAX, MANY))
    assert not possible(work, both)


def test_nobody_does_two_things_at_once():
    work, laid = lax_plan(MANY.members)
    one, other = (work.index[f"frame {label}: stock"] for label in ("3", "5"))
    assert laid.starts[one] == laid.starts[other]
    people = list(laid.people)
    people[other] = people[one]
    twice = replace(laid, people=tuple(people))
    assert any("at once" in each for each in faults(plan_of(work, twice), LAX, MANY))
    assert not possible(work, twice)


def begins(work, op, tick):
    """Whether the model lets an operation begin with a tick, whatever the others do."""
    model = build(work, work.calendar.ticks)
    model.cp.add(model.starts[work.index[op]] == tick)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    return solver.solve(model.cp) in (cp_model.OPTIMAL, cp_model.FEASIBLE)


def test_a_jig_is_not_left_half_set_over_a_closing_of_the_shop():
    """Half an hour of setting: not begun in the last quarter before the shop closes, but with the next opening."""
    work = prepare(LAX, Job(frames("3"), LABELS), MONDAY, 20)
    closing = int(np.flatnonzero(np.diff(work.calendar.wall_min) > 15)[8]) + 1
    assert not begins(work, "frame 3: set", closing - 1)
    assert begins(work, "frame 3: set", closing)
    assert begins(work, "frame 3: set", closing - 2)


def test_what_is_waited_for_since_it_was_done_holds_the_next_operation():
    """Stock got out as the plan begins settles for half a day of the clock, till eight in the evening."""
    done = {"frame 3: stock": Did(MONDAY, MONDAY, ("Lead",))}
    thick = replace(frames("3")[0], stock_mm=25.0)
    work = prepare(LAX, Job((thick,), LABELS, done), MONDAY, 20)
    first = int(work.calendar.tick_from(24 * 60))
    assert begins(work, "frame 3: plane", first)
    assert not begins(work, "frame 3: plane", first - 1)


def test_clamps_on_a_frame_that_is_in_them_are_not_there_for_another():
    crew = replace(LAX, clamps=20, sheet={"clamp_h": 60})
    done = {f"frame 3: {key}": Did(MONDAY, MONDAY, ("Lead",), 1) for key in ("stock", "plane", "set", "dry", "glue")}
    done |= {f"frame 8: {key}": Did(MONDAY, MONDAY, ("Lead",)) for key in ("stock", "plane")}
    what = Job(frames("3", "8"), LABELS, done)
    work = prepare(crew, what, MONDAY, 30)
    laid = first_plan(work)
    assert faults(plan_of(work, laid), crew, what) == ()
    assert laid.starts[work.index["frame 8: set"]] >= laid.starts[work.index["frame 3: release"]]
    assert possible(work, laid)


def test_what_is_under_way_goes_on_at_once_by_those_who_began_it():
    before = ("stock", "plane", "set", "dry", "glue", "release", "accept", "rip")
    done = {f"frame 3: {key}": Did(MONDAY, MONDAY, ("Lead",), 1) for key in before}
    done["frame 3: clean"] = Did(MONDAY, None, ("Hand 1",))
    work = prepare(LAX, Job(frames("3"), LABELS, done), MONDAY, 60)
    n, laid = work.index["frame 3: clean"], first_plan(work)
    for tick, can in ((0, cp_model.OPTIMAL), (1, cp_model.INFEASIBLE)):
        model = build(work, work.calendar.ticks, laid)
        assert set(model.does[n]) == set(laid.people[n]) == {1}
        model.cp.add(model.starts[n] == tick)
        assert cp_model.CpSolver().solve(model.cp) == can
