"""Look a plan over, knowing nothing of how it was made: minute by minute, person by person, frame by frame."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime, timedelta
from itertools import pairwise

from scrieve.timber.cure import cure
from scrieve.workplan.calendar import DAYS, TICK_MIN
from scrieve.workplan.kinds import links
from scrieve.workplan.members import Job, Member, pairs
from scrieve.workplan.plan import Entry, Plan
from scrieve.workplan.support import Open, breaches
from scrieve.workplan.waits import Temperatures, conditioning_h
from scrieve.workplan.yard import Yard

_STEP = timedelta(minutes=TICK_MIN)


def faults(plan: Plan, yard: Yard, job: Job) -> tuple[str, ...]:
    """Every way in which a plan cannot be carried out; empty where it can.

    Shop hours and days off are read off the clock, cure is summed from each joint by itself, the hull is looked along
    at every moment at which something comes out.
    """
    said: list[str] = []
    at_work: dict[str, list[Entry]] = defaultdict(list)
    machines: dict[str, list[Entry]] = defaultdict(list)
    for entry in plan.entries:
        said += _hours(entry, yard)
        said += _hands(entry, yard)
        for name in entry.people:
            at_work[name].append(entry)
        if entry.kind.machine:
            machines[entry.kind.machine].append(entry)
        if entry.starts < plan.made:
            said.append(f"{entry.told} starts before the plan was made")
    for name, entries in at_work.items():
        said += [
            f"{name} is at {one.told} and {other.told} at once ({other.starts})"
            for one, other in pairwise(sorted(entries, key=lambda e: e.starts))
            if other.starts < one.ends
        ]
    for name, entries in machines.items():
        for entry in entries:
            using = sum(e.starts <= entry.starts < e.ends for e in entries)
            if using > yard.machines[name]:
                said.append(f"{using} at the {name} at once ({entry.starts}); there are {yard.machines[name]}")
    for member in job.members:
        said += _row(plan, yard, job, member)
    said += _jigs(plan, yard, job)
    opens = {}
    for member in job.members:
        if span := plan.span(member.key, "out", "inspect"):
            opens[member.key] = Open(*span)
    known = set(breaches(job, {k: o for k, o in opens.items() if job.is_open(job.member(k))}, yard.hull))
    said += [each for each in breaches(job, opens, yard.hull) if each not in known]
    if yard.hull.pair_days:
        for one, other in pairs(job.planks):
            hung = [plan.by_op.get(each.op("hang")) for each in (one, other)]
            if all(each and not each.running for each in hung):
                first, last = sorted(each.starts for each in hung if each)
                apart = _quarters(first, last, yard)
                if apart > yard.hull.pair_days * yard.ticks_a_day + 0.5:
                    said.append(
                        f"{one.key} and {other.key} are hung {apart} quarters of an hour of the shop apart; "
                        f"{yard.hull.pair_days} days at the most are wanted"
                    )
    if yard.hull.frames_first:
        frames = {m.name: m for m in job.frames}
        for plank in job.planks:
            out = plan.by_op.get(plank.op("out"))
            for label in plank.frames:
                under = plan.by_op.get(frames[label].op("inspect")) if label in frames else None
                if out and under and not out.running and out.starts < under.ends:
                    said.append(f"{plank.key} comes off before frame {label} under it has been renewed")
    return tuple(said)


def _open(at: datetime, yard: Yard) -> bool:
    """Whether the shop is open for the quarter of an hour from then."""
    minute = at.hour * 60 + at.minute
    return at.date() not in yard.closed and any(
        opens <= minute and minute + TICK_MIN <= closes for opens, closes in yard.week.get(DAYS[at.weekday()], ())
    )


def _quarters(first: datetime, last: datetime, yard: Yard) -> int:
    """Quarters of an hour of shop hours between two times."""
    count = 0
    while first < last:
        count += _open(first, yard)
        first += _STEP
    return count


def _hours(entry: Entry, yard: Yard) -> list[str]:
    """Whether every quarter of an hour of it lies in shop hours; and as many of them as it takes."""
    worked, at, broken = 0, entry.starts, False
    last: datetime | None = None
    while at < entry.ends:
        if _open(at, yard):
            worked += 1
            broken |= last is not None and at - last > _STEP
            last = at
        elif at == entry.starts or at + _STEP >= entry.ends:
            return [f"{entry.told} runs out of shop hours ({at})"]
        at += _STEP
    said = []
    if worked != entry.ticks:
        said.append(f"{entry.told} has {worked} quarters of an hour in shop hours; it takes {entry.ticks}")
    if broken and entry.kind.one_go and not entry.running:
        said.append(f"{entry.told} is left lying over a closing of the shop")
    return said


def _hands(entry: Entry, yard: Yard) -> list[str]:
    said = []
    people = {person.name: person for person in yard.people}
    if len(set(entry.people)) != entry.kind.people:
        said.append(f"{entry.told} has {len(set(entry.people))} people; it takes {entry.kind.people}")
    if not any(entry.kind.skill in people[name].skills for name in entry.people if name in people):
        said.append(f"{entry.told}: nobody there has the skill {entry.kind.skill}")
    for name in entry.people:
        day = entry.starts.date()
        while day <= entry.ends.date():
            works = day not in yard.closed and yard.week.get(DAYS[day.weekday()])
            if name not in people or (works and day in people[name].off):
                said.append(f"{entry.told}: {name} is away on {day}")
            day += timedelta(days=1)
    return said


def _row(plan: Plan, yard: Yard, job: Job, member: Member) -> list[str]:
    """Whether one member's operations follow one another, with what must be waited for."""
    said = []
    for first, then, wait in links(member.kind, yard.hull.ready_first, member.glued):
        after = plan.by_op.get(member.op(then))
        if after is None or after.running:
            continue
        before = plan.by_op.get(member.op(first))
        ended = before.ends if before else job.finished(member.op(first))
        if ended is None:
            said.append(f"{after.told} is planned, {member.op(first)} is not, nor is it done")
            continue
        shed = job.temperatures(yard.temperatures, "" if before else member.key)
        ready = _ready(ended, wait, yard, member, shed)
        if after.starts < ready:
            said.append(f"{after.told} starts {after.starts}, {wait or 'the one before'} is over only {ready}")
    return said


def _ready(ended: datetime, wait: str, yard: Yard, member: Member, shed: Temperatures) -> datetime:
    if wait == "moisture":
        hours = conditioning_h(member.stock_mm, yard.moisture_days)
    elif wait == "paint":
        hours = yard.paint_h
    elif wait:
        what = "clamp_h" if wait == "clamps" else "full_cure_h"
        sheet = yard.data_sheet(member.glue)
        if not sheet.has(what):
            return ended
        found = cure(sheet, shed.log(ended, 1000.0), what).release_h
        if found is None:
            return datetime.max
        hours = found - 0.05  # each sum is cut into steps of its own, and rounded to a hundredth of an hour
    else:
        hours = 0.0
    return ended + timedelta(hours=hours)


def _jigs(plan: Plan, yard: Yard, job: Job) -> list[str]:
    said = []
    turns: dict[int, list[tuple[datetime, datetime, Member]]] = defaultdict(list)
    for member in job.frames:
        span = plan.span(member.key, "set", "release")
        entry = plan.by_op.get(member.op("release"))
        off = job.finished(member.op("glue")) and not job.jig_of(member)
        if span and entry and not off:
            turns[entry.jig].append((*span, member))
    for jig, found in turns.items():
        if not 1 <= jig <= yard.jigs:
            said.append(f"{found[0][2].key} is on jig {jig}; there are {yard.jigs}")
        before: str | None = None
        last = datetime.min
        for starts, ends, member in sorted(found, key=lambda turn: turn[0]):
            if starts < last:
                said.append(f"{member.key} is put on jig {jig} before the one on it is off ({starts})")
            setting = plan.by_op.get(member.op("set"))
            if setting and not setting.running and job.setups:
                minutes = job.setups.minutes(before, member.name)
                if minutes is not None and setting.ticks * TICK_MIN < minutes:
                    said.append(
                        f"{setting.told} after {before}: {setting.ticks} quarters of an hour for {minutes:g} min"
                    )
            last, before = ends, member.name
    every = [turn for found in turns.values() for turn in found]
    for starts, _, _ in every:
        clamps = sum(m.clamps for a, b, m in every if a <= starts < b)
        if clamps > yard.clamps:
            said.append(f"{clamps} clamps are in use at once ({starts}); there are {yard.clamps}")
    return said
