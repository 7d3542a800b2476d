"""Figures in tables open their working: for each row the numbers put in come to what stands in the table.

Outside check: the numbers are put into the formula again by Python's own arithmetic.
"""

from __future__ import annotations

import math
import re
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from scrieve.frames.columns.bed import bed_columns
from scrieve.frames.columns.design import design_columns
from scrieve.frames.columns.glue_up import glue_up_columns
from scrieve.frames.columns.rows import Columns
from scrieve.frames.columns.work import ripping_plan_columns
from scrieve.frames.design import FrameChoice, FrameDesign, design_frame
from scrieve.frames.glue_up.card import card_for
from scrieve.frames.glue_up.minutes import GlueUpPlan
from scrieve.frames.jig.bed import JigBed
from scrieve.frames.jig.setting_kept import JigKept, frame_on_bed
from scrieve.frames.ripping import plan_for
from scrieve.sheets.bench import Table
from scrieve.sheets.frame_setting import bay_table, bracket_table, proof_table
from scrieve.sheets.frame_sheet import frame_tables
from scrieve.sheets.glue_sheet import clock, glue_tables, ripping_tables
from scrieve.timber.conditions import Conditions
from scrieve.timber.data_sheet import data_sheet
from scrieve.working import Working

sys.path.insert(0, str(Path(__file__).parents[1] / "frames"))
from sections import circle, s_shape

BED = JigBed(pitch_mm=200.0, rails=20, length_mm=4000.0, brackets=20)
SHEET = data_sheet("epoxy", {"pot_mass_g": 300, "clamp_h": 24})

#: Columns that name a row, or tell in words; every other figure of these tables opens its working.
NAMES = {"bracket", "rail", "measure", "how", "mark", "kind", "no.", "timber", "planed to", "line", "half", "place"}
NAMES |= {"lamination", "between brackets", "cut", "where", "strip", "hand", "", "what", "measured from", "off"}


@pytest.fixture(scope="module", params=["arc", "S"])
def design(request) -> FrameDesign:
    if request.param == "arc":
        return design_frame(circle(1500.0, bevel=0.15), FrameChoice("14", waterlines_mm=(300.0,)))
    choice = FrameChoice("15", "sapele/larch", moulded_head_mm=50.0, bearing="outside", board_mm=1500.0,
                         old_timber="larch", old_sided_mm=40.0)  # fmt: skip
    return design_frame(s_shape(bevel=-0.1), choice)


def held(table: Table, columns: Columns, opened: set[str], names: set[str] = NAMES) -> None:
    heads = [head.partition(" (")[0] for head in table.columns]
    assert opened == {head for head in heads if head not in names}, table.name
    for head, workings in columns.items():
        at = heads.index(head)
        for row, working in zip(table.rows, workings, strict=True):
            told = working.value.rpartition(" = ")[2]
            cell = row[at].lstrip("±+")
            if cell != "–":
                assert told.lstrip("+").startswith(cell), f"{table.name}, {head}: {cell} in the table, {working.value}"
            assert_sum(working.value)


def assert_sum(value: str) -> None:
    """Where the numbers put in are a plain sum, it comes to the result within what rounding for print leaves."""
    numbers, _, result = value.rpartition(" = ")
    text = re.sub(r"\s?(mm³|mm|kN m²|kN m|cm³|m⁻¹|m³|N)(?![a-z])", "", numbers)
    rounded = re.fullmatch(r"(.*), (?:to the nearest|up to the next) ([\d.]+)", text)
    text = rounded[1].rpartition(" = ")[2] if rounded else text
    text = text.replace("×", "*").replace("²", "**2").replace("√", "math.sqrt").replace("10⁹", "1e9")
    text = re.sub(r"atan ([-+\d.]+)", r"math.degrees(math.atan(\1))", text)
    text = re.sub(r"atan\((.*)\)$", r"math.degrees(math.atan(\1))", text)
    text = re.sub(r"\|(.*)\|", r"abs(\1)", text)
    if not re.fullmatch(r"(?:math\.\w+|abs|1e9|[-+*/().\d\s])+", text) or not text.strip():
        return
    came, said = eval(text), float(re.match(r"[-+]?[\d.]+", result)[0])  # the page's own arithmetic, put in again
    step = float(rounded[2]) if rounded else 0.0
    whole = 0.6 if "." not in result else 0.06  # half of the last digit printed, and what the inputs' rounding adds
    scale = 1e-3 if "cm³" in result else 1.0
    assert came * scale == pytest.approx(said, rel=4e-3, abs=whole + step), value


def test_every_figure_of_a_frames_tables_opens_its_working(design):
    found = design_columns(design)
    for table in frame_tables(design):
        if table.name not in ("workings", "cuts"):
            assert table.name in found, table.name
            held(table, found[table.name], set(found[table.name]))


def test_bearing_and_pull_are_in_balance_by_the_numbers_put_in(design):
    """Σ of all bearings is nothing: no other force acts on the packet along the jig but the brackets' (statics)."""
    shears = [w.value.rpartition(" = ")[0] for w in design_columns(design)["closing"]["bears"]]
    forces = [eval(text) for text in shears]
    assert sum(forces) == pytest.approx(0.0, abs=3e-3 * max(map(abs, forces)))
    assert all(math.isfinite(force) for force in forces)


def test_every_figure_on_the_bed_opens_its_working(design):
    on_bed = frame_on_bed(design, "0", JigKept(), "mm")
    found = bed_columns(on_bed)
    for table in (bracket_table(on_bed, "mm"), proof_table(on_bed, "mm"), bay_table(on_bed, "mm")):
        columns = {name: rows for name, rows in found[table.name].items() if name in _heads(table)}
        opened = set(columns)
        columns.pop("from the present setting", None)
        held(table, columns, opened)


def _heads(table: Table) -> set[str]:
    return {head.partition(" (")[0] for head in table.columns}


@pytest.mark.parametrize("found_siding", [None, 100.0])
def test_every_figure_of_a_ripping_opens_its_working(design, found_siding):
    plan = plan_for(design, found_siding_mm=found_siding)
    found = ripping_plan_columns(plan)
    for table in ripping_tables(plan, "mm"):
        columns = {name: rows for name, rows in found[table.name].items() if name in _heads(table)}
        held(table, columns, set(columns))
        assert len(columns) >= 2, table.name


@pytest.mark.parametrize("start_min", [None, 510.0])
@pytest.mark.parametrize("on_a_bed", [False, True])
def test_every_figure_of_a_glue_up_opens_its_working(design, start_min, on_a_bed):
    jig = (
        frame_on_bed(design, "0", JigKept(bed=replace(BED, bearing=design.jig.bearing)), "mm").jig if on_a_bed else None
    )
    day = Conditions(18.0, 60.0)
    card = card_for(design, day, GlueUpPlan(clamp_from="heel" if on_a_bed else "middle"), SHEET, jig)
    at = "after" if start_min is None else "at"
    found = glue_up_columns(card, design, lambda minutes: clock(start_min, minutes), at, jig)
    for table in glue_tables(card, "mm", start_min):
        if table.name not in ("dry-run", "data-sheet"):  # words; figures that each tell their source
            names = {"number from inside", "timber", "spread", "what", "pot"}
            names |= {"at"} if table.name == "clamps" else set()
            held(table, found[table.name], set(found[table.name]), names)


def minutes(working: Working) -> float:
    return float(eval(working.value.partition(" min")[0].replace("×", "*")))


def test_minutes_of_a_glue_up_are_those_put_in(design):
    """The clock's times by hand: pots and joints one after the other, then every clamp (docs/glue-up.md, Time)."""
    card = card_for(design, Conditions(18.0, 60.0), GlueUpPlan(people=3), SHEET)
    rows = glue_up_columns(card, design, lambda minutes: f"{minutes:.1f}")
    pots = [minutes(each) for each in rows["pots"]["used by"]]
    assert pots == pytest.approx([pot.used_by_min for pot in card.pots], abs=0.11)
    laid, closed = (minutes(rows["clock"]["after"][n]) for n in (1, 2))
    assert laid == pytest.approx(card.laid_min, abs=0.11)
    assert closed == pytest.approx(card.closed_min, abs=0.11)
    assert len(card.pots) > 1
