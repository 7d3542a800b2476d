"""Drawings and bench sheets -> PDF: full-size patterns on a roll or tiled, and A4 sheets for the bench."""

from __future__ import annotations

import io
import math
from itertools import groupby
from typing import Any, Literal

import numpy as np
import segno

from scrieve.errors import BadGeometry
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.drawing import (
    Array,
    Drawing,
    Hatch,
    Item,
    Line,
    Point,
    Polyline,
    Text,
    one_to,
    polyline,
    printable,
    shorten,
)
from scrieve.sheets.svg import to_svg
from scrieve.sheets.tiles import (
    BAR_MM,
    CHECK_MM,
    EDGE_MM,
    LEAST_MM,
    MARGIN_MM,
    MEASURE_SQUARE,
    OVERLAP_MM,
    STRIP_MM,
    CheckMark,
    Layout,
    Tile,
    check_marks,
    paper_layout,
    roll_layout,
)
from scrieve.sheets.typeset import typeset

Paper = Literal["A4", "A3"]
PAPERS: dict[str, Point] = {"A4": (210.0, 297.0), "A3": (297.0, 420.0)}
ROOM_MM: Point = (176.0, 128.0)  # for one drawing on a bench sheet
_KEY_MM: Point = (58.0, STRIP_MM - 3.0)
_QR_MOST = 600
_LINE = 120  # letters that fit across a page, a table's own space left out
_SHORT = 24  # letters of a column that is not broken
_WORDS = 130  # letters of the line under a title, so that the warning below it always has room
_TITLE = 190  # letters of a title: two lines of A4, in which there is room for which way up the pattern lies
_BARS = "Measure both check bars before you trust this sheet: 100 mm each."
_FOOT = "Measure the check bar before you trust this sheet: 100 mm; upright, that of sheet {}."
_LAY = "Cut the right and lower edges along the thin lines; lay them over the next sheets, cross on cross."


def pattern_pdf(
    drawing: Drawing, *, roll_width_mm: float | None = None, paper: Paper | None = None, detail: str = ""
) -> bytes:
    """Return `drawing` at full size, on a roll of `roll_width_mm` or tiled on `paper`.

    Every page carries a 100 mm check-square, or two bars where a square would lie on a line; pages that belong
    together carry register crosses, which fall on one another when the sheets are laid together, their place in the
    whole, and a small plan of it. The drawing is turned so that least paper is used; a roll is cut where it would be
    longer than 5 m. `detail` is printed on every page.

    Raises
    ------
    BadGeometry
        The roll is too narrow, the paper unknown, or the drawing empty.
    """
    if (roll_width_mm is None) == (paper is None):
        raise BadGeometry("a pattern: give either the width of the roll or the paper (A4 or A3).")
    if roll_width_mm is not None:
        least = LEAST_MM + 2 * MARGIN_MM
        if not (math.isfinite(roll_width_mm) and least <= roll_width_mm <= 5000):
            raise BadGeometry(f"a pattern's roll: {roll_width_mm:g} mm wide; give {least:g} to 5000 mm.")
        layout = roll_layout(drawing, roll_width_mm)
    elif paper in PAPERS:
        layout = paper_layout(drawing, PAPERS[paper])
    else:
        raise BadGeometry(f"a pattern's paper: found {paper!r}; use {' or '.join(PAPERS)}.")
    width, height = (side + 2 * EDGE_MM for side in layout.drawing.size_mm)
    data = {
        "title": shorten(drawing.title, _TITLE),
        "detail": shorten(detail, _WORDS),
        "svg": to_svg(layout.drawing, margin_mm=EDGE_MM),
        "w": width,
        "h": height,
        "margin": MARGIN_MM,
        "strip": STRIP_MM,
        "pages": [_page(layout, n, mark) for n, mark in enumerate(check_marks(layout))],
    }
    return typeset("pattern.typ", data)


def bench_sheet_pdf(sheet: BenchSheet, *, date: str = "") -> bytes:
    """Return `sheet` as A4 pages; `date` stands in the heading as given.

    Drawings are fitted to the page at a usual scale, which is stated; tables run over pages with their headings
    repeated; a check that fails says so in words and hatching.
    """
    data = {
        **{name: printable(getattr(sheet, name)) for name in ("title", "boat", "member", "revision")},
        "date": printable(date),
        "qr": _qr(sheet.link),
        "summary": [[printable(name), printable(value)] for name, value in sheet.summary],
        "cautions": [printable(text) for text in sheet.cautions],
        "notes": [printable(text) for text in sheet.notes],
        "drawings": [
            fitted(caption, drawing) | {"tables": _tables(sheet, n)}
            for n, (caption, drawing) in enumerate(sheet.drawings)
        ],
        "tables": _tables(sheet, None),
        "checks": [
            {"name": printable(c.name), "found": printable(c.found), "limit": printable(c.limit), "ok": c.ok}
            | {"source": printable(c.source)}
            for c in sheet.checks
        ],
    }
    return typeset("bench.typ", data)


def _page(layout: Layout, n: int, mark: CheckMark) -> dict[str, Any]:
    tile, many = layout.tiles[n], len(layout.tiles) > 1
    width, height = layout.area_w + 2 * MARGIN_MM, layout.area_h + 2 * MARGIN_MM + STRIP_MM
    left, _, _, top = layout.drawing.bounds
    over = Drawing((*_check_mark(mark), *(_register(layout, tile) if many else ())))
    return {
        "width": width,
        "height": height,
        "area_w": layout.area_w,
        "area_h": layout.area_h,
        "dx": left - EDGE_MM - tile.left,
        "dy": tile.top - top - EDGE_MM,
        "over": to_svg(over, bounds=(0.0, 0.0, width, height)),
        "name": f"Sheet {tile.name}" if many else "Pattern",
        "drop": 2.0
        if mark.kind == "square"
        else 3.5,  # the words begin so far below the drawing, clear of the level bar
        "check": {"square": MEASURE_SQUARE, "bars": _BARS, "foot": _FOOT.format(mark.other)}[mark.kind],
        "lay": f"Page {n + 1} of {len(layout.tiles)}. {_LAY}" if many else "",
        "text_w": layout.area_w - (layout.columns * layout.step[0] * _key_scale(layout) + 4.0 if many else 0.0),
    }


def _on_page(layout: Layout, tile: Tile, x: float, y: float) -> Point:
    """A point of the drawing on the page, from its lower left corner."""
    return (x - tile.left + MARGIN_MM, y - (tile.top - layout.area_h) + MARGIN_MM + STRIP_MM)


def _check_mark(mark: CheckMark) -> list[Item]:
    """The check-square, or the upright bar and the level one in the gap between the drawing and the words below it."""
    x, y = round(MARGIN_MM + mark.x, 1), round(MARGIN_MM + STRIP_MM + mark.y, 1)
    if mark.kind == "square":
        square = [(x, y), (x + CHECK_MM, y), (x + CHECK_MM, y + CHECK_MM), (x, y + CHECK_MM)]
        return [
            polyline(square, "CHECK SQUARE", closed=True),
            Text((x + CHECK_MM / 2, y + 3.0), "100 mm each way: measure first", 2.2, "FIGURES", "middle"),
        ]
    foot = MARGIN_MM + STRIP_MM - 1.6
    items = _bar((MARGIN_MM, foot), (MARGIN_MM + CHECK_MM, foot), 0.8)
    items.append(Text((MARGIN_MM + CHECK_MM + 1.5, foot), "100 mm", 1.6, "FIGURES", "left", "middle"))
    if mark.kind == "bars":
        items += _bar((x + 1.0, y), (x + 1.0, y + CHECK_MM), 1.0)
        right = (x + BAR_MM[0], y + CHECK_MM / 2)
        items.append(Text(right, "100 mm: measure first", 2.0, "FIGURES", "middle", angle_deg=90.0))
    return items


def _bar(start: Point, end: Point, tick_mm: float) -> list[Item]:
    """A check bar along the page or up it, with a tick across either end."""
    dx, dy = (0.0, tick_mm) if start[1] == end[1] else (tick_mm, 0.0)
    ends = [Line((px - dx, py - dy), (px + dx, py + dy), "CHECK SQUARE") for px, py in (start, end)]
    return [Line(start, end, "CHECK SQUARE"), *ends]


def _register(layout: Layout, tile: Tile) -> list[Item]:
    """Lap lines with crosses at their crossings, at the same points of the drawing on neighbours; and the key plan."""
    half = OVERLAP_MM / 2
    step_x, step_y = layout.step
    items: list[Item] = []
    lines = {
        "x": [layout.left + c * step_x + half for c in (tile.column, tile.column + 1)],
        "y": [layout.top - r * step_y - half for r in (tile.row, tile.row + 1)],
    }
    low = _on_page(layout, tile, tile.left, tile.top - layout.area_h)
    high = _on_page(layout, tile, tile.left + layout.area_w, tile.top)
    for i, x in enumerate(lines["x"]):
        if 0 < tile.column + i < layout.columns:
            at = _on_page(layout, tile, x, 0.0)[0]
            items.append(Line((at, low[1]), (at, high[1]), "GRID"))
    for j, y in enumerate(lines["y"]):
        if 0 < tile.row + j < layout.rows:
            at = _on_page(layout, tile, 0.0, y)[1]
            items.append(Line((low[0], at), (high[0], at), "GRID"))
    for i, x in enumerate(lines["x"]):
        for j, y in enumerate(lines["y"]):
            px, py = _on_page(layout, tile, x, y)
            items += [
                Line((px - 6, py), (px + 6, py), "REGISTER MARKS"),
                Line((px, py - 6), (px, py + 6), "REGISTER MARKS"),
            ]
            name = f"{tile.column + i}/{tile.row + j}"
            inward = -1 if i else 1
            items.append(Text((px + inward * 1.2, py + 1.2), name, 1.8, "TEXT", "right" if i else "left"))
    return items + _key_plan(layout, tile)


def _key_plan(layout: Layout, tile: Tile) -> list[Item]:
    step_x, step_y = layout.step
    k = _key_scale(layout)
    half = OVERLAP_MM / 2
    x0 = MARGIN_MM + layout.area_w - layout.columns * step_x * k
    y1 = MARGIN_MM + _KEY_MM[1]

    def place(points: Any) -> list[Point]:
        return [(x0 + (x - layout.left - half) * k, y1 - (layout.top - half - y) * k) for x, y in points]

    items: list[Item] = []
    for other in layout.tiles:
        x, y = layout.left + half + other.column * step_x, layout.top - half - other.row * step_y
        cell = place([(x, y), (x + step_x, y), (x + step_x, y - step_y), (x, y - step_y)])
        items.append(polyline(cell, "GRID", closed=True))
        here = other is tile
        if here:
            items.append(Hatch(polyline(cell, "GRID").points, "diagonal", 1.0, "BEVEL MARKS"))
        high = min(2.2, step_y * k * 0.5, step_x * k * 0.3)
        if high >= 0.9 and not here:
            middle = ((cell[0][0] + cell[2][0]) / 2, (cell[0][1] + cell[2][1]) / 2)
            items.append(Text(middle, other.name, high, "TEXT", "middle", "middle"))
    outlines = [item for item in layout.drawing.items if isinstance(item, Polyline)]
    return items + [polyline(place(_few(line.points)), "REGISTER MARKS", line.closed) for line in outlines]


def _key_scale(layout: Layout) -> float:
    return min(_KEY_MM[0] / (layout.columns * layout.step[0]), _KEY_MM[1] / (layout.rows * layout.step[1]))


def _few(points: Array) -> Array:
    """About forty of the points, both ends among them: enough for a plan of 58 mm."""
    keep = np.unique(np.linspace(0, len(points) - 1, min(len(points), 40)).astype(int))
    return np.asarray(points[keep])


def fitted(caption: str, drawing: Drawing) -> dict[str, Any]:
    """A drawing as a template takes it, at a usual scale that fits a page."""
    width, height = drawing.size_mm
    n = drawing.one_to
    if max(width / n / ROOM_MM[0], height / n / ROOM_MM[1]) > 1:
        n = one_to(width, height, ROOM_MM)
    return {
        "caption": printable(caption),
        "scale": "" if drawing.times is None else "full size" if n == 1 else f"scale 1:{n:g}",
        "svg": to_svg(drawing, one_to=n, margin_mm=EDGE_MM),
        "w": width / n + 2 * EDGE_MM,
        "h": height / n + 2 * EDGE_MM,
    }


def _tables(sheet: BenchSheet, after: int | None) -> list[dict[str, Any]]:
    """The tables below one drawing, or below the checks, narrow neighbours together."""
    drawn = range(len(sheet.drawings))
    here = [table for table in sheet.tables if (table.after if table.after in drawn else None) == after]
    return [
        {"narrow": narrow, "tables": [table_data(table) for table in group]} for narrow, group in groupby(here, _narrow)
    ]


def table_data(table: Table) -> dict[str, Any]:
    """A table as a template takes it."""
    return {
        "title": printable(table.title),
        "columns": [printable(c) for c in table.columns],
        "rows": [[printable(c) for c in row] for row in table.rows],
        "figures": list(table.figures),
        "shares": _shares(table),
        "note": printable(table.note),
        "big": table.big,
    }


def _shares(table: Table) -> list[float]:
    """Shares of the page's width for the columns of a table of long texts, 0 for one as wide as its own longest.

    No shares where all columns fit as they are.
    """
    longest = [max((len(row[i]) for row in table.rows), default=0) for i in range(len(table.columns))]
    if sum(longest) <= _LINE:
        return []
    return [
        0.0 if most <= _SHORT else 12.0 + math.sqrt(most * sum(len(row[i]) for row in table.rows) / len(table.rows))
        for i, most in enumerate(longest)
    ]


def _narrow(table: Table) -> bool:
    """Whether a table fits a column of 87 mm: letters of 2 mm (3 mm where big), 4.4 mm between columns."""
    letter = 3.0 if table.big else 2.0
    widths = [
        max([len(row[i]) * letter for row in table.rows] + [1.9 * max(len(word) for word in heading.split() or [""])])
        for i, heading in enumerate(table.columns)
    ]
    return sum(widths) + 4.4 * len(widths) <= 87.0


def _qr(link: str) -> str:
    if not link or len(link.encode()) > _QR_MOST:
        return ""
    out = io.BytesIO()
    segno.make(link, error="m", micro=False).save(out, kind="svg", xmldecl=False, border=2, dark="#1f2328")
    return out.getvalue().decode()
