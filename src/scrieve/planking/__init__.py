"""Planking: strakes between seams, spiling, expansion flat, edges and backing out."""

from scrieve.planking.board import Board
from scrieve.planking.butts.joints import Breach, EndJoint, ShellLayout, breaches
from scrieve.planking.butts.plan import ButtPlan, PlankStock, PlanSettings, plan_butts
from scrieve.planking.butts.rules import BUTT_RULES, butt_rules
from scrieve.planking.caulking import Caulking, CaulkingChoice, caulking, seam_lengths
from scrieve.planking.choice import (
    PlankEnds,
    SeamMark,
    SpilingBatten,
    SpilingChoice,
    SpilingMark,
    StrakeChoice,
)
from scrieve.planking.comparing import Comparison, compare_planks
from scrieve.planking.design import design_plank, design_spiled_plank
from scrieve.planking.fastening import FasteningChoice, FasteningSchedule, crossings_of, fastening_schedule
from scrieve.planking.forms import SeamsReading, SpilingReading, read_seams, read_spiling
from scrieve.planking.lining.choice import KeptSeam, LiningChoice, Stealer
from scrieve.planking.lining.flat import ShellFlat, drawn_flat
from scrieve.planking.lining.lands import ClinkerFastenings, LiningLands, clinker_fastenings, lining_lands
from scrieve.planking.lining.layout import shell_layout, wide_bays
from scrieve.planking.lining.line_off import line_off
from scrieve.planking.lining.result import Lining
from scrieve.planking.lining.stealers import propose_stealers, short_of_room
from scrieve.planking.plank import PlankDesign, PlankFrame, SpilingRemark
from scrieve.planking.skins.laid import Skin, SkinChoice, lay_skin
from scrieve.planking.skins.plank import design_diagonal
from scrieve.planking.tracing import Trace

__all__ = [
    "BUTT_RULES",
    "Board",
    "Breach",
    "ButtPlan",
    "Caulking",
    "CaulkingChoice",
    "ClinkerFastenings",
    "Comparison",
    "EndJoint",
    "FasteningChoice",
    "FasteningSchedule",
    "KeptSeam",
    "Lining",
    "LiningChoice",
    "LiningLands",
    "PlanSettings",
    "PlankDesign",
    "PlankEnds",
    "PlankFrame",
    "PlankStock",
    "SeamMark",
    "SeamsReading",
    "ShellFlat",
    "ShellLayout",
    "Skin",
    "SkinChoice",
    "SpilingBatten",
    "SpilingChoice",
    "SpilingMark",
    "SpilingReading",
    "SpilingRemark",
    "Stealer",
    "StrakeChoice",
    "Trace",
    "breaches",
    "butt_rules",
    "caulking",
    "clinker_fastenings",
    "compare_planks",
    "crossings_of",
    "design_diagonal",
    "design_plank",
    "design_spiled_plank",
    "drawn_flat",
    "fastening_schedule",
    "lay_skin",
    "line_off",
    "lining_lands",
    "plan_butts",
    "propose_stealers",
    "read_seams",
    "read_spiling",
    "seam_lengths",
    "shell_layout",
    "short_of_room",
    "wide_bays",
]
