"""The bed of rails: how the packet is posed on it, and where rails and extra brackets meet the packet."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from scrieve.errors import BadJig
from scrieve.frames.bending import Bent, between_brackets
from scrieve.frames.choice import FrameChoice
from scrieve.frames.line import Line
from scrieve.frames.parts import Array

#: Steepest lie of the face on a rail before another pose is tried, and before the jig is refused [rad].
STEEP, TOO_STEEP = math.radians(70), math.radians(80)

#: Places tried for the second bracket at each end: inwards of the end rail, as shares of the pitch, and from the
#: packet's end along the face; nowhere nearer to the end rail's bracket than brackets are wide.
DOUBLED_AT = (0.5, 0.35, 0.2)
FROM_END_MM = (15.0, 35.0, 55.0)
LEAST_APART_MM = 40.0

#: Fewest brackets on which a packet has a curve at all.
LEAST_BRACKETS = 3

#: Most by which the packet may leave the wanted curve between brackets: shop default, no source.
ERROR_LIMIT_MM = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Setting:
    """One way to set the brackets, k of them from the heel.

    `start_mm` is the first rail's place along the datum line; `places` pairs the place of each bracket with its rail
    (0: an extra one); `at` (k,) is where each meets the face, as a running index. `error_mm`, `girth_mm` and `shear`
    (k,) are as `between_brackets` gives them.
    """

    start_mm: float
    places: tuple[tuple[float, int], ...]
    at: Array
    error_mm: float
    girth_mm: float
    shear: Array


def pose_of(face: Line, choice: FrameChoice) -> tuple[Literal["chord", "balanced"], float]:
    """How far to turn the section's axes so that the face lies along the datum line, heel to head left or right."""
    wanted = math.pi if choice.bearing == "inside" else 0.0
    across, up = face.points_mm[-1] - face.points_mm[0]
    chord = math.atan2(up, across)
    lean = face.angle_rad - chord
    lean = lean - 2 * math.pi * round(float(np.mean(lean)) / (2 * math.pi))
    if float(np.abs(lean).max()) <= STEEP:
        return "chord", wanted - chord
    middle = (float(face.angle_rad.max()) + float(face.angle_rad.min())) / 2
    half = (float(face.angle_rad.max()) - float(face.angle_rad.min())) / 2
    if half > TOO_STEEP:
        raise BadJig(
            f"frame {choice.frame}: the packet turns through {math.degrees(2 * half):.1f}° in the jig and doubles back "
            f"over the rails; one bracket on each rail can hold {math.degrees(2 * TOO_STEEP):.0f}° at most. Take less "
            "trimming allowance, laminate it in two lengths with a scarf, or bend it round a solid former."
        )
    return "balanced", wanted - middle


class Bed:
    """Where rails and extra brackets meet the face of one packet, lying `along` the datum line."""

    def __init__(self, along: Array, bent: Bent, choice: FrameChoice) -> None:
        self.along, self.bent, self.choice = along, bent, choice
        self.low, self.high = float(along.min()), float(along.max())
        self.leftwards = choice.bearing == "inside"

    def best(self, pitch: float) -> Setting:
        """The setting that holds the packet to the limit with the fewest brackets and least force, else the truest.

        Raises
        ------
        BadJig
            The pitch leaves fewer than three rails under the packet.
        """
        ways = list(self._ways(pitch))
        held = [way for way in ways if way.error_mm <= ERROR_LIMIT_MM]
        if held:
            return min(held, key=lambda way: (len(way.places), float(np.abs(way.shear).max())))
        return min(ways, key=lambda way: way.error_mm)

    def pitch_for(self, limit_mm: float) -> float:
        """The pitch, by tens of mm from 50 to 500, up to which every one holds the packet to a limit; 0: none does."""
        holds = 0.0
        for pitch in range(50, 510, 10):
            few = self.high - self.low < (LEAST_BRACKETS - 1) * pitch
            if few or all(way.error_mm > limit_mm for way in self._ways(pitch)):
                break
            holds = float(pitch)
        return holds

    def _ways(self, pitch: float) -> Iterator[Setting]:
        """Rails alone, then with the ends doubled at the packet's ends, inwards of the end rails, or both.

        What the pitch leaves over is shared by both ends; extra brackets go to the nearest mm from rail 1.
        """
        rails = math.floor((self.high - self.low) / pitch + 1e-9) + 1
        if rails < LEAST_BRACKETS:
            raise BadJig(
                f"frame {self.choice.frame}: {self.high - self.low:.0f} mm of packet lie on {rails} rails at a pitch "
                f"of {pitch:g} mm; give a pitch of {(self.high - self.low) / (LEAST_BRACKETS - 1):.0f} mm or less."
            )
        start = self.low + (self.high - self.low - (rails - 1) * pitch) / 2
        on_rails = [(start + rail * pitch, rail + 1) for rail in range(rails)]
        for extra in self._extras(start, on_rails[-1][0], pitch):
            places = sorted(on_rails + [(start + round(place - start), 0) for place in extra], reverse=self.leftwards)
            at = self._meet([place for place, _ in places])
            stations = np.interp(at, np.arange(len(self.along)), self.bent.neutral.s_mm)
            yield Setting(start, tuple(places), at, *between_brackets(self.bent, stations))

    def _extras(self, first: float, last: float, pitch: float) -> Iterator[tuple[float, ...]]:
        """Extra brackets to try, as places along the datum line; none first."""
        yield ()
        if not self.choice.double_ends:
            return
        girth = self.bent.face.s_mm
        rails = np.interp(self._meet([first, last]), np.arange(len(girth)), girth)
        free = float(np.abs(rails[:, None] - girth[[0, -1]]).min()) - LEAST_APART_MM
        inwards = [(first + share * pitch, last - share * pitch) for share in DOUBLED_AT]
        outwards = []
        for end in FROM_END_MM:
            if end <= free:
                at_heel, at_head = np.interp([girth[0] + end, girth[-1] - end], girth, self.along)
                outwards.append((float(at_heel), float(at_head)))
        yield from outwards
        yield from inwards
        yield from (a + b for a in outwards for b in inwards)

    def _meet(self, places: list[float]) -> Array:
        """Where each place along the datum line meets the face, as a running index from heel to head."""
        sign = -1.0 if self.leftwards else 1.0
        index = np.arange(len(self.along), dtype=float)
        return np.asarray(np.interp(sign * np.array(places), sign * self.along, index))
