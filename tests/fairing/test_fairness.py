"""The fairness report: its arithmetic against polynomials, its readings against planted errors.

Sources: divided differences of a polynomial are known in closed form (any text of numerical analysis); a cubic is
reproduced by Lagrange's formula, here against numpy's polynomial fit. The kink as a loftsman's test is common practice,
no source for a figure.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.boat import Boat
from scrieve.errors import BadGeometry
from scrieve.fairing import MarkOff, fair
from scrieve.fairing.fairness import fairness, kinks, second_differences
from scrieve.fairing.lines_plan import Plane, diagonal_plane
from scrieve.fairing.result import FairHull
from scrieve.takeoff.marks import Mark

from .exact_hulls import hull_of, wigley, wigley_hull

gaps = st.lists(st.floats(200, 2000), min_size=6, max_size=12)
numbers = st.floats(-3, 3)


@settings(max_examples=40, deadline=None)
@given(gaps, numbers, numbers, numbers)
def test_second_differences_of_a_parabola_are_its_second_derivative_at_any_spacing(gap, a, b, c):
    x = np.cumsum(gap) / 1000
    assert second_differences(x, a + b * x + c * x**2) == pytest.approx(np.full(len(x) - 2, 2 * c), abs=1e-8)


@settings(max_examples=40, deadline=None)
@given(gaps, numbers, numbers, st.integers(2, 9), st.floats(-40, 40))
def test_a_reading_out_on_a_cubic_is_a_kink_of_just_that_much(gap, b, d, which, out):
    x = np.cumsum(gap)
    u = x / 1000
    y = b * u**2 + d * u**3
    assert kinks(x, y).kink_mm == pytest.approx(0, abs=1e-9 * (1 + np.abs(y).max()))
    which = min(which, len(x) - 3)
    y[which] += out
    # the neighbours' kinks may be the larger where spacing is uneven; the reading's own is |out| at the least
    assert kinks(x, y).kink_mm >= abs(out) - 1e-6
    others = [which - 2, which - 1, which + 1, which + 2]
    cubic = np.polynomial.Polynomial.fit(x[others], y[others], 3)
    assert abs(y[which] - cubic(x[which])) == pytest.approx(abs(out), abs=1e-5)


def test_the_kink_is_the_departure_from_numpys_cubic_through_the_other_four():
    rng = np.random.default_rng(0)
    x, y = np.cumsum(rng.uniform(300, 1500, 9)), rng.normal(0, 20, 9)
    away = []
    for i in range(2, 7):
        others = [i - 2, i - 1, i + 1, i + 2]
        away.append(abs(y[i] - np.polynomial.Polynomial.fit(x[others], y[others], 3)(x[i])))
    found = kinks(x, y)
    assert found.kink_mm == pytest.approx(max(away), rel=1e-9)
    assert found.kink_at == int(np.argmax(away)) + 2


def test_reversals_and_the_pencil_line():
    x = np.arange(9.0) * 1000
    assert kinks(x, 100 * np.sin(x / 8000 * 2 * np.pi)).reversals == 1
    assert kinks(x, 0.1 * (-1) ** np.arange(9)).reversals == 0  # 0.2 mm either way cannot be seen
    assert kinks(x, 10.0 * (-1) ** np.arange(9)).reversals == 6


def test_a_knuckle_is_not_judged_as_a_kink():
    x = np.arange(12.0)
    y = 100 * np.abs(x - 5.5)
    assert kinks(x, y).kink_mm > 10
    apart = kinks(x, y, [5.5])
    assert (apart.second_mm, apart.kink_mm) == pytest.approx((0, 0), abs=1e-9)


@pytest.mark.parametrize("x", [[0, 1], [0, 2, 1], [0, 1, 1]])
def test_too_few_or_stations_that_do_not_rise_are_told(x):
    with pytest.raises(BadGeometry, match="give three or more, at rising stations"):
        second_differences(x, [0.0] * len(x))


def with_offs(residuals, side=""):
    """Wigley's hull, and on each frame five marks that lie out by what is told for that frame."""
    hull = wigley_hull()
    offs = [
        MarkOff(n * 5 + k, frame, side, v, residuals.get(frame, 0.0), 0.0, 0.0, True, False, "", 0.1)
        for n, frame in enumerate(hull.stations)
        for k, v in enumerate((0.0, 0.25, 0.5, 0.75, 1.0))
    ]
    return FairHull(hull.boat, hull.fit, hull.stations, tuple(offs), hull.features)


def test_a_frame_taken_off_too_wide_shows_as_a_kink_there_before_and_not_after():
    hull = with_offs({"6": 8.0})
    plane = Plane("waterline", (0.0, -600.0), 0.0)
    (line,) = fairness(hull, [plane]).lines
    # 8 mm square to the section is 8 / cos of its lean along a level line: slope ∂y/∂z = -2·1500·(-600)/1200² amidships
    level = 8 * np.hypot(1, 2 * 1500 * 600 / 1200**2)
    assert line.frames[line.before.kink_at] == "6"
    # a waterline of Wigley's hull is a parabola: all of the kink is the frame's error
    assert line.before.kink_mm == pytest.approx(level, abs=1e-3)
    assert line.taken_out_mm == pytest.approx(level, abs=1e-3)
    assert line.after.kink_mm == pytest.approx(0, abs=1e-5)
    assert line.moved_mm == pytest.approx(level, abs=1e-3)
    assert line.reversals == 0
    # second differences of the parabola, frames 1150 mm apart: h²·y''/2 off the chord
    assert line.after.second_mm == pytest.approx(1150**2 * 4 * 1500 / 15000**2 * (1 - 0.25), abs=1e-3)


def test_port_and_starboard_are_reported_apart():
    port, starboard = with_offs({"4": 5.0}, "P"), with_offs({"8": -5.0}, "S")
    hull = FairHull(port.boat, port.fit, port.stations, port.offs + starboard.offs, port.features)
    found = fairness(hull, [Plane("waterline", (0.0, -600.0), 0.0)])
    assert {line.side: line.frames[line.before.kink_at] for line in found.lines} == {"P": "4", "S": "8"}
    head, *rows = found.table()
    assert len(rows) == 2
    assert all(len(row) == len(head) for row in rows)


def test_a_slanting_cut_is_not_read():
    # the buttock 900 mm out meets frames 2 and 10, x = ±4600 mm, near the waterline, where the side stands at
    # 73° by the formula's slope 2·936·235/1200²: the cosine of that to upright is 0.29, under 0.35
    (line,) = fairness(with_offs({}), [Plane("buttock", (900.0, 0.0), -np.pi / 2)]).lines
    assert line.frames == ("3", "4", "5", "6", "7", "8", "9")


def test_through_the_whole_fairing_kinks_of_measuring_error_are_taken_out_and_the_hulls_own_are_kept():
    rng = np.random.default_rng(3)
    marks = []
    for frame, x in enumerate(np.linspace(-6000, 6000, 15)):
        for k, v in enumerate(np.linspace(0, 1, 9)):
            y, z = wigley(np.array([x]), np.array([v]))[0] + rng.normal(0, 2.0, 2)
            kind = {0: "heel", 8: "head"}.get(k, "")
            marks.append(Mark(str(frame), float(x), float(z), float(abs(y)), "", "", None, kind, "", len(marks)))
    hull = fair(marks, Boat("a form", sigma_mm=2.0))
    planes = [Plane("waterline", (0.0, -400.0), 0.0), Plane("waterline", (0.0, -200.0), 0.0)]
    report = fairness(hull, planes)
    for line in report.lines:
        assert line.before.kink_mm > 2.0  # of thirteen readings with 2 mm of error
        assert line.after.kink_mm < 0.35 * line.before.kink_mm  # the true line, a parabola, has none
        assert line.reversals == 0
    assert report.worst_after_mm < report.worst_before_mm


def test_counted_only_leaves_suspects_out_of_before():
    hull = with_offs({})
    offs = [
        MarkOff(off.number, off.frame, "", off.v, 60.0, 0.0, 9.0, False, True, "", 0.1)
        if (off.frame, off.v) == ("6", 0.5)
        else off
        for off in hull.offs
    ]
    hull = FairHull(hull.boat, hull.fit, hull.stations, tuple(offs), hull.features)
    planes = [diagonal_plane((0.0, 0.0), np.radians(35))]
    assert fairness(hull, planes).lines[0].taken_out_mm > 20
    assert fairness(hull, planes, counted_only=True).lines[0].taken_out_mm == pytest.approx(0, abs=1e-9)


def test_a_line_across_a_chine_is_judged_on_either_side_of_it():
    def chine(x, v):
        v = np.asarray(v)
        y = np.where(v < 0.5, 2000 * v, 1000 + 100 * (v - 0.5)) * (1 - (x / 9000) ** 2)
        return np.column_stack([y, 300 * np.minimum(v, 0.5) + 1400 * np.maximum(v - 0.5, 0)])

    stations = np.linspace(-4000, 4000, 17)
    hull = hull_of(chine, stations, features=(0.0, 0.5, 1.0))
    offs = [
        MarkOff(0, frame, "", v, 0.0, 0.0, 0.0, True, False, "", 0.1) for frame in hull.stations for v in (0, 0.5, 1.0)
    ]
    hull = FairHull(hull.boat, hull.fit, hull.stations, tuple(offs), hull.features)
    (line,) = fairness(hull, [diagonal_plane((0.0, 150.0 + 900 * np.tan(0.4)), 0.4)]).lines
    assert np.abs(line.knuckles_mm) == pytest.approx([9000 * np.sqrt(0.1)] * 2, abs=200)
    assert line.after.kink_mm < 0.2
    assert kinks(line.x_mm, line.after_mm).kink_mm > 5 * line.after.kink_mm
