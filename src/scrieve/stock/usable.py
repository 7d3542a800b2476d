"""Usable wood: what a board offers a part of a given thickness and rules, wane, sapwood and defects taken off."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from scrieve.errors import BadBoard
from scrieve.stock.board import Board, Defect, Edges
from scrieve.stock.parts import Rules

Array = NDArray[np.float64]
Up = Literal["inside", "outside"]


@dataclass(frozen=True, slots=True)
class Wood:
    """The wood of one board that a part may be laid in.

    At the stations `x_mm` its edges are `lower_mm` and `upper_mm`, straight between; the margin kept clear of wane and
    ends is taken off. Where they cross there is none. `avoid` are the defects to be kept clear of, without their
    margin. `depth_mm` is how far below the top face of the board the part's upper face lies.
    """

    x_mm: Array
    lower_mm: Array
    upper_mm: Array
    avoid: tuple[BaseGeometry, ...]
    depth_mm: float

    @property
    def outline(self) -> Polygon:
        """The usable wood without regard to defects."""
        low = np.minimum(self.lower_mm, self.upper_mm)
        x = self.x_mm
        return Polygon(np.concatenate([np.column_stack([x, low]), np.column_stack([x, self.upper_mm])[::-1]]))


def usable_wood(board: Board, thickness_mm: float, rules: Rules, up: Up = "inside") -> Wood:
    """Return the usable wood of a board.

    Where the under face is narrower (or wider) the wane runs straight from the edge of one face to that of the other;
    a part thinner than the board is taken from the depth that offers most, and both its faces must be clear of wane.

    Parameters
    ----------
    board : Board
    thickness_mm : float
        Thickness of board the part needs, planing included.
    rules : Rules
        Which defects and sapwood it will stand, and on which face.
    up : {'inside', 'outside'}
        Which face of the part lies on the board's top face.

    Raises
    ------
    BadBoard
        The board is thinner than the part.
    """
    if thickness_mm > board.thickness_mm + 1e-6:
        raise BadBoard(f"board {board.name!r} is {board.thickness_mm:g} mm thick; the part needs {thickness_mm:g} mm.")
    x = board.breaks
    top = board.top.at(x)
    under = top if board.under is None else board.under.at(x)
    spare = board.thickness_mm - thickness_mm
    best: tuple[float, Array, Array, float] | None = None
    for depth in sorted({0.0, spare / 2, spare}):
        faces = [_between(top, under, z / board.thickness_mm) for z in (depth, depth + thickness_mm)]
        low = np.max([face[0] for face in faces], axis=0)
        high = np.min([face[1] for face in faces], axis=0)
        area = float(np.trapezoid(np.maximum(high - low, 0.0), x))
        if best is None or area > best[0] + 1e-6:
            best = (area, low, high, depth)
    assert best is not None
    _, low, high, depth = best
    if board.heart is not None and rules.sapwood == "never":
        heart = board.heart.at(x)
        low, high = np.maximum(low, heart[0]), np.minimum(high, heart[1])
    avoid = tuple(defect.region() for defect in board.defects if not allowed(defect, rules, up))
    return Wood(*_inset(x, low, high, rules.edge_margin_mm), avoid, depth)


def allowed(defect: Defect, rules: Rules, up: Up) -> bool:
    """Whether a part lying with its face `up` on the board's top face will stand a defect."""
    if defect.kind != "knot" or not defect.sound or not 0 < defect.across_mm <= rules.sound_knot_mm:
        return False
    if rules.knot_face == "any":
        return True
    inside: Literal["top", "under"] = "top" if up == "inside" else "under"
    return defect.face == inside


def _between(top: tuple[Array, Array], under: tuple[Array, Array], share: float) -> tuple[Array, Array]:
    return top[0] + (under[0] - top[0]) * share, top[1] + (under[1] - top[1]) * share


def _inset(x: Array, low: Array, high: Array, margin: float) -> tuple[Array, Array, Array]:
    """Take a margin off edges and ends; the widest piece is kept where the wood falls apart."""
    outline = Wood(x, low, np.maximum(high, low), (), 0.0).outline.buffer(0)
    inner = outline.buffer(-margin, join_style="mitre") if margin > 0 else outline
    pieces = [piece for piece in getattr(inner, "geoms", [inner]) if isinstance(piece, Polygon) and not piece.is_empty]
    if not pieces:
        return np.array([0.0, 1e-6]), np.array([1e-6, 1e-6]), np.zeros(2)
    if margin <= 0 and len(pieces) == 1:
        return x, low, high
    ring = np.asarray(max(pieces, key=lambda piece: piece.area).exterior.coords)
    # Just inside each corner on both sides, so that an upright step is not smoothed over.
    at = np.unique(np.concatenate([ring[:, 0] - 1e-6, ring[:, 0] + 1e-6]))
    at = at[(at > ring[:, 0].min()) & (at < ring[:, 0].max())]
    below, above = np.full(len(at), np.inf), np.full(len(at), -np.inf)
    for a, b in pairwise(ring):
        if a[0] != b[0]:
            on = (at >= min(a[0], b[0])) & (at <= max(a[0], b[0]))
            y = a[1] + (at[on] - a[0]) / (b[0] - a[0]) * (b[1] - a[1])
            below[on], above[on] = np.minimum(below[on], y), np.maximum(above[on], y)
    return at, below, above


def edges_of(wood: Wood) -> Edges:
    """Return the usable edges as plain values, for drawing."""
    return Edges(tuple(wood.x_mm.tolist()), tuple(wood.lower_mm.tolist()), tuple(wood.upper_mm.tolist()))
