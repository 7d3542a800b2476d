"""Port and starboard: a planted difference is found where and as large as planted; none is found where there is none.

Source of the form: the Wigley hull. A side moved out bodily by a known amount differs square to its line by that amount
times the cosine of the line's lean, which elementary geometry gives.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from threadpoolctl import threadpool_limits

from scrieve.boat import Boat
from scrieve.errors import CannotFair
from scrieve.fairing.sides import _chance, sides
from scrieve.takeoff.marks import Mark

from .exact_hulls import wigley

SIGMA = 1.5
BOAT = Boat("a form", sigma_mm=SIGMA)
STATIONS = np.linspace(-6000, 6000, 9)


def both_sides(seed=1, port=lambda x, v, points: points, sigma=SIGMA):
    """Marks of both sides with seeded error; `port` bends the port side."""
    rng = np.random.default_rng(seed)
    marks = []
    for frame, x in enumerate(STATIONS):
        for side in ("P", "S"):
            v = np.linspace(0, 1, 9)
            points = wigley(np.full(9, x), v)
            if side == "P":
                points = port(x, v, points)
            points = points + rng.normal(0, sigma, points.shape)
            for i, (y, z) in enumerate(points):
                kind = "heel" if i == 0 else "head" if i == 8 else ""
                marks.append(Mark(str(frame), float(x), float(z), float(abs(y)), side, "", None, kind, "", len(marks)))
    return marks


def bulged(x, v, points, by=30.0):
    """Out by up to 30 mm about one place of the port side, x = 1500 mm, 0.6 of the way up."""
    out = by * np.exp(-(((x - 1500) / 2500) ** 2) - ((v - 0.6) / 0.25) ** 2)
    return points + np.column_stack([out, 0 * out])


@pytest.fixture(scope="module")
def alike():
    return sides(both_sides(), BOAT, "compared")


@pytest.fixture(scope="module")
def unlike():
    return sides(both_sides(port=bulged), BOAT, "compared")


def test_sides_that_are_alike_are_not_told_apart(alike):
    assert alike.real == ()
    assert alike.wrong_side == ()
    differences = np.concatenate([frame.difference_mm for frame in alike.frames])
    sd = np.concatenate([frame.sd_mm for frame in alike.frames])
    assert np.nanmean(np.abs(differences) < 2 * sd) > 0.88  # one sample of errors: 27 such hulls gave 0.93 to 0.96
    assert alike.shift is not None
    assert abs(alike.shift.out_mm) < 3 * alike.shift.out_sd_mm


def test_a_bulge_on_one_side_is_found_where_it_is_and_as_large(unlike):
    worst = max(unlike.frames, key=lambda frame: abs(frame.largest_mm))
    assert worst.station_mm == 1500.0
    # square to a line that leans: the planted 30 mm times the outward part of the normal
    v = np.linspace(0, 1, 400)
    line = wigley(np.full(400, 1500.0), v)
    along = np.gradient(line, axis=0)
    planted = 30 * np.exp(-(((v - 0.6) / 0.25) ** 2)) * along[:, 1] / np.hypot(*along.T)
    assert worst.largest_mm == pytest.approx(planted.max(), abs=3 * worst.largest_sd_mm)
    assert worst.largest_at_mm[1] == pytest.approx(line[planted.argmax(), 1], abs=200)
    assert worst.largest_mm > 0  # port lies further out
    assert {"5"} <= {frame.frame for frame in unlike.real} <= {"3", "4", "5", "6", "7"}


def test_the_other_side_differs_by_the_same_with_the_sign_turned(unlike):
    turned = [replace(mark, side="S" if mark.side == "P" else "P") for mark in both_sides(port=bulged)]
    for one, other in zip(unlike.frames, sides(turned, BOAT, "compared").frames, strict=True):
        assert one.difference_mm == pytest.approx(-other.difference_mm, abs=1e-6, nan_ok=True)
        assert one.chance == pytest.approx(other.chance, abs=1e-6)


def test_a_centreline_set_off_is_named_as_one_move():
    out = sides(both_sides(port=lambda x, v, points: points + np.array([12.0, -5.0])), BOAT, "compared")
    assert out.shift is not None
    assert out.shift.out_mm == pytest.approx(12.0, abs=4 * out.shift.out_sd_mm)
    assert out.shift.up_mm == pytest.approx(-5.0, abs=4 * out.shift.up_sd_mm)
    assert out.shift.out_sd_mm < 1.5
    assert len(out.real) >= 7
    assert np.mean([frame.head_mm for frame in out.frames], axis=0) == pytest.approx([12, -5], abs=2)


def test_a_mark_written_down_for_the_wrong_side_is_named(unlike):
    marks = both_sides(port=bulged)
    taken = next(i for i, mark in enumerate(marks) if (mark.frame, mark.side) == ("5", "P") and i % 9 == 5)
    marks[taken] = replace(marks[taken], side="S")
    found = sides(marks, BOAT, "compared").wrong_side
    assert [(one.number, one.frame, one.side) for one in found] == [(marks[taken].number, "5", "S")]
    assert found[0].out_by_mm > 15 > 6 > found[0].other_by_mm


def test_separately_each_side_gets_its_own_line_and_together_both_the_mean(unlike):
    marks = both_sides(port=lambda x, v, points: bulged(x, v, points, by=6.0))
    apart, one = sides(marks, BOAT, "separately"), sides(marks, BOAT)
    assert apart.frames == one.frames == ()
    breadth = [
        float(np.interp(-500.0, line.height_mm, line.half_breadth_mm))
        for line in (apart.of("P").section("5"), apart.of("S").section("5"), one.of("P").section("5"))
    ]
    assert breadth[0] - breadth[1] > 2
    assert breadth[2] == pytest.approx((breadth[0] + breadth[1]) / 2, abs=1.5)
    assert unlike.of("P") is unlike.together


def test_the_table_has_a_row_for_each_frame(unlike):
    head, *rows = unlike.table()
    assert len(rows) == len(STATIONS)
    assert all(len(row) == len(head) for row in rows)
    assert next(row for row in rows if row[0] == "5")[-1] == "yes"


def test_a_side_without_marks_is_told():
    port = [mark for mark in both_sides() if mark.side == "P"]
    with pytest.raises(CannotFair, match="no mark is given for starboard; write P or S"):
        sides(port, BOAT, "compared")


def test_a_side_with_too_few_frames_is_named():
    few = [mark for mark in both_sides() if mark.side == "P" or mark.frame in "12"]
    with pytest.raises(CannotFair, match="starboard by itself: a hull needs at least 4 frames"):
        sides(few, BOAT, "separately")


def test_the_chance_is_even_when_differences_are_drawn_from_their_own_covariance():
    # a law: what is drawn from a covariance is 'unlikely at 5 %' one time in twenty; 400 draws, sd 1.1 %
    rng = np.random.default_rng(5)
    s = np.linspace(0, 1, 40)
    cover = 2.0 * np.exp(-(((s[:, None] - s) / 0.15) ** 2)) + 1e-9 * np.eye(40)
    drawn = rng.multivariate_normal(np.zeros(40), cover, 400, method="cholesky")
    with threadpool_limits(1, "blas"):
        chances = np.array([_chance(one, cover) for one in drawn])
    assert np.mean(chances < 0.05) == pytest.approx(0.05, abs=0.035)
    assert np.mean(chances < 0.5) == pytest.approx(0.5, abs=0.1)
