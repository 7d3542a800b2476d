"""A frame pair drawn: its outline with bevels, the packet on the jig, the full-size pattern."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from scrieve.frames.design import BevelMark, FrameDesign
from scrieve.frames.jig.setting import travel_told
from scrieve.sheets.drawing import (
    Array,
    Circle,
    Dimension,
    Drawing,
    Hatch,
    Item,
    Line,
    Point,
    Text,
    one_to,
    polyline,
    shorten,
)
from scrieve.sheets.figures import degrees, length, thin_unit
from scrieve.units import Units, format_angle

LETTER_MM = 2.4
_ROOM_MM: Point = (120.0, 92.0)  # for the outline alone, its lettering left out
_JIG_ROOM_MM: Point = (160.0, 100.0)


def frame_drawing(design: FrameDesign, units: Units = "mm") -> Drawing:
    """Return the outline of both faces with the bevel at each numbered mark, as half-breadth and height [mm].

    The solid lines are the moulding-edge face, the dashed ones the other face, as the bevel leaves it.
    """
    out = design.outline
    size = np.ptp(
        np.vstack([out.moulding_outer_mm, out.moulding_inner_mm, [(0.0, out.moulding_outer_mm[0, 1])]]), axis=0
    )
    n = one_to(float(size[0]), float(size[1]), _ROOM_MM)
    h = LETTER_MM * n
    reach = float(np.maximum(out.shift_mm, 0.0).max())
    items = _outline(design)
    items.append(Hatch(np.vstack([out.moulding_outer_mm, out.moulding_inner_mm[::-1]]), "diagonal", 1.6 * n))
    for mark in design.bevels:
        at, normal = _on_line(out.s_mm, out.moulding_outer_mm, mark.s_mm)
        inner = _at(out.s_mm, out.moulding_inner_mm, mark.s_mm)
        foot = at + normal * (reach + 0.5 * h)
        items.append(Line(_pt(inner), _pt(foot), "BEVEL MARKS", title=f"bevel mark {mark.number}"))
        items.append(_outward(foot + normal * 0.5 * h, normal, f"{mark.number}: {degrees(mark.bevel_rad)}°", 0.85 * h))
    heel_z, (head_y, head_z) = out.moulding_outer_mm[0, 1], out.moulding_outer_mm[-1]
    low, high = float(out.moulding_outer_mm[:, 1].min()), float(out.moulding_outer_mm[:, 1].max())
    items.append(Line((0.0, low - 2 * h), (0.0, high + 2 * h), "CENTRELINE"))
    aside = 3.5 * h
    inboard = float(out.moulding_inner_mm[:, 0].min())
    for height in design.choice.waterlines_mm:
        right = float(np.interp(height, *_rising(out.moulding_outer_mm)))
        name = Text((0.5 * h, height + 0.4 * h), f"waterline {length(height, units)}", 0.8 * h)
        if right - design.choice.moulded_mm < name.width_mm + h:  # no room before the frame: left of the centreline
            name = replace(name, at=(min(inboard, 0.0) - 0.5 * h, height), align="right", level="middle")
            aside = max(aside, name.width_mm - name.at[0] + h)
        items += [Line((min(name.at[0] + 0.2 * h, 0.0), height), (right, height), "WATERLINES"), name]
    items.append(Dimension((0.0, heel_z), (0.0, head_z), aside, length(head_z - heel_z, units), h))
    items.append(Dimension((0.0, head_z), (head_y, head_z), 3.5 * h, length(head_y, units), h))
    return Drawing(tuple(items), f"Frame {design.choice.frame}: outline and bevels", n)


def jig_drawing(design: FrameDesign, units: Units = "mm") -> Drawing:
    """Return the packet on the bed: datum line, rails, brackets with their travel, every lamination [mm]."""
    jig = design.jig
    width = float(max(np.ptp(jig.other_mm[:, 0]), (jig.rails - 1) * jig.pitch_mm))
    n = one_to(width, float(max(jig.other_mm[:, 1].max(), jig.face_mm[:, 1].max())), room_mm=_JIG_ROOM_MM)
    h = LETTER_MM * n
    high = float(max(jig.other_mm[:, 1].max(), jig.face_mm[:, 1].max())) + 2 * h
    left = min(0.0, float(jig.other_mm[:, 0].min())) - 2 * h
    right = max((jig.rails - 1) * jig.pitch_mm, float(jig.other_mm[:, 0].max())) + 2 * h
    items: list[Item] = [Line((left, 0.0), (right, 0.0), "DATUM LINE", title="datum line")]
    items += [Line((k * jig.pitch_mm, 0.0), (k * jig.pitch_mm, high), "RAILS") for k in range(jig.rails)]
    items += _packet(design, n)
    row, before = 0, -math.inf
    for bracket in sorted(jig.brackets, key=lambda b: b.along_mm):
        x, out = bracket.along_mm, bracket.travel_mm
        row = 1 - row if x - before < 2.4 * h else 0
        told = travel_told(out, units)
        figure = Text((x, -0.9 * h), told, h, align="right", level="middle", angle_deg=90.0)
        if row and x - before < 1.4 * h:  # below its neighbour's, not beside it
            figure = replace(figure, at=(x, -1.9 * h - figure.width_mm))
        before = x
        turn = np.array([math.cos(bracket.swivel_rad), math.sin(bracket.swivel_rad)]) * 1.6 * h
        foot = np.array([x, out])
        name = f"bracket {bracket.number}: {told} {thin_unit(units)}, swivel {degrees(bracket.swivel_rad)}°"
        top = high + (1.1 + 2.4 * row) * h
        items += [
            Line((x, 0.0), (x, out), "BRACKETS", title=name),
            Line(_pt(foot - turn), _pt(foot + turn), "BRACKETS"),
            Line((x, 0.0), (x, top - 1.1 * h), "RAILS"),
            Circle((x, top), 1.1 * h, "BRACKETS", title=name),
            Text((x, top), str(bracket.number), 0.85 * h, align="middle", level="middle"),
            figure,
        ]
    for s, word in ((jig.s_mm[0], "heel"), (jig.s_mm[-1], "head")):
        end = _at(jig.s_mm, jig.neutral_mm, float(s))
        outer = -1.0 if end[0] < (left + right) / 2 else 1.0
        x = end[0] + outer * (design.packet.depth_mm / 2 + h)
        items.append(Text((x, float(end[1])), word, h, align="right" if outer < 0 else "left", level="middle"))
    return Drawing(tuple(items), f"Frame {design.choice.frame}: packet on the jig", n)


def frame_pattern(design: FrameDesign, units: Units = "mm") -> Drawing:
    """Return the full-size pattern of the pair, as seen for the starboard half from aft [mm].

    Moulded line and inner line solid, the other face's lines dashed; bevel marks, waterlines, heel and head, label.
    """
    out = design.outline
    items = _outline(design)
    depth = float(out.moulded_mm.min())
    h = min(4.0, 0.075 * depth)  # "12 standing 10.5°" fits across the frame
    for mark in design.bevels:
        at, normal = _on_line(out.s_mm, out.moulding_outer_mm, mark.s_mm)
        inner = _at(out.s_mm, out.moulding_inner_mm, mark.s_mm)
        items.append(Line(_pt(inner), _pt(at), "BEVEL MARKS"))
        along = np.array([-normal[1], normal[0]])
        beyond = mark.s_mm > (out.s_mm[0] + out.s_mm[-1]) / 2
        out_by = float(np.interp(mark.s_mm, out.s_mm, out.shift_mm)) / 2  # clear of the other face's lines
        place = (at + inner) / 2 + along * h * (-1.1 if beyond else 1.1) + normal * out_by
        items.append(_across(place, normal, f"{mark.number} {_bevel(mark)}", h))
    for carried in design.marks_to_carry:
        if (
            carried.hand == design.marks_to_carry[-1].hand
            and carried.text.startswith("waterline")
            and carried.half_breadth_mm is not None
        ):
            y, z = carried.half_breadth_mm, float(carried.height_mm or 0.0)
            items.append(Line((y - 0.5 * depth, z), (y + 12.0, z), "WATERLINES"))
            items.append(Text((y + 14.0, z), f"WL {length(z, units)}", h, level="middle"))
    for s, word in ((out.s_mm[0], "heel"), (out.s_mm[-1], "head")):
        at, normal = _on_line(out.s_mm, out.moulding_outer_mm, float(s))
        inner = _at(out.s_mm, out.moulding_inner_mm, float(s))
        along = np.array([-normal[1], normal[0]]) * (1 if word == "heel" else -1)
        items.append(_across((at + inner) / 2 + along * 2.9 * h, normal, word.upper(), h))
    hands = {"pair": "P+S", "port": "P", "starboard": "S"}[design.choice.hands]
    frame = design.choice.frame.removesuffix(f" {hands}")
    label = f"FRAME {shorten(frame, 12)}  {hands}"
    for share in (0.3, 0.7):
        items.append(_along_frame(design, share, label, 1.5 * h))
    seen = {"port": "port seen from forward", "starboard": "starboard seen from aft"}
    title = f"Frame {frame}, " + seen.get(design.choice.hands, "pair: starboard seen from aft, port seen from forward")
    return Drawing(tuple(items), title)


def _outline(design: FrameDesign) -> list[Item]:
    out = design.outline
    items: list[Item] = [
        polyline(out.moulding_outer_mm, "MOULDED LINE", title="moulded line"),
        polyline(out.moulding_inner_mm, "INNER FACE", title="inner line"),
        polyline(out.far_outer_mm, "OTHER FACE", title="other face, outside"),
        polyline(out.far_inner_mm, "OTHER FACE", title="other face, inside"),
    ]
    if design.faces.worked:
        items.append(polyline(design.faces.far_mm, "OTHER FACE", title="other face, cut and notched"))
        items.append(polyline(design.faces.moulding_mm, "INNER FACE", title="moulding face, cut and notched"))
    ends = ((out.moulding_outer_mm[end], out.moulding_inner_mm[end]) for end in (0, -1))
    return items + [Line(_pt(outer), _pt(inner), "INNER FACE") for outer, inner in ends]


def _packet(design: FrameDesign, n: float) -> list[Item]:
    jig = design.jig
    depths = np.array([lam.thickness_mm for lam in design.packet.laminations])
    shares = np.cumsum(depths)[:-1] / depths.sum()
    if jig.bearing == "outside":
        shares = 1.0 - shares
    items: list[Item] = [
        polyline(jig.face_mm, "JIG FACE", title="bearing face"),
        polyline(jig.other_mm, "INNER FACE", title="other face of the packet"),
    ]
    if depths.min() >= 0.4 * n:  # as thin as can be told apart on paper
        items += [polyline(jig.face_mm + share * (jig.other_mm - jig.face_mm), "LAMINATIONS") for share in shares]
    else:
        items.append(Hatch(np.vstack([jig.face_mm, jig.other_mm[::-1]]), "diagonal", 1.6 * n))
    items += [Line(_pt(jig.face_mm[end]), _pt(jig.other_mm[end]), "INNER FACE") for end in (0, -1)]
    for s in (0.0, design.section.girth_mm):  # heel and head, the trimming allowance being past them
        items.append(Line(_pt(_at(jig.s_mm, jig.face_mm, s)), _pt(_at(jig.s_mm, jig.other_mm, s)), "BEVEL MARKS"))
    return items


def _along_frame(design: FrameDesign, share: float, label: str, h: float) -> Text:
    out = design.outline
    girth = float(out.s_mm[-1])
    s = share * girth
    marks = np.array([0.0, *(mark.s_mm for mark in design.bevels), girth])
    gap = int(np.clip(np.searchsorted(marks, s), 1, len(marks) - 1))
    s = float(marks[gap - 1] + marks[gap]) / 2
    at, normal = _on_line(out.s_mm, out.moulding_outer_mm, s)
    middle = (at + _at(out.s_mm, out.moulding_inner_mm, s)) / 2
    tangent = np.array([-normal[1], normal[0]])
    room = float(marks[gap] - marks[gap - 1]) - 4 * h
    fits = Text((0.0, 0.0), label, h).width_mm
    size = h if fits <= room else max(2.0, h * room / fits)
    return Text(_pt(middle), label, size, "TEXT", "middle", "middle", _readable(tangent))


def _bevel(mark: BevelMark) -> str:
    return mark.word if mark.word == "square" else f"{mark.word} {format_angle(abs(mark.bevel_rad))}"


def _outward(at: Array, normal: Array, text: str, h: float) -> Text:
    """Lettering along the normal, away from the frame, never upside down."""
    angle = math.degrees(math.atan2(normal[1], normal[0]))
    flip = angle > 90 or angle < -90
    return Text(_pt(at), text, h, "TEXT", "right" if flip else "left", "middle", angle + (180 if flip else 0))


def _across(at: Array, normal: Array, text: str, h: float) -> Text:
    return Text(_pt(at), text, h, "TEXT", "middle", "middle", _readable(normal))


def _readable(direction: Array) -> float:
    angle = math.degrees(math.atan2(direction[1], direction[0]))
    return angle - 180 if angle > 90 + 1e-6 else angle + 180 if angle < -90 - 1e-6 else angle


def _on_line(s_mm: Array, points: Array, s: float) -> tuple[Array, Array]:
    """Point of a heel-to-head line at girth `s`, and its outward normal."""
    step = max(1.0, float(s_mm[-1]) / 500)
    a, b = _at(s_mm, points, s - step), _at(s_mm, points, s + step)
    t = (b - a) / np.hypot(*(b - a))
    return _at(s_mm, points, s), np.array([t[1], -t[0]])


def _at(s_mm: Array, points: Array, s: float) -> Array:
    return np.array([np.interp(s, s_mm, points[:, 0]), np.interp(s, s_mm, points[:, 1])])


def _rising(points: Array) -> tuple[Array, Array]:
    """Heights and half-breadths in rising order of height, for the reach of a waterline."""
    order = np.argsort(points[:, 1], kind="stable")
    return points[order, 1], points[order, 0]


def _pt(p: Array) -> Point:
    return (float(p[0]), float(p[1]))
