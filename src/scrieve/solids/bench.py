"""A frame on the jig: bed, brackets and laminations; along the datum line, out from it, and up."""

from __future__ import annotations

import numpy as np

from scrieve.frames.design import FrameDesign
from scrieve.frames.parts import Lamination
from scrieve.solids.body import Array, Kind, Net, Solid, box, swept

#: Sizes of what the jig is drawn with: only the places of brackets and packet are the builder's own.
BED_THICK_MM = 40.0
BRACKET_MM = (60.0, 80.0)
_EVERY_MM = 12.0


def jig_solids(design: FrameDesign) -> tuple[Solid, ...]:
    """The bed, each bracket at its travel and swivel, and each lamination of the packet as it lies in the jig.

    The blank lies on the bed's face on its side, its siding standing up.
    """
    jig, packet = design.jig, design.packet
    high = packet.width_mm
    away = 1.0 if _beyond(design) else -1.0
    found = []
    everything = np.vstack([jig.face_mm, jig.other_mm, [[bracket.along_mm, 0.0] for bracket in jig.brackets]])
    low, top = everything.min(axis=0) - 150, everything.max(axis=0) + 150
    centre = np.append((low + top) / 2, -BED_THICK_MM / 2)
    found.append(_solid("bed", "jig", "Bed", box(centre, np.append(top - low, BED_THICK_MM))))
    for bracket in jig.brackets:
        cos, sin = np.cos(bracket.swivel_rad), np.sin(bracket.swivel_rad)
        # the bracket's bearing face meets the packet; its body stands behind
        behind = np.array([bracket.along_mm, bracket.travel_mm]) - away * BRACKET_MM[1] / 2 * np.array([-sin, cos])
        body = box(np.append(behind, high / 2), [BRACKET_MM[0], BRACKET_MM[1], high], bracket.swivel_rad)
        found.append(_solid(f"bracket {bracket.number}", "jig", f"Bracket {bracket.number}", body))
    for lamination, (near, far) in zip(packet.laminations, layers(design), strict=True):
        found.append(
            _solid(
                f"lamination {lamination.number}",
                "packet",
                f"Lamination {lamination.number}, {lamination.timber}",
                _strip(near, far, high),
            )
        )
    return tuple(found)


def layers(design: FrameDesign) -> list[tuple[Array, Array]]:
    """Both faces of each lamination, 1 the inside of the bend, as far as it reaches; (n, 2) each, on the bed."""
    jig = design.jig
    inside, outside = (jig.face_mm, jig.other_mm) if jig.bearing == "inside" else (jig.other_mm, jig.face_mm)
    there = np.array([_reaches(each, jig.s_mm) for each in design.packet.laminations])
    thick = there * np.array([each.thickness_mm for each in design.packet.laminations])[:, None]
    upto = np.vstack([np.zeros(len(jig.s_mm)), np.cumsum(thick, axis=0)])
    share = upto / upto[-1]
    keep = np.unique(np.searchsorted(jig.s_mm, np.arange(jig.s_mm[0], jig.s_mm[-1] + _EVERY_MM, _EVERY_MM)).clip(
        0, len(jig.s_mm) - 1))  # fmt: skip
    found = []
    for i, here in enumerate(there):
        at = keep[here[keep]]
        near, far = (inside[at] + share[k][at, None] * (outside[at] - inside[at]) for k in (i, i + 1))
        found.append((near, far))
    return found


def _reaches(lamination: Lamination, s_mm: Array) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    first = -np.inf if lamination.first_mm is None else lamination.first_mm
    last = np.inf if lamination.last_mm is None else lamination.last_mm
    return np.asarray((s_mm >= first) & (s_mm <= last))


def _beyond(design: FrameDesign) -> bool:
    """Whether the packet lies beyond the brackets' faces as seen from the datum line."""
    jig = design.jig
    return float((jig.other_mm - jig.face_mm)[:, 1].mean()) > 0


def _strip(near: Array, far: Array, high: float) -> Net:
    """One lamination standing on the bed, from face to face."""
    (ahead, up), (across, out) = near[-1] - near[0], far[0] - near[0]
    turned = ahead * out - up * across > 0
    a, b = (near, far) if turned else (far, near)
    below, above = (
        np.stack([np.column_stack([line, np.full(len(line), z)]) for line in (a, b)], axis=1) for z in (0.0, high)
    )
    return swept(below, above)


def _solid(key: str, kind: Kind, name: str, net: Net) -> Solid:
    return Solid(key, kind, *net, name)
