"""A smooth dent, planted in marks of bench/'s own forms, is told as one; a hull without one is told nothing."""

from dataclasses import replace

import forms
import numpy as np
import planted
import pytest
from scipy.stats import multivariate_normal

from scrieve.boat import Boat
from scrieve.fairing import dents, fair
from scrieve.fairing.dents import _left_out
from scrieve.wording import in_units

BOAT = Boat("dents", sigma_mm=1.5)
#: Seven marks of frame 12, in by 10 mm at the middle.
BELL = {(12, k): -10 * np.exp(-(((k - 7) / 2.0) ** 2)) for k in range(4, 11)}


@pytest.mark.parametrize("form", [forms.FORMS[1], forms.FORMS[2], forms.MORE[2]], ids=lambda form: form.name)
def test_a_smooth_dent_is_told_and_nothing_beside_it(form):
    take = planted.take_off(form, 41, wrong=BELL)
    (dent,) = dents(fair(take.marks, BOAT))
    middle = take.marks.index(next(mark for mark in take.marks if mark.frame == "12")) + 7
    assert dent.frame == "12"
    assert dent.beside == ("11", "13")
    assert middle + 1 in dent.marks
    assert -12 < dent.off_mm < -4
    assert "inside of where frames 11 and 13" in dent.told()
    assert " mm" not in in_units(dent.told(), "ft")


def test_a_frame_measured_from_a_shifted_datum_is_told_as_a_whole():
    take = planted.take_off(forms.FORMS[0], 3)
    shifted = [
        replace(mark, half_breadth_mm=mark.half_breadth_mm + 9.0) if mark.frame == "8" else mark for mark in take.marks
    ]
    found = dents(fair(shifted, BOAT))
    assert [dent.frame for dent in found] == ["8"]
    assert found[0].off_mm > 3
    assert len(found[0].marks) > 7


@pytest.mark.parametrize("form", [*forms.FORMS, *forms.MORE], ids=lambda form: form.name)
def test_a_hull_without_dents_is_told_nothing(form):
    assert dents(fair(planted.take_off(form, 61, frames=16, marks=10).marks, BOAT)) == ()


def test_a_slip_of_one_mark_is_a_suspect_and_no_dent():
    take = planted.take_off(forms.FORMS[1], 61, frames=16, marks=10, wrong={(7, 5): 304.8})
    hull = fair(take.marks, BOAT)
    assert len(hull.suspects) == 1
    assert dents(hull) == ()


def test_a_frame_left_out_by_the_formula_is_that_of_a_fit_without_it():
    hull = fair(planted.take_off(forms.FORMS[1], 5, frames=16, marks=10).marks, BOAT)
    placing, start = hull.laid.placing, hull.laid.start
    way = np.flatnonzero(placing.stand.x == list(hull.stations.values())[7])
    inner = way[~placing.stand.pinned[way]]
    active = placing.active.copy()
    active[inner] = False
    # the anchors along the section stay in the formula's fit, and go with the marks in this one: they say nothing
    # square to it
    fit = replace(placing, active=active).problem(start).solve(hull.fit.stiffness)
    off, cover = _left_out(placing.stand, hull.fit, inner, placing.active)
    assert off == pytest.approx(placing.stand.take(inner).residual(fit)[:, 0], abs=0.05)
    assert multivariate_normal(np.zeros(len(off)), cover).logpdf(off) > -40
