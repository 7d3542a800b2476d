"""A plan of ripping kept as plain values, under the revision of what it was made from; what each board gives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from scrieve.errors import BadBoard
from scrieve.frames.parts import StripOrder
from scrieve.revision import revision
from scrieve.stock.board import Board
from scrieve.stock.cutting import CutBoard, CutPlan, Piece, Strip
from scrieve.stock.forms import mapping_of
from scrieve.stock.laying import Laying
from scrieve.stock.layout import Shop
from scrieve.stock.ripping import Clear, RipPlan, Scarfed, rip_laminations

#: Under what it is kept, beside the laying.
RIPPING = "ripping"
#: The solver may take so long [s].
SECONDS = 15.0


@dataclass(frozen=True, slots=True)
class FrameStrips:
    """What one frame asks for: its label, the revision of its design, its strips."""

    frame: str
    revision: str
    orders: tuple[StripOrder, ...]


@dataclass(frozen=True, slots=True)
class Ripped:
    """A plan of ripping as it is kept; `frames` names the frame of each of its orders, `trim_mm` is off each end."""

    plan: RipPlan
    frames: tuple[str, ...]
    orders: tuple[StripOrder, ...]
    kerf_mm: float
    trim_mm: float
    made_from: str

    @property
    def share(self) -> float:
        """Area of the strips' pieces in that of the clear pieces ripped."""
        wood = sum(self.plan.clear[one.stock].length_mm * self.plan.clear[one.stock].width_mm
                   for one in self.plan.plan.boards)  # fmt: skip
        used = sum(self.plan.pieces[at].length_mm * strip.width_mm for one in self.plan.plan.boards
                   for strip in one.strips for at in strip.pieces)  # fmt: skip
        return used / wood if wood else 0.0


def boards_free(boards: Sequence[Board], laying: Laying | None) -> tuple[Board, ...]:
    """Return the boards on which no plank is laid."""
    used = {one.board for one in laying.placements} if laying else set()
    return tuple(board for board in boards if board.name not in used)


def rip_revision(boards: Sequence[Board], frames: Mapping[str, str], shop: Shop) -> str:
    """Revision of what a plan of ripping is made from; `frames` maps each label to the revision of its design."""
    rack = sorted(boards, key=lambda board: board.name)
    return revision([mapping_of(board) for board in rack], sorted(frames.items()),
                    [shop.kerf_mm, shop.defect_margin_mm, shop.edge_margin_mm])  # fmt: skip


def rip(boards: Sequence[Board], wanted: Sequence[FrameStrips], shop: Shop, *, trim_mm: float = 50.0,
        seconds: float = SECONDS) -> Ripped:  # fmt: skip
    """Rip the laminations of frames out of boards.

    Raises
    ------
    BadBoard
        No frame asks for strips, or scarfs cannot be kept apart.
    """
    pairs = [(one.frame, order) for one in wanted for order in one.orders]
    if not pairs:
        raise BadBoard("no frame pair is designed yet, so no lamination is asked for.")
    orders = tuple(order for _, order in pairs)
    plan = rip_laminations(orders, boards, kerf_mm=shop.kerf_mm, trim_mm=trim_mm, seconds=seconds)
    return Ripped(plan, tuple(frame for frame, _ in pairs), orders, shop.kerf_mm, trim_mm,
                  rip_revision(boards, {one.frame: one.revision for one in wanted}, shop))  # fmt: skip


def kept_ripping(ripped: Ripped) -> dict[str, Any]:
    """Return a plan of ripping as plain values."""
    return asdict(ripped)


def ripping_from(kept: Mapping[str, Any] | None) -> Ripped | None:
    """Return a plan of ripping as it was kept; None where there is none."""
    if not kept:
        return None
    own, cutting = kept["plan"], kept["plan"]["plan"]
    boards = tuple(
        CutBoard(one["stock"], tuple(Strip(strip["width_mm"], tuple(strip["pieces"])) for strip in one["strips"]))
        for one in cutting["boards"]
    )
    plan = CutPlan(boards, cutting["cost"], cutting["proved"], cutting["grid_mm"],
                   tuple((int(at), int(count)) for at, count in cutting["short"]))  # fmt: skip
    scarfed = tuple(
        tuple(Scarfed(one["lamination"], tuple(one["pieces_mm"]), tuple(one["scarfs_mm"])) for one in order)
        for order in own["scarfed"]
    )
    clear = tuple(Clear(**one) for one in own["clear"])
    pieces = tuple(Piece(**one) for one in own["pieces"])
    orders = tuple(StripOrder(**one) for one in kept["orders"])
    return Ripped(RipPlan(clear, pieces, plan, scarfed), tuple(kept["frames"]), orders, kept["kerf_mm"],
                  kept["trim_mm"], kept["made_from"])  # fmt: skip
