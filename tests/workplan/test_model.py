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

from scrieve.workplan import HullRules, Job, Member, Plan, Setups, faults
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
