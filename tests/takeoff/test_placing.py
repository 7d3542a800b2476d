"""Straight-edges, blocks and templates: laws that hold however the axes lie, and what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.errors import BadMarks
from scrieve.takeoff.arcs import set_off_block
from scrieve.takeoff.hands import hand
from scrieve.takeoff.ordinates import set_off
from scrieve.takeoff.template import fit_template

turns = st.floats(-3.2, 3.2)
shifts = st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4))
DRAWN = np.array([[0.0, 0.0], [900.0, 40.0], [300.0, 700.0], [650.0, 350.0]])
POINTS = np.array([[100.0, 200.0], [1200.0, -300.0]])
SIGMA = [1.0, 2.0, 1.5, 0.7]


def way(turn):
    return np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])


@settings(max_examples=40, deadline=None)
@given(turns, shifts, st.sampled_from(["left", "right"]))
def test_a_straight_edge_in_other_axes(turn, shift, side):
    r = way(turn)
    ends = np.array([[50.0, 90.0], [1400.0, 500.0]])
    one = set_off(*ends, [300, 900], [200, -50], side=side, sigma=1.5, end_sigma=2.0)
    two = set_off(*(ends @ r.T + shift), [300, 900], [200, -50], side=side, sigma=1.5, end_sigma=2.0)
    assert two.points_mm == pytest.approx(one.points_mm @ r.T + shift, abs=1e-7)
    assert two.covariance_mm2 == pytest.approx(r @ one.covariance_mm2 @ r.T, abs=1e-8)


def test_a_straight_edge_from_its_other_end():
    one, two = (100.0, 80.0), (900.0, 600.0)
    length = math.hypot(800, 520)
    here = set_off(one, two, 300, 150, side="left", sigma=1, end_sigma=2)
    there = set_off(two, one, length - 300, 150, side="right", sigma=1)
    assert there.points_mm == pytest.approx(here.points_mm)


@settings(max_examples=40, deadline=None)
@given(turns, shifts, st.sampled_from(["left", "right"]))
def test_a_block_in_other_axes_and_from_the_other_end(turn, shift, side):
    r, edge = way(turn), np.array([[0.0, 0.0], [100.0, 30.0], [220.0, 90.0], [300.0, 190.0]])
    one = set_off_block(edge, 45, side=side, sigma=1.2, width_sigma=0.5)
    two = set_off_block(edge @ r.T + shift, 45, side=side, sigma=1.2, width_sigma=0.5)
    assert two.points_mm == pytest.approx(one.points_mm @ r.T + shift, abs=1e-6)
    assert two.covariance_mm2 == pytest.approx(r @ one.covariance_mm2 @ r.T, abs=1e-6)
    back = set_off_block(edge[::-1], 45, side={"left": "right", "right": "left"}[side], sigma=1.2, width_sigma=0.5)
    assert back.points_mm[::-1] == pytest.approx(one.points_mm, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(turns, shifts, turns, shifts, st.booleans(), st.integers(0, 99))
def test_a_template_in_other_axes(turn, shift, other_turn, other_shift, mirrored, seed):
    """Where the axes on the template lie makes no odds; turned axes of the hull turn the points and their error."""
    known = DRAWN + np.random.default_rng(seed).normal(0, 1, DRAWN.shape)
    still = fit_template(DRAWN, known, sigma=SIGMA)
    assert not still.turned
    a, b, flip = way(turn), way(other_turn), np.array([-1.0 if mirrored else 1.0, 1.0])

    def on_template(points):
        return (points * flip) @ a.T + shift

    moved = fit_template(on_template(DRAWN), known @ b.T + other_shift, sigma=SIGMA)
    assert moved.turned == mirrored
    assert bool(moved.warnings) == mirrored
    points, cover = still.place(POINTS, [1.0, 2.0])
    found, error = moved.place(on_template(POINTS), [1.0, 2.0])
    assert found == pytest.approx(points @ b.T + other_shift, abs=1e-6)
    assert error == pytest.approx(b @ cover @ b.T, abs=1e-6)
    assert np.hypot(*moved.residuals_mm.T) == pytest.approx(np.hypot(*still.residuals_mm.T), abs=1e-6)


def test_points_far_from_the_reference_marks_are_less_sure():
    fit = fit_template(DRAWN, DRAWN, sigma=SIGMA)
    near, far = (float(np.trace(cover)) for cover in fit.place([[480, 300], [3000, 300]], 1.0)[1])
    assert far > 5 * near > 10.0 / 5


def test_a_template_is_never_stretched():
    fit = fit_template(DRAWN, DRAWN * 1.02, sigma=SIGMA)
    points = fit.place(POINTS, 1.0)[0]
    assert np.hypot(*(points[1] - points[0])) == pytest.approx(np.hypot(*(POINTS[1] - POINTS[0])))
    assert "disagree by more than their error" in fit.warnings[0]


@pytest.mark.parametrize("wrong", range(4))
def test_a_slipped_reference_mark_is_named(wrong):
    known = DRAWN + np.random.default_rng(2).normal(0, 0.5, DRAWN.shape)
    known[wrong] += [0, 25.4]
    (said,) = fit_template(DRAWN, known, turned=False).warnings
    assert f"without no. {wrong + 1} the others agree; read them again" in said


@pytest.mark.parametrize(
    ("times", "words"), [(25.4, "25.4 times larger: was the template read in inches"), (1 / 10, "hull read in cm")]
)
def test_a_template_read_in_another_unit(times, words):
    assert words in fit_template(DRAWN, DRAWN * times, turned=False).warnings[0]


def test_the_wrong_face_said_is_warned_of():
    assert "fit much better turned over" in fit_template(DRAWN * [-1, 1], DRAWN, turned=False).warnings[0]
    assert "fit much better not turned over" in fit_template(DRAWN, DRAWN, turned=True).warnings[0]
    assert fit_template(DRAWN * [-1, 1], DRAWN, turned=True).warnings == ()


def test_two_reference_marks_need_the_face():
    drawn, known = DRAWN[:2], DRAWN[:2] + np.array([500, 300])
    with pytest.raises(BadMarks, match="2 reference marks fit this template with either face up; say yes or no"):
        fit_template(drawn, known)
    plain, turned = (fit_template(drawn, known, turned=face).place([[400, 100]], 1)[0][0] for face in (False, True))
    assert plain == pytest.approx([900, 400])
    assert np.hypot(*(turned - known[0])) == pytest.approx(math.hypot(400, 100))  # its mirror image in their line
    with pytest.raises(BadMarks, match="3 reference marks fit this template with either face up"):
        fit_template([[0, 0], [500, 1], [1000, 0]], [[0, 0], [500, 1], [1000, 0]])


@pytest.mark.parametrize(
    ("make", "match"),
    [
        (lambda: set_off((0, 0), (49, 0), 1, 1, side="left"), "the ends of the straight-edge are 49.0 mm apart"),
        (lambda: set_off((0, 0), (99, math.nan), 1, 1, side="left"), "not finite"),
        (lambda: set_off((0, 0), (99, 0), 1, 1, side="left", sigma=0), "error of a reading.*: 0 mm"),
        (lambda: set_off_block([[0, 0]], 40, side="left"), "an edge of 1 marks; give two or more"),
        (lambda: set_off_block([[0, 0], [9, 0], [9.5, 0]], 40, side="left"), "marks 2 and 3 of the edge are one place"),
        (lambda: set_off_block([[0, 0], [9, 0]], -40, side="left"), "width of the block: -40 mm"),
        (lambda: fit_template([[0, 0]], [[0, 0]]), "a template of 1 reference marks; give two or more"),
        (lambda: fit_template(DRAWN, DRAWN[:3]), "give two or more, each with both its positions"),
        (lambda: fit_template([[0, 0], [0.1, 0]], [[0, 0], [9, 0]]), "stand on one another on the template"),
        (lambda: fit_template([[0, 0], [9, 0]], [[5, 5], [5, 5]]), "stand on one another on the hull"),
        (lambda: fit_template(DRAWN, DRAWN + math.inf), "not finite"),
        (lambda: fit_template(DRAWN, DRAWN, sigma=[1, 0, 1, 1]), "error of a reference mark no. 2: 0 mm"),
    ],
)
def test_what_is_refused(make, match):
    with pytest.raises(BadMarks, match=match):
        make()


@settings(max_examples=60)
@given(turns, shifts)
def test_words_and_hands_agree(turn, start):
    """'above' is the hand on which a point plumb above the line lies, 'out' that of one further out."""
    end = np.add(start, [1000 * math.cos(turn), 1000 * math.sin(turn)])
    middle = (np.array(start) + end) / 2
    for word, step in [("above", (0, 50)), ("below", (0, -50)), ("out", (50, 0)), ("in", (-50, 0))]:
        side = hand(word, start, end)
        if side is None:
            assert abs(math.cos(turn) if word in ("above", "below") else math.sin(turn)) < 0.1
            continue
        u = (end - np.array(start)) / 1000
        cross = u[0] * (middle + step - start)[1] - u[1] * (middle + step - start)[0]
        assert (cross > 0) == (side == "left")
