"""Where to measure next, against brute force: the whole surface solved afresh with each mark added.

Sources: the textbook rule for the variance of a Gaussian prediction once a datum is added is only the short way; the
long way taken here is the inverse of the whole matrix by numpy.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from forms import FORMS
from planted import take_off

from scrieve.boat import Boat
from scrieve.errors import BadMarks, NoSuchFrame
from scrieve.fairing import fair
from scrieve.fairing.next_mark import _Chain, next_marks
from scrieve.takeoff.marks import Mark

from .exact_hulls import SIGMA, STATIONS, dense, placed, wigley


def rows(hull, x, v, along=False):
    """Dense rows (n, unknowns) square to the section, or along it."""
    normal, _ = hull.normal(x, v)
    index, value = hull.fit.grid.rows(x, v, np.column_stack([-normal[:, 1], normal[:, 0]]) if along else normal)
    out = np.zeros((len(index), hull.fit.grid.blocks * hull.fit.grid.block))
    np.put_along_axis(out, index, value, axis=1)
    return out


def measured(hull, precision, x, v, both):
    """The precision once a mark is taken at (x, v)."""
    at = (np.array([x]), np.array([v]))
    row = np.vstack([rows(hull, *at), *([rows(hull, *at, along=True)] if both else [])])
    return precision + row.T @ row / SIGMA**2


def mean_variance(hull, precision, wanted, n=25):
    """Mean over the wanted lines by length, each line cut into n parts of equal share, of the whole inverse."""
    x, v = np.repeat(wanted, n), np.tile((np.arange(n) + 0.5) / n, len(wanted))
    asked = rows(hull, x, v)
    weight = np.hypot(*hull.fit.value(x, v, by_v=1).T)
    variance = np.sum(asked * np.linalg.solve(precision, asked.T).T, axis=1)
    return float(np.average(variance, weights=weight))


@pytest.mark.parametrize("knuckle", [False, True])
def test_each_mark_of_the_list_narrows_the_band_just_as_much_as_solving_it_all_afresh(knuckle):
    problem, hull = placed(knuckle)
    wanted = [STATIONS[3], 1500.0]
    found = next_marks(hull, ["3", 1500.0], 4)
    precision = dense(problem, hull.fit.stiffness)
    before = mean_variance(hull, precision, wanted)
    for mark in found:
        precision = measured(hull, precision, mark.station_mm, mark.v, both=mark.kind != "")
        after = mean_variance(hull, precision, wanted)
        assert mark.sd_before_mm**2 == pytest.approx(before, rel=1e-6)
        assert mark.sd_after_mm**2 == pytest.approx(after, rel=1e-6)
        assert mark.gain == pytest.approx(1 - after / before, rel=1e-5)
        before = after


def test_no_other_place_would_have_done_better():
    problem, hull = placed()
    (best,) = next_marks(hull, [1500.0], 1)
    precision = dense(problem, hull.fit.stiffness)
    for x in (*STATIONS[2:7:2], 1500.0):
        for v in np.linspace(0, 1, 25)[::4]:
            after = mean_variance(hull, measured(hull, precision, x, v, both=v in (0.0, 1.0)), [1500.0])
            assert after >= best.sd_after_mm**2 * (1 - 1e-6)


def test_the_chain_is_the_whole_inverse():
    problem, hull = placed()
    whole = np.linalg.inv(dense(problem, hull.fit.stiffness))
    n = len(whole)
    assert _Chain.of(hull.fit.covariance).dot(np.eye(n)) == pytest.approx(whole, rel=1e-6, abs=1e-6 * whole.max())


def noisy_marks(drop=()):
    rng = np.random.default_rng(2)
    marks = []
    for frame, x in enumerate(np.linspace(-6000, 6000, 9)):
        for v in np.linspace(0, 1, 9):
            if (frame, round(v * 8)) in drop:
                continue
            y, z = wigley(np.array([x]), np.array([v]))[0] + rng.normal(0, 1.5, 2)
            kind = "heel" if v == 0 else "head" if v == 1 else ""
            marks.append(Mark(str(frame), float(x), float(z), float(abs(y)), kind=kind, number=len(marks) + 1))
    return marks


def test_through_the_whole_fairing_a_recommended_mark_narrows_the_band_about_as_told():
    gap = {(frame, k) for frame in (3, 4, 5) for k in (3, 4, 5, 6)}
    marks, boat = noisy_marks(gap), Boat("a form", sigma_mm=1.5)
    hull = fair(marks, boat)
    best = next_marks(hull, ["4"], 1)[0]
    # in the middle of the gap is where least is known
    assert best.frame == "4"
    assert 2.5 / 8 < best.v < 6.5 / 8
    new = Mark("4", best.station_mm, best.height_mm, best.half_breadth_mm, number=99)
    after = fair([*marks, new], boat)
    section = hull.section("4")
    told = np.sqrt(1 - best.gain)
    got = np.sqrt(np.mean(after.section("4").sd_mm ** 2) / np.mean(section.sd_mm**2))
    assert got == pytest.approx(told, abs=0.08)  # stiffness and error are learnt again, so only about


def test_gains_fall_and_places_can_be_limited():
    _, hull = placed()
    found = next_marks(hull, ["3"], 6, where=["6", "7"])
    assert {mark.frame for mark in found} <= {"6", "7"}
    sd = [mark.sd_before_mm for mark in found] + [found[-1].sd_after_mm]
    assert sd == sorted(sd, reverse=True)
    free = next_marks(hull, ["3"], 1)[0]
    assert free.gain > found[0].gain


def test_a_better_rule_gains_more():
    _, hull = placed()
    assert next_marks(hull, ["3"], 1, sigma_mm=0.5)[0].gain > next_marks(hull, ["3"], 1, sigma_mm=4.0)[0].gain


def test_nothing_wanted_and_unknown_frames_are_told():
    _, hull = placed()
    with pytest.raises(BadMarks, match="no frame is wanted; name those"):
        next_marks(hull, [])
    with pytest.raises(BadMarks, match="nowhere to measure; name the frames"):
        next_marks(hull, ["3"], where=[])
    with pytest.raises(NoSuchFrame, match="frame 'x' has no marks here"):
        next_marks(hull, ["x"])


def test_from_how_large_on_a_slip_is_told():
    """Planted half as large again it is told, at a corner whichever way it goes; half as large at a usual mark not."""
    take = take_off(FORMS[1], 4, frames=12, marks=9)
    boat = Boat("a form", planking="inside", sigma_mm=1.5)
    hull = fair(take.marks, boat)
    late = hull.hardly_checked
    assert {(off.frame, off.v) for off in late[:4]} == {(frame, v) for frame in ("0", "11") for v in (0.0, 1.0)}

    def told(off, out):
        i = next(i for i, mark in enumerate(take.marks) if mark.number == off.number)
        mark = take.marks[i]
        slipped = replace(mark, half_breadth_mm=mark.half_breadth_mm + out[0], height_mm=mark.height_mm + out[1])
        again = fair([*take.marks[:i], slipped, *take.marks[i + 1 :]], boat)
        return off.number in {one.number for one in again.suspects}

    corner, usual = late[1], next(off for off in hull.offs if off.frame == "6" and 0.4 < off.v < 0.6)
    for turn in (0.0, 1.6, 3.2, 4.8):
        assert told(corner, 1.5 * corner.told_from_mm * np.array([np.cos(turn), np.sin(turn)])), turn
    out = usual.told_from_mm * np.sign(usual.residual_mm) * hull.normal(hull.stations["6"], usual.v)[0][0]
    assert told(usual, 1.5 * out)
    assert not told(usual, 0.5 * out)
