"""The card of a glue-up: what lies where, how much glue in how many pots, how fast, how clamped, when released."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from scrieve.errors import BadLamination, NoSuchTimber, above_zero
from scrieve.frames.design import FrameDesign
from scrieve.frames.packet.closing import ClampPlace, closing_working, middle_out
from scrieve.frames.packet.laminations import joint_areas_m2
from scrieve.frames.parts import Lamination
from scrieve.timber.conditions import Conditions, Day, Stop, the_day
from scrieve.timber.cure import Cure, cure
from scrieve.timber.data_sheet import DataSheet, data_sheet
from scrieve.timber.glue import COMMON_PRACTICE, WASTE_SHARE, glue_mass
from scrieve.timber.moisture import bend_by_drying
from scrieve.timber.species import movement, species
from scrieve.wording import length, tell
from scrieve.working import Working

ClampFrom = Literal["middle", "heel", "head"]

SHOP_DEFAULT = "shop default, common practice, no source; change it to suit"

#: Nobody has more hands than this.
_MOST_PEOPLE = 12


@dataclass(frozen=True, slots=True)
class GlueUpPlan:
    """How the shop means to do it. Every default is common practice, no source; change them to suit.

    `people` at work; `spread_m2_min` face that one of them spreads in a minute; `mixing_min` for each pot, all else
    standing; `lay_min` to lay and line up one lamination; `clamp_min` one person's minutes for one clamp;
    `pot_share` of the pot life that is used; `clamps_at_hand` (None: not counted); `clamp_from` where clamping starts;
    `waste_share` of the glue that stays in pot and rollers.
    """

    people: int = 2
    spread_m2_min: float = 0.1
    mixing_min: float = 3.0
    lay_min: float = 0.5
    clamp_min: float = 1.0
    pot_share: float = 0.7
    clamps_at_hand: int | None = None
    clamp_from: ClampFrom = "middle"
    waste_share: float = WASTE_SHARE

    def __post_init__(self) -> None:
        if not 1 <= self.people <= _MOST_PEOPLE:
            raise BadLamination(f"glue-up: {self.people} people; give 1 to {_MOST_PEOPLE}.")
        for name in ("spread_m2_min", "pot_share"):
            above_zero(f"glue-up, {name}", getattr(self, name), "")
        for name in ("mixing_min", "lay_min", "clamp_min"):
            if not (math.isfinite(getattr(self, name)) and getattr(self, name) >= 0):
                raise BadLamination(f"glue-up, {name}: {getattr(self, name):g}; give minutes, 0 or more.")
        if self.pot_share > 1:
            raise BadLamination(f"glue-up, pot_share: {self.pot_share:g}; give a share up to 1.")
        if self.clamp_from not in ("middle", "heel", "head"):
            raise BadLamination(f"glue-up, clamp_from: found {self.clamp_from!r}; say middle, heel or head.")


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
class Pot:
    """One batch: its mass, the joints it does (first and last, as laid), and minutes from the start."""

    number: int
    mass_g: float
    first_joint: int
    last_joint: int
    mixed_min: float
    used_by_min: float
    good_until_min: float | None


@dataclass(frozen=True, slots=True)
class ClampStep:
    """One place in the order clamps are set: `at` is its number from the heel, `s_mm` where it is along the frame,
    `bracket` the bracket there (0: between two), `clamps` how many are set there."""

    order: int
    at: int
    s_mm: float
    bracket: int = 0
    clamps: int = 1


@dataclass(frozen=True, slots=True)
class GlueUpCard:
    """The card.

    Attributes
    ----------
    frame, sheet, conditions, plan
        What it was reckoned from.
    laid, pots, clamps
        Laminations in the order they are laid; batches; places of clamps in order.
    joints, area_m2, net_g, gross_g
        Glue lines; their area together; glue on them, and to be mixed.
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
) -> GlueUpCard:
    """The card of one designed frame: its laminations, its glue, and the clamps that close it and press every joint.

    Where no `sheet` is given, the family's defaults stand, with the frame's own spread if it has one. A sheet that
    asks for a pressure asks for clamps as close as that takes.
    """
    choice = design.choice
    if sheet is None:
        own = {"spread_g_m2": choice.spread_g_m2} if choice.spread_g_m2 else {}
        sheet = data_sheet(choice.glue, own)
    closing = design.closing.under(sheet["pressure_low_mpa"])
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
    .. [1] docs/glue-up.md, "Time": spreading, mixing and laying one after the other, the first joint waiting longest.
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
    open_limit, closed_limit = (float(sheet.time(name, warm)) for name in ("open_min", "closed_min"))
    run = _Run(areas, gross, count, sheet, warm, how)
    needed = next(
        (
            n
            for n in range(1, _MOST_PEOPLE + 1)
            if _Run(areas, gross, count, sheet, warm, replace(how, people=n)).closed_used <= closed_limit
        ),
        None,
    )
    log = conditions.log or ((0.0, conditions.coldest_c),)
    release = cure(sheet, log)
    full = cure(sheet, log, "full_cure_h").release_h if sheet.has("full_cure_h") else None
    day = the_day(sheet, conditions, [each.number for each in laminations])
    each_clamp = 1e6 * max(areas) / count
    force = (sheet["pressure_low_mpa"] * each_clamp, sheet["pressure_high_mpa"] * each_clamp)
    stops = (*day.stops, *_time_stops(sheet, how, run, open_limit, closed_limit, release, needed, count))
    return GlueUpCard(
        frame=frame,
        sheet=sheet,
        conditions=conditions,
        plan=how,
        laid=_laid(order, bearing, sheet),
        pots=run.pots,
        clamps=_clamps(clamps, how.clamp_from),
        joints=joints,
        area_m2=area,
        net_g=net,
        gross_g=gross,
        spread_min=run.open_used,
        laid_min=run.laid_at,
        closed_min=run.closed_at,
        open_limit_min=open_limit,
        closed_limit_min=closed_limit,
        open_used_min=run.open_used,
        closed_used_min=run.closed_used,
        people_needed=needed,
        clamp_force_n=force,
        release=release,
        full_h=full,
        day=day,
        dry_run=_dry_run(len(order), count, run, how, bearing, release),
        stops=stops,
        cautions=_cautions(sheet),
        workings=(
            *_workings(sheet, how, run, area, joints, net, gross, open_limit, closed_limit, needed, warm),
            *more,
            _clamp_working(sheet, force, max(areas), count, width),
            _release_working(sheet, release, full, log),
            *day.workings,
            *_drying(order, conditions, day),
        ),
    )


class _Run:
    """The minutes: pots mixed, joints spread and laid one after the other, then every clamp."""

    def __init__(
        self, areas: list[float], gross: float, clamps: int, sheet: DataSheet, warm: float, how: GlueUpPlan
    ) -> None:
        self.each = [
            area * sheet["spread_faces"] / (how.spread_m2_min * how.people) + how.lay_min for area in areas
        ]  # minutes for one joint
        per_joint = [gross * area / sum(areas) for area in areas]
        self.pot_life = float(sheet.time("pot_life_min", warm)) if sheet.has("pot_life_min") else None
        self.pot_use = None if self.pot_life is None else how.pot_share * self.pot_life
        self.pot_most = sheet["pot_mass_g"] if sheet.has("pot_mass_g") else math.inf
        self.pots: tuple[Pot, ...] = ()
        self.too_big = False
        mixing = how.mixing_min if self.pot_life is not None else 0.0
        clock, laid_at, joint = 0.0, [0.0] * len(areas), 0
        pots: list[Pot] = []
        while joint < len(areas):
            start, mass, first = clock, 0.0, joint
            clock += mixing
            while joint < len(areas):
                late = self.pot_use is not None and clock + self.each[joint] - start - mixing > self.pot_use
                if joint > first and (mass + per_joint[joint] > self.pot_most or late):
                    break
                self.too_big |= late or mass + per_joint[joint] > self.pot_most  # one joint alone is too much for a pot
                mass += per_joint[joint]
                clock += self.each[joint]
                laid_at[joint] = clock
                joint += 1
            good = None if self.pot_life is None else start + mixing + self.pot_life
            pots.append(Pot(len(pots) + 1, mass, first + 1, joint, start, clock, good))
        self.pots = tuple(pots)
        self.open_used = max(self.each)
        self.laid_at = clock
        self.closed_at = clock + clamps * how.clamp_min / how.people
        self.closed_used = self.closed_at - laid_at[0]


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


def clamp_order(places: Sequence[ClampPlace], start: ClampFrom = "middle") -> tuple[int, ...]:
    """Numbers of places, from 1 at the heel, in the order clamps are set: brackets from the middle out, as the packet
    is drawn in, or from one end; a place between two brackets once both of them are closed.

    Examples
    --------
    >>> row = [ClampPlace(0, 1), ClampPlace(150), ClampPlace(300, 2), ClampPlace(500, 3), ClampPlace(800, 4)]
    >>> clamp_order(row), clamp_order(row, "heel"), clamp_order(row, "head")
    ((3, 4, 1, 2, 5), (1, 3, 2, 4, 5), (5, 4, 3, 1, 2))
    """
    row = sorted(places, key=lambda place: place.s_mm)
    fixed = [n for n, place in enumerate(row) if place.bracket] or list(range(len(row)))
    order = [fixed[k] for k in middle_out([row[n].s_mm for n in fixed])] if start == "middle" else fixed
    found: list[int] = []
    for n in order if start != "head" else order[::-1]:
        found.append(n)
        at = fixed.index(n)
        for a, b in pairwise(fixed[max(at - 1, 0) : at + 2]):
            if a in found and b in found:
                found += range(a + 1, b)
    found += [n for n in range(len(row)) if n not in found]  # past the end brackets
    return tuple(n + 1 for n in found)


def _clamps(places: Sequence[ClampPlace], start: ClampFrom) -> tuple[ClampStep, ...]:
    s = sorted(places, key=lambda place: place.s_mm)
    return tuple(
        ClampStep(i, at, s[at - 1].s_mm, s[at - 1].bracket, s[at - 1].clamps)
        for i, at in enumerate(clamp_order(s, start), start=1)
    )


def _time_stops(
    sheet: DataSheet,
    how: GlueUpPlan,
    run: _Run,
    open_limit: float,
    closed_limit: float,
    release: Cure,
    needed: int | None,
    clamps: int,
) -> list[Stop]:
    stops = []
    if run.open_used > open_limit:
        stops.append(
            Stop(
                "time.open",
                "A spread face lies open too long",
                "it skins over before it is laid; more hands, or spread half the length at a time",
                f"{open_limit:.0f} min open assembly",
                f"{run.open_used:.0f} min",
                sheet.figure("open_min").source,
            )
        )
    if run.closed_used > closed_limit:
        help_ = f"{needed} people close it in time" if needed else "even twelve people do not: a slower glue, or cooler"
        stops.append(
            Stop(
                "time.closed",
                "The packet is not clamped within the glue's working time",
                f"the first joint sets before it is pressed; {help_}, or glue it in two lifts",
                f"{closed_limit:.0f} min closed assembly",
                f"{run.closed_used:.0f} min",
                sheet.figure("closed_min").source,
            )
        )
    if run.too_big:
        stops.append(
            Stop(
                "pot",
                "One joint is more than a pot can do",
                "the pot goes off, hot, before the joint is spread; spread it from two pots",
                f"{run.pot_most:g} g, or {run.pot_use or 0:.0f} min of use",
                f"{max(pot.mass_g for pot in run.pots):.0f} g for one joint, {max(run.each):.0f} min",
                sheet.figure("pot_mass_g").source if sheet.has("pot_mass_g") else COMMON_PRACTICE,
            )
        )
    if release.release_h is None:
        stops.append(
            Stop(
                "release.never",
                "It does not cure at this temperature",
                "there is no time after which the clamps may come off; keep it above the glue's least temperature",
                f"{sheet['least_c']:g} °C at least",
                f"{release.coldest_c:g} °C",
                sheet.figure("least_c").source,
            )
        )
    if how.clamps_at_hand is not None and how.clamps_at_hand < clamps:
        stops.append(
            Stop(
                "clamps",
                "Too few clamps",
                "a packet half clamped cannot be put off; borrow clamps, or wedges and bolts",
                f"{clamps} clamps",
                f"{how.clamps_at_hand} at hand",
                SHOP_DEFAULT,
            )
        )
    return stops


def _dry_run(count: int, clamps: int, run: _Run, how: GlueUpPlan, bearing: str, release: Cure) -> tuple[str, ...]:
    off = "not at all at this temperature" if release.release_h is None else f"after {release.release_h:.0f} h"
    return (
        "Check the jig by its chords, sagittas and diagonals.",
        f"Lay the {count} laminations dry in order, numbered, best face and heel end marked, the {bearing} one against "
        "the brackets; ends past heel and head.",
        "Film on the bed, on the brackets and under the cauls; pads under every clamp.",
        f"Set all {clamps} clamps dry, from the {how.clamp_from}"
        f"{' out' if how.clamp_from == 'middle' else ''}; clamps athwart too, to keep the edges flush.",
        "Look for gaps between laminations with the clamps tight; plane or change what does not close.",
        f"Time the dry run: with glue it is to be closed within {run.closed_at:.0f} min of the first mixing.",
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


def _workings(
    sheet: DataSheet,
    how: GlueUpPlan,
    run: _Run,
    area: float,
    joints: int,
    net: float,
    gross: float,
    open_limit: float,
    closed_limit: float,
    needed: int | None,
    warm: float,
) -> tuple[Working, ...]:
    pot = sheet.figure("pot_life_min").text if sheet.has("pot_life_min") else "one part, no pot"
    pot_limit = f"{run.pot_most:g} g, {run.pot_use:.0f} min" if run.pot_use is not None else "none"
    halving = sheet.figure("halving_k")
    return (
        Working(
            "Glue to mix",
            f"{gross:.0f} g ({net:.0f} g on the joints)",
            "Σ joints: width × length that touches × spread; over (1 − waste)",
            (
                ("joints", f"{joints}, {area:.3f} m² together"),
                ("spread", f"{sheet['spread_g_m2']:g} g/m² for both faces of a joint"),
                ("waste", f"{how.waste_share:.0%} ({SHOP_DEFAULT})"),
            ),
            sheet.figure("spread_g_m2").source,
        ),
        Working(
            "Pots",
            f"{len(run.pots)} of " + ", ".join(f"{each.mass_g:.0f} g" for each in run.pots),
            "joint by joint, until a pot's mass, or its share of the pot life, would be passed",
            (
                ("pot life", pot),
                ("temperature", f"{warm:g} °C"),
                ("at that temperature", f"{run.pot_life:.0f} min" if run.pot_life is not None else "none"),
                ("most for one pot", pot_limit),
            ),
            sheet.figure("pot_life_min").source if sheet.has("pot_life_min") else sheet.family.source,
            f"times: × 2 for each {halving.value:g} K cooler, where the sheet gives one temperature ({halving.source})",
        ),
        Working(
            "Time open",
            f"{run.open_used:.1f} of {open_limit:.0f} min",
            "face ÷ (pace × people) + laying, for the largest joint",
            (
                ("pace", f"{how.spread_m2_min:g} m²/min each"),
                ("people", f"{how.people}"),
                ("laying", f"{how.lay_min:g} min"),
            ),
            sheet.figure("open_min").source,
            f"pace and laying: {SHOP_DEFAULT}",
        ),
        Working(
            "Time until the last clamp",
            f"{run.closed_used:.1f} of {closed_limit:.0f} min; {run.closed_at:.1f} min from the first mixing",
            "all joints after the first + further pots + clamps × minutes ÷ people",
            (
                ("one joint", f"{max(run.each):.1f} min"),
                ("mixing", f"{how.mixing_min:g} min a pot"),
                ("clamping", f"{run.closed_at - run.laid_at:.1f} min"),
                ("people needed", f"{needed}" if needed else f"more than {_MOST_PEOPLE}"),
            ),
            sheet.figure("closed_min").source,
            f"pace: {SHOP_DEFAULT}; a dry run with a clock is better",
        ),
    )


def _clamp_working(sheet: DataSheet, force: tuple[float, float], area: float, clamps: int, width: float) -> Working:
    low, high = sheet.figure("pressure_low_mpa"), sheet.figure("pressure_high_mpa")
    contact = low.value == 0
    return Working(
        "Pull of each clamp",
        f"{'contact' if contact else f'{force[0] / 1000:.1f} kN'} to {force[1] / 1000:.1f} kN",
        "pressure × area of a joint ÷ clamps",
        (
            ("pressure", f"{low.value:g} to {high.value:g} N/mm²"),
            ("joint", tell("{area} m², {width} wide", area=f"{area:.3f}", width=length(width))),
            ("clamps", f"{clamps}"),
        ),
        low.source if not contact else high.source,
        "over-tight clamps starve an epoxy joint"
        if contact
        else "beyond what hand clamps give? closer clamps, thick cauls, or a glue that wants contact only",
    )


def _drying(order: list[Lamination], on: Conditions, day: Day) -> tuple[Working, ...]:
    """What settling to the shed's air will do to the bend of the released frame, timber by timber."""
    rows = []
    for timber in dict.fromkeys(each.timber for each in order):
        mine = [
            percent for number, percent in on.moisture if any(e.number == number and e.timber == timber for e in order)
        ]
        if not mine or day.settles_to is None:
            continue
        try:
            across = movement(species(timber))
        except NoSuchTimber:
            continue
        mean = min(sum(mine) / len(mine), 30.0)
        share = float(bend_by_drying(across.radial, mean, min(day.settles_to, 30.0)))
        rows.append(
            Working(
                f"Bend as {timber} settles to the air here",
                f"{share:+.2%} of the curvature",
                "1/(1 + C ΔM) − 1: thinner through its depth, as long as before",
                (
                    ("C radial", f"{across.radial:g} per 1 %"),
                    ("measured", f"{mean:.1f} % on average"),
                    ("settles to", f"{day.settles_to:.1f} %"),
                ),
                f"derived from the movement through the depth; {across.standing}",
                "drying tightens the bend, damp opens it: measure the frame when it has settled",
            )
        )
    return tuple(rows)


def _release_working(
    sheet: DataSheet, release: Cure, full: float | None, log: Sequence[tuple[float, float]]
) -> Working:
    clamp = sheet.figure("clamp_h")
    if release.release_h is None:
        value = "never, at the temperature it has"
    elif release.projected:
        value = f"{release.release_h:.1f} h after closing, if it stays at {log[-1][1]:g} °C"
    else:
        value = f"{release.release_h:.1f} h after closing"
    return Working(
        "Earliest release",
        value,
        "∫ dt / t(T) = 1; t(T) the sheet's clamp time at that temperature, nothing counted below its least",
        (
            ("clamp time", clamp.text),
            ("log", f"{len(log)} entries, {min(at for _, at in log):g} to {max(at for _, at in log):g} °C"),
            ("cured so far", f"{release.share:.0%}, {release.equivalent_h:.1f} h at 20 °C"),
            ("hours too cold", f"{release.cold_h:.1f}"),
            ("full strength", "not on the sheet" if full is None else f"{full:.0f} h"),
        ),
        clamp.source,
        "springback is reckoned for glue fully cured; longer in the clamps is always safe",
    )
