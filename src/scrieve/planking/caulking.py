"""Caulking: how long the seams are, and how much cotton and stopping they take."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from scrieve.errors import BadPlank, above_zero
from scrieve.planking.choice import SeamRule
from scrieve.planking.edges import SEAM_SOURCE, seam_opening
from scrieve.planking.lining.choice import known
from scrieve.planking.lining.result import Lining
from scrieve.planking.seams import run_length
from scrieve.wording import by_itself, metres, small, tell
from scrieve.working import Working

THIRDS = (
    "the edge divided in three: inner third bears on its neighbour, middle third takes cotton, outer third stopping "
    "(British yard practice, as told for seams open 3 to 4 mm in 25 mm)"
)
SHOP = "shop default, no source; change to suit"
CAUTIONS = (
    "Too much cotton crushes edges and starts planks off their frames; too little leaks. Drive a metre, and weigh it.",
    "Old seams may hold lead paint or putty: assume so until tested; no dry sanding, mask and gloves, children away.",
    "Only sound, well fastened planks hold caulking: refasten first, and let a dry hull take up before judging a leak.",
)


@dataclass(frozen=True, slots=True)
class CaulkingChoice:
    """How seams are caulked; plain values that can be kept as JSON, lengths in mm.

    `opening_mm` overrules `rule`. The cotton's `cotton_g_per_m` is what a metre of driven seam took on trial; 0 takes
    `packed_kg_m3` of driven cotton in the middle third. `waste` is added to both quantities, `stopping_kg_m3` is the
    density on the tin.
    """

    thickness_mm: float
    rule: SeamRule = "metric"
    opening_mm: float | None = None
    cotton_g_per_m: float = 0.0
    packed_kg_m3: float = 500.0
    stopping_kg_m3: float = 1700.0
    waste: float = 0.15

    def __post_init__(self) -> None:
        given = (self.thickness_mm, self.packed_kg_m3, self.stopping_kg_m3)
        above_zero("caulking, thickness or density", given, "", BadPlank)
        for name, value in (
            ("opening", self.opening_mm or 0.0),
            ("cotton", self.cotton_g_per_m),
            ("waste", self.waste),
        ):
            if not (math.isfinite(value) and value >= 0):
                raise BadPlank(f"caulking, {name}: {value}; give 0 or more.")
        if self.rule not in SEAM_SOURCE:
            raise BadPlank(f"caulking, seam rule: found {self.rule!r}; say 'metric' or 'inch'.")

    @classmethod
    def from_mapping(cls, given: Mapping[str, object]) -> CaulkingChoice:
        """Read a choice from plain values; raise BadPlank for what is not one."""
        return cls(**known(cls, given))


@dataclass(frozen=True, slots=True)
class SeamShape:
    """A caulked seam across its depth; mm and mm².

    `widths_mm` are its gap outside, at a third and at two thirds of the depth, and inside (tight). Areas are of the
    outer third, which takes stopping, and the middle third, which takes cotton.
    """

    widths_mm: tuple[float, float, float, float]
    stopping_mm2: float
    cotton_mm2: float


@dataclass(frozen=True, slots=True)
class Caulking:
    """What a shell's seams take: lengths by kind [mm], cotton [kg], stopping [litres and kg]."""

    lengths_mm: tuple[tuple[str, float], ...]
    total_mm: float
    seam: SeamShape
    cotton_kg: float
    stopping_litres: float
    stopping_kg: float
    workings: tuple[Working, ...]
    cautions: tuple[str, ...] = CAUTIONS


def seam_shape(thickness_mm: float, opening_mm: float) -> SeamShape:
    """The seam between two edges eased from the inside: its gap falls evenly from `opening_mm` outside to nothing.

    Examples
    --------
    >>> shape = seam_shape(30, 3)
    >>> shape.widths_mm, shape.stopping_mm2, shape.cotton_mm2
    ((3.0, 2.0, 1.0, 0.0), 25.0, 15.0)
    """
    t = float(above_zero("caulking, thickness", thickness_mm, "mm", BadPlank))
    if not (math.isfinite(opening_mm) and opening_mm >= 0):
        raise BadPlank(f"caulking, opening: {opening_mm} mm; give 0 or more.")
    gap = tuple(opening_mm * part / 3 for part in (3, 2, 1, 0))
    return SeamShape((gap[0], gap[1], gap[2], gap[3]), (gap[0] + gap[1]) / 2 * t / 3, (gap[1] + gap[2]) / 2 * t / 3)


def seam_lengths(lining: Lining, butts: Mapping[int, float] | None = None, points: int = 400) -> dict[str, float]:
    """Lengths of what is caulked on one side of a lining, along the inside of the planking [mm].

    Parameters
    ----------
    lining : Lining
        The side lined off; its lowest edge is taken to be caulked (the rabbet), its highest not (the sheer).
    butts : mapping of strake -> sum of the widths of its butts [mm], optional
    points : int
        Points along each seam.
    """
    hull = lining.hull
    found = {"seams between strakes": 0.0, "garboard seam": 0.0}
    for j, seam in enumerate(lining.seams[:-1]):
        x = np.linspace(seam.first_mm, seam.last_mm, points)
        line = hull.point(x, np.clip(seam(x), 0, 1))
        name = "garboard seam" if j == 0 else "seams between strakes"
        found[name] += run_length(line)
    found["hood ends"] = float(np.nansum(lining.width_mm[:, 0]) + np.nansum(lining.width_mm[:, -1]))
    found["nibs"] = sum(nib.stealer.nib_mm for nib in lining.nibs)
    found["butts"] = float(sum((butts or {}).values()))
    return {name: length for name, length in found.items() if length > 0}


def caulking(lengths_mm: Mapping[str, float], choice: CaulkingChoice) -> Caulking:
    """How much cotton and stopping seams of these lengths take.

    Parameters
    ----------
    lengths_mm : mapping of name -> length [mm]
        As `seam_lengths` gives them, for both sides where both are caulked.
    choice : CaulkingChoice
        Thickness, opening, densities, waste.

    Raises
    ------
    BadPlank
        A length is not above zero.
    """
    lengths = tuple(lengths_mm.items())
    above_zero("caulking, length of seam", [length for _, length in lengths], "mm", BadPlank)
    total = sum(length for _, length in lengths)
    ruled = choice.opening_mm is None
    opening = seam_opening(choice.thickness_mm, choice.rule) if choice.opening_mm is None else choice.opening_mm
    shape = seam_shape(choice.thickness_mm, opening)
    per_metre = choice.cotton_g_per_m or shape.cotton_mm2 * choice.packed_kg_m3 * 1e-3
    cotton = per_metre * total * 1e-6 * (1 + choice.waste)
    litres = shape.stopping_mm2 * total * 1e-6 * (1 + choice.waste)
    more = (("waste", f"{choice.waste:.0%}"), ("seams", by_itself(metres(total))))
    return Caulking(
        lengths_mm=lengths,
        total_mm=total,
        seam=shape,
        cotton_kg=cotton,
        stopping_litres=litres,
        stopping_kg=litres * choice.stopping_kg_m3 * 1e-3,
        workings=(
            Working("Seam", tell("open {it} outside, tight inside", it=small(opening)),
                    "falls evenly over the thickness",
                    (("thickness", by_itself(small(choice.thickness_mm, None))),
                     ("outer third", f"{shape.stopping_mm2:.1f} mm²"), ("middle third", f"{shape.cotton_mm2:.1f} mm²")),
                    f"{SEAM_SOURCE[choice.rule] if ruled else 'as chosen'}; {THIRDS}"),
            Working("Cotton", f"{cotton:.2f} kg", "grams in a metre × length × (1 + waste)",
                    (("in a metre", f"{per_metre:.1f} g"), *more),
                    "weighed on trial" if choice.cotton_g_per_m
                    else f"middle third × {choice.packed_kg_m3:g} kg/m³ driven: {SHOP}", CAUTIONS[0]),
            Working("Stopping", f"{litres:.2f} litres", "outer third × length × (1 + waste)", more,
                    f"{THIRDS}; waste {SHOP}"),
        ),
    )  # fmt: skip
