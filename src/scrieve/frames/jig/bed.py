"""The bed: the jig described once, how a packet is posed on it, and where rails and extra brackets meet it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, Literal

import numpy as np

from scrieve.errors import BadJig
from scrieve.frames.choice import FrameChoice
from scrieve.frames.packet.bending import Bent
from scrieve.frames.packet.held import Held, widest
from scrieve.frames.parts import Array
from scrieve.frames.shape.line import Line

#: Steepest lie of the face on a rail before another pose is tried, and before the jig is refused [rad].
STEEP, TOO_STEEP = math.radians(70), math.radians(80)

#: Places tried for the second bracket at each end: inwards of the end rail, as shares of the pitch, and from the
#: packet's end along the face; nowhere nearer to the end rail's bracket than brackets are wide.
DOUBLED_AT = (0.5, 0.35, 0.2)
FROM_END_MM = (15.0, 35.0, 55.0)
LEAST_APART_MM = 40.0

#: The bracket's travel is read on a rule to half a millimetre.
TRAVEL_STEP_MM = 0.5

#: Fewest brackets on which a packet has a curve at all.
LEAST_BRACKETS = 3

#: Most by which the packet may leave the wanted curve between brackets: shop default, no source.
ERROR_LIMIT_MM = 1.0
#: The same with what is lost in print.
HELD_MM = ERROR_LIMIT_MM + 0.005

#: Rails under a packet: place along the datum line [mm] and number, left to right.
Rails = list[tuple[float, int]]


@dataclass(frozen=True, slots=True)
class JigBed:
    """The jig as it stands in the shop, described once. Shop defaults, no source: measure your own.

    Attributes
    ----------
    length_mm, depth_mm : float
        The bed along its datum line, and out from it.
    rails, pitch_mm, first_mm : int, float, float
        Rails square to the datum line (or columns of holes), middle to middle, the first so far from the left end.
    row_mm : float or None
        Rows of holes so far apart, out from the datum line; None for rails along which a bracket slides.
    brackets : int
        How many there are.
    travel_least_mm, travel_most_mm : float
        Least and most travel of a bracket's bearing face: from the datum line on rails, from its hole on a grid.
    swivel_most_rad : float
        The stop of a bracket's swivel, either way.
    bearing : 'inside' or 'outside'
        The face of the packet that lies against the brackets.
    face_width_mm, face : float, 'flat' or 'round'
        A bracket's face. A flat one touches a hollow packet with both its edges, and its middle stands off.
    between : bool
        Whether a bracket can be clamped between two rails.
    move_min, mm_min, frame_min, swivel_min : float
        Minutes to loosen, move and fix one bracket, for each mm of its travel, for each frame whatever is moved, and
        to set one swivel (0 where the face finds its own angle on the packet).
    """

    length_mm: float = 4000.0
    depth_mm: float = 2000.0
    rails: int = 16
    pitch_mm: float = 250.0
    first_mm: float = 125.0
    row_mm: float | None = None
    brackets: int = 16
    travel_least_mm: float = 40.0
    travel_most_mm: float = 1900.0
    swivel_most_rad: float = STEEP
    bearing: Literal["inside", "outside"] = "inside"
    face_width_mm: float = 40.0
    face: Literal["flat", "round"] = "flat"
    between: bool = True
    move_min: float = 1.5
    mm_min: float = 0.004
    frame_min: float = 0.0
    swivel_min: float = 0.0

    def __post_init__(self) -> None:
        above = ("length_mm", "depth_mm", "pitch_mm", "travel_most_mm", "swivel_most_rad", "face_width_mm")
        for name in [field.name for field in fields(self) if field.type == "float"]:
            value = getattr(self, name)
            good = isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
            least = "above zero" if name in above else "not below zero"
            self._must(name, good and (value > 0 if name in above else value >= 0), f"give a number {least}")
        for name in ("rails", "brackets"):
            value = getattr(self, name)
            self._must(
                name,
                isinstance(value, int) and value >= LEAST_BRACKETS,
                f"give a whole number, {LEAST_BRACKETS} or more",
            )
        self._must("row_mm", self.row_mm is None or self.row_mm > 0, "give the rows' distance, or none for rails")
        self._must("bearing", self.bearing in ("inside", "outside"), "say inside or outside")
        self._must("face", self.face in ("flat", "round"), "say flat or round")
        self._must("swivel_most_rad", self.swivel_most_rad <= TOO_STEEP, f"{math.degrees(TOO_STEEP):.0f}° at most")
        self._must("travel_most_mm", self.travel_most_mm > self.travel_least_mm, "the most lies above the least travel")
        span = self.first_mm + (self.rails - 1) * self.pitch_mm
        self._must("rails", span <= self.length_mm, f"{span:.0f} mm of rails lie on {self.length_mm:.0f} mm of bed")
        self._must("pitch_mm", self.pitch_mm >= self.face_width_mm, "brackets on neighbouring rails would touch")

    def _must(self, name: str, good: bool, remedy: str) -> None:
        if not good:
            raise BadJig(f"jig, {name}: found {getattr(self, name)!r}; {remedy}.")

    def checked(self) -> JigBed:
        """The same bed, as it is described now: travels that reach past its far edge are slips. One that was kept with
        them before goes on being read; what stands off the bed is refused frame by frame.

        Raises
        ------
        BadJig
            The most travel is longer than the bed is deep.

        Examples
        --------
        >>> JigBed(depth_mm=1200.0).checked()
        Traceback (most recent call last):
        ...
        scrieve.errors.BadJig: jig, travel_most_mm: found 1900.0; give 1200 mm at most, the depth of the bed.
        """
        deep = f"give {self.depth_mm:g} mm at most, the depth of the bed"
        self._must("travel_most_mm", self.travel_most_mm <= self.depth_mm, deep)
        return self

    @property
    def ends_mm(self) -> tuple[float, float]:
        """Both ends of the bed along the datum line, from rail 1 [mm]."""
        return -self.first_mm, self.length_mm - self.first_mm

    @property
    def along_mm(self) -> Array:
        """(rails,) places of the rails from rail 1 [mm]."""
        return self.pitch_mm * np.arange(self.rails, dtype=float)

    def over_edges(self, along: tuple[float, float], out: tuple[float, float]) -> list[tuple[float, str]]:
        """By how much what reaches from and to, along and out from the datum line, stands over which edges [mm]."""
        left, right = self.ends_mm
        found = (
            (left - along[0], "the left end of the bed"),
            (along[1] - right, "the right end of the bed"),
            (out[1] - self.depth_mm, "the far edge of the bed"),
            (-out[0], "the datum line"),
        )
        return [(float(over), where) for over, where in found if over > 0]

    def reach(self, travel_mm: float) -> tuple[int, float] | None:
        """Row of holes and travel from it that bring a face so far from the datum line; None where none do.

        Rows count from 1 at the datum line; 0 stands for rails.

        Of several rows the one farthest out is taken, that the arm be short.
        """
        if self.row_mm is None:
            return (0, travel_mm) if self.travel_least_mm <= travel_mm <= self.travel_most_mm else None
        row = math.floor((travel_mm - self.travel_least_mm) / self.row_mm + 1e-9)
        rest = travel_mm - row * self.row_mm
        fits = 0 <= row * self.row_mm <= self.depth_mm and rest <= self.travel_most_mm
        return (row + 1, rest) if fits else None

    def standoff_mm(self, hollow_per_mm: Array) -> Array:
        """How far the middle of a bracket's face stands off a packet hollow towards it: w² κ / 8 [mm]."""
        if self.face == "round":
            return np.zeros_like(hollow_per_mm)
        return np.asarray(self.face_width_mm**2 / 8 * np.maximum(hollow_per_mm, 0.0))

    @classmethod
    def of(cls, choice: FrameChoice) -> JigBed:
        """A bed of the usual size with the rails and the bearing face of one frame's choice."""
        usual = cls()
        rails = max(LEAST_BRACKETS, int(usual.length_mm // choice.pitch_mm))
        return cls(
            length_mm=max(usual.length_mm, rails * choice.pitch_mm),
            rails=rails,
            pitch_mm=choice.pitch_mm,
            first_mm=choice.pitch_mm / 2,
            brackets=max(usual.brackets, rails + 4),
            travel_least_mm=min(usual.travel_least_mm, choice.clearance_mm),
            bearing=choice.bearing,
            face_width_mm=min(usual.face_width_mm, choice.pitch_mm),
        )

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any]) -> JigBed:
        """Read a bed from plain values, as JSON gives them.

        Raises
        ------
        BadJig
            A name is not known, or a value cannot be used.

        Examples
        --------
        >>> bed = JigBed.from_mapping({"rails": 12, "pitch_mm": 200.0, "row_mm": 50.0})
        >>> JigBed.from_mapping(bed.to_mapping()) == bed
        True
        """
        known = [field.name for field in fields(cls)]
        if strange := [name for name in given if name not in known]:
            raise BadJig(f"jig: {strange[0]!r} is not known; a jig is described by {', '.join(known)}.")
        return cls(**given)

    def to_mapping(self) -> dict[str, Any]:
        """Return the bed as plain values, fit for JSON."""
        return asdict(self)


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """One way to set the brackets, k of them from the heel.

    `start_mm` is the first rail's place along the datum line; `places` pairs the place of each bracket with its rail
    (0: an extra one); `at` (k,) is where each meets the face, as a running index. `error_mm`, `girth_mm` and `shear`
    (k,) are as `Held.departure` gives them.
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

    def __init__(self, along: Array, bent: Bent, choice: FrameChoice, apart_mm: float = LEAST_APART_MM) -> None:
        self.along, self.bent, self.choice, self.apart_mm = along, bent, choice, apart_mm
        self.low, self.high = float(along.min()), float(along.max())
        self.leftwards = choice.bearing == "inside"
        self._sign = -1.0 if self.leftwards else 1.0
        self._rising, self._index = self._sign * along, np.arange(len(along), dtype=float)
        self._held, self._enough = Held(bent), 0

    def best(self, pitch: float, on_rails: Rails | None = None) -> Way:
        """The setting that holds the packet to the limit with the fewest brackets and least force, else the truest.

        Raises
        ------
        BadJig
            The pitch leaves fewer than three rails under the packet.
        """
        tried: list[Way] = []
        for _, alike in itertools.groupby(self._ways(pitch, on_rails), key=lambda way: len(way.places)):
            ways = list(alike)  # of so many brackets, the fewest first: more are not tried where these hold it
            if held := [way for way in ways if way.error_mm <= ERROR_LIMIT_MM]:
                return min(held, key=lambda way: float(np.abs(way.shear).max()))
            tried += ways
        return min(tried, key=lambda way: way.error_mm)

    def pitch_for(self, limit_mm: float) -> float:
        """The pitch, by tens of mm from 50 to 500, up to which every one holds the packet to a limit; 0: none does."""
        return widest(range(50, 510, 10), limit_mm, lambda pitch: self._off(pitch, limit_mm))

    def _off(self, pitch: float, limit_mm: float) -> float:
        """How far the packet leaves its curve on rails at a pitch, with extra brackets or without, once within a limit;
        infinite where nothing keeps it.
        """
        if self.high - self.low < (LEAST_BRACKETS - 1) * pitch:
            return math.inf
        on_rails = self._shared(pitch)
        extras = list(self._extras(on_rails[0][0], on_rails[-1][0], pitch))
        extras.sort(key=lambda extra: len(extra) != self._enough)  # as many as did at the pitch before: likely again
        for extra in extras:
            _, _, stations = self._set(on_rails, extra)
            off = self._held.most(stations)
            if off <= limit_mm:
                self._enough = len(extra)
                return off
        return math.inf

    def _ways(self, pitch: float, on_rails: Rails | None = None) -> Iterator[Way]:
        """Rails alone, then with the ends doubled at the packet's ends, inwards of the end rails, or both.

        Without rails given, what the pitch leaves over is shared by both ends; extra brackets go to the nearest mm
        from the first rail.
        """
        if on_rails is None:
            on_rails = self._shared(pitch)
        start = on_rails[0][0]
        for extra in self._extras(start, on_rails[-1][0], pitch):
            places, at, stations = self._set(on_rails, extra)
            yield Way(start, tuple(places), at, *self._held.departure(stations))

    def _set(self, on_rails: Rails, extra: tuple[float, ...]) -> tuple[Rails, Array, Array]:
        """Brackets on rails and extra ones from the heel; where they meet the face, and along the neutral line."""
        start = on_rails[0][0]
        places = sorted([*on_rails, *((start + round(place - start), 0) for place in extra)], reverse=self.leftwards)
        at = self._meet([place for place, _ in places])
        return places, at, np.interp(at, self._index, self.bent.neutral.s_mm)

    def _shared(self, pitch: float) -> Rails:
        rails = math.floor((self.high - self.low) / pitch + 1e-9) + 1
        if rails < LEAST_BRACKETS:
            raise BadJig(
                f"frame {self.choice.frame}: {self.high - self.low:.0f} mm of packet lie on {rails} "
                f"rail{'' if rails == 1 else 's'} at a pitch "
                f"of {pitch:g} mm; give a pitch of {(self.high - self.low) / (LEAST_BRACKETS - 1):.0f} mm or less."
            )
        start = self.low + (self.high - self.low - (rails - 1) * pitch) / 2
        return [(start + rail * pitch, rail + 1) for rail in range(rails)]

    def _extras(self, first: float, last: float, pitch: float) -> Iterator[tuple[float, ...]]:
        """Extra brackets to try, as places along the datum line; none first."""
        yield ()
        if not self.choice.double_ends:
            return
        girth = self.bent.face.s_mm
        rails = np.interp(self._meet([first, last]), np.arange(len(girth)), girth)
        free = float(np.abs(rails[:, None] - girth[[0, -1]]).min()) - self.apart_mm
        inwards = [
            (first + share * pitch, last - share * pitch)
            for share in DOUBLED_AT
            if min(share, 1 - share) * pitch >= self.apart_mm
        ]
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
        return np.asarray(np.interp(self._sign * np.array(places), self._rising, self._index))
