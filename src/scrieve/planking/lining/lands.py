"""A side lined off for clinker: the land of every strake, and the nails that close it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadPlank, above_zero
from scrieve.planking.fastening import clinker_nails
from scrieve.planking.lining.choice import LiningChoice
from scrieve.planking.lining.result import Lining
from scrieve.planking.seams import run_length
from scrieve.wording import by_itself, metres, small, tell
from scrieve.working import Working

Array = NDArray[np.float64]

NAILS_SOURCE = "rule of thumb for clinker boats: nails six thicknesses apart, frames at every second or third"
LAND_CAUTION = (
    "Fastenings no smaller nor fewer than the rest of the hull has, and of its metal; agree them with a surveyor or "
    "naval architect. A land is closed dry and tight wood to wood: no cotton is driven into it, it would start the "
    "strakes off. Bed the garboard in the rabbet and the hood ends."
)


@dataclass(frozen=True, slots=True, eq=False)
class LiningLands:
    """Lands on the upper edges of strakes 1 to n - 1, at the frames (n - 1, k); nan where there is none.

    `bevel_rad` is the angle between a strake's face and the next one's in the section, `depth_mm` what is planed off at
    the edge (below zero: off the strake above), `left_mm` the thickness left there.
    """

    lap_mm: float
    bevel_rad: Array
    depth_mm: Array
    left_mm: Array


def lining_lands(lining: Lining) -> LiningLands:
    """Return the lands of a clinker side: depth at the edge = lap × tan of the angle between neighbouring strakes.

    Each strake lies straight from seam to seam in the section. On a round frame of radius R, strakes w wide turn by
    2 asin(w / 2R) from one to the next, w along the chord.

    Raises
    ------
    BadPlank
        The side is not clinker.
    """
    choice = _clinker(lining)
    over = np.diff(np.stack([lining.half_breadth_mm, lining.height_mm], axis=-1), axis=0)
    there = np.isfinite(lining.width_mm)
    lower, upper = over[:-1], over[1:]
    cross = lower[..., 0] * upper[..., 1] - lower[..., 1] * upper[..., 0]
    bevel = np.arctan2(cross, np.sum(lower * upper, axis=-1))
    bevel = np.where(there[:-1] & there[1:], bevel, np.nan)
    depth = choice.lap * np.tan(bevel)
    return LiningLands(choice.lap, bevel, depth, choice.thickness_mm - np.maximum(depth, 0.0))


def _clinker(lining: Lining) -> LiningChoice:
    """Return the choice of a clinker side; raise BadPlank of another."""
    choice = lining.choice
    if choice.build != "clinker":
        raise BadPlank(f"lining {choice.name!r} is {choice.build}: it has no lands; line it off for clinker.")
    return choice


@dataclass(frozen=True, slots=True)
class LandNails:
    """Nails along the land on one strake's upper edge: its length [mm], all nails, and those of them through frames."""

    strake: int
    length_mm: float
    nails: int
    at_frames: int


@dataclass(frozen=True, slots=True)
class ClinkerFastenings:
    """Nails of one clinker side, each with its rove: by land, at frames of the garboard and the sheer, to order.

    `through_mm` is what a nail goes through between frames, two planks; at a frame its moulded depth comes on top.
    """

    lands: tuple[LandNails, ...]
    hood_ends: int
    total: int
    order: int
    through_mm: float
    workings: tuple[Working, ...]
    cautions: tuple[str, ...] = (LAND_CAUTION,)


def clinker_fastenings(
    lining: Lining, *, spares: float = 0.1, hood_end: int = 3, points: int = 400
) -> ClinkerFastenings:
    """Count the nails of a clinker side: every six thicknesses along each land, none fewer than frames it crosses.

    Parameters
    ----------
    lining : Lining
        A side lined off for clinker.
    spares : float
        Share added to the total.
    hood_end : int
        Fastenings at each hood end, into stem and transom.
    points : int
        Points along each land.

    Raises
    ------
    BadPlank
        The side is not clinker, or its thickness not above zero.
    """
    choice = _clinker(lining)
    t = float(above_zero("fastenings, thickness of planking", choice.thickness_mm, "mm", BadPlank))
    found = []
    for j, seam in enumerate(lining.seams[1:-1], 1):
        x = np.linspace(seam.first_mm, seam.last_mm, points)
        line = lining.hull.point(x, np.clip(seam(x), 0, 1))
        long = run_length(line)
        frames = sum(1 for k, frame in enumerate(lining.frames) if frame.label and lining.drawn[j, k])
        found.append(LandNails(j, long, max(clinker_nails(long, t), frames), frames))
    ends = 2 * lining.strakes - len(lining.nibs)
    total = sum(land.nails for land in found) + hood_end * ends
    order = math.ceil(total * (1 + spares) - 1e-9)
    run = sum(land.length_mm for land in found)
    return ClinkerFastenings(
        lands=tuple(found), hood_ends=hood_end * ends, total=total, order=order, through_mm=2 * t,
        workings=(
            Working("Nails along the lands", f"{sum(land.nails for land in found)}",
                    "land by land: length / (6 × thickness), whole, + 1; no fewer than frames crossed",
                    (("thickness", by_itself(small(t, None))),
                     ("lands", tell("{n}, {it}", n=len(found), it=metres(run))),
                     ("of them through frames", f"{sum(land.at_frames for land in found)}")), NAILS_SOURCE),
            Working("Nails and roves to order", f"{order} of each", "(lands + hood ends) × (1 + spares)",
                    (("hood ends", f"{ends} × {hood_end}"), ("spares", f"{spares:.0%}")),
                    "common practice, no source"),
        ),
    )  # fmt: skip
