"""A diagonal skin drawn out flat on the page, with the other layer crossing it, and the table of its planks."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import RegularGridInterpolator

from scrieve.fairing.result import FairHull
from scrieve.planking import Skin
from scrieve.sheets.bench import Table
from scrieve.sheets.drawing import Drawing, Hatch, Item, Line, Text, one_to, polyline, shorten
from scrieve.sheets.figures import length, sized, unit
from scrieve.units import Units

Array = NDArray[np.float64]

_LETTER_MM = 2.2
_ROOM_MM = (180.0, 90.0)
#: Points of each seam, and the grid on which girths are measured: enough for a page.
_POINTS, _ALONG, _UP = 25, 121, 81


def skin_drawing(
    skin: Skin,
    hull: FairHull,
    crossing: Skin | None = None,
    made: Mapping[int, str] | None = None,
    units: Units = "mm",
    link: Callable[[int], str] = lambda plank: "",
) -> Drawing:
    """Return one layer drawn out flat: stations across, girths from the heel up, the bow to the left.

    Parameters
    ----------
    skin : Skin
        The layer, each of its planks selectable.
    crossing : Skin, optional
        The other layer; its seams are drawn dashed.
    made : mapping of plank -> name, optional
        Those that have been made planks of the boat: hatched.
    link : callable
        Address that a plank leads to.
    """
    girth = _girth(hull)

    def flat(points: ArrayLike) -> Array:
        at = np.asarray(points, dtype=float)
        within = np.clip(at, (hull.x_range[0], 0.0), (hull.x_range[1], 1.0))  # a seam may end a hair beyond the hull
        return np.column_stack([at[:, 0], girth(within)])

    share = np.linspace(0, 1, _POINTS)
    seams = [flat(seam.curve(share)) for seam in skin.seams]
    every = np.concatenate(seams)
    (left, low), (right, high) = every.min(axis=0), every.max(axis=0)
    n = one_to(float(right - left), float(high - low), _ROOM_MM)
    h = _LETTER_MM * n
    items: list[Item] = []
    free = -np.inf
    for label, x in sorted(hull.stations.items(), key=lambda one: one[1]):
        if not left <= x <= right:
            continue
        foot, head = flat([(x, 0.0), (x, 1.0)])
        items.append(Line((float(x), float(foot[1])), (float(x), float(head[1])), "WATERLINES", title=f"frame {label}"))
        if x >= free:
            text = Text((float(x), float(low) - 1.4 * h), shorten(label, 6), h, "TEXT", "middle", "top")
            items.append(text)
            free = x + text.width_mm + 0.8 * h
    if crossing is not None:
        items += [polyline(flat(seam.curve(share)), "OTHER FACE") for seam in crossing.seams]
    items += [polyline(points, "SEAM EDGE") for points in seams]
    last = None
    for plank in skin.planks:
        one, other = seams[plank.number - 1], seams[plank.number]
        outline = np.concatenate([one, other[::-1]])
        name = (made or {}).get(plank.number, "")
        title = (
            f"plank {plank.number}{f', {name}' if name else ''}: {sized(plank.length_mm, units)} long, "
            f"{sized(plank.least_mm, units)} to {sized(plank.greatest_mm, units)} wide"
        )
        if name:
            items.append(Hatch(outline, "cross", 2.2 * n))
        items.append(polyline(outline, "LAMINATIONS", closed=True, link=link(plank.number), title=title))
        at = (one[_POINTS // 2] + other[_POINTS // 2]) / 2
        if last is None or np.hypot(*(at - last)) > 3.0 * h:
            items.append(Text((float(at[0]), float(at[1])), str(plank.number), h, "FIGURES", "middle", "middle",
                              link=link(plank.number), title=title))  # fmt: skip
            last = at
    also = "; dashed, the layer that crosses it" if crossing is not None else ""
    return Drawing(tuple(items), f"Diagonal skin drawn out flat, bow to the left{also}", n)


def skin_table(skin: Skin, made: Mapping[int, str] | None = None, units: Units = "mm") -> Table:
    """Return length and widths of each plank of a layer."""
    rows = tuple(
        (
            str(plank.number), length(plank.length_mm, units), length(plank.least_mm, units),
            length(plank.greatest_mm, units),
            ", ".join(words for words in ("takes a corner: leave it long" if plank.corner else "",
                                          (made or {}).get(plank.number, "")) if words),
        )
        for plank in skin.planks
    )  # fmt: skip
    end = "forward" if skin.choice.angle_deg < 90 else "aft"
    heads = ("plank", f"length ({unit(units)})", f"narrowest ({unit(units)})", f"widest ({unit(units)})", "remark")
    return Table("Planks of the layer", heads, rows, f"Plank 1 lies farthest {end}.", name="skin")


def _girth(hull: FairHull) -> RegularGridInterpolator:
    """Girth from the heel over station and share of the girth, along chords: for drawing, not for marking out."""
    x, v = np.linspace(*hull.x_range, _ALONG), np.linspace(0, 1, _UP)
    points = hull.point(x[:, None], v[None, :])
    run = np.linalg.norm(np.diff(points, axis=1), axis=-1)
    return RegularGridInterpolator((x, v), np.concatenate([np.zeros((_ALONG, 1)), np.cumsum(run, axis=1)], axis=1))
