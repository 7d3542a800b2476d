"""How a full-size drawing is cut into pages: the turn that wastes least paper, the tiles, and their register marks."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from scrieve.sheets.drawing import Array, Bounds, Circle, Drawing, Hatch, Line, Polyline, Text, plain

MARGIN_MM = 8.0  # what an office printer cannot reach, with a little over
STRIP_MM = 26.0  # the words under the drawing
OVERLAP_MM = 16.0
LONGEST_MM = 5000.0  # a page of a PDF is at most 200 in (5080 mm) long without a scale of its own
EDGE_MM = 1.0  # half a line weight lies outside the outline
LEAST_MM = 112.0  # the check-square must find room
CHECK_MM = 100.0
MEASURE_SQUARE = "Measure the check-square before you trust this sheet: 100 mm each way."
BAR_MM = (5.0, CHECK_MM)  # an upright check bar with the words along it
_CLEAR_MM = 6.0  # from the points of ink, 8 mm apart or less along their lines, to a check mark


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
        count = len(_inked(ink @ _turn(degrees).T, low, high, area_w, area_h))
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
        for r, c in _inked(ink, low, high, area_w, area_h)
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


def _inked(ink: Array, low: Array, high: Array, area_w: float, area_h: float) -> list[tuple[int, int]]:
    """Rows and columns of the tiles on whose own ground (overlaps shared half and half) there is ink."""
    left, top = _corner(low, high, area_w, area_h)
    half = OVERLAP_MM / 2
    columns, rows = _count(high[0] - low[0], area_w), _count(high[1] - low[1], area_h)
    # what lies outside the first or the last tile's own ground is theirs
    column = np.clip((ink[:, 0] - (left + half)) / (area_w - OVERLAP_MM), 0, columns - 1).astype(int)
    row = np.clip((top - half - ink[:, 1]) / (area_h - OVERLAP_MM), 0, rows - 1).astype(int)
    return [divmod(int(cell), columns) for cell in np.flatnonzero(np.bincount(row * columns + column))]


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


def clear_place(
    ink: Array, box: Bounds, size_mm: tuple[float, float], clearance_mm: float = _CLEAR_MM
) -> tuple[float, float, int]:
    """Lower left corner, within `box`, of the rectangle of `size_mm` that holds least of `ink`, and how much it holds.

    `ink` is points 8 mm apart or less along their lines, as `_ink` makes them: with none of them within 6 mm of the
    rectangle, no line comes nearer to it than 2 mm. Of places alike the leftmost counts, and there the topmost.

    Examples
    --------
    >>> clear_place(np.array([[10.0, 10.0]]), (0, 0, 300, 300), (100, 100))
    (0.0, 200.0, 0)
    """
    left, bottom, right, top = box
    wide, high = size_mm
    xs, ys = _steps(left, max(left, right - wide)), _steps(max(bottom, top - high), bottom)
    reach = clearance_mm
    near = ink[((ink >= (left - reach, bottom - reach)) & (ink <= (right + reach, top + reach))).all(axis=1)]
    # each point fills a rectangle of the places that hold it: counted by the corners of all of them, summed up twice
    across, up = wide + clearance_mm, high + clearance_mm
    first, last = np.searchsorted(xs, near[:, 0] - across, "right"), np.searchsorted(xs, near[:, 0] + clearance_mm)
    low, upper = np.searchsorted(-ys, -near[:, 1] - clearance_mm, "right"), np.searchsorted(-ys, up - near[:, 1])
    width = len(ys) + 1
    cells = np.concatenate([first * width + low, last * width + upper, first * width + upper, last * width + low])
    signs = np.repeat([1.0, -1.0], 2 * len(near))
    corners = np.bincount(cells, signs, (len(xs) + 1) * width).reshape(-1, width)
    held = corners.cumsum(axis=0).cumsum(axis=1)[:-1, :-1]
    column, row = divmod(int(np.argmin(held)), len(ys))
    return float(xs[column]), float(ys[row]), int(held[column, row])


def _steps(first: float, last: float) -> Array:
    """Places from `first` to `last`, 3 mm apart; of a long way so many that the search stays short."""
    return np.linspace(first, last, max(2, min(200, int(abs(last - first) / 3) + 2)))


@dataclass(frozen=True, slots=True)
class CheckMark:
    """How a page's size is proved: by a square, by an upright bar and one level at the foot, or there alone.

    `x`, `y` is the lower left corner of the square or the upright bar, from that of the page's drawing area [mm];
    `other` names the page with the upright bar that stands for this one's too, where this one has no room for any.
    """

    kind: Literal["square", "bars", "foot"]
    x: float
    y: float
    other: str = ""


def check_marks(layout: Layout) -> list[CheckMark]:
    """Where every page's size is proved without a line of the drawing, a lap line or a register cross in the way.

    A square where there is room for one; else an upright bar beside the level one, which stands below the drawing; else
    the level one alone, beside another page's upright bar. Where no page has room for either, the first has its upright
    bar where least ink is.
    """
    found = [(tile.name, _check_mark(layout, tile)) for tile in layout.tiles]
    upright = next((name for name, mark in found if mark.kind != "foot"), layout.tiles[0].name)
    return [
        mark if mark.kind != "foot" else replace(mark, kind="bars") if name == upright else replace(mark, other=upright)
        for name, mark in found
    ]


def _check_mark(layout: Layout, tile: Tile) -> CheckMark:
    half = OVERLAP_MM / 2
    laps = (tile.column > 0, tile.row < layout.rows - 1, tile.column < layout.columns - 1, tile.row > 0)
    left, bottom, right, top = (half + 2.0 if lap else 2.0 for lap in laps)
    box = (left, bottom, layout.area_w - right, layout.area_h - top)
    ink = layout.ink - (tile.left, tile.top - layout.area_h)
    if len(layout.tiles) > 1:
        crosses = [(x, y) for x in (half, layout.area_w - half) for y in (half, layout.area_h - half)]
        ink = np.vstack([ink, *(_CROSS + at for at in crosses)])
    kinds: tuple[tuple[Literal["square", "bars"], tuple[float, float]], ...]
    kinds = (("square", (CHECK_MM, CHECK_MM)), ("bars", BAR_MM))
    for kind, size in kinds:
        x, y, held = clear_place(ink, box, size)
        if not held and box[0] + size[0] <= box[2] + 1e-9 and box[1] + size[1] <= box[3] + 1e-9:
            return CheckMark(kind, x, y)
    return CheckMark("foot", x, y)


#: What a register cross takes with its number: its middle, and the rim of its square.
_CROSS = np.array([(x, y) for x in (-6.0, 0.0, 6.0) for y in (-6.0, 0.0, 6.0)])


def _letters(number: int) -> str:
    text = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(65 + rest) + text
    return text
