"""Drawings to fair by: the body plan with what the marks say, diagonals laid flat, port against starboard.

Millimetres cannot be seen on a hull of metres: departures, bands and differences are drawn larger than life, by a usual
number that the drawing states.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scrieve.errors import BadGeometry
from scrieve.fairing.fairness import Fairness, LineFairness
from scrieve.fairing.lines_plan import HullLine, Run
from scrieve.fairing.next_mark import NextMark
from scrieve.fairing.result import FairHull, MarkOff
from scrieve.fairing.sides import Asymmetry, Sides
from scrieve.sheets.drawing import (
    Circle,
    Drawing,
    Item,
    Line,
    Polyline,
    Text,
    one_to,
    polyline,
    shorten,
)
from scrieve.sheets.fairing_parts import (
    SIDE,
    Lettering,
    Note,
    comb,
    comb_words,
    pt,
    teeth,
    tooth_scale,
    usual_stretch,
    with_words,
)
from scrieve.sheets.figures import length, off_by, plus_minus, thin_unit, written_off
from scrieve.sheets.hull import LETTER_MM, Link, body_plan, labels_along, no_link
from scrieve.units import Units


def fairing_body_plan(
    hull: FairHull,
    *,
    bands: bool = True,
    whiskers: bool = True,
    combs: Sequence[str] = (),
    teeth_times: float = 1.0,
    measure_next: Sequence[NextMark] = (),
    stretch: float | None = None,
    link: Link = no_link,
    units: Units = "mm",
) -> Drawing:
    """Return the body plan with the departures of all marks, the bands, curvature combs, and where to measure next.

    A departure runs from the fair line to its mark, stretched; the mark is an open circle (port) or a filled one. Those
    of suspects are written out, and cut short where they would run off the sheet. A band is ± 2 standard deviations,
    stretched alike. A comb stands on the outside of its frame where the frame is hollow inboard, its teeth as long as
    the curvature is great.

    Parameters
    ----------
    hull : FairHull
    bands, whiskers : bool
        Whether bands and departures are drawn.
    combs : sequence of label
        Frames that get a comb, all to one scale. Of one or two the teeth are drawn, of more their tips alone.
    teeth_times : float
        How much longer than usual the teeth are.
    measure_next : sequence of NextMark
        Places to be numbered 1, 2, …
    stretch : float, optional
        Number by which departures and bands are stretched; a usual one that fits, unless given.
    link : callable
        Page of a frame label.
    units : str
        How the builder reads lengths.
    """
    between = {length(place.station_mm, units): place.station_mm for place in measure_next if not place.frame}
    plan = body_plan(hull, link=link, units=units, not_measured=between)
    h = LETTER_MM * plan.one_to
    hands = _hands(plan)
    usual = np.abs([off.residual_mm for off in hull.offs if off.counts] or [0.0])
    width = 2 * np.array([off.line_sd_mm for off in hull.offs] or [0.0])
    most = float(np.quantile(np.concatenate([usual, width]), 0.9))
    k = usual_stretch(most, 1.5 * h) if stretch is None else stretch
    labels = Lettering()
    floor = min(float(item.points[:, 1].min()) for item in plan.items if isinstance(item, Polyline))
    few = len(combs) <= 2
    sections = {label: hull.section(label, 81) for label in combs}
    curvatures = [section.curvature_per_mm for section in sections.values()]
    size = teeth_times * tooth_scale(curvatures, (3.0 if few else 2.0) * h) if combs else 0.0
    items: list[Item] = []
    notes: list[Note] = []
    for label, x in hull.stations.items():
        for hand in hands.get(label, ()):
            if bands:
                items += _band(hull, label, hand, k)
            if label in sections:
                items += comb(sections[label], hand, size, 3.5 * teeth_times * h, teeth_drawn=few)
            if whiskers:
                dots, wanted = _whiskers(
                    [off for off in hull.offs if off.frame == label], hull, x, hand, k, h, floor, units
                )
                items += dots
                notes += wanted
    crosses, numbers = _next(measure_next, hull, hands, h, units)
    items += crosses
    labels.take([*plan.items, *items])
    for note in (*notes, *numbers):
        items += labels.beside(*note)
    words = []
    if bands or whiskers:
        words.append(f"{_told(bands, whiskers)} drawn {k:g} times" if k != 1 else "departures at their own scale")
    if whiskers:
        shown = "mm" if units == "mm" else "inches"
        words.append(f"open: port, filled: starboard or both; ringed in red: suspect, in {shown}")
    if combs:
        words.append(comb_words(size, units, h))
    if measure_next:
        words.append("numbered crosses: measure here next, in this order")
    return with_words(plan, items, words, h, "Body plan with marks: forward frames to the right")


def diagonals_drawing(
    hull: FairHull,
    lines: Sequence[HullLine],
    report: Fairness | None = None,
    *,
    combs: bool = True,
    stretch: float | None = None,
    link: Link = no_link,
    units: Units = "mm",
) -> Drawing:
    """Return lines of the hull each drawn out in its own plane, a diagonal as if laid flat; forward end to the left.

    Each line stands over its own base line (the centreplane, or the level from which heights count). With a fairness
    report the readings of the frames' own marks are drawn as they lie off the line, stretched.

    Raises
    ------
    BadGeometry
        No line is given, or none of them cuts the hull.
    """
    shown = [line for line in lines if line.runs]
    if not shown:
        raise BadGeometry("there is no line to draw out; give diagonals that cut the hull.")
    low, high = hull.x_range
    reach = [(min(float(run.ordinate_mm.min()) for run in line.runs), _top(line)) for line in shown]
    floors = [
        min(0.0, least) if line.plane.kind != "buttock" else least
        for line, (least, _) in zip(shown, reach, strict=True)
    ]
    tall = [most - floor for floor, (_, most) in zip(floors, reach, strict=True)]
    n = one_to((high - low) * 1.08, sum(tall) * 1.35)
    h = LETTER_MM * n
    read = [one for one in report.lines if one.plane in [line.plane for line in shown]] if report else []
    moved = np.abs(np.concatenate([one.before_mm - one.after_mm for one in read])) if read else np.zeros(1)
    k = usual_stretch(float(np.quantile(moved, 0.9)), 1.5 * h) if stretch is None else stretch
    teeth = tooth_scale([run.curvature_per_mm for line in shown for run in line.runs], 2.5 * h) if combs else 0.0

    items: list[Item] = []
    base = 0.0
    for line, floor, height in zip(reversed(shown), reversed(floors), reversed(tall), strict=True):
        up = base - floor
        items.append(Line((low - 2 * h, base), (high + 2 * h, base), "CENTRELINE"))
        items.append(Text((low - 2 * h, base - 1.6 * h), _line_name(line, units), h))
        for run in line.runs:
            items += _drawn_out(run, up, teeth, 4.0 * h, line)
        for one in read:
            if one.plane == line.plane:
                items += _readings(one, up, k, h, units)
        base += height + 7 * h
    top = base - 7 * h
    uprights: list[Item] = [
        Line((x, 0.0), (x, top), "GRID", link=link(label), title=f"frame {label}")
        for label, x in hull.stations.items()
        if low <= x <= high
    ]
    feet = labels_along([(x, -3.8 * h, label) for label, x in hull.stations.items()], h, link)
    words = ["forward to the left; each line in its own plane, over its own base line"]
    if read:
        words.append(
            f"dots: by each frame's own marks, departures drawn {k:g} times; open: port, filled: starboard or both"
        )
    if combs:
        words.append("combs: curvature, on the outside where the line is hollow inboard")
    drawing = Drawing((*uprights, *items, *feet), "", n)
    return with_words(drawing, [], words, h, "Diagonals, laid flat: forward end to the left", foot=-4.2 * h)


def asymmetry_drawing(
    sides: Sides, *, stretch: float | None = None, link: Link = no_link, units: Units = "mm"
) -> Drawing:
    """Return the body plan of the mean of both sides, with how far port lies outside starboard, stretched.

    Where port is the wider the difference is drawn outside the frame, where starboard is, inside; dotted: ± 2 standard
    deviations about none. Frames that differ by more than measuring error explains are drawn in red, with the largest
    difference.

    Raises
    ------
    BadGeometry
        The sides were not compared.
    """
    if sides.together is None or not sides.frames:
        raise BadGeometry("the sides were not compared; fair them with 'compared'.")
    plan = body_plan(sides.together, link=link, units=units)
    h = LETTER_MM * plan.one_to
    hands = _hands(plan)
    most = max(float(np.nanquantile(np.abs(frame.difference_mm), 0.9)) for frame in sides.frames)
    k = usual_stretch(max(most, 0.1), 4.0 * h) if stretch is None else stretch
    labels = Lettering()
    items: list[Item] = []
    notes: list[Note] = []
    for frame in sides.frames:
        for hand in hands.get(frame.frame, ()):
            drawn, wanted = _difference(frame, hand, k, h, units)
            items += drawn
            notes += wanted
    labels.take([*plan.items, *items])
    for note in notes:
        items += labels.beside(*note)
    words = [
        f"port less starboard drawn {k:g} times, outside: port wider; dotted: ± 2 sd",
        "red: more than measuring error explains" if sides.real else "no frame differs by more than measuring error",
    ]
    return with_words(plan, items, words, h, "Port against starboard: forward frames to the right")


def _hands(plan: Drawing) -> dict[str, list[int]]:
    """For each frame drawn on the body plan, the side or sides it is drawn on: 1 right, -1 left."""
    found: dict[str, list[int]] = {}
    for item in plan.items:
        if isinstance(item, Polyline) and item.title.startswith("frame "):
            found.setdefault(item.title.removeprefix("frame "), []).append(1 if item.points[:, 0].sum() >= 0 else -1)
    return found


def _told(bands: bool, whiskers: bool) -> str:
    return " and ".join([*(["departures"] if whiskers else []), *(["bands (± 2 sd)"] if bands else [])])


def _band(hull: FairHull, label: str, hand: int, k: float) -> list[Item]:
    section = hull.section(label, 120)
    normal = np.column_stack([np.sin(section.direction_rad), -np.cos(section.direction_rad)])
    off = normal * (2 * k * section.sd_mm)[:, None]
    flip = np.array([hand, 1.0])
    return [polyline((section.points_mm + side * off) * flip, "BAND", title=f"± of frame {label}") for side in (1, -1)]


def _whiskers(
    offs: Sequence[MarkOff],
    hull: FairHull,
    x: float,
    hand: int,
    k: float,
    h: float,
    floor: float,
    units: Units,
) -> tuple[list[Item], list[Note]]:
    if not offs:
        return [], []
    notes: list[Note] = []
    v = np.array([off.v for off in offs])
    normal, _ = hull.normal(np.full(len(v), x), v)
    feet = hull.fit.value(np.full(len(v), x), v) * (hand, 1)
    normal = normal * (hand, 1)
    items: list[Item] = []
    for off, foot, out in zip(offs, feet, normal, strict=True):
        reach = float(np.clip(off.residual_mm * k, -6 * h, 6 * h))  # a blunder is not to scale
        if (fall := foot[1] - floor + 2.2 * h) < -out[1] * reach:  # nor does it run into the words below
            reach *= fall / (-out[1] * reach)
        end = foot + out * reach
        layer = "MARKS" if off.suspect else "SECTIONS"
        said = f"frame {off.frame}, {SIDE[off.side]}: {off_by(off.residual_mm, units)} {thin_unit(units)}"
        title = said + (f", suspect{': ' + off.guess if off.guess else ''}" if off.suspect else "")
        items.append(Line(pt(foot), pt(end), layer))
        items.append(Circle(pt(end), (0.3 if off.suspect else 0.17) * h, layer, filled=off.side != "P", title=title))
        if off.suspect:
            items.append(Circle(pt(end), 0.6 * h, layer))
            way = out if reach >= 0 else -out
            figure = f"{off.frame}: {written_off(off.residual_mm, units)}{' ' + off.side if off.side else ''}"
            notes.append((end, way, shorten(figure, 16), 0.8 * h, "FIGURES", title, 1.0))
    return items, notes


def _next(
    places: Sequence[NextMark], hull: FairHull, hands: dict[str, list[int]], h: float, units: Units
) -> tuple[list[Item], list[Note]]:
    items: list[Item] = []
    notes: list[Note] = []
    slants = np.array([(0.5, 0.5), (0.5, -0.5)]) * h
    for number, place in enumerate(places, start=1):
        hand = hands.get(place.frame or length(place.station_mm, units), [1])[0]
        at = np.array([hand * place.half_breadth_mm, place.height_mm])
        items += [Line(pt(at - slant), pt(at + slant), "FRAME MARKS") for slant in slants]
        where = f"frame {place.frame}" if place.frame else f"station {length(place.station_mm, units)}"
        falls = plus_minus(place.sd_after_mm, units)
        title = f"measure here: {where}, {length(place.height_mm, units)} up; the ± falls to {falls}"
        normal, _ = hull.normal(place.station_mm, place.v)
        notes.append((at, normal[0] * (hand, 1), str(number), h, "FIGURES", title, 3.0))
    return items, notes


def _difference(frame: Asymmetry, hand: int, k: float, h: float, units: Units) -> tuple[list[Item], list[Note]]:
    line = frame.points_mm
    along = np.gradient(line, axis=0)
    along /= np.maximum(np.hypot(*along.T), 1e-12)[:, None]
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    flip = np.array([hand, 1.0])
    has = np.isfinite(frame.difference_mm)
    layer = "MARKS" if frame.real else "RAILS"
    largest = f"{off_by(frame.largest_mm, units)} ± {plus_minus(2 * frame.largest_sd_mm, units)}"
    title = f"frame {frame.frame}: largest {largest}"
    tips = line + normal * (k * np.where(has, frame.difference_mm, 0.0))[:, None]
    notes: list[Note] = []
    items: list[Item] = []
    runs = np.flatnonzero(np.diff(np.r_[0, has.astype(int), 0]))
    for start, stop in zip(runs[::2], runs[1::2], strict=True):
        if stop - start < 2:
            continue
        here = slice(start, stop)
        items.append(polyline(tips[here] * flip, layer, title=title))
        band = normal[here] * (2 * k * frame.sd_mm[here])[:, None]
        items += [polyline((line[here] + side * band) * flip, "BAND") for side in (1, -1)]
    if frame.real:
        most = int(np.nanargmax(np.abs(frame.difference_mm)))
        items.append(Line(pt(line[most] * flip), pt(tips[most] * flip), layer, title=title))
        way = normal[most] * np.sign(frame.largest_mm) * flip
        figure = shorten(f"{frame.frame}: {written_off(frame.largest_mm, units)}", 14)
        notes.append((tips[most] * flip, way, figure, 0.8 * h, "FIGURES", title, 1.0))
    return items, notes


def _top(line: HullLine) -> float:
    return max(float(run.ordinate_mm.max()) for run in line.runs)


def _line_name(line: HullLine, units: Units) -> str:
    y, z = (length(value, units) for value in line.plane.origin_mm)
    if line.plane.kind == "waterline":
        return f"waterline {z}"
    if line.plane.kind == "buttock":
        return f"buttock {y}"
    return f"diagonal {z} up at the centreline, {np.degrees(line.plane.angle_rad):.0f}° down"


def _drawn_out(run: Run, up: float, size: float, most: float, line: HullLine) -> list[Item]:
    way = run.flat_mm + np.array([0.0, up])
    items: list[Item] = [polyline(way, "PROFILE", title=line.name)]
    if size:
        length_mm = np.r_[0.0, np.cumsum(np.hypot(*np.diff(way, axis=0).T))]
        even = np.linspace(0.0, length_mm[-1], 81)
        feet = np.column_stack([np.interp(even, length_mm, axis) for axis in way.T])
        tooth = np.clip(np.interp(even, length_mm, run.curvature_per_mm) * size, -most, most)
        turned = np.interp(even, length_mm, np.unwrap(run.direction_rad))
        # outside is where the ordinate grows; for a buttock it is below
        side = np.column_stack([-np.sin(turned), np.cos(turned)]) * (-1.0 if line.plane.kind == "buttock" else 1.0)
        items += teeth(feet, feet + side * tooth[:, None], np.ones(2), f"curvature of {line.name}")
    return items


def _readings(one: LineFairness, up: float, k: float, h: float, units: Units) -> list[Item]:
    items: list[Item] = []
    for frame, x, before, after in zip(one.frames, one.x_mm, one.before_mm, one.after_mm, strict=True):
        end = after + float(np.clip((before - after) * k, -4 * h, 4 * h))  # a blunder is not to scale
        title = f"frame {frame}, {SIDE[one.side]}: {off_by(before - after, units)} {thin_unit(units)}"
        items.append(Line((float(x), float(after + up)), (float(x), end + up), "MARKS"))
        items.append(Circle((float(x), end + up), 0.3 * h, "MARKS", filled=one.side != "P", title=title))
    return items
