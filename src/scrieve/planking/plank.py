"""A plank drawn flat: what the bench, the sheets and the pages are given."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scrieve.boat import Side
from scrieve.planking.board import Board
from scrieve.planking.butts.end_cuts import EndCut
from scrieve.planking.choice import Edge, SpilingChoice, StrakeChoice
from scrieve.planking.clinker import Land
from scrieve.planking.frame_line import PlankFrame, PlankNail
from scrieve.planking.panel import SheetJoint, SheetPiece
from scrieve.planking.rabbet import RabbetCut
from scrieve.planking.skins.laid import SkinChoice
from scrieve.working import Check, Working

Array = NDArray[np.float64]

__all__ = ["PlankDesign", "PlankFrame", "PlankNail", "SpilingRemark"]


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
        As chosen. `kind` is 'strake' (expanded from the hull), 'spiled', or 'diagonal' (a plank of a diagonal skin).
    drawn : str
        Which face the pattern is, seen from where ('inside face; as seen ...').
    lower_mm, upper_mm : ndarray (n, 2)
        The edges, first end to last: x along the straight datum line through the middles of both ends (of a scarf, of
        the joint), y square to it towards the upper edge. They run to the very ends of scarfs.
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
    rabbets : tuple of RabbetCut
        How the rabbet is cut for hood ends, and for a lower edge that lies in it.
    lands : tuple of Land
        Of a clinker strake: the land on its upper edge at each frame.
    joints, pieces
        Of a plywood panel: where its sheets are joined, and what is cut of each.
    edge_names : (lower, upper)
        What the two edges are called.
    cuts : tuple of EndCut
        How ends that are scarfed or end in a nib are cut.
    nails : tuple of PlankNail
        Nails and their holes that were pricked on a spiling batten, in order along the plank.
    """

    name: str
    side: Side
    kind: Literal["strake", "spiled", "diagonal"]
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
    choice: StrakeChoice | SpilingChoice | SkinChoice
    rabbets: tuple[RabbetCut, ...] = ()
    lands: tuple[Land, ...] = ()
    joints: tuple[SheetJoint, ...] = ()
    pieces: tuple[SheetPiece, ...] = ()
    edge_names: tuple[str, str] = ("lower", "upper")
    cuts: tuple[EndCut, ...] = ()
    nails: tuple[PlankNail, ...] = ()

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
