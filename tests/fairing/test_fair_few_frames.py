"""Few frames: two blunders side by side are both found, and the ± between frames is honest.

Forms and marks are bench/'s own, the truth is their formula; two standard deviations hold 95 % of normal errors.
"""

import forms
import numpy as np
import planted
import pytest

from scrieve.boat import Boat
from scrieve.fairing import fair
from scrieve.fairing.lines import fit_line

BOAT = Boat("few", sigma_mm=1.5)


@pytest.mark.parametrize("form", forms.FORMS, ids=lambda form: form.name)
@pytest.mark.parametrize(("at", "out"), [((2, 5), (30.0, 30.0)), ((3, 7), (40.0, 40.0)), ((4, 8), (35.0, -35.0))])
def test_two_neighbouring_blunders_on_six_frames_are_named_and_no_other(form, at, out):
    frame, mark = at
    take = planted.take_off(form, 2, frames=6, wrong={(frame, mark): out[0], (frame, mark + 1): out[1]})
    hull = fair(take.marks, BOAT)
    assert {off.number - 1 for off in hull.suspects} == set(np.flatnonzero(take.wrong))


def test_on_four_frames_the_band_owns_to_the_doubt_about_the_stiffness():
    inside = []
    for form in (forms.FORMS[0], forms.FORMS[1], forms.MORE[2]):
        take = planted.take_off(form, 1, frames=4)
        hull = fair(take.marks, BOAT)
        parts = [planted.departures(hull, form, x) for x in (take.stations[1:] + take.stations[:-1]) / 2]
        inside += [np.mean(far < 2 * sd) for far, sd in parts]
    assert np.mean(inside) > 0.75  # the band of the likeliest stiffness alone holds a third


@pytest.mark.parametrize("frames", [5, 6, 8, 12])
def test_the_band_between_few_frames_holds_the_true_line(frames):
    inside, off = [], []
    for form in forms.FORMS:
        for seed in (0, 1):
            take = planted.take_off(form, seed, frames=frames)
            hull = fair(take.marks, BOAT)
            for x in (take.stations[1:] + take.stations[:-1]) / 2:
                far, sd = planted.departures(hull, form, x)
                inside.append(np.mean(far < 2 * sd))
                off.append(far)
    assert np.mean(inside) > 0.925  # few forms and seeds: what many tell stands in docs/fairing.md
    if frames >= 8:
        assert np.sqrt(np.mean(np.concatenate(off) ** 2)) < 4.0


@pytest.mark.parametrize("form", [forms.FORMS[1], forms.FORMS[2], *forms.MORE], ids=lambda form: form.name)
@pytest.mark.parametrize(("at", "out"), [(3, (0.0, 60.0)), (4, (-250.0, 0.0))])
def test_a_wrong_mark_of_a_sheer_of_eight_frames_is_told_from_a_slack_sheer(form, at, out):
    x = np.linspace(-0.46, 0.46, 8) * forms.LENGTH
    points = np.array([form.section(station, np.array([1.0]))[0] for station in x])
    points += np.random.default_rng(8).normal(0, 1.5, points.shape)
    points[at] += out
    line = fit_line(x, points, np.tile(2.25 * np.eye(2), (8, 1, 1)), np.zeros(8, bool), 2500.0)
    assert np.flatnonzero(~line.kept).tolist() == [at]
