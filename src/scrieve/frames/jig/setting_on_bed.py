"""One frame set on the jig as it stands in the shop: its brackets on the bed's own rails, or why it does not go."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np

from scrieve.errors import BadJig
from scrieve.frames.choice import FrameChoice
from scrieve.frames.jig.bed import ERROR_LIMIT_MM, HELD_MM, STEEP, TRAVEL_STEP_MM, Bed, JigBed, Rails
from scrieve.frames.jig.poses_curve import Curve, Pose
from scrieve.frames.jig.setting import JigSetting
from scrieve.frames.packet.bending import Bent
from scrieve.frames.packet.lying import Bay, Lie, lie_on, widest_pitch
from scrieve.frames.parts import Array, Bracket, Jig
from scrieve.units import Units, format_length

#: Extra brackets tried between rails beyond those near the ends.
MOST_BETWEEN = 8


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

    Where the brackets on its rails do not hold the packet to the limit and others can be clamped between rails, they
    are: near both ends first, then halfway along the worst bays.

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
        The travels of a plan, some of them left from the frame before; without it every bracket is set to the curve.
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
    posed = _Posed(bent, choice, bed, pose, setting)
    if reason := _too_few(choice, bed, posed.on_rails, posed.face_mm, units):
        raise BadJig(reason)
    brackets, lie = posed.reckon(posed.on_rails if setting or not bed.between else posed.doubled())
    if bed.between and lie.error_mm > HELD_MM:
        brackets, lie = way = posed.between(posed.on_rails, bed.brackets)
        if lie.error_mm > HELD_MM or len(brackets) > len(posed.on_rails) + 2:  # doubled ends are two as well
            brackets, lie = min(way, posed.between(posed.doubled(), bed.brackets), key=_fewest)
    brackets = posed.bearing(brackets, lie, stiffness_nmm2)
    face, other, neutral = posed.face_mm, posed.other_mm, posed.neutral_mm
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
        pose=posed.curve.named,
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


def blocks_for(
    bent: Bent, choice: FrameChoice, bed: JigBed, pose: Pose | None = None, setting: JigSetting | None = None
) -> tuple[tuple[Bracket, ...], Lie]:
    """Blocks between rails, or columns of holes, that would hold a packet which the brackets alone do not.

    For a bed on which no bracket can be clamped between rails. Arguments as for `set_on_bed`.

    Returns
    -------
    blocks : tuple of Bracket
        `along_mm` from rail 1 and `travel_mm` of each block's face; none where nothing helps, or nothing is needed.
    lie : Lie
        How the packet lies with them.
    """
    posed = _Posed(bent, choice, bed, pose, setting)
    found, lie = posed.between(posed.on_rails, bed.rails + MOST_BETWEEN)
    return tuple(each for each in found if not each.rail), lie


def _fewest(way: tuple[tuple[Bracket, ...], Lie]) -> tuple[bool, float]:
    """Of ways that hold the packet the one with the fewest brackets comes first, else the truest."""
    brackets, lie = way
    held = lie.error_mm <= HELD_MM
    return not held, len(brackets) if held else lie.error_mm


class _Posed:
    """A packet in one pose on a bed, on which brackets can be tried at any place along it."""

    def __init__(
        self, bent: Bent, choice: FrameChoice, bed: JigBed, pose: Pose | None, setting: JigSetting | None
    ) -> None:
        self.bent, self.choice, self.bed = bent, choice, bed
        self.curve = curve = Curve(bent, choice, bed)
        self.pose = pose = pose or curve.reference(bed.along_mm)
        met = curve.meet(pose.array()[None], bed.along_mm)
        on_rails: Rails = [(float(bed.along_mm[i]), int(i) + 1) for i in np.flatnonzero(met.under[0])]
        self.on_rails: Rails = on_rails[::-1] if curve.side > 0 else on_rails  # from the heel
        self.known = None if setting is None else setting.arrays(bed)[0]
        self.face_mm, self.other_mm, self.neutral_mm = (
            placed(getattr(bent, name).points_mm, curve, pose) for name in ("face", "other", "neutral")
        )
        touch = bent.face.points_mm + (curve.side * curve.standoff_mm)[:, None] * bent.face.left
        self.along, self.travel = placed(touch, curve, pose).T
        self._count = np.arange(len(self.along), dtype=float)

    def doubled(self) -> Rails:
        """The rails, and extra brackets near both ends where they hold the packet better."""
        bed = Bed(self.along, self.bent, self.choice, self.bed.face_width_mm)
        return list(bed.best(self.bed.pitch_mm, sorted(self.on_rails)).places)

    def reckon(self, places: Rails) -> tuple[tuple[Bracket, ...], Lie]:
        """Brackets at places, from the heel, with the packet's true shape on them."""
        side, bent = self.curve.side, self.bent
        index = np.interp(-side * np.array([place for place, _ in places]), -side * self.along, self._count)
        exact = np.interp(index, self._count, self.travel)
        set_to = np.round(exact / TRAVEL_STEP_MM) * TRAVEL_STEP_MM
        if self.known is not None:
            planned = np.array([self.known[rail - 1] if rail else np.nan for _, rail in places])
            set_to = np.where(np.isfinite(planned), planned, set_to)
        lean = np.interp(index, self._count, bent.face.angle_rad) + self.curve.turn_rad + self.pose.turn_rad
        swivel = (lean + math.pi / 2) % math.pi - math.pi / 2
        off = -side * np.cos(swivel) * (set_to - exact)
        lie = lie_on(bent, np.interp(index, self._count, bent.neutral.s_mm), off)
        girth = np.interp(index, self._count, bent.girth_mm)
        brackets = tuple(
            Bracket(number, rail, place, float(t), float(x), float(w), float(s), 0.0)
            for number, ((place, rail), t, x, w, s) in enumerate(
                zip(places, set_to, exact, swivel, girth, strict=True), start=1
            )
        )
        return brackets, lie

    def between(self, places: Rails, most: int) -> tuple[tuple[Bracket, ...], Lie]:
        """Brackets at places, and further ones halfway along the worst bays until the packet is held, `most` in all."""
        brackets, lie = self.reckon(places)
        before, added = {place for place, _ in places}, math.nan
        for _ in range(MOST_BETWEEN):
            if lie.error_mm <= HELD_MM or len(brackets) >= most:
                break
            tries = [self._halved(brackets, bay) for bay in sorted(lie.bays, key=lambda bay: -abs(bay.departure_mm))]
            wider = next((each for each in tries if each), None)
            if wider is None:
                break
            brackets, lie = self.reckon(wider)
            added = next(place for place, rail in wider if not rail and place not in before)
            before = {place for place, _ in wider}
        return self._spared(brackets, lie, added)

    def _spared(self, brackets: tuple[Bracket, ...], lie: Lie, added: float) -> tuple[tuple[Bracket, ...], Lie]:
        """Leave out each extra bracket without which the packet is held all the same; not the one `added` last."""
        extras = [each for each in brackets if not each.rail and each.along_mm != added]
        for extra in extras if lie.error_mm <= HELD_MM else []:
            fewer = [(each.along_mm, each.rail) for each in brackets if each.along_mm != extra.along_mm]
            without, lies = self.reckon(fewer)
            if lies.error_mm <= HELD_MM:
                brackets, lie = without, lies
        return brackets, lie

    def _halved(self, brackets: tuple[Bracket, ...], bay: Bay) -> Rails | None:
        """Places with one more halfway along a bay, or at the packet's end past the last; None where brackets so near
        would touch."""
        wide = self.bed.face_width_mm
        ends = float(self.along[0]), float(self.along[-1])
        if bay.first and bay.last:
            one, other = (brackets[n - 1].along_mm for n in (bay.first, bay.last))
            apart, place = abs(other - one) / 2, (one + other) / 2
        else:
            end, near = (ends[0], brackets[0]) if bay.last else (ends[1], brackets[-1])
            way = math.copysign(1.0, near.along_mm - end)
            apart, place = abs(near.along_mm - end) - wide, end + way * wide
        if apart < wide:
            return None
        places = [(each.along_mm, each.rail) for each in brackets]
        return [*places[: bay.first], (float(round(place)), 0), *places[bay.first :]]

    def bearing(self, brackets: tuple[Bracket, ...], lie: Lie, stiffness_nmm2: float) -> tuple[Bracket, ...]:
        """The brackets with what the packet bears on each."""
        bears = -self.curve.side * stiffness_nmm2 * lie.force_per_ei
        return tuple(replace(each, force_n=float(f)) for each, f in zip(brackets, bears, strict=True))


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

    both = np.vstack([face_mm, other_mm])
    along, out = ((float(axis.min()), float(axis.max())) for axis in both.T)
    reasons = [f"the packet stands {mm(over)} over {where}" for over, where in bed.over_edges(along, out)]
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
