"""One drawing model, in mm at full size with y up, from which SVG, PDF and DXF are written.

A drawing is a tuple of items, each on a layer named by the trade. The layer settles weight, pattern and colour, so that
screen, paper and DXF look alike. Lettering is measured by the height of its capitals.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadGeometry

Array = NDArray[np.float64]
Point = tuple[float, float]
Bounds = tuple[float, float, float, float]
Role = Literal["ink", "faint", "accent"]
Align = Literal["left", "middle", "right"]
Level = Literal["baseline", "middle", "top"]
HatchStyle = Literal["diagonal", "back", "cross", "upright", "level"]

#: Drawing-paper ground, ink, thin ink, and the one accent: red lead.
PAPER = "#f7f3e8"
COLOURS: Mapping[str, str] = {"ink": "#1f2328", "faint": "#6a6f73", "accent": "#c2401c"}

#: The drawing letter (embedded in the sheet writer): height of a capital and advance of one letter, in em.
CAPITAL_EM = 0.729
ADVANCE_EM = 0.602


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer: its trade name, line weight on paper [mm], dash pattern on paper [mm], and the role of its colour."""

    name: str
    weight_mm: float = 0.25
    pattern_mm: tuple[float, ...] = ()
    role: Role = "ink"

    @property
    def slug(self) -> str:
        """The layer's class name: `MOULDED LINE` -> `moulded-line`."""
        return self.name.lower().replace(" ", "-")


_CHAIN = (8.0, 1.5, 1.0, 1.5)
_DASH = (3.5, 1.8)
_DOTS = (0.6, 1.6)
LAYERS: Mapping[str, Layer] = {
    layer.name: layer
    for layer in (
        Layer("GRID", 0.13, (), "faint"),
        Layer("HATCHING", 0.13, (), "faint"),
        Layer("WATERLINES", 0.18, (), "faint"),
        Layer("CENTRELINE", 0.18, _CHAIN, "ink"),
        Layer("DATUM LINE", 0.25, _CHAIN, "accent"),
        Layer("LAMINATIONS", 0.13, (), "faint"),
        Layer("INNER FACE", 0.35, (), "ink"),
        Layer("OTHER FACE", 0.3, _DASH, "ink"),
        Layer("MOULDED LINE", 0.5, (), "ink"),
        Layer("BEVEL MARKS", 0.3, (), "accent"),
        Layer("BEVELS", 0.0, (), "accent"),
        Layer("JOINTS", 0.3, _DASH, "ink"),
        Layer("FRAME MARKS", 0.3, (), "accent"),
        Layer("RAILS", 0.18, (), "faint"),
        Layer("JIG FACE", 0.5, (), "accent"),
        Layer("BRACKETS", 0.35, (), "ink"),
        Layer("SEAM EDGE", 0.5, (), "ink"),
        Layer("SECTIONS", 0.3, (), "ink"),
        Layer("SECTIONS NOT MEASURED", 0.3, _DASH, "ink"),
        Layer("BOARD", 0.3, (), "ink"),
        Layer("UNDER FACE", 0.3, _DASH, "ink"),
        Layer("HEARTWOOD", 0.18, _DOTS, "accent"),
        Layer("GRAIN", 0.18, (), "faint"),
        Layer("DEFECTS", 0.3, (), "accent"),
        Layer("OFF CUTS", 0.3, _DASH, "ink"),
        Layer("PROFILE", 0.4, (), "ink"),
        Layer("BAND", 0.18, _DOTS, "accent"),
        Layer("MARKS", 0.3, (), "accent"),
        Layer("DIMENSIONS", 0.18, (), "ink"),
        Layer("CHECK SQUARE", 0.3, (), "accent"),
        Layer("REGISTER MARKS", 0.18, (), "ink"),
        Layer("TEXT", 0.0, (), "ink"),
        Layer("FIGURES", 0.0, (), "accent"),
    )
}


@dataclass(frozen=True, slots=True, eq=False)
class Polyline:
    """A line through `points` (n, 2) [mm]. `link` makes it selectable on a page, under the name `title`."""

    points: Array
    layer: str
    closed: bool = False
    link: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """One straight line."""

    start: Point
    end: Point
    layer: str
    link: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle, or a dot where `filled`."""

    at: Point
    radius_mm: float
    layer: str
    filled: bool = False
    link: str = ""
    title: str = ""


@dataclass(frozen=True, slots=True)
class Text:
    """One line of lettering: capitals `height_mm` high at full size, turned by `angle_deg` to the left.

    `align` and `level` say which point of the lettering stands at `at`.
    """

    at: Point
    text: str
    height_mm: float
    layer: str = "TEXT"
    align: Align = "left"
    level: Level = "baseline"
    angle_deg: float = 0.0
    link: str = ""
    title: str = ""

    @property
    def width_mm(self) -> float:
        """Length of the lettering (every letter is equally wide)."""
        return len(self.text) * self.height_mm * ADVANCE_EM / CAPITAL_EM

    @property
    def foot(self) -> Point:
        """Where the baseline of the lettering starts, middles or ends, after `level`."""
        drop = {"baseline": 0.0, "middle": 0.5, "top": 1.0}[self.level] * self.height_mm
        turn = math.radians(self.angle_deg)
        return (self.at[0] + drop * math.sin(turn), self.at[1] - drop * math.cos(turn))

    def corners(self) -> Array:
        """(4, 2) corners of the lettering's box [mm]."""
        left = {"left": 0.0, "middle": -0.5, "right": -1.0}[self.align] * self.width_mm
        h = self.height_mm
        box = np.array([(left, -0.25 * h), (left + self.width_mm, -0.25 * h), (left + self.width_mm, h), (left, h)])
        return box @ _rotation(self.angle_deg).T + self.foot


@dataclass(frozen=True, slots=True, eq=False)
class Hatch:
    """Hatching of a closed `polygon` (n, 2); its lines stand `spacing_mm` apart at full size."""

    polygon: Array
    style: HatchStyle = "diagonal"
    spacing_mm: float = 4.0
    layer: str = "HATCHING"

    def lines(self) -> Array:
        """(m, 2, 2) hatching lines inside the polygon."""
        angles = {"diagonal": (45.0,), "back": (135.0,), "cross": (45.0, 135.0), "upright": (90.0,), "level": (0.0,)}
        return np.concatenate([_hatch_lines(self.polygon, a, self.spacing_mm) for a in angles[self.style]])


@dataclass(frozen=True, slots=True)
class Dimension:
    """A dimension from `start` to `end`, its line `offset_mm` to the left of that direction."""

    start: Point
    end: Point
    offset_mm: float
    text: str
    height_mm: float
    layer: str = "DIMENSIONS"

    def parts(self) -> tuple[Line | Text, ...]:
        """The lines and the lettering of which it is drawn, the same for every writer."""
        a, b = np.asarray(self.start, float), np.asarray(self.end, float)
        along = b - a
        length = float(np.hypot(*along))
        along = along / length if length else np.array([1.0, 0.0])
        left = np.array([-along[1], along[0]])
        side = 1.0 if self.offset_mm >= 0 else -1.0
        h = self.height_mm
        p, q = a + left * self.offset_mm, b + left * self.offset_mm
        tick = (along + left) * 0.4 * h
        lines = [
            Line(_pt(foot + left * side * 0.4 * h), _pt(end + left * side * 0.4 * h), self.layer)
            for foot, end in ((a, p), (b, q))
        ]
        lines += [Line(_pt(p), _pt(q), self.layer)]
        lines += [Line(_pt(end - tick), _pt(end + tick), self.layer) for end in (p, q)]
        angle = math.degrees(math.atan2(along[1], along[0]))
        upright = (angle + 90.0) % 360.0 - 90.0
        if upright > 90.0 + 1e-9:
            upright -= 180.0
        up = _rotation(upright) @ np.array([0.0, 1.0])
        text = Text(_pt((p + q) / 2 + up * 0.45 * h), self.text, h, "TEXT", "middle", "baseline", upright)
        return (*lines, text)


Item = Polyline | Line | Circle | Text | Hatch | Dimension


@dataclass(frozen=True, eq=False)
class Drawing:
    """Items in mm at full size, y up.

    `one_to` is the n of the scale 1:n for which lettering and dots were sized (1 for a full-size pattern); a sheet
    draws at that scale where it fits. `times` is how many times larger than the boat it is drawn across and up; None
    where its axes are no lengths, so that nothing can be measured on it.
    """

    items: tuple[Item, ...]
    title: str = ""
    one_to: float = 1.0
    times: Point | None = (1.0, 1.0)

    @cached_property
    def bounds(self) -> Bounds:
        """(left, bottom, right, top) of every item, its lettering included [mm]."""
        points = [p for item in self.items for p in _extent(item)]
        if not points:
            raise BadGeometry(f"drawing {self.title!r} is empty; there is nothing to print.")
        every = np.concatenate(points)
        if not np.isfinite(every).all():
            raise BadGeometry(f"drawing {self.title!r} has points that are not numbers; compute its member again.")
        (left, bottom), (right, top) = every.min(axis=0), every.max(axis=0)
        return (float(left), float(bottom), float(right), float(top))

    @property
    def size_mm(self) -> Point:
        """Width and height [mm]."""
        left, bottom, right, top = self.bounds
        return (right - left, top - bottom)

    def turned(self, degrees: float) -> Drawing:
        """The drawing turned to the left by `degrees` about the origin, lettering and all."""
        m = _rotation(degrees)
        return replace(self, items=tuple(_turn(item, m, degrees) for item in self.items))

    def on_layer(self, layer: str) -> tuple[Item, ...]:
        """The items of one layer."""
        return tuple(item for item in self.items if item.layer == layer)


def plain(item: Item) -> tuple[Polyline | Line | Circle | Text, ...]:
    """Return `item` as lines, circles and lettering only: hatching and dimensions are taken apart."""
    if isinstance(item, Dimension):
        return item.parts()
    if isinstance(item, Hatch):
        return tuple(Line(_pt(a), _pt(b), item.layer) for a, b in item.lines())
    return (item,)


def polyline(points: ArrayLike, layer: str, closed: bool = False, *, link: str = "", title: str = "") -> Polyline:
    """Return a polyline through `points` (n, 2) [mm].

    Raises
    ------
    BadGeometry
        Fewer than two points, or points that are not finite.
    """
    array = np.asarray(points, dtype=float)
    if array.ndim != 2 or array.shape[1] != 2 or len(array) < 2 or not np.isfinite(array).all():
        raise BadGeometry(f"a line of layer {layer}: found points of shape {array.shape}; two finite points or more.")
    return Polyline(array, layer, closed, link, title)


def one_to(width_mm: float, height_mm: float, room_mm: Point = (180.0, 120.0)) -> float:
    """Return n of the largest usual scale 1:n at which a drawing of that size fits `room_mm`.

    Examples
    --------
    >>> one_to(1700, 900), one_to(150, 100)
    (10.0, 1.0)
    """
    need = max(width_mm / room_mm[0], height_mm / room_mm[1])
    if need <= 1:
        return 1.0
    power = 10.0 ** math.floor(math.log10(need))
    return next(n * power for n in (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0) if n * power >= need - 1e-9)


def shorten(text: str, most: int = 28) -> str:
    """Return `text` on one line without control signs, cut to `most` letters."""
    clean = printable(text)
    return clean if len(clean) <= most else clean[: most - 1].rstrip() + "…"


_SPACES = re.compile(r"\s+")
_UNPRINTABLE = re.compile("[\x00-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff\u202a-\u202e\u2066-\u2069]")


def printable(text: str) -> str:
    """Return `text` with white space run together and what no file may hold replaced by '�'.

    Examples
    --------
    >>> printable("frame\\t14 \\x00")
    'frame 14 �'
    """
    if text.isprintable() and "  " not in text:
        return text.strip()
    return _UNPRINTABLE.sub("�", _SPACES.sub(" ", text)).strip()


def _pt(p: ArrayLike) -> Point:
    x, y = np.asarray(p, dtype=float)
    return (float(x), float(y))


def _rotation(degrees: float) -> Array:
    quarter = degrees / 90.0
    if quarter == round(quarter):  # exact quarter turns, so that a turned square stays square
        c, s = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(quarter) % 4]
    else:
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([[c, -s], [s, c]])


def _turn(item: Item, m: Array, degrees: float) -> Item:
    match item:
        case Polyline():
            return replace(item, points=item.points @ m.T)
        case Hatch():
            return replace(item, polygon=item.polygon @ m.T)
        case Line() | Dimension():
            return replace(item, start=_pt(m @ np.asarray(item.start)), end=_pt(m @ np.asarray(item.end)))
        case Circle():
            return replace(item, at=_pt(m @ np.asarray(item.at)))
        case Text():
            return replace(item, at=_pt(m @ np.asarray(item.at)), angle_deg=item.angle_deg + degrees)


def _extent(item: Item) -> Iterable[Array]:
    match item:
        case Polyline():
            yield item.points
        case Hatch():
            yield item.polygon
        case Line():
            yield np.array([item.start, item.end], dtype=float)
        case Circle():
            r = item.radius_mm
            yield np.array(item.at, dtype=float) + np.array([(-r, -r), (r, r)])
        case Text():
            yield item.corners()
        case Dimension():
            for part in item.parts():
                yield from _extent(part)


def _hatch_lines(polygon: Array, angle_deg: float, spacing_mm: float) -> Array:
    """Lines of one direction inside `polygon`, by crossings taken in pairs (even-odd rule): (m, 2, 2)."""
    m = _rotation(angle_deg)
    p = np.asarray(polygon, dtype=float) @ m  # the hatching lines now run level
    q = np.roll(p, -1, axis=0)
    low, high = np.minimum(p[:, 1], q[:, 1]), np.maximum(p[:, 1], q[:, 1])
    levels = np.arange(math.floor(low.min() / spacing_mm) + 0.5, high.max() / spacing_mm) * spacing_mm
    n, edge = np.nonzero((low <= levels[:, None]) & (levels[:, None] < high))  # every level's crossings: an even number
    share = (levels[n] - p[edge, 1]) / (q[edge, 1] - p[edge, 1])
    x = p[edge, 0] + share * (q[edge, 0] - p[edge, 0])
    x = x[np.lexsort((x, n))]
    return np.asarray(np.column_stack([x, levels[n]]).reshape(-1, 2, 2) @ m.T)
