"""The packet bent in the jig: its curve, overbent for springback, and how it lies between brackets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scrieve.frames.choice import FrameChoice
from scrieve.frames.packet.laminations import Lay
from scrieve.frames.packet.springback import bend_back
from scrieve.frames.packet.stack import Along
from scrieve.frames.packet.stress import Movement
from scrieve.frames.parts import Array
from scrieve.frames.shape.line import Line, lengthened, offset, offset_varied


@dataclass(frozen=True, slots=True, eq=False)
class Bent:
    """The packet in the jig, in the section's axes, past heel and head by the trimming allowance.

    `girth_mm` is the moulded line's arc length at each point, `wanted` the neutral line after release, `neutral` in
    the jig, `face` the bearing face and `other` the other one. `reference` is a line of the packet that runs through
    unbroken where laminations are dropped, in the jig; `along` what the stack is at each point.
    """

    girth_mm: Array
    wanted: Line
    neutral: Line
    face: Line
    other: Line
    reference: Line | None = None
    along: Along | None = None

    @property
    def stiff(self) -> Array:
        """(n,) ΣEᵢIᵢ of the loose packet at each point, over that of all its laminations together."""
        if self.along is None:
            return np.ones(len(self.girth_mm))
        return np.asarray(self.along.loose / self.along.full_loose)

    @property
    def held_per_mm(self) -> Array:
        """(n,) curvature in which the loose packet lies by itself, from laminations bent beforehand [1/mm]."""
        if self.along is None:
            return np.zeros(len(self.girth_mm))
        return self.along.held_per_mm(self.neutral.curvature_per_mm)


def bend(line: Line, found: Lay, choice: FrameChoice, later: Movement | None = None) -> Bent:
    """Bend the packet for the jig: neutral line overbent for springback, then out to both faces of the packet.

    Parameters
    ----------
    line, found, choice
        The moulded line, the stack laid along it, and what the builder has settled.
    later : Movement, optional
        What the frame gains once it is cleaned off, at the points of the moulded line; the jig is set so much
        slacker. Left out: the frame has its shape as it comes off the jig.

    Raises
    ------
    BadLamination
        A face of the packet folds, or springback leaves nothing.
    """
    run = lengthened(line, choice.trim_mm)
    along = found.along(run.s_mm)
    from_outer = found.depth_mm - found.neutral_mm  # the reference: the full packet's neutral line
    straight = offset(run, found.inside_mm - found.neutral_mm, "the packet's neutral line")
    away = along.neutral_mm - from_outer
    wanted_per_mm = straight.curvature_per_mm / (1 - straight.curvature_per_mm * away)
    kappa = wanted_per_mm
    for _ in range(3):  # what is lost hangs a little on the curve in the jig itself
        share, given = (choice.spring_factor * each for each in along.loss(kappa))
        if later is not None:
            share = share - np.interp(run.s_mm, line.s_mm, later.share)
            given = given + np.interp(run.s_mm, line.s_mm, later.given)
        kappa = (wanted_per_mm - given) / np.maximum(1 - share, 0.1)
    reference = bend_back(straight, away, share, given)
    inner = offset_varied(reference, along.depth_mm - from_outer, "the inside of the packet in the jig")
    outer = offset(reference, -from_outer, "the outside of the packet in the jig")
    face, other = (inner, outer) if choice.bearing == "inside" else (outer, inner)
    wanted = offset_varied(straight, away, "the packet's neutral line")
    neutral = offset_varied(reference, away, "the packet's neutral line in the jig")
    return Bent(run.s_mm, wanted, neutral, face, other, reference, along)
