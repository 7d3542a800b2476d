"""The working of a mark's place: the numbers that it tells give the place again, by general methods of SciPy."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from scrieve.boat import Boat
from scrieve.takeoff.placed import placed_working
from scrieve.takeoff.reading import read_taken
from scrieve.wording import in_units

FORMS = Path(__file__).parents[2] / "examples" / "formats"
BOAT = Boat("Teal", sigma_mm=2.0)


def mm(text):
    return [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?(?= mm)", text)]


def placed(way):
    _, taken = read_taken((FORMS / f"{way}.csv").read_bytes(), f"{way}.csv", sigma_mm=BOAT.sigma_mm)
    return [(mark, placed_working(mark, BOAT)) for mark in taken.marks]


def place(text):
    """Half-breadth and height in that order: a text has the height first."""
    return np.array(mm(text)[1::-1])


def test_ordinates():
    for _, working in placed("ordinates"):
        put = dict(working.inputs)
        one, two = (complex(*place(put[name])) for name in ("straight-edge from", "to"))
        u = (two - one) / abs(two - one)
        ((along,), (off,)) = mm(put["along"]), mm(put["off"])
        both = [one + along * u + way * off * u for way in (1j, -1j)]
        told = complex(*place(working.value))
        near, far = sorted(both, key=lambda each: abs(each - told))
        assert abs(near - told) < 0.11  # told to 0.1 mm both ways
        assert abs(far - complex(*place(put["on the other side it would be"]))) < 0.11


@pytest.mark.parametrize(("way", "word"), [("tapes", "tape from nail"), ("arcs", "arc")])
def test_tapes_and_arcs_meet_there(way, word):
    told = [working for _, working in placed(way) if any(name.startswith(f"{word} ") for name, _ in working.inputs)]
    assert len(told) >= 2
    for working in told:
        reads = [mm(text) for name, text in working.inputs if name.startswith(f"{word} ")]
        length, known = np.array([each[0] for each in reads]), np.array([each[2:0:-1] for each in reads])
        found = least_squares(lambda p, a=known, r=length: np.hypot(*(p - a).T) - r, place(working.value))
        assert found.x == pytest.approx(place(working.value), abs=0.12)
        if len(reads) > 2:
            assert found.fun == pytest.approx([each[3] for each in reads], abs=0.06)


def test_a_template_is_turned_on_to_its_marks():
    for _, working in placed("templates"):
        marks = np.array([mm(text) for name, text in working.inputs if name.startswith("reference mark")])
        drawn, known = marks[:, :2] * [-1, 1], marks[:, 3:1:-1]  # turned over: the first axis runs the other way
        space = [np.column_stack([each - each.mean(axis=0), np.zeros(len(each))]) for each in (known, drawn)]
        turn, _ = Rotation.align_vectors(*space)
        point = np.append(mm(dict(working.inputs)["on the template"]) * np.array([-1, 1]) - drawn.mean(axis=0), 0)
        assert dict(working.inputs)["laid turned over"] == "yes"
        assert known.mean(axis=0) + turn.apply(point)[:2] == pytest.approx(place(working.value), abs=0.12)


def test_a_block_and_a_written_offset():
    told = dict(zip("bo", ([], []), strict=True))
    for mark, working in placed("arcs"):
        if mark.label[0] in told:
            told[mark.label[0]].append(working)
    for working in told["b"]:
        put = dict(working.inputs)
        assert np.hypot(*(place(working.value) - place(put["mark on the edge"]))) == pytest.approx(60, abs=0.11)
    for working in told["o"]:
        put = dict(working.inputs)
        (offset,) = mm(put["written offset"])
        assert place(working.value) - place(put["mark on the mould"]) == pytest.approx([offset, 0])


def test_the_error_is_that_of_the_covariance():
    for mark, working in [*placed("tapes"), *placed("arcs")]:
        up, across, least, most = mm(dict(working.inputs)["error, 1 sd"])
        covariance = mark.covariance_mm2(BOAT.sigma_mm)
        assert [across, up] == pytest.approx(np.sqrt(np.diag(covariance)), abs=0.06)
        assert least * most == pytest.approx(np.sqrt(np.linalg.det(covariance)), abs=0.06 * (least + most))


def test_offsets_have_none_and_what_another_program_kept_stops_nothing():
    assert [working for _, working in placed("offsets")] == [None] * 7
    mark, working = placed("tapes")[0]
    assert " mm" not in str(in_units(working, "ft"))
    assert placed_working(replace(mark, raw=json.dumps({"read": {"nails": 3}, "found": {"x": 1}})), BOAT) is None
    assert placed_working(replace(mark, raw="by hand"), BOAT) is None
