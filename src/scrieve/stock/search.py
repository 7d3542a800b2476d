"""Search: parts taken off a few boards and laid anew, over and over, keeping what is better; every board remembered."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from scrieve.stock.board import Board
from scrieve.stock.placing import Laid, Rack, Taste, place

Kinds = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Worth:
    """What a run is judged by: boards' costs, what an off-cut kept is worth, and the least that is kept.

    `cost` (boards,) what each board costs; `keep_share` the share of a board's cost, by its length, at which an end
    off-cut longer than `keep_mm` is counted back.
    """

    cost: tuple[float, ...]
    keep_mm: float
    keep_share: float

    def of_board(self, board_no: int, board: Board, laid: Sequence[Laid]) -> float:
        """Return what the parts laid on a board use up of it."""
        if not laid:
            return 0.0
        before, past = ends_left(board, laid)
        kept = sum(end for end in (before, past) if end >= self.keep_mm)
        return self.cost[board_no] * (1 - self.keep_share * kept / board.length_mm)


def ends_left(board: Board, laid: Sequence[Laid]) -> tuple[float, float]:
    """Return the lengths left before the first and past the last part [mm]."""
    return min(one.left_mm for one in laid), board.length_mm - max(one.right_mm for one in laid)


@dataclass(slots=True)
class Layout:
    """Which parts lie where: by board, and those not laid."""

    boards: dict[int, tuple[Laid, ...]]
    pending: frozenset[int]


@dataclass(slots=True, eq=False)
class Search:
    """One run of the search: the rack, the worth, the random numbers, the best so far and every board it met."""

    rack: Rack
    worth: Worth
    rng: np.random.Generator
    halt: Callable[[], bool] = lambda: False
    pool: dict[int, dict[Kinds, tuple[float, tuple[Laid, ...]]]] = field(default_factory=dict)
    _full: set[tuple[int, int, frozenset[tuple[int, int, float, int]]]] = field(default_factory=set)
    _areas: list[float] = field(default_factory=list)
    _wanted: list[float] = field(default_factory=list)
    _wood: list[float] = field(default_factory=list)
    _missing: float = 0.0

    def __post_init__(self) -> None:
        """Work out areas once."""
        self._areas = [part.area_mm2 for part in self.rack.parts]
        self._wanted = [part.wanted_mm2 for part in self.rack.parts]
        held = {board: sum(shape.area for shape in shapes) for board, shapes in self.rack.held.items()}
        self._wood = [board.area_mm2 - held.get(number, 0.0) for number, board in enumerate(self.rack.boards)]
        # A part not laid counts for more than any board.
        self._missing = 10 * max(self.worth.cost, default=1.0) / max(min(self._areas, default=1.0), 1.0)

    def start(self) -> Layout:
        """Return a first layout: largest part first, each on the board it fills best."""
        empty = Layout({}, frozenset(range(len(self.rack.parts))))
        order = sorted(range(len(self.rack.boards)), key=lambda board: self.worth.cost[board])
        return self._lay(empty, self._order(empty.pending, 0), order, blink=0.0)

    def value(self, layout: Layout) -> float:
        """Return what a layout costs; fuller and emptier boards are liked better than half-full ones."""
        total = self._missing * sum(self._wanted[part] for part in layout.pending)
        for board, laid in layout.boards.items():
            fill = sum(one.area_mm2 for one in laid) / self._wood[board]
            total += self.worth.of_board(board, self.rack.boards[board], laid)
            total -= 0.02 * self.worth.cost[board] * fill * fill
        return total

    def step(self, layout: Layout) -> Layout:
        """Return a layout in which a few boards have been laid anew."""
        used = [board for board, laid in layout.boards.items() if laid]
        rng = self.rng
        count = min(len(used), 1 + int(rng.geometric(0.55)))
        fill = np.array([sum(one.area_mm2 for one in layout.boards[b]) / self._wood[b] for b in used])
        chance = (1.15 - fill) ** 2
        ruined = set(rng.choice(used, size=count, replace=False, p=chance / chance.sum()).tolist()) if used else set()
        boards = dict(layout.boards)
        pending = set(layout.pending)
        whole = rng.random() < 0.6
        for board in ruined:
            kept = () if whole else tuple(one for one in boards[board] if rng.random() < 0.5)
            pending |= {one.part for one in boards[board]} - {one.part for one in kept}
            boards[board] = kept
        order = self._order(frozenset(pending), int(rng.integers(0, 4)))
        others = [board for board in range(len(self.rack.boards)) if boards.get(board) and board not in ruined]
        fresh = [board for board in range(len(self.rack.boards)) if not boards.get(board) and board not in ruined]
        first = list(ruined)
        rng.shuffle(first)
        rng.shuffle(others)
        fresh.sort(key=lambda board: self.worth.cost[board] * (1 + 0.3 * rng.random()))
        tried = [*first, *others[:4]] if rng.random() < 0.5 else [*others[:4], *first]
        return self._lay(Layout(boards, frozenset(pending)), order, [*tried, *fresh], blink=0.03)

    def _order(self, parts: frozenset[int], way: int) -> list[int]:
        own, noise = sorted(parts), self.rng.uniform(0.8, 1.0, len(parts))
        keys = {
            0: [self._areas[part] for part in own],
            1: [self.rack.parts[part].length_mm for part in own],
            2: [self._areas[part] * share for part, share in zip(own, noise, strict=True)],
        }.get(way, self.rng.random(len(own)).tolist())
        return [part for _, part in sorted(zip(keys, own, strict=True), key=lambda pair: (-pair[0], pair[1]))]

    def _taste(self) -> Taste:
        rng = self.rng
        edge = int(rng.choice([-1, 0, 1], p=[0.4, 0.2, 0.4]))
        return Taste(edge, int(rng.choice([-1, 1])), float(10 ** rng.uniform(-3.0, 0.0)))

    def _lay(self, layout: Layout, order: Sequence[int], boards: Sequence[int], *, blink: float) -> Layout:
        laid = {board: list(ones) for board, ones in layout.boards.items()}
        pending = set(layout.pending)
        tastes = {board: self._taste() for board in boards}
        for part in order:
            if self.halt():
                break
            for board in boards:
                if self.halt():
                    break
                if blink and self.rng.random() < blink:
                    continue
                found = self.add(board, part, laid.get(board, []), tastes[board])
                if found is not None:
                    laid.setdefault(board, []).append(found)
                    pending.discard(part)
                    break
        for board in () if self.halt() else boards:
            self.remember(board, laid.get(board, []))
        return Layout({board: tuple(ones) for board, ones in laid.items() if ones}, frozenset(pending))

    def add(self, board: int, part: int, others: Sequence[Laid], taste: Taste) -> Laid | None:
        """Return the part laid beside others on a board, or None; what has failed once is not tried again."""
        left = self._wood[board] - sum(one.area_mm2 for one in others)
        if left < self._areas[part]:
            return None
        key = (board, self.rack.kind(part), frozenset((*one.key[1:], self.rack.kind(one.part)) for one in others))
        if key in self._full:
            return None
        found = place(self.rack, board, part, others, taste)
        if found is None:
            self._full.add(key)
        return found

    def remember(self, board: int, laid: Sequence[Laid]) -> None:
        """Keep the best way met of laying these kinds of parts on this board."""
        if not laid:
            return
        kinds = tuple(sorted(Counter(self.rack.kind(one.part) for one in laid).items()))
        cost = self.worth.of_board(board, self.rack.boards[board], laid)
        known = self.pool.setdefault(board, {}).get(kinds)
        if known is None or cost < known[0] - 1e-9:
            self.pool[board][kinds] = (cost, tuple(laid))


def improved(search: Search, layout: Layout, value: float, heat: float) -> tuple[Layout, float]:
    """Return the next layout of a cooling walk, and its value."""
    other = search.step(layout)
    found = search.value(other)
    if found < value or search.rng.random() < math.exp(-(found - value) / max(heat, 1e-12)):
        return other, found
    return layout, value
