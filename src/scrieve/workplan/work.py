"""The work that is left, in ticks: operations with what each takes, what waits for what, and who is there when."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadPlan
from scrieve.workplan.calendar import TICK_MIN, Calendar
from scrieve.workplan.kinds import OPEN, Kind, kinds_for, links
from scrieve.workplan.members import Did, Job, Member, pairs
from scrieve.workplan.support import Pair, frame_pairs, plank_clash
from scrieve.workplan.waits import Wait, conditioning_h, cured, ready_ticks
from scrieve.workplan.yard import Person, Yard

Ticks = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Op:
    """One operation that is left: `ticks` long (of setting a jig: without the setting time), not before tick
    `earliest`; `people` of whom one at the least is of `skilled`. `running`: begun, with only so much left; `by` those
    who began it, as numbers in the yard."""

    name: str
    member: str
    kind: Kind
    ticks: int
    people: int
    skilled: tuple[int, ...]
    earliest: int
    running: bool = False
    by: tuple[int, ...] = ()

    @property
    def sets_jig(self) -> bool:
        """Whether its length hangs on what was on the jig before."""
        return self.kind.key == "set" and not self.running


@dataclass(frozen=True, slots=True, eq=False)
class Link:
    """`after` begins when `before` has ended, or by `ready` (n + 1,): the first tick, by the tick at which it ended."""

    before: int
    after: int
    ready: Ticks | None = None


@dataclass(frozen=True, slots=True)
class Turn:
    """A frame's turn on a jig: the operation that sets it (None: it is set or on it), that which frees it, the number
    of the jig it is on now (from 1; 0: none yet), and clamps it takes."""

    member: str
    label: str
    first: int | None
    last: int
    held: int
    clamps: int


@dataclass(frozen=True, slots=True)
class Opening:
    """A member's time of being open: from operation `first` (None: open now) to the end of `last`."""

    member: str
    first: int | None
    last: int
    shore: int | None


@dataclass(frozen=True, eq=False)
class Work:
    """Everything a plan is sought from, as `prepare` makes it."""

    yard: Yard
    job: Job
    calendar: Calendar
    ops: tuple[Op, ...]
    links: tuple[Link, ...]
    turns: tuple[Turn, ...]
    openings: tuple[Opening, ...]
    frame_pairs: tuple[Pair, ...]
    plank_clashes: tuple[tuple[str, str], ...]
    together: tuple[tuple[int, int], ...]
    due: Mapping[int, int]

    @property
    def apart_most(self) -> int | None:
        """Ticks by which the hanging of a pair of planks may lie apart, at the most; None where that is left open."""
        days = self.yard.hull.pair_days
        return round(days * self.yard.ticks_a_day) if days else None

    def torn(self, starts: Sequence[int]) -> bool:
        """Whether a pair of planks is hung further apart than may be."""
        most = self.apart_most
        return most is not None and any(abs(starts[a] - starts[b]) > most for a, b in self.tied)

    @cached_property
    def tied(self) -> tuple[tuple[int, int], ...]:
        """Pairs of `together` that the rule binds: neither is being hung already."""
        if self.apart_most is None:
            return ()
        return tuple((a, b) for a, b in self.together if not (self.ops[a].running or self.ops[b].running))

    @cached_property
    def there(self) -> NDArray[np.bool_]:
        """(people, ticks) who is there when."""
        found = np.ones((len(self.yard.people), self.calendar.ticks), dtype=bool)
        for n, person in enumerate(self.yard.people):
            for day in person.off:
                first, last = self.calendar.of_date(day)
                found[n, first:last] = False
        return found

    @cached_property
    def _whole(self) -> dict[int, NDArray[np.bool_]]:
        return {}

    def whole(self, ticks: int) -> NDArray[np.bool_]:
        """(ticks,) where work of so many ticks goes through in one go; see `Calendar.whole`."""
        if ticks not in self._whole:
            self._whole[ticks] = self.calendar.whole(ticks)
        return self._whole[ticks]

    def set_ticks(self, turn: Turn, before: str | None) -> int:
        """Ticks to set the jig for a frame, after another of this plan or as it stands."""
        assert turn.first is not None
        base = self.yard.kind("frame", self.ops[turn.first].kind)
        known = self.job.setups.minutes(before, turn.label) if self.job.setups else None
        return ticks_of(base if known is None else known)

    def jig_stands(self, jig: int) -> str | None:
        """Label of the frame that is on a jig now."""
        return next((turn.label for turn in self.turns if turn.held == jig), None)

    @cached_property
    def index(self) -> Mapping[str, int]:
        """Number of each operation by its name."""
        return {op.name: n for n, op in enumerate(self.ops)}


def ticks_of(minutes: float) -> int:
    """Whole ticks for so many minutes, one at the least.

    Examples
    --------
    >>> ticks_of(45), ticks_of(46), ticks_of(0)
    (3, 4, 1)
    """
    return max(1, math.ceil(minutes / TICK_MIN - 1e-9))


def prepare(yard: Yard, job: Job, now: datetime, days: int) -> Work:
    """Set out the work that is left from a moment on.

    Parameters
    ----------
    yard : Yard
    job : Job
        Members, the hull's frames, and what has been done.
    now : datetime
        Nothing is planned before it.
    days : int
        How far ahead.

    Raises
    ------
    BadPlan
        Nobody has a skill that is needed, a frame needs more clamps than there are, or glue never cures at the shed's
        temperature.
    """
    calendar = yard.calendar(now, days)
    made = _Maker(yard, job, calendar, now)
    for member in job.members:
        made.member(member)
    made.across()
    index = made.index
    openings = tuple(_opening(job, m, index) for m in job.members if m.op("inspect") in index)
    planks = [m for m in job.planks if not job.is_renewed(m)]
    clashes = tuple(
        (a.key, b.key) for n, a in enumerate(planks) for b in planks[n + 1 :] if plank_clash(a, b, yard.hull)
    )
    return Work(
        yard, job, calendar, tuple(made.ops), tuple(made.links), made.turns(), openings,
        tuple(p for p in frame_pairs(job, yard.hull)), clashes,
        tuple((index[a.op("hang")], index[b.op("hang")]) for a, b in pairs(planks)
              if a.op("hang") in index and b.op("hang") in index),
        {index[job.member(key).ops[-1]]: calendar.of_date(day)[1] for key, day in yard.due.items()
         if any(m.key == key for m in job.members) and job.member(key).ops[-1] in index},
    )  # fmt: skip


def _opening(job: Job, member: Member, index: Mapping[str, int]) -> Opening:
    out, inspect = (member.op(key) for key in OPEN)
    return Opening(
        member.key, None if job.is_open(member) else index[out], index[inspect], index.get(member.op("shore"))
    )


class _Maker:
    def __init__(self, yard: Yard, job: Job, calendar: Calendar, now: datetime) -> None:
        self.yard, self.job, self.calendar, self.now = yard, job, calendar, now
        self.ops: list[Op] = []
        self.links: list[Link] = []
        self.index: dict[str, int] = {}
        self.tables: dict[tuple[str, str, float], Ticks] = {}

    def member(self, member: Member) -> None:
        """Its operations that are left, and the links among them."""
        if member.clamps > self.yard.clamps:
            raise BadPlan(
                f"{member.key} takes {member.clamps} clamps; there are {self.yard.clamps}. Say how many there are."
            )
        for kind in kinds_for(member.kind, member.glued):
            name = member.op(kind.key)
            if self.job.finished(name) is None:
                self.index[name] = len(self.ops)
                self.ops.append(self.op(member, kind))
        for before, after, wait in links(member.kind, self.yard.hull.ready_first, member.glued):
            self.link(member.op(before), member.op(after), self.wait(wait, member) if wait else None)

    def op(self, member: Member, kind: Kind) -> Op:
        people = self.yard.people
        skilled = tuple(n for n, person in enumerate(people) if kind.skill in person.skills)
        if not skilled:
            raise BadPlan(
                f"{kind.words}: nobody has the skill {kind.skill!r}; give it to somebody, or add one who has it."
            )
        if kind.people > len(people):
            raise BadPlan(f"{kind.words} takes {kind.people} people; there are {len(people)}.")
        name = member.op(kind.key)
        minutes = self.yard.kind(member.kind, kind)
        ticks = ticks_of(minutes)
        if not self.job.running(name):
            return Op(name, member.key, kind, ticks, kind.people, skilled, 0)
        did = self.job.done[name]
        left = max(1, ticks - worked_ticks(self.yard, did, self.now))
        names = {person.name: n for n, person in enumerate(people)}
        by = tuple(names[who] for who in did.people if who in names)
        if len(by) != kind.people or not set(by) & set(skilled):
            by = ()
        return Op(name, member.key, kind, left, kind.people, skilled, 0, True, by)

    def wait(self, name: str, member: Member) -> Wait:
        if name == "moisture":
            return Wait(name, conditioning_h(member.stock_mm, self.yard.moisture_days))
        found = self.yard.wait(name)
        return replace(found, glue=member.glue) if found.cure else found

    def ready_h(self, wait: Wait, ended_h: NDArray[np.float64], member: str = "") -> NDArray[np.float64]:
        if wait.cure:
            sheet, shed = self.yard.data_sheet(wait.glue), self.job.temperatures(self.yard.temperatures, member)
            return cured(sheet, shed, self.now, ended_h, wait.cure, self.calendar.days * 24.0)
        return ended_h + wait.hours

    def table(self, wait: Wait) -> Ticks:
        key = (wait.cure, wait.glue, wait.hours)
        if key not in self.tables:
            ends = self.calendar.end_min(np.arange(self.calendar.ticks + 1)) / 60
            self.tables[key] = ready_ticks(self.calendar, self.ready_h(wait, ends))
        return self.tables[key]

    def link(self, before: str, after: str, wait: Wait | None = None) -> None:
        """Let one begin after another; where the first is done, not before the wait from then is over."""
        if after not in self.index:
            return
        to = self.index[after]
        if before in self.index:
            self.links.append(Link(self.index[before], to, None if wait is None else self.table(wait)))
            return
        ended = self.job.finished(before)
        if wait is None or ended is None:
            return
        hours = np.array([(ended - self.now).total_seconds() / 3600])
        op = self.ops[to]
        ready = int(ready_ticks(self.calendar, self.ready_h(wait, hours, op.member))[0])
        if not op.running and ready > op.earliest:
            self.ops[to] = Op(op.name, op.member, op.kind, op.ticks, op.people, op.skilled, ready)

    def across(self) -> None:
        """Links from member to member: planks wait for the frames under them."""
        if not self.yard.hull.frames_first:
            return
        frames = {member.name: member for member in self.job.frames}
        for plank in self.job.planks:
            for label in plank.frames:
                if label in frames and plank.op("out") in self.index:
                    self.link(frames[label].op("inspect"), plank.op("out"))

    def turns(self) -> tuple[Turn, ...]:
        found = []
        for member in self.job.frames:
            if member.op("release") in self.index:
                held = self.job.jig_of(member)
                if not held and self.job.finished(member.op("glue")):
                    continue  # off the jig, still to be measured
                first = None if held else self.index.get(member.op("set"))
                last = self.index[member.op("release")]
                found.append(Turn(member.key, member.name, first, last, held, member.clamps))
        if strange := [turn for turn in found if turn.held > self.yard.jigs]:
            raise BadPlan(
                f"{strange[0].member} is said to be on jig {strange[0].held}; there are {self.yard.jigs}. Say how many "
                "there are, or that its setting is not so."
            )
        return tuple(found)


def worked_ticks(yard: Yard, did: Did, now: datetime) -> int:
    """Ticks of shop hours since an operation was begun."""
    if did.started >= now:
        return 0
    days = (now.date() - did.started.date()).days + 1
    if days > 60:
        return 10**6
    since = yard.calendar(did.started, days + 60)  # begun after hours, the shop next opens on another day
    return int(since.tick_from((now - did.started).total_seconds() / 60))


def people_named(yard: Yard, numbers: tuple[int, ...]) -> tuple[str, ...]:
    """Names of people by their numbers."""
    return tuple(yard.people[n].name for n in numbers)


def who(yard: Yard, name: str) -> Person:
    """One person by name.

    Raises
    ------
    BadPlan
        Nobody is called so.
    """
    found = next((person for person in yard.people if person.name == name), None)
    if found is None:
        raise BadPlan(f"nobody is called {name!r}; there are {', '.join(p.name for p in yard.people)}.")
    return found


def later(at: datetime, hours: float) -> datetime:
    """A time so many hours later."""
    return at + timedelta(hours=hours)
