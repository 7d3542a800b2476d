"""A frame on paper: every line where the design puts it, every label readable."""

import numpy as np
import pytest

from scrieve.sheets.bench import BenchSheet
from scrieve.sheets.drawing import Circle, Line, Polyline, Text
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
@pytest.mark.parametrize("draw", [frame_drawing, frame_pattern, jig_drawing])
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
    assert names == ["jig", "proof", "bevels", "laminations", "strips", "ripping", "marks", "workings"]
    assert sheet.checks == design.checks
    assert sheet.cautions == design.cautions
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
    assert jig.columns[3] == "travel (ft-in-8ths)"
    assert all("-" in row[3] for row in jig.rows)
    assert not any(" mm" in value for name, value in sheet.summary if name in ("finished", "packet", "blank"))
    assert bench_sheet_pdf(sheet).startswith(b"%PDF")
