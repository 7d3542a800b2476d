"""Rooms: what one board offers one part, worked out once: bounds for the move across at every pose and shift along."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from scrieve.stock.board import Board
from scrieve.stock.parts import Part
from scrieve.stock.poses import Lie, Poses
from scrieve.stock.profiles import grain_profile, shape_profile, wood_profile
from scrieve.stock.usable import Up, usable_wood

Profile = NDArray[np.float32]

#: Profiles are moved apart by so much against rounding [mm].
ROUNDING_MM = 2e-3
FAR = np.float32(1e6)
#: So many differences are taken at once; more would not stay near the processor.
_AT_ONCE = 300_000


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells along every board of one run: their length, and by how much parts are grown; lengths in mm."""

    cell_mm: float
    grow_mm: float

    @property
    def start_mm(self) -> float:
        """Where the first cell of every board begins."""
        return -self.grow_mm

    def count(self, board: Board) -> int:
        """Number of cells of a board."""
        return math.ceil((board.length_mm + 2 * self.grow_mm) / self.cell_mm) + 1


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """A board's usable wood in cells, for parts of one thickness and one set of rules with one face up."""

    lower: Profile
    upper: Profile
    first_mm: float
    last_mm: float
    least_grain: NDArray[np.float64]
    most_grain: NDArray[np.float64]
    avoid: tuple[tuple[Profile, Profile], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """What one board offers one part: for each pose and shift, how far across it may lie.

    `least`, `most` (poses, shifts) bound the move across, crossed where the pose has no room; `forbidden` are the open
    ranges taken by defects, (defects, poses, shifts) each. `under`, `over` the mean gap to the usable edges at move 0.
    `free` (cells,) is the width of usable wood.
    """

    poses: tuple[tuple[Poses, int], ...]
    lower: Profile
    upper: Profile
    length_mm: NDArray[np.float64]
    least: Profile
    most: Profile
    forbidden: tuple[Profile, Profile]
    under: Profile
    over: Profile
    free: Profile

    @property
    def lies(self) -> list[Lie]:
        """How the part lies in each pose."""
        return [poses.lies[row] for poses, row in self.poses]

    def plain(self) -> NDArray[np.intp]:
        """Return of each way up and quarter turn the pose that is turned least."""
        lies = self.lies
        turned = [abs(math.remainder(lie.angle_rad, math.pi)) for lie in lies]
        ways = sorted({_way(lie) for lie in lies})
        return np.array([min((r for r, lie in enumerate(lies) if _way(lie) == w), key=turned.__getitem__)
                         for w in ways])  # fmt: skip


def ground_of(board: Board, part: Part, up: Up, stock_mm: float, cells: Cells,
              held: Sequence[BaseGeometry] = ()) -> Ground:  # fmt: skip
    """Return a board's usable wood in cells, for parts like `part` that need `stock_mm` of thickness.

    `held` are outlines that lie on the board already.
    """
    count, grow, start, cell = cells.count(board), cells.grow_mm, cells.start_mm, cells.cell_mm
    wood = usable_wood(board, stock_mm, part.rules, up)
    low, high = wood_profile(wood, start, cell, count, grow)
    least, most = grain_profile(*board.grain_segments(), start, cell, count)
    more = max(part.rules.defect_margin_mm - grow, 0.0)
    shapes = [shape.buffer(more, join_style="mitre") for shape in wood.avoid]
    shapes += [shape.buffer(grow, join_style="mitre") for shape in held]
    avoid = [shape_profile(shape, start, cell, count) for shape in shapes]
    return Ground(_short(low), _short(high), float(wood.x_mm[0]) - grow, float(wood.x_mm[-1]) + grow, least, most,
                  tuple((_short(a), _short(b)) for a, b in avoid))  # fmt: skip


def room_of(ground: Ground, poses: Poses, cells: Cells) -> Room | None:
    """Return what usable wood offers the poses of a part with one face up; None where it offers nothing."""
    part, own, count = poses.part, poses.cells, len(ground.lower)
    if own > count:
        return None
    left = cells.start_mm + cells.cell_mm * np.arange(count - own + 1)
    inside = (left[None, :] >= ground.first_mm - 1e-9) & (
        left[None, :] + poses.length_mm[:, None] <= ground.last_mm + 1e-9
    )
    if part.rules.grain_limit_rad is not None:
        run_off = np.maximum(
            greatest(-windows(ground.least_grain, own), -poses.most_run),
            greatest(windows(ground.most_grain, own), poses.least_run),
        )
        inside &= run_off <= part.rules.grain_limit_rad + 1e-6
    kept = np.flatnonzero(inside.any(axis=1))
    if not kept.size:
        return None
    lower = (np.clip(poses.lower[kept], -FAR, FAR) - ROUNDING_MM).astype(np.float32)
    upper = (np.clip(poses.upper[kept], -FAR, FAR) + ROUNDING_MM).astype(np.float32)
    inside = inside[kept]
    pieces = range(lower.shape[1])
    low, high = windows(ground.lower, own), windows(ground.upper, own)
    least = np.max([greatest(low, lower[:, piece]) for piece in pieces], axis=0)
    most = -np.max([greatest(-high, -upper[:, piece]) for piece in pieces], axis=0)
    least, most = np.where(inside, least, FAR), np.where(inside, most, -FAR)
    room = (least <= most).any(axis=1)
    if not room.any():
        return None
    kept, lower, upper, least, most = kept[room], lower[room], upper[room], least[room], most[room]
    there = lower < FAR / 2
    count_there = there.sum(axis=(1, 2))
    own_low = np.where(there, lower, 0).sum(axis=(1, 2)) / count_there
    own_high = np.where(there, upper, 0).sum(axis=(1, 2)) / count_there
    return Room(
        poses=tuple((poses, int(row)) for row in kept),
        lower=lower,
        upper=upper,
        length_mm=poses.length_mm[kept],
        least=least.astype(np.float32),
        most=most.astype(np.float32),
        forbidden=taken(ground.avoid, lower, upper, least.shape[1]),
        under=(own_low[:, None] - low.mean(axis=1)[None, :]).astype(np.float32),
        over=(high.mean(axis=1)[None, :] - own_high[:, None]).astype(np.float32),
        free=ground.upper - ground.lower,
    )


def joined(rooms: Sequence[Room]) -> Room:
    """Return rooms of one part, one for each face up, as one."""
    cells = max(room.lower.shape[2] for room in rooms)
    pieces = max(room.lower.shape[1] for room in rooms)
    shifts = min(room.least.shape[1] for room in rooms)
    count = max(len(room.forbidden[0]) for room in rooms)
    low, high = zip(*(room.forbidden for room in rooms), strict=True)
    return Room(
        poses=tuple(pose for room in rooms for pose in room.poses),
        lower=np.concatenate([_padded(room.lower, pieces, cells, FAR) for room in rooms]),
        upper=np.concatenate([_padded(room.upper, pieces, cells, -FAR) for room in rooms]),
        length_mm=np.concatenate([room.length_mm for room in rooms]),
        least=np.concatenate([room.least[:, :shifts] for room in rooms]),
        most=np.concatenate([room.most[:, :shifts] for room in rooms]),
        forbidden=(
            np.concatenate([_filled(one[..., :shifts], count, FAR) for one in low], axis=1),
            np.concatenate([_filled(one[..., :shifts], count, -FAR) for one in high], axis=1),
        ),
        under=np.concatenate([room.under[:, :shifts] for room in rooms]),
        over=np.concatenate([room.over[:, :shifts] for room in rooms]),
        free=np.max([room.free for room in rooms], axis=0),
    )


def taken(
    others: Sequence[tuple[Profile, Profile]], lower: Profile, upper: Profile, shifts: int
) -> tuple[Profile, Profile]:
    """Return the open ranges across taken by shapes on the board: (others, poses, shifts) each.

    `others` are pairs of profiles over the board (pieces, cells of the board); `lower`, `upper` those of the poses.
    """
    poses, pieces, cells = lower.shape
    least = np.full((len(others), poses, shifts), FAR, dtype=np.float32)
    most = np.full((len(others), poses, shifts), -FAR, dtype=np.float32)
    for at, (low, high) in enumerate(others):
        filled = np.flatnonzero(low.min(axis=0) < FAR / 2)
        if not filled.size:
            continue
        # Only shifts at which the two overlap along the board.
        lo, hi = max(int(filled[0]) - cells + 1, 0), min(int(filled[-1]) + 1, shifts)
        if hi <= lo:
            continue
        for row in range(len(low)):
            lows = windows(low[row, lo : hi + cells - 1], cells)
            highs = windows(high[row, lo : hi + cells - 1], cells)
            for piece in range(pieces):
                gap = -greatest(-lows, -upper[:, piece])
                rise = greatest(highs, lower[:, piece])
                least[at, :, lo:hi] = np.minimum(least[at, :, lo:hi], gap)
                most[at, :, lo:hi] = np.maximum(most[at, :, lo:hi], rise)
    return least, most


def windows(values: NDArray[Any], cells: int) -> NDArray[Any]:
    """Return every run of so many cells."""
    return sliding_window_view(values, cells)


def greatest(runs: NDArray[Any], own: NDArray[Any]) -> NDArray[Any]:
    """Return max over cells of runs (shifts, cells) - own (poses, cells), as (poses, shifts)."""
    if len(own) * runs.size <= _AT_ONCE:
        return np.asarray(np.maximum.reduce(runs[None] - own[:, None, :], axis=-1))
    return np.array([np.maximum.reduce(runs - row, axis=-1) for row in own])


def _way(lie: Lie) -> tuple[Up, int]:
    """Return which face is up, and which quarter turn the lie is nearest to."""
    return lie.up, round(lie.angle_rad / (math.pi / 2)) % 4


def _short(values: NDArray[np.float64]) -> Profile:
    return np.clip(values, -FAR, FAR).astype(np.float32)


def _padded(profile: Profile, pieces: int, cells: int, fill: np.float32) -> Profile:
    out = np.full((len(profile), pieces, cells), fill, dtype=np.float32)
    out[:, : profile.shape[1], : profile.shape[2]] = profile
    return out


def _filled(ranges: Profile, count: int, fill: np.float32) -> Profile:
    out = np.full((count, *ranges.shape[1:]), fill, dtype=np.float32)
    out[: len(ranges)] = ranges
    return out
