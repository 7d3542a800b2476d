"""How the figures of a glue-up came about: glue, pots, minutes, clamps, cure, and what drying will do to the bend."""

from __future__ import annotations

from collections.abc import Sequence

from scrieve.errors import NoSuchTimber
from scrieve.frames.glue_up.minutes import MOST_PEOPLE, SHOP_DEFAULT, GlueUpPlan, Minutes
from scrieve.frames.parts import Lamination
from scrieve.timber.conditions import Conditions, Day
from scrieve.timber.cure import Cure
from scrieve.timber.data_sheet import DataSheet
from scrieve.timber.moisture import bend_by_drying
from scrieve.timber.species import movement, species
from scrieve.wording import length, tell
from scrieve.working import Working


def time_workings(
    sheet: DataSheet,
    how: GlueUpPlan,
    run: Minutes,
    mass_g: tuple[float, float],
    limits_min: tuple[float, float],
    needed: int | None,
    warm_c: float,
) -> tuple[Working, ...]:
    """Of glue, pots and minutes.

    `mass_g` is the glue on the joints and to be mixed, `limits_min` open and closed assembly at `warm_c`, `needed` the
    fewest people who close it in time.
    """
    net, gross = mass_g
    open_limit, closed_limit = limits_min
    area = sum(joint.area_m2 for joint in run.joints)
    pot = sheet.figure("pot_life_min").text if sheet.has("pot_life_min") else "one part, no pot"
    pot_limit = f"{run.pot_most_g:g} g, {run.pot_use_min:.0f} min" if run.pot_use_min is not None else "none"
    halving = sheet.figure("halving_k")
    return (
        Working(
            "Glue to mix",
            f"{gross:.0f} g ({net:.0f} g on the joints)",
            "Σ joints: width × length that touches × spread; over (1 − waste)",
            (
                ("joints", f"{len(run.joints)}, {area:.3f} m² together"),
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
                ("temperature", f"{warm_c:g} °C"),
                ("at that temperature", f"{run.pot_life_min:.0f} min" if run.pot_life_min is not None else "none"),
                ("most for one pot", pot_limit),
            ),
            sheet.figure("pot_life_min").source if sheet.has("pot_life_min") else sheet.family.source,
            f"times: × 2 for each {halving.value:g} K cooler, where the sheet gives one temperature ({halving.source})",
        ),
        Working(
            "Time open",
            f"{run.open_used_min:.1f} of {open_limit:.0f} min",
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
            f"{run.closed_used_min:.1f} of {closed_limit:.0f} min; {run.closed_min:.1f} min from the first mixing",
            "all joints after the first + further pots + clamps × minutes ÷ people",
            (
                ("one joint", f"{run.open_used_min:.1f} min"),
                ("mixing", f"{how.mixing_min:g} min a pot"),
                ("clamping", f"{run.closed_min - run.laid_min:.1f} min"),
                ("people needed", f"{needed}" if needed else f"more than {MOST_PEOPLE}"),
            ),
            sheet.figure("closed_min").source,
            f"pace: {SHOP_DEFAULT}; a dry run with a clock is better",
        ),
    )


def pull_working(
    sheet: DataSheet, force_n: tuple[float, float], area_m2: float, clamps: int, width_mm: float
) -> Working:
    """Of the pull of each clamp: `force_n` by the least and most pressure of the sheet, `area_m2` of a joint."""
    low, high = sheet.figure("pressure_low_mpa"), sheet.figure("pressure_high_mpa")
    contact = low.value == 0
    return Working(
        "Pull of each clamp",
        f"{'contact' if contact else f'{force_n[0] / 1000:.1f} kN'} to {force_n[1] / 1000:.1f} kN",
        "pressure × area of a joint ÷ clamps",
        (
            ("pressure", f"{low.value:g} to {high.value:g} N/mm²"),
            ("joint", tell("{area} m², {width} wide", area=f"{area_m2:.3f}", width=length(width_mm))),
            ("clamps", f"{clamps}"),
        ),
        low.source if not contact else high.source,
        "over-tight clamps starve an epoxy joint"
        if contact
        else "beyond what hand clamps give? closer clamps, thick cauls, or a glue that wants contact only",
    )


def release_working(
    sheet: DataSheet, release: Cure, full_h: float | None, log: Sequence[tuple[float, float]]
) -> Working:
    """Of the earliest release; `full_h` hours to full strength, `log` of hours and temperatures."""
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
            ("full strength", "not on the sheet" if full_h is None else f"{full_h:.0f} h"),
        ),
        clamp.source,
        "springback is reckoned for glue fully cured; longer in the clamps is always safe",
    )


def drying_workings(order: list[Lamination], on: Conditions, day: Day) -> tuple[Working, ...]:
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
