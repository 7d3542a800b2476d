"""How the figures of a glue-up's tables came about: laminations as laid, the clock, pots, clamps."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from scrieve.frames.columns.jig import closing_columns
from scrieve.frames.columns.packet import lamination_columns
from scrieve.frames.columns.rows import Columns, put_in
from scrieve.frames.design import FrameDesign
from scrieve.frames.glue_up.card import GlueUpCard, closing_on
from scrieve.frames.glue_up.minutes import SHOP_DEFAULT, Pot
from scrieve.frames.packet.closing import SPREAD_SOURCE, Closing
from scrieve.frames.parts import Jig
from scrieve.wording import length, tell
from scrieve.working import Working

#: An hour of the day, or minutes from the start, so many minutes after the first mixing.
Clock = Callable[[float], str]

_PACE = f"pace and minutes: {SHOP_DEFAULT}"
_NONE = Working("", "", "", (), "")


def glue_up_columns(
    card: GlueUpCard, design: FrameDesign, told: Clock, at: str = "after", jig: Jig | None = None
) -> dict[str, Columns]:
    """Workings of a card's tables, by table and column.

    Parameters
    ----------
    card : GlueUpCard
        Of the design.
    design : FrameDesign
    told : callable
        How the card writes a time that lies so many minutes after the first mixing.
    at : str
        What the card's clock calls those times: 'at' where the hour of the start is known, else 'after'.
    jig : Jig, optional
        As `card_for` was given it.
    """
    return {
        "laminations": _laid_columns(card, design),
        "clock": _clock_columns(card, told, at),
        "pots": _pot_columns(card, told),
        "clamps": _clamp_columns(card, closing_on(design, card.sheet, jig), jig or design.jig),
    }


def _laid_columns(card: GlueUpCard, design: FrameDesign) -> Columns:
    section = design.section
    turned = (section.s_mm - section.s_mm[0], section.direction_rad)
    known = lamination_columns(design.choice, design.packet, design.blank, design.jig, turned)
    laid = tuple(
        put_in(
            f"lamination {row.number}, laid",
            f"number {row.number} from the inside; {design.jig.bearing} of the packet to the brackets",
            f"{row.order}",
            "the one against the brackets first, then outwards from them",
            (("face spread", row.spread),),
            "the jig as designed",
        )
        for row in card.laid
    )
    return {
        "laid": laid,
        "thick": tuple(known["thickness"][row.number - 1] for row in card.laid),
        "long": tuple(known["to cut"][row.number - 1] for row in card.laid),
    }


def _clock_columns(card: GlueUpCard, told: Clock, at: str) -> Columns:
    plan, sheet = card.plan, card.sheet
    each = f"{card.clamp_count} × {plan.clamp_min:g} / {plan.people}"
    mixing = sum(pot.good_until_min is not None for pot in card.pots)
    spread = sum(joint.minutes for joint in card.each_joint)
    laid = f"{mixing} × {plan.mixing_min:g} + {spread:.1f} min" if mixing else f"{spread:.1f} min"
    times = [
        put_in("first pot mixed", "0 min", told(0.0), "the start", (), "as typed, or not said"),
        put_in(
            "last lamination laid",
            laid,
            told(card.laid_min),
            "pots × mixing + Σ minutes of the joints: area × faces spread / (pace × people) + laying",
            (
                ("joints", f"{card.joints}, {card.area_m2:.3f} m² together"),
                ("faces spread", f"{sheet['spread_faces']:g}"),
                ("pace", f"{plan.spread_m2_min:g} m²/min each, {plan.people} at work"),
                ("laying", f"{plan.lay_min:g} min each"),
            ),
            _PACE,
        ),
        put_in(
            "last clamp tight",
            f"{card.laid_min:.1f} + {each} min",
            told(card.closed_min),
            "last lamination laid + clamps × minutes / people",
            (("clamps", f"{card.clamp_count}"),),
            _PACE,
        ),
        _off(card, "clamps off", card.release.release_h, "clamp_h", told),
    ]
    first = card.each_joint[0].laid_min
    of = [
        _NONE,
        _NONE,
        put_in(
            "last clamp tight, closed",
            f"{card.closed_min:.1f} - {first:.1f} min",
            f"{card.closed_used_min:.0f} of {card.closed_limit_min:.0f} min closed",
            "from the first joint laid to the last clamp, of closed assembly at the warmest of air, timber and glue",
            (("first joint laid after", f"{first:.1f} min"), ("closed assembly", sheet.figure("closed_min").text)),
            sheet.figure("closed_min").source,
        ),
        _share(card.release.release_h, "clamp_h", card),
    ]
    if card.full_h is not None:
        times.append(_off(card, "full strength", card.full_h, "full_cure_h", told))
        of.append(_share(card.full_h, "full_cure_h", card))
    return {at: tuple(times), "of": tuple(of)}


def _off(card: GlueUpCard, what: str, hours: float | None, name: str, told: Clock) -> Working:
    if hours is None:
        return put_in(what, "below the glue's least temperature", "never", "no cure is counted there", (),
                      card.sheet.figure("least_c").source)  # fmt: skip
    return put_in(
        what,
        f"{card.closed_min:.1f} + 60 × {hours:.2f} min",
        told(card.closed_min + 60 * hours),
        "last clamp tight + hours of cure",
        (("hours of cure", f"{hours:.2f} h"),),
        card.sheet.figure(name).source,
    )


def _share(hours: float | None, name: str, card: GlueUpCard) -> Working:
    if hours is None:
        return _NONE
    figure, shown = card.sheet.figure(name), f"{hours:.0f} h"
    coldest = f"{card.release.coldest_c:g} °C at the coldest"
    return put_in(
        "hours of cure",
        f"{figure.text} of the sheet, {coldest}",
        shown + (" in the clamps" if name == "clamp_h" else ""),
        "∫ dt / t(T) = 1, nothing counted below the sheet's least temperature",
        (("the sheet's time", figure.text), ("temperature", coldest)),
        figure.source,
    )


def _pot_columns(card: GlueUpCard, told: Clock) -> Columns:
    rows = [_pot(card, pot, told) for pot in card.pots]
    return {name: tuple(row[name] for row in rows) for name in rows[0]}


def _pot(card: GlueUpCard, pot: Pot, told: Clock) -> dict[str, Working]:
    joints = card.each_joint[pot.first_joint - 1 : pot.last_joint]
    plan, figure = card.plan, f"pot {pot.number}"
    area, spread = sum(joint.area_m2 for joint in joints), sum(joint.minutes for joint in joints)
    mixing = 0.0 if pot.good_until_min is None else plan.mixing_min
    start = f"{pot.mixed_min:.1f}"
    life = 0.0 if pot.good_until_min is None else pot.good_until_min - pot.mixed_min - mixing
    source = card.sheet.figure("pot_life_min").source if life else card.sheet.family.source
    return {
        "g": put_in(
            f"{figure}, g",
            f"{card.gross_g:.1f} × {area:.4f} / {card.area_m2:.4f}",
            f"{pot.mass_g:.0f}",
            "all the glue to mix × area of this pot's joints / area of all joints",
            (("glue to mix", f"{card.gross_g:.0f} g"), ("area of its joints", f"{area:.3f} m²")),
            "each joint by its area",
        ),
        "joints": put_in(
            f"{figure}, joints",
            _filled(card, pot, life),
            f"{pot.first_joint}" if len(joints) == 1 else f"{pot.first_joint} to {pot.last_joint}",
            "joint by joint, until a pot's mass, or its share of the pot life, would be passed",
            (("share of the pot life used", f"{plan.pot_share:.0%}"), ("spread and laid in", f"{spread:.1f} min")),
            source,
        ),
        "mix at": put_in(
            f"{figure}, mix at",
            f"{start} min",
            told(pot.mixed_min),
            "when the pot before it is used up",
            (),
            "one after the other (docs/glue-up.md)",
        ),
        "used by": put_in(
            f"{figure}, used by",
            f"{start} + {mixing:g} + {spread:.1f} min",
            told(pot.used_by_min),
            "mixed + mixing + minutes of its joints",
            (("mixing", f"{mixing:g} min"), ("its joints", f"{spread:.1f} min")),
            _PACE,
        ),
        "good until": put_in(
            f"{figure}, good until",
            f"{start} + {mixing:g} + {life:.1f} min" if life else "one part, no pot",
            told(pot.good_until_min) if pot.good_until_min is not None else "–",
            "mixed + mixing + pot life at the warmest of air, timber and glue",
            (("pot life there", f"{life:.1f} min"),),
            source,
        ),
    }  # fmt: skip


def _filled(card: GlueUpCard, pot: Pot, life_min: float) -> str:
    """Why a pot does these joints and no more."""
    if pot.last_joint == card.joints:
        return "what is left"
    mine = card.each_joint[pot.first_joint - 1 : pot.last_joint + 1]
    mass, spread = sum(joint.mass_g for joint in mine), sum(joint.minutes for joint in mine)
    most = f" of {card.sheet['pot_mass_g']:g} g" if card.sheet.has("pot_mass_g") else " g"
    use = f" of {card.plan.pot_share * life_min:.1f} min" if life_min else " min"
    return f"with joint {pot.last_joint + 1} too: {mass:.0f}{most}, {spread:.1f}{use}"


def _clamp_columns(card: GlueUpCard, closing: Closing, jig: Jig) -> Columns:
    at_brackets = closing_columns(closing, jig)["clamps"]
    row = sorted(card.clamps, key=lambda step: step.at)
    places = np.array([step.s_mm for step in row])
    fixed = [n for n, step in enumerate(row) if step.bracket]
    start = card.plan.clamp_from
    way = "brackets from the middle out" if start == "middle" else f"brackets from the {start}"
    middle = min((places[n] for n in fixed), key=lambda s: abs(s - (places[fixed[0]] + places[fixed[-1]]) / 2))
    first = {"middle": middle, "heel": places[fixed[0]], "head": places[fixed[-1]]}[start]
    turns, nth, along, clamps = [], [], [], []
    for step in card.clamps:
        figure = f"place {step.at} from the heel"
        far = length(abs(step.s_mm - float(first)))
        numbers = tell("{d} from the first", d=far) if step.bracket else "both brackets beside it are closed"
        turns.append(
            put_in(f"{figure}, set", numbers, f"{step.order}",
                   f"{way}; a place between two once both are closed", (), "common practice, no source")
        )  # fmt: skip
        nth.append(
            put_in(f"{figure}, place", f"{step.at - 1} places nearer the heel, and this one", f"{step.at}",
                   "counted from the heel", (), "along the frame")
        )  # fmt: skip
        along.append(_along(figure, step.s_mm, step.bracket, places, fixed, closing.spacing_mm))
        clamps.append(
            at_brackets[step.bracket - 1]
            if step.bracket
            else put_in(f"{figure}, clamps", "between two brackets", f"{step.clamps}",
                        "one at a place: there the packet is pressed, not drawn in", (), SPREAD_SOURCE)
        )  # fmt: skip
    return {
        "set": tuple(turns),
        "place, from the heel": tuple(nth),
        "along the frame": tuple(along),
        "clamps": tuple(clamps),
    }


def _along(
    figure: str, s_mm: float, bracket: int, places: np.ndarray, fixed: Sequence[int], spacing_mm: float
) -> Working:
    source = "the jig as designed"
    if bracket:
        return put_in(f"{figure}, along", f"where bracket {bracket} meets the packet", length(s_mm),
                      "along the moulded line from the heel", (), source)  # fmt: skip
    here = int(np.argmin(np.abs(places - s_mm)))
    near = max(n for n in fixed if n < here)
    far = min(n for n in fixed if n > here)
    bays, a, b = far - near, float(places[near]), float(places[far])
    return put_in(
        f"{figure}, along",
        tell("{a} + {n} / {bays} × ({b} - {a})", a=length(a), b=length(b), n=here - near, bays=bays),
        length(s_mm),
        "evenly between its two brackets, no farther apart than a clamp presses",
        (
            ("between the brackets", length(b - a)),
            ("spacing that presses every joint", length(spacing_mm)),
            ("parts", f"{math.ceil((b - a) / spacing_mm - 1e-9)}"),
        ),
        SPREAD_SOURCE,
    )
