"""A frame on paper: every line where the design puts it, every label readable."""

import re
from fractions import Fraction

import numpy as np
import pytest
from shapely import Polygon

from scrieve.sheets.bench import BenchSheet
from scrieve.sheets.drawing import Circle, Line, Polyline, Text
from scrieve.sheets.frame_predicted import prediction_drawing
from scrieve.sheets.frame_sheet import frame_bench_sheet, frame_drawing, frame_pattern, frame_tables, jig_drawing
from scrieve.sheets.pdf import bench_sheet_pdf, pattern_pdf

from .conftest import overlapping
from .members import FT, MM, frame


@pytest.fixture(scope="module")
def design():
    return frame()


def test_the_pattern_carries_the_very_outline(design):
    out = design.outline
    moulded, inner, *others = (item for item in frame_pattern(design).items if isinstance(item, Polyline))
    assert (moulded.layer, inner.layer, {line.layer for line in others}) == (
        "MOULDED LINE",
        "INNER FACE",
        {"OTHER FACE"},
    )
    assert np.array_equal(moulded.points, out.moulding_outer_mm)
    assert np.array_equal(inner.points, out.moulding_inner_mm)


def test_the_pattern_is_exact_in_the_pdf(design, lines_of):
    wanted = design.outline.moulding_outer_mm
    n = len(wanted)
    chords = np.hypot(*(wanted - wanted[0]).T)
    for _, paths in lines_of(pattern_pdf(frame_pattern(design), roll_width_mm=914.4)):
        found = [p for p, _ in paths if len(p) == n]
        errors = [abs(np.hypot(*(p - p[0]).T) - chords).max() for p in found]
        assert min(errors) < 0.01


@pytest.mark.parametrize("draw", [frame_drawing, frame_pattern])
def test_every_bevel_mark_is_drawn_square_to_the_moulded_line(design, draw):
    ticks = [item for item in draw(design).on_layer("BEVEL MARKS") if isinstance(item, Line)]
    assert len(ticks) == len(design.bevels)
    out = design.outline
    for tick, mark in zip(ticks, design.bevels, strict=True):
        k = int(np.clip(np.searchsorted(out.s_mm, mark.s_mm), 1, len(out.s_mm) - 1))
        tangent = out.moulding_outer_mm[k] - out.moulding_outer_mm[k - 1]
        across = np.subtract(tick.end, tick.start)
        cosine = tangent @ across / np.hypot(*tangent) / np.hypot(*across)
        assert abs(cosine) < 0.03


def test_brackets_stand_on_the_datum_line_and_reach_the_bearing_face(design):
    drawing = jig_drawing(design)
    stems = [item for item in drawing.on_layer("BRACKETS") if isinstance(item, Line) and item.title]
    assert len(stems) == len(design.jig.brackets)
    face = design.jig.face_mm[np.argsort(design.jig.face_mm[:, 0])]
    for stem in stems:
        assert stem.start[1] == 0.0
        # travel is rounded to 0.5 mm, and the face is handed out at every fourth mm
        assert stem.end[1] == pytest.approx(np.interp(stem.end[0], face[:, 0], face[:, 1]), abs=0.3)
    words = {item.text for item in drawing.items if isinstance(item, Text)}
    assert {f"{bracket.travel_mm:.1f}" for bracket in design.jig.brackets} <= words
    assert len([item for item in drawing.items if isinstance(item, Circle)]) == len(stems)


@pytest.mark.parametrize("settings", [{}, {"pitch_mm": 120.0}, {"bearing": "outside"}, {"moulded_mm": 40.0}])
@pytest.mark.parametrize("draw", [frame_drawing, frame_pattern, jig_drawing, prediction_drawing])
def test_no_lettering_stands_on_other_lettering(draw, settings):
    assert overlapping(draw(frame(**settings))) == []


@pytest.mark.parametrize("draw", [frame_drawing, frame_pattern, jig_drawing])
def test_a_very_long_label_does_not_blow_the_drawing_up(draw):
    usual, long = draw(frame("14")), draw(frame("a frame with a very long name <&> " * 20))
    assert max(long.size_mm) <= 1.02 * max(usual.size_mm)


def test_the_bench_sheet_has_all_tables_and_verdicts(design):
    sheet = frame_bench_sheet(design, MM, "ABCD1234", "HTTP://X/14")
    assert isinstance(sheet, BenchSheet)
    names = [table.name for table in sheet.tables]
    assert names == [
        "jig",
        "proof",
        "closing",
        "bevels",
        "shape",
        "laminations",
        "strips",
        "ripping",
        "marks",
        "strength",
        "workings",
    ]
    assert [check.name for check in sheet.checks] == [check.name for check in design.checks]
    assert len(sheet.cautions) == len(design.cautions)
    assert bench_sheet_pdf(sheet, date="2026-11-25").startswith(b"%PDF")


def test_tables_say_what_the_design_says(design):
    tables = {table.name: table for table in frame_tables(design)}
    first = design.jig.brackets[0]
    assert tables["jig"].rows[0][3] == f"{first.travel_mm:.1f}"
    assert len(tables["laminations"].rows) == len(design.packet.laminations)
    assert [float(row[4]) for row in tables["bevels"].rows] == pytest.approx(
        [np.degrees(mark.bevel_rad) for mark in design.bevels], abs=0.05
    )


def test_feet_inches_eighths_run_through_the_whole_sheet(design):
    sheet = frame_bench_sheet(design, FT, "ABCD1234")
    jig = next(table for table in sheet.tables if table.name == "jig")
    assert jig.columns[2:4] == ("along (ft-in-8ths)", "travel (in)")
    travels = [25.4 * float(sum(map(Fraction, row[3].split()))) for row in jig.rows]
    assert travels == pytest.approx([each.travel_mm for each in design.jig.brackets], abs=25.4 / 64)  # 32nds of an inch
    assert not any(" mm" in value for name, value in sheet.summary if name in ("finished", "packet", "blank"))
    told = [check.found + check.limit for check in sheet.checks] + list(sheet.cautions)
    told += [cell for table in sheet.tables for row in table.rows for cell in row]
    assert [text for text in told if re.search(r"\d mm\b", text)] == []
    assert bench_sheet_pdf(sheet).startswith(b"%PDF")


def test_a_depth_by_table_is_told_at_both_ends_and_a_low_waterline_clear_of_the_frame():
    by_table = frame(moulded_table=((0.0, 70.0), (1200.0, 50.0)), waterlines_mm=(225.0, 900.0))
    told = dict(frame_bench_sheet(by_table, MM, "ABCD1234").summary)["finished"]
    ends = by_table.outline.moulded_mm[[0, -1]].round()
    assert f"moulded {ends[0]:.0f} mm at the heel, {ends[1]:.0f} mm at the head, by table" in told
    drawing, wood = frame_drawing(by_table), Polygon(by_table.faces.moulding_mm)
    names = [item for item in drawing.items if isinstance(item, Text) and item.text.startswith("waterline")]
    assert len(names) == 2
    assert not any(wood.intersects(Polygon(name.corners())) for name in names)


def test_the_shape_foretold_is_drawn_to_its_scale():
    """Each line stands off the one wanted by what the prediction says, times the figure lettered on the drawing."""
    design = frame(allow_for_cleaning=True)
    drawing, seen = prediction_drawing(design), design.prediction
    wanted, *_ = (item.points for item in drawing.on_layer("MOULDED LINE"))
    times = next(float(t.text.split()[2]) for t in drawing.items if isinstance(t, Text) and t.text.startswith("depart"))
    for layer, out in (("JIG FACE", seen.off_jig_out_mm), ("OTHER FACE", seen.finished_out_mm)):
        (line,) = drawing.on_layer(layer)
        assert np.hypot(*(line.points - wanted).T) == pytest.approx(times * np.abs(out), abs=1e-6)
    assert np.ptp(seen.off_jig_out_mm) > 0.05  # there is something to see
    assert times > 1


def test_the_closing_card_names_every_bracket_and_all_clamps(design):
    card = next(table for table in frame_tables(design) if table.name == "closing")
    assert sorted(int(row[1]) for row in card.rows) == list(range(1, len(design.jig.brackets) + 1))
    assert f"{design.closing.clamps} clamps" in card.note


def test_the_old_frame_is_set_against_the_new_where_it_is_given():
    """Source: closed form. Larch 45 x 60 solid: EI = 1.1 x MOE b h^3 / 12, so 45 x 30 is an eighth of it."""
    plain = next(table for table in frame_tables(frame()) if table.name == "strength")
    assert "not given" in plain.note
    assert not any("old" in head for head in plain.columns)
    made = [frame(timber="larch", old_timber="larch", old_sided_mm=45.0, old_moulded_mm=deep) for deep in (60.0, 30.0)]
    tables = [next(table for table in frame_tables(each) if table.name == "strength") for each in made]
    ratios = [float(table.rows[0][5]) for table in tables]
    assert ratios == pytest.approx([1.0, 8.0], abs=0.05)
    assert "steamed larch" in tables[0].note


def test_cuts_notches_and_scarfs_have_their_tables_where_there_are_any():
    made = frame(heel_cut=("plumb", 20.0, 0.0), notches=(("limber", 300.0, "outer", 30.0, 12.0),), board_mm=1600.0)
    tables = {table.name: table for table in frame_tables(made)}
    assert [row[0] for row in tables["cuts"].rows] == ["heel", "head", "limber"]
    assert len(tables["scarfs"].rows) == len(made.scarfs.scarfs) > 0
    lines = [item for item in frame_drawing(made).items if isinstance(item, Polyline) and "notched" in item.title]
    for line, face in zip(lines, (made.faces.far_mm, made.faces.moulding_mm), strict=True):
        assert np.array_equal(line.points, face)
    assert not [item for item in frame_drawing(frame()).items if isinstance(item, Polyline) and "notched" in item.title]
