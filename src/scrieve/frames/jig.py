"""The jig: the packet's curve posed on a bed of rails, the setting of each bracket, and the error between brackets."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.interpolate import CubicSpline

from scrieve.errors import BadJig
from scrieve.frames.choice import FrameChoice
from scrieve.frames.laminations import Lay
from scrieve.frames.line import Line, lengthened, offset
from scrieve.frames.parts import Array, BenchCheck, Bracket, Check, Jig
from scrieve.frames.springback import jig_line

#: The bracket's travel is read on a rule to half a millimetre.
TRAVEL_STEP_MM = 0.5

#: Steepest lie of the face on a rail before another pose is tried, and before the jig is refused [rad].
STEEP, TOO_STEEP = math.radians(70), math.radians(80)

#: Places tried for the second bracket at each end: inwards of the end rail, as shares of the pitch, and from the
#: packet's end along the face; nowhere nearer to the end rail's bracket than brackets are wide.
DOUBLED_AT = (0.2, 0.35, 0.5)
FROM_END_MM = (15.0, 35.0, 55.0)
LEAST_APART_MM = 40.0

#: Fewest brackets on which a packet has a curve at all.
LEAST_BRACKETS = 3

#: Most by which the packet may leave the wanted curve between brackets: shop default, no source.
ERROR_LIMIT_MM = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Bent:
    """The packet in the jig, in the section's axes, past heel and head by the trimming allowance.

    `girth_mm` is the moulded line's arc length at each point, `wanted` the neutral line after release, `neutral` in
    the jig, `face` the bearing face and `other` the other one.
    """

    girth_mm: Array
    wanted: Line
    neutral: Line
    face: Line
    other: Line


def bend(line: Line, found: Lay, choice: FrameChoice) -> Bent:
    """Bend the packet for the jig: neutral line overbent for springback, then out to both faces of the packet.

    Raises
    ------
    BadLamination
        A face of the packet folds, or springback leaves nothing.
    """
    run = lengthened(line, choice.trim_mm)
    wanted = offset(run, found.inside_mm - found.neutral_mm, "the packet's neutral line")
    neutral = jig_line(wanted, found.springback_computed, choice.spring_factor)
    inner = offset(neutral, found.neutral_mm, "the inside of the packet in the jig")
    outer = offset(neutral, found.neutral_mm - found.depth_mm, "the outside of the packet in the jig")
    face, other = (inner, outer) if choice.bearing == "inside" else (outer, inner)
    return Bent(run.s_mm, wanted, neutral, face, other)


def set_jig(bent: Bent, found: Lay, choice: FrameChoice, width_mm: float) -> Jig:
    """Pose the packet on the bed and set one bracket on each rail.

    The chord of the bearing face lies parallel to the datum line, its lowest point at the clearance; where a rail
    would then be met too steeply, the pose is turned until the ends lie equally steep. Brackets stand between datum
    line and packet.

    Raises
    ------
    BadJig
        The curve turns so far that no pose lets each rail meet it once, or the pitch leaves fewer than three brackets.
    """
    pose, turn = _pose(bent.face, choice)
    cos, sin = math.cos(turn), math.sin(turn)
    turned = {name: getattr(bent, name).points_mm @ np.array([[cos, sin], [-sin, cos]]) for name in _CURVES}
    along, out = turned["face"].T
    bed = _Bed(along, bent, choice)
    start, places, at = bed.best(choice.pitch_mm, choice.frame)
    shift = np.array([-start, choice.clearance_mm - float(out.min())])
    placed = {name: points + shift for name, points in turned.items()}
    error, where, shear = between_brackets(bent, bed.stations(at))
    stiffness = found.loose * width_mm
    press = stiffness if choice.bearing == "inside" else -stiffness
    brackets = tuple(
        _bracket(number, (x - start, rail), float(index), bent, placed["face"], turn, float(force) * press)
        for number, ((x, rail), index, force) in enumerate(zip(places, at, shear, strict=True), start=1)
    )
    moment, pull = _closing(bent, stiffness)
    return Jig(
        brackets=brackets,
        rails=max(rail for _, rail in places),
        pitch_mm=choice.pitch_mm,
        bearing=choice.bearing,
        heel="right" if choice.bearing == "inside" else "left",
        pose=pose,
        s_mm=bent.girth_mm,
        face_mm=placed["face"],
        other_mm=placed["other"],
        neutral_mm=placed["neutral"],
        curvature_per_mm=bent.neutral.curvature_per_mm,
        error_mm=error,
        error_s_mm=where,
        pitch_for_1mm=bed.pitch_for(ERROR_LIMIT_MM),
        moment_nmm=moment,
        end_pull_n=pull,
    )


_CURVES = ("face", "other", "neutral")


def _pose(face: Line, choice: FrameChoice) -> tuple[Literal["chord", "balanced"], float]:
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


class _Bed:
    """Where rails and extra brackets meet the face of one packet, lying `along` the datum line."""

    def __init__(self, along: Array, bent: Bent, choice: FrameChoice) -> None:
        self.along, self.bent, self.choice = along, bent, choice
        self.low, self.high = float(along.min()), float(along.max())
        self.leftwards = choice.bearing == "inside"

    def best(self, pitch: float, frame: str) -> tuple[float, list[tuple[float, int]], Array]:
        """The first rail's place, the brackets (place, rail) from the heel, and where each meets the face.

        What the pitch leaves over is shared by both ends. Of the ways to double the ends (inwards of the end rails,
        at the packet's ends, or both) the first that holds the packet to the limit is taken, else the best.
        """
        rails = math.floor((self.high - self.low) / pitch + 1e-9) + 1
        if rails < LEAST_BRACKETS:
            raise BadJig(
                f"frame {frame}: {self.high - self.low:.0f} mm of packet lie on {rails} rails at a pitch of "
                f"{pitch:g} mm; give a pitch of {(self.high - self.low) / (LEAST_BRACKETS - 1):.0f} mm or less."
            )
        over = (self.high - self.low - (rails - 1) * pitch) / 2
        start = self.low + over
        on_rails = [(start + rail * pitch, rail + 1) for rail in range(rails)]
        found: list[tuple[float, list[tuple[float, int]], Array]] = []
        for extra in self._extras(start, on_rails[-1][0], pitch):
            places = sorted(on_rails + [(place, 0) for place in extra], reverse=self.leftwards)
            at = self._meet([x for x, _ in places])
            error = between_brackets(self.bent, self.stations(at))[0]
            found.append((error, places, at))
            if error <= ERROR_LIMIT_MM:
                break
        _, places, at = min(found, key=lambda each: each[0])
        return start, places, at

    def stations(self, at: Array) -> Array:
        """(k,) places along the neutral line of running indices."""
        return np.asarray(np.interp(at, np.arange(len(self.along)), self.bent.neutral.s_mm))

    def pitch_for(self, limit: float) -> float:
        """The pitch, by tens of mm from 50 to 500, up to which every one holds the packet to a limit; 0: none does."""
        holds = 0.0
        for pitch in range(50, 510, 10):
            if self.high - self.low < (LEAST_BRACKETS - 1) * pitch:
                break
            at = self.best(pitch, "")[2]
            if between_brackets(self.bent, self.stations(at))[0] > limit:
                break
            holds = float(pitch)
        return holds

    def _extras(self, first: float, last: float, pitch: float) -> list[tuple[float, ...]]:
        """Ways to double the ends, as places along the datum line."""
        if not self.choice.double_ends:
            return [()]
        girth = self.bent.face.s_mm
        rails = np.interp(self._meet([first, last]), np.arange(len(girth)), girth)
        free = float(np.abs(rails[:, None] - girth[[0, -1]]).min()) - LEAST_APART_MM
        inwards = [(first + share * pitch, last - share * pitch) for share in DOUBLED_AT]
        outwards = []
        for end in FROM_END_MM:
            if end <= free:
                at_heel, at_head = np.interp([girth[0] + end, girth[-1] - end], girth, self.along)
                outwards.append((float(at_heel), float(at_head)))
        return [*outwards, *inwards, *(a + b for a in outwards for b in inwards)]

    def _meet(self, places: list[float]) -> Array:
        """Where each place along the datum line meets the face, as a running index from heel to head."""
        sign = -1.0 if self.leftwards else 1.0
        index = np.arange(len(self.along), dtype=float)
        return np.asarray(np.interp(sign * np.array(places), sign * self.along, index))


def _bracket(
    number: int, place: tuple[float, int], index: float, bent: Bent, face: Array, turn: float, force: float
) -> Bracket:
    count = np.arange(len(face))
    exact = float(np.interp(index, count, face[:, 1]))
    angle = float(np.interp(index, count, bent.face.angle_rad)) + turn
    swivel = (angle + math.pi / 2) % math.pi - math.pi / 2
    travel = round(exact / TRAVEL_STEP_MM) * TRAVEL_STEP_MM
    girth = float(np.interp(index, count, bent.girth_mm))
    return Bracket(number, place[1], place[0], travel, exact, swivel, girth, force)


def between_brackets(bent: Bent, stations_mm: Array) -> tuple[float, float, Array]:
    """How far the packet, held at brackets only, leaves the wanted curve within the finished length.

    Parameters
    ----------
    bent : Bent
        The packet in the jig.
    stations_mm : ndarray (k,)
        Places of the brackets along the neutral line, rising.

    Returns
    -------
    error_mm, girth_mm : float
        The most it leaves the curve, and where along the moulded line.
    shear : ndarray (k,)
        Force of the packet on each bracket over the loose packet's EI [1/mm²]; above zero where it presses on a
        bearing face inside the bend.

    References
    ----------
    .. [1] docs/frames.md, "Between brackets": of all small departures w that vanish at the brackets, the packet takes
       the one of least ∫(κ + w'')² ds. With K'' = κ, K + w is the natural cubic spline through K at the brackets.
    """
    s, kappa = bent.neutral.s_mm, bent.neutral.curvature_per_mm
    step = np.diff(s)
    slope = np.concatenate([[0.0], np.cumsum(step * (kappa[1:] + kappa[:-1]) / 2)])
    rise = np.cumsum(step * slope[:-1] + step**2 * (2 * kappa[:-1] + kappa[1:]) / 6)
    curve = np.concatenate([[0.0], rise])
    spline = CubicSpline(stations_mm, np.interp(stations_mm, s, curve), bc_type="natural")
    inside = np.clip(s, stations_mm[0], stations_mm[-1])
    taken = spline(inside) + spline(inside, 1) * (s - inside)
    finished = (bent.girth_mm >= -1e-9) & (bent.girth_mm <= bent.girth_mm[-1] + bent.girth_mm[0] + 1e-9)
    departure = np.where(finished, np.abs(taken - curve), 0.0)
    worst = int(np.argmax(departure))
    bending = np.concatenate([[0.0], np.diff(spline(stations_mm, 2)) / np.diff(stations_mm), [0.0]])
    return float(departure[worst]), float(bent.girth_mm[worst]), -np.diff(bending)


def _closing(bent: Bent, stiffness: float) -> tuple[float, float]:
    """Most moment that closes the loose packet [N mm], and the pull at the far end that makes it [N]."""
    kappa = np.abs(bent.neutral.curvature_per_mm)
    tightest = int(np.argmax(kappa))
    moment = stiffness * float(kappa[tightest])
    ends = bent.neutral.points_mm[[0, -1]] - bent.neutral.points_mm[tightest]
    return moment, moment / float(np.hypot(*ends.T).max())


def error_check(jig: Jig) -> Check:
    """The packet's departure between brackets against one millimetre."""
    need = f"a pitch of {jig.pitch_for_1mm:g} mm holds 1 mm" if jig.pitch_for_1mm else "no pitch from 50 mm up holds it"
    return Check(
        "Packet between brackets",
        f"{jig.error_mm:.2f} mm off the wanted curve, {jig.error_s_mm:.0f} mm along",
        f"{ERROR_LIMIT_MM:g} mm",
        jig.error_mm <= ERROR_LIMIT_MM,
        "least bending energy between brackets (docs/frames.md); limit: shop default, no source",
        "" if jig.error_mm <= ERROR_LIMIT_MM else f"{need}; or run the packet past its ends",
    )


def bench_checks(jig: Jig) -> tuple[BenchCheck, ...]:
    """Measurements that prove the setting: chord and sagitta at three places, and between the end brackets."""
    checks = []
    finished = np.flatnonzero((jig.s_mm >= -1e-9) & (jig.s_mm <= jig.s_mm[-1] + jig.s_mm[0] + 1e-9))
    thirds = finished[np.linspace(0, len(finished) - 1, 4).round().astype(int)]
    for name, first, last in zip(("heel third", "middle third", "head third"), thirds[:-1], thirds[1:], strict=True):
        chord, sagitta = _chord(jig.face_mm[first : last + 1])
        how = f"on the bearing face, from {jig.s_mm[first]:.0f} to {jig.s_mm[last]:.0f} mm along the moulded line"
        checks.append(BenchCheck(f"Chord of the {name}", how, chord, sagitta))
    ends = [np.array([bracket.along_mm, bracket.exact_travel_mm]) for bracket in (jig.brackets[0], jig.brackets[-1])]
    last_number = jig.brackets[-1].number
    checks.append(
        BenchCheck(
            "Between the end brackets",
            f"bearing face to bearing face, brackets 1 and {last_number}",
            float(np.hypot(*(ends[1] - ends[0]))),
        )
    )
    for near, far, text in ((0, 1, f"bracket 1 to the face of bracket {last_number}"), (1, 0, "the last to the first")):
        foot = np.array([ends[near][0], 0.0])
        checks.append(BenchCheck("Diagonal", f"datum line under {text}", float(np.hypot(*(ends[far] - foot)))))
    return tuple(checks)


def _chord(points: Array) -> tuple[float, float]:
    """Length of the chord, and how far the curve stands off the chord's middle, square to it."""
    way = points[-1] - points[0]
    length = float(np.hypot(*way))
    unit = way / length
    along = (points - points[0]) @ unit
    square = (points - points[0]) @ np.array([-unit[1], unit[0]])
    return length, abs(float(np.interp(length / 2, along, square)))
