"""The marks file: what is read, and what is said of what cannot be."""

import datetime

import pytest

from scrieve.errors import BadLength, BadMarks
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.offsets import Reading, read_marks

HEAD = "frame,station,height,half_breadth,side,mark,sigma,kind,note\n"


def read(text, **more):
    return read_marks((text if text.startswith(("frame", "Frame", "#")) else HEAD + text).encode(), "marks.csv", **more)


def bad(text, **more):
    """What is said of the one bad cell of `text`; no mark may come of it."""
    reading = read(text, **more)
    assert reading.marks == ()
    (said,) = reading.bad
    return said


def test_a_row_in_full():
    reading = read("14,3600,3-4-5+,1180.5,port,WL 3,1.5,chine,thick paint\n")
    assert reading == Reading(
        (Mark("14", 3600.0, 40.6875 * 25.4, 1180.5, "P", "WL 3", 1.5, "knuckle", "thick paint", line=2),)
    )


def test_the_least_row():
    assert read("frame,station,height,half_breadth\nA,0,-1,0\n").marks == (Mark("A", 0.0, -1.0, 0.0, line=2),)


def test_heads_of_columns():
    reading = read("Frame , STATION (m),Height-ft,half breadth_in,Mark\n14,3.6,3-4-5,10,x\n")
    assert reading == Reading((Mark("14", 3600.0, 40.625 * 25.4, 254.0, label="x", line=2),))


@pytest.mark.parametrize("head", ["height_mm", "height (mm)", "Height[mm]", "HEIGHT  mm", "height-mm", "height_(mm)"])
def test_ways_to_write_the_unit_of_a_column(head):
    (mark,) = read(f"frame,station,{head},half_breadth\n14,1,2,3\n", units="m").marks
    assert (mark.station_mm, mark.height_mm, mark.half_breadth_mm) == (1000.0, 2.0, 3000.0)


@pytest.mark.parametrize(
    ("typed", "side"),
    [("P", "P"), ("s", "S"), ("Port", "P"), ("STARBOARD", "S"), ("stbd", "S"), ("", ""), ("both", "")],
)
def test_sides(typed, side):
    assert read(f"14,1,2,3,{typed}\n").marks[0].side == side


@pytest.mark.parametrize(
    ("typed", "kind"), [("rabbet", "heel"), ("Sheer", "head"), ("CHINE", "knuckle"), ("mark", ""), ("", "")]
)
def test_kinds(typed, kind):
    reading = read(f"14,1,2,3,,,,{typed}\n")
    assert (reading.marks[0].kind, reading.warnings) == (kind, ())


def test_an_unknown_kind_is_kept_in_the_note():
    reading = read("14,1,2,3,,,,limber,bored\n")
    assert (reading.marks[0].kind, reading.marks[0].note) == ("", "limber; bored")
    (said,) = reading.warnings
    assert said.startswith('marks.csv line 2, kind: found "limber", which is not known; kept as a plain mark')


def test_an_unknown_column_is_a_warning():
    reading = read("frame,station,height,half_breadth,colour,frame_m\n14,1,2,3,red,\n")
    assert len(reading.marks) == 1
    assert reading.warnings == (
        "marks.csv: the column 'colour' is not known and was not read.",
        "marks.csv: the column 'frame_m' is not known and was not read.",
    )


def test_missing_columns_are_listed_with_what_was_found():
    with pytest.raises(
        BadMarks, match=r"line 1: no column station, half_breadth; found the columns Frame, z, height\."
    ):
        read("Frame,z,height\n14,1,2\n")


def test_a_column_that_comes_twice():
    with pytest.raises(
        BadMarks, match=r"the column height comes twice; found the columns frame, height, Height \(mm\)"
    ):
        read("frame,height,Height (mm)\n14,1,2\n")


@pytest.mark.parametrize("text", ["# nothing\n", "frame,,,\n"])
def test_a_file_without_marks(text):
    with pytest.raises(
        BadMarks, match=r"marks\.csv(: no rows; expected a first row|.*no column station, height, half)"
    ):
        read(text)


def test_a_head_alone_is_said():
    assert read(HEAD).warnings == ("marks.csv: the columns are there, but no rows of marks under them.",)


def test_an_unknown_unit():
    with pytest.raises(BadLength, match="unit 'yards' is not known"):
        read("14,1,2,3\n", units="yards")


def test_the_words_for_a_bad_cell():
    text = "".join(f"{i},{i}00,5,6\n" for i in range(29)) + "14,1400,1,23-10\n"
    (said,) = read(text).bad
    assert said == 'marks.csv line 31, half_breadth: found "23-10"; expected mm or feet-inches-eighths such as 3-4-5.'


def test_all_bad_cells_are_named_at_once_and_the_good_rows_come():
    reading = read("14,36x,ab,-3,up,,0\n,1,2,3\n15,1,2,3\n16,1,,3\n17,,1,2\n")
    assert [mark.frame for mark in reading.marks] == ["15"]
    assert [said.split(":")[0].removeprefix("marks.csv ") for said in reading.bad] == [
        *(f"line 2, {column}" for column in ("station", "height", "half_breadth", "side", "sigma")),
        "line 3, frame",
        "line 5, height",
        "line 6, station",
    ]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("14,1,2,-3\n", 'half_breadth: found "-3"; expected a length out from the centreplane: give it above zero and'),
        ("14,1,2,(0-0-4)\n", 'half_breadth: found "(0-0-4)"; expected a length out'),
        ("14,1,2,3,up\n", 'side: found "up"; expected P, S, or nothing where the mark stands for both.'),
        ("14,1,2,3,,,0\n", 'sigma: found "0"; expected the measuring error, above zero'),
        ("14,1,,3\n", "height: found nothing; expected mm or feet-inches-eighths such as 3-4-5."),
        ("14,1,3-12-0,3\n", 'height: found "3-12-0": inches 12; inches run 0 to 11 and eighths 0 to 7.'),
        ('14,1,"1,234",3\n', 'height: found "1,234": is the comma a decimal sign or for thousands?'),
        ("14,1,nan,3\n", 'height: found "nan"; expected mm'),
        ("14,1,2000001,3\n", 'height: found "2000001"; expected a length under 1000 m.'),
        (f"14,1,{'9' * 5000}-1-1,3\n", f'height: found "{"9" * 60}…"; expected mm'),
        (
            "14,1,2003-04-05,3\n",
            'height: found "2003-04-05"; expected mm or feet-inches-eighths such as 3-4-5 (the spr',
        ),
        ("14,1,03/04/2005,3\n", "the spreadsheet took it for a date; format the column as text and type it again"),
        ("14,1,3-Apr-05,3\n", "the spreadsheet took it for a date"),
        ("14,1,Apr-05,3\n", "the spreadsheet took it for a date"),
    ],
)
def test_cells_that_cannot_be_read(row, words):
    assert words in bad(row)


def test_decimal_commas_between_commas_shift_no_columns():
    text = "frame,station,height,half_breadth\n14,3600,912,5,1180\n15,3600,912,1180\n"
    reading = read(text)
    assert [mark.frame for mark in reading.marks] == ["15"]
    assert reading.bad == (
        "marks.csv line 2: found 5 cells under 4 columns; a decimal comma parts a cell in two: write a point, put the "
        "cell in quotation marks, or part the cells with semicolons.",
    )


def test_a_scribble_beside_the_table_of_a_sheet_shifts_nothing(xlsx):
    data = xlsx([["frame", "station", "height", "half_breadth"], [14, 1, 2, 3, None, "rotten"]])
    assert read_marks(data, "m.xlsx") == Reading((Mark("14", 1.0, 2.0, 3.0, line=2),))


def test_in_feet_bare_numbers_are_refused_with_a_way_out():
    said = bad("14,1-0-0,12,1-2-3\n", units="ft")
    assert said == (
        'marks.csv line 2, height: found "12" where feet-inches-eighths are expected; '
        "write 3-4-5, or add a unit (mm, in, ft)."
    )
    assert 'found "x"; expected feet-inches-eighths such as 3-4-5.' in bad("14,1-0-0,x,1-2-3\n", units="ft")


def test_in_metres_the_words_say_metres():
    assert 'found "x"; expected m or feet-inches-eighths such as 3-4-5.' in bad("14,1,x,1\n", units="m")


def test_dates_of_a_sheet_in_any_column_that_counts(xlsx):
    date = datetime.datetime(2005, 4, 3)
    data = xlsx(
        [
            ["frame", "station", "height", "half_breadth", "note", "mark"],
            [14, 1, date, 3],
            [date, 1, 2, 3],
            [15, 2, 2, "3-4-5", date, date],
        ]
    )
    reading = read_marks(data, "m.xlsx")
    assert reading.bad == (
        'm.xlsx line 2, height: found "2005-04-03"; expected mm or feet-inches-eighths such as 3-4-5 '
        "(the spreadsheet took it for a date; format the column as text and type it again).",
        'm.xlsx line 3, frame: found "2005-04-03"; expected the frame\'s number or name '
        "(the spreadsheet took it for a date; format the column as text and type it again).",
    )
    assert reading.marks == (Mark("15", 2.0, 2.0, 40.625 * 25.4, label="2005-04-03", note="2005-04-03", line=4),)


def test_numbers_of_a_sheet_come_bit_for_bit(xlsx):
    value = 1234.56789012345  # a sheet itself holds fifteen digits
    data = xlsx([["frame", "station", "height", "half_breadth"], [14, 1e-3, value, 0.1]])
    assert read_marks(data, "m.xlsx").marks == (Mark("14", 1e-3, value, 0.1, line=2),)


def test_one_frame_has_one_station_the_one_most_rows_give():
    reading = read("14,3700,1,1\n14,3600,2,2\n14,3600.5,3,3\n14,3600,4,4\n15,4000,5,5\n")
    assert reading.bad == (
        'marks.csv line 2, station: found "3700"; expected 3600 mm, which other rows give for frame 14; '
        "one frame has one station.",
    )
    assert [(mark.frame, mark.station_mm) for mark in reading.marks] == [("14", 3600.0)] * 3 + [("15", 4000.0)]


def test_a_station_that_the_boat_has_already_stands():
    reading = read("14,3601,1,1\n14,3650,2,2\n", known={"14": 3600.25})
    assert [mark.station_mm for mark in reading.marks] == [3600.25]
    assert 'line 3, station: found "3650"; expected 3600.2 mm, which the boat has for frame 14' in reading.bad[0]


def test_the_station_need_be_given_once_only():
    reading = read("14,,1,1\n14,3600,2,2\n15,,3,3\n16,,4,4\n", known={"15": 4000.0})
    assert [(mark.frame, mark.station_mm) for mark in reading.marks] == [("14", 3600.0)] * 2 + [("15", 4000.0)]
    assert reading.bad == (
        "marks.csv line 5, station: found nothing; expected the station of frame 16, at least once.",
    )


def test_remarks_and_blank_lines_are_passed_over():
    reading = read(f"# invented\n\n{HEAD}14,1,2,3\n\n# 15 was rotten\n,,\n16,1,2,3\n")
    assert [(mark.frame, mark.line) for mark in reading.marks] == [("14", 4), ("16", 8)]
    assert (reading.bad, reading.warnings) == ((), ())


def test_a_remark_that_reads_like_a_mark_is_told():
    reading = read(f"{HEAD}#14,1,2,3\n# no,of,a,mark\n15,1,2,3\n")
    assert [mark.frame for mark in reading.marks] == ["15"]
    assert reading.warnings == (
        "marks.csv line 2: begins with # and was passed over as a remark, though it reads like a mark; take the # away "
        "if it is one.",
    )


def test_one_label_written_two_ways_is_one_frame():
    reading = read("14é,1,2,3\n14é,1,2,4\n")
    assert len({mark.frame for mark in reading.marks}) == 1
