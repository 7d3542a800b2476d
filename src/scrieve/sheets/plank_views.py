"""A plank shown on the hull, and a spiled plank laid over the one expanded from it."""

from __future__ import annotations

import numpy as np

from scrieve.fairing.result import FairHull
from scrieve.planking.comparing import Comparison
from scrieve.planking.design import plank_place
from scrieve.planking.plank import PlankDesign
from scrieve.sheets.bench import Table
from scrieve.sheets.drawing import Drawing, Hatch, Item, Line, Text, one_to, polyline, shorten
from scrieve.sheets.figures import thin, thin_unit
from scrieve.sheets.hull import half_breadth_plan, profile
from scrieve.units import Units

_ROOM_MM = (142.0, 60.0)
_ACROSS = (1, 2, 3, 4, 5, 8, 10)
_TIMES = (1, 2, 5, 10, 20, 50, 100)


def plank_on_hull(design: PlankDesign, hull: FairHull, units: Units = "mm") -> Drawing | None:
    """Return the hull from the side, or from below where more is seen there, with the plank hatched on it.

    None for a spiled plank: its marks do not tell where on the hull it lies.
    """
    place = plank_place(hull, design.choice)
    if place is None:
        return None
    lower, upper = place
    outline = np.concatenate([lower, upper[::-1], lower[:1]])
    side = float(np.abs(upper[:, 2] - lower[:, 2]).mean()) >= float(np.abs(upper[:, 1] - lower[:, 1]).mean())
    view = profile(hull, units=units) if side else half_breadth_plan(hull, units=units)
    points = np.column_stack([outline[:, 0], outline[:, 2] if side else np.abs(outline[:, 1])])
    title = f"plank {design.name}"
    more: tuple[Item, ...] = (
        Hatch(points, "diagonal", 1.2 * view.one_to, "JIG FACE"),
        polyline(points, "JIG FACE", closed=True, title=title),
    )
    return Drawing(
        (*view.items, *more),
        f"{title} on the hull, {'from the side' if side else 'from below'}",
        view.one_to,
        view.times,
    )


def comparison_drawing(found: Comparison, expanded: PlankDesign, units: Units = "mm") -> Drawing:
    """Return the expanded plank, and dashed the spiled edges with their differences drawn several times larger."""
    outline = expanded.outline_mm
    (left, low), (right, high) = outline.min(axis=0), outline.max(axis=0)
    stretch = next((k for k in reversed(_ACROSS) if k * (high - low) <= 0.16 * (right - left)), 1)
    times = next((k for k in reversed(_TIMES) if k * found.greatest_mm * stretch <= 0.02 * (right - left)), 1)
    n = one_to(float(right - left), float(high - low) * stretch * 1.5, _ROOM_MM)
    h = 2.4 * n
    scale = np.array([1.0, stretch])
    items: list[Item] = [
        polyline(outline * scale, "SEAM EDGE", closed=True, title=f"{expanded.name}, from the hull"),
        Line((float(left) - 2 * h, 0.0), (float(right) + 2 * h, 0.0), "DATUM LINE"),
    ]
    edges = (
        (found.lower_mm, found.lower_off_mm, expanded.lower_mm),
        (found.upper_mm, found.upper_off_mm, expanded.upper_mm),
    )
    for points, off, edge in edges:
        there = np.isfinite(off)
        x = points[there, 0]
        drawn = np.column_stack([x, np.interp(x, *edge.T) + times * off[there]])
        if len(drawn) > 1:
            items.append(polyline(drawn * scale, "MARKS", title="spiled"))
    free = -np.inf
    for frame in expanded.frames:
        a, b = np.array(frame.lower_mm) * scale, np.array(frame.upper_mm) * scale
        items.append(Line((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), "FRAME MARKS"))
        if float(a[0]) > free:
            items.append(
                Text((float(b[0]), float(high) * stretch + 2 * h), shorten(frame.label, 6), h, "TEXT", "middle")
            )
            free = float(a[0]) + 4 * h
    across = f"; across drawn {stretch} times the length's scale" if stretch > 1 else ""
    said = f"Red: the spiled edges, their difference drawn {times} times{across}"
    return Drawing(tuple(items), said, n, (1.0, stretch))


def comparison_table(found: Comparison, units: Units = "mm") -> Table:
    """Return the differences at every frame that both have."""
    small = thin_unit(units)
    rows = tuple(
        (row.label, *(_signed(value, units) for value in (row.lower_mm, row.upper_mm, row.width_mm)))
        for row in found.frames
    )
    head = ("frame", f"lower edge ({small})", f"upper edge ({small})", f"width ({small})")
    note = (
        "Spiled less expanded, square to the edge; above zero towards the upper edge, or wider. Dash: beyond its end."
    )
    return Table("Spiled against the hull", head, rows, note, name="comparison")


def _signed(mm: float, units: Units) -> str:
    return "–" if not np.isfinite(mm) else thin(mm, units)
