"""The card of a glue-up: what lies where, how much glue in how many pots, how fast, how clamped, when released."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from scrieve.errors import BadLamination, above_zero
from scrieve.frames.design import FrameDesign
from scrieve.frames.glue_up.clamps import ClampStep, clamp_steps
from scrieve.frames.glue_up.minutes import GlueUpPlan, Joint, Minutes, Pot, glue_up_minutes, people_needed
from scrieve.frames.glue_up.stops import glue_up_stops
from scrieve.frames.glue_up.workings import drying_workings, pull_working, release_working, time_workings
from scrieve.frames.packet.closing import ClampPlace, Closing, closing_of, closing_working
from scrieve.frames.packet.designed import bent_of
from scrieve.frames.packet.laminations import joint_areas_m2
from scrieve.frames.parts import Jig, Lamination
from scrieve.timber.conditions import Conditions, Day, Stop, the_day
from scrieve.timber.cure import Cure, cure
from scrieve.timber.data_sheet import DataSheet, data_sheet
from scrieve.timber.glue import glue_mass
from scrieve.working import Working


@dataclass(frozen=True, slots=True)
class Laid:
    """One lamination in the order it is laid, and which of its faces are spread."""

    order: int
    number: int
    timber: str
    thickness_mm: float
    length_mm: float
    spread: str


@dataclass(frozen=True, slots=True)
class GlueUpCard:
    """The card.

    Attributes
    ----------
    frame, sheet, conditions, plan
        What it was reckoned from.
    laid, pots, clamps
        Laminations in the order they are laid; batches; places of clamps in order.
    joints, each_joint, area_m2, net_g, gross_g
        How many glue lines, and each as laid; their area together; glue on them, and to be mixed.
    spread_min, laid_min, closed_min
        Minutes from the first mixing until a joint of one lamination is laid (the longest), all are laid, all clamps
        are tight.
    open_limit_min, closed_limit_min
        The sheet's times at the warmest of air, timber and glue.
    open_used_min, closed_used_min
        The longest that a spread face lies open; that the first joint waits for its last clamp.
    people_needed : int or None
        Fewest who close it in time; None where even twelve do not.
    clamp_force_n : (float, float)
        Pull of each clamp for the least and most pressure of the sheet.
    release : Cure
        By the log, or at the air's temperature.
    full_h : float or None
        Hours to full strength.
    day : Day
        Dew point and moisture.
    dry_run, stops, cautions, workings
        What to go through before any glue is mixed; what must be signed for; what to beware of; how each figure came.
    """

    frame: str
    sheet: DataSheet
    conditions: Conditions
    plan: GlueUpPlan
    laid: tuple[Laid, ...]
    pots: tuple[Pot, ...]
    clamps: tuple[ClampStep, ...]
    joints: int
    each_joint: tuple[Joint, ...]
    area_m2: float
    net_g: float
    gross_g: float
    spread_min: float
    laid_min: float
    closed_min: float
    open_limit_min: float
    closed_limit_min: float
    open_used_min: float
    closed_used_min: float
    people_needed: int | None
    clamp_force_n: tuple[float, float]
    release: Cure
    full_h: float | None
    day: Day
    dry_run: tuple[str, ...]
    stops: tuple[Stop, ...]
    cautions: tuple[str, ...]
    workings: tuple[Working, ...]

    @property
    def clamp_count(self) -> int:
        """How many clamps it takes."""
        return sum(step.clamps for step in self.clamps)


def card_for(
    design: FrameDesign,
    conditions: Conditions,
    plan: GlueUpPlan | None = None,
    sheet: DataSheet | None = None,
    jig: Jig | None = None,
) -> GlueUpCard:
    """The card of one designed frame: its laminations, its glue, and the clamps that close it and press every joint.

    Where no `sheet` is given, the family's defaults stand, with the frame's own spread if it has one. A sheet that
    asks for a pressure asks for clamps as close as that takes. `jig` is the frame's setting on the bed that is really
    used; without it the clamps stand at the brackets of the design's own rails.
    """
    choice = design.choice
    if sheet is None:
        own = {"spread_g_m2": choice.spread_g_m2} if choice.spread_g_m2 else {}
        sheet = data_sheet(choice.glue, own)
    closing = closing_on(design, sheet, jig)
    return glue_up_card(
        design.packet.laminations,
        design.packet.width_mm,
        closing.places,
        sheet,
        conditions,
        plan,
        bearing=design.jig.bearing,
        frame=choice.frame,
        more=(closing_working(closing),),
    )


def closing_on(design: FrameDesign, sheet: DataSheet, jig: Jig | None = None) -> Closing:
    """The packet drawn in on a jig (the design's own without one), its joints pressed as the sheet asks."""
    pressure = sheet["pressure_low_mpa"]
    if jig is None:
        return design.closing.under(pressure)
    return closing_of(bent_of(design), jig, design.choice, design.packet.width_mm, pressure)


def glue_up_card(
    laminations: Sequence[Lamination],
    width_mm: float,
    clamps: Sequence[ClampPlace],
    sheet: DataSheet,
    conditions: Conditions,
    plan: GlueUpPlan | None = None,
    *,
    bearing: Literal["inside", "outside"] = "inside",
    frame: str = "",
    more: tuple[Working, ...] = (),
) -> GlueUpCard:
    """Reckon the card of a glue-up.

    Parameters
    ----------
    laminations : sequence of Lamination
        From the inside of the bend outwards, two or more.
    width_mm : float
        Their width: the siding of the blank [mm].
    clamps : sequence of ClampPlace
        Where clamps are set along the frame, and how many.
    sheet, conditions, plan
        The glue, the day, the shop.
    bearing : 'inside' or 'outside'
        The face of the packet that lies against the brackets: that lamination is laid first.
    more : tuple of Working
        How the number of clamps came, where that was reckoned.

    Returns
    -------
    GlueUpCard

    Raises
    ------
    BadLamination
        Fewer than two laminations, or no clamps.

    References
    ----------
    .. [1] docs/glue-up.md, "The card".
    """
    if len(laminations) < 2:
        raise BadLamination(f"frame {frame or '(no label)'}: {len(laminations)} laminations; a glue-up needs two.")
    if not clamps:
        raise BadLamination(f"frame {frame or '(no label)'}: no clamps; give their places along the frame.")
    how = plan or GlueUpPlan()
    order = list(laminations) if bearing == "inside" else list(reversed(laminations))
    width = float(above_zero("width of the packet", width_mm, "mm"))
    areas = joint_areas_m2(laminations, width, bearing)
    area, joints = sum(areas), len(areas)
    count = sum(place.clamps for place in clamps)
    net, gross = glue_mass(joints, 1e6 * area / joints, sheet["spread_g_m2"], how.waste_share)
    warm = conditions.warmest_c
    limits = float(sheet.time("open_min", warm)), float(sheet.time("closed_min", warm))
    run = glue_up_minutes(areas, gross, count, sheet, warm, how)
    needed = people_needed(areas, gross, count, sheet, warm, how, limits[1])
    log = conditions.log or ((0.0, conditions.coldest_c),)
    release = cure(sheet, log)
    full = cure(sheet, log, "full_cure_h").release_h if sheet.has("full_cure_h") else None
    day = the_day(sheet, conditions, [each.number for each in laminations])
    each_clamp = 1e6 * max(areas) / count
    force = (sheet["pressure_low_mpa"] * each_clamp, sheet["pressure_high_mpa"] * each_clamp)
    return GlueUpCard(
        frame=frame,
        sheet=sheet,
        conditions=conditions,
        plan=how,
        laid=_laid(order, bearing, sheet),
        pots=run.pots,
        clamps=clamp_steps(clamps, how.clamp_from),
        joints=joints,
        each_joint=run.joints,
        area_m2=area,
        net_g=net,
        gross_g=gross,
        spread_min=run.open_used_min,
        laid_min=run.laid_min,
        closed_min=run.closed_min,
        open_limit_min=limits[0],
        closed_limit_min=limits[1],
        open_used_min=run.open_used_min,
        closed_used_min=run.closed_used_min,
        people_needed=needed,
        clamp_force_n=force,
        release=release,
        full_h=full,
        day=day,
        dry_run=_dry_run(len(order), count, run, how, bearing, release),
        stops=(*day.stops, *glue_up_stops(sheet, how, run, limits, needed, count, release)),
        cautions=_cautions(sheet),
        workings=(
            *time_workings(sheet, how, run, (net, gross), limits, needed, warm),
            *more,
            pull_working(sheet, force, max(areas), count, width),
            release_working(sheet, release, full, log),
            *day.workings,
            *drying_workings(order, conditions, day),
        ),
    )


def _laid(order: list[Lamination], bearing: str, sheet: DataSheet) -> tuple[Laid, ...]:
    inner, outer = ("inside", "outside") if bearing == "inside" else ("outside", "inside")
    both = sheet["spread_faces"] > 1.5
    rows = []
    for place, each in enumerate(order, start=1):
        first, last = place == 1, place == len(order)
        if first:
            text = f"{outer} face; the {inner} face stays dry, with film between it and the brackets"
        elif last:
            text = f"{inner} face; the {outer} face stays dry, with film under the cauls" if both else "none"
        else:
            text = "both faces" if both else f"{outer} face"
        rows.append(Laid(place, each.number, each.timber, each.thickness_mm, each.length_mm, text))
    return tuple(rows)


def _dry_run(count: int, clamps: int, run: Minutes, how: GlueUpPlan, bearing: str, release: Cure) -> tuple[str, ...]:
    off = "not at all at this temperature" if release.release_h is None else f"after {release.release_h:.0f} h"
    return (
        "Check the jig by its chords, sagittas and diagonals.",
        f"Lay the {count} laminations dry in order, numbered, best face and heel end marked, the {bearing} one against "
        "the brackets; ends past heel and head.",
        "Film on the bed, on the brackets and under the cauls; pads under every clamp.",
        f"Set all {clamps} clamps dry, from the {how.clamp_from}"
        f"{' out' if how.clamp_from == 'middle' else ''}; clamps athwart too, to keep the edges flush.",
        "Look for gaps between laminations with the clamps tight; plane or change what does not close.",
        f"Time the dry run: with glue it is to be closed within {run.closed_min:.0f} min of the first mixing.",
        "Slacken, and put clamps in reach in the order they are set; who mixes, who spreads, who clamps is agreed.",
        f"Glue, clean pots ({len(run.pots)}), rollers, gloves, wipes; scales and a clock.",
        "Measure moisture of every lamination, temperature of timber and air, humidity; write them down.",
        f"Warmth through the night; clamps off {off}.",
    )


def _cautions(sheet: DataSheet) -> tuple[str, ...]:
    return (
        f"{sheet.family.name.capitalize()}: {sheet.family.caution} The maker's data sheet comes first.",
        f"Pressure: {sheet.family.pressure}.",
        "A bent packet stores force: stand clear of its ends while clamping and while releasing.",
        "Off the jig too early it springs back later: an 18-hour epoxy test piece lost all its bend (anecdote). "
        "Keep a wet sample of each pot beside the packet and try it first.",
        "Mixed glue in a full pot heats up and may smoke: spread it out, never leave it in bulk.",
    )
