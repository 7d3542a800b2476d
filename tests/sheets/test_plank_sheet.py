"""A plank on paper: outline and offsets as designed, labels readable."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from scrieve.errors import BadBoard
from scrieve.planking import SpilingChoice, design_spiled_plank, read_spiling
from scrieve.planking.clinker import Land
from scrieve.planking.panel import SheetJoint, SheetPiece
from scrieve.sheets.drawing import Circle, Line, Text
from scrieve.sheets.pdf import bench_sheet_pdf
from scrieve.sheets.plank_sheet import plank_bench_sheet, plank_drawing, plank_pattern, plank_tables
from scrieve.stock.parts import parts_of_plank

from .conftest import overlapping
from .members import FT, MM, plank


def test_the_pattern_is_the_closed_outline_with_every_frame_line():
    design = plank()
    drawing = plank_pattern(design)
    (outline,) = drawing.on_layer("SEAM EDGE")
    assert outline.closed
    assert np.array_equal(outline.points, design.outline_mm)
    marks = [item for item in drawing.on_layer("FRAME MARKS") if isinstance(item, Line)]
    assert [(mark.start, mark.end) for mark in marks] == [(f.lower_mm, f.upper_mm) for f in design.frames]
    assert drawing.size_mm[0] == pytest.approx(4820.0)  # no lettering outside the outline


def test_a_stretched_drawing_says_so():
    design = plank()
    drawing = plank_drawing(design)
    stretch = int(drawing.title.split("drawn ")[1].split()[0])
    assert drawing.times == (1.0, stretch)
    (outline,) = drawing.on_layer("SEAM EDGE")
    assert stretch > 1
    assert np.ptp(outline.points[:, 1]) == pytest.approx(stretch * np.ptp(design.outline_mm[:, 1]))
    assert np.ptp(outline.points[:, 0]) == pytest.approx(np.ptp(design.outline_mm[:, 0]))


@pytest.mark.parametrize("draw", [plank_drawing, plank_pattern])
def test_no_lettering_stands_on_other_lettering(draw):
    assert overlapping(draw(plank())) == []


def test_a_very_long_name_stays_inside_its_plank():
    drawing = plank_pattern(plank("a plank with a very long name & <more> " * 20))
    assert drawing.size_mm[0] == pytest.approx(4820.0)
    assert max(len(item.text) for item in drawing.items if isinstance(item, Text)) < 60


def test_setting_out_gives_the_designs_offsets():
    design = plank()
    table = next(table for table in plank_tables(design) if table.name == "setting-out")
    assert [float(row[2]) for row in table.rows] == pytest.approx([f.lower_mm[1] for f in design.frames], abs=0.05)
    assert [float(row[5]) for row in table.rows] == pytest.approx([f.width_mm for f in design.frames], abs=0.05)
    assert all(table.figures)


@pytest.mark.parametrize("boat", [MM, FT])
def test_the_bench_sheet_prints(boat):
    sheet = plank_bench_sheet(plank(), boat, "ABCD1234", "HTTP://X/3")
    assert [table.name for table in sheet.tables] == ["setting-out", "edges", "spiling", "workings"]
    assert bench_sheet_pdf(sheet, date="2026-11-25").startswith(b"%PDF")


def test_what_is_not_known_is_a_dash():
    design = plank()
    bare = replace(
        design,
        twist_rad=None,
        edge_set_mm=None,
        frames=tuple(
            replace(f, lower_bevel_rad=None, upper_bevel_rad=None, hollow_mm=None, radius_mm=None)
            for f in design.frames
        ),
    )
    edges = next(table for table in plank_tables(bare) if table.name == "edges")
    assert edges.rows[0] == ("10", "–", "–", "–", "–")
    assert "edges" not in {table.name for table in plank_bench_sheet(bare, MM, "ABCD1234").tables}
    lapped = replace(bare, frames=tuple(replace(f, radius_mm=-900.0) for f in bare.frames))
    table = next(table for table in plank_bench_sheet(lapped, MM, "ABCD1234").tables if table.name == "edges")
    assert (table.title, table.columns, table.rows[0]) == (
        "How the frames curve", ("frame", "frame's radius (mm)"), ("10", "-900")
    )  # fmt: skip


def test_a_panel_is_told_in_sheets():
    pieces = (SheetPiece(0.0, 1500.0, 1500.0, 300.0), SheetPiece(1450.0, 2900.0, 1450.0, 310.0))
    joint = SheetJoint(1475.0, "scarf", 50.0, "between frames 14 and 15")
    panel = replace(plank(), pieces=pieces, joints=(joint,))
    told = dict(plank_bench_sheet(panel, MM, "ABCD1234").summary)
    assert told["sheets"].startswith("2 pieces of plywood 28.0 mm thick, up to 1500 mm × 310 mm")
    assert "edge-set" not in told
    drawn = [line for line in plank_drawing(panel).on_layer("JOINTS") if isinstance(line, Line)]
    assert [line.title for line in drawn] == ["scarf between frames 14 and 15, 50 mm"]
    with pytest.raises(BadBoard, match="cut of 2 sheets of plywood"):
        parts_of_plank(panel)


def test_a_lapped_plank_has_no_seam_to_caulk():
    land = Land("14", 36.0, 0.1, 3.6, 14.4)
    told = [
        dict(plank_bench_sheet(design, MM, "ABCD1234").summary)["seam"]
        for design in (replace(plank(), lands=(land,), seam_opening_mm=0.0), replace(plank(), seam_opening_mm=0.0))
    ]
    lapped = replace(plank(), lands=(replace(land, frame=plank().frames[0].label),))
    (lap,) = plank_pattern(lapped).on_layer("JOINTS")
    off = np.hypot(*(lap.points - lapped.upper_mm).T)
    assert off == pytest.approx(np.full(len(off), 36.0), abs=1e-9)
    said = [text.text for text in plank_pattern(lapped).on_layer("BEVELS") if isinstance(text, Text)]
    assert "land +5.7°" in said  # 0.1 rad
    assert told == ["none to caulk: laps its neighbour by 36.0 mm, land bevelled on the upper edge",
                    "none to caulk: edges tight"]  # fmt: skip


def test_nails_pricked_on_the_batten_stand_on_the_pattern_and_in_a_table():
    data = (Path(__file__).parents[2] / "examples" / "formats" / "spiling.csv").read_bytes()
    marks = read_spiling(data + b"7,,nail,603,20,,,,\n8,,nail,1196,80,,,,\n9,,nail,1800,900,,,,\n", "nailed.csv").batten
    design = design_spiled_plank(marks, SpilingChoice("nailed", 28.0))
    circles = [item for item in plank_pattern(design).items if isinstance(item, Circle)]
    assert [item.at for item in circles] == [(nail.x_mm, nail.y_mm) for nail in design.nails[:2]]  # one lies off it
    assert plank_pattern(design).size_mm[1] < 300
    (table,) = [table for table in plank_tables(design) if table.name == "nails"]
    # the datum line through the middles of both ends runs 7 mm up: 20 - 7 and 80 - 7
    assert [(row[0], round(float(row[2]))) for row in table.rows] == [("7", 13), ("8", 73), ("9", 893)]
