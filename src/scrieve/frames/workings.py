"""How each headline figure of a frame came about: formula, inputs, source, caution."""

from __future__ import annotations

import math

from scrieve.frames.choice import FrameChoice
from scrieve.frames.packet.laminations import SHOP_DEFAULT, Lay
from scrieve.frames.parts import Blank, GlueNeed, Jig, Outline, Packet
from scrieve.timber.bending import eurocode_curvature_factor
from scrieve.wording import by_itself, joined, length, small, tell
from scrieve.working import Working

CLEAR_WOOD = "clear-wood averages, not design values"
STRENGTH = "to be agreed with a surveyor or naval architect; class or flag rules come first"


def frame_workings(
    choice: FrameChoice, found: Lay, packet: Packet, outline: Outline, blank: Blank, jig: Jig, glue: GlueNeed
) -> tuple[Working, ...]:
    """The workings of one frame, in the order of the bench."""
    return (
        *_laminations(choice, found, packet),
        _springback(choice, packet),
        _jig_curve(choice, packet, jig),
        _between(jig),
        _closing(packet, jig),
        *_blank(choice, outline, blank),
        _lengths(packet, blank),
        _glue(packet, glue),
    )


def _laminations(choice: FrameChoice, found: Lay, packet: Packet) -> tuple[Working, ...]:
    worst = max(packet.laminations, key=lambda each: each.strain)
    radius = by_itself(length(worst.radius_mm)) if math.isfinite(worst.radius_mm) else "straight"
    timber = found.timbers[worst.number - 1]
    inputs = (
        ("t", by_itself(small(worst.thickness_mm, None))),
        ("R", tell("{r}, middle of lamination {n} in the jig", r=radius, n=worst.number)),
        ("limit", f"{choice.margin:g} × {timber.mor_mpa:g} / {timber.bending_modulus_mpa:.0f} N/mm²"),
    )
    source = f"beam theory; {timber.name}: {timber.strength}; share {choice.margin:g}: {SHOP_DEFAULT}"
    strain = Working("Greatest strain", f"{100 * worst.strain:.3f} %", "t / 2R", inputs, source, CLEAR_WOOD)
    if not math.isfinite(worst.radius_mm):
        return (strain,)
    inner = worst.radius_mm - worst.thickness_mm / 2
    factor = 1 - 2000 * (worst.thickness_mm / worst.radius_mm) ** 2
    kr = float(eurocode_curvature_factor(inner, worst.thickness_mm)) if inner > 0 else float("nan")
    return (
        strain,
        Working(
            "Curvature factor",
            f"{max(factor, 0):.3f} (Eurocode 5 k_r {kr:.3f})",
            "C_c = 1 - 2000 (t/R)²; k_r = 0.76 + 0.001 r_in/t, 1 from 240",
            inputs[:2],
            "NDS and AITC (Wilson 1939); Eurocode 5, 6.4.3",
            f"share of bending strength left in the curved part; strength {STRENGTH}",
        ),
    )


def _springback(choice: FrameChoice, packet: Packet) -> Working:
    layers = joined(
        [
            tell("{t} × {e} N/mm²", t=small(each.thickness_mm, None), e=f"{each.modulus_mpa:.0f}")
            for each in packet.laminations
        ]
    )
    return Working(
        "Springback",
        f"{100 * packet.springback:.2f} % of the jig's curvature",
        "c r, r = ΣEᵢIᵢ / (EI) of the glued section",
        (
            ("inside outwards, thickness × E", layers),
            ("ΣEᵢIᵢ", f"{packet.loose_ei_nmm2:.4g} N mm²"),
            ("EI glued", f"{packet.glued_ei_nmm2:.4g} N mm²"),
            ("neutral line from the inside", by_itself(small(packet.neutral_mm))),
            ("c", f"{choice.spring_factor:g} ({'not yet learnt' if choice.spring_factor == 1 else 'learnt'})"),
        ),
        "composite-beam theory; equal laminations give the boatbuilder's 1/n²",
        "an estimate: straight dry stock, no creep, glue fully cured; measure the first frame off the jig",
    )


def _jig_curve(choice: FrameChoice, packet: Packet, jig: Jig) -> Working:
    tightest = float(abs(jig.curvature_per_mm).max())
    released = tightest * (1 - packet.springback)
    shown = [by_itself(length(1 / value)) if value > 1e-9 else "straight" for value in (tightest, released)]
    reach = packet.neutral_mm if jig.bearing == "inside" else packet.depth_mm - packet.neutral_mm
    return Working(
        "Tightest radius in the jig",
        tell("{r} at the neutral line", r=shown[0]),
        "κ_jig = κ / (1 - c r + g), integrated along the neutral line, then out to the bearing face",
        (
            ("as it comes off the jig", shown[1]),
            ("c r", f"{packet.springback:.5f}"),
            ("g", "what cleaning off gives back" if choice.allow_for_cleaning else "0, not allowed for"),
            ("neutral line to bearing face", by_itself(small(reach))),
        ),
        "elastic recovery of the glued packet (docs/frames.md)",
    )


def _between(jig: Jig) -> Working:
    return Working(
        "Error between brackets",
        by_itself(small(jig.error_mm, 2)),
        "least ∫(κ + w'')² ds with w = 0 at each bracket; about 0.049 b²/R in an end span",
        (
            ("pitch b", by_itself(length(jig.pitch_mm))),
            ("brackets", f"{len(jig.brackets)} on {jig.rails} rails"),
            (
                "widest pitch that keeps the limit",
                by_itself(length(jig.pitch_for_1mm)) if jig.pitch_for_1mm else "none from 50 mm up",
            ),
        ),
        "elastic batten through the brackets (docs/frames.md)",
        "a second bracket near each end, or a packet run past its ends, takes away most of it",
    )


def _closing(packet: Packet, jig: Jig) -> Working:
    press = max(jig.brackets, key=lambda bracket: abs(bracket.force_n))
    return Working(
        "Effort to close the loose packet",
        f"{jig.moment_nmm / 1e6:.2f} kN m, a pull of {jig.end_pull_n:.0f} N at the far end",
        "M = ΣEᵢIᵢ κ_jig; pull = M / arm from the tightest place to the farther end",
        (
            ("ΣEᵢIᵢ", f"{packet.loose_ei_nmm2:.4g} N mm²"),
            ("tightest κ_jig", f"{float(abs(jig.curvature_per_mm).max()) * 1000:.3f} 1/m"),
            ("arm", by_itself(length(jig.moment_nmm / jig.end_pull_n)) if jig.end_pull_n else "none"),
            ("greatest force at a bracket", f"{abs(press.force_n):.0f} N, bracket {press.number}"),
        ),
        "beam theory; friction of the wet packet is not in it",
        "a bent packet stores force: stand clear of its ends, and have every clamp to hand in a dry run",
    )


def _blank(choice: FrameChoice, outline: Outline, blank: Blank) -> tuple[Working, ...]:
    standing, under = max(0.0, float(outline.shift_mm.max())), max(0.0, -float(outline.shift_mm.min()))
    return (
        Working(
            "Siding of the blank",
            by_itself(small(blank.siding_mm)),
            "2 × sided + kerf + 2 × cleaning of sawn faces + 2 × cleaning of edges"
            if choice.hands == "pair"
            else "sided + 2 × cleaning of edges",
            (
                ("sided", by_itself(small(choice.sided_mm, None))),
                ("kerf", by_itself(small(choice.kerf_mm, None))),
                ("cleaning", by_itself(small(choice.cleaning_mm, None))),
                ("edges", by_itself(small(choice.edge_cleaning_mm, None))),
            ),
            "common practice, no source",
            "ripping a glued blank: it opens or closes as it is cut; riving knife, long out-feed, keep off line",
        ),
        Working(
            "Depth of the blank",
            tell("{d}, {spare} to spare", d=small(blank.depth_mm), spare=small(blank.spare_mm)),
            "moulded + bevel wood + 2 × cleaning, and what rounding the laminations up adds",
            (
                ("moulded", tell("{m} at most", m=small(float(outline.moulded_mm.max())))),
                ("standing bevel wood", by_itself(small(standing))),
                ("under bevel wood", by_itself(small(under))),
                ("needed", by_itself(small(blank.needed_mm))),
            ),
            "bevel wood = sided × tan(bevel)",
        ),
    )


def _lengths(packet: Packet, blank: Blank) -> Working:
    inner, outer = packet.laminations[0], packet.laminations[-1]
    return Working(
        "Longest lamination",
        by_itself(length(blank.length_mm)),
        "∫(1 - κd) ds along its own middle line, and the trimming allowance at both ends",
        (
            ("innermost, heel to head", by_itself(length(inner.developed_mm))),
            ("outermost, heel to head", by_itself(length(outer.developed_mm))),
            ("trimming allowance", tell("{m} each end", m=length((outer.length_mm - outer.developed_mm) / 2))),
        ),
        "parallel curves",
    )


def _glue(packet: Packet, glue: GlueNeed) -> Working:
    return Working(
        "Glue to mix",
        f"{glue.gross_g:.0f} g of {glue.family}",
        "area of all joints × spread / (1 - waste)",
        (
            ("joints", f"{glue.joints}"),
            ("their area together", tell("{a:.3f} m² ({w} wide)", a=glue.area_m2, w=small(packet.width_mm))),
            ("spread", f"{glue.spread_g_m2:g} g/m²"),
            ("waste", f"{glue.waste_share:.0%}"),
        ),
        glue.source,
        glue.caution,
    )
