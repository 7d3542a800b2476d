"""Make the plan: first by rule of thumb, then the best by search, then the calmest that is as good."""

from __future__ import annotations

import contextlib
import math
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from scrieve.errors import BadPlan
from scrieve.workplan.calendar import LONGEST_DAYS
from scrieve.workplan.first import Before, Laid, TooShort, bring_forward, first_plan, put_off, tails
from scrieve.workplan.members import Job
from scrieve.workplan.model import Model, build
from scrieve.workplan.plan import Entry, Plan
from scrieve.workplan.search import Found, Progress, Tick, search
from scrieve.workplan.work import Work, people_named, prepare
from scrieve.workplan.yard import Yard

#: Share of the time kept for the second search, which makes the plan calm; and where one stood before, of which little
#: is to be moved.
_SECOND, _SECOND_ANEW = 0.3, 0.6
#: First plans made by rule of thumb, shaken a little each time.
_TRIES = 24
#: How far ahead is looked, in turn [days].
_AHEAD = (45, 90, 180, 365, LONGEST_DAYS)


@dataclass
class _Asked:
    """Passes progress on, and remembers whether it was told to stop."""

    tick: Tick | None
    per_day: float
    people: bool
    stopped: bool = False

    def __call__(self, now: Progress) -> bool:
        if self.tick is not None and not self.tick(self.in_days(now)):
            self.stopped = True
        return not self.stopped

    def in_days(self, now: Progress) -> Progress:
        def told(value: float | None) -> float | None:
            return None if value is None or not math.isfinite(value) else value / self.per_day

        return replace(now, best=told(now.best), bound=told(now.bound))


def make_plan(
    yard: Yard,
    job: Job,
    now: datetime,
    *,
    before: Plan | None = None,
    seconds: float | None = None,
    tick: Tick | None = None,
    seed: int = 1,
    made_from: str = "",
) -> Plan:
    """Plan the work that is left.

    Parameters
    ----------
    yard : Yard
    job : Job
        Members, the hull's frames, what has been done, setting times of the jig.
    now : datetime
        Nothing is planned before it.
    before : Plan, optional
        The plan that stood: operations keep their times where the finish allows it (`yard.calm_days`).
    seconds : float, optional
        Search for at most so long; the yard's unless given.
    tick : callable, optional
        Told of progress, values in days of the shop (or in people); returns False to stop with the best so far.
    seed : int
        Of the search.
    made_from : str
        Revision that the plan is to carry.

    Raises
    ------
    BadPlan
        The work cannot be planned with this yard; the message says why.

    References
    ----------
    .. [1] docs/work-plan.md.
    """
    began = time.monotonic()
    limit = yard.seconds if seconds is None else seconds
    work, laid = _laid_out(yard, job, now, before, 0.1 * limit)
    if not work.ops:
        return Plan(now, (), yard.aim, proved=True, made_from=made_from)
    per_day = yard.ticks_a_day
    asked = _Asked(tick, 1.0 if yard.aim == "people" else per_day, yard.aim == "people")
    stood = [] if before is None or yard.aim == "people" else _as_it_stood(work, before)
    calm = round(yard.calm_days * per_day)
    laid = min([laid, *stood], key=lambda each: each.length)
    horizon = laid.length
    if work.torn(laid.starts):  # the rule of thumb did not keep them together: room for the search to do so
        horizon = min(work.calendar.ticks, horizon + (2 + len(work.tied)) * round(5 * per_day))
    horizon = max([horizon, *(min(each.length, laid.length + calm) for each in stood)])
    due = _deadline(work)
    if due is not None:
        horizon = max(horizon, due)
    model = build(work, horizon, laid)
    late = _lateness(model, work, horizon)
    # a tick late counts as a tick of the whole, or as more than all people together
    few = yard.aim == "people"
    goal = sum(model.used) + (len(yard.people) + 1) * late if few else model.finish + late
    model.hint(laid)
    model.cp.minimize(goal)
    share = 1 - (_SECOND if before is None else _SECOND_ANEW)
    found = search(model.cp, limit * share, tick=asked, what="seeking the best plan", seed=seed,
                   quick=True)  # fmt: skip
    if found.impossible:
        raise BadPlan("no plan fits: two things that are under way now stand against one another; put right what is "
                      "recorded as begun.")  # fmt: skip
    if found.values is not None:
        laid = model.read(found.values)
    elif work.torn(laid.starts):
        raise BadPlan(
            f"no plan was found in {limit:.0f} s that hangs planks of one strake within {yard.hull.pair_days} days of "
            "one another; give the search more time, or allow more days."
        )
    value, bound = _value(model, work, laid, found)
    best = laid.length
    in_time = [each for each in stood if each.length <= min(best + calm, horizon)
               and _goal_of(work, each) <= _goal_of(work, laid)]  # fmt: skip
    laid = min([*in_time, laid], key=lambda each: _moved(work, each, before))
    left = limit - (time.monotonic() - began)
    if not asked.stopped and found.values is not None and left > 0.2:
        calmer = _calmer(work, model, late, laid, before, left, asked, seed, best)
        laid = min(calmer, laid, key=lambda each: _moved(work, each, before))
    stay = set() if before is None else {e.op for e in before.entries if _stands(work, laid, e)}
    laid = bring_forward(work, put_off(work, laid, stay), stay)
    late_ticks = sum(max(0, laid.starts[n] + laid.ticks[n] - due) for n, due in _dues(work))
    scale = 1.0 if yard.aim == "people" else per_day
    entries = _entries(work, laid)
    return Plan(
        made=now,
        entries=entries,
        aim=yard.aim,
        value=value / scale,
        bound=bound / scale,
        late_days=late_ticks / per_day,
        proved=found.proved,
        stopped=asked.stopped,
        seconds=time.monotonic() - began,
        made_from=made_from,
        moved=None if before is None else moved(before, entries),
    )


def moved(before: Plan, entries: Sequence[Entry]) -> int:
    """How many operations start at another time than in the plan before."""
    return sum(e.op in before.by_op and before.by_op[e.op].starts != e.starts for e in entries if not e.running)


def _laid_out(yard: Yard, job: Job, now: datetime, before: Plan | None, patience: float) -> tuple[Work, Laid]:
    """The work over as many days as a first plan takes, and that plan."""
    for days in _AHEAD:
        work = prepare(yard, job, now, days)
        if not work.ops:
            return work, Laid((), (), (), ())
        try:
            plans = [first_plan(work, ranks) for ranks in _ranks(yard, job, before)]
        except TooShort:
            continue
        until = time.monotonic() + patience
        for n in range(_TRIES):
            if time.monotonic() > until:
                break
            with contextlib.suppress(TooShort):
                plans.append(first_plan(work, None, 0.05 * (n % 4), seed=n))
        return work, min(plans, key=lambda laid: laid.length + _goal_of(work, laid))
    raise BadPlan(
        f"the work does not fit into {LONGEST_DAYS} days of this shop: a glue that never cures at the shed's "
        "temperature, an operation longer than the shop is ever open in one go, or a person who is always away."
    )


def _as_it_stood(work: Work, before: Plan) -> list[Laid]:
    """The plan before, carried on with what has changed: in the order of time, and what can stay before what cannot;
    without those that do not fit in the time looked ahead, or that tear a pair of planks apart."""
    starts, people = {}, {}
    names = {person.name: n for n, person in enumerate(work.yard.people)}
    for n, op in enumerate(work.ops):
        if (entry := before.by_op.get(op.name)) and not op.running:
            starts[n] = int(work.calendar.tick_from((entry.starts - work.calendar.begins).total_seconds() / 60))
            if all(name in names for name in entry.people):
                people[n] = tuple(names[name] for name in entry.people)
    found = []
    for first_those_that_stay in (True, False):
        with contextlib.suppress(TooShort):
            found.append(first_plan(work, before=Before(starts, people, first_those_that_stay)))
    return [laid for laid in found if not work.torn(laid.starts)]


def _moved(work: Work, laid: Laid, before: Plan | None) -> int:
    """How many operations of the plan before start at another time."""
    entries = () if before is None else before.entries
    return sum(entry.op in work.index and not _stands(work, laid, entry) for entry in entries)


def _stands(work: Work, laid: Laid, entry: Entry) -> bool:
    """Whether an operation starts when it did in the plan before."""
    n = work.index.get(entry.op)
    return n is not None and work.calendar.start_at(laid.starts[n]) == entry.starts


def _ranks(yard: Yard, job: Job, before: Plan | None) -> list[dict[str, float]]:
    """Orders of members worth trying: as wanted, as in the plan before, as the jig is set quickest, along the hull."""
    setups = job.setups.labels if job.setups else ()
    rows = [[f"frame {label}" for label in setups], [member.key for member in job.frames]]
    if yard.due:
        rows.append(sorted((m.key for m in job.members), key=lambda key: yard.due.get(key, date.max)))
    if before is not None:
        rows.append(list(before.members))
    return [{key: float(n) for n, key in enumerate(row)} for row in rows]


def _dues(work: Work) -> list[tuple[int, int]]:
    dues = list(work.due.items())
    if work.yard.finish_by is not None:
        by = work.calendar.of_date(work.yard.finish_by)[1]
        after = {link.before for link in work.links}
        dues += [(n, by) for n in range(len(work.ops)) if n not in after and n not in work.due]
    return dues


def _deadline(work: Work) -> int | None:
    if work.yard.aim == "people" and work.yard.finish_by is not None:
        return min(work.calendar.of_date(work.yard.finish_by)[1], work.calendar.ticks)
    return None


def _lateness(model: Model, work: Work, horizon: int) -> Any:
    """Ticks by which members come after their dates, together."""
    late = []
    for n, due in _dues(work):
        if due < horizon:
            by = model.cp.new_int_var(0, horizon, f"late {n}")
            model.cp.add(by >= model.ends[n] - due)
            late.append(by)
    total = model.cp.new_int_var(0, horizon * max(len(late), 1), "late")
    model.cp.add(total == sum(late))
    return total


def _value(model: Model, work: Work, laid: Laid, found: Found) -> tuple[float, float]:
    """What was sought, as found and the least proved possible, lateness apart where there is none."""
    if work.yard.aim == "people":
        used = float(len({p for people in laid.people for p in people}))
        bound = found.bound if math.isfinite(found.bound) else 1.0
        whole = math.ceil(bound - 1e-6)
        return used, used if found.proved else max(1.0, min(float(whole), used))
    best = float(laid.length) if found.best is None else float(found.best)
    floor = max((op.earliest + tail for op, tail in zip(work.ops, tails(work), strict=True)), default=0)
    bound = best if found.proved else max(found.bound if math.isfinite(found.bound) else 0.0, float(floor))
    return best, min(bound, best)


def _calmer(work: Work, model: Model, late: Any, laid: Laid, before: Plan | None, left: float, asked: _Asked,
            seed: int, best: int) -> Laid:  # fmt: skip
    """Of all plans as good, one in which little is moved, the hull is open briefly, and nothing is begun early."""
    cp = model.cp
    goal = _goal_of(work, laid)
    allowance = 0
    if before is not None and work.yard.aim == "finish":
        allowance = round(work.yard.calm_days * work.yard.ticks_a_day)
    if work.yard.aim == "people":
        cp.add(sum(model.used) <= len({p for people in laid.people for p in people}))
        cp.add(late <= goal)
    else:
        cp.add(late <= goal)
        cp.add(model.finish <= min(max(best + allowance, laid.length), model.horizon))
    terms: list[Any] = []
    for opening in work.openings:
        terms.append(2 * model.opened[opening.member])
        if opening.shore is not None and opening.first is not None:
            terms.append(model.starts[opening.first] - model.starts[opening.shore])
    terms += [model.ends[turn.last] - model.starts[turn.first] for turn in work.turns if turn.first is not None]
    for one, other in work.together:
        apart = cp.new_int_var(0, model.horizon, f"apart {one}")
        cp.add_abs_equality(apart, model.starts[one] - model.starts[other])
        terms.append(8 * apart)
    if before is not None:
        weight = 4 * model.horizon // max(len(work.ops), 1) + 40
        for n, op in enumerate(work.ops):
            entry = before.by_op.get(op.name)
            if entry is None or op.running:
                continue
            minutes = (entry.starts - work.calendar.begins).total_seconds() / 60
            old = int(work.calendar.tick_from(minutes))
            if minutes >= 0 and old < model.horizon:
                shifted = cp.new_bool_var(f"moved {op.name}")
                cp.add(model.starts[n] == old).only_enforce_if(~shifted)
                terms.append(weight * shifted)
    model.hint(laid)
    cp.minimize(sum(terms) + model.finish)
    second = search(cp, left, tick=lambda _: not asked.stopped and asked(_silent(laid, asked)),
                    what="making it calm", seed=seed, quick=True)  # fmt: skip
    return laid if second.values is None else model.read(second.values)


def _silent(laid: Laid, asked: _Asked) -> Progress:
    return Progress("making it calm: little moved, the hull open for a short time", None, None, 0.0)


def _goal_of(work: Work, laid: Laid) -> int:
    return sum(max(0, laid.starts[n] + laid.ticks[n] - due) for n, due in _dues(work))


def _entries(work: Work, laid: Laid) -> tuple[Entry, ...]:
    jig_of = {f"{turn.member}: {key}": jig for turn, jig in zip(work.turns, laid.jigs, strict=True)
              for key in ("set", "dry", "glue", "release")}  # fmt: skip
    entries = [
        Entry(
            op.name,
            work.calendar.start_at(laid.starts[n]),
            work.calendar.end_at(laid.starts[n] + laid.ticks[n]),
            laid.ticks[n],
            people_named(work.yard, laid.people[n]),
            jig_of.get(op.name, 0),
            op.running,
        )
        for n, op in enumerate(work.ops)
    ]
    place = {op.name: n for n, op in enumerate(work.ops)}
    return tuple(sorted(entries, key=lambda entry: (entry.starts, entry.ends, place[entry.op])))
