"""Check: one part on one board held against every rule, exactly; for a part dragged by hand and for every result."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from scrieve.stock.board import Board
from scrieve.stock.parts import Part
from scrieve.stock.poses import SAW, Lie, Saw, faces_up, laid
from scrieve.stock.usable import usable_wood
from scrieve.units import Units, format_angle, format_length

Array = NDArray[np.float64]
What = Literal["thickness", "timber", "face", "wood", "defect", "grain", "neighbour"]

#: Lengths are held to this [mm].
TOLERANCE_MM = 1e-3


@dataclass(frozen=True, slots=True)
class Breach:
    """One rule broken: what, a text for the builder, and the name of the neighbour where it is one."""

    what: What
    text: str
    neighbour: str = ""


def placed(part: Part, lie: Lie, x_mm: float, y_mm: float) -> Polygon:
    """Return the outline of a part as it lies on a board."""
    return Polygon(laid(part.outline, lie, x_mm, y_mm))


def grain_off(board: Board, part: Part, lie: Lie, x_mm: float) -> float:
    """Return the greatest angle between a part's run and the board's grain beside it [rad]."""
    run = laid(part.run_line(), lie, x_mm)
    breaks, grain = board.grain_segments()
    worst = 0.0
    for a, b in pairwise(run):
        low, high = sorted((float(a[0]), float(b[0])))
        beside = (breaks[:-1] <= high) & (breaks[1:] >= low)
        off = math.atan2(b[1] - a[1], b[0] - a[0]) - grain[beside]
        worst = max(worst, float(np.max(np.abs((off + np.pi / 2) % np.pi - np.pi / 2))))
    return worst


def breaches(
    board: Board,
    part: Part,
    lie: Lie,
    x_mm: float,
    y_mm: float,
    *,
    others: Sequence[tuple[str, BaseGeometry]] = (),
    saw: Saw = SAW,
    units: Units = "mm",
) -> tuple[Breach, ...]:
    """Return every rule that a part lying so breaks; none where it may be cut.

    Parameters
    ----------
    board, part : Board, Part
    lie : Lie
        Which face is up, and how it is turned.
    x_mm, y_mm : float
        Where the part's origin lies on the board.
    others : sequence of (name, outline)
        The other parts on the board, as they lie.
    saw : Saw
        What is left between neighbours.
    units : {'mm', 'ft'}
        For the texts.
    """
    found: list[Breach] = []
    stock = part.stock_mm(saw.kerf_mm)
    if stock > board.thickness_mm + 1e-6:
        text = f"the board is {_say(board.thickness_mm, units)} thick; this needs {_say(stock, units)}."
        return (Breach("thickness", text),)
    if part.timber and board.timber and part.timber != board.timber:
        found.append(Breach("timber", f"the board is {board.timber}; this is to be {part.timber}."))
    if lie.up not in faces_up(part.show, board.best_face, part.turn_over):
        why = f"its {part.show} face must lie on the board's best face" if part.show else "it may not be turned over"
        found.append(Breach("face", f"{why}; turn it over."))
    wood = usable_wood(board, stock, part.rules, lie.up)
    shape = placed(part, lie, x_mm, y_mm)
    outside = shape.difference(wood.outline.buffer(TOLERANCE_MM, join_style="mitre"))
    if not outside.is_empty:
        found.append(Breach("wood", f"runs into wane, sapwood or an end, or nearer than "
                            f"{_say(part.rules.edge_margin_mm, units)} to it."))  # fmt: skip
    for region in wood.avoid:
        if shape.distance(region) < part.rules.defect_margin_mm - TOLERANCE_MM or shape.intersects(region):
            at = region.centroid
            found.append(Breach("defect", f"touches the defect {_say(at.x, units)} along the board, or comes nearer "
                                f"than {_say(part.rules.defect_margin_mm, units)}."))  # fmt: skip
    limit = part.rules.grain_limit_rad
    if limit is not None and (off := grain_off(board, part, lie, x_mm)) > limit + 1e-5:
        found.append(Breach("grain", f"the grain runs off it by {format_angle(off)}; the limit is "
                            f"{format_angle(limit)}."))  # fmt: skip
    for name, other in others:
        apart = shape.distance(other)
        if apart < saw.apart_mm - TOLERANCE_MM or shape.intersects(other):
            told = "lies over it" if shape.intersects(other) else f"only {_say(apart, units)} away"
            found.append(Breach("neighbour", f"{name}: {told}; leave {_say(saw.apart_mm, units)} for the saw.", name))
    return tuple(found)


def _say(mm: float, units: Units) -> str:
    return f"{format_length(mm, units)}{' mm' if units == 'mm' else ''}"
