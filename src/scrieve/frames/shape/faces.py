"""The finished faces: the hull cut at the far face, end cuts and notches, and the whole outline of each face."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.spatial import cKDTree
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from scrieve.errors import BadLamination
from scrieve.fairing.section import Section
from scrieve.frames.choice import Cut, FrameChoice, Notch
from scrieve.frames.parts import Array, Outline
from scrieve.frames.shape.line import Line, lengthened
from scrieve.wording import length, small, tell
from scrieve.working import Check

#: An end cut nearer than this to the line of the frame is a slip of the pen [rad].
LEAST_SLANT = math.radians(15)

#: Least share of the moulded depth to be left at a notch: shop default, no source.
LEAST_LEFT = 0.75


@dataclass(frozen=True, slots=True, eq=False)
class EndCut:
    """A cut across the frame's end, square to its faces; points (2,) as half-breadth and height.

    `from_square_rad` is its angle from square to the moulded line, above zero turned to the left going heel to head;
    `beyond_mm` how far it reaches past the end of the moulded line, `inside_mm` where on it, from that end, it starts.
    """

    end: Literal["heel", "head"]
    kind: str
    outer_mm: Array
    inner_mm: Array
    from_square_rad: float
    beyond_mm: float
    inside_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """Closed outlines of the moulding face and the far face, cuts and notches taken out; (m, 2) each, first = last."""

    moulding_mm: Array
    far_mm: Array
    cuts: tuple[EndCut, EndCut]
    notches: tuple[Notch, ...]

    @property
    def worked(self) -> bool:
        """Whether there is anything but ends cut square at heel and head."""
        return bool(self.notches) or any(cut.kind != "square" or cut.inside_mm > 0 for cut in self.cuts)


def cut_shift(line: Line, far: Section, by_slope_mm: Array) -> Array:
    """(n,) how far the hull's own section at the far face stands outside the moulded line, square to it.

    Parameters
    ----------
    line : Line
        Moulded line on the moulding face, finely sampled (n points).
    far : Section
        The hull cut at the station of the far face.
    by_slope_mm : ndarray (n,)
        The same by the slope at the moulding face: used past the ends of the far section, carried on without a step.

    Raises
    ------
    BadLamination
        The far section lies beside the frame nowhere.
    """
    points = far.points_mm
    near = np.asarray(cKDTree(line.points_mm).query(points)[1], dtype=np.intp)
    tangent = np.column_stack([np.cos(line.angle_rad), np.sin(line.angle_rad)])
    way = points - line.points_mm[near]
    ahead = (way * tangent[near]).sum(axis=1)
    out = -(way * line.left[near]).sum(axis=1)
    beside = ((near > 0) | (ahead >= -1e-6)) & ((near < len(line.s_mm) - 1) | (ahead <= 1e-6))
    if beside.sum() < 2:
        raise BadLamination(
            f"frame {far.frame}: the hull at {far.station_mm:.0f} mm, the far face, lies nowhere beside the frame; "
            "is the station right?"
        )
    place, out = line.s_mm[near[beside]] + ahead[beside], out[beside]
    order = np.argsort(place, kind="stable")
    place, out = place[order], out[order]
    shift = np.interp(line.s_mm, place, out)
    for end, there in ((0, line.s_mm < place[0]), (-1, line.s_mm > place[-1])):
        step = out[end] - float(np.interp(place[end], line.s_mm, by_slope_mm))
        shift[there] = by_slope_mm[there] + step
    return np.asarray(shift)


def finished_faces(line: Line, outline: Outline, choice: FrameChoice) -> Faces:
    """The outline of both faces with end cuts made and notches taken out.

    Parameters
    ----------
    line : Line
        The moulded line.
    outline : Outline
        Of the same line, unthinned.
    choice : FrameChoice
        Cuts and notches. Both go square through the frame, so they are the same lines on both faces.

    Raises
    ------
    BadLamination
        A cut runs along the frame, a notch lies off it, or nothing is left.
    """
    most = float(outline.moulded_mm.max() + np.abs(outline.shift_mm).max())
    heel = _cut(line, "heel", choice.heel_cut, outline)
    head = _cut(line, "head", choice.head_cut, outline)
    reach = max(most * abs(math.tan(cut.from_square_rad)) for cut in (heel, head))
    run = lengthened(line, reach + 1.0)
    moulded = np.interp(run.s_mm, line.s_mm, outline.moulded_mm)
    shift = np.interp(run.s_mm, line.s_mm, outline.shift_mm)
    rings = []
    for out in (np.zeros_like(shift), shift):
        outer = run.points_mm - out[:, None] * run.left
        inner = run.points_mm + (moulded - out)[:, None] * run.left
        face: BaseGeometry = Polygon(np.vstack([outer, inner[::-1]]))
        for cut in (heel, head):
            face = face.difference(_waste(cut, line, most, reach))
        for notch in choice.notches:
            face = face.difference(_notch(notch, line, outline))
        if not isinstance(face, Polygon) or face.is_empty:
            raise BadLamination(f"frame {choice.frame}: its cuts and notches leave it in pieces; look at each of them.")
        rings.append(np.asarray(face.exterior.coords, dtype=float))
    return Faces(rings[0], rings[1], (heel, head), choice.notches)


def _cut(line: Line, end: Literal["heel", "head"], cut: Cut, outline: Outline) -> EndCut:
    kind, place, degrees = cut
    if place >= line.length_mm / 2:
        raise BadLamination(f"{end} cut: {place:g} mm inside the end is past the middle of the frame; give less.")
    s = line.s_mm[0] + place if end == "heel" else line.s_mm[-1] - place
    angle = float(np.interp(s, line.s_mm, line.angle_rad))
    point = np.array([np.interp(s, line.s_mm, line.points_mm[:, axis]) for axis in (0, 1)])
    square = angle + math.pi / 2
    towards = {"square": square, "angle": square + math.radians(degrees), "level": 0.0, "plumb": math.pi / 2}[kind]
    turned = (towards - square + math.pi / 2) % math.pi - math.pi / 2
    if math.pi / 2 - abs(turned) < LEAST_SLANT:
        raise BadLamination(
            f"{end} cut, {kind}: it runs within {math.degrees(LEAST_SLANT):.0f}° of the frame itself; cut it square, "
            "or at an angle that crosses it."
        )
    depth = float(np.interp(s, line.s_mm, outline.moulded_mm))
    way = np.array([math.cos(square + turned), math.sin(square + turned)]) * depth / math.cos(turned)
    reach = depth * math.tan(turned) * (1 if end == "heel" else -1) - place
    return EndCut(end, kind, point, point + way, turned, max(reach, 0.0), place)


def _waste(cut: EndCut, line: Line, most: float, reach: float) -> Polygon:
    """All that lies beyond an end cut of a frame so deep, reaching so far, as a four-sided piece."""
    way = (cut.inner_mm - cut.outer_mm) / np.hypot(*(cut.inner_mm - cut.outer_mm))
    angle = float(line.angle_rad[0 if cut.end == "heel" else -1])
    tangent = np.array([math.cos(angle), math.sin(angle)]) * (-1 if cut.end == "heel" else 1)
    beyond = tangent - (tangent @ way) * way
    beyond = beyond / np.hypot(*beyond)
    wide = most / math.cos(cut.from_square_rad)
    deep = 2 * (reach + most)
    corners = [cut.outer_mm - wide * way, cut.inner_mm + wide * way]
    return Polygon([*corners, corners[1] + deep * beyond, corners[0] + deep * beyond])


def _notch(notch: Notch, line: Line, outline: Outline) -> Polygon:
    name, place, edge, length, depth = notch
    low, high = place - length / 2, place + length / 2
    if low < line.s_mm[0] - length or high > line.s_mm[-1] + length or not line.s_mm[0] <= place <= line.s_mm[-1]:
        raise BadLamination(f"notch {name!r}: {place:g} mm along lies off the frame, 0 to {line.length_mm:.0f} mm.")
    moulded = float(np.interp(place, line.s_mm, outline.moulded_mm))
    if depth >= moulded:
        raise BadLamination(f"notch {name!r}: {depth:g} mm deep in {moulded:.0f} mm moulded cuts the frame through.")
    here = np.linspace(max(low, line.s_mm[0]), min(high, line.s_mm[-1]), 9)
    points = np.column_stack([np.interp(here, line.s_mm, line.points_mm[:, axis]) for axis in (0, 1)])
    left = np.column_stack([np.interp(here, line.s_mm, line.left[:, axis]) for axis in (0, 1)])
    inner = np.interp(here, line.s_mm, outline.moulded_mm)
    away = moulded + float(np.abs(outline.shift_mm).max())
    near, bottom = (-away + 0 * inner, depth + 0 * inner) if edge == "outer" else (inner + away, inner - depth)
    return Polygon(np.vstack([points + near[:, None] * left, (points + bottom[:, None] * left)[::-1]]))


def face_checks(faces: Faces, outline: Outline, choice: FrameChoice) -> tuple[Check, ...]:
    """End cuts within the trimming allowance, and what is left at each notch."""
    checks = [
        Check(
            f"Length for the {cut.end} cut",
            tell("{l} past the moulded line", l=length(cut.beyond_mm)),
            tell("{l} of trimming allowance", l=length(choice.trim_mm)),
            cut.beyond_mm <= choice.trim_mm,
            "the cut's reach on the inner edge",
            "" if cut.beyond_mm <= choice.trim_mm else "give more trimming allowance",
        )
        for cut in faces.cuts
        if cut.beyond_mm > 0
    ]
    for name, place, _, _, depth in faces.notches:
        moulded = float(np.interp(place, outline.s_mm, outline.moulded_mm))
        left = (moulded - depth) / moulded
        checks.append(
            Check(
                f"Left at {name}",
                tell(
                    "{l} of {m} moulded, {s} along", l=small(moulded - depth, 0), m=small(moulded, 0), s=length(place)
                ),
                f"{LEAST_LEFT:.0%} of the moulded depth",
                left >= LEAST_LEFT,
                "shop default, common practice, no source",
                ""
                if left >= LEAST_LEFT
                else "make it shallower; strength to be agreed with a surveyor or naval architect",
            )
        )
    return tuple(checks)
