"""The search for poses and order: settings of the jig carried on side by side, orders by what changes cost in pairs."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from scrieve.errors import BadJig
from scrieve.frames.jig.poses_fit import Fitter, Seat
from scrieve.frames.jig.poses_order import least_path, legal, shortest
from scrieve.frames.parts import Array

#: Called with steps done, steps in all, and the best minutes so far (NaN before there are any).
Progress = Callable[[int, int, float], None]

#: Up to so many frames every pair is tried, the order is the best for those, and a bound is stated.
BOUND_FRAMES = 10

#: Settings of the jig carried on side by side while orders are compared, and in the order chosen; with more frames
#: than `_MANY` fewer, so that forty take less than 20 s.
_NARROW, _WIDE = 3, 12
_MANY, _NARROW_OF_MANY, _WIDE_OF_MANY = 26, 2, 5
#: Seats tried from each setting, and with many frames.
_BRANCH, _BRANCH_OF_MANY = 8, 4
#: Frames tried after each, where there are many.
_NEIGHBOURS = 4


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """Frames set so far: the setting reached (J,), the minutes it took, and the seats that led there."""

    travel: Array
    lean: Array
    minutes: float = 0.0
    seats: tuple[Seat, ...] = ()

    def grown(self, seat: Seat) -> Chain:
        """The chain with one frame more."""
        return Chain(seat.travel_mm, seat.lean_rad, self.minutes + seat.minutes, (*self.seats, seat))


class _Stop(Exception):
    """The caller has asked to stop."""


class Search:
    """The best chain found for a set of frames; `best` holds its order and itself.

    Parameters
    ----------
    fitters : sequence of Fitter
        One for each frame, as numbered.
    before : sequence of set of int
        For each frame those that come before it.
    start : Chain
        The setting of the jig now.
    progress, stop
        As `plan_settings` has them.
    """

    def __init__(
        self,
        fitters: Sequence[Fitter],
        before: Sequence[set[int]],
        start: Chain,
        progress: Progress | None,
        stop: Callable[[], bool] | None,
    ) -> None:
        self.fitters, self.before, self.start = fitters, before, start
        self.progress, self.stop = progress, stop
        self.best: tuple[list[int], Chain] = ([], start)
        self.bound: float | None = None
        self.stopped = False
        self._done, self._total = 0, 1
        self._narrow = _NARROW

    def naive(self, order: Sequence[int]) -> Chain:
        """The frames in this order, each with its chord on the datum."""
        chain = self.start
        for i in order:
            chain = chain.grown(self.fitters[i].as_numbered(chain.travel, chain.lean))
        return chain

    def seek(self, order: list[int], keep_order: bool) -> None:
        """Find poses in this order, then better orders, until done or stopped; `best` is never worse than naive."""
        count = len(self.fitters)
        self.best = (order, self.naive(order))
        few = count <= BOUND_FRAMES
        self._narrow, wide = (_NARROW, _WIDE) if count <= _MANY else (_NARROW_OF_MANY, _WIDE_OF_MANY)
        near = [] if keep_order or count < 2 else self._neighbours(count - 1 if few else _NEIGHBOURS)
        runs = 4 if near else 1
        self._total = runs * count + sum(len(each) for each in near)
        try:
            if near:
                self._run(order, self._narrow)
                self._orders(near, few)
            self._run(self.best[0], wide)
            if self.bound is not None:
                self.bound = min(self.bound, self.best[1].minutes)
        except _Stop:
            self.stopped = True
        self._done = self._total
        self._told()

    def _orders(self, near: list[list[int]], few: bool) -> None:
        chosen, chain = self.best
        after = {i: chain.seats[k] for k, i in enumerate(chosen)}
        count = len(self.fitters)
        cost = np.full((count, count), np.inf)
        for i in range(count):
            for j in near[i]:
                cost[i, j] = self._change(after[i].travel_mm, after[i].lean_rad, j)
                self._tick()
        for a, b in itertools.pairwise(chosen):
            cost[a, b] = min(cost[a, b], after[b].minutes)
        first = np.array([self._change(self.start.travel, self.start.lean, j) for j in range(count)])
        first[chosen[0]] = min(first[chosen[0]], chain.seats[0].minutes)
        if few:
            self.bound, found = least_path(cost, first, self.before)
        else:
            found = shortest(cost, first, self.before, chosen)
        for trial in (found, found[::-1]):
            if trial != chosen and legal(trial, self.before):
                self._run(trial, self._narrow)

    def _run(self, order: list[int], width: int) -> None:
        """Set the frames in this order, several settings side by side; keep the best if it beats `best`."""
        chains = [self.start]
        branch = _BRANCH if len(self.fitters) <= _MANY else _BRANCH_OF_MANY
        for i in order:
            fitter = self.fitters[i]
            grown = [chain.grown(seat) for chain in chains for seat in fitter.seats(chain.travel, chain.lean, branch)]
            if not grown:
                raise BadJig(fitter.why_not())
            chains = _cheapest(grown, width)
            self._tick()
        if chains[0].minutes < self.best[1].minutes - 1e-9:
            self.best = (list(order), chains[0])

    def _change(self, travel: Array, lean: Array, j: int) -> float:
        found = self.fitters[j].seats(travel, lean, 1)
        return found[0].minutes if found else np.inf

    def _neighbours(self, count: int) -> list[list[int]]:
        """For each frame those nearest to it in shape: heights of their curves as numbered, less the mean."""
        shapes = []
        for fitter in self.fitters:
            curve = fitter.curve
            at = np.linspace(0, len(curve.x) - 1, 60).round().astype(np.intp)
            shapes.append(np.r_[curve.y[at] - curve.y[at].mean(), curve.x[at] - curve.x[at].mean()])
        table = np.array(shapes)
        apart = np.linalg.norm(table[:, None] - table[None], axis=2)
        np.fill_diagonal(apart, np.inf)
        return [np.argsort(row, kind="stable")[:count].tolist() for row in apart]

    def _tick(self) -> None:
        self._done += 1
        self._told()
        if self.stop and self.stop():
            raise _Stop

    def _told(self) -> None:
        if self.progress:
            self.progress(min(self._done, self._total), self._total, self.best[1].minutes)


def _cheapest(chains: Sequence[Chain], width: int) -> list[Chain]:
    """The few cheapest chains that leave different settings."""
    chosen: list[Chain] = []
    seen: set[bytes] = set()
    for chain in sorted(chains, key=lambda each: each.minutes):
        key = np.nan_to_num(chain.travel, nan=-1.0).tobytes()
        if key not in seen:
            seen.add(key)
            chosen.append(chain)
        if len(chosen) == width:
            break
    return chosen
