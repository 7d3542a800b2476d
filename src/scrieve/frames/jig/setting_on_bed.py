"""One frame set on the jig as it stands in the shop: its brackets on the bed's own rails, or why it does not go."""

from __future__ import annotations

import itertools
import math

import numpy as np

from scrieve.errors import BadJig
from scrieve.frames.choice import FrameChoice
from scrieve.frames.jig.bed import ERROR_LIMIT_MM, STEEP, TRAVEL_STEP_MM, Bed, JigBed, Rails
from scrieve.frames.jig.poses_curve import Curve, Pose
from scrieve.frames.jig.setting import JigSetting
from scrieve.frames.packet.bending import Bent
from scrieve.frames.packet.lying import Lie, lie_on, widest_pitch
from scrieve.frames.parts import Array, Bracket, Jig
from scrieve.units import Units, format_length


def set_on_bed(
    bent: Bent,
    choice: FrameChoice,
    stiffness_nmm2: float,
    bed: JigBed,
    pose: Pose | None = None,
    setting: JigSetting | None = None,
    units: Units = "mm",
) -> tuple[Jig, Lie]:
    """Set one frame on the bed.

    Parameters
    ----------
    bent : Bent
        The packet in the jig.
    choice : FrameChoice
        Its label, clearance and bearing face.
    stiffness_nmm2 : float
        ΣEI of the loose packet, for the forces [N mm²].
    bed : JigBed
        The jig.
    pose : Pose, optional
        Where it lies, from a plan; else with its chord along the datum line at the clearance.
    setting : JigSetting, optional
        The travels of a plan, some of them left from the frame before. Without it every bracket is set to the curve,
        and extra ones are clamped near the ends where the packet needs them and the bed allows it.
    units : 'mm' or 'ft'
        For the reasons of a refusal.

    Returns
    -------
    jig : Jig
        In bed coordinates from rail 1 of the bed; `error_mm` by the packet's true shape on the travels as set.
    lie : Lie
        That shape, with its departure bay by bay.

    Raises
    ------
    BadJig
        The frame does not go on this jig; the message gives every reason.

    References
    ----------
    .. [1] docs/jig.md, "Settings".
    """
    curve = Curve(bent, choice, bed)
    pose = pose or curve.reference(bed.along_mm)
    met = curve.meet(pose.array()[None], bed.along_mm)
    on_rails: Rails = [(float(bed.along_mm[i]), int(i) + 1) for i in np.flatnonzero(met.under[0])]
    face, other, neutral = (placed(getattr(bent, name).points_mm, curve, pose) for name in ("face", "other", "neutral"))
    if reason := _too_few(choice, bed, on_rails, face, units):
        raise BadJig(reason)
    touch = bent.face.points_mm + (curve.side * curve.standoff_mm)[:, None] * bent.face.left
    along, travel = placed(touch, curve, pose).T
    between = setting is None and bed.between
    way = Bed(along, bent, choice, bed.face_width_mm).best(bed.pitch_mm, on_rails) if between else None
    places = list(way.places) if way else on_rails[::-1] if curve.side > 0 else on_rails
    index = np.interp(
        -curve.side * np.array([place for place, _ in places]), -curve.side * along, np.arange(len(along), dtype=float)
    )
    count = np.arange(len(along))
    exact = np.interp(index, count, travel)
    set_to = np.round(exact / TRAVEL_STEP_MM) * TRAVEL_STEP_MM
    if setting is not None:
        known, _ = setting.arrays(bed)
        planned = known[[rail - 1 for _, rail in places]]
        set_to = np.where(np.isfinite(planned), planned, set_to)
    lean = np.interp(index, count, bent.face.angle_rad) + curve.turn_rad + pose.turn_rad
    swivel = (lean + math.pi / 2) % math.pi - math.pi / 2
    stations = np.interp(index, count, bent.neutral.s_mm)
    off = -curve.side * np.cos(swivel) * (set_to - exact)
    lie = lie_on(bent, stations, off)
    bears = -curve.side * stiffness_nmm2 * lie.force_per_ei
    girth = np.interp(index, count, bent.girth_mm)
    brackets = tuple(
        Bracket(number, rail, place, float(t), float(x), float(w), float(s), float(f))
        for number, ((place, rail), t, x, w, s, f) in enumerate(
            zip(places, set_to, exact, swivel, girth, bears, strict=True), start=1
        )
    )
    if reasons := refusals(bed, brackets, face, other, units):
        raise BadJig(f"frame {choice.frame} does not go on this jig: " + "; ".join(reasons) + ".")
    kappa = bent.neutral.curvature_per_mm
    lack = np.abs(bent.stiff * (kappa - bent.held_per_mm))
    tightest = int(np.argmax(lack))
    moment = stiffness_nmm2 * float(lack[tightest])
    arms = np.hypot(*(neutral[[0, -1]] - neutral[tightest]).T)
    jig = Jig(
        brackets=brackets,
        rails=bed.rails,
        pitch_mm=bed.pitch_mm,
        bearing=bed.bearing,
        heel="right" if bed.bearing == "inside" else "left",
        pose=curve.named,
        s_mm=bent.girth_mm,
        face_mm=face,
        other_mm=other,
        neutral_mm=neutral,
        curvature_per_mm=kappa,
        error_mm=lie.error_mm,
        error_s_mm=float(np.interp(lie.worst.s_mm, bent.neutral.s_mm, bent.girth_mm)),
        pitch_for_1mm=widest_pitch(bent, ERROR_LIMIT_MM, double_ends=choice.double_ends and bed.between).pitch_mm,
        moment_nmm=moment,
        end_pull_n=moment / float(arms.max()),
    )
    return jig, lie


def placed(points: Array, curve: Curve, pose: Pose) -> Array:
    """(n, 2) points of the section's axes on the bed, along the datum line from rail 1 and out from it."""
    cos, sin = math.cos(pose.turn_rad), math.sin(pose.turn_rad)
    own = points @ curve.spin - curve.origin
    return np.asarray(own @ np.array([[cos, sin], [-sin, cos]]) + [pose.along_mm, pose.across_mm])


def _too_few(choice: FrameChoice, bed: JigBed, on_rails: Rails, face: Array, units: Units) -> str:
    if len(on_rails) >= 3:
        return ""
    span = _length(float(np.ptp(face[:, 0])), units)
    return (
        f"frame {choice.frame} does not go on this jig: its packet, {span} long on the bed, meets {len(on_rails)} of "
        f"its {bed.rails} rails, and three are the least; shift it along, or set the rails closer."
    )


def refusals(
    bed: JigBed, brackets: tuple[Bracket, ...], face_mm: Array, other_mm: Array, units: Units = "mm"
) -> tuple[str, ...]:
    """Every reason why brackets and packet do not go on the bed; none where they do.

    `face_mm` and `other_mm` (n, 2) are the packet's faces on the bed.
    """

    def mm(value: float) -> str:
        return _length(value, units)

    reasons = []
    both = np.vstack([face_mm, other_mm])
    left, right = bed.ends_mm
    for over, where in (
        (left - both[:, 0].min(), "the left end of the bed"),
        (both[:, 0].max() - right, "the right end of the bed"),
        (both[:, 1].max() - bed.depth_mm, "the far edge of the bed"),
        (-both[:, 1].min(), "the datum line"),
    ):
        if over > 0:
            reasons.append(f"the packet stands {mm(float(over))} over {where}")
    if len(brackets) > bed.brackets:
        reasons.append(f"it needs {len(brackets)} brackets and the jig has {bed.brackets}")
    stop = min(bed.swivel_most_rad, STEEP)
    for each in brackets:
        if abs(each.swivel_rad) > bed.swivel_most_rad + 1e-9:
            reasons.append(
                f"bracket {each.number} would swivel {math.degrees(abs(each.swivel_rad)):.1f}° and its stop is at "
                f"{math.degrees(stop):.0f}°"
            )
        if bed.reach(each.travel_mm) is None:
            span = f"{mm(bed.travel_least_mm)} to {mm(bed.travel_most_mm)}"
            rows = f" from its hole, rows {mm(bed.row_mm)} apart" if bed.row_mm else ""
            reasons.append(f"bracket {each.number} would stand at {mm(each.travel_mm)} and its travel is {span}{rows}")
    for near, far in itertools.pairwise(brackets):
        apart = math.hypot(far.along_mm - near.along_mm, far.travel_mm - near.travel_mm)
        if apart < bed.face_width_mm:
            reasons.append(
                f"the faces of brackets {near.number} and {far.number} overlap: {mm(apart)} from middle to middle, "
                f"each {mm(bed.face_width_mm)} wide"
            )
    return tuple(reasons)


def _length(value: float, units: Units) -> str:
    return format_length(value, units) + (" mm" if units == "mm" else "")
