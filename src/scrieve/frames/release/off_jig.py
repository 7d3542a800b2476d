"""A designed frame as it is to come off the jig: the line to measure against, and the wood and stiffness there are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Literal

import numpy as np

from scrieve.errors import BadGeometry
from scrieve.frames.choice import FrameChoice
from scrieve.frames.design import FrameDesign
from scrieve.frames.ripping import half_stiffness
from scrieve.frames.shape.displacement import Array, Target

Face = Literal["outside", "moulded line", "inside"]

#: Places along the frame at which a glue-up is kept.
KEPT_PLACES = 161


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


@dataclass(frozen=True, slots=True, eq=False)
class Glued:
    """A pair as it was set on the jig: all that a measured release is held against, whatever is changed afterwards.

    It is kept with the record of the glue-up, so that a hull faired anew, or a factor learnt since, does not move the
    line that this frame was to have.

    Attributes
    ----------
    frame, timber, glue : str
        Label; timbers of the packet ('sapele/larch'); family of glue.
    revision : str
        Of the design.
    factor_used : float
        The factor that the jig was set with.
    girth_mm : ndarray (m,)
        Places along the moulded line, heel to head.
    off_jig_mm, wanted_mm : ndarray (m, 2)
        The moulded line as predicted off the jig, and on the fair hull: half-breadth and height.
    lost_per_mm : ndarray (m,)
        Curvature along the girth that theory loses on release, without any factor [1/mm].
    ei_nmm2 : ndarray (m,)
        Bending stiffness of one half before planing.
    outside_spare_mm, inside_spare_mm : ndarray (m,)
        Wood beyond the finished frame on each face.
    outside_mm, inside_mm : float
        From the moulded line to the packet's outside and inside.
    stepped : bool
        Whether laminations are dropped, so that the inside steps.
    """

    frame: str
    timber: str
    glue: str
    revision: str
    factor_used: float
    girth_mm: Array
    off_jig_mm: Array
    wanted_mm: Array
    lost_per_mm: Array
    ei_nmm2: Array
    outside_spare_mm: Array
    inside_spare_mm: Array
    outside_mm: float
    inside_mm: float
    stepped: bool

    def face(self, face: Face = "outside") -> OffJig:
        """What a line of the released frame is compared with.

        Raises
        ------
        BadGeometry
            The inside is asked for where laminations are dropped.
        """
        if face == "inside" and self.stepped:
            raise BadGeometry("the inside of this packet steps where laminations are dropped; measure its outside.")
        by = {"outside": self.outside_mm, "moulded line": 0.0, "inside": -self.inside_mm}[face]
        expected, wanted = (_parallel(self.girth_mm, points, by) for points in (self.off_jig_mm, self.wanted_mm))
        return OffJig(
            face=face,
            girth_mm=self.girth_mm,
            target=expected,
            finished=wanted,
            lost_per_mm=self.lost_per_mm / np.gradient(expected.s_mm, self.girth_mm),
            ei_nmm2=self.ei_nmm2,
            outside_spare_mm=self.outside_spare_mm,
            inside_spare_mm=self.inside_spare_mm,
            factor_used=self.factor_used,
        )

    def to_mapping(self) -> dict[str, Any]:
        """Plain values fit for JSON, at `KEPT_PLACES` places; `from_mapping` reads them back."""
        at = np.linspace(self.girth_mm[0], self.girth_mm[-1], min(KEPT_PLACES, len(self.girth_mm)))
        plain: dict[str, Any] = {}
        for each in fields(self):
            value = getattr(self, each.name)
            if isinstance(value, np.ndarray):
                value = _rounded(_at(self.girth_mm, value, at))
            plain[each.name] = value
        return plain

    @classmethod
    def from_mapping(cls, plain: Mapping[str, Any]) -> Glued:
        """Read back what `to_mapping` wrote.

        Raises
        ------
        BadGeometry
            It is not whole.
        """
        try:
            values = {each.name: plain[each.name] for each in fields(cls)}
            arrays = {name: np.array(value, dtype=float) for name, value in values.items() if isinstance(value, list)}
        except (KeyError, TypeError, ValueError) as error:
            raise BadGeometry("what was kept of the glue-up cannot be read; measure against a new design.") from error
        return cls(**{**values, **arrays})


def as_glued(design: FrameDesign, revision: str = "") -> Glued:
    """The pair of a design as it is set on the jig.

    References
    ----------
    .. [1] docs/glue-up.md, "Deviation": a parallel of the moulded line turns with it, so its curvature changes by
       δκ ds / ds'.
    """
    seen, blank, packet, jig = design.prediction, design.blank, design.packet, design.jig
    girth = seen.s_mm
    neutral = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(jig.neutral_mm, axis=0).T))])
    lost = design.springback / design.choice.spring_factor * jig.curvature_per_mm * np.gradient(neutral, jig.s_mm)
    outline = design.outline
    shift, moulded = (np.interp(girth, outline.s_mm, values) for values in (outline.shift_mm, outline.moulded_mm))
    depth = _depth(design, girth)
    one = half_stiffness(1.0, blank.siding_mm, design.choice.sided_mm)
    timber, glue = timber_and_glue(design.choice)
    return Glued(
        frame=design.choice.frame,
        timber=timber,
        glue=glue,
        revision=revision,
        factor_used=design.choice.spring_factor,
        girth_mm=girth,
        off_jig_mm=seen.off_jig_mm,
        wanted_mm=_moulded(design, girth),
        lost_per_mm=np.interp(girth, jig.s_mm, lost),
        ei_nmm2=packet.glued_ei_nmm2 * one * (depth / packet.depth_mm) ** 3,
        outside_spare_mm=blank.outside_mm - np.maximum(shift, 0.0),
        inside_spare_mm=depth - blank.outside_mm - (moulded - np.minimum(shift, 0.0)),
        outside_mm=blank.outside_mm,
        inside_mm=blank.inside_mm,
        stepped=any(each.first_mm is not None or each.last_mm is not None for each in packet.laminations),
    )


def timber_and_glue(choice: FrameChoice) -> tuple[str, str]:
    """What a springback factor is learnt for: timbers as they lie in the packet ('sapele/larch'), family of glue."""
    timbers = "/".join(dict.fromkeys(timber for timber, _ in choice.stack)) if choice.stack else choice.timber
    return timbers.replace(" / ", "/").strip().lower(), choice.glue.strip().lower()


def off_jig(design: FrameDesign, face: Face = "outside") -> OffJig:
    """What the released frame of a design is to be compared with, by the line that the builder measures.

    The inside steps where laminations are dropped: measure the outside there.

    Raises
    ------
    BadGeometry
        The inside is asked for where laminations are dropped.
    """
    return as_glued(design).face(face)


def _at(girth: Array, values: Array, at: Array) -> Array:
    if values.ndim == 1:
        return np.asarray(np.interp(at, girth, values))
    return np.column_stack([np.interp(at, girth, column) for column in values.T])


def _rounded(values: Array) -> list[Any]:
    """Seven figures of every number: a hundredth of a mm in a frame of a hundred metres."""
    found: list[Any] = np.array([float(f"{value:.7g}") for value in values.ravel()]).reshape(values.shape).tolist()
    return found


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
