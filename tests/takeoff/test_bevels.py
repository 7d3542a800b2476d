"""The bevel board's table: what is read, and what is said of what cannot be."""

import math
from pathlib import Path

import pytest

from scrieve.errors import BadMarks
from scrieve.takeoff.bevels import BevelReading, read_bevels

EXAMPLE = Path(__file__).parents[2] / "examples" / "formats" / "bevels.csv"
HEAD = "frame,bevel,face,height,girth,mark,side,note\n"


def read(text):
    return read_bevels((HEAD + text).encode(), "b.csv")


def test_the_example_is_read_without_a_remark():
    taken = read_bevels(EXAMPLE.read_bytes(), "bevels.csv")
    assert (len(taken.bevels), taken.bad, taken.warnings) == (6, (), ())
    assert [round(math.degrees(one.bevel_rad), 6) for one in taken.bevels] == [12.5, 11, 9, 8.5, -3, -2.5]
    assert [round(math.degrees(one.slope_rad), 6) for one in taken.bevels] == [12.5, 11, 9, -8.5, 3, 2.5]


def test_a_row_in_full():
    (one,) = read("14,4.5,fore,3-4-5,,3,port,wet\n").bevels
    assert one == BevelReading("14", math.radians(4.5), "fore", 40.625 * 25.4, None, "3", "P", "wet", 2)


@pytest.mark.parametrize(
    ("typed", "degrees"),
    [
        ("4.5", 4.5), ("+4.5", 4.5), ("-3", -3), ("−3", -3), ("4,5°", 4.5), ("4° 30'", 4.5), ("3 under", -3), ("0", 0),
        ("3 deg", 3), ("4.5 Standing", 4.5), ("60", 60),
    ],
)  # fmt: skip
def test_ways_to_write_a_bevel(typed, degrees):
    (one,) = read(f'14,"{typed}",aft,500,,,,\n').bevels
    assert math.degrees(one.bevel_rad) == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("14,94.5,fore,500,,,,", 'bevel: found "94.5"; expected degrees from square, standing above zero: where the g'),
        ("14,,fore,500,,,,", "bevel: found nothing; expected degrees from square such as 4.5"),
        ("14,-3 under,fore,500,,,,", 'bevel: found "-3 under"'),
        ("14,3 wide,fore,500,,,,", 'bevel: found "3 wide"'),
        ("14,4° 75',fore,500,,,,", "bevel: found"),
        ("14,3,up,500,,,,", 'face: found "up"; expected fore or aft: the face of the frame'),
        ("14,3,fore,,,,,", "height: found nothing; expected the bevel's place: a height or a girth, one of them, or"),
        ("14,3,fore,500,600,,,", "expected the bevel's place"),
        ("14,3,fore,x,,,,", 'height: found "x"; expected mm'),
        ("14,3,fore,500,,,left,", 'side: found "left"; expected P, S'),
        (",3,fore,500,,,,", "frame: found nothing; expected the frame's number or name"),
    ],
)
def test_bevels_that_cannot_be_read(row, words):
    taken = read(row + "\n15,3,fore,500,,,,\n")
    assert [one.frame for one in taken.bevels] == ["15"]
    (said,) = taken.bad
    assert words in said
    assert said.startswith("b.csv line 2, ")


def test_all_bad_cells_at_once():
    taken = read("14,x,up,500,,,left,\n,3,fore,5,,,,\n")
    assert [text.split(":")[0] for text in taken.bad] == [
        "b.csv line 2, bevel", "b.csv line 2, face", "b.csv line 2, side", "b.csv line 3, frame",
    ]  # fmt: skip


def test_heads():
    assert len(read_bevels(b"frame,Bevel (deg),face,height_ft\n14,3,a,1-0-0\n", "b.csv").bevels) == 1
    with pytest.raises(BadMarks, match="no column bevel, face; found the columns frame"):
        read_bevels(b"frame\n", "b.csv")
    with pytest.raises(BadMarks, match="no rows; expected a first row with the columns frame, bevel, face"):
        read_bevels(b"# x\n", "b.csv")
    assert "no rows of bevels under them" in read("").warnings[0]
