"""How a full-size drawing is cut into pages: the turn that wastes least paper, the tiles, and their register marks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from scrieve.sheets.drawing import Array, Bounds, Circle, Drawing, Hatch, Line, Polyline, Text, plain

MARGIN_MM = 8.0  # what an office printer cannot reach, with a little over
STRIP_MM = 26.0  # the words under the drawing
OVERLAP_MM = 16.0
LONGEST_MM = 5000.0  # a page of a PDF is at most 200 in (5080 mm) long without a scale of its own
EDGE_MM = 1.0  # half a line weight lies outside the outline
LEAST_MM = 112.0  # the check-square must find room


@dataclass(frozen=True, slots=True)
class Tile:
    """One page: its column and row (from the top left), and the part of the turned drawing it shows [mm]."""

    column: int
    row: int
    left: float
    top: float
    name: str


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """The turned drawing, the size of the pages' drawing area, and the pages that have ink on them."""

    drawing: Drawing
    area_w: float
    area_h: float
    columns: int
    rows: int
    tiles: tuple[Tile, ...]
    ink: Array
    left: float
    top: float

    @property
    def step(self) -> tuple[float, float]:
        """From one tile to the next [mm]."""
        return (self.area_w - OVERLAP_MM, self.area_h - OVERLAP_MM)


def roll_layout(drawing: Drawing, roll_width_mm: float) -> Layout:
    """Lay `drawing` along a roll: turned for the fewest pages and least length, cut where a page would be too long."""
    area_w = roll_width_mm - 2 * MARGIN_MM
    most_h = LONGEST_MM - 2 * MARGIN_MM - STRIP_MM
    ink = _ink(drawing)
    rim = _rim(ink)

    def paper(degrees: float) -> tuple[int, float, float]:
        low, high = _span(rim, degrees)
        w, h = high - low
        columns, rows = _count(w, area_w), _count(h, most_h)
        area_h = max(LEAST_MM, math.ceil((h + (rows - 1) * OVERLAP_MM) / rows + 1e-6))
        pages = columns * rows
        length = pages * (area_h + STRIP_MM + 2 * MARGIN_MM)
        return (pages, round(length * (1.0 if degrees in (0, 90) else 1.04)), area_h)

    degrees = min(_ANGLES, key=lambda a: (*paper(a)[:2], abs(a)))
    return _layout(drawing, ink, degrees, area_w, paper(degrees)[2])


def paper_layout(drawing: Drawing, size_mm: tuple[float, float]) -> Layout:
    """Tile `drawing` on sheets of `size_mm`: turned so that the fewest sheets have ink on them."""
    area_w, area_h = size_mm[0] - 2 * MARGIN_MM, size_mm[1] - 2 * MARGIN_MM - STRIP_MM
    ink = _ink(drawing)
    rim = _rim(ink)

    def sheets(degrees: float) -> float:
        low, high = _span(rim, degrees)
        turned = ink @ _turn(degrees).T
        count = len(_inked(turned, *_corner(low, high, area_w, area_h), area_w, area_h))
        return count * (1.0 if degrees in (0, 90) else 1.04)

    degrees = min(_ANGLES, key=lambda a: (sheets(a), abs(a)))
    return _layout(drawing, ink, degrees, area_w, area_h)


_TURN_DEG = 5
_ANGLES = tuple(float(a) for a in range(-90 + _TURN_DEG, 91, _TURN_DEG))


def _layout(drawing: Drawing, ink: Array, degrees: float, area_w: float, area_h: float) -> Layout:
    """The drawing and the points of its ink turned, and cut into pages."""
    ink = ink @ _turn(degrees).T
    low, high = _span(ink, 0.0)
    left, top = _corner(low, high, area_w, area_h)
    columns, rows = _count(high[0] - low[0], area_w), _count(high[1] - low[1], area_h)
    step_x, step_y = area_w - OVERLAP_MM, area_h - OVERLAP_MM
    tiles = tuple(
        Tile(c, r, left + c * step_x, top - r * step_y, f"{_letters(c)}{r + 1}")
        for r, c in sorted((r, c) for c, r in _inked(ink, left, top, area_w, area_h))
    )
    return Layout(drawing.turned(degrees), area_w, area_h, columns, rows, tiles, ink, left, top)


def _count(length: float, area: float) -> int:
    return max(1, math.ceil((length - OVERLAP_MM) / (area - OVERLAP_MM) - 1e-9))


def _corner(low: Array, high: Array, area_w: float, area_h: float) -> tuple[float, float]:
    """Top left corner of the whole of the tiles, the drawing in their middle."""
    spare = []
    for length, area in ((high[0] - low[0], area_w), (high[1] - low[1], area_h)):
        n = _count(length, area)
        spare.append(n * area - (n - 1) * OVERLAP_MM - length)
    return (float(low[0] - spare[0] / 2), float(high[1] + spare[1] / 2))


def _inked(ink: Array, left: float, top: float, area_w: float, area_h: float) -> set[tuple[int, int]]:
    """Columns and rows of the tiles on whose own ground (overlaps shared half and half) there is ink."""
    half = OVERLAP_MM / 2
    column = np.floor((ink[:, 0] - left - half) / (area_w - OVERLAP_MM)).astype(int)
    row = np.floor((top - half - ink[:, 1]) / (area_h - OVERLAP_MM)).astype(int)
    low, high = _span(ink, 0.0)
    columns, rows = _count(high[0] - low[0], area_w), _count(high[1] - low[1], area_h)
    return set(zip(np.clip(column, 0, columns - 1).tolist(), np.clip(row, 0, rows - 1).tolist(), strict=True))


def _span(points: Array, degrees: float) -> tuple[Array, Array]:
    turned = points @ _turn(degrees).T
    return turned.min(axis=0) - EDGE_MM, turned.max(axis=0) + EDGE_MM


def _rim(points: Array) -> Array:
    """The points that lie outermost: at each of the turns tried the span of all is theirs."""
    way = np.radians(np.arange(0.0, 360.0, _TURN_DEG))[:, None]
    furthest = np.argmax(np.cos(way) * points[:, 0] + np.sin(way) * points[:, 1], axis=1)
    return np.asarray(points[np.unique(furthest)])


def _turn(degrees: float) -> Array:
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([[c, -s], [s, c]])


def _ink(drawing: Drawing, every_mm: float = 8.0) -> Array:
    """(n, 2) points close together on every line and round the lettering [mm]."""
    lines: list[Array] = []
    for item in drawing.items:
        for part in plain(item) if not isinstance(item, Hatch) else ():
            match part:
                case Polyline():
                    lines.append(np.vstack([part.points, part.points[:1]]) if part.closed else part.points)
                case Text():
                    corners = part.corners()
                    lines.append(np.vstack([corners, corners[:1]]))
                case Circle():
                    lines.append(np.array(part.at) + part.radius_mm * _ROUND)
                case Line():
                    lines.append(np.array([part.start, part.end]))
        if isinstance(item, Hatch):
            lines += list(item.lines())
    points = np.concatenate(lines)
    last = np.cumsum([len(line) for line in lines]) - 1
    way = np.diff(points, axis=0)
    steps = np.ceil(np.hypot(way[:, 0], way[:, 1]) / every_mm).astype(int)
    steps[last[:-1]] = 0  # from the end of one line to the beginning of the next there is none
    begins = np.repeat(np.arange(len(steps)), steps)
    number = np.arange(len(begins)) - np.repeat(np.cumsum(steps) - steps, steps)
    return np.concatenate([points[begins] + way[begins] * (number / steps[begins])[:, None], points[last]])


#: Twelve points of a circle of radius 1, the first twice.
_ROUND = np.column_stack([f(np.linspace(0.0, 2 * math.pi, 13)) for f in (np.cos, np.sin)])


def clear_place(ink: Array, box: Bounds, side_mm: float, clearance_mm: float = 4.0) -> tuple[float, float]:
    """Lower left corner, within `box`, of the square of `side_mm` that holds least ink; the corners of the box first.

    Examples
    --------
    >>> clear_place(np.array([[10.0, 10.0]]), (0, 0, 300, 300), 100)
    (0.0, 200.0)
    """
    left, bottom, right, top = box
    xs = np.linspace(left, max(left, right - side_mm), max(2, int((right - left - side_mm) / 20) + 2))
    ys = np.linspace(max(bottom, top - side_mm), bottom, max(2, int((top - bottom - side_mm) / 20) + 2))
    near = ink[((ink >= (left, bottom)) & (ink <= (right, top))).all(axis=1)]
    # each point fills a rectangle of the places that hold it: counted by the corners of all of them, summed up twice
    reach = side_mm + clearance_mm
    first, last = np.searchsorted(xs, near[:, 0] - reach, "right"), np.searchsorted(xs, near[:, 0] + clearance_mm)
    low, high = np.searchsorted(-ys, -near[:, 1] - clearance_mm, "right"), np.searchsorted(-ys, reach - near[:, 1])
    corners = np.zeros((len(xs) + 1, len(ys) + 1), dtype=int)
    for i, j, sign in ((first, low, 1), (first, high, -1), (last, low, -1), (last, high, 1)):
        np.add.at(corners, (i, j), sign)
    held = corners.cumsum(axis=0).cumsum(axis=1)[:-1, :-1]
    column, row = divmod(int(np.argmin(held)), len(ys))
    return float(xs[column]), float(ys[row])


def _letters(number: int) -> str:
    text = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(65 + rest) + text
    return text
