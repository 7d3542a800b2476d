"""The tick-strip: one long paper strip with every offset of a plank at full size, printed in lengths on A4."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from scrieve.planking.plank import PlankDesign
from scrieve.sheets.drawing import Drawing, Item, Line, Point, Text, polyline, shorten
from scrieve.sheets.figures import sized
from scrieve.sheets.svg import to_svg
from scrieve.sheets.tiles import CHECK_MM, MARGIN_MM, MEASURE_SQUARE, OVERLAP_MM, STRIP_MM
from scrieve.sheets.typeset import typeset
from scrieve.units import Units

A4: Point = (210.0, 297.0)
#: Height of the strip, of its lettering, and of the ticks along both of its edges [mm].
HIGH_MM = 36.0
LETTER_MM = 2.0
TICK_MM = 4.0
#: Lengths of strip on one page, and what is left clear between them; below them the check-square of 100 mm.
TO_A_PAGE = 4
GAP_MM = 2.0
_LANES = 2


@dataclass(frozen=True, slots=True)
class Tick:
    """One place of the plank: where both edges stand along the datum line, and their offsets from it [mm]."""

    label: str
    lower_mm: Point
    upper_mm: Point


def ticks(design: PlankDesign) -> tuple[Tick, ...]:
    """The plank's ends and frame lines, first end first."""
    ends = [Tick(name, _pt(design.lower_mm[i]), _pt(design.upper_mm[i])) for name, i in (("first", 0), ("last", -1))]
    inner = [Tick(f.label, f.lower_mm, f.upper_mm) for f in design.frames]
    near = [tick for tick in inner
            if all(abs(tick.lower_mm[0] - end.lower_mm[0]) > 0.5 or abs(tick.upper_mm[0] - end.upper_mm[0]) > 0.5
                   for end in ends)]  # fmt: skip
    return (ends[0], *near, ends[1])


def tick_strip(design: PlankDesign, units: Units = "mm") -> Drawing:
    """Return the strip at full size, x along the plank's datum line [mm].

    The lower edge of the paper carries the plank's lower edge: a tick where each frame stands along the datum line; the
    upper edge of the paper the upper one. From each of them a line runs along the strip, as long as the offset there,
    to be picked up with dividers or pricked off and set square to the datum line; its end says to which side.
    """
    every = ticks(design)
    left = min(min(t.lower_mm[0], t.upper_mm[0]) for t in every)
    right = max(max(t.lower_mm[0] + abs(t.lower_mm[1]), t.upper_mm[0] + abs(t.upper_mm[1])) for t in every) + 3.0
    items: list[Item] = [
        polyline([(left - 8, 0), (right, 0), (right, HIGH_MM), (left - 8, HIGH_MM)], "GRID", closed=True),
        Line((left - 8, HIGH_MM / 2), (right, HIGH_MM / 2), "DATUM LINE"),
    ]
    for edge, foot, inward in (("lower", 0.0, 1.0), ("upper", HIGH_MM, -1.0)):
        for i, tick in enumerate(every):
            x, y = getattr(tick, f"{edge}_mm")
            lane = foot + inward * (TICK_MM + 3.6 + (i % _LANES) * 4.6)
            items.append(Line((x, foot), (x, lane), "FRAME MARKS"))
            name = f"{shorten(tick.label, 8)} {edge}"
            items.append(Text((x + 0.8, foot + inward * 2.4), f"{name}, {sized(x, units)}", LETTER_MM, level="middle"))
            items.append(Line((x, lane), (x + abs(y), lane), "SEAM EDGE"))
            items.append(Line((x + abs(y), lane - 1.6), (x + abs(y), lane + 1.6), "SEAM EDGE"))
            side = "up" if y > 0 else "down"
            words = f"{shorten(tick.label, 8)} {sized(abs(y), units, 1)} {side}"
            items.append(Text((x + abs(y) + 0.8, lane), words, LETTER_MM, level="middle"))
    return Drawing(tuple(items), f"Tick-strip of plank {shorten(design.name, 40)}")


def tick_strip_pdf(design: PlankDesign, units: Units = "mm", *, detail: str = "") -> bytes:
    """Return the strip cut into lengths, four to a sheet of A4, at full size.

    Each length carries at both ends the line on which it is laid on the next one, with a cross and the numbers of both;
    every page a check-square. `detail` is printed on every page.
    """
    strip = tick_strip(design, units)
    left, _, right, _ = strip.bounds
    area_w, area_h = A4[0] - 2 * MARGIN_MM, A4[1] - 2 * MARGIN_MM - STRIP_MM
    step = area_w - OVERLAP_MM
    count = max(1, math.ceil((right - left - OVERLAP_MM) / step - 1e-9))
    pages = math.ceil(count / TO_A_PAGE)
    items: list[Item] = []
    for k in range(count):
        page, row = divmod(k, TO_A_PAGE)
        top = -page * area_h - row * (HIGH_MM + GAP_MM)
        items += _length(strip, left + k * step, area_w, top - HIGH_MM, k, count)
    whole = [(0.0, 0.0), (area_w, 0.0), (area_w, -pages * area_h), (0.0, -pages * area_h)]
    for page in range(pages):  # the check-square stands below the lengths of every page
        y = -(page + 1) * area_h + 1.0
        square = [(1.0, y), (1.0 + CHECK_MM, y), (1.0 + CHECK_MM, y + CHECK_MM), (1.0, y + CHECK_MM)]
        items.append(polyline(square, "CHECK SQUARE", closed=True))
        items.append(Text((51.0, y + 3.0), "100 mm each way: measure first", 2.2, "FIGURES", "middle"))
        items += [Text((106.0, y + 92.0 - 5.0 * i), line, 2.4) for i, line in enumerate(_HOW)]
    laid = Drawing((*items, polyline(whole, "GRID", closed=True)))
    bounds = laid.bounds
    width, height = bounds[2] - bounds[0], bounds[3] - bounds[1]
    empty = to_svg(Drawing((Line((0.0, 0.0), (0.0, 0.0), "GRID"),)), bounds=(0.0, 0.0, *A4))
    data = {
        "title": strip.title,
        "detail": shorten(detail, 130),
        "svg": to_svg(laid, margin_mm=0.0),
        "w": width,
        "h": height,
        "margin": MARGIN_MM,
        "strip": STRIP_MM,
        "pages": [
            {
                "width": A4[0], "height": A4[1], "area_w": area_w, "area_h": area_h,
                "dx": bounds[0], "dy": -bounds[3] - page * area_h, "over": empty,
                "name": f"Tick-strip {page + 1} of {pages}",
                "lay": f"Lengths {page * TO_A_PAGE + 1} to {min((page + 1) * TO_A_PAGE, count)} of {count}. Cut them "
                "apart and lay the end of each on the next, line on line.",
                "text_w": area_w, "check": MEASURE_SQUARE, "drop": 2.0,
            }
            for page in range(pages)
        ],
    }  # fmt: skip
    return typeset("pattern.typ", data)


_HOW = (
    "Lay the strip along the datum line.",
    "Prick every tick of both its edges",
    "into the stock: lower ticks for the",
    "lower edge, upper for the upper.",
    "From each tick a line runs along",
    "the strip, as long as the offset:",
    "set that off square to the datum",
    "line, up or down as its end says.",
    "Figures beside the ticks: from the",
    "datum line's first end.",
)


def _length(strip: Drawing, start: float, wide: float, foot: float, k: int, count: int) -> list[Item]:
    """What one length shows, moved to the left of the page and to its row."""
    end = start + wide
    found: list[Item] = []
    for item in strip.items:
        match item:
            case Line():
                (x0, y0), (x1, y1) = sorted((item.start, item.end))
                low, high = max(x0, start), min(x1, end)
                if low <= high and (x0 == x1 or low < high):
                    found.append(Line((low - start, y0 + foot), (high - start, y1 + foot), item.layer))
            case Text():
                if start <= item.at[0] <= end and item.at[0] + item.width_mm > start:
                    turned = item.at[0] + item.width_mm > end  # it would run over the end of the paper
                    x = item.at[0] - (2.4 if turned else 0.0)
                    beside_tick = min(item.at[1], HIGH_MM - item.at[1]) < TICK_MM
                    above = 1.8 if turned and not beside_tick else 0.0  # turned back it would lie on its own line
                    found.append(Text((x - start, item.at[1] + foot + above), item.text, item.height_mm, item.layer,
                                      "right" if turned else "left", item.level))  # fmt: skip
            case _:
                pass
    found.append(polyline([(0, foot), (wide, foot), (wide, foot + HIGH_MM), (0, foot + HIGH_MM)], "GRID", closed=True))
    middle = foot + HIGH_MM / 2
    half = OVERLAP_MM / 2
    for at, there, other in ((half, k > 0, k), (wide - half, k < count - 1, k + 1)):
        if there:
            found.append(Line((at, foot), (at, foot + HIGH_MM), "REGISTER MARKS"))
            found.append(Line((at - 4, middle), (at + 4, middle), "REGISTER MARKS"))
            found.append(Text((at + 0.8, middle + 1.0), f"{other}/{other + 1}", 1.8, "REGISTER MARKS"))
    return found


def _pt(p: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Point:
    return (float(p[0]), float(p[1]))
