"""The parts of a frame design: frozen values, lengths in mm, angles in radians, forces in N."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scrieve.boat import Side

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lamination:
    """One lamination; number 1 lies on the inside of the bend.

    `radius_mm` is the tightest radius of its middle line as it lies in the jig (inf where straight), `strain` the
    outer fibre's there. `developed_mm` is the length of its middle line from heel to head, `length_mm` that with the
    trimming allowance at both ends. `first_mm` and `last_mm` say where it begins and ends along the moulded line, None
    where it runs past heel or head. Before it is laid up it holds `set_share` of the jig's curve, or lies on a radius
    of `set_radius_mm`; `strain` is of what it is bent beyond that.
    """

    number: int
    timber: str
    thickness_mm: float
    modulus_mpa: float
    radius_mm: float
    strain: float
    developed_mm: float
    length_mm: float
    first_mm: float | None = None
    last_mm: float | None = None
    set_share: float = 0.0
    set_radius_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Packet:
    """The laminations together, `width_mm` being the siding of the blank for the pair.

    `neutral_mm` is the neutral line from the inside face. `loose_ei_nmm2` and `glued_ei_nmm2` are bending stiffness
    before and after gluing. `springback` is the share of the jig's curvature lost on release, the learnt factor
    included; `springback_computed` is without it.
    """

    laminations: tuple[Lamination, ...]
    width_mm: float
    depth_mm: float
    neutral_mm: float
    loose_ei_nmm2: float
    glued_ei_nmm2: float
    springback: float
    springback_computed: float


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """The finished frame on both faces, heel to head, n points on each line as (half-breadth, height).

    `moulding_outer` is the moulded line itself. `shift_mm` (n,) is how far the far face stands outside the moulding
    face, square to the line (below zero: inside, an under bevel). `moulded_mm` (n,) is the moulded depth.
    """

    s_mm: Array
    moulding_outer_mm: Array
    moulding_inner_mm: Array
    far_outer_mm: Array
    far_inner_mm: Array
    shift_mm: Array
    moulded_mm: Array


@dataclass(frozen=True, slots=True)
class BevelMark:
    """The bevel at one numbered mark of the moulded line; `wood_mm` is sided × tan of the bevel.

    `bevel_rad` is above zero where standing (wood outside the moulded line), below where under. `inner_...` are the
    same mark and bevel on the inner edge of the moulding face.
    """

    number: int
    s_mm: float
    half_breadth_mm: float
    height_mm: float
    bevel_rad: float
    word: Literal["standing", "under", "square"]
    wood_mm: float
    inner_half_breadth_mm: float = 0.0
    inner_height_mm: float = 0.0
    inner_bevel_rad: float = 0.0


@dataclass(frozen=True, slots=True)
class Blank:
    """The glued packet from which the two halves are ripped.

    `outside_mm` is how far its outer face stands outside the moulded line, `inside_mm` how far its inner face lies
    inside it. `needed_mm` is the depth that the bevelled frame needs with cleaning. `spare_mm` is the least wood left
    on either face of the packet beyond cleaning, found point by point on both faces of the frame (below zero: too
    thin), `spare_s_mm` the girth where and `spare_face` on which. `rips` are places across the siding, from the edge
    of the blank on the side of half P: the two edges are the moulding-edge faces, the sawn faces the far faces.
    """

    siding_mm: float
    depth_mm: float
    length_mm: float
    needed_mm: float
    outside_mm: float
    inside_mm: float
    spare_mm: float
    spare_s_mm: float
    spare_face: str
    rips: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class StripOrder:
    """Strips to get out of one timber: finished thickness, and as sawn."""

    timber: str
    count: int
    thickness_mm: float
    sawn_thickness_mm: float
    sawn_width_mm: float
    length_mm: float
    volume_m3: float


@dataclass(frozen=True, slots=True)
class Bracket:
    """The setting of one bracket, numbered from the heel.

    `rail` is the rail's number from the left end of the bed, or 0 for an extra bracket fixed between rails; `along_mm`
    its place along the datum line from rail 1. `travel_mm` is from the datum line to the bearing face, to 0.5 mm;
    `exact_travel_mm` before rounding. `swivel_rad` turns the bracket's face from parallel to the datum line, above
    zero anticlockwise seen from above. `s_mm` is the place along the moulded line. `force_n` is the force with which
    the loose packet bears on it (below zero: it must be clamped to it).
    """

    number: int
    rail: int
    along_mm: float
    travel_mm: float
    exact_travel_mm: float
    swivel_rad: float
    s_mm: float
    force_n: float


@dataclass(frozen=True, slots=True, eq=False)
class Jig:
    """The jig for one frame, in bed coordinates: along the datum line from rail 1, and out from it (n, 2).

    `face_mm` is the bearing face of the packet, `other_mm` its other face, `neutral_mm` the neutral line; all run
    heel to head and past both by the trimming allowance; `s_mm` (n,) is the moulded line's girth at each point
    (below zero before the heel). `heel` says at which end of the bed the heel lies. `pose` is 'chord' or 'balanced'.
    `error_mm` is the most by which the packet, free between brackets, departs from the wanted curve, at `error_s_mm`;
    `pitch_for_1mm` is the pitch up to which it keeps within 1 mm (0: none). `moment_nmm` is the most that closes
    the loose packet, `end_pull_n` the pull at the end farther from that place that makes it.
    """

    brackets: tuple[Bracket, ...]
    rails: int
    pitch_mm: float
    bearing: Literal["inside", "outside"]
    heel: Literal["left", "right"]
    pose: Literal["chord", "balanced"]
    s_mm: Array
    face_mm: Array
    other_mm: Array
    neutral_mm: Array
    curvature_per_mm: Array
    error_mm: float
    error_s_mm: float
    pitch_for_1mm: float
    moment_nmm: float
    end_pull_n: float


@dataclass(frozen=True, slots=True)
class BenchCheck:
    """A measurement that proves the setting at the bench: a length, and the sagitta at its middle where it has one.

    `ends_mm` are the two points measured between, along the datum line and out from it; `foot_mm` the point of the
    curve or the face to which the sagitta is measured from the line between them.
    """

    name: str
    how: str
    length_mm: float
    sagitta_mm: float | None = None
    ends_mm: tuple[tuple[float, float], ...] = ()
    foot_mm: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class GlueNeed:
    """Glue for the packet: `net_g` on the joints, `gross_g` with what stays in the pot, on rollers and on the floor.

    `area_m2` is of all joints together.
    """

    family: str
    joints: int
    area_m2: float
    spread_g_m2: float
    net_g: float
    gross_g: float
    waste_share: float
    source: str
    caution: str


@dataclass(frozen=True, slots=True)
class CarriedMark:
    """A mark to carry on one half; `s_mm` along the moulded line where it has a place on it."""

    hand: Side
    text: str
    s_mm: float | None = None
    half_breadth_mm: float | None = None
    height_mm: float | None = None
