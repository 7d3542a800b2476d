"""Tables: CSV and XLSX as spreadsheets of different countries write them, and files that are neither."""

import datetime
import io
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scrieve.errors import BadMarks
from scrieve.takeoff import tables
from scrieve.takeoff.tables import read_table, rows


def cells(data, name="marks.csv"):
    return [row.cells for row in rows(data, name)]


@pytest.mark.parametrize("sign", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_the_sign_between_cells_is_found(sign, end):
    data = end.join([sign.join(["frame", "height (mm)", "note"]), sign.join(["14", "1", '"a, b; c\td"'])])
    assert cells(data.encode()) == [("frame", "height (mm)", "note"), ("14", "1", "a, b; c\td")]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_encodings(encoding):
    assert cells("frame;note\n14;étambot ½\n".encode(encoding)) == [("frame", "note"), ("14", "étambot ½")]


def test_decimal_commas_under_a_head_parted_by_semicolons():
    assert cells(b"frame;height\n14;1,5\n14;2,5\n")[1:] == [("14", "1,5"), ("14", "2,5")]


def test_lines_are_those_of_the_file():
    data = b'# "a remark\n\nframe,note\n,,\n1,"two\nlines"\n  ,\n2,x\n'
    assert [(row.line, row.cells, row.is_remark) for row in rows(data, "m.csv")] == [
        (1, ("# 'a remark",), True),
        (3, ("frame", "note"), False),
        (5, ("1", "two\nlines"), False),
        (8, ("2", "x"), False),
    ]


def test_inch_marks_in_cells():
    assert cells(b'frame,height\n14,4 5/8"\n15,"4 5/8"""\n')[1:] == [("14", '4 5/8"'), ("15", '4 5/8"')]


def test_blanks_before_a_quoted_cell():
    assert cells(b'frame, note, side\n14, "a, b", P\n')[1:] == [("14", "a, b", "P")]


def test_a_quotation_mark_left_open_swallows_nothing():
    with pytest.raises(BadMarks, match=r"m\.csv line 2: a quotation mark is not closed"):
        rows(b'frame,note\n14,"thick paint\n15,x\n16,y\n', "m.csv")
    with pytest.raises(BadMarks, match=r"m\.csv line 3: a quotation mark is not closed"):
        rows(b'frame,note\n13,x\n14,"5 up\n15,"6 up\n', "m.csv")


def test_a_sheet_gives_the_same_cells_as_a_csv(xlsx):
    data = xlsx([["# demo"], ["frame", "height", "on"], [], [14, 0.1, True], ["14", 1e-7, None], [3.0, -12.70, False]])
    assert [(row.line, row.cells) for row in rows(data, "m.xlsx")] == [
        (1, ("# demo",)),
        (2, ("frame", "height", "on")),
        (4, ("14", "0.1", "TRUE")),
        (5, ("14", "0.0000001")),
        (6, ("3", "-12.7", "FALSE")),
    ]


@settings(max_examples=100)
@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_of_a_sheet_are_exact(number):
    assert float(tables._number(number)) == number
    assert "e" not in tables._number(number)


@pytest.mark.parametrize(
    "value",
    [datetime.datetime(2005, 4, 3), datetime.date(2005, 4, 3), datetime.time(3, 4, 5), datetime.timedelta(hours=30)],
)
def test_dates_of_a_sheet_are_told_apart(xlsx, value):
    (row,) = rows(xlsx([["x", value]]), "m.xlsx")
    assert row.cells[1].endswith(tables.A_DATE)
    assert "00:00:00 " not in row.cells[1]


def test_only_the_first_sheet_and_it_is_said(xlsx):
    table = read_table(xlsx([["frame"]], Old=[["x"]], Notes=[["y"]]), "m.xlsx")
    assert [row.cells for row in table.rows] == [("frame",)]
    assert table.warnings == ("m.xlsx: only the first sheet, 'Marks', was read; not 'Old', 'Notes'.",)


@pytest.mark.parametrize(
    ("data", "match"),
    [
        (b"\x00\x01\x02" * 100, "neither a CSV nor an XLSX file"),
        (b"\x89PNG\r\n\x1a\n" + bytes(100), "neither a CSV nor an XLSX"),
        (b"frame,\x81\x8d\n", "neither a CSV nor an XLSX"),
        (b"PK\x03\x04" + b"rubbish" * 50, "neither a CSV nor an XLSX file that can be read; it may be damaged"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(100), "an old spreadsheet file .* save it as XLSX or CSV"),
    ],
)
def test_files_that_are_no_table(data, match):
    with pytest.raises(BadMarks, match=rf"^x\.dat: {match}"):
        rows(data, "x.dat")


def test_another_archive_is_no_sheet():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("readme.txt", "hello")
    with pytest.raises(BadMarks, match="neither a CSV nor an XLSX"):
        rows(out.getvalue(), "x.zip")


def test_a_sheet_cut_short_anywhere_is_refused_in_words(xlsx):
    whole = xlsx([["frame", "height"], *([i, i / 7] for i in range(50))])
    for length in range(4, len(whole), len(whole) // 40):
        with pytest.raises(BadMarks, match="neither a CSV nor an XLSX"):
            rows(whole[:length], "m.xlsx")


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_a_damaged_sheet_is_read_or_refused_in_words(xlsx, data):
    whole = zipfile.ZipFile(io.BytesIO(xlsx([["frame", "height"], [14, "3-4-5"], [15, 2.5]])))
    part = data.draw(st.sampled_from(whole.namelist()))
    body = bytearray(whole.read(part))
    for place, byte in data.draw(st.lists(st.tuples(st.integers(0, len(body) - 1), st.integers(0, 255)), max_size=5)):
        body[place] = byte
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:  # zipped anew, so that the damage reaches the reader of the sheet
        for name in whole.namelist():
            archive.writestr(name, bytes(body) if name == part else whole.read(name))
    try:
        rows(out.getvalue(), "m.xlsx")
    except BadMarks as error:
        assert str(error).startswith("m.xlsx: ")  # noqa: PT017 - either is right


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=300) | st.text(max_size=200).map(str.encode))
def test_any_bytes_are_read_or_refused_in_words(data):
    try:
        found = rows(data, "m.csv")
    except BadMarks as error:
        assert str(error).startswith("m.csv")  # noqa: PT017 - either is right
    else:
        assert all(row.cells and row.cells[-1] for row in found)


def test_nothing_gives_no_rows():
    assert rows(b"", "m.csv") == ()
    assert rows(b"\n\n , \n", "m.csv") == ()


def test_too_many_rows_are_refused_not_cut(monkeypatch, xlsx):
    monkeypatch.setattr(tables, "MOST_ROWS", 3)
    assert len(rows(b"a\n1\n2\n", "m.csv")) == 3
    with pytest.raises(BadMarks, match=r"m\.csv: more than 3 rows; split the file\. Nothing was read"):
        rows(b"a\n1\n2\n3\n", "m.csv")
    with pytest.raises(BadMarks, match=r"m\.xlsx: more than 3 rows"):
        rows(xlsx([[1]] * 4), "m.xlsx")


def test_too_many_bytes(monkeypatch, xlsx):
    monkeypatch.setattr(tables, "MOST_UNPACKED", 3_000_000)
    padded = io.BytesIO(xlsx([["a"]]))
    with zipfile.ZipFile(padded, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("bomb", b"\0" * 4_000_000)
    with pytest.raises(BadMarks, match=r"m\.xlsx: 4 MB when unpacked; split it, or save it as CSV"):
        rows(padded.getvalue(), "m.xlsx")
    monkeypatch.setattr(tables, "MOST_BYTES", 1_000_000)
    with pytest.raises(BadMarks, match=r"m\.csv: 2 MB; a table of marks is read up to 1 MB"):
        rows(b"x" * 2_000_000, "m.csv")
