"""Placing: the clear places for one part on one board among those already laid, all at once, by subtraction."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from scrieve.stock.board import Board
from scrieve.stock.parts import Part, Rules
from scrieve.stock.poses import Lie, Poses, Saw, faces_up, poses_of
from scrieve.stock.profiles import grain_profile, shape_profile, wood_profile
from scrieve.stock.usable import Up, usable_wood

Profile = NDArray[np.float32]

#: Angles tried on either side of straight for parts with a grain limit [rad].
ANGLES_RAD = tuple(math.radians(a) for a in (-2.2, -1.3, -0.7, -0.35, -0.15, 0.0, 0.15, 0.35, 0.7, 1.3, 2.2))
#: Profiles are moved apart by so much against rounding [mm].
ROUNDING_MM = 2e-3
FAR = np.float32(1e6)
#: So many differences are taken at once; more would not stay near the processor.
_AT_ONCE = 300_000
#: Turning a part by a few degrees makes its profile so much narrower at most [mm].
_SLACK_MM = 8.0


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """What one board offers one part: for each pose and shift, how far across it may lie.

    `least`, `most` (poses, shifts) bound the move across, crossed where the pose has no room; `forbidden` are the open
    ranges taken by defects, (defects, poses, shifts) each. `under`, `over` the mean gap to the usable edges at move 0.
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
    plain: NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class _Offer:
    """What one board offers one part with one face up."""

    lies: tuple[tuple[Poses, int], ...]
    lower: Profile
    upper: Profile
    length_mm: NDArray[np.float64]
    least: Profile
    most: Profile
    taken: tuple[Profile, Profile]
    under: Profile
    over: Profile
    free: Profile


@dataclass(frozen=True, slots=True, eq=False)
class _Ground:
    """A board's usable wood in cells, for parts of one thickness and one set of rules with one face up."""

    lower: Profile
    upper: Profile
    first_mm: float
    last_mm: float
    least_grain: NDArray[np.float64]
    most_grain: NDArray[np.float64]
    avoid: tuple[tuple[Profile, Profile], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """One part laid: which, its row in the room, its shift in cells, its move across; its profile over the board."""

    part: int
    row: int
    shift: int
    across_mm: float
    lower: Profile
    upper: Profile
    left_mm: float
    right_mm: float
    area_mm2: float

    @property
    def key(self) -> tuple[int, int, int, float]:
        """What tells it apart."""
        return (self.part, self.row, self.shift, round(self.across_mm, 3))


@dataclass(frozen=True, slots=True)
class Taste:
    """How a place is chosen among the clear ones: towards which edge, which end, and how much the end counts."""

    edge: int = -1
    end: int = -1
    weight: float = 0.02


@dataclass(slots=True, eq=False)
class Rack:
    """The boards and parts of one run, outlines held on boards (by number), and the rooms worked out so far.

    `angles_rad` are tried for every part; where there are none, those that its grain limit calls for.
    """

    boards: Sequence[Board]
    parts: Sequence[Part]
    saw: Saw
    cell_mm: float
    held: Mapping[int, Sequence[BaseGeometry]] = field(default_factory=dict)
    angles_rad: tuple[float, ...] = ()
    _rooms: dict[tuple[int, int], Room | None] = field(default_factory=dict)
    _poses: dict[tuple[int, Up], Poses] = field(default_factory=dict)
    _grounds: dict[tuple[int, float, Rules, Up], _Ground] = field(default_factory=dict)
    _classes: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Tell parts that are alike in all but their name."""
        seen: dict[object, int] = {}
        for at, part in enumerate(self.parts):
            own = (part.outline, part.thickness_mm, part.run, part.show, part.turn_over, part.book_matched, part.rules,
                   part.timber)  # fmt: skip
            self._classes.append(seen.setdefault(own, at))

    @property
    def grow_mm(self) -> float:
        """By how much profiles of parts are grown."""
        return self.saw.margin_mm + self.saw.kerf_mm / 2

    def kind(self, part: int) -> int:
        """Return the first part that is alike."""
        return self._classes[part]

    def cells(self, board: int) -> int:
        """Number of cells of a board."""
        return math.ceil((self.boards[board].length_mm + 2 * self.grow_mm) / self.cell_mm) + 1

    def start_mm(self) -> float:
        """Where the first cell of every board begins."""
        return -self.grow_mm

    def room(self, board: int, part: int) -> Room | None:
        """Return what a board offers a part; None where it offers nothing."""
        key = (board, self.kind(part))
        if key not in self._rooms:
            self._rooms[key] = self._room(*key)
        return self._rooms[key]

    def _angles(self, part: Part) -> tuple[float, ...]:
        if self.angles_rad:
            return self.angles_rad
        if part.rules.grain_limit_rad is None:
            return (0.0, math.pi / 2)
        return ANGLES_RAD

    def poses(self, part: int, up: Up) -> Poses:
        """Return the poses of a part with one face up."""
        key = (self.kind(part), up)
        if key not in self._poses:
            own = self.parts[part]
            self._poses[key] = poses_of(own, up, self._angles(own), self.saw, self.cell_mm)
        return self._poses[key]

    def _room(self, board_no: int, part_no: int) -> Room | None:
        board, part = self.boards[board_no], self.parts[part_no]
        if part.stock_mm(self.saw.kerf_mm) > board.thickness_mm + 1e-6:
            return None
        if part.timber and board.timber and part.timber != board.timber:
            return None
        offers = [
            offer
            for up in faces_up(part.show, board.best_face, part.turn_over)
            if (offer := self._offer(board_no, self.poses(part_no, up), up)) is not None
        ]
        if not offers:
            return None
        cells = max(offer.lower.shape[2] for offer in offers)
        pieces = max(offer.lower.shape[1] for offer in offers)
        shifts = min(offer.least.shape[1] for offer in offers)
        count = max(len(offer.taken[0]) for offer in offers)
        lies = [poses.lies[row] for offer in offers for poses, row in offer.lies]
        turned = np.array([abs(math.remainder(lie.angle_rad, math.pi)) for lie in lies])
        plain = [
            min((row for row, lie in enumerate(lies) if _way(lie) == way), key=lambda row: float(turned[row]))
            for way in sorted({_way(lie) for lie in lies})
        ]
        free = np.max([offer.free for offer in offers], axis=0)
        return Room(
            free=free,
            plain=np.array(plain),
            poses=tuple(lie for offer in offers for lie in offer.lies),
            lower=np.concatenate([_padded(offer.lower, pieces, cells, FAR) for offer in offers]),
            upper=np.concatenate([_padded(offer.upper, pieces, cells, -FAR) for offer in offers]),
            length_mm=np.concatenate([offer.length_mm for offer in offers]),
            least=np.concatenate([offer.least[:, :shifts] for offer in offers]),
            most=np.concatenate([offer.most[:, :shifts] for offer in offers]),
            forbidden=(
                np.concatenate([_filled(offer.taken[0][..., :shifts], count, FAR) for offer in offers], axis=1),
                np.concatenate([_filled(offer.taken[1][..., :shifts], count, -FAR) for offer in offers], axis=1),
            ),
            under=np.concatenate([offer.under[:, :shifts] for offer in offers]),
            over=np.concatenate([offer.over[:, :shifts] for offer in offers]),
        )

    def _offer(self, board_no: int, poses: Poses, up: Up) -> _Offer | None:
        ground, part = self._ground(board_no, poses.part, up), poses.part
        cells, count = poses.cells, len(ground.lower)
        if cells > count:
            return None
        left = self.start_mm() + self.cell_mm * np.arange(count - cells + 1)
        inside = (left[None, :] >= ground.first_mm - 1e-9) & (
            left[None, :] + poses.length_mm[:, None] <= ground.last_mm + 1e-9
        )
        if part.rules.grain_limit_rad is not None:
            run_off = np.maximum(
                _greatest(-_windows(ground.least_grain, cells), -poses.most_run),
                _greatest(_windows(ground.most_grain, cells), poses.least_run),
            )
            inside &= run_off <= part.rules.grain_limit_rad + 1e-6
        kept = np.flatnonzero(inside.any(axis=1))
        if not kept.size:
            return None
        lower = (np.clip(poses.lower[kept], -FAR, FAR) - ROUNDING_MM).astype(np.float32)
        upper = (np.clip(poses.upper[kept], -FAR, FAR) + ROUNDING_MM).astype(np.float32)
        inside = inside[kept]
        pieces = range(lower.shape[1])
        low, high = _windows(ground.lower, cells), _windows(ground.upper, cells)
        least = np.max([_greatest(low, lower[:, piece]) for piece in pieces], axis=0)
        most = -np.max([_greatest(-high, -upper[:, piece]) for piece in pieces], axis=0)
        least, most = np.where(inside, least, FAR), np.where(inside, most, -FAR)
        room = (least <= most).any(axis=1)
        if not room.any():
            return None
        kept, lower, upper, least, most = kept[room], lower[room], upper[room], least[room], most[room]
        there = lower < FAR / 2
        count_there = there.sum(axis=(1, 2))
        own_low = np.where(there, lower, 0).sum(axis=(1, 2)) / count_there
        own_high = np.where(there, upper, 0).sum(axis=(1, 2)) / count_there
        return _Offer(
            lies=tuple((poses, int(row)) for row in kept),
            lower=lower,
            upper=upper,
            length_mm=poses.length_mm[kept],
            least=least.astype(np.float32),
            most=most.astype(np.float32),
            taken=taken(ground.avoid, lower, upper, slice(0, least.shape[1])),
            under=(own_low[:, None] - low.mean(axis=1)[None, :]).astype(np.float32),
            over=(high.mean(axis=1)[None, :] - own_high[:, None]).astype(np.float32),
            free=ground.upper - ground.lower,
        )

    def _ground(self, board_no: int, part: Part, up: Up) -> _Ground:
        thickness = part.stock_mm(self.saw.kerf_mm)
        key = (board_no, thickness, part.rules, up)
        if key not in self._grounds:
            board, count, grow = self.boards[board_no], self.cells(board_no), self.grow_mm
            wood = usable_wood(board, thickness, part.rules, up)
            start, cell = self.start_mm(), self.cell_mm
            low, high = wood_profile(wood, start, cell, count, grow)
            least, most = grain_profile(*board.grain_segments(), start, cell, count)
            more = max(part.rules.defect_margin_mm - grow, 0.0)
            shapes = [shape.buffer(more, join_style="mitre") for shape in wood.avoid]
            shapes += [shape.buffer(grow, join_style="mitre") for shape in self.held.get(board_no, ())]
            avoid = [shape_profile(shape, start, cell, count) for shape in shapes]
            self._grounds[key] = _Ground(
                np.clip(low, -FAR, FAR).astype(np.float32), np.clip(high, -FAR, FAR).astype(np.float32),
                float(wood.x_mm[0]) - grow, float(wood.x_mm[-1]) + grow, least, most,
                tuple((np.clip(a, -FAR, FAR).astype(np.float32), np.clip(b, -FAR, FAR).astype(np.float32))
                      for a, b in avoid),
            )  # fmt: skip
        return self._grounds[key]


def _way(lie: Lie) -> tuple[Up, int]:
    """Return which face is up, and which quarter turn the lie is nearest to."""
    return lie.up, round(lie.angle_rad / (math.pi / 2)) % 4


def _windows(values: NDArray[Any], cells: int) -> NDArray[Any]:
    return sliding_window_view(values, cells)


def _greatest(windows: NDArray[Any], own: NDArray[Any]) -> NDArray[Any]:
    """Return max over cells of windows (shifts, cells) - own (poses, cells), as (poses, shifts)."""
    if len(own) * windows.size <= _AT_ONCE:
        return np.asarray(np.maximum.reduce(windows[None] - own[:, None, :], axis=-1))
    return np.array([np.maximum.reduce(windows - row, axis=-1) for row in own])


def _padded(profile: Profile, pieces: int, cells: int, fill: np.float32) -> Profile:
    out = np.full((len(profile), pieces, cells), fill, dtype=np.float32)
    out[:, : profile.shape[1], : profile.shape[2]] = profile
    return out


def _filled(ranges: Profile, count: int, fill: np.float32) -> Profile:
    out = np.full((count, *ranges.shape[1:]), fill, dtype=np.float32)
    out[: len(ranges)] = ranges
    return out


def taken(
    others: Sequence[tuple[Profile, Profile]], lower: Profile, upper: Profile, shifts: slice
) -> tuple[Profile, Profile]:
    """Return the open ranges across taken by shapes on the board: (others, poses, shifts) each.

    `others` are pairs of profiles over the board (pieces, cells of the board); `lower`, `upper` those of the poses.
    """
    poses, pieces, cells = lower.shape
    begin, count = shifts.start, shifts.stop - shifts.start
    least = np.full((len(others), poses, count), FAR, dtype=np.float32)
    most = np.full((len(others), poses, count), -FAR, dtype=np.float32)
    for at, (low, high) in enumerate(others):
        filled = np.flatnonzero(low.min(axis=0) < FAR / 2)
        if not filled.size:
            continue
        # Only shifts at which the two overlap along the board.
        lo, hi = max(int(filled[0]) - cells + 1, begin), min(int(filled[-1]) + 1, begin + count)
        if hi <= lo:
            continue
        out = slice(lo - begin, hi - begin)
        for row in range(len(low)):
            lows = _windows(low[row, lo : hi + cells - 1], cells)
            highs = _windows(high[row, lo : hi + cells - 1], cells)
            for piece in range(pieces):
                gap = -_greatest(-lows, -upper[:, piece])
                rise = _greatest(highs, lower[:, piece])
                least[at, :, out] = np.minimum(least[at, :, out], gap)
                most[at, :, out] = np.maximum(most[at, :, out], rise)
    return least, most


def place(rack: Rack, board: int, part: int, others: Sequence[Laid], taste: Taste) -> Laid | None:
    """Return the part laid in the clear place most to the taste, or None where there is none."""
    room = rack.room(board, part)
    if room is None:
        return None
    if others and not _wide_enough(room, others):
        return None
    profiles = [(other.lower, other.upper) for other in others]
    least, most = taken(profiles, room.lower, room.upper, slice(0, room.least.shape[1]))
    least, most = np.concatenate([room.forbidden[0], least]), np.concatenate([room.forbidden[1], most])
    ways = np.concatenate([room.least[None], room.most[None], most, least])
    clear = (ways >= room.least) & (ways <= room.most)
    for low, high in zip(least, most, strict=True):
        clear &= (ways <= low + np.float32(1e-4)) | (ways >= high - np.float32(1e-4))
    if not clear.any():
        return None
    along = np.arange(room.least.shape[1], dtype=np.float32) * np.float32(rack.cell_mm)
    if taste.edge < 0:
        gap = room.under[None] + ways
    elif taste.edge > 0:
        gap = room.over[None] - ways
    else:
        gap = np.minimum(room.under[None] + ways, room.over[None] - ways)
    end = along if taste.end < 0 else along[-1] - along
    score = np.where(clear, gap + np.float32(taste.weight) * end, np.float32(np.inf))
    way, row, shift = np.unravel_index(int(np.argmin(score)), score.shape)
    return laid_at(rack, board, part, int(row), int(shift), float(ways[way, row, shift]))


def _wide_enough(room: Room, others: Sequence[Laid]) -> bool:
    """Whether the width left free by others could hold the part anywhere, were they pushed together: a quick look."""
    free = room.free.copy()
    for other in others:
        high = other.upper.max(axis=0) - other.lower.min(axis=0)
        free -= np.where(high > 0, high, 0)
    cells = room.lower.shape[2]
    own = room.upper[room.plain].max(axis=1) - room.lower[room.plain].min(axis=1)
    return bool((-_greatest(-_windows(free, cells), -np.where(own > 0, own, -FAR))).max() > -_SLACK_MM)


def laid_at(rack: Rack, board: int, part: int, row: int, shift: int, across_mm: float) -> Laid:
    """Return a part laid at a row, shift and move across."""
    room = rack.room(board, part)
    assert room is not None
    pieces, cells = room.lower.shape[1:]
    lower = np.full((pieces, rack.cells(board)), FAR, dtype=np.float32)
    upper = np.full((pieces, rack.cells(board)), -FAR, dtype=np.float32)
    own_low, own_high = room.lower[row], room.upper[row]
    lower[:, shift : shift + cells] = np.where(own_low < FAR / 2, own_low + np.float32(across_mm), FAR)
    upper[:, shift : shift + cells] = np.where(own_high > -FAR / 2, own_high + np.float32(across_mm), -FAR)
    left = rack.start_mm() + shift * rack.cell_mm
    return Laid(part, row, shift, across_mm, lower, upper, left, left + float(room.length_mm[row]),
                rack.parts[part].area_mm2)  # fmt: skip
