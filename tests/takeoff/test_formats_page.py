"""docs/formats.md says what the readers do."""

import math
import re
from pathlib import Path

import pytest

from scrieve.takeoff import bevels, tables
from scrieve.takeoff.arc_form import HOW
from scrieve.takeoff.entries import MOST_TOGETHER
from scrieve.takeoff.hands import WORDS
from scrieve.takeoff.marks import KINDS
from scrieve.takeoff.offsets import OPTIONAL, REQUIRED, SAME_STATION_MM, read_marks
from scrieve.takeoff.reading import FORMS
from scrieve.takeoff.tapes import LEAST_CROSSING_RAD
from scrieve.takeoff.traps import SAME_MARK_MM
from scrieve.units import parse_length

PAGE = (Path(__file__).parents[2] / "docs" / "formats.md").read_text(encoding="utf-8")


def part(head):
    return re.split(r"^#+ ", PAGE.split(f"# {head}\n", 1)[1], maxsplit=1, flags=re.MULTILINE)[0]


def rows_of(text):
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines() if line.startswith("|")]


def test_every_column_is_there_and_no_other():
    listed = {row[0].strip("`"): row[1] for row in rows_of(part("The marks file")) if len(row) == 3 and "`" in row[0]}
    assert listed == dict.fromkeys(REQUIRED, "yes") | dict.fromkeys(OPTIONAL, "no")


@pytest.mark.parametrize(
    ("head", "way"),
    [
        ("Ordinates", "ordinates"), ("Tapes", "tapes"), ("Templates", "templates"),
        ("Arcs, blocks and written offsets", "arcs"),
    ],
)  # fmt: skip
def test_every_column_of_the_other_forms_is_there_and_no_other(head, way):
    listed = {row[0].strip("`"): row[1] for row in rows_of(part(head)) if len(row) == 3 and "`" in row[0]}
    assert listed == dict.fromkeys(FORMS[way].required, "yes") | dict.fromkeys(FORMS[way].optional, "no")
    assert f"examples/formats/{way}.csv" in part(head)


def test_every_example_named_is_there():
    named = set(re.findall(r"\]\(\.\./(examples/formats/[^)]+)\)", PAGE))
    assert {Path(name).suffix for name in named} == {".csv", ".xlsx"}
    assert [name for name in named if not (Path(__file__).parents[2] / name).exists()] == []


def test_every_column_of_the_bevel_board_is_there_and_no_other():
    rows = rows_of(part("The bevel board"))
    listed = {row[0].strip("`"): row[1] for row in rows if len(row) == 3 and "`" in row[0]}
    assert listed == dict.fromkeys(bevels.REQUIRED, "yes") | dict.fromkeys(bevels.OPTIONAL, "no")
    assert f"over {bevels.MOST_DEG:g}°" in part("The bevel board")


def test_the_words_and_limits_of_the_other_forms():
    words = part("Other ways of taking off")
    assert all(f"`{word}`" in words for word in WORDS.values())
    assert all(f"`{how}`:" in part("Arcs, blocks and written offsets") for how in HOW)
    assert f"less than {round(math.degrees(LEAST_CROSSING_RAD))}°" in part("Tapes")
    assert f"more than {MOST_TOGETHER} rows" in words


def test_every_kind_is_there_with_what_it_is_kept_as():
    kinds = {}
    for words, kept in (row for row in rows_of(part("The marks file")) if len(row) == 2):
        kinds |= dict.fromkeys(re.findall(r"`(\w+)`", words), kept)
    del kinds["kind"]
    assert set(kinds) == set(KINDS) - {""}
    assert all(kept.startswith(KINDS[word] or "a plain mark") for word, kept in kinds.items())


def test_the_example_is_read_without_a_remark():
    example = PAGE.split("```csv\n")[1].split("```")[0]
    reading = read_marks(example.encode(), "example.csv")
    assert (len(reading.marks), reading.bad, reading.warnings) == (5, (), ())
    assert [mark.kind for mark in reading.marks] == ["heel", "", "", "head", "heel"]
    assert reading.marks[1].half_breadth_mm == pytest.approx(27.5625 * 25.4)


def test_the_check_values():
    values = [row for row in rows_of(part("Lengths")) if len(row) == 3 and row[0].startswith("`")]
    assert len(values) == 9
    for written, inches, mm in values:
        for text in re.findall(r"`([^`]+)`", written):
            assert parse_length(text) == pytest.approx(float(inches) * 25.4, rel=1e-15)
            assert parse_length(text) == pytest.approx(float(mm), rel=1e-12)


def test_what_is_said_to_be_read_is_read():
    ways = [row[0] for row in rows_of(part("Lengths")) if len(row) == 2]
    texts = [text for way in ways for text in re.findall(r"`([^`]+)`", way)]
    assert len(texts) > 15
    for text in texts:
        parse_length(text)


def test_the_words_of_the_remarks():
    head = "frame,station,height,half_breadth\n"
    text = head + "\n" * 29 + "14,3600,1,23-10\n14,3600,1,-40\n"
    assert "\n".join(read_marks(text.encode(), "marks.csv").bad) == PAGE.split("```text\n")[1].split("\n```")[0]


def test_the_kinds_of_doubt_and_the_limits():
    source = "".join(path.read_text() for path in Path(tables.__file__).parent.glob("*.py"))
    made = set(re.findall(r'doubt\(\s*"([^"]+)"', source))
    listed = {row[0].strip("`") for row in rows_of(part("Blunder traps")) if row[0].startswith("`")}
    assert listed == made
    assert f"within {SAME_MARK_MM:g} mm" in part("Blunder traps")
    assert f"differ by more than {SAME_STATION_MM:g} mm" in PAGE
    limits = f"Up to {tables.MOST_ROWS // 1000} 000 rows and {tables.MOST_BYTES // 10**6} MB"
    assert limits in part("Tables")
