"""A plank on paper: its flat outline with frame marks, the full-size pattern, the bench sheet."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from scrieve.boat import Boat
from scrieve.planking.butts.end_cuts import EndCut
from scrieve.planking.choice import StrakeChoice
from scrieve.planking.design import PlankDesign
from scrieve.planking.frame_line import PlankFrame, PlankNail
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.drawing import Circle, Drawing, Item, Line, Point, Text, one_to, polyline, shorten
from scrieve.sheets.figures import degrees, length, sized, thickness, thin, thin_unit, unit, workings_table
from scrieve.units import Units
from scrieve.wording import in_units

LETTER_MM = 2.4
#: A nail is drawn on the pattern as a circle of this radius, whatever its size.
_NAIL_MM = 3.0
_ROOM_MM: Point = (142.0, 60.0)
_ACROSS = (1, 2, 3, 4, 5, 8, 10)
_HANDS = {"P": "port", "S": "starboard", "": "port and starboard"}


def plank_drawing(design: PlankDesign, units: Units = "mm") -> Drawing:
    """Return the flat outline with its frame lines, and the offset of both edges from the datum line at them [mm].

    A plank is long and narrow: across it the drawing is stretched by a whole number, which its title states. Measure
    nothing off it; the table and the pattern give the sizes.
    """
    outline = design.outline_mm
    (left, low), (right, high) = outline.min(axis=0), outline.max(axis=0)
    stretch = next((k for k in reversed(_ACROSS) if k * (high - low) <= 0.16 * (right - left)), 1)
    n = one_to(float(right - left), float(high - low) * stretch, _ROOM_MM)
    h = LETTER_MM * n
    scale = np.array([1.0, stretch])
    items: list[Item] = [
        polyline(outline * scale, "SEAM EDGE", closed=True, title=f"plank {design.name}"),
        Line((float(left) - 2 * h, 0.0), (float(right) + 2 * h, 0.0), "DATUM LINE", title="datum line"),
    ]
    free = -math.inf
    top, foot = float(high) * stretch + 1.2 * h, float(low) * stretch - 1.2 * h
    for frame in design.frames:
        a, b = np.array(frame.lower_mm) * scale, np.array(frame.upper_mm) * scale
        title = f"frame {frame.label}: width {sized(frame.width_mm, units)}"
        items.append(Line(_pt(a), _pt(b), "FRAME MARKS", title=title))
        if float(min(a[0], b[0])) < free:
            continue
        free = float(max(a[0], b[0])) + 1.6 * h
        words = f"{shorten(frame.label, 8)}: {length(frame.upper_mm[1], units)}"
        items.append(Text((float(b[0]), top), words, h, level="middle", angle_deg=90.0, title=title))
        off = length(frame.lower_mm[1], units)
        items.append(Text((float(a[0]), foot), off, h, align="right", level="middle", angle_deg=90.0, title=title))
    items += [Circle(_pt(np.array([nail.x_mm, nail.y_mm]) * scale), 0.25 * h, "FRAME MARKS", title=_nail_words(nail))
              for nail in _on_the_plank(design)]  # fmt: skip
    ends = design.choice.ends
    middle = float(outline[:, 1].mean()) * stretch
    stepped = {cut.end for cut in design.cuts if cut.kind == "step"}
    first, last = ("runs on" if end in stepped else getattr(ends, end) for end in ("first", "last"))
    items.append(Text((float(left) - 2.6 * h, middle), first, 0.9 * h, align="right", level="middle"))
    items.append(Text((float(right) + 2.6 * h, middle), last, 0.9 * h, level="middle"))
    items += [polyline(np.array(cut.begins_mm) * scale, "JOINTS", title=_cut_words(cut, units)) for cut in design.cuts]
    for joint in design.joints:
        at = [float(np.interp(joint.at_mm, *edge.T)) * stretch for edge in (design.lower_mm, design.upper_mm)]
        title = f"{joint.kind} {joint.where}, {sized(joint.length_mm, units)}"
        items.append(Line((joint.at_mm, at[0] - 0.8 * h), (joint.at_mm, at[1] + 0.8 * h), "JOINTS", title=title))
    across = f"; across drawn {stretch} times the length's scale" if stretch > 1 else ""
    return Drawing(tuple(items), f"Plank {design.name}, {design.drawn}{across}", n, (1.0, stretch))


def plank_pattern(design: PlankDesign, units: Units = "mm") -> Drawing:
    """Return the full-size pattern: closed outline, frame lines with label and width, datum line, label [mm]."""
    outline = design.outline_mm
    left, right = float(outline[:, 0].min()), float(outline[:, 0].max())
    least = min((frame.width_mm for frame in design.frames), default=float(np.ptp(outline[:, 1])))
    h = float(np.clip(least / 16, 2.5, 5.0))
    items: list[Item] = [
        polyline(outline, "SEAM EDGE", closed=True),
        Line((left, 0.0), (right, 0.0), "DATUM LINE"),
    ]
    for frame in design.frames:
        a, b = np.array(frame.lower_mm), np.array(frame.upper_mm)
        items.append(Line(_pt(a), _pt(b), "FRAME MARKS"))
        along = b - a
        angle = math.degrees(math.atan2(along[1], along[0]))
        place = (a + b) / 2 + np.array([h, 0.0]) * (1.0 if (a[0] + b[0]) / 2 < right - 4 * h else -1.0)
        words = f"{shorten(frame.label, 8)}  {sized(frame.width_mm, units)}"
        fits = Text((0.0, 0.0), words, h).width_mm
        size = min(h, h * 0.9 * frame.width_mm / fits)
        items.append(Text(_pt(place), words, size, align="middle", level="middle", angle_deg=angle))
        beside = float(place[0] - (a + b)[0] / 2)
        if (a[0] + b[0]) / 2 < left + 4 * h or beside < 0:  # at an end they stand inside the plank, past the label
            items += _bevels(frame, h, math.copysign(2.4 * h, beside))
        else:
            items += _bevels(frame, h, -1.2 * h)
    items += _land_items(design, h)
    items += [Circle((nail.x_mm, nail.y_mm), _NAIL_MM, "FRAME MARKS") for nail in _on_the_plank(design)]
    for cut in design.cuts:
        items += _cut_items(cut, h, units)
    for joint in design.joints:
        x = joint.at_mm
        ends_y = [float(np.interp(x, *edge.T)) for edge in (design.lower_mm, design.upper_mm)]
        half = joint.length_mm / 2
        items += [Line((x + s * half, ends_y[0]), (x + s * half, ends_y[1]), "JOINTS") for s in (-1.0, 1.0)]
        items.append(
            Text((x, ends_y[1] - 3 * h), f"{joint.kind} {sized(joint.length_mm, units)}", h, "JOINTS", "middle")
        )
    label = f"{shorten(design.name, 24).upper()}  {_HANDS[design.side].upper()}"
    stations = sorted(float(frame.lower_mm[0] + frame.upper_mm[0]) / 2 for frame in design.frames)
    bays = [(a, b) for a, b in zip([left, *stations], [*stations, right], strict=True) if b - a > 10 * h]
    for begin, end in (bays[len(bays) // 4], bays[3 * len(bays) // 4]) if bays else ():
        x = (begin + end) / 2
        room = end - begin - 5 * h
        size = min(1.4 * h, 1.4 * h * room / Text((0.0, 0.0), label, 1.4 * h).width_mm)
        y = (np.interp(x, *design.lower_mm.T) + np.interp(x, *design.upper_mm.T)) / 2
        items.append(Text((x, float(y) + h), label, size, align="middle"))
        items.append(Text((x, float(y) - 2 * h), "datum line through both ends", 0.5 * size, align="middle"))
    return Drawing(tuple(items), f"Plank {shorten(design.name, 40)}, {_HANDS[design.side]}: {design.drawn}")


def _cut_words(cut: EndCut, units: Units) -> str:
    if cut.kind == "step":
        deep = sized(abs(cut.nib_mm), units)
        return f"step {deep}, the strake runs on" if cut.nib_mm > 0 else f"the strake runs on, {deep} wider"
    if cut.kind == "nib":
        return f"nib, {sized(cut.nib_mm, units)} wide"
    nib = f", nib {thickness(cut.nib_mm, units)}" if cut.nib_mm else ""
    return f"scarf {cut.slope:g} : 1, {sized(cut.length_mm, units)} long{nib}"


def _cut_items(cut: EndCut, h: float, units: Units) -> list[Item]:
    """The line where a scarf begins, on the face that is cut back, or a nib's end; what it is, along it."""
    a, b = np.array(cut.begins_mm)
    along = (b - a) / np.hypot(*(b - a))
    inward = 1.0 if cut.end == "first" else -1.0
    words = _cut_words(cut, units)
    angle = math.degrees(math.atan2(along[1], along[0]))
    past = np.array([inward * 8.0 * h, 0.0])  # past the label and the bevels of the frame at the plank's end
    if cut.kind == "step":  # its line lies on the end's own: the corner of the notch is marked, the words begin at it
        corner = b if cut.nib_mm > 0 else a
        return [Line(_pt(a), _pt(b), "JOINTS"), Line(_pt(corner), _pt(corner + 0.8 * past), "JOINTS"),
                Text(_pt(a + along * h + past), words, 0.6 * h, "JOINTS", level="middle", angle_deg=angle)]  # fmt: skip
    size = min(h, 0.9 * h * float(np.hypot(*(b - a))) / Text((0.0, 0.0), words, h).width_mm)
    place = (a + b) / 2 + (past if cut.kind == "nib" else np.array([inward * 1.2 * h, 0.0]))
    return [Line(_pt(a), _pt(b), "JOINTS"),
            Text(_pt(place), words, size, "JOINTS", "middle", "middle", angle_deg=angle)]  # fmt: skip


def scarf_drawing(cut: EndCut, thickness_mm: float, units: Units = "mm") -> Drawing:
    """Return a scarf seen from the plank's edge, the inside face below: slope, nibs, and the joint midway [mm].

    It is drawn with its thickness stretched, so that the nibs can be seen; measure nothing off it.
    """
    t, long, nib = thickness_mm, cut.length_mm, cut.nib_mm
    stretch = next((k for k in reversed(_ACROSS) if k * t <= 0.2 * long), 1)
    n = one_to(1.6 * long, 2.5 * stretch * t, (142.0, 40.0))
    h = LETTER_MM * n
    high = stretch * t
    mirror = 1.0 if cut.end == "last" else -1.0
    back = max(0.3 * long, 11.0 * h if nib else 0.0)  # the plank behind the scarf, long enough for what stands in it
    plank = [(-back, 0.0), (long, 0.0), (long, stretch * nib), (0.0, high - stretch * nib), (0.0, high), (-back, high)]
    shape = [(mirror * x, y) for x, y in plank]
    items: list[Item] = [
        polyline(shape, "SEAM EDGE", title="the plank"),
        Line((mirror * long / 2, -0.6 * h), (mirror * long / 2, high + 0.6 * h), "JOINTS", title="the joint"),
        Text((mirror * long / 2, high + 0.9 * h), "the joint: the plank's end on the hull", h, align="middle"),
        Line((0.0, -1.0 * h), (mirror * long, -1.0 * h), "DIMENSIONS"),
        Text((mirror * long / 2, -2.6 * h), f"{sized(long, units)}, {cut.slope:g} : 1", h, align="middle"),
    ]
    if nib:
        for x, y in ((long, stretch * nib / 2), (0.0, high - max(stretch * nib / 2, 1.1 * h))):  # clear of the face
            aside = 0.5 * h if x else -0.5 * h
            items.append(Text((mirror * (x + aside), y), f"nib {thickness(nib, units)}", h, level="middle",
                              align="left" if mirror * aside > 0 else "right"))  # fmt: skip
    items.append(Text((mirror * -(back + 0.04 * long), high / 2), f"{thickness(t, units)}", h, level="middle",
                      align="right" if mirror > 0 else "left"))  # fmt: skip
    across = f"; thickness drawn {stretch} times as large" if stretch > 1 else ""
    return Drawing(tuple(items), f"Scarf at the {cut.end} end, seen from its edge{across}", n, (1.0, stretch))


def _bevels(frame: PlankFrame, h: float, aside: float) -> list[Item]:
    """The bevels of both edges at a frame, just inside them, so far aside of its line; on a layer of their own."""
    found: list[Item] = []
    low, high = np.array(frame.lower_mm), np.array(frame.upper_mm)
    up = (high - low) / np.hypot(*(high - low))
    size = min(0.8 * h, frame.width_mm / 12)
    for at, towards, bevel in ((low, up, frame.lower_bevel_rad), (high, -up, frame.upper_bevel_rad)):
        if bevel is not None:
            found.append(Text(_pt(at + 1.6 * size * towards + [aside, 0.0]), f"{degrees(bevel)}°", size, "BEVELS",
                              "left" if aside > 0 else "right", "middle"))  # fmt: skip
    return found


def _land_items(design: PlankDesign, h: float) -> list[Item]:
    """The line of the lap, from which the land is planed off the upper edge, and its bevel at each frame."""
    if not design.lands:
        return []
    across = design.lower_mm - design.upper_mm
    lap = design.upper_mm + across / np.hypot(*across.T)[:, None] * design.lands[0].lap_mm
    found: list[Item] = [polyline(lap, "JOINTS", title="the lap: the land is planed from here to the upper edge")]
    bevels = {land.frame: land.bevel_rad for land in design.lands}
    for frame in design.frames:
        if frame.label in bevels:
            at = (frame.upper_mm[0] + 0.8 * h, frame.upper_mm[1] - design.lands[0].lap_mm / 2)
            found.append(Text(at, f"land {degrees(bevels[frame.label])}°", 0.6 * h, "BEVELS", level="middle"))
    return found


def plank_bench_sheet(design: PlankDesign, boat: Boat, revision: str, link: str = "") -> BenchSheet:
    """Return the bench sheet of a plank, in the boat's units."""
    u = boat.units
    drawing = plank_drawing(design, u)
    scarfs = [scarf_drawing(cut, design.thickness_mm, u) for cut in design.cuts if cut.kind == "scarf"]
    return BenchSheet(
        title=f"Plank {design.name}",
        boat=boat.name,
        member=f"plank {design.name}, {_HANDS[design.side]}",
        revision=revision,
        link=link,
        summary=_summary(design, u),
        drawings=((_caption(drawing, u), drawing), *((one.title, one) for one in scarfs)),
        tables=tuple(kept for table in plank_tables(design, u) if (kept := _filled(table))),
        checks=in_units(design.checks, u),
        cautions=in_units(design.cautions, u),
    )


def plank_tables(design: PlankDesign, units: Units = "mm") -> tuple[Table, ...]:
    """Return the tables of a plank: setting out, edges and backing out, spiled points, workings."""
    found = [_offset_table(design, units), _edge_table(design, units)]
    if design.lands:
        found.append(_land_table(design, units))
    if design.rabbets:
        found.append(_rabbet_table(design, units))
    if design.pieces:
        found.append(_sheets_table(design, units))
    if design.residuals:
        found.append(_spiling_table(design, units))
    if design.nails:
        found.append(_nail_table(design, units))
    if design.workings:
        found.append(workings_table(in_units(design.workings, units)))
    return tuple(found)


def _filled(table: Table) -> Table | None:
    """Return a table without the columns in which nothing stands; None where nothing but its first is left."""
    keep = [i for i in range(len(table.columns)) if any(row[i] != "–" for row in table.rows)]
    if len(keep) < 2:
        return None
    columns, rows = (tuple(tuple(row[i] for i in keep) for row in one) for one in ((table.columns,), table.rows))
    return replace(table, columns=columns[0], rows=rows)


def _seam(design: PlankDesign, units: Units) -> str:
    """How the plank's edges meet their neighbours, in words."""
    if design.lands:
        lap = thickness(design.lands[0].lap_mm, units)
        return f"none to caulk: laps its neighbour by {lap}, land bevelled on the upper edge"
    if not design.seam_opening_mm:
        return "none to caulk: edges tight"
    return f"open outside {thickness(design.seam_opening_mm, units)}, both edges together"


def _summary(design: PlankDesign, u: Units) -> tuple[tuple[str, str], ...]:
    board = design.board
    lines = [
        (
            "finished",
            f"{thickness(design.thickness_mm, u)} thick, {sized(board.plank_length_mm, u)} long, "
            f"{sized(board.plank_width_mm, u)} at the widest",
        ),
        ("sheets" if design.pieces else "board", _stock(design, u)),
        ("edges", _edges(design, u)),
        ("ends", _ends(design, u)),
        ("seam", _seam(design, u)),
    ]
    if design.twist_rad is not None:
        lines.append(("twist", f"{degrees(design.twist_rad)}° from end to end"))
    if design.edge_set_mm is not None and not design.pieces:
        lines.append(("edge-set", f"{thickness(design.edge_set_mm, u)} taken up when it is hung"))
    if design.choice.timber:
        lines.append(("timber", design.choice.timber))
    if isinstance(design.choice, StrakeChoice):
        own = design.choice.hull != "both"
        lines.append(("made from", f"{design.choice.hull}'s own marks" if own else "both sides faired as one"))
    lines.append(("pattern", design.drawn))
    return tuple(lines)


def _stock(design: PlankDesign, u: Units) -> str:
    """What it is cut of, in words."""
    board = design.board
    if design.pieces:
        long, wide = (max(getattr(piece, size) for piece in design.pieces) for size in ("length_mm", "width_mm"))
        return (f"{len(design.pieces)} pieces of plywood {thickness(design.thickness_mm, u)} thick, up to "
                f"{sized(long, u)} × {sized(wide, u)}; {_bow(board.crown_mm, u)}")  # fmt: skip
    return (
        f"{sized(board.length_mm, u)} × {sized(board.width_mm, u)} clear wood × "
        f"{thickness(board.thickness_mm, u)} thick; {_bow(board.crown_mm, u)}"
    )


def _offset_table(design: PlankDesign, u: Units) -> Table:
    rows = tuple(
        (
            f.label,
            length(f.lower_mm[0], u),
            length(f.lower_mm[1], u, 1),
            length(f.upper_mm[0], u),
            length(f.upper_mm[1], u, 1),
            length(f.width_mm, u, 1),
        )
        for f in design.frames
    )
    lower, upper = design.edge_names
    head = (
        "frame",
        f"along, {lower} ({unit(u)})",
        f"offset, {lower} ({unit(u)})",
        f"along, {upper} ({unit(u)})",
        f"offset, {upper} ({unit(u)})",
        f"{'frame mark' if design.kind == 'diagonal' else 'width'} ({unit(u)})",
    )
    note = "Along: on the straight datum line through the middles of both ends. Offset: square to it, up is above zero."
    return Table("Setting out", head, rows, note, name="setting-out", after=0)


def _edge_table(design: PlankDesign, u: Units) -> Table:
    rows = tuple(
        (
            f.label,
            degrees(f.lower_bevel_rad),
            degrees(f.upper_bevel_rad),
            thin(f.hollow_mm, u),
            _radius(f.radius_mm, u),
        )
        for f in design.frames
    )
    head = (
        "frame",
        f"{design.edge_names[0]} edge (°)",
        f"{design.edge_names[1]} edge (°)",
        f"hollow ({thin_unit(u)})",
        f"frame's radius ({unit(u)})",
    )
    bare = all(cell == "–" for row in rows for cell in row[1:4])  # lapped planks and panels have square edges
    note = "Edges: from square, above zero wider outside. Hollow: backing-out of the inside, below zero rounding. "
    radius = "Radius: of the frame's outside; below zero where it is hollow outboard, as in flare."
    title = "How the frames curve" if bare else "Edges and backing out"
    return Table(title, head, rows, radius if bare else note + radius, name="edges")


def _land_table(design: PlankDesign, u: Units) -> Table:
    rows = tuple(
        (x.frame, thin(x.lap_mm, u), degrees(x.bevel_rad), thin(x.depth_mm, u), thin(x.left_mm, u))
        for x in design.lands
    )
    small = thin_unit(u)
    head = ("frame", f"lap ({small})", "bevel (°)", f"off at the edge ({small})", f"left at the edge ({small})")
    note = "Planed off the outside of the upper edge, over the lap. Below zero: off the inside of the strake above."
    return Table("Land", head, rows, note, name="land")


def _rabbet_table(design: PlankDesign, u: Units) -> Table:
    rows = tuple((x.place, degrees(x.angle_rad), thin(x.bearding_mm, u), thin(x.depth_mm, u)) for x in design.rabbets)
    small = thin_unit(u)
    head = ("place", "plank to the side (°)", f"rabbet line to bearding line ({small})", f"middle line deep ({small})")
    note = "Square to the rabbet line, the plank's end square to its face. The side: of stem, keel or sternpost."
    return Table("Rabbet", head, rows, note, name="rabbet")


def _sheets_table(design: PlankDesign, u: Units) -> Table:
    joints = [f"{joint.kind}, {joint.where}" for joint in design.joints] + ["end"]
    rows = tuple(
        (str(i + 1), length(x.first_mm, u), length(x.last_mm, u), length(x.length_mm, u), length(x.width_mm, u), joint)
        for i, (x, joint) in enumerate(zip(design.pieces, joints, strict=True))
    )
    mm = unit(u)
    head = ("sheet", f"from ({mm})", f"to ({mm})", f"length ({mm})", f"width ({mm})", "joined to the next by")
    return Table("Sheets", head, rows, "Along the datum line; a scarf counts in both of its sheets.", name="sheets")


def _spiling_table(design: PlankDesign, u: Units) -> Table:
    rows = tuple(
        (r.point, r.edge, thin(r.residual_mm, u), "measure again, or keep" if r.suspect else "")
        for r in design.residuals
    )
    head = ("point", "edge", f"off the fair edge ({thin_unit(u)})", "remark")
    return Table("Spiled points against the fair edge", head, rows, name="spiling")


def _on_the_plank(design: PlankDesign) -> tuple[PlankNail, ...]:
    """Nails that can be drawn on it: one that was pricked off it is told, and makes no paper larger."""
    return tuple(nail for nail in design.nails if nail.to_edge_mm >= 0)


def _nail_words(nail: PlankNail) -> str:
    return f"nail of frame {nail.frame}" if nail.frame else "nail"


def _nail_table(design: PlankDesign, u: Units) -> Table:
    rows = tuple(
        (nail.frame or "–", length(nail.x_mm, u), length(nail.y_mm, u, 1), length(nail.to_edge_mm, u, 1))
        for nail in design.nails
    )
    head = ("frame", f"along ({unit(u)})", f"offset ({unit(u)})", f"within the edge ({unit(u)})")
    note = ("Nails and their holes in the frames, as pricked on the batten: keep new fastenings clear of them. On the "
            "pattern each is a small circle.")  # fmt: skip
    return Table("Nails that are there", head, rows, note, name="nails")


def _caption(drawing: Drawing, units: Units) -> str:
    """What the figures on the drawing are, and how far it is stretched across, if it is."""
    across = f"; {drawing.title.rsplit('; ', 1)[1]}" if "; across drawn" in drawing.title else ""
    return f"Drawn flat; offsets of the edges from the datum line at the frames, {unit(units)}{across}"


def _ends(design: PlankDesign, u: Units) -> str:
    """How each end is finished, in words."""
    ends = design.choice.ends
    told = {cut.end: _cut_words(cut, u) for cut in design.cuts}
    words = f"first: {told.get('first', ends.first)}; last: {told.get('last', ends.last)}"
    scarfed = any(cut.kind == "scarf" for cut in design.cuts)
    return words + (" (half of it past the joint, drawn)" if scarfed else "")


def _edges(design: PlankDesign, u: Units) -> str:
    lower, flat_lower, upper, flat_upper = design.lengths_mm
    found = []
    for name, true, flat in (
        (design.edge_names[0], lower, flat_lower),
        (design.edge_names[1], upper, flat_upper),
    ):
        on_hull = "" if true is None else f" ({sized(true, u)} on the hull)"
        found.append(f"{name} {sized(flat, u)}{on_hull}")
    return ", ".join(found)


def _bow(crown_mm: float, u: Units) -> str:
    if abs(crown_mm) < 0.05:
        return "no bow"
    return f"bow {thickness(abs(crown_mm), u)} towards the {'upper' if crown_mm > 0 else 'lower'} edge"


def _radius(mm: float | None, u: Units) -> str:
    if mm is None:
        return "–"
    return "flat" if math.isinf(mm) else length(mm, u)


def _pt(p: np.ndarray) -> Point:
    return (float(p[0]), float(p[1]))
