"""What is foretold of a frame pair: its shape off the jig with its ±, the closing of the packet, its strength."""

from __future__ import annotations

import math

import numpy as np

from scrieve.frames.design import FrameDesign
from scrieve.sheets.bench import Table
from scrieve.sheets.drawing import Drawing, Hatch, Item, Line, Text, one_to, polyline
from scrieve.sheets.figures import length, off_by, plus_minus, ruled, sized, thin_unit, unit
from scrieve.sheets.frame_drawings import LETTER_MM
from scrieve.units import Units
from scrieve.wording import in_units

_ROOM_MM = (120.0, 92.0)
#: The widest departure is drawn about so far from the line wanted, on paper [mm].
_SHOWN_MM = 14.0


def prediction_drawing(design: FrameDesign, units: Units = "mm") -> Drawing:
    """Return the moulded line wanted and, many times enlarged, how far the frame stands off it.

    Solid: wanted; red: off the jig, hatched within two standard deviations; dashed: cleaned off and bevelled.
    """
    seen = design.prediction
    line = np.column_stack(
        [np.interp(seen.s_mm, design.outline.s_mm, design.outline.moulding_outer_mm[:, k]) for k in (0, 1)]
    )
    tangent = np.gradient(line, seen.s_mm, axis=0)
    tangent /= np.hypot(*tangent.T)[:, None]
    right = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    size = np.ptp(line, axis=0)
    n = one_to(float(size[0]), float(size[1]), _ROOM_MM)
    h = LETTER_MM * n
    wide = 2 * seen.sd_mm
    most = float(max((np.abs(seen.off_jig_out_mm) + wide).max(), np.abs(seen.finished_out_mm).max(), 1e-3))
    times = _round_down(_SHOWN_MM * n / most)

    def at(out_mm: np.ndarray) -> np.ndarray:
        return np.asarray(line + times * out_mm[:, None] * right)

    outer, inner = at(seen.off_jig_out_mm + wide), at(seen.off_jig_out_mm - wide)
    items: list[Item] = [
        Hatch(np.vstack([outer, inner[::-1]]), "diagonal", 1.2 * n),
        polyline(outer, "LAMINATIONS", title="two standard deviations outside"),
        polyline(inner, "LAMINATIONS", title="two standard deviations inside"),
        polyline(line, "MOULDED LINE", title="the moulded line wanted"),
        polyline(at(seen.off_jig_out_mm), "JIG FACE", title="off the jig"),
        polyline(at(seen.finished_out_mm), "OTHER FACE", title="cleaned off and bevelled"),
    ]
    beyond = _SHOWN_MM * n + 0.6 * h
    for mark in design.bevels:
        here, way = (np.array([np.interp(mark.s_mm, seen.s_mm, each[:, k]) for k in (0, 1)]) for each in (line, right))
        foot, place = here + 0.5 * h * way, here - 0.5 * h * way
        items.append(Line(tuple(place), tuple(foot), "BEVEL MARKS", title=f"bevel mark {mark.number}"))
        where = here + beyond * way
        items.append(Line(tuple(foot), tuple(where - 0.75 * h * way), "GRID"))  # leads from the line to its number
        items.append(Text(tuple(where), str(mark.number), 0.85 * h, align="middle", level="middle"))
    low = float(line[:, 1].min()) - beyond - 2 * h
    items.append(Text((float(line[:, 0].min()), low), f"departures drawn {times:g} times as large", 0.9 * h))
    return Drawing(tuple(items), f"Frame {design.choice.frame}: shape foretold", n)


def _round_down(value: float) -> float:
    """The nearest of 1, 2, 5, 10, 20 ... below, 1 at least."""
    power = 10.0 ** math.floor(math.log10(max(value, 1.0)))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= max(value, 1.0))


def shape_table(design: FrameDesign, u: Units) -> Table:
    """The released shape at each bevel mark, with its ±, and the finished one."""
    seen = design.prediction

    def at(values: np.ndarray, s: float) -> float:
        return float(np.interp(s, seen.s_mm, values))

    rows = tuple(
        (
            str(mark.number),
            length(mark.s_mm, u),
            off_by(at(seen.off_jig_out_mm, mark.s_mm), u),
            "±" + off_by(at(seen.sd_mm, mark.s_mm), u).lstrip("+"),
            off_by(at(seen.finished_out_mm, mark.s_mm), u),
        )
        for mark in design.bevels
    )
    head = (
        "mark",
        f"from heel ({unit(u)})",
        f"off the jig ({thin_unit(u)})",
        f"1 sd ({thin_unit(u)})",
        f"finished ({thin_unit(u)})",
    )
    note = (
        "Moulded line outside (+) or inside (-) the line wanted, laid on it as best it fits. Finished: cleaned off and "
        f"bevelled. {shape_words(design, u)}"
    )
    return Table("Shape foretold", head, rows, note, name="shape", after=2)


def shape_words(design: FrameDesign, u: Units) -> str:
    """In a sentence, how the frame is to look off the jig and once it is worked."""
    seen = design.prediction
    moved, doubt = plus_minus(seen.later_mm, u), plus_minus(float(seen.sd_mm.max()), u)
    if seen.allowed_for:
        off = plus_minus(float(np.abs(seen.off_jig_out_mm).max()), u)
        return (
            f"Off the jig it is to stand {off} off at most, ± {doubt} (1 sd): cleaning off moves it {moved}, and the "
            "jig allows for it."
        )
    return (
        f"Off the jig ± {doubt} (1 sd). The jig does not allow for cleaning off, which moves it {moved} after release."
    )


def closing_table(design: FrameDesign, u: Units) -> Table:
    """What draws the packet in at each bracket, from the middle out."""
    closing = design.closing
    rows = tuple(
        (str(each.number), str(each.turn), f"{each.pull_n:.0f}", f"{each.force_n:.0f}", str(each.clamps))
        for each in closing.brackets
    )
    head = ("bracket", "in turn", "pull (N)", "bears (N)", "clamps")
    note = (
        f"From the middle out. Below zero: it must be clamped to that bracket. In all {closing.clamps} clamps of "
        f"{closing.clamp_n:.0f} N and {closing.cauls} cauls of {sized(closing.caul_mm, u)}, "
        f"{sized(closing.spacing_mm, u)} apart at most. Stand clear of the ends: a bent packet stores force."
    )
    return Table("Closing the packet", head, rows, note, name="closing", after=0)


def strength_table(design: FrameDesign, u: Units) -> Table:
    """The finished section at chosen places, against the old frame where it was given."""
    seen = design.strength
    against = zip(*(seen.ratios(which) for which in ("ei_nmm2", "modulus_mm3", "strength_nmm")), strict=True)
    shares = list(against) if seen.old else [()] * len(seen.new)
    rows = tuple(
        (
            each.name,
            length(each.s_mm, u),
            ruled(each.moulded_mm, u),
            f"{each.ei_nmm2 / 1e9:.2f}",
            f"{each.modulus_mm3 / 1e3:.1f}",
            *(f"{share:.2f}" for share in ratios),
        )
        for each, ratios in zip(seen.new, shares, strict=True)
    )
    head: tuple[str, ...] = ("place", f"from heel ({unit(u)})", f"moulded ({thin_unit(u)})", "EI (kN m²)", "Z (cm³)")
    if seen.old:
        head += ("EI, × old", "Z, × old", "strength, × old")
    old = f"Old: {in_units(seen.old_words, u)}. " if seen.old else "The old frame was not given. "
    note = (
        f"{old}One half, finished. Clear-wood averages serve to compare by, not to design by: agree strength with a "
        "surveyor or naval architect; class or flag rules come first."
    )
    return Table("Strength of the section", head, rows, note, name="strength")


def cuts_table(design: FrameDesign, u: Units) -> Table | None:
    """End cuts and notches; None where the ends are cut square at heel and head, and nothing is notched."""
    faces = design.faces
    if not faces.worked:
        return None
    rows: list[tuple[str, ...]] = [
        (
            cut.end,
            cut.kind,
            f"{sized(cut.inside_mm, u)} inside the {cut.end}",
            f"{math.degrees(cut.from_square_rad):+.1f}° from square",
        )
        for cut in faces.cuts
    ]
    rows += [
        (name, f"{edge} edge", f"{sized(place, u)} from the heel", f"{sized(long, u)} long, {sized(deep, u)} deep")
        for name, place, edge, long, deep in faces.notches
    ]
    note = "Square through the frame: the same lines on both faces. Places of notches are their middles."
    return Table("End cuts and notches", ("cut", "kind", "where", "how"), tuple(rows), note, name="cuts", after=1)


def scarf_table(design: FrameDesign, u: Units) -> Table | None:
    """Where laminations are scarfed; None where none is."""
    plan = design.scarfs
    if plan is None or not plan.scarfs:
        return None
    rows = tuple((str(scarf.lamination), length(scarf.s_mm, u), length(scarf.length_mm, u)) for scarf in plan.scarfs)
    head = ("lamination", f"middle, from heel ({unit(u)})", f"length ({unit(u)})")
    return Table("Scarfs", head, rows, f"1 in {plan.slope:g}. {plan.rule.name}.", name="scarfs")
