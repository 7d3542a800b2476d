"""The finished frame on both its faces, and the table of bevels."""

from __future__ import annotations

from typing import Literal

import numpy as np

from scrieve.errors import BadGeometry
from scrieve.fairing.section import Section
from scrieve.frames.choice import FrameChoice, MouldingEdge
from scrieve.frames.parts import Array, BevelMark, Outline
from scrieve.frames.shape.faces import cut_shift
from scrieve.frames.shape.line import Line, offset_points

#: About one bevel per 300 mm of girth: common practice (one per foot of frame), no source for a limit.
BEVEL_SPACING_MM = 300.0

#: Below this a bevel is called square: it would print as 0.0°.
SQUARE_RAD = np.radians(0.05)


def settle_moulding_edge(section: Section, wanted: MouldingEdge) -> Literal["fore", "aft"]:
    """The face that carries the moulded line; 'auto' takes the one from which the bevel is wood removed.

    Where the hull swells going aft that is the after face, the face towards amidships.
    """
    if wanted != "auto":
        return wanted
    mean = float(np.trapezoid(section.bevel_rad, section.s_mm))
    return "aft" if mean > 0 else "fore"


def bevel_from_edge(section: Section, edge: Literal["fore", "aft"]) -> Array:
    """(n,) the bevel as worked from the moulding edge: above zero where standing, below where under [rad].

    The siding runs aft from a fore moulding edge, forward from an aft one; the hull's slope is towards aft.

    Raises
    ------
    BadGeometry
        A bevel is not finite, or is 80° or more.
    """
    bevel = section.bevel_rad if edge == "fore" else -section.bevel_rad
    bad = np.flatnonzero(~(np.abs(bevel) < np.radians(80)))
    if bad.size:
        raise BadGeometry(
            f"frame {section.frame}, {section.s_mm[bad[0]]:.0f} mm along: the bevel is "
            f"{abs(np.degrees(bevel[bad[0]])):.0f}°; no square-set frame can be bevelled so far, set a cant frame."
        )
    return np.asarray(bevel)


def far_station(section: Section, choice: FrameChoice, edge: Literal["fore", "aft"]) -> float:
    """Station of the far face [mm]: the siding runs aft from a fore moulding edge, forward from an aft one."""
    return section.station_mm + (choice.sided_mm if edge == "fore" else -choice.sided_mm)


def moulded_depth(line: Line, choice: FrameChoice) -> Array:
    """(n,) moulded depth along the line: by table, tapered evenly from heel to head, or one throughout [mm]."""
    if choice.moulded_table:
        places, depths = zip(*choice.moulded_table, strict=True)
        return np.asarray(np.interp(line.s_mm - line.s_mm[0], places, depths))
    head = choice.moulded_mm if choice.moulded_head_mm is None else choice.moulded_head_mm
    return np.asarray(choice.moulded_mm + (head - choice.moulded_mm) * (line.s_mm - line.s_mm[0]) / line.length_mm)


def draw_outline(
    section: Section, line: Line, choice: FrameChoice, edge: Literal["fore", "aft"], far: Section | None = None
) -> Outline:
    """The finished frame on the moulding face and on the far face.

    Parameters
    ----------
    section, line
        The section, and its moulded line finely sampled.
    choice : FrameChoice
        Sided, moulded and moulded at the head are used.
    edge : 'fore' or 'aft'
        The face that carries the moulded line.
    far : Section, optional
        The hull cut at the far face: its true shape. Left out, it is drawn from the slope at the moulding face.

    Returns
    -------
    Outline
        Depth is measured square to the moulded line; the far face is shifted square to it, by what
        the hull's own cut stands off or by sided × tan(bevel), on the outer and the inner edge alike, so that both
        edges carry the same bevel.

    Raises
    ------
    BadLamination
        The moulded depth or the shift reaches the line's centre of curvature: the edge would fold on itself.
    BadGeometry
        A bevel cannot be worked.
    """
    moulded = moulded_depth(line, choice)
    bevel = np.interp(line.s_mm, section.s_mm, bevel_from_edge(section, edge))
    shift = choice.sided_mm * np.tan(bevel)
    if far is not None:
        shift = cut_shift(line, far, shift)
    return Outline(
        s_mm=line.s_mm,
        moulding_outer_mm=line.points_mm,
        moulding_inner_mm=offset_points(line, moulded, f"frame {section.frame}: the inner edge"),
        far_outer_mm=offset_points(line, -shift, f"frame {section.frame}: the outer edge of the far face"),
        far_inner_mm=offset_points(line, moulded - shift, f"frame {section.frame}: the inner edge of the far face"),
        shift_mm=shift,
        moulded_mm=moulded,
    )


def bevel_marks(
    section: Section, line: Line, sided_mm: float, edge: Literal["fore", "aft"], outline: Outline | None = None
) -> tuple[BevelMark, ...]:
    """Bevels at numbered marks, heel to head, evenly spaced about 300 mm apart, both ends included.

    With an outline the bevel is the one that the finished frame has, outer edge of the moulding face to outer edge of
    the far face, and the inner edge's is told too: the same wood, over a line that runs otherwise where the frame
    tapers.

    References
    ----------
    .. [1] Bevel wood = sided × tan(bevel), square to the moulded line.
    """
    count = max(int(np.ceil(line.length_mm / BEVEL_SPACING_MM - 1e-9)), 2) + 1
    places = np.linspace(line.s_mm[0], line.s_mm[-1], count)
    if outline is None:
        bevel = np.interp(places, section.s_mm, bevel_from_edge(section, edge))
        inner, lean = np.zeros(count), np.zeros(count)
    else:
        bevel = np.arctan(np.interp(places, outline.s_mm, outline.shift_mm) / sided_mm)
        inner = np.interp(places, outline.s_mm, outline.moulded_mm)
        step = np.gradient(outline.moulded_mm, outline.s_mm) / (1 - line.curvature_per_mm * outline.moulded_mm)
        lean = np.interp(places, outline.s_mm, np.arctan(step))
    across, up = (np.interp(places, line.s_mm, line.points_mm[:, axis]) for axis in (0, 1))
    in_across, in_up = (np.interp(places, line.s_mm, line.left[:, axis]) * inner for axis in (0, 1))
    return tuple(
        BevelMark(
            number=i + 1,
            s_mm=float(places[i]),
            half_breadth_mm=float(across[i]),
            height_mm=float(up[i]),
            bevel_rad=float(bevel[i]),
            word=_word(bevel[i]),
            wood_mm=sided_mm * abs(float(np.tan(bevel[i]))),
            inner_half_breadth_mm=float(across[i] + in_across[i]),
            inner_height_mm=float(up[i] + in_up[i]),
            inner_bevel_rad=float(np.arctan(np.tan(bevel[i]) * np.cos(lean[i]))),
        )
        for i in range(count)
    )


def _word(bevel: float) -> Literal["standing", "under", "square"]:
    if abs(bevel) < SQUARE_RAD:
        return "square"
    return "standing" if bevel > 0 else "under"
