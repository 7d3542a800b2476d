"""Figures of the Fairing page open their working, and the numbers put in give the figure told, to its rounding."""

import html
import re

import numpy as np
import pytest

from scrieve.fairing.fairness import fairness
from scrieve.web.fairing.tables import fairness_table
from scrieve.web.fairing.workings import fairness_columns, hull_workings, off_working


@pytest.fixture(scope="module")
def hull(merganser):
    return merganser.state.boat.state().kept.hull()


def mm(text):
    return [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?(?= mm)", text)]


def test_marks_off_the_line_are_so_many_of_what_is_expected_there(hull):
    told = {off.number: off for off in hull.offs}
    far = next(off for off in hull.offs if off.suspect and off.out_by_sd > 30)
    plain = [off for off in hull.offs if off.counts and not off.along_mm and abs(off.residual_mm) > 2][:20]
    assert len(plain) == 20
    for off, sign in [(far, 1), *((one, -1) for one in plain)]:  # the suspect stands outside of the line
        working = off_working(hull, told[off.number])
        put = {name: mm(value) for name, value in working.inputs}
        mark, line = np.array(put["the mark"]), np.array(put["the line there"])
        assert np.hypot(*(mark - line)) == pytest.approx(abs(off.residual_mm), abs=0.15)  # both told to 0.1 mm
        (of_line,), (error,) = put["± of the line there, 1 sd"], put["a usual mark's error, 1 sd"]
        by_sd = abs(off.residual_mm) / np.sqrt(error**2 + sign * of_line**2)
        assert by_sd == pytest.approx(float(dict(working.inputs)["r over what is expected of it"]), rel=0.02, abs=0.06)
        if off is not far:  # Student's tail of a thousand marks says much only far out
            assert by_sd == pytest.approx(off.out_by_sd, rel=0.03, abs=0.06)


def test_the_hull_as_a_whole(hull):
    off, error, line = hull_workings(hull)
    put = dict(off.inputs)
    assert np.sqrt(float(put["Σr²"].removesuffix(" mm²")) / int(put["n"])) == pytest.approx(hull.rms_mm, abs=0.01)
    stated, learnt = dict(error.inputs).values()
    assert mm(stated)[0] * float(learnt) == pytest.approx(hull.error_mm, abs=0.02)
    assert mm(line.value)[0] == pytest.approx(np.median(hull.sd_mm(5000.0, np.linspace(0, 1, 50))), rel=0.6)


def test_kinks_come_of_the_readings_put_in(hull):
    report = fairness(hull)
    columns = fairness_columns(report)
    assert all(len(columns[name]) == len(report.lines) for name in ("kink faired", "moved at most", "reversals"))
    for line, working in zip(report.lines, columns["kink by the marks"], strict=True):
        reading, cubic, kink = mm(working.value)
        at = line.before.kink_at
        near = [at - 2, at - 1, at + 1, at + 2]
        through = np.polynomial.Polynomial.fit(line.x_mm[near], line.before_mm[near], 3)(line.x_mm[at])
        assert cubic == pytest.approx(through, abs=0.02)  # numpy's own cubic through the four
        assert abs(reading - cubic) == pytest.approx(kink, abs=0.021)
        assert kink == pytest.approx(line.before.kink_mm, abs=0.006)


def test_every_column_of_figures_has_its_workings(hull):
    report = fairness(hull)
    table = fairness_table(report, "mm")
    named = {head.partition(" (")[0] for head in table.columns} - {"diagonal", "side", "at frame"}
    assert named == set(fairness_columns(report))


def test_the_page_opens_them(pages):
    page = pages.get("/fairing?show=frame&frame=17").text
    text = html.unescape(page)
    assert text.count('<details class="why-rows">') == 2  # port and starboard
    assert "n·(mark − line)" in text
    assert "√(Σr²/n)" in text
    for number in re.findall(r'data-mark="(\d+)"', page):
        assert f"<b>mark {number}</b>" in page


def test_every_row_of_the_take_off_opens_its_working(pages, hull):
    """Of one frame below its table; of many frames folded, each leads to the page of its own."""
    page = html.unescape(pages.get("/marks?frame=17").text)
    offs = [off for off in hull.offs if off.frame == "17"]
    assert page.count('<details class="why-rows" id="workings">') == 1
    head = re.search(r"<thead>.*?</thead>", page, re.DOTALL)[0]
    names = [re.sub("<.*?>", "", cell) for cell in re.findall(r"<th.*?</th>", head)]
    (column,) = re.findall(r'data-column="(\d+)"', page)  # offsets: height and half-breadth are as read
    assert names[int(column)] == "off the line (mm)"
    assert [int(number) for number in re.findall(r"<b>mark (\d+)</b>", page)] == [off.number for off in offs]
    every = pages.get("/marks").text
    assert "why-rows" not in every
    assert every.count('data-own="/marks?frame=') == len(hull.stations)
    assert '<a href="/marks?frame=17#workings">' in every
