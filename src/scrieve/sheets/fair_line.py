"""One section with its marks: the fair line, and how far each mark lies off it, drawn larger than life."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

import numpy as np

from scrieve.errors import BadGeometry
from scrieve.fairing.section import Section
from scrieve.sheets.drawing import Array, Circle, Drawing, Item, Line, Point, Text, one_to, polyline
from scrieve.sheets.figures import length, off_by, thin_unit, written_off
from scrieve.takeoff.marks import Mark
from scrieve.units import Units

LETTER_MM = 2.4
_ROOM_MM: Point = (130.0, 104.0)
_USUAL = (1, 2, 5, 10, 20, 50, 100)


class Off(Protocol):
    """How one mark lies to the line: its number, its departure square to the line [mm], and whether it is doubted."""

    @property
    def number(self) -> int:
        """The mark's number."""
        ...

    @property
    def residual_mm(self) -> float:
        """Mark less line, above zero where the mark lies outside [mm]."""
        ...

    @property
    def suspect(self) -> bool:
        """Whether the mark is doubted."""
        ...


def fair_line_drawing(
    section: Section, marks: Sequence[Mark] = (), offs: Iterable[Off] = (), *, units: Units = "mm"
) -> Drawing:
    """Return the fair line, its band of ± 2 standard deviations, and the departures of the marks of this section [mm].

    Marks are open circles (port), filled ones (starboard) or both (a mark that stands for both sides). Departures and
    band are stretched alike by a usual number, which the drawing states; a suspect's departure is written out. With the
    line at its own scale nobody would see a millimetre.

    Raises
    ------
    BadGeometry
        Two departures carry the same mark's number.
    """
    line = section.points_mm
    width, height = np.ptp(np.vstack([line, [(0.0, line[0, 1])]]), axis=0)
    n = one_to(float(width), float(height), _ROOM_MM)
    h = LETTER_MM * n
    given = list(offs)
    by_number = {off.number: off for off in given}
    if len(by_number) != len(given):
        raise BadGeometry("marks to be drawn share a number; number them (the boat file does) before they are faired.")
    here = [(mark, by_number[mark.number]) for mark in marks if mark.number in by_number]
    usual = [abs(off.residual_mm) for _, off in here if not off.suspect]
    most = max([2 * float(section.sd_mm.max()), *usual, 0.1])
    stretch = next((k for k in reversed(_USUAL) if k * most <= 4.5 * h), 1)
    normals = _normals(line)
    items: list[Item] = [polyline(line, "MOULDED LINE", title="fair line")]
    band = normals * (2 * stretch * section.sd_mm)[:, None]
    items += [polyline(line + band, "BAND"), polyline(line - band, "BAND")]
    items.append(Line((0.0, float(line[:, 1].min()) - 2 * h), (0.0, float(line[:, 1].max()) + 2 * h), "CENTRELINE"))
    for mark, off in here:
        items += _departure(mark, off, line, normals, stretch, h, units)
    foot = float(min(line[:, 1].min() - 4.0 * h, *(_lowest(item) for item in items)))
    words = f"departures and band (± 2 sd) drawn {stretch} times" if stretch > 1 else "departures at their own scale"
    items.append(Text((0.6 * h, foot - 1.5 * h), words, 0.85 * h))
    items.append(Text((0.6 * h, foot - 3.2 * h), "open: port, filled: starboard", 0.85 * h))
    name = f"frame {section.frame}" if section.frame else f"station {length(section.station_mm, units)}"
    return Drawing(tuple(items), f"Fair line and marks, {name}", n)


def _departure(mark: Mark, off: Off, line: Array, normals: Array, stretch: int, h: float, units: Units) -> list[Item]:
    nearest = int(np.argmin(np.hypot(line[:, 0] - abs(mark.half_breadth_mm), line[:, 1] - mark.height_mm)))
    reach = float(np.clip(off.residual_mm * stretch, -6.0 * h, 6.0 * h))  # a blunder is not to scale
    at, end = line[nearest], line[nearest] + normals[nearest] * reach
    side = {"P": "port", "S": "starboard", "": "both sides"}[mark.side]
    name = mark.label or f"{length(mark.height_mm, units)} up"
    far = f"{off_by(off.residual_mm, units)} {thin_unit(units)}"
    title = f"{name}, {side}: {far}" + (", suspect" if off.suspect else "")
    layer = "MARKS" if off.suspect else "SECTIONS"
    r = (0.55 if off.suspect else 0.35) * h
    items: list[Item] = [
        Line(_pt(at), _pt(end), layer),
        Circle(_pt(end), r, layer, filled=mark.side != "P", title=title),
    ]
    if off.suspect:
        outer = normals[nearest] if reach >= 0 else -normals[nearest]
        place = end + outer * 1.2 * h
        items.append(
            Text(
                _pt(place),
                f"{written_off(off.residual_mm, units)} {thin_unit(units)} {mark.side}".strip(),
                0.9 * h,
                "FIGURES",
                "left" if outer[0] >= 0 else "right",
                "middle",
            )
        )
    return items


def _normals(line: Array) -> Array:
    """(n, 2) outward normals of a line run heel to head."""
    tangent = np.gradient(line, axis=0)
    tangent = tangent / np.maximum(np.hypot(*tangent.T), 1e-12)[:, None]
    return np.column_stack([tangent[:, 1], -tangent[:, 0]])


def _lowest(item: Item) -> float:
    if isinstance(item, Circle):
        return item.at[1] - item.radius_mm
    if isinstance(item, Text):
        return float(item.corners()[:, 1].min())
    return float("inf")


def _pt(p: Array) -> Point:
    return (float(p[0]), float(p[1]))
