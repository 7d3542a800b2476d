"""The two file forms: good rows are kept, every bad cell is told at once with its line, what was found and expected."""

import io
from pathlib import Path

import openpyxl
import pytest

from scrieve.errors import BadMarks
from scrieve.planking.choice import SeamMark, SpilingMark
from scrieve.planking.forms import SEAM_VALUES, SPILING_KINDS, read_seams, read_spiling

FORMATS = Path(__file__).parents[2] / "examples" / "formats"


def test_seams_by_height_and_girth():
    read = read_seams(
        b"frame,edge,height_mm,girth_ft\n4,lower,300,\n4,upper,,1-6-0\n5,Lower,312.5,\n5,u,,1-6-4\n", "s.csv"
    )
    assert read.bad == ()
    assert read.lower == (SeamMark(300, "height", "4"), SeamMark(312.5, "height", "5"))
    assert read.upper == (SeamMark(457.2, "girth", "4"), SeamMark(pytest.approx(469.9), "girth", "5"))


def test_seams_by_station_and_half_breadth_in_an_xlsx():
    book = openpyxl.Workbook()
    for row in (["station (mm)", "edge", "Half-breadth (mm)"], [3000, "lower", 120], [3000, "upper", 240.5]):
        book.active.append(row)
    data = io.BytesIO()
    book.save(data)
    read = read_seams(data.getvalue(), "s.xlsx")
    assert read.bad == ()
    assert read.lower == (SeamMark(120, "half_breadth", "", 3000),)
    assert read.upper == (SeamMark(240.5, "half_breadth", "", 3000),)


def test_every_bad_cell_of_a_seams_file_is_told():
    read = read_seams(
        b"frame,edge,height_mm,girth_mm\n1,low,100,\n2,upper,a,\n,upper,3,\n4,upper,5,6\n5,upper,,\n6,upper,,-4\n7,lower,9,\n",
        "s.csv",
    )
    assert read.lower == (SeamMark(9, "height", "7"),)
    assert read.upper == ()
    assert read.bad == (
        's.csv line 2, edge: found "low"; expected lower or upper.',
        's.csv line 3, height: found "a"; expected mm or feet-inches-eighths such as 3-4-5.',
        "s.csv line 4, frame: found nothing; expected the frame, or its station.",
        's.csv line 5, girth: found "6"; expected one height, half_breadth or girth in each row.',
        "s.csv line 6, height: found nothing; expected one height, half_breadth or girth in each row.",
        's.csv line 7, girth: found "-4"; expected a length not below zero.',
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"", r"s\.csv: no rows; expected a first row with the columns frame, edge, height"),
        (b"frame,height\n1,2\n", r"no column edge"),
        (b"edge,height\nlower,2\n", r"no column frame or station"),
        (b"frame,edge\n1,lower\n", r"no column height, half_breadth or girth"),
    ],
)
def test_a_seams_file_without_its_columns(text, said):
    with pytest.raises(BadMarks, match=said):
        read_seams(text, "s.csv")


def test_spiling_of_all_kinds():
    read = read_spiling(
        b"frame,edge,kind,x,y,opening,side,point\n"
        b"4,lower,offset,100,-2,,,\n4,upper,arc,60,1,120,,a\n4,upper,arc,140,1,120,above,a\n"
        b"5,lower,block,400,3,40,,\n5,upper,width,400,,150,,\n5,,nail,412,70,,,\n",
        "b.csv",
    )
    assert read.bad == ()
    assert read.batten.marks == (
        SpilingMark("4", "lower", "offset", 100, -2, 0, -1, "", 2),
        SpilingMark("4", "upper", "arc", 60, 1, 120, 1, "a", 3),
        SpilingMark("4", "upper", "arc", 140, 1, 120, 1, "a", 4),
        SpilingMark("5", "lower", "block", 400, 3, 40, -1, "", 5),
        SpilingMark("5", "upper", "width", 400, 0, 150, 1, "", 6),
        SpilingMark("5", "lower", "nail", 412, 70, 0, -1, "", 7),
    )


def test_every_bad_cell_of_a_spiling_file_is_told():
    read = read_spiling(
        b"frame,edge,kind,x,y,opening,side\n1,mid,dot,q,,,\n2,lower,arc,1,,,\n3,lower,width,1,,-3,\n4,upper,offset,1,2,,left\n",
        "b.csv",
    )
    assert read.batten.marks == ()
    assert read.bad == (
        'b.csv line 2, edge: found "mid"; expected lower or upper.',
        'b.csv line 2, kind: found "dot"; expected offset, block, arc, width or nail.',
        'b.csv line 2, x: found "q"; expected mm or feet-inches-eighths such as 3-4-5.',
        "b.csv line 3, y: found nothing; expected mm or feet-inches-eighths such as 3-4-5.",
        "b.csv line 3, opening: found nothing; expected mm or feet-inches-eighths such as 3-4-5.",
        'b.csv line 4, opening: found "-3"; expected a length above zero: the block\'s width, the compass opening or '
        "the plank's width.",
        'b.csv line 4, edge: found "lower"; expected upper: a width is set off from the lower edge to the upper.',
        'b.csv line 5, side: found "left"; expected above or below: where the plank\'s edge lies from the mark; empty: '
        "the edge's own side.",
    )


def test_a_column_that_a_kind_needs_is_asked_for():
    read = read_spiling(b"frame,edge,kind,x\n1,lower,offset,4\n", "b.csv")
    assert read.bad == ("b.csv line 2, y: found nothing; expected a column y: rows of kind offset need it.",)


def test_the_examples_are_whole():
    seams = read_seams((FORMATS / "seams.csv").read_bytes(), "seams.csv")
    assert (seams.bad, seams.warnings) == ((), ())
    assert len(seams.lower) == len(seams.upper) >= 4
    spiling = read_spiling((FORMATS / "spiling.csv").read_bytes(), "spiling.csv")
    assert (spiling.bad, spiling.warnings) == ((), ())
    assert {mark.kind for mark in spiling.batten.marks} == {"offset", "block", "arc", "width"}


def test_every_column_and_kind_stands_in_the_docs():
    page = (Path(__file__).parents[2] / "docs" / "planking-formats.md").read_text(encoding="utf-8")
    columns = ("frame", "station", "edge", *SEAM_VALUES, "kind", "x", "y", "opening", "side", "point", "note")
    for word in (*columns, *SPILING_KINDS, "lower", "upper", "above", "below"):
        assert f"`{word}`" in page
