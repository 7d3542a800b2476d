"""A plank drawn flat: what the bench, the sheets and the pages are given."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scrieve.boat import Side
from scrieve.planking.board import Board
from scrieve.planking.choice import Edge, SpilingChoice, StrakeChoice
from scrieve.working import Check, Working

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PlankFrame:
    """One frame line on the flat plank; lengths in mm, None where it is not known (no hull, no radius given)
    or, for `hollow_mm`, not cut (a thin skin).

    `lower_mm` and `upper_mm` are the points (x, y) where the frame line meets the edges: x along the straight datum
    line, y the offset square to it, as set off at the bench. `width_mm` is their distance,
    `girth_mm` the width along the frame, as a tape laid on it reads. Bevels are measured from
    square to the board's face, above zero where the plank must be wider outside than inside ('standing'), the seam's
    opening already taken off. `hollow_mm` is the backing-out, below zero where the inside must be rounded instead;
    `radius_mm` the frame's radius across the plank, below zero where the hull is hollow there.
    """

    label: str
    station_mm: float | None
    lower_mm: tuple[float, float]
    upper_mm: tuple[float, float]
    width_mm: float
    lower_bevel_rad: float | None
    upper_bevel_rad: float | None
    hollow_mm: float | None
    radius_mm: float | None
    girth_mm: float | None = None


@dataclass(frozen=True, slots=True)
class SpilingRemark:
    """How far a spiled point lies off the faired edge, square to it [mm]; above zero where it lies above."""

    point: str
    edge: Edge
    residual_mm: float
    suspect: bool


@dataclass(frozen=True, slots=True, eq=False)
class PlankDesign:
    """A plank drawn flat, and what the bench needs; lengths in mm.

    Attributes
    ----------
    name, side, thickness_mm
        As chosen. `kind` is 'strake' (expanded from the hull) or 'spiled'.
    drawn : str
        Which face the pattern is, seen from where ('inside face; as seen ...').
    lower_mm, upper_mm : ndarray (n, 2)
        The edges, first end to last: x along the straight datum line through the middles of both ends, y square to
        it towards the upper edge.
    frames : tuple of PlankFrame
        Frame lines in order along the plank.
    board : Board
        The board it needs.
    seam_opening_mm : float
        Seam open outside, both edges together.
    lengths_mm : (lower true, lower flat, upper true, upper flat)
        Length of each edge on the hull and on the flat plank; for a spiled plank true is None.
    strain_max : float or None
        Greatest principal strain of the flattening [-].
    edge_set_mm : float or None
        The bow in the plank's length that a flat plank of this outline takes up edgewise when hung.
    twist_rad : float or None
        Twist from end to end.
    bend_radius_mm : float or None
        Least radius the plank is bent to along its length.
    residuals : tuple of SpilingRemark
        Spiled points against the faired edges; empty for a strake.
    checks, workings, cautions
        Verdicts with limits, figures with their working, and the cautions that belong on the sheet.
    """

    name: str
    side: Side
    kind: Literal["strake", "spiled"]
    thickness_mm: float
    drawn: str
    lower_mm: Array
    upper_mm: Array
    frames: tuple[PlankFrame, ...]
    board: Board
    seam_opening_mm: float
    lengths_mm: tuple[float | None, float, float | None, float]
    strain_max: float | None
    edge_set_mm: float | None
    twist_rad: float | None
    bend_radius_mm: float | None
    residuals: tuple[SpilingRemark, ...]
    checks: tuple[Check, ...]
    workings: tuple[Working, ...]
    cautions: tuple[str, ...]
    choice: StrakeChoice | SpilingChoice

    @property
    def outline_mm(self) -> Array:
        """(m, 2) closed outline: lower edge from first end to last, back along the upper edge, to the start."""
        return np.concatenate([self.lower_mm, self.upper_mm[::-1], self.lower_mm[:1]])

    @property
    def stock_thickness_mm(self) -> float:
        """Least thickness of the board: finished thickness, hollow or rounding, and planing."""
        return self.board.thickness_mm

    @property
    def hollow_mm(self) -> float | None:
        """Deepest backing-out at any frame; None where no curvature is known."""
        depths = [frame.hollow_mm for frame in self.frames if frame.hollow_mm is not None]
        return max(depths) if depths else None
