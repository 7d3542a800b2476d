"""Placing: the clear places for one part on one board among those already laid, all at once, by subtraction."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from scrieve.stock.board import Board
from scrieve.stock.parts import Part, Rules
from scrieve.stock.poses import Lie, Poses, Saw, faces_up, poses_of
from scrieve.stock.rooms import FAR, Cells, Ground, Profile, Room, greatest, ground_of, joined, room_of, taken, windows
from scrieve.stock.usable import Up

#: Angles tried on either side of straight for parts with a grain limit [rad].
ANGLES_RAD = tuple(math.radians(a) for a in (-2.2, -1.3, -0.7, -0.35, -0.15, 0.0, 0.15, 0.35, 0.7, 1.3, 2.2))
#: Turning a part by a few degrees makes its profile so much narrower at most [mm].
_SLACK_MM = 8.0


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
    _plain: dict[tuple[int, int], NDArray[np.intp]] = field(default_factory=dict)
    _poses: dict[tuple[int, Up], Poses] = field(default_factory=dict)
    _grounds: dict[tuple[int, float, Rules, Up], Ground] = field(default_factory=dict)
    _classes: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Tell parts that are alike in all but their name."""
        seen: dict[object, int] = {}
        for at, part in enumerate(self.parts):
            own = (part.outline, part.thickness_mm, part.run, part.show, part.turn_over, part.book_matched, part.rules,
                   part.timber)  # fmt: skip
            self._classes.append(seen.setdefault(own, at))

    @property
    def cells(self) -> Cells:
        """The cells along its boards."""
        return Cells(self.cell_mm, self.saw.margin_mm + self.saw.kerf_mm / 2)

    def kind(self, part: int) -> int:
        """Return the first part that is alike."""
        return self._classes[part]

    def room(self, board: int, part: int) -> Room | None:
        """Return what a board offers a part; None where it offers nothing."""
        key = (board, self.kind(part))
        if key not in self._rooms:
            self._rooms[key] = self._room(*key)
        return self._rooms[key]

    def plain(self, board: int, part: int) -> NDArray[np.intp]:
        """Return the rows of a room in which the part is turned least."""
        key = (board, self.kind(part))
        if key not in self._plain:
            room = self.room(*key)
            assert room is not None
            self._plain[key] = room.plain()
        return self._plain[key]

    def poses(self, part: int, up: Up) -> Poses:
        """Return the poses of a part with one face up."""
        key = (self.kind(part), up)
        if key not in self._poses:
            own = self.parts[part]
            self._poses[key] = poses_of(own, up, self._angles(own), self.saw, self.cell_mm)
        return self._poses[key]

    def _angles(self, part: Part) -> tuple[float, ...]:
        if self.angles_rad:
            return self.angles_rad
        if part.rules.grain_limit_rad is None:
            return (0.0, math.pi / 2)
        return ANGLES_RAD

    def _room(self, board_no: int, part_no: int) -> Room | None:
        board, part = self.boards[board_no], self.parts[part_no]
        if part.stock_mm(self.saw.kerf_mm) > board.thickness_mm + 1e-6:
            return None
        if part.timber and board.timber and part.timber != board.timber:
            return None
        found = [
            room_of(self._ground(board_no, part, up), self.poses(part_no, up), self.cells)
            for up in faces_up(part.show, board.best_face, part.turn_over)
        ]
        rooms = [room for room in found if room is not None]
        return joined(rooms) if rooms else None

    def _ground(self, board_no: int, part: Part, up: Up) -> Ground:
        thickness = part.stock_mm(self.saw.kerf_mm)
        key = (board_no, thickness, part.rules, up)
        if key not in self._grounds:
            held = self.held.get(board_no, ())
            self._grounds[key] = ground_of(self.boards[board_no], part, up, thickness, self.cells, held)
        return self._grounds[key]


def clear_places(room: Room, others: Sequence[Laid]) -> tuple[Profile, NDArray[np.bool_]]:
    """Return moves across (ways, poses, shifts) at which a part touches wood's edge or a neighbour; which are clear."""
    profiles = [(other.lower, other.upper) for other in others]
    least, most = taken(profiles, room.lower, room.upper, room.least.shape[1])
    least, most = np.concatenate([room.forbidden[0], least]), np.concatenate([room.forbidden[1], most])
    ways = np.concatenate([room.least[None], room.most[None], most, least])
    return ways, _is_clear(room, ways, least, most)


def _is_clear(room: Room, ways: Profile, least: Profile, most: Profile) -> NDArray[np.bool_]:
    clear = (ways >= room.least) & (ways <= room.most)
    for low, high in zip(least, most, strict=True):
        clear &= (ways <= low + np.float32(1e-4)) | (ways >= high - np.float32(1e-4))
    return clear


def place(rack: Rack, board: int, part: int, others: Sequence[Laid], taste: Taste) -> Laid | None:
    """Return the part laid in the clear place most to the taste, or None where there is none."""
    room = rack.room(board, part)
    if room is None or (others and not _wide_enough(room, rack.plain(board, part), others)):
        return None
    ways, clear = clear_places(room, others)
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


def nearest_place(rack: Rack, board: int, part: int, lie: Lie, x_mm: float, y_mm: float) -> tuple[float, float] | None:
    """Return the clear place nearest to (x, y) for a part lying as it does, beside what is held; None without one.

    Places are tried on the rack's cells along the board.
    """
    room = rack.room(board, part)
    if room is None:
        return None
    rows = [row for row, own in enumerate(room.lies) if own == lie]
    if not rows:
        return None
    poses, own = room.poses[rows[0]]
    ways, clear = clear_places(room, ())
    # Besides the places that touch something: the level asked for, wherever it is clear.
    here = np.full_like(ways[:1], np.float32(y_mm))
    ways = np.concatenate([ways, here])
    clear = np.concatenate([clear, _is_clear(room, here, *room.forbidden)])
    along = rack.cells.start_mm + rack.cell_mm * np.arange(room.least.shape[1]) + float(poses.shift_x[own])
    off = np.where(clear[:, rows[0]], np.hypot(along[None] - x_mm, ways[:, rows[0]] - y_mm), np.inf)
    if not np.isfinite(off).any():
        return None
    way, shift = np.unravel_index(int(np.argmin(off)), off.shape)
    return float(along[shift]), float(ways[way, rows[0], shift])


def _wide_enough(room: Room, plain: NDArray[np.intp], others: Sequence[Laid]) -> bool:
    """Whether the width left free by others could hold the part anywhere, were they pushed together: a quick look."""
    free = room.free.copy()
    for other in others:
        high = other.upper.max(axis=0) - other.lower.min(axis=0)
        free -= np.where(high > 0, high, 0)
    cells = room.lower.shape[2]
    own = room.upper[plain].max(axis=1) - room.lower[plain].min(axis=1)
    return bool((-greatest(-windows(free, cells), -np.where(own > 0, own, -FAR))).max() > -_SLACK_MM)


def laid_at(rack: Rack, board: int, part: int, row: int, shift: int, across_mm: float) -> Laid:
    """Return a part laid at a row, shift and move across."""
    room = rack.room(board, part)
    assert room is not None
    pieces, own = room.lower.shape[1:]
    cells = rack.cells
    count = cells.count(rack.boards[board])
    lower = np.full((pieces, count), FAR, dtype=np.float32)
    upper = np.full((pieces, count), -FAR, dtype=np.float32)
    own_low, own_high = room.lower[row], room.upper[row]
    lower[:, shift : shift + own] = np.where(own_low < FAR / 2, own_low + np.float32(across_mm), FAR)
    upper[:, shift : shift + own] = np.where(own_high > -FAR / 2, own_high + np.float32(across_mm), -FAR)
    left = cells.start_mm + shift * rack.cell_mm
    return Laid(part, row, shift, across_mm, lower, upper, left, left + float(room.length_mm[row]),
                rack.parts[part].area_mm2)  # fmt: skip
