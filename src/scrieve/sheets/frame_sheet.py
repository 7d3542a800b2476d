"""The bench sheet of a frame pair: what is settled, set, checked, got out and marked."""

from __future__ import annotations

import math

from scrieve.boat import Boat
from scrieve.frames.design import FrameDesign
from scrieve.frames.jig.setting import travel_told
from scrieve.frames.release.off_jig import timber_and_glue
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.figures import (
    by_rule,
    degrees,
    length,
    plus_minus,
    ruled,
    sized,
    thickness,
    thin_unit,
    unit,
    workings_table,
)
from scrieve.sheets.frame_drawings import frame_drawing, frame_pattern, jig_drawing
from scrieve.sheets.frame_predicted import (
    closing_table,
    cuts_table,
    prediction_drawing,
    scarf_table,
    shape_table,
    strength_table,
)
from scrieve.units import Units
from scrieve.wording import in_units

__all__ = ["frame_bench_sheet", "frame_drawing", "frame_pattern", "frame_tables", "jig_drawing"]


_HANDS = {"pair": "P and S", "port": "P", "starboard": "S"}
_PATTERN = {
    "pair": "The pattern shows the starboard half from aft, and the port half from forward: turn it over.",
    "port": "The pattern shows this frame, port, from forward.",
    "starboard": "The pattern shows this frame, starboard, from aft.",
}

#: What the sides of a line are called on the jig.
OUT_IN = "Out: away from the datum line; in: towards it."


def frame_bench_sheet(design: FrameDesign, boat: Boat, revision: str, link: str = "") -> BenchSheet:
    """Return the bench sheet of a frame pair, in the boat's units."""
    choice, u = design.choice, boat.units
    hands = _HANDS[choice.hands]
    frame = choice.frame.removesuffix(f" {hands}")
    return BenchSheet(
        title=f"Frame {choice.frame}",
        boat=boat.name,
        member=f"frame {frame}, {hands}",
        revision=revision,
        link=link,
        summary=_summary(design, u),
        drawings=(
            (f"Packet on the jig: travel from the datum line, {thin_unit(u)}", jig_drawing(design, u)),
            (
                f"Outline; solid: {design.moulding_edge} face (moulding edge), dashed: the other",
                frame_drawing(design, u),
            ),
            (
                "Shape foretold; solid: wanted, red: off the jig ± 2 sd, dashed: finished",
                prediction_drawing(design, u),
            ),
        ),
        tables=frame_tables(design, u),
        checks=in_units(design.checks, u),
        cautions=in_units(design.cautions, u),
        notes=(_PATTERN[choice.hands],),
    )


def frame_tables(design: FrameDesign, units: Units = "mm") -> tuple[Table, ...]:
    """Return the tables of a frame pair, from the jig to the workings; cuts and scarfs only where there are any."""
    found = (
        _jig_table(design, units),
        _proof_table(design, units),
        closing_table(design, units),
        _bevel_table(design, units),
        cuts_table(design, units),
        shape_table(design, units),
        _lamination_table(design, units),
        scarf_table(design, units),
        _strip_table(design, units),
        _rip_table(design, units),
        _mark_table(design, units),
        strength_table(design, units),
        workings_table(in_units(design.workings, units)),
    )
    return tuple(table for table in found if table is not None)


def moulded_words(design: FrameDesign, u: Units) -> str:
    """The finished in-and-out size in words: one, or at heel and head where it tapers or goes by table."""
    heel, head = (float(design.outline.moulded_mm[end]) for end in (0, -1))
    if not design.choice.moulded_table and design.choice.moulded_head_mm is None:
        return sized(heel, u)
    table = ", by table" if design.choice.moulded_table else ""
    return f"{sized(heel, u)} at the heel, {sized(head, u)} at the head{table}"


def _summary(design: FrameDesign, u: Units) -> tuple[tuple[str, str], ...]:
    choice, packet, blank, jig, glue = design.choice, design.packet, design.blank, design.jig, design.glue
    return (
        ("made from", f"{choice.hull_words}; the blank gives {choice.hands_words}"),
        (
            "finished",
            f"sided {sized(choice.sided_mm, u)}, moulded {moulded_words(design, u)}; moulding edge on the "
            f"{design.moulding_edge} face",
        ),
        (
            "packet",
            f"{len(packet.laminations)} laminations, {timber_and_glue(choice)[0]}, "
            f"together {by_rule(packet.depth_mm, u)}",
        ),
        (
            "blank",
            f"{by_rule(blank.siding_mm, u)} sided × {by_rule(blank.depth_mm, u)} × {sized(blank.length_mm, u)} long",
        ),
        (
            "springback",
            f"{100 * packet.springback:.1f} % of the jig's curvature, allowed for; cleaning off moves it "
            + f"{plus_minus(design.prediction.later_mm, u)}, "
            + ("allowed for too" if design.prediction.allowed_for else "not allowed for"),
        ),
        (
            "jig",
            f"packet's {jig.bearing} face to the brackets, heel on the {jig.heel}; "
            f"within {thickness(jig.error_mm, u)} between brackets",
        ),
        ("glue", f"{glue.family}: {glue.net_g:.0f} g on the joints, mix {glue.gross_g:.0f} g"),
    )


def _jig_table(design: FrameDesign, u: Units) -> Table:
    rows = tuple(
        (
            str(b.number),
            str(b.rail) if b.rail else "extra",
            length(b.along_mm, u, 0 if abs(b.along_mm - round(b.along_mm)) < 0.05 else 1),
            travel_told(b.travel_mm, u),
            degrees(b.swivel_rad),
        )
        for b in design.jig.brackets
    )
    head = ("bracket", "rail", f"along ({unit(u)})", f"travel ({thin_unit(u)})", "swivel (°)")
    note = (
        f"On rails {sized(design.jig.pitch_mm, u)} apart; where a jig is described, its own change list holds instead. "
        "Travel: datum line to the bearing face. Swivel: above zero turned anticlockwise, seen from above."
    )
    return Table("Jig brackets", head, rows, note, big=True, name="jig", after=0)


def _proof_table(design: FrameDesign, u: Units) -> Table:
    rows = tuple(
        (
            c.name,
            travel_told(c.length_mm, u),
            "–" if c.sagitta_mm is None else travel_told(c.sagitta_mm, u),
            in_units(c.how, u),
        )
        for c in design.bench_checks
    )
    head = ("measure", f"length ({thin_unit(u)})", f"at the middle ({thin_unit(u)})", "how")
    return Table("Prove the setting before you bend", head, rows, OUT_IN, name="proof", after=0)


def _bevel_table(design: FrameDesign, u: Units) -> Table:
    rows = tuple(
        (
            str(b.number),
            length(b.s_mm, u),
            length(b.half_breadth_mm, u),
            length(b.height_mm, u),
            degrees(b.bevel_rad),
            degrees(b.inner_bevel_rad),
            b.word,
        )
        for b in design.bevels
    )
    places = (f"from heel ({unit(u)})", f"half-breadth ({unit(u)})", f"height ({unit(u)})")
    head = ("mark", *places, "outer edge (°)", "inner edge (°)", "kind")
    note = (
        "Bevels at marks along the moulded line, square to each edge. Standing: wood outside the moulded line on the "
        "other face; under: inside it."
    )
    return Table("Bevels", head, rows, note, name="bevels", after=1)


def _lamination_table(design: FrameDesign, u: Units) -> Table:
    rows = tuple(
        (
            str(lam.number),
            lam.timber,
            ruled(lam.thickness_mm, u),
            length(lam.developed_mm, u),
            length(lam.length_mm, u),
            "straight" if math.isinf(lam.radius_mm) else length(lam.radius_mm, u),
        )
        for lam in design.packet.laminations
    )
    head = (
        "no.",
        "timber",
        f"thickness ({thin_unit(u)})",
        f"heel to head ({unit(u)})",
        f"to cut ({unit(u)})",
        f"tightest radius ({unit(u)})",
    )
    return Table("Laminations, inside of the bend first", head, rows, name="laminations")


def _strip_table(design: FrameDesign, u: Units) -> Table:
    rows = tuple(
        (
            o.timber,
            str(o.count),
            ruled(o.thickness_mm, u),
            ruled(o.sawn_thickness_mm, u),
            length(o.sawn_width_mm, u),
            length(o.length_mm, u),
            f"{o.volume_m3:.4f}",
        )
        for o in design.order
    )
    head = (
        "timber",
        "strips",
        f"planed to ({thin_unit(u)})",
        f"sawn ({thin_unit(u)})",
        f"sawn width ({unit(u)})",
        f"length ({unit(u)})",
        "volume (m³)",
    )
    return Table("Strips to get out", head, rows, name="strips")


def _rip_table(design: FrameDesign, u: Units) -> Table:
    rows = tuple((name, ruled(at, u)) for name, at in design.blank.rips)
    return Table(
        "Across the blank, from its edge on the side of P" if design.choice.hands == "pair" else "Across the blank",
        ("line", f"at ({thin_unit(u)})"),
        rows,
        name="ripping",
    )


def _mark_table(design: FrameDesign, u: Units) -> Table:
    """Marks that both halves carry at the same place stand once."""
    hands: dict[tuple[str, ...], list[str]] = {}
    for m in sorted(design.marks_to_carry, key=lambda m: m.s_mm is not None):  # what is written anywhere first
        at = (m.text, length(m.s_mm, u), length(m.half_breadth_mm, u), length(m.height_mm, u))
        hands.setdefault(at, []).append(m.hand)
    head = ("half", "mark", f"from heel ({unit(u)})", f"half-breadth ({unit(u)})", f"height ({unit(u)})")
    rows = tuple((" and ".join(on), *at) for at, on in hands.items())
    note = "On both halves at the same places, mirrored." if design.choice.hands == "pair" else ""
    return Table("Marks to carry, before it leaves the jig", head, rows, note, name="marks")
