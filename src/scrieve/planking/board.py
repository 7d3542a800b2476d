"""The board a plank needs."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Board:
    """The board a plank is got out of; lengths in mm.

    `width_mm` is the least width of clear wood the finished plank fits in, margins included; `crown_mm` how far the
    plank's middle line bows from the straight line through its ends (above zero where it bows towards the upper
    edge); `angle_rad` the slope of the board's long side against the plank's datum line. `length_mm` includes
    trimming and scarfs, `thickness_mm` hollow, rounding and planing.
    """

    length_mm: float
    width_mm: float
    thickness_mm: float
    crown_mm: float
    angle_rad: float
    plank_length_mm: float
    plank_width_mm: float
