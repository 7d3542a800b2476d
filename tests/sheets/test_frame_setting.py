"""The jig on paper: the change list says what moves from how it stands, the plan how each turn stands."""

import math
from dataclasses import replace
from types import SimpleNamespace

import pytest

from scrieve.frames.jig.bed import ERROR_LIMIT_MM, JigBed
from scrieve.frames.jig.setting import JigSetting, Stand
from scrieve.frames.jig.setting_kept import JigKept, frame_on_bed
from scrieve.sheets.frame_setting import change_table, proof_table, setting_bench_sheet, turn_checks, turn_table
from scrieve.sheets.pdf import bench_sheet_pdf

from .members import FT, MM, frame
from .test_bench import words as words_of

BED = JigBed(rails=20, pitch_mm=150.0, brackets=20)


@pytest.fixture(scope="module")
def design():
    return frame()


def test_of_an_unknown_jig_every_bracket_is_set_anew(design):
    found = frame_on_bed(design, "A", JigKept(BED))
    table = change_table(found, "mm")
    assert [row[1] for row in table.rows] == [str(each.number) for each in found.jig.brackets]
    assert {(row[3], row[5]) for row in table.rows} == {("–", "anew")}
    assert [float(row[4]) for row in table.rows] == [each.travel_mm for each in found.jig.brackets]


def test_what_stands_stays_what_is_out_moves_and_what_is_in_the_way_goes(design):
    first = frame_on_bed(design, "A", JigKept(BED))
    stands = list(JigSetting.of_jig(first.jig).stands)
    one = stands[2]
    stands[2] = Stand(one.rail, one.along_mm, one.travel_mm - 4.5, one.swivel_rad)
    stands.append(Stand(0, one.along_mm + 70.0, 300.0, 0.0))
    found = frame_on_bed(design, "A", JigKept(BED, JigSetting(tuple(stands))))
    table = change_table(found, "mm")
    assert table.rows[0][1] == "take away"
    changes = {row[2]: row[5] for row in table.rows[1:]}
    assert changes.pop(str(one.rail)) == "out 4.5 mm"
    assert set(changes.values()) == {"stays"}
    assert next(row for row in table.rows if row[2] == str(one.rail))[3] == f"{one.travel_mm - 4.5:.1f}"


def test_on_a_grid_of_holes_the_list_names_the_row_that_each_travel_is_measured_from(design):
    grid = replace(BED, row_mm=100.0, travel_least_mm=20.0, travel_most_mm=125.0)
    found = frame_on_bed(design, "A", JigKept(grid))
    told = [row[4].removeprefix("row ").split(": ") for row in change_table(found, "mm").rows]
    came = [(int(row) - 1) * 100.0 + float(travel) for row, travel in told]
    assert came == pytest.approx([each.travel_mm for each in found.jig.brackets])
    assert all(20.0 <= float(travel) <= 125.0 for _, travel in told)


@pytest.mark.parametrize("boat", [MM, FT])
def test_the_sheet_prints_with_every_bracket_large(design, boat, tmp_path):
    found = frame_on_bed(design, "A", JigKept(BED), boat.units)
    sheet = setting_bench_sheet(found, boat, "ABCD1234")
    assert sheet.tables[0].big
    words = words_of(bench_sheet_pdf(sheet), tmp_path)
    assert "Change list" in words
    assert "Prove the setting" in words
    for row in sheet.tables[0].rows:
        assert row[4] in words


def test_a_turn_tells_what_moves_from_the_turn_before():
    before = JigSetting((Stand(1, 0.0, 300.0, 0.1), Stand(2, 250.0, 320.0, 0.1), Stand(3, 500.0, 350.0, 0.1)))
    now = JigSetting((Stand(1, 0.0, 300.0, 0.1), Stand(2, 250.0, 310.5, 0.1), Stand(4, 750.0, 400.0, 0.1)))
    assert [row[3] for row in turn_table(2, "15", now, before, "mm").rows] == ["stays", "in 9.5", "anew"]
    assert {row[3] for row in turn_table(1, "15", now, None, "mm").rows} == {"–"}


def test_how_a_wrong_swivel_is_found_is_said_where_the_face_is_flat(design):
    # the tape is held to the middle of a face: 1 mm at the edge of one 40 mm wide is atan(1/40)
    note = proof_table(frame_on_bed(design, "A", JigKept(replace(BED, face="flat", face_width_mm=40.0))), "mm").note
    assert f"{math.degrees(math.atan2(1, 40)):.1f}°" in note
    assert "swivel" not in proof_table(frame_on_bed(design, "A", JigKept(replace(BED, face="round"))), "mm").note


def test_a_frame_that_no_setting_of_an_order_holds_is_said_to_fail_with_what_to_do():
    held, loose = (SimpleNamespace(frame=name, departure_mm=off) for name, off in (("14", ERROR_LIMIT_MM), ("18", 1.8)))
    for between, what in ((False, "a block is to be screwed to the bed"), (True, "clamped between rails besides")):
        plan = SimpleNamespace(turns=(held, loose), bed=JigBed(between=between))
        (check,) = turn_checks(plan, "mm")
        assert (check.name, check.ok, check.limit) == ("Frame 18 between brackets", False, "1.0 mm")
        assert check.found.startswith("1.8 mm")
        assert what in check.caution
