"""Tables of the Fairing page, in the builder's units: how fair each diagonal is, how the sides differ."""

from __future__ import annotations

import numpy as np

from scrieve.fairing.fairness import Fairness, LineFairness
from scrieve.fairing.sides import Sides
from scrieve.sheets.bench import Table
from scrieve.sheets.figures import length, off_by, plus_minus, unit
from scrieve.sheets.figures import thin_unit as small_unit
from scrieve.units import Units

_SIDES = {"P": "port", "S": "starboard", "": "both"}


def fairness_table(report: Fairness, units: Units) -> Table:
    """Return the largest kinks of each line, as the marks put it and as faired."""
    small = small_unit(units)
    head = (
        "diagonal",
        "side",
        f"kink by the marks ({small})",
        "at frame",
        f"kink faired ({small})",
        "at frame",
        f"moved at most ({small})",
        "reversals",
    )
    rows = tuple(
        (
            line_name(line, units),
            _SIDES[line.side],
            _size(line.before.kink_mm, units),
            line.frames[line.before.kink_at] if line.before.kink_at >= 0 else "–",
            _size(line.after.kink_mm, units),
            line.frames[line.after.kink_at] if line.after.kink_at >= 0 else "–",
            _size(line.moved_mm, units),
            str(line.reversals),
        )
        for line in report.lines
    )
    note = (
        "Kink: how far a reading lies off the fair curve through its neighbours, two on each side. Suspect marks are "
        "part of 'by the marks'. Reversals: how often the faired line changes from hollow to round."
    )
    return Table("How fair the diagonals are", head, rows, note, name="fairness")


def line_name(line: LineFairness, units: Units) -> str:
    """Name of a diagonal: where it meets the centreline, and its slope."""
    return f"{length(line.plane.origin_mm[1], units)} up, {np.degrees(line.plane.angle_rad):.0f}° down"


def sides_table(found: Sides, units: Units) -> tuple[Table, tuple[str, ...]]:
    """Return how port and starboard differ at each frame, and what is to be said of the whole."""
    small = small_unit(units)
    head = (
        "frame",
        f"port wider by, mean ({small})",
        f"± of the mean ({small})",
        f"largest ({small})",
        f"± of the largest ({small})",
        f"at height ({unit(units)})",
        f"port head higher ({small})",
        "more than measuring error",
    )
    rows = tuple(
        (
            frame.frame,
            off_by(frame.mean_mm, units),
            _size(2 * frame.mean_sd_mm, units),
            off_by(frame.largest_mm, units),
            _size(2 * frame.largest_sd_mm, units),
            length(frame.largest_at_mm[1], units),
            off_by(frame.head_mm[1], units),
            "yes" if frame.real else "no",
        )
        for frame in found.frames
    )
    remarks = [
        f"{len(found.real)} of {len(found.frames)} frames differ by more than measuring error explains."
        if found.real
        else f"No frame of {len(found.frames)} differs by more than measuring error explains."
    ]
    move = found.shift
    if move and abs(move.out_mm) > 2 * move.out_sd_mm:
        way = "starboard" if move.out_mm > 0 else "port"
        remarks.append(
            f"Taken together port lies {plus_minus(move.out_mm, units)} (± {plus_minus(2 * move.out_sd_mm, units)}) "
            f"{'further out' if move.out_mm > 0 else 'further in'}: a centreline set off "
            f"{plus_minus(move.out_mm / 2, units)} to {way} would look like that."
        )
    if move and abs(move.up_mm) > 2 * move.up_sd_mm:
        remarks.append(
            f"Taken together port lies {plus_minus(move.up_mm, units)} (± {plus_minus(2 * move.up_sd_mm, units)}) "
            f"{'higher' if move.up_mm > 0 else 'lower'}: a level not quite level would look like that."
        )
    for one in found.wrong_side:
        here, there = ("port", "starboard") if one.side == "P" else ("starboard", "port")
        remarks.append(
            f"Mark {one.number} of frame {one.frame} lies {plus_minus(one.out_by_mm, units)} off {here} and fits "
            f"{there}: was it written down for the wrong side?"
        )
    return Table(
        "Port less starboard", head, rows, "Above zero: port is the wider. ±: two standard deviations.", name="sides"
    ), tuple(remarks)


def _size(mm: float, units: Units) -> str:
    return off_by(abs(mm), units).lstrip("+")
