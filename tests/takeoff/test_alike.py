"""Remarks that say the same of many rows are told a few times; none is lost, and none of another kind is hidden."""

import re

import pytest

from scrieve.takeoff.alike import told_alike
from scrieve.takeoff.ordinates import read_ordinates
from scrieve.takeoff.tape_form import read_tapes


def cell(line, column="height", found="12"):
    return f'a.csv line {line}, {column}: found "{found}" where feet-inches-eighths are expected; add a unit.'


def test_a_few_of_a_kind_are_all_told():
    few = [cell(line) for line in range(2, 14)]
    assert told_alike(few) == tuple(few)


def test_of_many_the_lines_of_the_others_are_told():
    many = [cell(line, found=str(line)) for line in [*range(2, 30), 40]]
    assert told_alike(many) == (
        *many[:3],
        "a.csv: 26 more like these of height, in the lines 5 to 29, 40. Where the whole column is in mm, call it "
        "height_mm.",
    )


def test_one_of_another_kind_among_many_is_told():
    odd = 'a.csv line 17, half_breadth: found "-4"; expected a length out from the centreplane.'
    many = [cell(line, column) for line in range(2, 60) for column in ("height", "station")]
    told = told_alike([*many[:30], odd, *many[30:]])
    assert odd in told
    assert len(told) == 3 + 3 + 2 + 1
    said = " ".join(told)
    assert "55 more like these of height" in said
    assert "55 more like these of station" in said


@pytest.mark.parametrize("lines", [[3], [3, 4], [2, 3, 5]])
def test_remarks_on_several_lines_at_once(lines):
    text = f"a.csv line {', '.join(map(str, lines))}: nail A has no position; give its nail_height."
    told = told_alike([text] * 20)
    assert told[:3] == (text,) * 3
    assert told[3].startswith("a.csv: 17 more like these, in the lines ")


def test_remarks_without_a_line_are_left_as_they_are():
    assert told_alike(["the file says nothing of its frames."] * 20) == ("the file says nothing of its frames.",) * 20


def test_a_place_in_a_row_that_cannot_be_read_is_not_told_as_missing():
    head = "frame,station,from_height,from_half_breadth,to_height,to_half_breadth,along,off,lies,end_sigma\n"
    taken = read_ordinates((head + "1,0,0,900,1500,900,300,20,in,0.x\n1,0,,,,,400,30,in,\n").encode(), "o.csv")
    assert len(taken.bad) == 2
    assert taken.bad[1] == "o.csv line 3: the ends of its straight-edge stand in line 2, which cannot be read."
    head = "frame,station,mark,nail,tape,nail_height,nail_half_breadth,lies\n"
    rows = "1,0,a,A,x,1500,0,below\n1,0,a,B,700,1500,900,\n1,0,b,A,800,,,below\n1,0,b,B,600,,,\n"
    said = read_tapes((head + rows).encode(), "t.csv").bad
    assert said[-1] == "t.csv line 4: the place of nail A stands in line 2, which cannot be read."


def test_a_place_that_no_row_gives_is_still_told_as_missing():
    head = "frame,station,from_height,from_half_breadth,to_height,to_half_breadth,along,off,lies\n"
    taken = read_ordinates((head + "1,0,,,,,x,20,in\n1,0,,,,,400,30,in\n").encode(), "o.csv")
    assert re.search(r"line 3: the straight-edge has no from_height", taken.bad[-1])
