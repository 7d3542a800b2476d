"""Source: tables of offsets of the 19-ft launch and the 12-ft rowing boat, Amateur Work, vols. 5 and 3.

The rows below are typed from the printed tables, row by row; the files hold the same mark by mark, as a builder types.
"""

from pathlib import Path

import numpy as np
import pytest

from scrieve.takeoff.offsets import read_marks
from scrieve.units import parse_length

DATA = Path(__file__).parent / "data"
STATIONS_FT = [3.0, 6.25, 9.5, 12.75, 16.0]
LAUNCH = """
gunwale    | 1-10-4 1-9-1  1-8-3  1-8-0  1-8-0
keel bottom| 0-0-7  0      0      0      0-3-0
buttock 1  | 0-4-6  0-1-0  0-0-3  0-1-3  0-3-2
buttock 2  | ?      0-4-0  0-1-4  0-2-0  ?
deck       | 1-0-0  1-5-6  1-8-0  1-7-4  1-3-6
WL 4       | 0-9-6  1-4-4  1-7-6  1-7-6  1-4-6
WL 3       | 0-8-5  1-3-4  1-7-1  1-8-0  1-4-4
WL 2       | 0-7-0  1-1-6  1-6-1  1-7-2  1-3-4
WL 1       | 0-4-4  0-10-3 1-3-4  1-4-0  ?
"""
HALF_BEAM_MM = 24 * 25.4


def marks_of(name):
    reading = read_marks((DATA / name).read_bytes(), name)
    assert (reading.bad, reading.warnings) == ((), ())
    return reading.marks


def printed():
    for line in LAUNCH.strip().splitlines():
        name, cells = line.split("|")
        for mould, cell in enumerate(cells.split(), start=1):
            if cell != "?":
                yield name.strip(), str(mould), cell


def test_launch_read_as_printed():
    marks = {(mark.label, mark.frame): mark for mark in marks_of("launch_19ft.csv")}
    seen = set()
    for name, mould, cell in printed():
        mark = marks["deck" if name == "gunwale" else name, mould]
        seen.add((mark.label, mark.frame))
        is_height = name in ("gunwale", "keel bottom", "buttock 1", "buttock 2")
        assert (mark.height_mm if is_height else mark.half_breadth_mm) == parse_length(cell, "ft"), (name, mould)
        line, _, number = name.partition(" ")
        if line == "WL":
            assert mark.height_mm == pytest.approx(3 * 25.4 * int(number), rel=1e-12)
        if line == "buttock":
            assert mark.half_breadth_mm == pytest.approx(6 * 25.4 * int(number), rel=1e-12)
        assert mark.kind == {"keel bottom": "heel", "gunwale": "head", "deck": "head"}.get(name, "")
        assert mark.station_mm == pytest.approx(304.8 * STATIONS_FT[int(mould) - 1], rel=1e-12)
    assert seen == set(marks)


@pytest.mark.parametrize("mould", "12345")
def test_launch_runs_from_heel_to_head(mould):
    own = [mark for mark in marks_of("launch_19ft.csv") if mark.frame == mould]
    assert (own[0].kind, own[-1].kind) == ("heel", "head")
    assert np.all(np.diff([mark.height_mm for mark in own]) > 0)


def test_rowing_boat_has_one_half_breadth_that_cannot_be():
    marks = marks_of("rowing_boat_12ft.csv")
    beyond = [mark for mark in marks if mark.half_breadth_mm > HALF_BEAM_MM + 1e-6]
    assert [(mark.frame, mark.label, mark.half_breadth_mm / 25.4) for mark in beyond] == [("2", "WL 3", 27.25)]
    assert max(mark.half_breadth_mm for mark in marks if mark not in beyond) == pytest.approx(HALF_BEAM_MM)
