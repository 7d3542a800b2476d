"""How the figures of a packet's tables came about: laminations, scarfs, strips, ripping, strength."""

from __future__ import annotations

import math

import numpy as np

from scrieve.frames.choice import FrameChoice
from scrieve.frames.columns.rows import Columns, put_in
from scrieve.frames.packet.scarfs import ScarfPlan
from scrieve.frames.packet.strength import SURVEYOR, Equivalent
from scrieve.frames.parts import Blank, Jig, Lamination, Outline, Packet, StripOrder
from scrieve.wording import Length, by_itself, joined, length, small, tell
from scrieve.working import Working

_CLEAR = "transformed section; clear-wood averages, not design values"


def lamination_columns(
    choice: FrameChoice, packet: Packet, blank: Blank, jig: Jig, turn_rad: tuple[np.ndarray, np.ndarray]
) -> Columns:
    """Of the laminations: thickness, developed length, length to cut, tightest radius.

    `turn_rad` is the direction of the moulded line along its girth: (s [mm], angle [rad]).
    """
    girth, angle = turn_rad
    whole = all(each.first_mm is None and each.last_mm is None for each in packet.laminations)
    thick, heel_to_head, to_cut, radius = [], [], [], []
    outside = packet.depth_mm - np.cumsum([each.thickness_mm for each in packet.laminations])
    for each, over in zip(packet.laminations, outside.tolist(), strict=True):
        figure = f"lamination {each.number}"
        deep = over + each.thickness_mm / 2 - blank.outside_mm
        thick.append(_thickness(choice, packet, blank, each, figure))
        first = float(girth[0]) if each.first_mm is None else each.first_mm
        last = float(girth[-1]) if each.last_mm is None else each.last_mm
        turn = round(float(np.interp(last, girth, angle) - np.interp(first, girth, angle)), 4) + 0.0
        numbers = (
            tell("{l} - ({t:.4f}) × {d}", l=length(last - first), t=turn, d=small(deep))
            if whole
            else tell("{l} along the moulded line, less ∫κd ds", l=length(last - first))
        )
        heel_to_head.append(
            put_in(
                f"{figure}, heel to head",
                numbers,
                length(each.developed_mm),
                "∫(1 - κd) ds = girth - angle turned × d, d its middle line inboard of the moulded line",
                (("angle turned", f"{math.degrees(turn):+.1f}°"), ("d", small(deep) if whole else "place by place")),
                "parallel curves",
            )
        )
        ends = (each.first_mm is None) + (each.last_mm is None)
        to_cut.append(
            put_in(
                f"{figure}, to cut",
                tell("{d} + {n} × {t}", d=length(each.developed_mm), n=ends, t=small(choice.trim_mm, None)),
                length(each.length_mm),
                "heel to head + trimming allowance at each end that runs past heel or head",
                (("trimming allowance", small(choice.trim_mm, None)),),
                "common practice, no source",
            )
        )
        radius.append(_radius(packet, jig, each, packet.depth_mm - over - each.thickness_mm / 2, figure))
    columns = {"thickness": thick, "heel to head": heel_to_head, "to cut": to_cut, "tightest radius": radius}
    return {name: tuple(found) for name, found in columns.items()}


def _thickness(choice: FrameChoice, packet: Packet, blank: Blank, each: Lamination, figure: str) -> Working:
    count = len(packet.laminations)
    formula = "depth needed / number of laminations, rounded up; the fewest that meet every limit"
    if choice.stack:
        numbers, formula = "as listed by the builder", "given, not computed"
    elif choice.lamination_mm is not None:
        numbers, formula = "as settled by the builder", "given, not computed"
    else:
        share = blank.needed_mm / count
        numbers = tell(
            "{n} / {c} = {s}, up to the next {t}",
            n=small(blank.needed_mm),
            c=count,
            s=small(share, 2),
            t=small(choice.step_mm, None),
        )
    return put_in(
        f"{figure}, thickness",
        numbers,
        small(each.thickness_mm),
        formula,
        (("depth needed", small(blank.needed_mm)), ("laminations", count), ("packet", small(packet.depth_mm))),
        "limits of bending: see Checks",
    )


def _radius(packet: Packet, jig: Jig, each: Lamination, middle_mm: float, figure: str) -> Working:
    """The tightest radius of a lamination's middle line; `middle_mm` is that line from the packet's inside."""
    strain = ("strain there, t / 2R", f"{100 * each.strain:.3f} %")
    formula = "|1/κ_jig - d|, d the lamination's middle inboard of the packet's neutral line; tightest along the frame"
    source = "parallel curves of the packet in the jig (docs/frames.md)"
    if not math.isfinite(each.radius_mm):
        return Working(f"{figure}, tightest radius", "straight", formula, (strain,), source)
    whole = all(other.first_mm is None and other.last_mm is None for other in packet.laminations)
    deep = packet.neutral_mm - middle_mm
    here = (jig.s_mm >= -1e-9) & (jig.s_mm <= jig.s_mm[-1] + jig.s_mm[0] + 1e-9)
    kappa = jig.curvature_per_mm[here]
    lies = kappa / (1 - kappa * deep)
    tightest = float(kappa[int(np.argmax(np.abs(lies)))])
    numbers = (
        tell("|{r} - {d}|", r=length(1 / tightest), d=small(deep))
        if whole
        else "place by place, as laminations drop out"
    )
    return put_in(
        f"{figure}, tightest radius",
        numbers,
        length(each.radius_mm),
        formula,
        (("neutral line of the packet in the jig", length(1 / tightest)), ("d", small(deep)), strain),
        source,
    )


def scarf_columns(plan: ScarfPlan, packet: Packet) -> Columns:
    """Of the scarfs: place and length."""
    middle, long = [], []
    thick = {each.number: each.thickness_mm for each in packet.laminations}
    rule = plan.rule
    for scarf in plan.scarfs:
        figure = f"lamination {scarf.lamination}"
        apart = "none beside it" if not math.isfinite(plan.apart_mm) else length(plan.apart_mm)
        middle.append(
            put_in(
                f"{figure}, middle",
                "set apart by the rule",
                length(scarf.s_mm),
                rule.name,
                (("least between neighbours' middles", apart), ("pieces", _pieces(plan, scarf.lamination))),
                rule.source,
            )
        )
        long.append(
            put_in(
                f"{figure}, length",
                tell("{s:g} × {t}", s=plan.slope, t=small(thick[scarf.lamination], None)),
                length(scarf.length_mm),
                "slope × thickness",
                (("slope", f"1 in {plan.slope:g}"),),
                "Wood Handbook ch. 10: solid wood is strongest scarfed at 1 in 12 or flatter",
            )
        )
    return {"middle, from heel": tuple(middle), "length": tuple(long)}


def _pieces(plan: ScarfPlan, number: int) -> str:
    return next((str(len(pieces)) for of, pieces in plan.pieces if of == number), "1")


def strip_columns(choice: FrameChoice, packet: Packet, order: tuple[StripOrder, ...]) -> Columns:
    """Of the strips to get out: number, sizes as sawn, length, volume."""
    found: dict[str, list[Working]] = {name: [] for name in ("strips", "sawn", "sawn width", "length", "volume")}
    planing = ("left for planing", small(choice.planing_mm, None))
    for each in order:
        mine = [lam for lam in packet.laminations if (lam.timber, lam.thickness_mm) == (each.timber, each.thickness_mm)]
        numbers = ", ".join(str(lam.number) for lam in mine)
        longest = max(mine, key=lambda lam: lam.length_mm)
        found["strips"].append(
            put_in(each.timber, f"laminations {numbers}", str(each.count), "one strip a lamination", (), "the packet")
        )
        found["sawn"].append(
            put_in(
                each.timber,
                tell("{t} + {p}", t=small(each.thickness_mm), p=small(choice.planing_mm)),
                small(each.sawn_thickness_mm),
                "thickness + planing",
                (planing,),
                "common practice, no source",
            )
        )
        found["sawn width"].append(
            put_in(
                each.timber,
                tell("{w} + {p}", w=small(packet.width_mm), p=small(choice.planing_mm)),
                length(each.sawn_width_mm),
                "siding of the blank + planing",
                (("siding of the blank", small(packet.width_mm)), planing),
                "common practice, no source",
            )
        )
        found["length"].append(
            put_in(
                each.timber,
                f"lamination {longest.number}, to cut",
                length(each.length_mm),
                "the longest of them",
                (),
                "the packet",
            )
        )
        sizes = (each.sawn_thickness_mm, each.sawn_width_mm, each.length_mm)
        found["volume"].append(
            put_in(
                each.timber,
                f"{each.count} × {sizes[0]:.1f} × {sizes[1]:.1f} × {sizes[2]:.0f} mm³ / 10⁹",
                f"{each.volume_m3:.4f} m³",
                "number × sawn thickness × sawn width × length",
                (),
                "geometry",
            )
        )
    return {name: tuple(rows) for name, rows in found.items()}


def ripping_columns(choice: FrameChoice, blank: Blank) -> Columns:
    """Of the lines across the blank: where each lies from its edge."""
    edge, sided, kerf, siding = choice.edge_cleaning_mm, choice.sided_mm, choice.kerf_mm, blank.siding_mm
    e, s, k, w = (small(each) for each in (edge, sided, kerf, siding))
    sums = (
        by_itself(e),
        tell("{e} + {s}", e=e, s=s),
        tell("{w} / 2 - {k} / 2", w=w, k=k),
        tell("{w} / 2 + {k} / 2", w=w, k=k),
        tell("{w} - {e} - {s}", w=w, e=e, s=s),
        tell("{w} - {e}", w=w, e=e),
    )[: len(blank.rips)]
    inputs = (
        ("cleaning of an edge", e),
        ("sided", s),
        ("kerf", k),
        ("cleaning of a sawn face", small(choice.cleaning_mm)),
        ("siding of the blank", w),
    )
    return {
        "at": tuple(
            put_in(
                name, sum, Length(at, 1), "from the edge on: cleaning, siding, kerf in the middle", inputs, "geometry"
            )
            for (name, at), sum in zip(blank.rips, sums, strict=True)
        )
    }


def strength_columns(seen: Equivalent, choice: FrameChoice, outline: Outline) -> Columns:
    """Of the sections along the frame: moulded depth, EI, Z, and each over the old frame's."""
    found: dict[str, list[Working]] = {name: [] for name in ("from heel", "moulded", "EI", "Z")}
    how = (
        "by table" if choice.moulded_table else "tapered evenly" if choice.moulded_head_mm is not None else "throughout"
    )
    for each in seen.new:
        sided = small(choice.sided_mm, None)
        laid = joined([tell("{t} × {e} N/mm²", t=small(t), e=f"{of:.0f}") for t, of in each.left])
        girth = float(outline.s_mm[-1])
        found["from heel"].append(
            put_in(
                f"{each.name}, from the heel",
                tell("{k:.3f} × {g}", k=each.s_mm / girth, g=length(girth)),
                length(each.s_mm),
                "heel, quarters and head of the girth, the tightest place, each notch, and where the builder asked",
                (),
                "the moulded line",
            )
        )
        found["moulded"].append(
            put_in(
                f"{each.name}, moulded",
                tell("{a} at the heel, {how}, {s} along", a=small(outline.moulded_mm[0]), how=how, s=length(each.s_mm)),
                small(each.moulded_mm),
                "as settled: one depth, tapered heel to head, or by table",
                (),
                "settled by the builder",
            )
        )
        found["EI"].append(
            put_in(
                f"{each.name}, EI",
                tell("{b} × Σ over {n} laminations", b=sided, n=len(each.left)),
                f"{each.ei_nmm2 / 1e9:.2f} kN m²",
                "b Σ E (t³/12 + t (c - y_N)²), c the middle of what is left of each lamination, notches taken off",
                (
                    ("left in the section, inside outwards, thickness × E", laid),
                    ("neutral line from the packet's outside", small(each.neutral_mm)),
                ),
                _CLEAR,
                f"sizes and strength: {SURVEYOR}",
            )
        )
        found["Z"].append(
            put_in(
                f"{each.name}, Z",
                f"{each.ei_nmm2 / 1e9:.3f} × 10⁹ / ({each.mean_mpa:.0f} × {each.reach_mm:.1f}) mm³",
                f"{each.modulus_mm3 / 1e3:.1f} cm³",
                "EI / (mean E × y), y the farthest fibre from the neutral line",
                (("mean E", f"{each.mean_mpa:.0f} N/mm²"), ("y", small(each.reach_mm))),
                _CLEAR,
            )
        )
    columns = {name: tuple(rows) for name, rows in found.items()}
    if seen.old is None:
        return columns
    against = (
        ("EI, × old", "ei_nmm2", 1e9, "kN m²"),
        ("Z, × old", "modulus_mm3", 1e3, "cm³"),
        ("strength, × old", "strength_nmm", 1e6, "kN m"),
    )
    for name, which, by, unit in against:
        old = getattr(seen.old, which) / by
        columns[name] = tuple(
            put_in(
                f"{each.name}, {name}",
                f"{getattr(each, which) / by:.2f} / {old:.2f} {unit}",
                f"{getattr(each, which) / getattr(seen.old, which):.2f}",
                "new over old; strength: MOR × C_c × EI / (E y) of the first fibre to break",
                (("old", seen.old_words),),
                f"{_CLEAR}; C_c = 1 - 2000 (t/R)²",
                f"below 1: {SURVEYOR}",
            )
            for each in seen.new
        )
    return columns
