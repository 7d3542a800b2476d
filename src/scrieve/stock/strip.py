"""Strip: parts laid on stock of one length, using the least width in all; what to order where the rack is short."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadBoard
from scrieve.stock.board import rectangular
from scrieve.stock.parts import Part
from scrieve.stock.placing import Rack
from scrieve.stock.poses import SAW, Lie, Saw
from scrieve.stock.rooms import FAR, Profile, Room, taken

Array = NDArray[np.float64]

#: Each part is tried at no more than about this many places along the strip.
CELL_MM = 40.0
#: Angles tried in clear square-edged stock [rad].
STRIP_ANGLES_RAD = tuple(math.radians(a) for a in (-1.0, -0.5, 0.0, 0.5, 1.0))
_EPS = np.float32(2e-3)


@dataclass(frozen=True, slots=True)
class StripPlace:
    """Where one part lies in the strip: how it is turned, and where its origin comes to lie [mm]."""

    part: int
    lie: Lie
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True)
class StripResult:
    """The strip: its length, the width used, and where each part lies; `share` of its area that is parts."""

    length_mm: float
    width_mm: float
    places: tuple[StripPlace, ...]
    share: float
    rounds: int


@dataclass(slots=True)
class _One:
    part: int
    row: int
    shift: int
    across: float
    top: float


@dataclass(slots=True, eq=False)
class _Strip:
    rack: Rack
    rng: np.random.Generator
    rooms: list[Room] = field(default_factory=list)
    tops: list[Profile] = field(default_factory=list)
    bottoms: list[Profile] = field(default_factory=list)
    middles: list[Profile] = field(default_factory=list)
    _pairs: dict[tuple[int, int, int], tuple[Profile, Profile, int]] = field(default_factory=dict)

    def pair(self, part: int, other: int, row: int) -> tuple[Profile, Profile, int]:
        """Return the ranges across that one part, laid so, takes from another, by shift of the one past the other."""
        key = (self.rack.kind(part), self.rack.kind(other), row)
        if key not in self._pairs:
            new, old = self.rooms[part], self.rooms[other]
            before, after = old.least.shape[1] - 1, new.least.shape[1] - 1
            cells_new, cells_old = new.lower.shape[2], old.lower.shape[2]
            count = before + after + max(cells_new, cells_old)
            low = np.full((old.lower.shape[1], count), FAR, dtype=np.float32)
            high = np.full_like(low, -FAR)
            low[:, before : before + cells_old] = old.lower[row]
            high[:, before : before + cells_old] = old.upper[row]
            least, most = taken([(low, high)], new.lower, new.upper, before + after + 1)
            self._pairs[key] = (least[0], most[0], before)
        return self._pairs[key]

    def ranges(self, part: int, others: Sequence[_One]) -> tuple[Profile, Profile]:
        """Return the open ranges across taken by others, (others, poses, shifts)."""
        shifts = self.rooms[part].least.shape[1]
        least, most = [], []
        for other in others:
            low, high, before = self.pair(part, other.part, other.row)
            begin = before - other.shift
            least.append(low[:, begin : begin + shifts] + np.float32(other.across))
            most.append(high[:, begin : begin + shifts] + np.float32(other.across))
        return np.array(least), np.array(most)

    def add(self, part: int, others: list[_One], lean: float, end: float) -> _One:
        """Return the part laid as low as it goes among the others."""
        room = self.rooms[part]
        base = room.least
        if not others:
            ways, clear = base[None], room.least[None] <= room.most[None]
        else:
            least, most = self.ranges(part, others)
            ways = np.concatenate([base[None], np.maximum(most, base[None])])
            clear = np.repeat((room.least <= room.most)[None], len(ways), axis=0)
            for low, high in zip(least, most, strict=True):
                clear &= (ways <= low + _EPS) | (ways >= high - _EPS)
        along = np.arange(base.shape[1], dtype=np.float32)
        height = ways + (1 - lean) * self.middles[part][None, :, None] + lean * self.tops[part][None, :, None]
        score = np.where(clear, height + np.float32(end) * along, np.float32(np.inf))
        way, row, shift = np.unravel_index(int(np.argmin(score)), score.shape)
        across = float(ways[way, row, shift])
        return _One(part, int(row), int(shift), across, across + float(self.tops[part][row]))

    def settle(self, ones: list[_One]) -> list[_One]:
        """Let every part sink as far as it goes, lowest first."""
        out: list[_One] = []
        for one in sorted(ones, key=lambda one: one.across + float(self.bottoms[one.part][one.row])):
            floor = float(self.rooms[one.part].least[one.row, one.shift])
            least, most = [], []
            for other in out:
                low, high, before = self.pair(one.part, other.part, other.row)
                at = before - other.shift + one.shift
                least.append(float(low[one.row, at]) + other.across)
                most.append(float(high[one.row, at]) + other.across)
            taken_up = list(zip(least, most, strict=True))
            lower = [floor, *(high for high in most if floor < high < one.across)]
            clear = (y for y in sorted(lower) if not any(a + 2e-3 < y < b - 2e-3 for a, b in taken_up))
            across = next(clear, one.across)
            out.append(_One(one.part, one.row, one.shift, across, across + one.top - one.across))
        return out


def least_strip_width(
    parts: Sequence[Part],
    length_mm: float,
    *,
    saw: Saw = SAW,
    seed: int = 1,
    rounds: int | None = 2000,
    seconds: float | None = None,
    progress: Callable[[int, float], bool] | None = None,
    angles_rad: Sequence[float] = STRIP_ANGLES_RAD,
    clock: Callable[[], float] = time.monotonic,
) -> StripResult:
    """Lay parts on clear square-edged stock of one length, of any number of boards' widths side by side.

    Parameters
    ----------
    parts : sequence of Part
        One of each; quantities are not looked at.
    length_mm : float
        Length of the stock.
    rounds, seconds
        Stop after so many rounds, or so long, whichever is first. The same seed and rounds give the same result.
    progress : callable, optional
        Given rounds and the width so far; returns False to stop.

    angles_rad : sequence of float
        Angles tried, for every part.
    clock : callable, optional
        By which `seconds` are told.

    Raises
    ------
    BadBoard
        A part is longer than the stock.
    """
    wide = 2 * sum(max(_extent(part)) for part in parts) + 1000.0
    thick = max(part.stock_mm(saw.kerf_mm) for part in parts)
    rack = Rack([rectangular("strip", length_mm, wide, thick)], list(parts), saw, CELL_MM, angles_rad=tuple(angles_rad))
    strip = _Strip(rack, np.random.default_rng(seed))
    for at, part in enumerate(parts):
        room = rack.room(0, at)
        if room is None:
            raise BadBoard(f"part {part.name!r} does not lie on stock {length_mm:g} mm long; order longer stock, or "
                           "scarf it.")  # fmt: skip
        strip.rooms.append(room)
        there = room.lower < FAR / 2
        strip.tops.append(np.where(there, room.upper, -FAR).max(axis=(1, 2)))
        strip.bottoms.append(np.where(there, room.lower, FAR).min(axis=(1, 2)))
        both = np.where(there, room.lower + room.upper, 0).sum(axis=(1, 2)) / there.sum(axis=(1, 2))
        strip.middles.append((both / 2).astype(np.float32))
    began = clock()
    order = sorted(range(len(parts)), key=lambda part: -parts[part].length_mm)
    ones: list[_One] = []
    for number in order:
        ones.append(strip.add(number, ones, 0.5, 0.01))
    value = _value(ones, parts)
    best, best_value, done = ones, value, 0
    limit = rounds if rounds is not None else 10**9
    while done < limit:
        spent = (clock() - began) / seconds if seconds else 0.0
        if spent >= 1:
            break
        share = max(spent, done / limit)
        other = _relaid(strip, ones, parts)
        found = _value(other, parts)
        done += 1
        heat = 0.004 * best_value * (1 - share) ** 2
        if found < value or strip.rng.random() < math.exp(-(found - value) / max(heat, 1e-9)):
            ones, value = other, found
        if value < best_value:
            best, best_value = ones, value
        if progress is not None and done % 20 == 0 and not progress(done, max(one.top for one in best)):
            break
    return _result(strip, best, parts, length_mm, done)


def _relaid(strip: _Strip, ones: list[_One], parts: Sequence[Part]) -> list[_One]:
    rng = strip.rng
    count = int(rng.integers(1, max(2, min(9, len(ones) + 1))))
    if rng.random() < 0.6:
        level = rng.uniform(0, max(one.top for one in ones))
        near = sorted(ones, key=lambda one: abs(one.top - level) + rng.uniform(0, 200))
        gone = near[:count]
    else:
        gone = [ones[at] for at in rng.choice(len(ones), size=min(count, len(ones)), replace=False)]
    if rng.random() < 0.5:
        top = max(ones, key=lambda one: one.top)
        if top not in gone:
            gone.append(top)
    kept = strip.settle([one for one in ones if one not in gone])
    noise = rng.uniform(0.7, 1.0, len(gone))
    by_length = rng.random() < 0.7
    order = sorted(range(len(gone)), key=lambda at: -(parts[gone[at].part].length_mm if by_length else 1) * noise[at])
    lean, end = float(rng.choice([0.0, 0.5, 1.0])), float(rng.choice([-0.05, 0.05, -0.5, 0.5]))
    for at in order:
        kept.append(strip.add(gone[at].part, kept, lean, end))
    return strip.settle(kept)


def _value(ones: Sequence[_One], parts: Sequence[Part]) -> float:
    """Width used, and a little of the mean height, so that what lies lower is liked better."""
    tops = np.array([one.top for one in ones])
    weights = np.array([parts[one.part].length_mm for one in ones])
    return float(tops.max() + 0.5 * np.average(tops, weights=weights) + 0.1 * np.sort(tops)[-3:].mean())


def _result(strip: _Strip, ones: Sequence[_One], parts: Sequence[Part], length: float, rounds: int) -> StripResult:
    grow = strip.rack.cells.grow_mm
    places = []
    for one in ones:
        poses, row = strip.rooms[one.part].poses[one.row]
        x = strip.rack.cells.start_mm + one.shift * strip.rack.cell_mm + float(poses.shift_x[row])
        places.append(StripPlace(one.part, poses.lies[row], x, one.across))
    margin = max(part.rules.edge_margin_mm for part in parts)
    width = max(one.top for one in ones) - grow + margin
    share = sum(part.area_mm2 for part in parts) / (length * width)
    return StripResult(length, float(width), tuple(places), share, rounds)


def _extent(part: Part) -> tuple[float, float]:
    low_x, low_y, high_x, high_y = part.polygon.bounds
    return high_x - low_x, high_y - low_y
