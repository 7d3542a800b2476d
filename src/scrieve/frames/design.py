"""One pair of frames, designed: from the fair section and the builder's choice to packet, jig, blank and marks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scrieve.fairing.section import Section
from scrieve.frames.choice import FrameChoice
from scrieve.frames.parts import (
    Array,
    BenchCheck,
    BevelMark,
    Blank,
    Bracket,
    CarriedMark,
    Check,
    GlueNeed,
    Jig,
    Lamination,
    Outline,
    Packet,
    StripOrder,
)
from scrieve.working import Working

__all__ = [
    "BenchCheck",
    "BevelMark",
    "Blank",
    "Bracket",
    "CarriedMark",
    "Check",
    "FrameChoice",
    "FrameDesign",
    "GlueNeed",
    "Jig",
    "Lamination",
    "Outline",
    "Packet",
    "StripOrder",
]


@dataclass(frozen=True, slots=True, eq=False)
class FrameDesign:
    """One pair of frames, designed.

    Attributes
    ----------
    choice, section
        What it was computed from.
    moulding_edge : 'fore' or 'aft'
        The face that carries the moulded line, 'auto' settled.
    packet, blank, jig, outline, bevels, order, glue
        The parts; see `scrieve.frames.parts`.
    checks : tuple of Check
        Every limit held against what was found, met or not.
    springback : ndarray (m,)
        Share of the jig's curvature lost on release, along `jig.s_mm`.
    released_mm : ndarray (m, 2)
        The neutral line as it is to lie after release: half-breadth and height, at `jig.s_mm`.
    marks_to_carry, bench_checks, cautions, workings
        What goes on each half, what proves the jig, what to beware of, and how each headline figure came about.
    """

    choice: FrameChoice
    section: Section
    moulding_edge: Literal["fore", "aft"]
    packet: Packet
    outline: Outline
    bevels: tuple[BevelMark, ...]
    blank: Blank
    jig: Jig
    order: tuple[StripOrder, ...]
    glue: GlueNeed
    checks: tuple[Check, ...]
    springback: Array
    released_mm: Array
    marks_to_carry: tuple[CarriedMark, ...]
    bench_checks: tuple[BenchCheck, ...]
    cautions: tuple[str, ...]
    workings: tuple[Working, ...]

    @property
    def springback_mean(self) -> float:
        """The mean of `springback` along the frame."""
        return float(self.springback.mean())

    @property
    def all_ok(self) -> bool:
        """Whether every check is met."""
        return all(check.ok for check in self.checks)
