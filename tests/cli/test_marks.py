"""`scrieve marks`: add, list, keep and drop."""

import io
import json
from pathlib import Path

import pytest
from openpyxl import Workbook


def marks(done, boat):
    return json.loads(done("marks", boat, "list", "--json"))


def test_every_bad_row_is_told_at_once_and_nothing_is_stored(empty, run, done, written, rows, as_csv):
    rows[3][2], rows[40][3], rows[41][4] = "23-10", "-40", "left"
    said = run("marks", empty, "add", written("marks.csv", as_csv(rows)))
    assert (said.code, said.out) == (1, "")
    first, *rest = said.err.splitlines()
    assert first == "scrieve: 3 cells or rows of marks.csv cannot be read, so nothing was stored:"
    assert rest[0] == 'marks.csv line 5, height: found "23-10"; expected mm or feet-inches-eighths such as 3-4-5.'
    assert rest[1].startswith('marks.csv line 42, half_breadth: found "-40"; expected ')
    assert rest[2].startswith('marks.csv line 43, side: found "left"; expected ')
    assert marks(done, empty) == []


def test_skip_bad_stores_the_good_rows_and_lists_the_rest(empty, run, done, written, rows, as_csv):
    rows[3][2] = "23-10"
    said = run("marks", empty, "add", written("marks.csv", as_csv(rows)), "--skip-bad")
    assert said.code == 0
    assert "80 marks on 9 frames added" in said.out
    assert 'marks.csv line 5, height: found "23-10"' in said.err
    assert [mark["line"] for mark in marks(done, empty)] == [line for line in range(2, 83) if line != 5]


def test_skip_bad_as_json_holds_both(empty, done, written, rows, as_csv):
    rows[3][2] = ""
    said = json.loads(done("marks", empty, "add", written("m.csv", as_csv(rows)), "--skip-bad", "--json"))
    assert (said["added"], len(said["numbers"])) == (80, 80)
    assert [text.startswith("m.csv line 5, height: found nothing") for text in said["not_stored"]] == [True]
    assert said["frames"]["1"] == 8


def test_the_same_file_twice_is_stored_once(empty, done, written, rows, as_csv):
    file = written("marks.csv", as_csv(rows))
    assert done("marks", empty, "add", file).startswith("81 marks on 9 frames added")
    assert "was added before; its 81 marks are in the boat, once" in done("marks", empty, "add", file)
    assert "was added before" in done("marks", empty, "add", file, "--skip-bad")
    assert len(marks(done, empty)) == 81


def test_a_file_put_right_and_sent_whole_adds_what_is_new(empty, run, done, written, rows, as_csv):
    right = rows[3][2]
    rows[3][2] = "23-10"
    run("marks", empty, "add", written("marks.csv", as_csv(rows)), "--skip-bad")
    rows[3][2] = right
    said = run("marks", empty, "add", written("marks.csv", as_csv(rows)))
    assert said.out.startswith("1 mark on 1 frame added")
    assert "80 rows are in the boat already, from an earlier sending, and left out." in said.err
    there = marks(done, empty)
    assert (len(there), there[-1]["line"]) == (81, 5)
    assert "was added before; its 81 marks are in the boat" in done(
        "marks", empty, "add", written("m.csv", as_csv(rows))
    )


def test_rows_moved_to_other_lines_are_known_and_a_dropped_mark_stays_dropped(empty, done, written, rows, as_csv):
    done("marks", empty, "add", written("marks.csv", as_csv(rows)))
    done("marks", empty, "drop", "7")
    said = json.loads(done("marks", empty, "add", written("marks.csv", as_csv(rows[40:] + rows[:40])), "--json"))
    assert (said["added"], said["left_out"]) == (0, 81)
    assert [mark["number"] for mark in marks(done, empty) if mark["answer"] == "drop"] == [7]


def test_a_second_measuring_is_stored_where_the_builder_says_so(empty, done, written, rows, as_csv):
    file = written("marks.csv", as_csv(rows))
    done("marks", empty, "add", file)
    assert done("marks", empty, "add", file, "--second").startswith("81 marks on 9 frames added")
    assert "was added before" in done("marks", empty, "add", file, "--second")  # and that is stored once too
    assert len(marks(done, empty)) == 162


def test_a_row_that_comes_twice_in_the_file_is_left_out_as_often_as_it_is_stored(empty, done, written, rows, as_csv):
    done("marks", empty, "add", written("a.csv", as_csv([rows[0]])))
    said = json.loads(done("marks", empty, "add", written("b.csv", as_csv([rows[0], rows[0]])), "--json"))
    assert (said["added"], said["left_out"]) == (1, 1)


def test_the_unit_of_each_head_and_of_the_command(empty, done, written):
    head = "frame,station_m,height_mm,half_breadth\n"
    done("marks", empty, "add", written("a.csv", head + "1,1.25,300,2-3-4+\n"), "--units", "ft")
    (mark,) = marks(done, empty)
    # 27-9/16 in of 25.4 mm
    assert (mark["station_mm"], mark["height_mm"]) == (1250.0, 300.0)
    assert mark["half_breadth_mm"] == pytest.approx(27.5625 * 25.4, rel=1e-12)


def test_a_bare_number_in_feet_is_refused(empty, run, done, written):
    file = written("a.csv", "frame,station,height,half_breadth\n1,1-0-0,300,2-3-4\n")
    said = run("marks", empty, "add", file, "--units", "ft")
    assert said.code == 1
    assert 'a.csv line 2, height: found "300"' in said.err
    assert marks(done, empty) == []


def test_xlsx(empty, done, written, rows):
    book, out = Workbook(), io.BytesIO()
    book.active.append(["Frame", "Station (mm)", "Height (mm)", "Half-breadth (mm)"])
    for row in rows:
        book.active.append([int(row[0]), *map(float, row[1:4])])
    book.save(out)
    assert "81 marks on 9 frames" in done("marks", empty, "add", written("marks.xlsx", out.getvalue()))
    assert marks(done, empty)[80]["half_breadth_mm"] == float(rows[80][3])


def test_sides(empty, done, written):
    text = "frame,station,height,half_breadth,side\n1,0,100,200,both\n1,0,150,250,\n1,0,200,300,stbd\n1,0,250,350,P\n"
    done("marks", empty, "add", written("a.csv", text))
    assert [mark["side"] for mark in marks(done, empty)] == ["", "", "S", "P"]


def test_doubts_are_told_on_stderr_and_change_nothing(tmp_path, run, done, written, rows, as_csv):
    boat = tmp_path / "b"
    done("new", boat, "--name", "B", "--planking", "inside", "--beam", "2000mm")
    rows[40][3] = "1200"  # the greatest half-breadth of this hull is 1000 mm
    said = run("marks", boat, "add", written("marks.csv", as_csv(rows)), "--slips", "store")
    assert said.code == 0
    assert said.out.startswith("81 marks")
    assert all(line.startswith("look at this: ") for line in said.err.splitlines())
    assert "frame 5, WL 4 (line 42): half-breadth 1200 is over the half-beam 1000" in said.err
    assert marks(done, boat)[40]["half_breadth_mm"] == 1200.0


def test_an_unknown_column_is_told(empty, run, written, rows, as_csv):
    file = written("marks.csv", as_csv(rows, ("frame", "station", "height", "half_breadth", "side", "colour")))
    said = run("marks", empty, "add", file)
    assert said.code == 0
    assert "the column 'colour' is not known and was not read" in said.err


def test_a_file_without_rows_is_told(empty, run, written):
    said = run("marks", empty, "add", written("a.csv", "frame,station,height,half_breadth\n"))
    assert said.code == 1
    assert said.out == ""
    assert "a.csv: no " in said.err


def test_the_list(boat, done, run):
    lines = done("marks", boat, "list", "--frame", "5").splitlines()
    heads = "number frame side mark kind station height half-breadth answer"
    assert " ".join(lines[0].split()) == heads
    assert len(lines) == 10
    assert lines[1].split() == ["37", "5", "WL", "0", "3000.0", "0.0", "0.0"]
    said = run("marks", boat, "list", "--frame", "77")
    assert (said.code, said.out) == (1, "")
    assert "no marks on frame '77'" in said.err


def test_a_boat_without_marks_lists_none(empty, done):
    assert done("marks", empty, "list").startswith("no marks yet; ")
    assert done("marks", empty, "list", "--json") == "[]\n"


def test_dropped_marks_no_longer_count_and_come_back(boat, done):
    def count():
        return len(json.loads(done("fair", boat, "--json"))["marks"])

    assert count() == 81
    assert done("marks", boat, "drop", "40", "41").startswith("marks 40, 41: dropped")
    assert count() == 79
    answers = {mark["number"]: mark["answer"] for mark in marks(done, boat)}
    assert len(answers) == 81  # still in the file
    assert [number for number, said in answers.items() if said] == [40, 41]
    assert done("marks", boat, "keep", "40", "--note", "looked again").startswith("mark 40: kept")
    assert count() == 80


@pytest.mark.parametrize("what", ["keep", "drop"])
def test_an_unknown_number_changes_nothing(boat, run, done, what):
    said = run("marks", boat, what, "40", "999")
    assert (said.code, said.out) == (1, "")
    assert "no mark 999 in this boat" in said.err
    assert not any(mark["answer"] for mark in marks(done, boat))


def test_boat_and_command_changed_over_is_told(boat, run):
    said = run("marks", "add", boat, "marks.csv")
    assert said.code == 2
    assert f"the boat comes first: scrieve marks {boat} add" in said.err


@pytest.mark.parametrize("way", ["ordinates", "tapes", "templates", "arcs"])
def test_other_ways_of_taking_off(empty, run, done, way):
    """The examples of docs/formats.md, told by their columns or stated; the two are one file, stored once."""
    file = Path(__file__).parents[2] / "examples" / "formats" / f"{way}.csv"
    said = run("marks", empty, "add", file)
    assert said.code == 0, said.err
    assert f"look at this: {way}.csv is read as {way}, by its columns" in said.err
    there = marks(done, empty)
    assert there
    assert {mark["way"] for mark in there} == {way}
    assert "was added before" in done("marks", empty, "add", file, "--kind", way)
    assert len(marks(done, empty)) == len(there)


def test_a_way_that_the_file_is_not(empty, run, written, rows, as_csv):
    said = run("marks", empty, "add", written("marks.csv", as_csv(rows)), "--kind", "tapes")
    assert (said.code, said.out) == (1, "")
    assert "marks.csv line 1: no column " in said.err


def test_a_likely_slip_is_told_with_its_row_and_nothing_is_stored_until_it_is_answered(
    empty, run, done, written, rows, as_csv
):
    rows[40][3] = f"{float(rows[40][3]) + 304.8:.1f}"
    rows[66][2] = f"{float(rows[66][2]) - 100:.1f}"
    file = written("marks.csv", as_csv(rows))
    said = run("marks", empty, "add", file)
    assert (said.code, marks(done, empty)) == (1, [])
    assert "2 rows of marks.csv are likely slips, so nothing was stored" in said.err
    foot = next(line for line in said.err.splitlines() if "WL 4 (line 42)" in line)
    assert "mm outside the fair line" in foot
    assert "half-breadth a foot too great?" in foot.lower()
    some = run("marks", empty, "add", file, "--row", "42=leave")
    assert (some.code, "1 row of marks.csv is likely a slip" in some.err) == (1, True)
    kept = json.loads(done("marks", empty, "add", file, "--row", "42=leave", "--row", "68=keep", "--json"))
    assert (kept["added"], kept["slips_left_out"]) == (80, 1)
    assert [mark["answer"] for mark in marks(done, empty) if mark["label"] == "WL 3" and mark["frame"] == "8"] == [
        "keep"
    ]


def test_a_file_is_judged_by_the_hull_that_the_boat_has(boat, run, done, written, wigley, as_csv):
    def row(z, out=0.0):
        return ["5a", "3300", f"{z}", f"{float(wigley.half_breadth(300.0, z - 800.0)) + out:.1f}", "", f"WL {z}"]

    said = run("marks", boat, "add", written("a.csv", as_csv([row(250), row(450, -25.4), row(650)])))
    assert said.code == 1
    assert "1 row of a.csv is likely a slip" in said.err
    assert "an inch too small?" in said.err
    assert "3 marks" in done(
        "marks", boat, "add", written("a.csv", as_csv([row(250), row(450, -25.4), row(650)])), "--slips", "store"
    )


@pytest.mark.parametrize("typed", ["42", "x=store", "42=maybe"])
def test_an_answer_to_a_row_that_cannot_be_read_is_told(empty, run, written, rows, as_csv, typed):
    said = run("marks", empty, "add", written("marks.csv", as_csv(rows)), "--row", typed)
    assert (said.code, f"--row '{typed}'" in said.err) == (1, True)
