"""Results drawn where they are computed: as SVG text for a script, and by themselves in a notebook.

    from scrieve.notebook import svg
    Path("frame.svg").write_text(svg(design), encoding="utf-8")

In a notebook, `%load_ext scrieve.notebook` once; every batten, section, frame, plank, expansion and fair hull that
stands last in a cell is then drawn under it. Nothing of a notebook is imported: whatever hands its formatters over as
`display_formatter.formatters` is served.
"""

from __future__ import annotations

from functools import singledispatch
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scrieve.fairing import Batten
from scrieve.fairing.result import FairHull
from scrieve.fairing.section import Section
from scrieve.frames.design import FrameDesign
from scrieve.planking import PlankDesign
from scrieve.planking.expansion import Expansion
from scrieve.sheets.drawing import Circle, Dimension, Drawing, Item, Line, Text, one_to, polyline
from scrieve.sheets.fair_line import fair_line_drawing
from scrieve.sheets.figures import length, off_by
from scrieve.sheets.frame_drawings import frame_drawing
from scrieve.sheets.hull import body_plan
from scrieve.sheets.plank_sheet import plank_drawing
from scrieve.sheets.svg import page_svg
from scrieve.units import Units

__all__ = ["drawing_of", "load_ipython_extension", "svg", "unload_ipython_extension"]

LETTER_MM = 2.4
_TEETH = 61
_SVG = "image/svg+xml"


@singledispatch
def drawing_of(result: object, units: Units = "mm") -> Drawing:
    """Return the drawing of a result; figures on it are in `units`.

    Register a further kind with `@drawing_of.register`.

    Raises
    ------
    TypeError
        Nothing is known to be drawn of it.

    Examples
    --------
    >>> from scrieve.fairing import lay_batten
    >>> drawing_of(lay_batten([(0, 0), (500, 40), (1000, 45), (1500, 0)])).title
    'Batten, 1504 mm along 4 of 4 marks'
    """
    known = ", ".join(kind.__name__ for kind in drawing_of.registry if kind is not object)
    raise TypeError(f"a {type(result).__name__} has no drawing; there is one of: {known}.")


def svg(result: object, units: Units = "mm") -> str:
    """Return the drawing of a result as SVG that stands by itself, on paper colour."""
    return page_svg(drawing_of(result, units), ground=True)


@drawing_of.register
def _(result: Drawing, units: Units = "mm") -> Drawing:
    return result


@drawing_of.register
def _(result: Section, units: Units = "mm") -> Drawing:
    return fair_line_drawing(result, units=units)


@drawing_of.register
def _(result: FrameDesign, units: Units = "mm") -> Drawing:
    return frame_drawing(result, units)


@drawing_of.register
def _(result: PlankDesign, units: Units = "mm") -> Drawing:
    return plank_drawing(result, units)


@drawing_of.register
def _(result: FairHull, units: Units = "mm") -> Drawing:
    return body_plan(result, units=units)


@drawing_of.register
def _(result: Batten, units: Units = "mm") -> Drawing:
    """The line, its curvature as a comb, and the marks: circles, those that do not count with what they are off."""
    line = result.points_mm
    normal = np.column_stack([np.sin(result.direction_rad), -np.cos(result.direction_rad)])
    size = np.ptp(line, axis=0)
    n = one_to(float(size[0]), float(size[1]))
    h = LETTER_MM * n
    items: list[Item] = [polyline(line, "MOULDED LINE", title="the batten")]
    bent = np.interp(np.linspace(0, 1, _TEETH), result.s_mm / result.length_mm, result.curvature_per_mm)
    most = float(np.abs(bent).max())
    if most > 0:
        at, out = _along(result, np.linspace(0, result.length_mm, _TEETH), normal)
        tips = at + out * (bent / most * 8 * h)[:, None]
        items += [Line(_pt(a), _pt(b), "GRID") for a, b in zip(at, tips, strict=True)]
        items.append(polyline(tips, "GRID", title="curvature"))
        items.append(Text((float(line[0, 0]), float(min(line[:, 1].min(), tips[:, 1].min())) - 2.2 * h),
                          f"longest tooth: radius {length(1 / most, units)}", 0.85 * h))  # fmt: skip
    at, out = _along(result, result.mark_s_mm, normal)
    for i, (foot, square) in enumerate(zip(at, out, strict=True)):
        off, counts = float(result.residual_mm[i]), bool(result.counts[i])
        place = foot + square * off
        layer = "SECTIONS" if counts else "MARKS"
        items.append(Circle(_pt(place), 0.45 * h, layer, title=f"mark {i + 1}: {off_by(off, units)}"))
        if not counts:
            items.append(Line(_pt(foot), _pt(place), "MARKS"))
            words = f"{i + 1}: {off_by(off, units)}"
            items.append(Text(_pt(place + square * np.sign(off) * 1.4 * h), words, h, align="middle", level="middle"))
    count = int(result.counts.sum())
    title = f"Batten, {length(result.length_mm, units)}{_unit(units)} along {count} of {len(result.counts)} marks"
    return Drawing(tuple(items), title, n)


@drawing_of.register
def _(result: Expansion, units: Units = "mm") -> Drawing:
    """The flat outline with its datum line, and its length, hook and widths."""
    lower, upper = result.lower_mm, result.upper_mm
    outline = np.vstack([lower, upper[::-1]])
    size = np.ptp(outline, axis=0)
    n = one_to(float(size[0]), float(size[1]))
    h = LETTER_MM * n
    items: list[Item] = [polyline(outline, "SEAM EDGE", closed=True, title="flat outline")]
    low, high = float(outline[:, 1].min()), float(outline[:, 1].max())
    left, right = float(outline[:, 0].min()), float(outline[:, 0].max())
    items.append(Line((left - 2 * h, 0.0), (right + 2 * h, 0.0), "DATUM LINE", title="datum line"))
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        i = round(share * (len(lower) - 1))
        wide = length(float(np.hypot(*(upper[i] - lower[i]))), units)
        items += [
            Line(_pt(lower[i]), _pt(upper[i]), "FRAME MARKS"),
            Text((float(upper[i, 0]), high + 1.2 * h), f"{wide} wide", 0.9 * h, align="middle"),
        ]
    items.append(Dimension((left, low), (right, low), -4 * h, length(right - left, units), h))
    strain = 1e6 * result.strain_max
    return Drawing(tuple(items), f"Plank laid flat, strained by at most {strain:.0f} millionths", n)


def load_ipython_extension(shell: Any) -> None:
    """Let a notebook draw results by themselves; called by `%load_ext scrieve.notebook`."""
    formatter = shell.display_formatter.formatters[_SVG]
    for kind in _kinds():
        formatter.for_type(kind, svg)


def unload_ipython_extension(shell: Any) -> None:
    """Let them be shown as text again."""
    formatter = shell.display_formatter.formatters[_SVG]
    for kind in _kinds():
        formatter.pop(kind, None)


def _kinds() -> list[type]:
    return [kind for kind in drawing_of.registry if kind is not object]


def _along(line: Batten, s: NDArray[np.float64], normal: NDArray[np.float64]) -> tuple[Any, Any]:
    at, out = (np.column_stack([np.interp(s, line.s_mm, of[:, k]) for k in (0, 1)]) for of in (line.points_mm, normal))
    return at, out


def _pt(p: NDArray[np.float64]) -> tuple[float, float]:
    return float(p[0]), float(p[1])


def _unit(units: Units) -> str:
    return " mm" if units == "mm" else ""
