"""What of a glue-up is out of range in its minutes, its pots, its clamps or its cure: stops, to be signed."""

from __future__ import annotations

from scrieve.frames.glue_up.minutes import SHOP_DEFAULT, GlueUpPlan, Minutes
from scrieve.timber.conditions import Stop
from scrieve.timber.cure import Cure
from scrieve.timber.data_sheet import DataSheet
from scrieve.timber.glue import COMMON_PRACTICE


def glue_up_stops(
    sheet: DataSheet,
    plan: GlueUpPlan,
    run: Minutes,
    limits_min: tuple[float, float],
    needed: int | None,
    clamps: int,
    release: Cure,
) -> tuple[Stop, ...]:
    """Return the stops of a glue-up.

    Parameters
    ----------
    sheet, plan, run
        The glue, the shop, and the minutes it takes.
    limits_min : (float, float)
        Open and closed assembly by the sheet, at the day's temperature.
    needed : int or None
        Fewest people who close it in time.
    clamps : int
        How many it takes.
    release : Cure
        When the clamps may come off.
    """
    open_limit, closed_limit = limits_min
    stops = []
    if run.open_used_min > open_limit:
        stops.append(
            Stop(
                "time.open",
                "A spread face lies open too long",
                "it skins over before it is laid; more hands, or spread half the length at a time",
                f"{open_limit:.0f} min open assembly",
                f"{run.open_used_min:.0f} min",
                sheet.figure("open_min").source,
            )
        )
    if run.closed_used_min > closed_limit:
        help_ = f"{needed} people close it in time" if needed else "even twelve people do not: a slower glue, or cooler"
        stops.append(
            Stop(
                "time.closed",
                "The packet is not clamped within the glue's working time",
                f"the first joint sets before it is pressed; {help_}, or glue it in two lifts",
                f"{closed_limit:.0f} min closed assembly",
                f"{run.closed_used_min:.0f} min",
                sheet.figure("closed_min").source,
            )
        )
    if run.too_big:
        stops.append(
            Stop(
                "pot",
                "One joint is more than a pot can do",
                "the pot goes off, hot, before the joint is spread; spread it from two pots",
                f"{run.pot_most_g:g} g, or {run.pot_use_min or 0:.0f} min of use",
                f"{max(pot.mass_g for pot in run.pots):.0f} g for one joint, {run.open_used_min:.0f} min",
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
    if plan.clamps_at_hand is not None and plan.clamps_at_hand < clamps:
        stops.append(
            Stop(
                "clamps",
                "Too few clamps",
                "a packet half clamped cannot be put off; borrow clamps, or wedges and bolts",
                f"{clamps} clamps",
                f"{plan.clamps_at_hand} at hand",
                SHOP_DEFAULT,
            )
        )
    return tuple(stops)
