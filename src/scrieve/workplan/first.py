"""A first plan, made at once by rule of thumb: whatever can begin first is begun, the longest way to go foremost."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from scrieve.workplan.work import Op, Work


class TooShort(Exception):
    """The time looked ahead does not hold the work."""


@dataclass(frozen=True, slots=True)
class Laid:
    """When each operation starts and how long it lasts [ticks], who does it, and the jig of each turn (from 1)."""

    starts: tuple[int, ...]
    ticks: tuple[int, ...]
    people: tuple[tuple[int, ...], ...]
    jigs: tuple[int, ...]

    @property
    def length(self) -> int:
        """Ticks to the end of the last."""
        return max((s + t for s, t in zip(self.starts, self.ticks, strict=True)), default=0)


@dataclass
class _Shop:
    work: Work
    free: NDArray[np.bool_]
    machines: dict[str, NDArray[np.int64]]
    start: dict[int, int] = field(default_factory=dict)
    ticks: dict[int, int] = field(default_factory=dict)
    people: dict[int, tuple[int, ...]] = field(default_factory=dict)
    known: Mapping[int, tuple[int, ...]] = field(default_factory=dict)

    def end(self, n: int) -> int:
        return self.start[n] + self.ticks[n]

    def fits(self, n: int, earliest: int, ticks: int) -> int:
        """The first tick from which an operation can be done."""
        if earliest + ticks > self.work.calendar.ticks:
            raise TooShort
        for far in (earliest + 4 * ticks + 64, self.work.calendar.ticks):
            good = self._can(self.work.ops[n], ticks, earliest, far)
            if len(good) and good.any():
                return earliest + int(np.argmax(good))
        raise TooShort

    def place(self, n: int, at: int, ticks: int) -> int:
        """Put an operation there; return its end."""
        op = self.work.ops[n]
        self.start[n], self.ticks[n] = at, ticks
        here = [p for p in range(len(self.free)) if self.free[p, at : at + ticks].all()]
        if op.by and set(op.by) <= set(here):
            chosen = op.by
        elif n in self.known and set(self.known[n]) <= set(here):
            chosen = self.known[n]
        else:
            skills = {p: len(self.work.yard.people[p].skills) for p in here}
            lead = min((p for p in here if p in op.skilled), key=lambda p: (skills[p], p))
            rest = sorted((p for p in here if p != lead), key=lambda p: (skills[p], p))
            chosen = (lead, *rest[: op.people - 1])
        self.people[n] = tuple(sorted(chosen))
        self.free[list(chosen), at : at + ticks] = False
        if op.kind.machine:
            self.machines[op.kind.machine][at : at + ticks] -= 1
        return at + ticks

    def _can(self, op: Op, ticks: int, low: int, high: int) -> NDArray[np.bool_]:
        """Where from `low` on, looking as far as `high`, it may start."""
        here = slice(low, min(high, self.work.calendar.ticks))
        whole = np.array([_all_in(row[here], ticks) for row in self.free])
        if op.by:
            count = whole[list(op.by)].all(axis=0)
        else:
            count = (whole.sum(axis=0) >= op.people) & whole[list(op.skilled)].any(axis=0)
        if op.kind.machine:
            count &= _all_in(self.machines[op.kind.machine][here] > 0, ticks)
        if op.kind.one_go and not op.running:
            count &= self.work.whole(ticks)[here]
        return np.asarray(count)


def _all_in(row: NDArray[np.bool_], ticks: int) -> NDArray[np.bool_]:
    """Where the next so many ticks are all True."""
    total = np.concatenate([[0], np.cumsum(row)])
    found = np.zeros(len(row), dtype=bool)
    if ticks <= len(row):
        found[: len(row) - ticks + 1] = total[ticks:] - total[:-ticks] == ticks
    return found


@dataclass(frozen=True, slots=True)
class Before:
    """A plan that stood, by numbers of operations: when each was to start [tick], and by whom.

    With `first_those_that_stay`, what can start as it was to is laid before what cannot, which goes into what is left
    between: less is moved, and what is late ends later for it.
    """

    starts: Mapping[int, int]
    people: Mapping[int, tuple[int, ...]]
    first_those_that_stay: bool = False


def first_plan(work: Work, ranks: Mapping[str, float] | None = None, lean: float = 0.0, seed: int | None = None,
               before: Before | None = None) -> Laid:  # fmt: skip
    """Lay the work out by rule of thumb.

    Parameters
    ----------
    work : Work
    ranks : mapping of member key -> number, optional
        Of several operations that can begin at once, that of the least rank is begun; then that with the longest way
        to go behind it.
    lean : float
        By how much of the way still to go an operation may be begun in front of others that can begin sooner.
    seed : int, optional
        Shakes the order a little.
    before : Before, optional
        Nothing starts earlier than in it, and the same people do it where they can: what can stay as it was stays.

    Raises
    ------
    TooShort
        It does not fit in the time looked ahead.
    """
    n_ticks = work.calendar.ticks
    machines = {name: np.full(n_ticks, count, dtype=np.int64) for name, count in work.yard.machines.items()}
    stood = before or Before({}, {})
    shop = _Shop(work, work.there.copy(), machines, known=stood.people)
    rng = np.random.default_rng(seed)
    tail = tails(work) * (1.0 if seed is None else rng.uniform(0.7, 1.3, len(work.ops)))
    first: dict[int, list[tuple[int, NDArray[np.int64] | None]]] = {n: [] for n in range(len(work.ops))}
    for link in work.links:
        first[link.after].append((link.before, link.ready))
    jigs, hull = _Jigs(work), _Hull(work)
    for n, op in enumerate(work.ops):
        if op.running:
            shop.place(n, shop.fits(n, 0, op.ticks), op.ticks)
            jigs.passed(n, shop)
            hull.passed(n, shop)
    left = [n for n in range(len(work.ops)) if n not in shop.start]
    partner = _partners(work)

    def ready_at(n: int) -> int | None:
        """From when all that goes before is over; None while that is not known."""
        if any(b not in shop.start for b, _ in first[n]) or not jigs.may(n) or not hull.may(n):
            return None
        earliest = max(work.ops[n].earliest, stood.starts.get(n, 0))
        for b, table in first[n]:
            end = shop.end(b)
            earliest = max(earliest, end if table is None else int(table[end]))
        return earliest

    while left:
        ready: list[tuple[int, int, int]] = []
        for n in left:
            if (earliest := ready_at(n)) is None:
                continue
            if (other := partner.get(n)) in left:  # a pair is begun once both may be
                assert other is not None
                if (also := ready_at(other)) is None:
                    continue
                earliest = max(earliest, hull.begin(other, also))
            ticks = work.ops[n].ticks
            if n in jigs.by_first:
                earliest, ticks = jigs.begin(n, earliest)
            ready.append((hull.begin(n, earliest), ticks, n))
        if not ready:
            raise TooShort
        best: tuple[bool, float, float, float, int, int, int] | None = None
        for earliest, ticks, n in sorted(ready):
            if best is not None and earliest - lean * tail.max() > best[1] and not stood.first_those_that_stay:
                break
            at = shop.fits(n, earliest, ticks)
            rank = (ranks or {}).get(work.ops[n].member, 0.0)
            goes = stood.first_those_that_stay and at != stood.starts.get(n)
            key = (goes, at - lean * tail[n], rank, -tail[n], n, at, ticks)
            best = key if best is None or key < best else best
        assert best is not None
        n, at, ticks = best[4:]
        jigs.chose(n)
        shop.place(n, at, ticks)
        jigs.passed(n, shop)
        hull.passed(n, shop)
        left.remove(n)
        if (other := partner.get(n)) in left and other is not None:  # and the other of it at once
            ticks = work.ops[other].ticks
            shop.place(other, shop.fits(other, hull.begin(other, at), ticks), ticks)
            hull.passed(other, shop)
            left.remove(other)
    every = range(len(work.ops))
    return Laid(
        tuple(shop.start[n] for n in every),
        tuple(shop.ticks[n] for n in every),
        tuple(shop.people[n] for n in every),
        tuple(jigs.chosen[turn.member] for turn in work.turns),
    )


def _partners(work: Work) -> dict[int, int]:
    """Operations that are begun together: taking off and hanging of planks that the rule ties."""
    found: dict[int, int] = {}
    for pair in work.tied:
        for key in ("hang", "out"):
            one, other = (work.index.get(f"{work.ops[n].member}: {key}", -1) for n in pair)
            if min(one, other) >= 0 and not (work.ops[one].running or work.ops[other].running):
                found |= {one: other, other: one}
    return found


def tails(work: Work) -> NDArray[np.float64]:
    """Ticks that must at the least pass from the start of each operation to the end of all."""
    own = np.array([1.0 if op.sets_jig else float(op.ticks) for op in work.ops])  # a setting may be shorter than usual
    tail = own.copy()
    for link in reversed(work.links):
        wait = 0 if link.ready is None else int((link.ready - np.arange(len(link.ready))).min())
        tail[link.before] = max(tail[link.before], own[link.before] + wait + tail[link.after])
    return tail


class _Jigs:
    """Jigs, each set for the next frame once the last is off."""

    def __init__(self, work: Work) -> None:
        self.work = work
        self.by_first = {turn.first: turn for turn in work.turns if turn.first is not None}
        self.by_last = {turn.last: turn for turn in work.turns}
        self.free: dict[int, int | None] = dict.fromkeys(range(1, work.yard.jigs + 1), 0)
        self.stands: dict[int, str | None] = {jig: work.jig_stands(jig) for jig in self.free}
        self.chosen = {turn.member: turn.held for turn in work.turns}
        self.clamped: dict[str, tuple[int | None, int]] = {}
        for turn in work.turns:
            if turn.held:
                self.free[turn.held] = None
                self.clamped[turn.member] = (None, turn.clamps)

    def may(self, n: int) -> bool:
        """Whether it is known when there will be a jig and clamps for it."""
        if n not in self.by_first:
            return True
        taken = sum(clamps for end, clamps in self.clamped.values() if end is None)
        return any(at is not None for at in self.free.values()) and (
            taken + self.by_first[n].clamps <= self.work.yard.clamps
        )

    def begin(self, n: int, earliest: int) -> tuple[int, int]:
        """From when there is a jig for it, and how long that takes to set."""
        turn = self.by_first[n]
        at, ticks, _ = self._best(n, earliest)
        ends = sorted((end, clamps) for end, clamps in self.clamped.values() if end is not None)
        for end, _ in ends:
            taken = sum(c for e, c in self.clamped.values() if e is None or e > at)
            if taken + turn.clamps > self.work.yard.clamps:
                at = max(at, end)
        return at, ticks

    def _best(self, n: int, earliest: int) -> tuple[int, int, int]:
        ways = [
            (max(at, earliest), self.work.set_ticks(self.by_first[n], self.stands[jig]), jig)
            for jig, at in self.free.items()
            if at is not None
        ]
        return min(ways)

    def chose(self, n: int) -> None:
        """Take the jig for it."""
        if turn := self.by_first.get(n):
            jig = self._best(n, 0)[2]
            self.chosen[turn.member], self.free[jig] = jig, None
            self.clamped[turn.member] = (None, turn.clamps)

    def passed(self, n: int, shop: _Shop) -> None:
        """Free the jig where its frame has come off."""
        if turn := self.by_last.get(n):
            jig = self.chosen[turn.member]
            self.free[jig], self.stands[jig] = shop.end(n), turn.label
            self.clamped[turn.member] = (shop.end(n), turn.clamps)


class _Hull:
    """What is open when; an opening begins only where nothing laid out before stands against it."""

    def __init__(self, work: Work) -> None:
        self.work = work
        self.by_first = {opening.first: opening for opening in work.openings if opening.first is not None}
        self.by_last = {opening.last: opening for opening in work.openings}
        self.never = {frozenset((pair.one, pair.other)) for pair in work.frame_pairs}
        self.never |= {frozenset(pair) for pair in work.plank_clashes}
        #: Member -> the tick at which it is closed again; None while that is not known.
        self.closed: dict[str, int | None] = {o.member: None for o in work.openings if o.first is None}

    def _most(self, key: str) -> int:
        rules = self.work.yard.hull
        return rules.frames_out if key.startswith("frame") else rules.planks_off

    def _alike(self, key: str, other: str) -> bool:
        """Whether two members are counted together: frame pairs, or planks of one side."""
        one, two = self.work.job.member(key), self.work.job.member(other)
        return one.kind == two.kind and (not (one.side and two.side) or one.side == two.side)

    def may(self, n: int) -> bool:
        """Whether it is known when the hull will be closed enough for it to be opened."""
        if n not in self.by_first:
            return True
        key = self.by_first[n].member
        opened = [other for other, end in self.closed.items() if end is None]
        alike = [other for other in opened if self._alike(key, other)]
        return len(alike) < self._most(key) and all(frozenset((key, other)) not in self.never for other in opened)

    def begin(self, n: int, earliest: int) -> int:
        """The first tick from which nothing is open that must not be with this."""
        if n not in self.by_first:
            return earliest
        key = self.by_first[n].member
        clash = [end for other, end in self.closed.items() if end and frozenset((key, other)) in self.never]
        at = max([earliest, *clash])
        alike = [end for other, end in self.closed.items() if self._alike(key, other)]
        room = self._most(key) - sum(end is None for end in alike)
        ends = sorted(end for end in alike if end is not None and end > at)
        return at if len(ends) < room else max(at, ends[len(ends) - room])

    def passed(self, n: int, shop: _Shop) -> None:
        """Mark an opening, or its end."""
        if opening := self.by_first.get(n):
            self.closed[opening.member] = None
        if opening := self.by_last.get(n):
            self.closed[opening.member] = shop.end(n)


#: Kinds of operation that are put off as long as nothing else suffers: supports stand idle, an open hull is in danger.
_LATE = ("out", "shored", "shore")


#: Kinds that are begun as soon as they can be: making, which harms nothing by being done early.
_SOON = ("stock", "plane", "accept", "rip", "clean", "bevel", "shape", "edges", "prime")


def bring_forward(work: Work, laid: Laid, leave: Container[str] = ()) -> Laid:
    """Bring making forward to as early as the same people and machines are free; nothing else changes.

    Parameters and result as of `put_off`.
    """
    starts = list(laid.starts)
    free = work.there.copy()
    machines = {name: np.full(work.calendar.ticks, count) for name, count in work.yard.machines.items()}
    for n, op in enumerate(work.ops):
        span = slice(starts[n], starts[n] + laid.ticks[n])
        free[list(laid.people[n]), span] = False
        if op.kind.machine:
            machines[op.kind.machine][span] -= 1
    before: dict[int, list[tuple[int, NDArray[np.int64] | None]]] = {}
    for link in work.links:
        before.setdefault(link.after, []).append((link.before, link.ready))
    for n in sorted(range(len(starts)), key=lambda n: starts[n]):
        op, ticks, mine = work.ops[n], laid.ticks[n], list(laid.people[n])
        if op.kind.key not in _SOON or op.running or op.name in leave:
            continue
        low = op.earliest
        for b, ready in before.get(n, ()):
            end = starts[b] + laid.ticks[b]
            low = max(low, end if ready is None else int(ready[end]))
        machine = machines.get(op.kind.machine, np.ones(work.calendar.ticks))
        span = slice(starts[n], starts[n] + ticks)
        free[mine, span] = True
        machine[span] += 1
        can = _all_in(np.asarray(free[mine].all(axis=0)), ticks) & _all_in(machine > 0, ticks)
        if op.kind.one_go:
            can &= work.whole(ticks)
        starts[n] = low + int(np.argmax(can[low : starts[n] + 1]))
        span = slice(starts[n], starts[n] + ticks)
        free[mine, span] = False
        machine[span] -= 1
    return Laid(tuple(starts), laid.ticks, laid.people, laid.jigs)


def put_off(work: Work, laid: Laid, leave: Container[str] = ()) -> Laid:
    """Put removals, and the shoring before them, off to as late as nothing else changes.

    Parameters
    ----------
    work : Work
    laid : Laid
    leave : container of operation names
        Those that are to stay where they are.

    Returns
    -------
    Laid
        The same people do the same work; only starts of these kinds are later.
    """
    starts = list(laid.starts)
    free = work.there.copy()
    for n, people in enumerate(laid.people):
        free[list(people), starts[n] : starts[n] + laid.ticks[n]] = False
    after: dict[int, list[int]] = {}
    waited = {link.before for link in work.links if link.ready is not None}
    for link in work.links:
        after.setdefault(link.before, []).append(link.after)
    for n in sorted(range(len(starts)), key=lambda n: -starts[n]):
        op, ticks = work.ops[n], laid.ticks[n]
        if op.kind.key not in _LATE or op.running or n in waited or n not in after or op.name in leave:
            continue
        mine, latest = list(laid.people[n]), min(starts[m] for m in after[n]) - ticks
        free[mine, starts[n] : starts[n] + ticks] = True
        can = _all_in(np.asarray(free[mine].all(axis=0)), ticks)
        if op.kind.one_go:
            can &= work.whole(ticks)
        good = np.flatnonzero(can[starts[n] : latest + 1])
        starts[n] += int(good[-1]) if len(good) else 0
        free[mine, starts[n] : starts[n] + ticks] = False
    return Laid(tuple(starts), laid.ticks, laid.people, laid.jigs)
