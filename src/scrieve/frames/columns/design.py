"""The workings of every table of a frame pair's design, by the table's short name."""

from __future__ import annotations

from scrieve.frames.columns.jig import closing_columns, jig_columns, proof_columns
from scrieve.frames.columns.packet import (
    lamination_columns,
    ripping_columns,
    scarf_columns,
    strength_columns,
    strip_columns,
)
from scrieve.frames.columns.rows import Columns
from scrieve.frames.columns.shape import bevel_columns, mark_columns, shape_columns
from scrieve.frames.design import FrameDesign
from scrieve.frames.parts import CarriedMark


def design_columns(design: FrameDesign) -> dict[str, Columns]:
    """Return the workings of a design's tables: by table, by column, one for each row from the top."""
    choice, packet, outline = design.choice, design.packet, design.outline
    section = design.section
    turned = (section.s_mm - section.s_mm[0], section.direction_rad)
    found = {
        "jig": jig_columns(design.jig),
        "proof": proof_columns(design.bench_checks),
        "closing": closing_columns(design.closing, design.jig),
        "bevels": bevel_columns(design.bevels, outline, choice.sided_mm, design.far is not None),
        "shape": shape_columns(design.prediction, design.bevels, outline.moulding_outer_mm, outline.s_mm),
        "laminations": lamination_columns(choice, packet, design.blank, design.jig, turned),
        "strips": strip_columns(choice, packet, design.order),
        "ripping": ripping_columns(choice, design.blank),
        "marks": mark_columns(carried_once(design.marks_to_carry)),
        "strength": strength_columns(design.strength, choice, outline),
    }
    if design.scarfs is not None and design.scarfs.scarfs:
        found["scarfs"] = scarf_columns(design.scarfs, packet)
    return found


def carried_once(marks: tuple[CarriedMark, ...]) -> tuple[CarriedMark, ...]:
    """The marks as a table tells them: those without a place first, those that both halves carry once."""
    ordered = sorted(marks, key=lambda mark: mark.s_mm is not None)
    seen: dict[tuple[object, ...], CarriedMark] = {}
    for mark in ordered:
        seen.setdefault((mark.text, mark.s_mm, mark.half_breadth_mm, mark.height_mm), mark)
    return tuple(seen.values())
