"""A point from tapes: laws, warnings, and what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.errors import BadMarks
from scrieve.takeoff.tapes import fix_point

TWO = [[0, 0], [2000, 0]]


@settings(max_examples=50)
@given(
    st.floats(-3, 3), st.floats(-1e4, 1e4), st.floats(-1e4, 1e4), st.floats(300, 1700), st.floats(100, 3000)
)  # a law: where the staff leans makes no odds
def test_turned_and_moved_nails_give_the_turned_and_moved_point(turn, x, y, along, off):
    nails = np.array(TWO, dtype=float)
    tapes = np.hypot(*(np.array([along, off]) - nails).T)
    way = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    fix = fix_point(nails @ way + [x, y], tapes, side="left")
    assert fix.point_mm == pytest.approx(np.array([along, off]) @ way + [x, y], abs=1e-6)
    still = fix_point(nails, tapes, side="left")
    assert fix.ellipse_mm == pytest.approx(still.ellipse_mm, rel=1e-6)


def test_covariance_is_what_many_readings_scatter_by():
    rng = np.random.default_rng(5)
    nails, point, sigma = np.array([[0, 0], [2400, 0], [300, 900]]), np.array([700.0, 1500.0]), np.array([1, 2, 1.5])
    tapes = np.hypot(*(point - nails).T)
    points = np.array([fix_point(nails, tapes + rng.normal(0, sigma), sigma=sigma).point_mm for _ in range(600)])
    said = fix_point(nails, tapes, sigma=sigma).covariance_mm2
    assert np.cov(points.T) == pytest.approx(said, abs=0.25 * said.max())  # 600 draws: 6 % of a variance at one sd


@pytest.mark.parametrize(("angle", "warned"), [(24.9, True), (25.1, False), (154.9, False), (155.1, True)])
def test_the_least_crossing_is_25_degrees(angle, warned):
    off = 1000 / math.tan(math.radians(angle / 2))
    fix = fix_point(TWO, np.hypot(*(np.array([1000, off]) - TWO).T), side="left")
    assert math.degrees(fix.crossing_rad) == pytest.approx(angle)
    assert bool(fix.warnings) == warned


def test_a_misread_tape_is_warned_of_and_a_good_one_is_not():
    nails = [[0, 0], [2000, 0], [1000, -800]]
    assert "disagree" in fix_point(nails, [1500, 1204, 1718]).warnings[0]
    assert fix_point(nails, [1500, 1204, 1718], sigma=5).warnings == ()


def test_nails_in_one_line_need_the_side():
    nails, point = np.array([[0, 0], [1000, 0], [2000, 0]]), np.array([700, -900])
    tapes = np.hypot(*(point - nails).T)
    with pytest.raises(BadMarks, match=r"two points fit these tapes, .*; say on which side of the line"):
        fix_point(nails, tapes)
    assert fix_point(nails, tapes, side="right").point_mm == pytest.approx(point)
    assert fix_point(nails[::-1], tapes[::-1], side="left").point_mm == pytest.approx(point)


@pytest.mark.parametrize(
    ("nails", "tapes", "more", "match"),
    [
        (
            TWO,
            [500, 600],
            {"side": "left"},
            r"tapes of 500 and 600 mm from nails 2000 mm apart do not meet, by 900\.0 mm",
        ),
        (TWO, [5000, 600], {"side": "left"}, r"do not meet, by 2400\.0 mm; read the tapes"),
        (TWO, [1300, 1500], {}, r"two points fit these tapes"),
        (TWO, [1300, 0], {}, r"tape no\. 2: 0 mm; give a value above zero"),
        (TWO, [1300], {}, r"2 nails and 1 tapes; give one reading"),
        (TWO, [1300, 1500], {"sigma": -1}, r"error of a tape: -1 mm"),
        (TWO, [1300, 1500], {"side": "up"}, r"side 'up'; say 'left' or 'right'"),
        ([[0, 0], [0, 0]], [1300, 1500], {"side": "left"}, r"the nails stand on one another"),
        ([[0, 0]], [1300], {}, r"give two or more nails"),
        (TWO, [800, 1200], {"side": "left"}, r"lie in one line and fix no point"),
    ],
)
def test_what_fixes_no_point(nails, tapes, more, match):
    with pytest.raises(BadMarks, match=match):
        fix_point(nails, tapes, **more)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4), st.floats(1e-3, 1e4)), min_size=1, max_size=6),
    st.sampled_from(["left", "right", None]),
)
def test_any_tapes_fix_a_point_or_are_refused_in_words(rows, side):
    table = np.array(rows)
    try:
        fix = fix_point(table[:, :2], table[:, 2], side=side)
    except BadMarks:
        return
    assert np.all(np.isfinite(fix.point_mm))
    assert np.all(np.isfinite(fix.covariance_mm2))
    assert np.all(fix.ellipse_mm >= 0)
