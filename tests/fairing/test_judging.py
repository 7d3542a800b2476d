"""Marks judged before they are stored. On a circular cone the miss is a closed form: distance from the axis less R."""

import re
from dataclasses import replace

import numpy as np
import pytest

from scrieve.boat import Boat
from scrieve.errors import CannotFair
from scrieve.fairing import judging_sent
from scrieve.fairing.hull import fair
from scrieve.fairing.judging import Line, judge, judge_by_hull
from scrieve.fairing.judging_sent import judge_table, words_of
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.retold import Retold
from scrieve.wording import in_units

from .exact_hulls import APEX, TAPER, cone_hull

X = 3300.0
R = TAPER * (APEX - X)


def on_circle(angle_deg, out_mm=0.0, **more):
    angle = np.radians(angle_deg)
    return Mark("a", X, -(R + out_mm) * np.cos(angle), (R + out_mm) * np.sin(angle), **more)


@pytest.mark.parametrize("angle", [5, 30, 62, 85])
@pytest.mark.parametrize("out", [-40.0, -3.0, 0.0, 3.0, 40.0])
def test_off_the_line_is_the_distance_from_the_circle(angle, out):
    judged = judge_by_hull(on_circle(angle, out), Line(cone_hull(), X))
    assert judged.off_mm == pytest.approx(out, abs=0.3)  # the cone is held to 0.3 mm
    assert judged.out_by_sd == pytest.approx(abs(judged.off_mm) / np.hypot(judged.mark_sd_mm, judged.line_sd_mm))


def test_the_marks_own_error_counts_square_to_the_line_alone():
    """The variance along n of a covariance C is nᵀCn: at 30° from plumb, n = (sin 30°, -cos 30°)."""
    mark = on_circle(30, 10.0, var_half_breadth_mm2=9.0, var_height_mm2=1.0, cov_mm2=1.5)
    n = np.array([0.5, -np.sqrt(0.75)])
    assert judge_by_hull(mark, Line(cone_hull(), X)).mark_sd_mm == pytest.approx(
        np.sqrt(n @ [[9.0, 1.5], [1.5, 1.0]] @ n), rel=0.01
    )


def test_the_states_go_by_standard_deviations():
    """The boat states 2 mm: 2 of them and 4 of them are the limits told, on a line that is sure."""
    for out, state in ((3.6, "good"), (4.4, "far"), (7.5, "far"), (8.6, "slip")):
        assert judge_by_hull(on_circle(40, out), Line(cone_hull(), X)).state == state, out


def test_an_end_is_judged_along_the_line_too():
    short = replace(on_circle(4), kind="heel")  # on the circle, but 4° from where the heel is
    judged = judge_by_hull(short, Line(cone_hull(), X))
    assert judged.state == "slip"
    assert judged.beyond_mm == pytest.approx(R * np.sin(np.radians(4)), abs=1)
    assert judge_by_hull(on_circle(4), Line(cone_hull(), X)).state == "good"


@pytest.mark.parametrize(
    ("up", "out", "said"),
    [
        (0.0, 304.8, "half-breadth a foot too great"),
        (-25.4, 0.0, "height an inch too small"),
        (100.0, 0.0, "height 100 mm too great"),
    ],
)
def test_a_slip_is_named(up, out, said):
    good = on_circle(50)
    bad = replace(good, height_mm=good.height_mm + up, half_breadth_mm=good.half_breadth_mm + out)
    assert said in judge_by_hull(bad, Line(cone_hull(), X)).guesses[0]


def small_hull(frames=8, seed=3, sigma=1.0):
    """Marks of the cone, `frames` frames of nine, each out by a random error."""
    rng = np.random.default_rng(seed)
    marks = []
    for i in range(frames):
        x = 500.0 + 1000.0 * i
        r = TAPER * (APEX - x)
        for angle in np.linspace(0, np.pi / 2, 9):
            e = rng.normal(0, sigma, 2)
            y = r * np.sin(angle) + e[0]
            marks.append(Mark(str(i), x, -r * np.cos(angle) + e[1], max(y, 0.0), number=len(marks) + 1))
    return marks, Boat("cone", sigma_mm=sigma)


def test_of_good_marks_on_a_frame_between_about_one_in_twenty_is_far_off():
    marks, boat = small_hull()
    hull = fair(marks, boat)
    rng = np.random.default_rng(8)
    angles = np.radians(rng.uniform(10, 80, 300))
    e = rng.normal(0, 1.0, (300, 2))
    new = [
        Mark("new", X, -R * np.cos(a) + up, R * np.sin(a) + out, line=i)
        for i, (a, (out, up)) in enumerate(zip(angles, e, strict=True))
    ]
    line = Line(hull, X)
    states = [judge_by_hull(one, line).state for one in new]
    assert 0.90 <= states.count("good") / 300 <= 0.985  # 95.4 % expected of a normal error; 300 draws scatter by 1.2 %
    assert "slip" not in states


def test_misses_of_any_size_are_seldom_called_written_down_wrongly():
    """Of many figures that could be changed over some fit by chance: one miss in twenty at the most is named so."""
    marks, boat = small_hull()
    line, rng = Line(fair(marks, boat), X), np.random.default_rng(1)
    slips, named = 0, 0
    for angle, far, way in rng.uniform((10, 15, 0), (80, 300, 360), (120, 3)):
        angle, way = np.radians((angle, way))
        height = round(-R * np.cos(angle) + far * np.sin(way))
        half = max(round(R * np.sin(angle) + far * np.cos(way)), 0)
        table = f"frame,station,height,half_breadth\nnew,{X},{height},{half}\n".encode()
        told = Retold(table, "a table", "offsets", units="mm", known={}, sigma_mm=1.0)
        found = judge_by_hull(Mark("new", X, float(height), float(half), line=2), line, told)
        slips += found.state == "slip"
        named += any(word in guess for guess in found.guesses for word in ("figure", "minus", "written"))
    assert slips > 100
    assert named <= slips / 20  # 2.6 % of 388 on another draw


def test_a_first_table_is_judged_by_the_hull_faired_with_it():
    marks, boat = small_hull()
    marks = [replace(mark, number=0, line=i + 2) for i, mark in enumerate(marks)]
    marks[40] = replace(marks[40], half_breadth_mm=marks[40].half_breadth_mm + 304.8)
    judged = judge_table(marks, (), boat, None)
    slips = [one for one in judged if one.state == "slip"]
    assert [(one.line, one.by) for one in slips] == [(42, "table")]
    assert "a foot" in slips[0].guesses[0]
    assert len(judged) == len(marks)
    text = in_units(words_of(slips[0]), "ft")
    assert " in outside the fair line, ± " in text
    assert "mm" not in text.split("expected")[0]


def test_marks_past_the_hull_are_judged_with_it_and_those_within_by_it():
    marks, boat = small_hull()
    hull = fair(marks, boat)
    further = 8500.0
    r = TAPER * (APEX - further)
    past = [
        Mark("past", further, -r * np.cos(a), r * np.sin(a) + (60.0 if i == 3 else 0.0), line=i)
        for i, a in enumerate(np.linspace(0, np.pi / 2, 7))
    ]
    judged = judge_table([*past, on_circle(45, line=9)], marks, boat, hull)
    assert [one.by for one in judged] == ["table"] * 7 + ["hull"]
    assert [one.line for one in judged if one.state == "slip"] == [3]


def test_too_few_for_a_hull_are_judged_by_their_frame():
    marks, boat = small_hull(frames=1, sigma=0.5)
    marks = [replace(mark, number=0, line=i) for i, mark in enumerate(marks)]
    with pytest.raises(CannotFair):
        fair(marks, boat)
    marks[4] = replace(marks[4], half_breadth_mm=marks[4].half_breadth_mm + 100)
    why: list[str] = []
    judged = judge_table(marks, (), boat, None, why_alone=why.append)
    assert re.search("a hull needs at least 4 frames .* 1 found of 1", why[0])
    assert {one.by for one in judged} == {"marks"}
    assert [one.line for one in judged if one.state == "slip"] == [4]
    assert judged == judge(marks, (), boat, None)


def test_a_table_within_the_hull_is_not_faired_again(monkeypatch):
    marks, boat = small_hull()
    hull = fair(marks, boat)
    monkeypatch.setattr(judging_sent, "fair", lambda *a, **k: pytest.fail("faired"))
    assert judge_table([on_circle(45, 200.0, line=1)], marks, boat, hull)[0].state == "slip"


def test_the_working_gives_the_figure_that_is_told():
    judged = judge_by_hull(on_circle(40, 12.0), Line(cone_hull(), X))
    working = judged.working
    inputs = dict(working.inputs)
    own, line, off = (float(inputs[name].split()[0]) for name in inputs)
    assert float(working.value.split()[0]) == pytest.approx(off / np.hypot(own, line), abs=0.06)
    assert inputs["off by"].endswith("outside")


def test_the_other_measuring_of_a_table_is_called_by_its_line():
    marks, boat = small_hull()
    marks = [replace(mark, number=0, line=i + 2, label=f"m{i}") for i, mark in enumerate(marks)]
    again = replace(marks[24], half_breadth_mm=marks[24].half_breadth_mm + 40, line=len(marks) + 2)
    judged = judge_table([*marks, again], (), boat, None)
    said = " ".join(words_of(judged[-1]).split())
    assert "Measured twice" in said
    assert " as line 26 and " in said
    assert "mark -" not in said
