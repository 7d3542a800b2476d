"""Planking: strakes between seams, spiling, expansion flat, edges and backing out."""

from scrieve.planking.choice import (
    PlankEnds,
    SeamMark,
    SpilingBatten,
    SpilingChoice,
    SpilingMark,
    StrakeChoice,
)
from scrieve.planking.design import Board, PlankDesign, PlankFrame, SpilingRemark

__all__ = [
    "Board",
    "PlankDesign",
    "PlankEnds",
    "PlankFrame",
    "SeamMark",
    "SpilingBatten",
    "SpilingChoice",
    "SpilingMark",
    "SpilingRemark",
    "StrakeChoice",
]
