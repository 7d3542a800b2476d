"""A designed frame as it is to come off the jig: the line to measure against, and the wood and stiffness there are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from scrieve.errors import BadGeometry
from scrieve.frames.design import FrameDesign
from scrieve.frames.displacement import Array, Target
from scrieve.frames.ripping import half_stiffness

Face = Literal["outside", "moulded line", "inside"]


@dataclass(frozen=True, slots=True, eq=False)
class OffJig:
    """What a released frame is compared with, at m places of the moulded line between heel and head.

    Attributes
    ----------
    face : 'outside', 'moulded line' or 'inside'
        The line measured: a face of the packet, or the moulded line drawn on it.
    girth_mm : ndarray (m,)
        Girth of the moulded line at each place: where the bevel marks are.
    target : Target
        The line as predicted off the jig, by its own arc length.
    finished : Target
        The same line of the finished frame, if the fair hull is met.
    lost_per_mm : ndarray (m,)
        Curvature along `target` that theory loses on release, without the learnt factor [1/mm].
    ei_nmm2 : ndarray (m,)
        Bending stiffness of one half before planing [N mm²]; ripped off, the blank's is the double and its kerf.
    outside_spare_mm, inside_spare_mm : ndarray (m,)
        Wood outside and inside the finished frame, the worse of its two faces at each place, all cleaning included.
    factor_used : float
        The factor that the jig was set with.
    """

    face: Face
    girth_mm: Array
    target: Target
    finished: Target
    lost_per_mm: Array
    ei_nmm2: Array
    outside_spare_mm: Array
    inside_spare_mm: Array
    factor_used: float

    def along(self, girth_mm: Array) -> Array:
        """Places along `target` of places given by the moulded line's girth."""
        return np.asarray(np.interp(girth_mm, self.girth_mm, self.target.s_mm))


def off_jig(design: FrameDesign, face: Face = "outside") -> OffJig:
    """What the released frame of a design is to be compared with.

    Parameters
    ----------
    design : FrameDesign
    face : 'outside', 'moulded line' or 'inside'
        Which line the builder measures. The inside steps where laminations are dropped: measure the outside there.

    Returns
    -------
    OffJig

    Raises
    ------
    BadGeometry
        The inside is asked for where laminations are dropped.

    References
    ----------
    .. [1] docs/glue-up.md, "Deviation": a parallel of the moulded line turns with it, so its curvature changes by
       δκ ds / ds'.
    """
    seen, blank, packet = design.prediction, design.blank, design.packet
    if face == "inside" and any(each.first_mm is not None or each.last_mm is not None for each in packet.laminations):
        raise BadGeometry("the inside of this packet steps where laminations are dropped; measure its outside.")
    by = {"outside": blank.outside_mm, "moulded line": 0.0, "inside": -blank.inside_mm}[face]
    girth = seen.s_mm
    expected, wanted = (_parallel(girth, points, by) for points in (seen.off_jig_mm, _moulded(design, girth)))

    jig = design.jig
    neutral = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(jig.neutral_mm, axis=0).T))])
    lost = design.springback / design.choice.spring_factor * jig.curvature_per_mm * np.gradient(neutral, jig.s_mm)
    per_girth = np.interp(girth, jig.s_mm, lost)

    outline = design.outline
    shift, moulded = (np.interp(girth, outline.s_mm, values) for values in (outline.shift_mm, outline.moulded_mm))
    depth = _depth(design, girth)
    one = half_stiffness(1.0, blank.siding_mm, design.choice.sided_mm)
    return OffJig(
        face=face,
        girth_mm=girth,
        target=expected,
        finished=wanted,
        lost_per_mm=per_girth / np.gradient(expected.s_mm, girth),
        ei_nmm2=packet.glued_ei_nmm2 * one * (depth / packet.depth_mm) ** 3,
        outside_spare_mm=blank.outside_mm - np.maximum(shift, 0.0),
        inside_spare_mm=depth - blank.outside_mm - (moulded - np.minimum(shift, 0.0)),
        factor_used=design.choice.spring_factor,
    )


def _moulded(design: FrameDesign, girth: Array) -> Array:
    outline = design.outline
    return np.column_stack([np.interp(girth, outline.s_mm, outline.moulding_outer_mm[:, axis]) for axis in (0, 1)])


def _parallel(girth: Array, points: Array, by_mm: float) -> Target:
    """The parallel of a line at a distance outward, by its own arc length."""
    line = Target(girth, points)
    moved = points + by_mm * line.outward
    s = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(moved, axis=0).T))])
    return Target(s, moved)


def _depth(design: FrameDesign, girth: Array) -> Array:
    """(m,) depth of the packet at each place: dropped laminations are not there."""
    depth = np.zeros_like(girth)
    for each in design.packet.laminations:
        first = -np.inf if each.first_mm is None else each.first_mm
        last = np.inf if each.last_mm is None else each.last_mm
        depth += np.where((girth >= first) & (girth <= last), each.thickness_mm, 0.0)
    return depth
