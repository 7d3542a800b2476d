"""What if: a second jig, a colder shed, one person away; each planned anew, the finish dates side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from scrieve.errors import BadPlan
from scrieve.workplan.check import faults
from scrieve.workplan.members import Job
from scrieve.workplan.plan import Plan
from scrieve.workplan.search import Tick
from scrieve.workplan.solve import make_plan
from scrieve.workplan.work import who
from scrieve.workplan.yard import Yard


@dataclass(frozen=True, slots=True)
class Change:
    """One change of the yard: what it is called, and the yard then."""

    name: str
    yard: Yard


@dataclass(frozen=True, slots=True)
class Outcome:
    """What comes of a change: the plan, or why there is none."""

    name: str
    plan: Plan | None
    why_not: str = ""


def usual_changes(yard: Yard, now: datetime, *, away: str = "", away_days: int = 10, colder_k: float = 5.0,
                  jigs: int | None = None) -> tuple[Change, ...]:  # fmt: skip
    """The yard as it is, with one more jig, with a colder shed, and with one person away.

    Parameters
    ----------
    yard : Yard
    now : datetime
        When the absence begins.
    away : str
        Who is away; the last of the list unless given.
    away_days : int
        For how many days.
    colder_k : float
        How much colder the shed [K].
    jigs : int, optional
        How many jigs in place of those there are; one more unless given.
    """
    if not 1 <= away_days <= 365:
        raise BadPlan(f"away for {away_days} days; give 1 to 365.")
    if not 0 < colder_k <= 40:
        raise BadPlan(f"colder by {colder_k:g} K; give a figure above 0, up to 40.")
    person = who(yard, away) if away else yard.people[-1]
    days = frozenset(now.date() + timedelta(days=n) for n in range(away_days))
    gone = tuple(replace(p, off=p.off | days) if p.name == person.name else p for p in yard.people)
    many = yard.jigs + 1 if jigs is None else jigs
    return (
        Change("as it is", yard),
        Change(f"{many} jigs", replace(yard, jigs=many, clamps=max(yard.clamps, yard.clamps * many // yard.jigs))),
        Change(f"shed {colder_k:g} K colder", replace(yard, shed=yard.temperatures.colder(colder_k).entries)),
        Change(f"{person.name} away {away_days} days", replace(yard, people=gone)),
    )


def compare(changes: Sequence[Change], job: Job, now: datetime, *, seconds: float, tick: Tick | None = None,
            told: Callable[[int, str], None] | None = None) -> tuple[Outcome, ...]:  # fmt: skip
    """Plan the work under each change, with the same time to search for each.

    What a search found under one change is taken for another too, where it is better and can be carried out there: so
    no outcome is the worse for having been searched with less luck.

    Parameters
    ----------
    changes : sequence of Change
    job, now
        As for `make_plan`.
    seconds : float
        For each.
    tick : callable, optional
        As for `make_plan`; False stops, and what is left is planned by rule of thumb alone.
    told : callable, optional
        Told the number and name of each change as it is begun.
    """
    found = []
    for n, change in enumerate(changes):
        if told:
            told(n, change.name)
        try:
            found.append(Outcome(change.name, make_plan(change.yard, job, now, seconds=seconds, tick=tick)))
        except BadPlan as error:
            found.append(Outcome(change.name, None, str(error)))
    plans = [one.plan for one in found if one.plan]
    return tuple(_at_best(one, change.yard, job, plans) for one, change in zip(found, changes, strict=True))


def _at_best(mine: Outcome, yard: Yard, job: Job, plans: Sequence[Plan]) -> Outcome:
    """The best of all these plans that can be carried out in this yard: a second jig never makes the work longer."""
    for other in sorted(plans, key=lambda plan: plan.value):
        if mine.plan is None or other.value >= mine.plan.value:
            return mine
        if not faults(other, yard, job):
            own = mine.plan
            bound = min(own.bound, other.value)
            plan = replace(other, bound=bound, proved=bound >= other.value, seconds=own.seconds, stopped=own.stopped)
            return replace(mine, plan=plan)
    return mine


def days_later(outcome: Outcome, base: date) -> int | None:
    """Calendar days by which it finishes later than a date."""
    return None if outcome.plan is None else (outcome.plan.finish.date() - base).days
