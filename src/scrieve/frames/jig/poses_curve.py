"""The packet's bearing face as a curve that many poses can be tried of at once, and how it lies on brackets off it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from scrieve.errors import BadJig
from scrieve.frames.choice import FrameChoice
from scrieve.frames.jig.bed import STEEP, JigBed, pose_of
from scrieve.frames.packet.bending import Bent
from scrieve.frames.packet.lying import finished
from scrieve.frames.parts import Array

Flags = NDArray[np.bool_]

#: Points of the bearing face that are kept: on a radius of 500 mm the chord between two leaves 0.004 mm.
_STEP_MM = 4.0
#: Places along the finished frame at which the departure is looked for, to each mm of it.
_LOOK_MM = 40.0


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a packet lies on the bed.

    `along_mm` is the place of the middle of the face from rail 1 and `across_mm` that of its lowest point from the
    datum line, both as it lies with its chord along the datum line (or balanced); `turn_rad` turns it from there
    about that point, above zero anticlockwise seen from above.
    """

    along_mm: float
    across_mm: float
    turn_rad: float = 0.0

    def array(self) -> Array:
        """(3,) turn, along, across."""
        return np.array([self.turn_rad, self.along_mm, self.across_mm])


@dataclass(frozen=True, slots=True, eq=False)
class Met:
    """Where rails meet the face in each of P poses, (P, J) each: height from the datum line, lean, and running index.

    `under` tells whether the rail lies under the packet at all, a bracket's half width from its ends.
    """

    height_mm: Array
    lean_rad: Array
    index: Array
    under: Flags


class Curve:
    """The bearing face of one packet, left to right along the datum line, ready to be posed.

    Its own origin is the middle of its length along the datum line, level with its lowest point.

    Raises
    ------
    BadJig
        The packet was bent for the other bearing face, or doubles back over the rails.
    """

    def __init__(self, bent: Bent, choice: FrameChoice, bed: JigBed) -> None:
        if choice.bearing != bed.bearing:
            raise BadJig(
                f"frame {choice.frame}: its packet bears with the {choice.bearing} face, the jig takes the "
                f"{bed.bearing} face; design it for that one."
            )
        self.label = choice.frame
        self.bent, self.choice, self.bed = bent, choice, bed
        self.named, turn = pose_of(bent.face, choice)
        self.side = 1.0 if bed.bearing == "inside" else -1.0  # brackets stand to this side of the face: 1 left
        hollow = self.side * bent.face.curvature_per_mm
        self.standoff_mm = bed.standoff_mm(hollow)
        touch = bent.face.points_mm + (self.side * self.standoff_mm)[:, None] * bent.face.left
        self.turn_rad = turn
        cos, sin = np.cos(turn), np.sin(turn)
        spin = np.array([[cos, sin], [-sin, cos]])
        turned, face = touch @ spin, bent.face.points_mm @ spin
        self.origin = np.array([(face[:, 0].min() + face[:, 0].max()) / 2, face[:, 1].min()])
        self.spin = spin
        both = np.vstack([face, bent.other.points_mm @ spin]) - self.origin
        self._rim = _Rim(both)
        keep = np.unique(np.r_[np.arange(0, len(turned), max(int(_STEP_MM), 1)), len(turned) - 1])
        if bed.bearing == "inside":
            keep = keep[::-1]  # the heel lies to the right
        self.keep = keep
        placed = turned[keep] - self.origin
        self.x, self.y = placed[:, 0].copy(), placed[:, 1].copy()
        angle = bent.face.angle_rad[keep] + turn
        self.angle = (angle + np.pi / 2) % np.pi - np.pi / 2
        self._bend = np.diff(self.angle)
        self.s = bent.neutral.s_mm[keep].copy()
        self.low, self.high = float(self.x.min()), float(self.x.max())
        self._near = np.interp(np.linspace(self.low, self.high, len(keep)), self.x, np.arange(float(len(keep))))
        self._cells = np.array([self.x[:-1], self.y[:-1], np.diff(self.x), np.diff(self.y)])
        self._bending()

    def _bending(self) -> None:
        """K with K'' = κ - κ₀ along the neutral line, and the places where the departure is looked for.

        Where laminations are dropped the packet is taken to be as stiff as elsewhere; the poses chosen are reckoned
        again by its true shape.
        """
        s, kappa = self.bent.neutral.s_mm, self.bent.neutral.curvature_per_mm - self.bent.held_per_mm
        step = np.diff(s)
        slope = np.r_[0.0, np.cumsum(step * (kappa[1:] + kappa[:-1]) / 2)]
        self.fine_s = s
        self.fine_rise = np.r_[0.0, np.cumsum(step * slope[:-1] + step**2 * (2 * kappa[:-1] + kappa[1:]) / 6)]
        low, high = finished(self.bent)
        self.look_s = np.linspace(low, high, max(int((high - low) / _LOOK_MM), 12) + 1)
        self.look_rise = np.interp(self.look_s, s, self.fine_rise)

    def meet(self, poses: Array, along_mm: Array) -> Met:
        """Where rails at `along_mm` (J,) meet the face in poses (P, 3) of turn, along, across."""
        turn, shift, up = (poses[:, i][:, None] for i in range(3))
        cos, sin = np.cos(turn), np.sin(turn)
        want = along_mm[None, :] - shift
        last = len(self.x) - 1
        even = (want - self.low) * ((len(self._near) - 1) / (self.high - self.low))
        index = self._near.take(even.astype(np.intp), mode="clip")
        for _ in range(7):
            cell = np.minimum(index.astype(np.intp), last - 1)
            x, y, dx, dy = self._cells.take(cell, axis=1, mode="clip")
            part = index - cell
            miss = cos * (x + part * dx) - sin * (y + part * dy) - want
            before, step = index, miss / np.maximum(cos * dx - sin * dy, 0.2)
            index = np.minimum(np.maximum(index - step, 0.0), float(last))
            if float(np.abs(index - before).max(initial=0.0)) < 1e-6:  # rails past its ends stay there, missed
                break
        cell = np.minimum(index.astype(np.intp), last - 1)
        x, y, dx, dy = self._cells.take(cell, axis=1, mode="clip")
        part = index - cell
        x, y = x + part * dx, y + part * dy
        lean = self.angle.take(cell) + part * self._bend.take(cell) + turn
        left = cos * self.x[0] - sin * self.y[0]
        right = cos * self.x[-1] - sin * self.y[-1]
        half = self.bed.face_width_mm / 2 * np.cos(lean)
        under = (want >= left + half) & (want <= right - half) & (np.abs(cos * x - sin * y - want) < 0.02)
        return Met(sin * x + cos * y + up, lean, index, np.asarray(under))

    def slopes(self, poses: Array, along_mm: Array, met: Met) -> Array:
        """(P, J, 3) change of height for each radian of turn and each mm along and across."""
        steep = np.tan(np.clip(met.lean_rad, -1.45, 1.45))
        there = along_mm[None, :] - poses[:, 1][:, None]
        return np.stack([there + steep * (met.height_mm - poses[:, 2][:, None]), -steep, np.ones_like(steep)], axis=-1)

    def stations(self, met: Met) -> Array:
        """Places along the neutral line where the rails meet the face, like `met`."""
        return np.asarray(np.interp(met.index, np.arange(len(self.s)), self.s))

    def reference(self, rails: Array) -> Pose:
        """The pose of a frame as numbered: chord along the datum line at the clearance, what is left over shared.

        As many rails as will go lie under the packet, in the middle of the bed.
        """
        count = int((self.high - self.low) / self.bed.pitch_mm + 1e-9) + 1
        first = max((len(rails) - count) // 2, 0)
        middle = self.bed.pitch_mm * (first + (count - 1) / 2)
        return Pose(middle, max(self.choice.clearance_mm, self.bed.travel_least_mm))

    def over_edges(self, pose: Pose) -> list[tuple[float, str]]:
        """By how much the packet, both its faces, stands over which edges of the bed in a pose [mm]."""
        turn = np.array([pose.turn_rad])
        along, out = self._rim.reach(turn), self._rim.reach(turn - np.pi / 2)
        return self.bed.over_edges(
            *(
                (float(low[0] + by), float(high[0] + by))
                for (low, high), by in ((along, pose.along_mm), (out, pose.across_mm))
            )
        )

    def on_bed(self, poses: Array) -> Flags:
        """(P,) whether the whole packet, both faces and trimming allowances, lies on the bed in poses (P, 3)."""
        turn, along, up = poses.T
        left, right = self.bed.ends_mm
        heel, head = self._rim.reach(turn)
        low, high = self._rim.reach(turn - np.pi / 2)
        inside = (heel + along >= left) & (head + along <= right)
        return np.asarray(inside & (low + up >= 0.0) & (high + up <= self.bed.depth_mm))

    def fits(self, met: Met, poses: Array) -> Flags:
        """(P,) whether packet and brackets go on the bed: within its edges, travel and swivel, three at least."""
        bed = self.bed
        low = np.where(met.under, met.height_mm, np.inf).min(axis=1)
        high = np.where(met.under, met.height_mm, -np.inf).max(axis=1)
        lean = np.where(met.under, np.abs(met.lean_rad), 0.0).max(axis=1)
        most = bed.travel_most_mm if bed.row_mm is None else bed.depth_mm
        count = met.under.sum(axis=1)
        return np.asarray(
            (low >= bed.travel_least_mm)
            & (high <= most)
            & (lean <= min(bed.swivel_most_rad, STEEP))
            & (count >= 3)
            & (count <= bed.brackets)
            & self.on_bed(poses)
        )


class _Rim:
    """The convex hull of a packet, asked how far it reaches when it is turned."""

    def __init__(self, points: Array) -> None:
        self._points = points[ConvexHull(points).vertices]  # anticlockwise
        side = np.roll(self._points, -1, axis=0) - self._points
        out = np.unwrap(np.arctan2(-side[:, 0], side[:, 1]))  # which way each side faces, rising from corner to corner
        self._first, self._out = float(out[0]), out

    def reach(self, turn: Array) -> tuple[Array, Array]:
        """(P,) the least and the most along the first axis, turned by angles (P,) anticlockwise."""
        return -self._most(np.pi - turn), self._most(-turn)

    def _most(self, way: Array) -> Array:
        """(P,) how far it reaches in directions (P,): to the corner between the sides that face to both hands of it."""
        way = self._first + (way - self._first) % (2 * np.pi)
        corner = self._points[np.searchsorted(self._out, way) % len(self._points)]
        return np.asarray(corner[:, 0] * np.cos(way) + corner[:, 1] * np.sin(way))


def natural_spline(stations: Array, look: Array) -> Array:
    """(C, m, k) values at `look` (m,) of the natural splines through unit values at stations (C, k), rising.

    Past its end stations a spline runs straight on.

    References
    ----------
    .. [1] The three-moment equations: h₁M₀/6 + (h₁ + h₂)M₁/3 + h₂M₂/6 = Δy₂/h₂ - Δy₁/h₁, M = 0 at both ends.
    """
    count, k = stations.shape
    h = np.diff(stations, axis=1)
    inner = np.arange(1, k - 1)
    left, right = np.zeros((count, k, k)), np.zeros((count, k, k))
    left[:, 0, 0] = left[:, -1, -1] = 1.0
    left[:, inner, inner - 1], left[:, inner, inner + 1] = h[:, :-1] / 6, h[:, 1:] / 6
    left[:, inner, inner] = (h[:, :-1] + h[:, 1:]) / 3
    right[:, inner, inner - 1], right[:, inner, inner + 1] = 1 / h[:, :-1], 1 / h[:, 1:]
    right[:, inner, inner] = -1 / h[:, :-1] - 1 / h[:, 1:]
    moments = np.linalg.solve(left, right)
    bay = np.clip((look[None, :, None] >= stations[:, None, :]).sum(axis=2) - 1, 0, k - 2)
    width = np.take_along_axis(h, bay, axis=1)
    raw = (look[None, :] - np.take_along_axis(stations, bay, axis=1)) / width
    t = np.clip(raw, 0.0, 1.0)
    past = raw - t
    on = np.zeros((count, len(look), k))
    rows = np.arange(count)[:, None], np.arange(len(look))[None, :]
    on[(*rows, bay)] = 1 - raw
    on[(*rows, bay + 1)] = raw
    squared = width**2 / 6
    first = squared * ((1 - t) ** 3 - (1 - t)) - past * squared * np.where(past < 0, 2.0, -1.0)
    second = squared * (t**3 - t) - past * squared * np.where(past < 0, 1.0, -2.0)
    at_first = np.take_along_axis(moments, bay[:, :, None], axis=1)
    at_second = np.take_along_axis(moments, bay[:, :, None] + 1, axis=1)
    return np.asarray(on + first[:, :, None] * at_first + second[:, :, None] * at_second)
