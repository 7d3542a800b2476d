"""The jig: the packet posed on a bed of rails, the setting of each bracket, and what proves it at the bench."""

from __future__ import annotations

import math

import numpy as np

from scrieve.frames.choice import FrameChoice
from scrieve.frames.jig.bed import ERROR_LIMIT_MM, TRAVEL_STEP_MM, Bed, pose_of
from scrieve.frames.packet.bending import Bent
from scrieve.frames.packet.laminations import Lay
from scrieve.frames.parts import Array, BenchCheck, Bracket, Jig
from scrieve.wording import by_itself, length, small, tell
from scrieve.working import Check


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
    pose, turn = pose_of(bent.face, choice)
    cos, sin = math.cos(turn), math.sin(turn)
    turned = {name: getattr(bent, name).points_mm @ np.array([[cos, sin], [-sin, cos]]) for name in _CURVES}
    along, out = turned["face"].T
    bed = Bed(along, bent, choice)
    best = bed.best(choice.pitch_mm)
    shift = np.array([-best.start_mm, choice.clearance_mm - float(out.min())])
    placed = {name: points + shift for name, points in turned.items()}
    stiffness = found.loose * width_mm
    press = stiffness if choice.bearing == "inside" else -stiffness
    brackets = tuple(
        _bracket(number, (x - best.start_mm, rail), float(index), bent, placed["face"], turn, float(force) * press)
        for number, ((x, rail), index, force) in enumerate(zip(best.places, best.at, best.shear, strict=True), start=1)
    )
    moment, pull = _closing(bent, stiffness)
    return Jig(
        brackets=brackets,
        rails=max(rail for _, rail in best.places),
        pitch_mm=choice.pitch_mm,
        bearing=choice.bearing,
        heel="right" if choice.bearing == "inside" else "left",
        pose=pose,
        s_mm=bent.girth_mm,
        face_mm=placed["face"],
        other_mm=placed["other"],
        neutral_mm=placed["neutral"],
        curvature_per_mm=bent.neutral.curvature_per_mm,
        error_mm=best.error_mm,
        error_s_mm=best.girth_mm,
        pitch_for_1mm=bed.pitch_for(ERROR_LIMIT_MM),
        moment_nmm=moment,
        end_pull_n=pull,
    )


_CURVES = ("face", "other", "neutral")


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


def _closing(bent: Bent, stiffness: float) -> tuple[float, float]:
    """Most moment that closes the loose packet [N mm], and the pull at the far end that makes it [N]."""
    kappa = np.abs(bent.stiff * (bent.neutral.curvature_per_mm - bent.held_per_mm))
    tightest = int(np.argmax(kappa))
    moment = stiffness * float(kappa[tightest])
    ends = bent.neutral.points_mm[[0, -1]] - bent.neutral.points_mm[tightest]
    return moment, moment / float(np.hypot(*ends.T).max())


def error_check(jig: Jig) -> Check:
    """The packet's departure between brackets against one millimetre."""
    limit = small(ERROR_LIMIT_MM, None)
    need = (
        tell("a pitch of {p} holds {m}", p=length(jig.pitch_for_1mm), m=limit)
        if jig.pitch_for_1mm
        else tell("no pitch from {p} up holds it", p=length(50))
    )
    return Check(
        "Packet between brackets",
        tell(
            "{off} off the wanted curve, {s} along",
            off=small(jig.error_mm, 2, ERROR_LIMIT_MM),
            s=length(jig.error_s_mm),
        ),
        by_itself(limit),
        jig.error_mm <= ERROR_LIMIT_MM,
        "least bending energy between brackets (docs/frames.md); limit: shop default, no source",
        "" if jig.error_mm <= ERROR_LIMIT_MM else tell("{need}; or run the packet past its ends", need=need),
    )


def bench_checks(jig: Jig) -> tuple[BenchCheck, ...]:
    """Measurements that prove the setting: chord and sagitta at three places, and between the end brackets."""
    checks = []
    finished = np.flatnonzero((jig.s_mm >= -1e-9) & (jig.s_mm <= jig.s_mm[-1] + jig.s_mm[0] + 1e-9))
    thirds = finished[np.linspace(0, len(finished) - 1, 4).round().astype(int)]
    for name, first, last in zip(("heel third", "middle third", "head third"), thirds[:-1], thirds[1:], strict=True):
        chord, sagitta, foot = _chord(jig.face_mm[first : last + 1])
        between = (_point(jig.face_mm[first]), _point(jig.face_mm[last]))
        side = "out" if foot[1] >= (between[0][1] + between[1][1]) / 2 else "in"  # the foot stands over the middle
        places = {"a": length(jig.s_mm[first]), "b": length(jig.s_mm[last]), "side": side}
        how = tell("on the bearing face, from {a} to {b} along the moulded line; {side} from the chord", **places)
        checks.append(BenchCheck(f"Chord of the {name}", how, chord, sagitta, between, foot))
    ends = [np.array([bracket.along_mm, bracket.exact_travel_mm]) for bracket in (jig.brackets[0], jig.brackets[-1])]
    last_number = jig.brackets[-1].number
    checks.append(
        BenchCheck(
            "Between the end brackets",
            f"bearing face to bearing face, brackets 1 and {last_number}",
            float(np.hypot(*(ends[1] - ends[0]))),
            ends_mm=(_point(ends[0]), _point(ends[1])),
        )
    )
    for near, far, text in ((0, 1, f"bracket 1 to the face of bracket {last_number}"), (1, 0, "the last to the first")):
        under = np.array([ends[near][0], 0.0])
        span = (_point(under), _point(ends[far]))
        long = float(np.hypot(*(ends[far] - under)))
        checks.append(BenchCheck("Diagonal", f"datum line under {text}", long, ends_mm=span))
    return tuple(checks)


def _point(at: Array) -> tuple[float, float]:
    return float(at[0]), float(at[1])


def _chord(points: Array) -> tuple[float, float, tuple[float, float]]:
    """Length of the chord, how far the curve stands off the chord's middle, square to it, and the point there."""
    way = points[-1] - points[0]
    length = float(np.hypot(*way))
    unit = way / length
    along = (points - points[0]) @ unit
    square = (points - points[0]) @ np.array([-unit[1], unit[0]])
    off = float(np.interp(length / 2, along, square))
    return length, abs(off), _point(points[0] + length / 2 * unit + off * np.array([-unit[1], unit[0]]))
