"""The three views of a fair hull: body plan, profile and half-breadth plan, each frame selectable."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from scrieve.sheets.drawing import Array, Drawing, Item, Line, Point, Text, one_to, polyline, shorten
from scrieve.units import MM_PER_INCH, Units, format_length

LETTER_MM = 2.4  # height of a capital on the sheet
_BETWEEN = 81  # stations along the hull from which long lines are drawn


class Hull(Protocol):
    """What is drawn: a fair hull with named stations."""

    @property
    def x_range(self) -> tuple[float, float]:
        """First and last station [mm]."""
        ...

    @property
    def stations(self) -> Mapping[str, float]:
        """Frame label -> station [mm]."""
        ...

    def point(self, x: ArrayLike, v: ArrayLike) -> Array:
        """Points (..., 3) at stations `x` [mm] and shares `v` of the girth, 0 at the heel to 1 at the head [mm]."""
        ...


Link = Callable[[str], str]
_NONE: Mapping[str, float] = MappingProxyType({})


def no_link(label: str) -> str:
    """No frame leads anywhere."""
    return ""


def body_plan(
    hull: Hull,
    *,
    link: Link = no_link,
    not_measured: Mapping[str, float] = _NONE,
    waterlines_mm: Sequence[float] | None = None,
    units: Units = "mm",
) -> Drawing:
    """Return the sections as seen end on: forward frames to starboard (right), after frames to port (left).

    The frame at the greatest breadth is drawn on both sides. `link` gives the page of a frame label. The frames of
    `not_measured` (label -> station, whether the hull names them or not) are dashed. `waterlines_mm` are heights: about
    six at a round spacing, unless given.
    """
    sections = _sections(hull, not_measured) or [
        ("", float(x), _section(hull, float(x))) for x in np.linspace(*hull.x_range, 9)
    ]
    broadest = int(np.argmax([points[:, 0].max() for _, _, points in sections]))
    every = np.concatenate([points for _, _, points in sections])
    (_, low), (beam, high) = every.min(axis=0).tolist(), every.max(axis=0).tolist()
    n = one_to(2 * beam * 1.15, (high - low) * 1.2)
    h = LETTER_MM * n
    heights = level_heights(low, high, units) if waterlines_mm is None else list(waterlines_mm)
    items = levels(heights, -beam - 2 * h, beam + 2 * h, h, units)
    items.append(Line((0.0, low - 3 * h), (0.0, high + 3 * h), "CENTRELINE"))
    for side, hand in ((1, sections[: broadest + 1]), (-1, sections[broadest:])):
        heads = []
        for label, x, section in hand:
            points = section * (side, 1)
            items.append(
                polyline(points, _layer(label, not_measured), link=link(label) if label else "", title=_name(label, x))
            )
            heads.append((float(points[-1, 0]), float(points[-1, 1]) + 0.8 * h, label))
        items += _labels_up(heads, h, link)
    foot = low - 4.5 * h
    items += [
        Text((beam, foot), "forward frames (starboard)", h, align="right"),
        Text((-beam, foot), "after frames (port)", h),
    ]
    return Drawing(tuple(items), "Body plan: forward frames to the right, after frames to the left", n)


def profile(
    hull: Hull,
    *,
    link: Link = no_link,
    not_measured: Mapping[str, float] = _NONE,
    waterlines_mm: Sequence[float] | None = None,
    units: Units = "mm",
) -> Drawing:
    """Return the hull from the side: heel line, head line (sheer), frames upright; forward end to the left."""
    x, heel, head, grid = _long_lines(hull)
    low, high = float(grid[..., 1].min()), float(grid[..., 1].max())
    n = one_to(float(np.ptp(x)) * 1.06, (high - low) * 1.3)
    h = LETTER_MM * n
    heights = level_heights(low, high, units) if waterlines_mm is None else list(waterlines_mm)
    items = levels(heights, x[0] - 3 * h, x[-1] + 3 * h, h, units)
    items += [
        polyline(np.column_stack([x, heel[:, 1]]), "PROFILE", title="heel line"),
        polyline(np.column_stack([x, head[:, 1]]), "PROFILE", title="head line (sheer)"),
    ]
    uprights = [(label, at, section[[0, -1], 1]) for label, at, section in _sections(hull, not_measured)]
    items += _across(uprights, not_measured, x, low, h, link)
    return Drawing(tuple(items), "Profile: forward end to the left", n)


def half_breadth_plan(
    hull: Hull,
    *,
    link: Link = no_link,
    not_measured: Mapping[str, float] = _NONE,
    waterlines_mm: Sequence[float] | None = None,
    units: Units = "mm",
) -> Drawing:
    """Return one side from above: head line, waterlines, frames square to the centreline; forward end to the left."""
    x, heel, head, grid = _long_lines(hull)
    low, high = float(grid[..., 1].min()), float(grid[..., 1].max())
    beam = float(grid[..., 0].max())
    n = one_to(float(np.ptp(x)) * 1.06, beam * 1.3)
    h = LETTER_MM * n
    heights = level_heights(low, high, units) if waterlines_mm is None else list(waterlines_mm)
    items: list[Item] = [Line((x[0] - 3 * h, 0.0), (x[-1] + 3 * h, 0.0), "CENTRELINE")]
    for height in heights:
        name = f"waterline {format_length(height, units)}"
        items += [polyline(run, "WATERLINES", title=name) for run in waterline(x, grid, height)]
    items += [
        polyline(np.column_stack([x, head[:, 0]]), "PROFILE", title="head line (sheer)"),
        polyline(np.column_stack([x, heel[:, 0]]), "PROFILE", title="heel line"),
    ]
    across = [(label, at, np.array([0.0, section[:, 0].max()])) for label, at, section in _sections(hull, not_measured)]
    items += _across(across, not_measured, x, 0.0, h, link)
    return Drawing(tuple(items), "Half-breadth plan: forward end to the left", n)


def _across(
    frames: Sequence[tuple[str, float, Array]], dashed: Mapping[str, float], x: Array, base: float, h: float, link: Link
) -> list[Item]:
    """Frames as straight lines across a long view, each from and to (2,); under `base` their labels and the ends."""
    items: list[Item] = [
        Line((at, float(low)), (at, float(high)), _layer(label, dashed), link=link(label), title=_name(label, at))
        for label, at, (low, high) in frames
    ]
    items += labels_along([(at, base - 2.2 * h, label) for label, at, _ in frames], h, link)
    ends = base - 4.4 * h
    return [*items, Text((float(x[0]), ends), "forward", h), Text((float(x[-1]), ends), "aft", h, align="right")]


def _layer(label: str, not_measured: Mapping[str, float]) -> str:
    return "SECTIONS NOT MEASURED" if label in not_measured else "SECTIONS"


def waterline(x: Array, grid: Array, height_mm: float) -> list[Array]:
    """Return the half-breadths of a level line, (k, 2) as (x, half-breadth) for each unbroken run of it.

    `grid` (stations, girth points, 2) holds half-breadth and height, heel to head. Where the line runs out at the heel
    or the head between two stations, it ends at the point found by proportion.
    """
    y = np.full(len(x), np.nan)
    for i, (b, z) in enumerate(zip(grid[..., 0], grid[..., 1], strict=True)):
        above = z >= height_mm
        cuts = np.flatnonzero(above[1:] != above[:-1])
        if len(cuts):
            j = cuts[-1]
            y[i] = b[j] + (height_mm - z[j]) / (z[j + 1] - z[j]) * (b[j + 1] - b[j])
    runs: list[list[Point]] = []
    for i, (at, out) in enumerate(zip(x, y, strict=True)):
        here = not math.isnan(out)
        before = i > 0 and not math.isnan(y[i - 1])
        if here and not before:
            runs.append(_run_out(x, grid, height_mm, i, i - 1))
        if here:
            runs[-1].append((float(at), float(out)))
        elif before:
            runs[-1] += _run_out(x, grid, height_mm, i - 1, i)
    return [np.array(run) for run in runs if len(run) > 1]


def _run_out(x: Array, grid: Array, height_mm: float, inside: int, outside: int) -> list[Point]:
    """The point between two stations where the heel or head line passes through `height_mm`, if there is one."""
    if not 0 <= outside < len(x):
        return []
    for end in (0, -1):
        (ba, za), (bb, zb) = grid[inside, end], grid[outside, end]
        if (za - height_mm) * (zb - height_mm) < 0:
            share = (height_mm - za) / (zb - za)
            return [(float(x[inside] + share * (x[outside] - x[inside])), float(ba + share * (bb - ba)))]
    return []


def _sections(hull: Hull, more: Mapping[str, float]) -> list[tuple[str, float, Array]]:
    """Label, station and section of every frame within the hull, forward to aft."""
    first, last = hull.x_range
    named = sorted({**hull.stations, **more}.items(), key=lambda pair: pair[1])
    return [(label, x, _section(hull, x)) for label, x in named if first - 1e-6 <= x <= last + 1e-6]


def _section(hull: Hull, x: float) -> Array:
    """(100, 2) half-breadth and height of one station, heel to head."""
    points = hull.point(x, np.linspace(0.0, 1.0, 100))
    return np.column_stack([np.abs(points[:, 1]), points[:, 2]])


def _long_lines(hull: Hull) -> tuple[Array, Array, Array, Array]:
    x = np.linspace(*hull.x_range, _BETWEEN)
    points = hull.point(x[:, None], np.linspace(0.0, 1.0, 161)[None, :])
    grid = np.stack([np.abs(points[..., 1]), points[..., 2]], axis=-1)
    return x, grid[:, 0], grid[:, -1], grid


def level_heights(low: float, high: float, units: Units) -> list[float]:
    """Return about six heights between `low` and `high` at a round spacing [mm]."""
    least = (high - low) / 7
    if units == "ft":
        steps = [inches * MM_PER_INCH for inches in (1, 2, 3, 6, 12, 24, 48, 120)]
    else:
        power = 10.0 ** math.floor(math.log10(least))
        steps = [m * power for m in (1.0, 2.0, 2.5, 5.0, 10.0)]
    step = next((step for step in steps if step >= least), steps[-1])
    first = math.ceil(low / step + 0.15)
    return [k * step for k in range(first, math.ceil(high / step))]


def levels(heights: Sequence[float], left: float, right: float, h: float, units: Units) -> list[Item]:
    """Return level lines from `left` to `right`, each with its height; where these would touch, the next has none."""
    items: list[Item] = []
    free = -math.inf
    for z in sorted(heights):
        items.append(Line((left, z), (right, z), "WATERLINES"))
        if z >= free:
            items.append(Text((left - 0.5 * h, z), format_length(z, units), 0.75 * h, align="right", level="middle"))
            free = z + 1.2 * h
    return items


def _labels_up(heads: list[tuple[float, float, str]], h: float, link: Link) -> list[Item]:
    """Upright labels over the heads of sections; those that would stand on one another are left out."""
    kept: list[tuple[float, float, str]] = []
    for x, y, label in heads:
        if label and all(abs(x - a) > 1.15 * h or abs(y - b) > 3 * h for a, b, _ in kept):
            kept.append((x, y, label))
    return [
        Text(
            (x, y), shorten(label, 8), 0.85 * h, level="middle", angle_deg=90, link=link(label), title=f"frame {label}"
        )
        for x, y, label in kept
    ]


def labels_along(feet: Sequence[tuple[float, float, str]], h: float, link: Link) -> list[Item]:
    """Level labels under the frames; where they would touch, the next is left out."""
    items: list[Item] = []
    free = -math.inf
    for x, y, label in sorted(feet):
        text = Text((x, y), shorten(label, 8), 0.85 * h, align="middle", link=link(label), title=f"frame {label}")
        if x - text.width_mm / 2 >= free:
            items.append(text)
            free = x + text.width_mm / 2 + 0.5 * h
    return items


def _name(label: str, x: float) -> str:
    return f"frame {label}" if label else f"station {x:.0f}"
