"""Plywood panels: how many sheets a panel takes, where they are joined, and whether they bend so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadPlank
from scrieve.planking.board import least_strip
from scrieve.planking.frame_line import PlankFrame
from scrieve.wording import length, tell
from scrieve.working import Check

Array = NDArray[np.float64]
PanelJoint = Literal["scarf", "butt block"]

#: Plywood bent dry, mill-run panels: thickness -> least radius across and along the face grain [mm].
DRY_RADII: tuple[tuple[float, float, float], ...] = (
    (6.4, 610, 1524), (7.9, 610, 1828), (9.5, 915, 2438), (12.7, 1828, 3658), (15.9, 2438, 4877), (19.1, 3658, 6096),
)  # fmt: skip
DRY_SOURCE = "plywood association's table of least radii, mill-run panels bent dry"
BLOCK_SOURCE = "a builder's guide to plywood: a block as thick as the panel, between frames in a flat spot"


@dataclass(frozen=True, slots=True)
class SheetJoint:
    """A joint of two sheets: `at_mm` its middle along the panel's datum line; `length_mm` of scarf or of block."""

    at_mm: float
    kind: PanelJoint
    length_mm: float
    where: str


@dataclass(frozen=True, slots=True)
class SheetPiece:
    """What is cut of one sheet: from and to along the panel's datum line, its length and least width [mm]."""

    first_mm: float
    last_mm: float
    length_mm: float
    width_mm: float


def least_dry_radius(thickness_mm: float) -> tuple[float, float]:
    """Least radius across and along the face grain to which plywood bends dry [mm]; the next thicker row.

    Raises
    ------
    BadPlank
        It is thicker than the table goes.

    Examples
    --------
    >>> least_dry_radius(9.5), least_dry_radius(9.0)
    ((915, 2438), (915, 2438))
    """
    for thick, over, along in DRY_RADII:
        if thickness_mm <= thick + 0.05:
            return over, along
    raise BadPlank(f"plywood {thickness_mm:g} mm thick: the table of radii ends at {DRY_RADII[-1][0]:g} mm; laminate "
                   "it of thinner sheets.")  # fmt: skip


def join_sheets(
    lower: Array,
    upper: Array,
    frames: Sequence[PlankFrame],
    *,
    sheet_mm: tuple[float, float],
    joint: PanelJoint,
    thickness_mm: float,
    slope: float,
    trim_mm: float,
) -> tuple[tuple[SheetJoint, ...], tuple[SheetPiece, ...]]:
    """Joints and pieces of a panel, by the fewest sheets end to end.

    Scarfs share the length out evenly; butt blocks stand midway between frames, each as far on as the sheet reaches.

    Raises
    ------
    BadPlank
        Sheets cannot be joined so: the scarf is as long as the sheet, or no bay lies within a sheet's reach.
    """
    outline = np.concatenate([lower, upper[::-1]])
    left, right = float(outline[:, 0].min()), float(outline[:, 0].max())
    reach, scarf = sheet_mm[0] - trim_mm, slope * thickness_mm
    ends = [left - trim_mm, right + trim_mm]
    cuts: list[SheetJoint] = []
    if joint == "scarf":
        if scarf >= reach / 2:
            raise BadPlank(
                f"a scarf {scarf:.0f} mm long takes half of a sheet of {sheet_mm[0]:.0f} mm; give longer sheets."
            )
        whole = ends[1] - ends[0]
        pieces = max(1, ceil((whole - scarf) / (sheet_mm[0] - scarf) - 1e-9))
        step = (whole - scarf) / pieces
        places = [ends[0] + scarf / 2 + step * i for i in range(1, pieces)]
        cuts = [SheetJoint(at, "scarf", scarf, _between(frames, at)) for at in places]
    else:
        bays = [(float(a.lower_mm[0] + a.upper_mm[0] + b.lower_mm[0] + b.upper_mm[0]) / 4, a, b)
                for a, b in pairwise(frames)]  # fmt: skip
        start = ends[0]
        while ends[1] - start > sheet_mm[0] + 1e-6:
            within = [(at, a, b) for at, a, b in bays if start + 0.2 * reach < at <= start + sheet_mm[0]]
            if not within:
                raise BadPlank(f"no bay between two frames lies within a sheet of {sheet_mm[0]:.0f} mm from "
                               f"{start:.0f} mm along; give longer sheets, or scarf them.")  # fmt: skip
            at, a, b = within[-1]
            bay = abs((b.lower_mm[0] + b.upper_mm[0] - a.lower_mm[0] - a.upper_mm[0]) / 2)
            cuts.append(SheetJoint(at, "butt block", bay, f"between frames {a.label} and {b.label}"))
            start = at
    half = scarf / 2 if joint == "scarf" else 0.0
    bounds = [(a, b) for a, b in zip([ends[0], *(c.at_mm - half for c in cuts)],
                                     [*(c.at_mm + half for c in cuts), ends[1]], strict=True)]  # fmt: skip
    return tuple(cuts), tuple(_piece(lower, upper, a, b) for a, b in bounds)


def panel_checks(
    pieces: Sequence[SheetPiece], sheet_mm: tuple[float, float], thickness_mm: float, bend_mm: float, across_mm: float
) -> tuple[Check, ...]:
    """Whether each piece fits its sheet, and the panel bends dry to the hull, its face grain along the boat."""
    over, along = least_dry_radius(thickness_mm)
    widest = max(pieces, key=lambda piece: piece.width_mm)
    longest = max(piece.length_mm for piece in pieces)
    return (
        Check("Sheets", tell("{n}: the longest piece {long}, the widest {wide}", n=len(pieces), long=length(longest),
                             wide=length(widest.width_mm)),
              tell("{long} × {wide}", long=length(sheet_mm[0]), wide=length(sheet_mm[1])),
              longest <= sheet_mm[0] + 1e-6 and widest.width_mm <= sheet_mm[1], "size of sheet chosen",
              "Give larger sheets, or join lengthwise on a stringer: divide the panel by a seam there."),
        Check("Bend of the panel along the boat", _radius(bend_mm),
              tell("radius {it}, along the face grain", it=length(along)),
              bend_mm >= along, DRY_SOURCE, "Two thinner layers, or the face grain across."),
        Check("Bend of the panel across", _radius(across_mm),
              tell("radius {it}, across the face grain", it=length(over)),
              across_mm >= over, DRY_SOURCE, "Two thinner layers."),
    )  # fmt: skip


def _radius(mm: float) -> str:
    return "straight" if np.isinf(mm) else tell("radius {it}", it=length(mm))


def _between(frames: Sequence[PlankFrame], at: float) -> str:
    x = [(frame.lower_mm[0] + frame.upper_mm[0]) / 2 for frame in frames]
    before = [f.label for f, here in zip(frames, x, strict=True) if here <= at]
    after = [f.label for f, here in zip(frames, x, strict=True) if here > at]
    return f"between frames {before[-1]} and {after[0]}" if before and after else "beyond the marked frames"


def _piece(lower: Array, upper: Array, first: float, last: float) -> SheetPiece:
    points = []
    for edge in (lower, upper):
        inside = edge[(edge[:, 0] > first) & (edge[:, 0] < last)]
        cut = [[x, float(np.interp(x, *edge.T))] for x in (first, last) if edge[0, 0] < x < edge[-1, 0]]
        points.append(np.concatenate([inside, np.array(cut).reshape(-1, 2)]))
    width = least_strip(np.concatenate(points))[0]
    return SheetPiece(first, last, last - first, width)
