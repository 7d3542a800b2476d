"""The card of a glue-up and the ripping of a blank as bench sheets: tables, checks and cautions, plain text only."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from scrieve.boat import Boat
from scrieve.frames.glue_up.card import GlueUpCard
from scrieve.frames.ripping import Half, RippingPlan
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.drawing import Circle, Dimension, Drawing, Hatch, Item, Line, Text, polyline
from scrieve.sheets.figures import by_rule, length, ruled, thickness, thin_unit, unit, workings_table
from scrieve.timber.cure import Cure
from scrieve.timber.data_sheet import FIGURES
from scrieve.units import Units, format_angle
from scrieve.wording import in_units
from scrieve.working import Check

_BOX = "[  ]"
_TOWARDS = {
    1: "Marks; its moulding-edge face towards you, moulded line below",
    2: "Marks mirrored; moulding-edge faces towards you, moulded lines below",
}


def clock(start_min: float | None, minutes: float) -> str:
    """The hour of the day so many minutes after a start; minutes alone where no start was given.

    Examples
    --------
    >>> clock(8 * 60 + 30, 45), clock(20 * 60, 600), clock(None, 45.4)
    ('09:15', '06:00, 1 day on', '45 min')
    """
    if start_min is None:
        return f"{minutes:.0f} min" if minutes < 600 else f"{minutes / 60:.0f} h"
    at = math.ceil(start_min + minutes - 1e-9)
    days, of_day = divmod(at, 24 * 60)
    return f"{of_day // 60:02d}:{of_day % 60:02d}" + (f", {days} day{'s' if days > 1 else ''} on" if days else "")


def glue_tables(card: GlueUpCard, units: Units, start_min: float | None = None) -> tuple[Table, ...]:
    """Laminations as laid, the clock, pots, clamps, the dry run, the data sheet."""
    return (
        Table(
            "Laminations, in the order they are laid",
            ("laid", "number from inside", "timber", f"thick ({thin_unit(units)})", f"long ({unit(units)})", "spread"),
            tuple(
                (
                    f"{row.order}",
                    f"{row.number}",
                    row.timber,
                    ruled(row.thickness_mm, units),
                    length(row.length_mm, units),
                    row.spread,
                )
                for row in card.laid
            ),
            name="laminations",
        ),
        _clock_table(card, start_min),
        Table(
            "Pots",
            ("pot", "g", "joints", "mix at", "used by", "good until"),
            tuple(
                (
                    f"{pot.number}",
                    f"{pot.mass_g:.0f}",
                    f"{pot.first_joint}"
                    if pot.first_joint == pot.last_joint
                    else f"{pot.first_joint} to {pot.last_joint}",
                    clock(start_min, pot.mixed_min),
                    clock(start_min, pot.used_by_min),
                    "–" if pot.good_until_min is None else clock(start_min, pot.good_until_min),
                )
                for pot in card.pots
            ),
            "Joint 1 is that between the first two laminations laid. Keep a wet sample of each pot.",
            name="pots",
        ),
        Table(
            "Clamps, in the order they are set",
            ("set", "place, from the heel", f"along the frame ({unit(units)})", "at", "clamps"),
            tuple(
                (
                    f"{step.order}",
                    f"{step.at}",
                    length(step.s_mm, units),
                    f"bracket {step.bracket}" if step.bracket else "between",
                    f"{step.clamps}",
                )
                for step in card.clamps
            ),
            "A caul under each on the free face; between brackets one on both faces.",
            name="clamps",
        ),
        Table("Dry run", ("done", "what"), tuple((_BOX, text) for text in card.dry_run), name="dry-run"),
        Table(
            "Data sheet of the glue",
            ("figure", "value", "from"),
            tuple(
                (
                    FIGURES[each.name][0],
                    thickness(each.value, units) if each.name == "line_mm" else each.text,
                    ("own: " if each.own else "family: ") + each.source,
                )
                for each in card.sheet.figures
            ),
            "The maker's data sheet comes before everything here.",
            name="data-sheet",
        ),
    )


def _clock_table(card: GlueUpCard, start_min: float | None) -> Table:
    release = card.release.release_h
    rows = [
        ("first pot mixed", clock(start_min, 0.0), ""),
        ("last lamination laid", clock(start_min, card.laid_min), ""),
        (
            "last clamp tight",
            clock(start_min, card.closed_min),
            f"{card.closed_used_min:.0f} of {card.closed_limit_min:.0f} min closed",
        ),
        (
            "clamps off, at the earliest",
            "never" if release is None else clock(start_min, card.closed_min + 60 * release),
            "" if release is None else f"{release:.0f} h in the clamps",
        ),
    ]
    if card.full_h is not None:
        rows.append(
            (
                "full strength; not ripped before",
                clock(start_min, card.closed_min + 60 * card.full_h),
                f"{card.full_h:.0f} h",
            )
        )
    return Table("The clock", ("what", "at" if start_min is not None else "after", "of"), tuple(rows), name="clock")


def stop_checks(card: GlueUpCard, signed: Mapping[str, str]) -> tuple[Check, ...]:
    """Stops as checks that are not met; whose name stands for each."""
    return tuple(
        Check(
            stop.what,
            stop.value,
            stop.limit,
            False,
            stop.source,
            f"{stop.why}. " + (f"Signed: {signed[stop.key]}" if stop.key in signed else "NOT SIGNED: ____________"),
        )
        for stop in card.stops
    )


def stop_table(card: GlueUpCard, signed: Mapping[str, str], units: Units) -> Table | None:
    """Why each stop matters, and whose name stands under it; None where there is no stop."""
    if not card.stops:
        return None
    return Table(
        "Stops to be signed",
        ("stop", "why, and what to do", "name"),
        tuple(
            (f"{stop.what}: {stop.value}; limit {stop.limit}", stop.why, signed.get(stop.key, "NOT SIGNED: ________"))
            for stop in in_units(card.stops, units)
        ),
        "A name holds for the limit and the value that were signed.",
        name="stops",
    )


def glue_bench_sheet(
    card: GlueUpCard,
    boat: Boat,
    revision: str,
    link: str = "",
    *,
    start_min: float | None = None,
    signed: Mapping[str, str] | None = None,
) -> BenchSheet:
    """Return the card of a glue-up as a bench sheet.

    Parameters
    ----------
    card : GlueUpCard
    boat : Boat
        For its name and units.
    revision, link : str
        Of the frame's design; the address of the card's page.
    start_min : float, optional
        Minute of the day at which the first pot is mixed.
    signed : mapping, optional
        Who signed each stop, by the stop's key.
    """
    units = boat.units
    stops = stop_table(card, signed or {}, units)
    return BenchSheet(
        title=f"Frame {card.frame}: glue-up",
        boat=boat.name,
        member=f"frame {card.frame}",
        revision=revision,
        link=link,
        drawings=(("Clamps in the order they are set", clamp_drawing(card, units)),),
        tables=(
            *(() if stops is None else (stops,)),
            *glue_tables(card, units, start_min),
            workings_table(in_units(card.workings, units)),
        ),
        checks=stop_checks(card, signed or {}),
        cautions=in_units(card.cautions, units),
        notes=(f"{card.joints} joints, {card.area_m2:.2f} m² together.",),
        summary=glue_summary(card, units),
    )


def glue_summary(card: GlueUpCard, units: Units) -> tuple[tuple[str, str], ...]:
    """The figures at the head of the card."""
    on, release = card.conditions, card.release.release_h
    low, high = (force / 1000 for force in card.clamp_force_n)
    settles = "–" if card.day.settles_to is None else f"{card.day.settles_to:.1f} %"
    least, most = card.day.moisture_least, card.day.moisture_most
    measured = "not measured"
    if least is not None and most is not None:
        measured = f"measured {least:g} %" if least == most else f"measured {least:g} to {most:g} %"
    return (
        ("glue", f"{card.sheet.family.name}: mix {card.gross_g:.0f} g ({card.net_g:.0f} g on the joints)"),
        ("pots", f"{len(card.pots)} of " + ", ".join(f"{pot.mass_g:.0f} g" for pot in card.pots)),
        (
            "spread to the last clamp",
            f"{card.closed_used_min:.0f} of {card.closed_limit_min:.0f} min, "
            f"{card.plan.people} {'person' if card.plan.people == 1 else 'people'}",
        ),
        (
            "clamps",
            f"{card.clamp_count}, from the {card.plan.clamp_from}{' out' if card.plan.clamp_from == 'middle' else ''}",
        ),
        ("pull of each", f"contact to {high:.1f} kN" if low == 0 else f"{low:.1f} to {high:.1f} kN"),
        (
            "clamps off, at the earliest",
            "never at this temperature" if release is None else f"{release:.0f} h after closing",
        ),
        ("air", f"{on.air_c:g} °C, {on.humidity:g} %; timber {on.surface_c:g} °C"),
        ("dew point", f"{round(card.day.dew_point_c, 1) + 0.0:.1f} °C"),
        ("timber settles to", f"{settles}; {measured}"),
    )


def curing_drawing(found: Cure, log: Sequence[tuple[float, float]], title: str = "Cure") -> Drawing:
    """Return the share cured by hours since closing, with each look at the glue line and its °C; full at 1.

    The hours run to the earliest release, or past the last look where that comes never.
    """
    wide, tall = 120.0, 50.0
    last = max(log[-1][0], 1.0)
    end = 1.08 * max(last, found.release_h if found.release_h is not None else 1.5 * last)
    step = next(each for each in (1, 2, 4, 6, 12, 24, 48, 96, 240, 1000) if end / each <= 8)

    def at(hour: float, share: float) -> tuple[float, float]:
        return (wide * hour / end, tall * share)

    items: list[Item] = [Line(at(0, 0), at(end, 0), "OTHER FACE"), Line(at(0, 1), at(end, 1), "BRACKETS")]
    for hour in np.arange(0.0, end, step):
        items += [
            Line(at(hour, 0), at(hour, 1), "GRID"),
            Text(at(hour, -0.06), f"{hour:g}", 2.4, "FIGURES", "middle", "top"),
        ]
    for share in (0.0, 0.5, 1.0):
        text = Text((-1.5, tall * share), f"{100 * share:.0f} %", 2.4, "FIGURES", "right", "middle")
        items += [Line(at(0, share), at(end, share), "GRID"), text]
    run = (found.hours <= end) & (found.shares <= 1.0)
    curve = np.column_stack([found.hours[run], found.shares[run]])
    if found.release_h is not None and found.release_h <= end:
        curve = np.vstack([curve, [found.release_h, 1.0]])
    seen = curve[curve[:, 0] <= last + 1e-9]
    if len(seen) > 1:
        items.append(polyline([at(*row) for row in seen], "MOULDED LINE"))
    ahead = curve[curve[:, 0] >= last - 1e-9]
    if len(seen) and len(ahead):
        ahead = np.vstack([seen[-1:], ahead])
    if len(ahead) > 1:
        items.append(polyline([at(*row) for row in ahead], "OTHER FACE"))
    for hour, temperature in log:
        where = at(hour, min(float(np.interp(hour, found.hours, found.shares)), 1.0))
        told = Text((where[0] - 1.5, where[1] + 1.8), f"{temperature:g} °C", 2.4, "FIGURES", "right")
        items += [Circle(where, 1.0, "MARKS"), told]  # the curve rises, so to the left above it is room
    items.append(Text((0.0, -9.5), "hours since closing; dashed: the last temperature held", 2.4))
    return Drawing(tuple(items), title, 1.0, None)  # hours and shares are no lengths


def clamp_drawing(card: GlueUpCard, units: Units) -> Drawing:
    """Return the packet drawn straight, heel to the left, with its clamps; in each the turn in which it is set."""
    places = [step.s_mm for step in card.clamps]
    low, high = min(places), max(places)
    n = max(high - low, 1.0) / 150.0
    thick = 5.0 * n
    ends = (low - 8 * n, high + 8 * n)
    packet = [(ends[0], 0.0), (ends[1], 0.0), (ends[1], thick), (ends[0], thick)]
    items: list[Item] = [
        polyline(packet, "LAMINATIONS", True),
        Hatch(polyline(packet, "LAMINATIONS").points, "level", n),
    ]
    steps = sorted(card.clamps, key=lambda step: step.s_mm)
    rings = _spread([step.s_mm for step in steps], 8.6 * n)
    feet = _spread([step.s_mm for step in steps], 3.2 * n)
    for step, ring, foot in zip(steps, rings, feet, strict=True):
        x = step.s_mm
        first = step.order == 1
        items += [
            polyline([(ring, thick + 6 * n), (x, thick + 2 * n), (x, -2 * n), (foot, -4 * n)], "BRACKETS"),
            Circle((ring, thick + 10 * n), 4 * n, "MARKS" if first else "BRACKETS"),
            Text((ring, thick + 10 * n), f"{step.order}", 3.2 * n, "FIGURES", "middle", "middle"),
            *([Text((ring, thick + 15 * n), f"× {step.clamps}", 2.6 * n, align="middle")] if step.clamps > 1 else []),
            Text((foot, -5 * n), length(x, units), 2.2 * n, "DIMENSIONS", "right", "middle", 90.0),
        ]
    items += [
        Text((ends[0] - 2 * n, thick / 2), "heel", 2.6 * n, align="right", level="middle"),
        Text((ends[1] + 2 * n, thick / 2), "head", 2.6 * n, level="middle"),
    ]
    return Drawing(tuple(items), "Clamps in the order they are set", float(n))


def ripping_drawing(plan: RippingPlan, units: Units) -> Drawing:
    """Return the blank seen on its end, at full size: both halves, kerf and cleaning across the siding.

    The depth is not to scale; what goes to dust or shavings is hatched.
    """
    deep = min(0.6 * plan.siding_mm, 36.0)  # so that the names above it leave the page room for full size
    items: list[Item] = []
    names: list[tuple[float, str]] = []
    for layer in plan.layers:
        box = [(layer.from_mm, 0.0), (layer.to_mm, 0.0), (layer.to_mm, deep), (layer.from_mm, deep)]
        items.append(polyline(box, "MOULDED LINE" if layer.what == "half" else "OTHER FACE", True))
        middle = (layer.from_mm + layer.to_mm) / 2
        wide = ruled(layer.to_mm - layer.from_mm, units)
        if layer.what == "half":
            items += [
                Text((middle, deep / 2), layer.hand, 10.0, "FIGURES", "middle", "middle"),
                Dimension((layer.from_mm, 0.0), (layer.to_mm, 0.0), -6.0, wide, 2.6),
            ]
            continue
        items.append(Hatch(polyline(box, "HATCHING").points, "cross" if layer.what == "kerf" else "diagonal", 1.2))
        short = layer.to_mm < layer.from_mm  # the blank is too narrow: the halves and the kerf share wood
        lack = ruled(layer.from_mm - layer.to_mm, units)
        names.append((middle, f"{layer.what}: {lack} short" if short else f"{layer.what}, {wide}"))
    feet = _spread([x for x, _ in names], 5.0)
    for (x, name), foot in zip(names, feet, strict=True):
        items.append(Line((x, deep), (foot, deep + 8.0), "DIMENSIONS"))
        items.append(Text((foot, deep + 9.0), name, 2.4, angle_deg=75.0, level="middle"))
    items.append(Dimension((0.0, 0.0), (plan.siding_mm, 0.0), -14.0, ruled(plan.siding_mm, units), 2.6))
    return Drawing(tuple(items), "Across the siding", 1.0)


def _spread(places: Sequence[float], apart: float) -> list[float]:
    """Places moved as little as it takes for neighbours to stand `apart`, each cluster about its middle.

    Examples
    --------
    >>> _spread([0.0, 48.0, 50.0, 52.0], 5.0)
    [0.0, 45.0, 50.0, 55.0]
    """
    clusters = [[place] for place in places]
    merged = True
    while merged:
        merged = False
        for i in range(len(clusters) - 1):
            a, b = ((sum(each) / len(each), apart * (len(each) - 1) / 2) for each in (clusters[i], clusters[i + 1]))
            if a[0] + a[1] + apart > b[0] - b[1] + 1e-9:
                clusters[i : i + 2] = [clusters[i] + clusters[i + 1]]
                merged = True
                break
    return [sum(each) / len(each) + apart * (k - (len(each) - 1) / 2) for each in clusters for k in range(len(each))]


def ripping_tables(plan: RippingPlan, units: Units) -> tuple[Table, ...]:
    """Strips across the siding, cuts in order, bevels and marks of each half."""
    strips = Table(
        "Across the siding, from the edge of the port half" if plan.sizes.halves == 2 else "Across the siding",
        ("strip", "hand", *(f"{name} ({thin_unit(units)})" for name in ("from", "to", "wide"))),
        tuple(
            (
                layer.what,
                {"P": "port", "S": "starboard", "": ""}[layer.hand],
                ruled(layer.from_mm, units),
                ruled(layer.to_mm, units),
                ruled(layer.to_mm - layer.from_mm, units),
            )
            for layer in plan.layers
        ),
        name="strips",
    )
    cuts = Table(
        "Cuts in order",
        ("", "what", "measured from", f"setting ({thin_unit(units)})", f"leaves ({thin_unit(units)})", "how"),
        tuple(
            (
                f"{cut.order}",
                cut.what,
                cut.measured_from,
                ruled(cut.setting_mm, units),
                ruled(cut.leaves_mm, units),
                in_units(cut.how, units),
            )
            for cut in plan.cuts
        ),
        name="cuts",
    )
    bevels = tuple(
        Table(
            f"Bevels of the {half.word} half",
            ("mark", f"along ({unit(units)})", "bevel", "off", f"wood ({thin_unit(units)})"),
            tuple(
                (
                    f"{bevel.number}",
                    length(bevel.s_mm, units),
                    "square" if bevel.off_face == "neither" else format_angle(bevel.bevel_rad),
                    bevel.off_face,
                    ruled(bevel.wood_mm, units),
                )
                for bevel in half.bevels
            ),
            f"Moulding edge on the {half.moulding_face} face; looked at on it, the heel lies at the {half.heel_at}.",
            name=f"bevels-{half.word}",
        )
        for half in plan.halves
    )
    return (strips, cuts, *bevels, _mark_table(plan, units))


def _mark_table(plan: RippingPlan, units: Units) -> Table:
    """Marks with a place along the frame: the same on both halves, which mirror each other."""
    return Table(
        "Marks of both halves" if len(plan.halves) > 1 else "Marks",
        ("mark", f"from heel ({unit(units)})", f"half-breadth ({unit(units)})", f"height ({unit(units)})"),
        tuple(
            (mark.text, length(mark.s_mm, units), length(mark.half_breadth_mm, units), length(mark.height_mm, units))
            for mark in plan.placed
        ),
        "Along the moulded line. Label each half and carry heel, head and marks round it before it is ripped.",
        name="marks",
    )


def halves_drawing(plan: RippingPlan, units: Units) -> Drawing:
    """Return both halves drawn straight, each with its moulding-edge face towards you: where heel, marks and label go.

    Half P lies above half S; across the frame it is not to scale.
    """
    places = [mark.s_mm or 0.0 for mark in plan.placed]
    low, high = min(places), max(places)
    n = max(high - low, 1.0) / 130.0
    h, deep, apart = 2.4 * n, 10.0 * n, 34.0 * n
    items: list[Item] = []
    for row, half in enumerate(plan.halves):
        top = -apart * row

        def across(s: float, half: Half = half) -> float:
            return s - low if half.heel_at == "left" else high - s

        ends = (across(low), across(high))
        face = polyline(
            [(ends[0], top), (ends[1], top), (ends[1], top - deep), (ends[0], top - deep)], "MOULDED LINE", True
        )
        items += [face, Text(((high - low) / 2, top - deep / 2), half.hand, 6 * n, "FIGURES", "middle", "middle")]
        for s, word in zip((low, high), ("heel", "head"), strict=True):
            left = across(s) < (high - low) / 2
            at = (across(s) + (-1.5 * n if left else 1.5 * n), top - deep / 2)
            items.append(Text(at, word, h, align="right" if left else "left", level="middle"))
        for bevel in half.bevels:
            x = across(bevel.s_mm)
            items.append(Line((x, top), (x, top - deep), "BEVEL MARKS", title=f"bevel mark {bevel.number}"))
            items.append(Text((x, top + 1.0 * n), f"{bevel.number}", h, "FIGURES", "middle"))
        for mark in plan.placed:
            if mark.text.startswith("waterline"):
                x = across(mark.s_mm or 0.0)
                name = mark.text if mark.height_mm is None else f"WL {length(mark.height_mm, units)}"
                items.append(Line((x, top), (x, top - deep - 2 * n), "FRAME MARKS", title=mark.text))
                items.append(
                    Text((x, top - deep - 3 * n), name, 0.9 * h, align="right", level="middle", angle_deg=90.0)
                )
    return Drawing(tuple(items), "Both halves, moulding-edge face towards you", float(n), None)


def ripping_bench_sheet(plan: RippingPlan, boat: Boat, revision: str, link: str = "") -> BenchSheet:
    """Return the ripping of a blank as a bench sheet."""
    units = boat.units
    return BenchSheet(
        title=f"Frame {plan.frame}: ripping",
        boat=boat.name,
        member=f"frame {plan.frame}",
        revision=revision,
        link=link,
        drawings=(
            (f"The blank on its end, {thin_unit(units)}; depth not to scale", ripping_drawing(plan, units)),
            (_TOWARDS[len(plan.halves)], halves_drawing(plan, units)),
        ),
        tables=ripping_tables(plan, units),
        checks=(in_units(plan.check, units),),
        cautions=in_units(plan.cautions, units),
        summary=(
            ("siding of the blank", by_rule(plan.siding_mm, units)),
            ("each half sided", by_rule(plan.sizes.sided_mm, units)),
            ("kerf", by_rule(plan.sizes.kerf_mm, units)),
            ("left to clean off each sawn face", by_rule(plan.cleaning_left_mm, units)),
        ),
    )
