"""Laying: every part on the boards of the rack that waste least; stopped at any time, repeatable by its seed."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Polygon

from scrieve.errors import BadBoard
from scrieve.stock.board import Board, Points
from scrieve.stock.check import breaches, placed
from scrieve.stock.parts import Part
from scrieve.stock.patterns import choose, make_ready
from scrieve.stock.placing import Laid, Rack
from scrieve.stock.poses import SAW, Lie, Saw, laid
from scrieve.stock.search import Layout, Search, Worth, improved

#: Cells of the search [mm]: coarser is quicker, and gives away about a slope times a cell between neighbours.
CELL_MM = 40.0
#: The search cools over so many rounds, then warms up from the best so far.
CYCLE = 500
#: The boards met are put together anew after so many rounds, and at the end.
CHOOSE_EVERY = 250
#: How warm the search is at the start of a cycle, as a share of the dearest board.
HEAT = 0.02


@dataclass(frozen=True, slots=True)
class Placement:
    """One part on one board: how it lies, and where its origin comes to lie on the board; lengths in mm.

    Seen on the board's top face, x along its datum line from its first end. `held` was put there by the builder and
    is left there.
    """

    part: str
    board: str
    lie: Lie
    x_mm: float
    y_mm: float
    held: bool = False


@dataclass(frozen=True, slots=True)
class Keep:
    """Which off-cuts are kept as boards: not shorter or narrower than this [mm]; shop defaults, no source.

    `share` is what a kept end off-cut counts for against the board it is off, by length.
    """

    length_mm: float = 900.0
    width_mm: float = 100.0
    share: float = 0.7


KEEP = Keep()


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the search is: rounds done, parts laid of all, boards used, and what the best so far costs.

    `placements` are those of the best so far, what is held included.
    """

    rounds: int
    laid: int
    parts: int
    boards: int
    cost: float
    placements: tuple[Placement, ...] = ()


@dataclass(frozen=True, slots=True)
class Laying:
    """Where every part lies, and which found no place.

    `parts` are the single parts, each of quantity 1, as they are named in `placements`. With the same boards, parts,
    seed and `rounds`, the result is the same.
    """

    boards: tuple[Board, ...]
    parts: tuple[Part, ...]
    saw: Saw
    keep: Keep
    placements: tuple[Placement, ...]
    missing: tuple[str, ...]
    seed: int
    rounds: int
    stopped: bool

    def part(self, name: str) -> Part:
        """Return a single part by its name."""
        return next(part for part in self.parts if part.name == name)

    def board(self, name: str) -> Board:
        """Return a board by its name."""
        return next(board for board in self.boards if board.name == name)

    def on(self, board: str) -> tuple[Placement, ...]:
        """Return what lies on a board, from its first end on."""
        return tuple(sorted((one for one in self.placements if one.board == board), key=lambda one: one.x_mm))

    def outline(self, one: Placement) -> Points:
        """Return the corners of a part as it lies on its board."""
        return tuple(map(tuple, laid(self.part(one.part).outline, one.lie, one.x_mm, one.y_mm).tolist()))


def single_parts(parts: Sequence[Part]) -> tuple[Part, ...]:
    """Return each part as often as it is wanted, numbered where it is wanted more than once.

    Raises
    ------
    BadBoard
        Two parts have the same name.
    """
    singles: list[Part] = []
    for part in parts:
        names = [part.name] if part.quantity == 1 else [f"{part.name} no. {n + 1}" for n in range(part.quantity)]
        singles += [replace(part, name=name, quantity=1) for name in names]
    _unique("part", [part.name for part in singles])
    return tuple(singles)


def lay_parts(
    boards: Sequence[Board],
    parts: Sequence[Part],
    *,
    saw: Saw = SAW,
    keep: Keep = KEEP,
    held: Sequence[Placement] = (),
    seed: int = 1,
    rounds: int = 1500,
    seconds: float | None = None,
    progress: Callable[[Progress], bool] | None = None,
    cell_mm: float = CELL_MM,
) -> Laying:
    """Lay parts on boards at the least cost: by what the boards cost, or by area where a cost is not known.

    Parts are laid at every clear place along each board, either end first, either face up where that is allowed, at
    small angles; boards are emptied and laid anew over and over, and the best of all boards ever met are put together.

    Parameters
    ----------
    boards : sequence of Board
    parts : sequence of Part
    saw, keep
        Kerf and margin; which off-cuts are kept.
    held : sequence of Placement
        Parts that the builder has put in place; they stay where they are, legal or not.
    seed, rounds
        The same seed and number of rounds give the same result.
    seconds : float, optional
        Stop after so long even before `rounds`, with a second's grace at most. The result tells the rounds done: with
        `rounds` set to them it comes out the same, unless the machine was too busy to finish the last choosing.
    progress : callable, optional
        Called about twice a second; returns False to stop with the best so far.

    Raises
    ------
    BadBoard
        Two boards or two parts have the same name, or a held placement names none of them.
    """
    singles = single_parts(parts)
    _unique("board", [board.name for board in boards])
    kept = _held(boards, singles, held)
    free = [part for part in singles if part.name not in {one.part for one in held}]
    if not free or not boards:
        missing = tuple(part.name for part in free)
        return Laying(tuple(boards), singles, saw, keep, tuple(held), missing, seed, 0, False)
    rack = Rack(list(boards), free, saw, cell_mm, held=kept)
    dear = _costs(boards, rack)
    search = Search(rack, Worth(dear, keep.length_mm, keep.share), np.random.default_rng(seed))
    best, done, stopped = _run(search, seed, rounds, seconds, progress)
    placements = [*held]
    others = {number: list(shapes) for number, shapes in kept.items()}
    for number, ones in sorted(best.boards.items()):
        for one in ones:
            found = placement(rack, number, one)
            part = free[one.part]
            beside = others.setdefault(number, [])
            # The search rounds to the safe side; this is the proof of it, part by part.
            if not breaches(boards[number], part, found.lie, found.x_mm, found.y_mm, others=[("", shape) for shape in
                            beside], saw=saw):  # fmt: skip
                placements.append(found)
                beside.append(placed(part, found.lie, found.x_mm, found.y_mm))
    named = {one.part for one in placements}
    missing = tuple(part.name for part in singles if part.name not in named)
    return Laying(tuple(boards), singles, saw, keep, tuple(placements), missing, seed, done, stopped)


def placement(rack: Rack, board: int, one: Laid) -> Placement:
    """Return a place of the search as it lies on the board."""
    room = rack.room(board, one.part)
    assert room is not None
    poses, row = room.poses[one.row]
    x = rack.cells.start_mm + one.shift * rack.cell_mm + float(poses.shift_x[row])
    return Placement(rack.parts[one.part].name, rack.boards[board].name, poses.lies[row], x, one.across_mm)


def _run(
    search: Search,
    seed: int,
    rounds: int,
    seconds: float | None,
    progress: Callable[[Progress], bool] | None,
) -> tuple[Layout, int, bool]:
    make_ready()
    began = said = time.monotonic()
    halted = False

    def halt() -> bool:
        nonlocal said, halted
        now = time.monotonic()
        halted = halted or (ends is not None and now >= ends - reserve)
        if progress is not None and not halted and now - said >= 0.5:
            said, halted = now, not progress(_progress(search, best, done))
        return halted

    done = 0
    ends = None if seconds is None else began + seconds
    # Left for putting the best boards together, and for holding every part against the rules.
    reserve = 0.0 if seconds is None else min(0.1 * seconds, 1.0)
    best = Layout({}, frozenset(range(len(search.rack.parts))))
    search.halt = halt
    layout = best = search.start()
    value = least = search.value(layout)
    warm = HEAT * max(search.worth.cost, default=1.0)
    while done < rounds and not halted:
        cooled = done % CYCLE / CYCLE
        if cooled == 0:
            layout, value = best, least
        after = improved(search, layout, value, warm * (1 - cooled) ** 2)
        if halted:  # a round cut short is left out, so that the result is that of whole rounds
            break
        layout, value = after
        done += 1
        if value < least - 1e-9:
            best, least = layout, value
        if done % CHOOSE_EVERY == 0 and done < rounds:
            began_choosing = time.monotonic()
            best, least = _better(search, best, least, seed, ends)
            reserve = max(reserve, time.monotonic() - began_choosing)
    if done:  # of one way for each board there is nothing to choose
        best, least = _better(search, best, least, seed, ends)
    stopped = done < rounds
    if progress is not None:
        progress(_progress(search, best, done))
    return best, done, stopped


def _better(search: Search, best: Layout, least: float, seed: int, ends: float | None) -> tuple[Layout, float]:
    left = None if ends is None else max(ends + 0.3 - time.monotonic(), 0.1)
    other = choose(search.rack, search.pool, best, seed=seed, seconds=left)
    found = search.value(other)
    return (other, found) if found < least - 1e-9 else (best, least)


def _progress(search: Search, layout: Layout, done: int) -> Progress:
    count = len(search.rack.parts)
    cost = sum(search.worth.of_board(board, search.rack.boards[board], laid) for board, laid in layout.boards.items())
    places = tuple(placement(search.rack, board, one) for board, ones in sorted(layout.boards.items()) for one in ones)
    return Progress(done, count - len(layout.pending), count, len(layout.boards), cost, places)


def _costs(boards: Sequence[Board], rack: Rack) -> tuple[float, ...]:
    """Return what each board costs, in money where every board's cost is known, by area otherwise."""
    if all(board.cost is not None and board.cost > 0 for board in boards):
        known = [float(board.cost or 0.0) for board in boards]
    else:
        known = [board.volume_m3 for board in boards]
    # A board with a part held on it is cut into anyway.
    return tuple(cost * (0.05 if number in rack.held else 1.0) for number, cost in enumerate(known))


def _held(boards: Sequence[Board], parts: Sequence[Part], held: Sequence[Placement]) -> dict[int, list[Polygon]]:
    numbers = {board.name: number for number, board in enumerate(boards)}
    known = {part.name: part for part in parts}
    kept: dict[int, list[Polygon]] = {}
    for one in held:
        if one.board not in numbers:
            raise BadBoard(f"part {one.part!r} is held on board {one.board!r}, which is not in the rack.")
        if one.part not in known:
            raise BadBoard(f"{one.part!r} is held on board {one.board!r}, but is not to be cut.")
        shape = placed(known[one.part], one.lie, one.x_mm, one.y_mm)
        kept.setdefault(numbers[one.board], []).append(shape)
    _unique("held part", [one.part for one in held])
    return kept


def _unique(what: str, names: Sequence[str]) -> None:
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise BadBoard(f"the {what} {twice[0]!r} comes twice; give each its own name.")
