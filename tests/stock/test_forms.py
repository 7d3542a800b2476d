"""The boards file: what docs/boards.md says of it, read; what cannot be read, told."""

import re
from pathlib import Path

import pytest

from scrieve.errors import BadBoard, BadMarks
from scrieve.stock.forms import KINDS, LENGTHS, OTHERS, REQUIRED, board_from, mapping_of, read_boards

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "boards.md").read_text(encoding="utf-8")
EXAMPLE = (ROOT / "examples" / "formats" / "boards.csv").read_bytes()
HEAD = "board,kind,mark,length,width,thickness,x,y,lower,upper,across,face,sound,cost\n"


def read(text, **how):
    return read_boards((HEAD + text).encode(), "boards.csv", **how)


def test_the_example_reads():
    """Values written in the file; 16-4-6 is (16 · 12 + 4 + 6/8) in, 1 5/8 in is 41.275 mm at 25.4 mm to the inch."""
    reading = read_boards(EXAMPLE, "boards.csv")
    assert (reading.bad, reading.warnings) == ((), ())
    first, wany, curved = reading.boards
    assert (first.name, first.area_mm2, first.cost) == ("A1", pytest.approx(4800 * 260), 64.0)
    assert (first.defects[0].sound, first.defects[0].face) == (True, "top")
    assert (wany.top.lower_mm[2], wany.top.upper_mm[2], wany.best_face) == (-201, 190, "top")
    assert wany.under is not None
    assert len(wany.defects[0].points) == 2
    assert (wany.defects[1].kind, wany.defects[1].closed) == ("rot", True)
    assert wany.defects[1].region().area == pytest.approx(220 * 62 / 2)
    assert curved.length_mm == pytest.approx((16 * 12 + 4 + 6 / 8) * 25.4)
    assert curved.thickness_mm == pytest.approx(41.275)
    assert curved.heart.lower_mm == (-180, -170)
    assert len(curved.grain) == 3


def test_the_example_of_the_page_reads():
    shown = re.search(r"```\n(board,kind.*?)```", PAGE, re.S)[1]
    reading = read_boards(shown.encode(), "boards.csv")
    assert [board.name for board in reading.boards] == ["A1", "B2"]
    assert (reading.bad, reading.warnings) == ((), ())


def test_every_kind_and_column_stands_on_the_page():
    part = PAGE.split("## The boards file\n", 1)[1].split("\n## ", 1)[0]
    kinds = re.findall(r"^\| `(\w+)` \|", part, re.M)
    assert kinds == list(KINDS)
    assert all(f"`{column}`" in part for column in (*REQUIRED, *LENGTHS, *OTHERS))


@pytest.mark.parametrize("board", read_boards(EXAMPLE, "boards.csv").boards, ids=lambda board: board.name)
def test_a_board_is_kept_and_found_again(board):
    import json

    assert board_from(json.loads(json.dumps(mapping_of(board)))) == board


def test_a_board_kept_incompletely_is_named():
    with pytest.raises(BadBoard, match="board 'A' is kept incompletely"):
        board_from({"name": "A", "length_mm": 1})


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("A,board,,2000,200,,,,,,,,,", 'line 2, thickness: found nothing; expected mm'),
        ("A,plank,,,,,,,,,,,,", 'line 2, kind: found "plank"; expected one of board, top, under'),
        ("A,board,,2000,200,30,,,,,,left,,", 'line 2, face: found "left"; expected the best face'),
        ("A,board,,2000,200,30,,,,,,,,12 pounds", 'line 2, cost: found "12 pounds"; expected a plain number'),
        ("A,board,,-5,200,30,,,,,,,,", 'line 2, length: found "-5"; expected a length above zero'),
        ("A,top,,,,,0,,-10,10,,,,", "board 'A' has no row of kind board"),
        ("A,board,,2000,,30,,,,,,,,", "board 'A': neither a width nor rows of kind top"),
        ("A,board,,2000,200,30,,,,,,,,\nA,top,,,,,0,,-10,10,,,,", "board 'A': a width and rows of its edges too"),
        ("A,board,,2000,200,30,,,,,,,,\nA,board,,2000,200,30,,,,,,,,", "one row of kind board for each; 'A' had one"),
        ("A,board,,2000,200,30,,,,,,,,\nA,knot,,,,,500,90,,,,,,", "board 'A': the knot 500 mm along has no size"),
        ("A,board,,2000,200,30,,,,,,,,\nA,knot,,,,,500,900,,,20,,,", "along, 900 mm from the datum line lies off"),
        ("A,board,,2000,,30,,,,,,,,\nA,top,,,,,0,,10,-10,,,,", "lower edge 10 mm is not below upper edge -10 mm"),
        ("A,board,,2000,,30,,,,,,,,\nA,top,,,,,0,,-9,9,,,,\nA,top,,,,,2400,,-9,9,,,,", "station 2400 mm lies off"),
        (",board,,2000,200,30,,,,,,,,", "line 2, board: found nothing; expected the board's name"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_told(rows, said):
    reading = read(rows + "\nZ,board,,1000,100,20,,,,,,,,\n")
    assert [board.name for board in reading.boards] == ["Z"]
    assert said in "\n".join(reading.bad)


def test_lengths_in_feet_where_the_builder_works_in_feet():
    board = read("A,board,,10-0-0,0-8-0,0-1-4,,,,,,,,\n", units="ft").boards[0]
    assert (board.length_mm, board.thickness_mm) == pytest.approx((3048, 38.1))
    assert "write 3-4-5, or add a unit" in read("A,board,,120,0-8-0,0-1-4,,,,,,,,\n", units="ft").bad[0]


def test_a_table_without_kinds_is_refused():
    with pytest.raises(BadMarks, match="no column kind"):
        read_boards(b"board,length\nA,2000\n", "boards.csv")
