"""Check: one part on one board held against every rule, exactly; for a part dragged by hand and for every result."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, box
from shapely.geometry.base import BaseGeometry

from scrieve.stock.board import Board, Points
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
    """One rule broken: what, a text for the builder, and where on the board.

    `where` are outlines on the board [mm], empty where the whole part is meant; `neighbour` names the other part where
    it is one. `sawable` is False where no saw could cut it so, whatever the builder says of the wood.
    """

    what: What
    text: str
    where: tuple[Points, ...] = ()
    neighbour: str = ""
    sawable: bool = True


def placed(part: Part, lie: Lie, x_mm: float, y_mm: float) -> Polygon:
    """Return the outline of a part as it lies on a board."""
    return Polygon(laid(part.outline, lie, x_mm, y_mm))


def grain_off(board: Board, part: Part, lie: Lie, x_mm: float) -> tuple[Array, Array]:
    """Return how far the board's grain runs off a part's run, wherever a straight piece of each lies beside the other.

    Returns
    -------
    off : ndarray (n,)
        Angle between the two [rad].
    along : ndarray (n, 2)
        Where they lie beside each other, along the board [mm].
    """
    run = laid(part.run_line(), lie, x_mm)
    breaks, grain = board.grain_segments()
    ends, step = np.sort(np.column_stack([run[:-1, 0], run[1:, 0]]), axis=1), np.diff(run, axis=0)
    off = np.arctan2(step[:, 1], step[:, 0])[:, None] - grain[None, :]
    first = np.maximum(ends[:, :1], breaks[None, :-1])
    last = np.minimum(ends[:, 1:], breaks[None, 1:])
    beside = first <= last
    off = np.abs((off + np.pi / 2) % np.pi - np.pi / 2)
    return off[beside], np.column_stack([first[beside], last[beside]])


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
        return (Breach("thickness", text, sawable=False),)
    if part.timber and board.timber and part.timber != board.timber:
        found.append(Breach("timber", f"the board is {board.timber}; this is to be {part.timber}."))
    if lie.up not in faces_up(part.show, board.best_face, part.turn_over):
        why = f"its {part.show} face must lie on the board's best face" if part.show else "it may not be turned over"
        found.append(Breach("face", f"{why}; turn it over."))
    wood = usable_wood(board, stock, part.rules, lie.up)
    shape = placed(part, lie, x_mm, y_mm)
    outside = shape.difference(wood.outline.buffer(TOLERANCE_MM, join_style="mitre"))
    if not outside.is_empty:
        text = f"runs into wane, sapwood or an end, or nearer than {_say(part.rules.edge_margin_mm, units)} to it"
        off = not shape.within(board.face().buffer(TOLERANCE_MM, join_style="mitre"))
        found.append(Breach("wood", f"{text}, {_along(outside, units)}.", _outlines(outside), sawable=not off))
    for region in wood.avoid:
        margin = part.rules.defect_margin_mm
        if shape.distance(region) < margin - TOLERANCE_MM or shape.intersects(region):
            text = f"touches the defect {_say(region.centroid.x, units)} along the board, or comes nearer than"
            near = region.buffer(margin, join_style="mitre").intersection(shape)
            found.append(Breach("defect", f"{text} {_say(margin, units)}.", _outlines(near)))
    if part.rules.grain_limit_rad is not None:
        found += _grain(board, part, lie, x_mm, shape, part.rules.grain_limit_rad, units)
    for name, other in others:
        apart, over = shape.distance(other), shape.intersects(other)
        if over or apart < saw.apart_mm - TOLERANCE_MM:
            told = "lies over it" if over else f"only {_say(apart, units)} away"
            near = other.buffer(saw.apart_mm, join_style="mitre").intersection(shape)
            found.append(Breach("neighbour", f"{name}: {told}; leave {_say(saw.apart_mm, units)} for the saw.",
                                _outlines(near), name, sawable=apart >= saw.kerf_mm - TOLERANCE_MM))  # fmt: skip
    return tuple(found)


def _grain(board: Board, part: Part, lie: Lie, x_mm: float, shape: Polygon, limit: float,
           units: Units) -> tuple[Breach, ...]:  # fmt: skip
    off, along = grain_off(board, part, lie, x_mm)
    over = off > limit + 1e-5
    if not over.any():
        return ()
    low, high = shape.bounds[1] - 1, shape.bounds[3] + 1
    bands = [box(first - 0.5, low, last + 0.5, high) for first, last in along[over]]
    beside = shape.intersection(shapely.union_all(bands))
    text = f"the grain runs off it by {format_angle(float(off.max()))}; the limit is {format_angle(limit)}"
    return (Breach("grain", f"{text}, {_along(beside, units)}.", _outlines(beside)),)


def _outlines(region: BaseGeometry) -> tuple[Points, ...]:
    """Return the outer rings of what has an area."""
    parts = [part for part in getattr(region, "geoms", [region]) if isinstance(part, Polygon) and not part.is_empty]
    return tuple(tuple((float(x), float(y)) for x, y in part.exterior.coords[:-1]) for part in parts)


def _along(region: BaseGeometry, units: Units) -> str:
    first, _, last, _ = region.bounds
    return f"{_say(first, units)} to {_say(last, units)} along the board"


def _say(mm: float, units: Units) -> str:
    return f"{format_length(mm, units)}{' mm' if units == 'mm' else ''}"
