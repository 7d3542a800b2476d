"""What a plan says day by day: today for each person, a week on one sheet, holds and removals to come."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from scrieve.workplan.calendar import DAYS, Hours
from scrieve.workplan.members import Job
from scrieve.workplan.plan import Entry, Plan
from scrieve.workplan.support import shoring
from scrieve.workplan.waits import Temperatures
from scrieve.workplan.yard import Yard


@dataclass(frozen=True, slots=True)
class Piece:
    """What of an operation falls on one day: from when to when; whether it begins (`first`) and ends (`last`) then."""

    entry: Entry
    starts: datetime
    ends: datetime
    first: bool
    last: bool


@dataclass(frozen=True, slots=True)
class DayOf:
    """One person's day: their pieces in order; away where it is a day off."""

    person: str
    day: date
    pieces: tuple[Piece, ...]
    away: bool


def day_of(plan: Plan, yard: Yard, person: str, day: date) -> DayOf:
    """What one person has to do on one day."""
    found = [piece for entry in plan.entries if person in entry.people and (piece := piece_of(entry, yard, day))]
    away = any(p.name == person and day in p.off for p in yard.people)
    return DayOf(person, day, tuple(sorted(found, key=lambda piece: piece.starts)), away)


def piece_of(entry: Entry, yard: Yard, day: date) -> Piece | None:
    """What of an entry falls into shop hours of a day; None where nothing does."""
    midnight = datetime(day.year, day.month, day.day)
    spans = []
    for opens, closes in _hours(yard, day):
        low = max(entry.starts, midnight + timedelta(minutes=opens))
        high = min(entry.ends, midnight + timedelta(minutes=closes))
        if low < high:
            spans.append((low, high))
    if not spans:
        return None
    low, high = spans[0][0], spans[-1][1]
    return Piece(entry, low, high, low == entry.starts, high == entry.ends)


def next_open(yard: Yard, day: date, person: str = "") -> date:
    """That day, or the next on which the shop is open; with `person`, and they are not away."""
    off = next((p.off for p in yard.people if p.name == person), frozenset())
    for ahead in range(366):
        at = day + timedelta(days=ahead)
        if at not in off and _hours(yard, at):
            return at
    return day


@dataclass(frozen=True, slots=True)
class AtHand:
    """The day whose work is at hand; `why` tells why it is not today, '' where it is."""

    day: date
    why: str


def at_hand(yard: Yard, now: datetime, person: str = "") -> AtHand:
    """Today while the shop has still to shut, else the next working day of the shop; with `person`, of theirs.

    Examples
    --------
    >>> at_hand(Yard(), datetime(2026, 3, 6, 16, 29)).day.isoformat(), at_hand(Yard(), datetime(2026, 3, 6, 16, 30))
    ('2026-03-06', AtHand(day=datetime.date(2026, 3, 9), why='The shop shut at 16:30'))
    """
    today = now.date()
    hours = _hours(yard, today)
    if not hours:
        why = "The shop is closed today"
    elif any(p.name == person and today in p.off for p in yard.people):
        why = f"{person} is away today"
    elif (now.hour * 60 + now.minute) >= (shut := hours[-1][1]):
        why = f"The shop shut at {shut // 60}:{shut % 60:02d}"
    else:
        return AtHand(today, "")
    return AtHand(next_open(yard, today + timedelta(days=1), person), why)


def _hours(yard: Yard, day: date) -> Hours:
    return () if day in yard.closed else yard.week.get(DAYS[day.weekday()], ())


def week_of(day: date) -> tuple[date, ...]:
    """Monday to Sunday of that week.

    Examples
    --------
    >>> [d.isoformat() for d in week_of(date(2026, 3, 4))][::6]
    ['2026-03-02', '2026-03-08']
    """
    monday = day - timedelta(days=day.weekday())
    return tuple(monday + timedelta(days=n) for n in range(7))


@dataclass(frozen=True, slots=True)
class Removal:
    """A member that is to come out: when, until when the hull is open there, and what must stand before."""

    member: str
    out: datetime
    closed: datetime
    shores: tuple[str, ...]


def removals(plan: Plan, job: Job, yard: Yard, first: date | None = None, last: date | None = None
             ) -> tuple[Removal, ...]:  # fmt: skip
    """Members that come out between two days, in order, each with its shores and spalls."""
    found = []
    for entry in plan.entries:
        if not entry.op.endswith(": out") or not _within(entry.starts.date(), first, last):
            continue
        span = plan.span(entry.member, "out", "inspect")
        if span:
            found.append(Removal(entry.member, *span, shoring(job, job.member(entry.member), yard.hull)))
    return tuple(found)


def holds(plan: Plan, first: date | None = None, last: date | None = None) -> tuple[Entry, ...]:
    """Hold points between two days, in order."""
    return tuple(e for e in plan.entries if e.kind.hold and _within(e.starts.date(), first, last))


def _within(day: date, first: date | None, last: date | None) -> bool:
    return (first is None or day >= first) and (last is None or day <= last)


def shed_at(shed: Temperatures, at: datetime) -> float:
    """Temperature of the shed at a time [°C]."""
    return shed.log(at, 1.0)[0][1]


def hours_of(plan: Plan) -> Mapping[str, float]:
    """Hours that each person has in the plan."""
    found: dict[str, float] = {}
    for entry in plan.entries:
        for name in entry.people:
            found[name] = found.get(name, 0.0) + entry.ticks / 4
    return found
