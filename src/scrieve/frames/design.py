"""One pair of frames, designed: from the fair section and the builder's choice to packet, jig, blank and marks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from scrieve.errors import BadJig
from scrieve.fairing.section import Section
from scrieve.frames.blank import blank_check, make_blank, marks_to_carry, missed_waterlines, needed_depth
from scrieve.frames.choice import FrameChoice
from scrieve.frames.jig.posed import bench_checks, error_check, set_jig
from scrieve.frames.packet.bending import Bent, as_bent, bend
from scrieve.frames.packet.closing import Closing, closing_of, closing_working
from scrieve.frames.packet.laminations import (
    bending_checks,
    choose,
    joint_areas_m2,
    make_packet,
    practical_checks,
    steaming_checks,
    strips_to_order,
)
from scrieve.frames.packet.prediction import (
    UNLEARNT_SD,
    Prediction,
    finished_movement,
    movement_check,
    predict,
    prediction_working,
)
from scrieve.frames.packet.scarfs import ScarfPlan, plan_scarfs, scarf_checks
from scrieve.frames.packet.strength import Equivalent, equivalent_section, strength_checks, strength_working
from scrieve.frames.parts import (
    Array,
    BenchCheck,
    BevelMark,
    Blank,
    Bracket,
    CarriedMark,
    GlueNeed,
    Jig,
    Lamination,
    Outline,
    Packet,
    StripOrder,
)
from scrieve.frames.shape.faces import Faces, face_checks, finished_faces
from scrieve.frames.shape.line import Line, line_of
from scrieve.frames.shape.outline import bevel_marks, draw_outline, far_station, settle_moulding_edge
from scrieve.frames.workings import STRENGTH, frame_workings
from scrieve.timber.glue import WASTE_SHARE, Glue, glue, glue_mass
from scrieve.timber.species import Species
from scrieve.wording import Length, tell
from scrieve.working import Check, Working

__all__ = [
    "BenchCheck",
    "BevelMark",
    "Blank",
    "Bracket",
    "CarriedMark",
    "Check",
    "Closing",
    "Faces",
    "FrameChoice",
    "FrameDesign",
    "GlueNeed",
    "Jig",
    "Lamination",
    "Outline",
    "Packet",
    "StripOrder",
    "design_frame",
]

#: More brackets than these on one frame are a slip of the pen.
MOST_BRACKETS = 120

#: Curves are computed at steps of 1 mm and handed out at every fourth.
_THIN = 4


@dataclass(frozen=True, slots=True, eq=False)
class FrameDesign:
    """One pair of frames, designed.

    Attributes
    ----------
    choice, section
        What it was computed from.
    moulding_edge : 'fore' or 'aft'
        The face that carries the moulded line, 'auto' settled.
    packet, blank, jig, outline, bevels, order, glue
        The parts; see `scrieve.frames.parts`.
    checks : tuple of Check
        Every limit held against what was found, met or not.
    springback : ndarray (m,)
        Share of the jig's curvature lost on release, along `jig.s_mm`.
    released_mm : ndarray (m, 2)
        The neutral line as it is to lie after release: half-breadth and height, at `jig.s_mm`.
    prediction : Prediction
        The shape off the jig and once cleaned off, with its ±.
    closing : Closing
        What draws the loose packet in, bracket by bracket, and the clamps for it.
    faces : Faces
        Both faces' whole outlines, with end cuts and notches.
    strength : Equivalent
        The finished section place by place, and the old frame's.
    scarfs : ScarfPlan or None
        Where laminations are scarfed, if the length of the boards was given.
    timbers : tuple of Species
        Each timber of the packet once.
    far : Section or None
        The hull cut at the far face, where it could be.
    marks_to_carry, bench_checks, cautions, workings
        What goes on each half, what proves the jig, what to beware of, and how each headline figure came about.
    """

    choice: FrameChoice
    section: Section
    moulding_edge: Literal["fore", "aft"]
    packet: Packet
    outline: Outline
    bevels: tuple[BevelMark, ...]
    blank: Blank
    jig: Jig
    order: tuple[StripOrder, ...]
    glue: GlueNeed
    checks: tuple[Check, ...]
    springback: Array
    released_mm: Array
    marks_to_carry: tuple[CarriedMark, ...]
    bench_checks: tuple[BenchCheck, ...]
    cautions: tuple[str, ...]
    workings: tuple[Working, ...]
    prediction: Prediction
    closing: Closing
    faces: Faces
    strength: Equivalent
    scarfs: ScarfPlan | None
    timbers: tuple[Species, ...]
    far: Section | None = None

    @property
    def springback_mean(self) -> float:
        """The mean of `springback` along the frame."""
        return float(self.springback.mean())

    @property
    def all_ok(self) -> bool:
        """Whether every check is met."""
        return all(check.ok for check in self.checks)


def design_frame(
    section: Section,
    choice: FrameChoice,
    cut: Callable[[float], Section | None] | None = None,
    factor_sd: float = UNLEARNT_SD,
) -> FrameDesign:
    """Design one pair of frames: laminations, jig, blank, bevels and marks.

    Parameters
    ----------
    section : Section
        The fair moulded line at the frame's station, heel to head.
    choice : FrameChoice
        What the builder has settled.
    cut : callable, optional
        The fair hull's section at a station [mm], for the true shape of the far face; left out, or where it gives
        None, the far face is drawn from the slope at the moulding face.
    factor_sd : float
        One standard deviation of the factor on springback: the ± of the predicted shape comes from it.

    Returns
    -------
    FrameDesign
        With every limit held against what was found; a forced choice that fails is designed and flagged.

    Raises
    ------
    NoSuchTimber
        A timber or a family of glue is not in the table.
    BadLamination
        The moulded depth or the packet reaches the line's centre of curvature.
    BadJig
        No pose on the bed lets each rail meet the packet once.
    BadGeometry
        The section is too short of points, or a bevel is 80° or more.

    References
    ----------
    .. [1] docs/frames.md.
    """
    if not choice.frame and section.frame:
        choice = replace(choice, frame=section.frame)
    family = glue(choice.glue)
    line = line_of(section)
    edge = settle_moulding_edge(section, choice.moulding_edge)
    far = None if cut is None else cut(far_station(section, choice, edge))
    outline = draw_outline(section, line, choice, edge, far)
    faces = finished_faces(line, outline, choice)
    needed, outside = needed_depth(outline, choice.cleaning_mm)

    found = choose(line, choice, needed, outside)
    rough = make_blank(outline, choice, found.along(line.s_mm).depth_mm, found.outside_mm, 0.0)
    moves = finished_movement(line, found, outline, choice)
    bent = bend(line, found, choice, moves if choice.allow_for_cleaning else None)
    found = as_bent(found, bent)
    packet = make_packet(found, line, rough.siding_mm, choice.trim_mm)
    blank = replace(rough, length_mm=max(each.length_mm for each in packet.laminations))
    seen = predict(line, found, choice, bent, moves, factor_sd)
    _check_brackets(bent, choice)
    jig = set_jig(bent, found, choice, blank.siding_mm)
    pressure = next((value for name, value, _ in family.figures if name == "pressure_low_mpa"), 0.0)
    closing = closing_of(bent, jig, choice, blank.siding_mm, pressure)
    glue_need = _glue_need(packet, choice, family)
    strength = equivalent_section(line, found, outline, choice)
    scarfs = (
        None
        if choice.board_mm is None
        else plan_scarfs(line, packet.laminations, choice.board_mm, choice.scarf_slope, choice.scarf_rule)
    )
    checks = (
        *bending_checks(found, choice.margin),
        *steaming_checks(found),
        *practical_checks(found, needed),
        blank_check(blank, choice.cleaning_mm),
        error_check(jig),
        movement_check(seen),
        *face_checks(faces, outline, choice),
        *strength_checks(strength),
        *(scarf_checks(scarfs) if scarfs else ()),
    )
    bevels = bevel_marks(section, line, choice.sided_mm, edge, outline)
    keep = _thinned(jig.s_mm, line)
    thin_jig = replace(
        jig,
        **{name: getattr(jig, name)[keep] for name in ("s_mm", "face_mm", "other_mm", "neutral_mm")},
        curvature_per_mm=jig.curvature_per_mm[keep],
    )
    return FrameDesign(
        choice=choice,
        section=section,
        moulding_edge=edge,
        packet=packet,
        outline=_thin_outline(outline, line),
        bevels=bevels,
        blank=blank,
        jig=thin_jig,
        order=strips_to_order(packet, choice.planing_mm),
        glue=glue_need,
        checks=checks,
        springback=_lost(bent, choice.spring_factor)[keep],
        released_mm=bent.wanted.points_mm[keep],
        marks_to_carry=marks_to_carry(line, choice, edge, bevels),
        bench_checks=bench_checks(jig),
        cautions=_cautions(choice, found.timbers, family.caution, checks, line),
        workings=(
            *frame_workings(choice, found, packet, outline, blank, jig, glue_need),
            closing_working(closing),
            prediction_working(seen),
            strength_working(strength, choice),
        ),
        prediction=seen,
        closing=closing,
        faces=faces,
        strength=strength,
        scarfs=scarfs,
        timbers=tuple(dict.fromkeys(found.timbers)),
        far=far,
    )


def _glue_need(packet: Packet, choice: FrameChoice, family: Glue) -> GlueNeed:
    """Glue on all joints as laid, and to be mixed; the card of the glue-up reckons with the same areas."""
    areas = joint_areas_m2(packet.laminations, packet.width_mm, choice.bearing)
    joints, area = len(areas), sum(areas)
    spread = choice.spread_g_m2 or family.spread_g_m2
    net, gross = glue_mass(joints, 1e6 * area / joints, spread)
    source = "spread as given by the builder" if choice.spread_g_m2 else family.source
    return GlueNeed(family.name, joints, area, spread, net, gross, WASTE_SHARE, source, family.caution)


def _check_brackets(bent: Bent, choice: FrameChoice) -> None:
    """Refuse a pitch that asks for more brackets than any jig has.

    Raises
    ------
    BadJig
        It does.
    """
    length = float(bent.neutral.s_mm[-1] - bent.neutral.s_mm[0])
    if length / choice.pitch_mm > MOST_BRACKETS:
        raise BadJig(
            f"frame {choice.frame}: {length:.0f} mm of packet at a pitch of {choice.pitch_mm:g} mm ask for "
            f"{length / choice.pitch_mm:.0f} brackets; give a pitch of {length / MOST_BRACKETS:.0f} mm or more."
        )


def _lost(bent: Bent, factor: float) -> Array:
    """(n,) share of the jig's curvature lost on release; where the packet is straight in the jig, the share alone."""
    along = bent.along
    assert along is not None
    kappa = bent.neutral.curvature_per_mm
    bends = np.abs(kappa) > 1e-9
    share, given = along.loss(kappa)
    return np.asarray(factor * (share - np.where(bends, given / np.where(bends, kappa, 1.0), 0.0)))


def _thinned(s_mm: Array, line: Line) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Every fourth place and both ends, with heel and head among them."""
    heel, head = np.searchsorted(s_mm, [line.s_mm[0] - 1e-9, line.s_mm[-1] - 1e-9])
    return np.unique(np.concatenate([np.arange(0, len(s_mm), _THIN), [heel, head, len(s_mm) - 1]]))


def _thin_outline(outline: Outline, line: Line) -> Outline:
    keep = _thinned(outline.s_mm, line)
    return Outline(**{name: getattr(outline, name)[keep] for name in Outline.__slots__})


#: What holds where both halves come out of one blank.
_PAIR = (
    "Ripping a laminated blank: cured glue is hard on blades and the halves spring open or closed as they are cut; "
    "riving knife, long out-feed, keep off line, a second person only to support. Keep the pair stickered flat.",
    "Bevel the two halves to opposite hands: they are alike only before bevelling.",
)


def _cautions(
    choice: FrameChoice, timbers: tuple[Species, ...], glue_caution: str, checks: tuple[Check, ...], line: Line
) -> tuple[str, ...]:
    found = [f"Sizes, laminations and strength {STRENGTH}."]
    if choice.hull != "both" and choice.hands != choice.hull:
        other = "the other side" if choice.hands == "pair" else choice.hands
        found.append(
            f"The line is {choice.hull}'s own, and {other} is got out to it too: see on the page Fairing, port and "
            "starboard, how far the sides differ at this frame before it is cut."
        )
    found += [
        tell("{name}: {found}; limit {limit}.", name=check.name, found=check.found, limit=check.limit)
        if not check.caution
        else tell(
            "{name}: {found}; limit {limit}. {what}",
            name=check.name,
            found=check.found,
            limit=check.limit,
            what=check.caution,
        )
        for check in checks
        if not check.ok
    ]
    found += [
        "Springback is an estimate: leave the packet in the jig until the glue is fully cured, and measure the first "
        "frame before bending the next.",
        f"{choice.glue.capitalize()}: {glue_caution} The maker's data sheet comes first.",
        *(_PAIR[:1] if choice.hands == "pair" else ()),
        "Wood dust harms; hardwood dust is a carcinogen: respirator and extraction, no dry sweeping or blowing.",
        *(_PAIR[1:] if choice.hands == "pair" else ()),
    ]
    found += [f"{timber.name}: {timber.note}." for timber in dict.fromkeys(timbers) if timber.note]
    found += [
        tell("Waterline {h} does not cross this frame.", h=Length(height, None))
        for height in missed_waterlines(line, choice.waterlines_mm)
    ]
    return tuple(found)
