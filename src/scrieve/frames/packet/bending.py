"""The packet bent in the jig: its curve, overbent for springback, and how it lies between brackets."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from scrieve.frames.choice import FrameChoice
from scrieve.frames.packet.laminations import Lay, radii_of
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


def as_bent(found: Lay, bent: Bent) -> Lay:
    """Return the stack with the radius of each lamination as it lies in the jig, and the one it is bent through.

    What the jig allows for cleaning off is in them; when the laminations were chosen it was not known yet.
    """
    along, kappa = bent.along, bent.neutral.curvature_per_mm
    assert along is not None
    if len(along.sorts) == 1:  # one stack throughout: each radius is tightest where the curve bends most either way
        ends = [int(np.argmin(kappa)), int(np.argmax(kappa))]
        along, kappa = replace(along, sort=along.sort[:1].repeat(2)), kappa[ends]
    inboard = along.middles_mm - along.neutral_mm[:, None]
    lies = np.where(along.present, kappa[:, None] / (1 - kappa[:, None] * inboard), 0.0)
    bends = np.where(along.present, lies * (1 - along.set_share) - along.set_per_mm, 0.0)
    return replace(found, radius_mm=radii_of(lies), bend_mm=radii_of(bends))
