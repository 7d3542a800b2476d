"""Planking: strakes between seams, spiling, expansion flat, edges and backing out."""

from scrieve.planking.board import Board
from scrieve.planking.choice import (
    PlankEnds,
    SeamMark,
    SpilingBatten,
    SpilingChoice,
    SpilingMark,
    StrakeChoice,
)
from scrieve.planking.design import design_plank, design_spiled_plank
from scrieve.planking.forms import SeamsReading, SpilingReading, read_seams, read_spiling
from scrieve.planking.plank import PlankDesign, PlankFrame, SpilingRemark

__all__ = [
    "Board",
    "PlankDesign",
    "PlankEnds",
    "PlankFrame",
    "SeamMark",
    "SeamsReading",
    "SpilingBatten",
    "SpilingChoice",
    "SpilingMark",
    "SpilingReading",
    "SpilingRemark",
    "StrakeChoice",
    "design_plank",
    "design_spiled_plank",
    "read_seams",
    "read_spiling",
]
