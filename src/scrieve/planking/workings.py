"""How the figures of a plank came about, each with its formula, what went into it, and its source."""

from __future__ import annotations

from collections.abc import Sequence
from math import degrees

import numpy as np

from scrieve.planking.board import Board
from scrieve.planking.choice import SpilingChoice, StrakeChoice
from scrieve.planking.clinker import Land
from scrieve.planking.edges import SEAM_SOURCE
from scrieve.planking.expansion import FORMULA
from scrieve.planking.panel import BLOCK_SOURCE, SheetJoint, SheetPiece
from scrieve.planking.plank import PlankFrame
from scrieve.planking.verdicts import COMMON, DERIVED, Facts
from scrieve.wording import by_itself, length, small, tell
from scrieve.working import Working


def strake_workings(choice: StrakeChoice, facts: Facts, board: Board) -> tuple[Working, ...]:
    """How the figures of a strake came about."""
    flat = facts.flat
    true, laid = flat.true_lengths_mm, flat.flat_lengths_mm
    return (
        Working(
            "Edges",
            tell("lower {low}, upper {up}", low=length(laid[0], 1), up=length(laid[1], 1)),
            FORMULA,
            (
                ("lower edge on the hull", by_itself(length(true[0], 1))),
                ("upper edge on the hull", by_itself(length(true[1], 1))),
                ("greatest strain", f"{flat.strain_max * 100:.4f} %"),
            ),
            DERIVED,
        ),
        Working(
            "Edge-set",
            tell(
                "{all} in the whole length, {ten} in ten feet",
                all=small(flat.edge_set_mm),
                ten=small(flat.edge_set_ten_feet_mm),
            ),
            "bow = ∬(κ on the hull − κ on the flat) ds ds off its chord, κ the edge's curvature within the surface",
            (("length", by_itself(length(max(laid)))),),
            DERIVED,
        ),
        _hollow_working(facts.hollow_mm, board.plank_width_mm),
        *_common_workings(choice, board, facts.hollow_mm, facts.opening_mm, facts.standing_mm),
        Working(
            "Longer by its thickness",
            by_itself(small(facts.longer_mm)),
            "t/2 × turn: the middle of the thickness keeps its length, the drawn inside face shortens as it is bent",
            (
                ("thickness", by_itself(small(choice.thickness_mm, None))),
                ("turn", f"{degrees(2 * facts.longer_mm / choice.thickness_mm):.1f}°"),
            ),
            DERIVED,
            "Frame marks shift by as much from end to end: fix the middle first, cut the ends in place.",
        ),
    )


def build_workings(
    choice: StrakeChoice,
    lap_mm: float,
    lands: Sequence[Land],
    joints: Sequence[SheetJoint],
    pieces: Sequence[SheetPiece],
) -> tuple[Working, ...]:
    """How the figures of laps and of sheets came about."""
    found = []
    if choice.build == "clinker":
        most = max((land.bevel_rad for land in lands), default=0.0)
        found.append(
            Working(
                "Lap and land",
                tell("lap {lap}, land bevelled up to {most:.1f}°", lap=small(lap_mm), most=degrees(most)),
                "depth at the edge = lap × tan(angle between this strake's face and the next one's, taken as wide)",
                (
                    ("thickness", by_itself(small(choice.thickness_mm, None))),
                    ("lap", "as chosen" if choice.lap_mm else "twice the thickness"),
                ),
                "lap 2 × thickness: rule of thumb for clinker boats; land derived: docs/planking.md",
                "Run the land out to flush over the last foot of a hood end (common practice, no source).",
            )
        )
    if choice.build == "panel":
        kind = choice.sheet_joint
        inside = (("slope", f"{choice.ends.scarf_slope:g} : 1"),) if kind == "scarf" else ()
        found.append(
            Working(
                "Sheets",
                tell(
                    "{n} of {long} × {wide}, {joints} joint(s)",
                    n=len(pieces),
                    long=length(choice.sheet_mm[0]),
                    wide=length(choice.sheet_mm[1]),
                    joints=len(joints),
                ),
                "fewest with n × sheet − (n − 1) × scarf ≥ panel + trim"
                if kind == "scarf"
                else "each sheet as far as the last bay it reaches; a block as thick as the panel fills the bay",
                (("joint", kind), ("thickness", by_itself(small(choice.thickness_mm, None))), *inside),
                "8 : 1 for plywood: a maker of epoxy" if kind == "scarf" else BLOCK_SOURCE,
            )
        )
    return tuple(found)


def spiled_workings(
    choice: SpilingChoice, board: Board, hollow_mm: float, opening_mm: float, frames: Sequence[PlankFrame]
) -> tuple[Working, ...]:
    """How the figures of a spiled plank came about."""
    deepest = max(
        (frame for frame in frames if frame.hollow_mm is not None),
        key=lambda frame: frame.hollow_mm or 0.0,
        default=None,
    )
    hollow = () if deepest is None else (_hollow_working(hollow_mm, deepest.width_mm),)
    return (*hollow, *_common_workings(choice, board, hollow_mm, opening_mm))


def _hollow_working(hollow_mm: float, width_mm: float) -> Working:
    radius = (width_mm**2 / 4 + hollow_mm**2) / (2 * abs(hollow_mm)) if abs(hollow_mm) > 1e-6 else np.inf
    return Working(
        "Backing out" if hollow_mm >= 0 else "Rounding of the inside",
        by_itself(small(abs(hollow_mm))),
        "r − √(r² − (w/2)²)",
        (
            ("radius across the plank", "straight" if np.isinf(radius) else by_itself(length(radius))),
            ("width", by_itself(length(width_mm))),
        ),
        DERIVED,
    )


def _common_workings(
    choice: StrakeChoice | SpilingChoice, board: Board, hollow_mm: float, opening_mm: float, standing_mm: float = 0.0
) -> tuple[Working, ...]:
    ruled = choice.seam_opening_mm is None
    scarfs = (choice.ends.first, choice.ends.last).count("scarf")
    scarf = ((f"{scarfs} scarf(s)", f"{choice.ends.scarf_slope:g} : 1"),) if scarfs else ()
    return (
        Working(
            "Stock thickness",
            by_itself(small(board.thickness_mm)),
            "thickness + hollow or rounding + planing",
            (
                ("thickness", by_itself(small(choice.thickness_mm, None))),
                ("hollow or rounding", by_itself(small(abs(hollow_mm)))),
                ("planing, both faces", by_itself(small(choice.planing_mm, None))),
            ),
            COMMON,
        ),
        Working(
            "Seam open outside",
            tell("{it}, half off each edge; tight inside", it=small(opening_mm)),
            "rule × thickness" if ruled else "as chosen",
            (("thickness", by_itself(small(choice.thickness_mm, None))),),
            SEAM_SOURCE[choice.seam_rule] if ruled else "the builder's choice",
        ),
        Working(
            "Board",
            tell(
                "{long} × {wide} × {thick}",
                long=length(board.length_mm),
                wide=length(board.width_mm),
                thick=small(board.thickness_mm),
            ),
            "least strip that holds the outline, and margins",
            (
                (
                    "plank",
                    tell(
                        "{long} long, {wide} wide",
                        long=length(board.plank_length_mm),
                        wide=length(board.plank_width_mm),
                    ),
                ),
                ("crown", by_itself(length(board.crown_mm))),
                ("margin each edge", by_itself(small(choice.wany_margin_mm, None))),
                ("for standing bevels", by_itself(small(standing_mm))),
                ("trim each end", by_itself(length(choice.trim_mm))),
                *scarf,
            ),
            COMMON,
        ),
    )
