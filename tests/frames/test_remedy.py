"""What to do with a released frame."""

import numpy as np
import pytest

from scrieve.errors import BadMarks
from scrieve.frames.release.deviation import deviation
from scrieve.frames.release.measured import measured_offsets, measured_points
from scrieve.frames.release.remedy import planing, pull_in, slide_to_fit, what_to_do
from scrieve.frames.shape.displacement import Target
from scrieve.frames.shape.line import from_curvature
from scrieve.wording import in_units

EI = 2.0e10
PLACES = [0, 400, 800, 1200, 1600]


def arc(radius=1200.0, turn=1.4, n=141):
    a = np.linspace(0, turn, n)
    return Target(radius * a, radius * np.column_stack([np.sin(a), 1 - np.cos(a)]))


def opened(size, sigma=0.2, target=None, **more):
    target = target or arc()
    s = np.linspace(0, target.length_mm, 13)
    return deviation(target, measured_offsets(target, s, size * np.polyval([1, 0, -1 / 3], s / s[-1] * 2 - 1), sigma))


def test_the_least_work_first():
    small, large = opened(0.4), opened(9.0)
    weak, strong = (pull_in(large, PLACES, EI, limit) for limit in (5, 50_000))
    thin, thick = (planing(large, spare, spare) for spare in (1.0, 12.0))
    assert what_to_do(small).action == "fit"
    assert what_to_do(large, strong, thick).action == "pull in"
    assert what_to_do(large, weak, thick).action == "plane"
    assert what_to_do(large, weak, thin).action == "make again"
    assert "more force than a fastening is allowed, and too little wood" in what_to_do(large, weak, thin).text
    assert len(what_to_do(large, weak, thin).workings) == 2


def test_measure_again_comes_first():
    target = arc()
    s = np.linspace(0, target.length_mm, 13)
    wild = np.zeros(13)
    wild[4] = 25.4
    assert what_to_do(deviation(target, measured_offsets(target, s, wild, 0.5))).action == "measure again"
    assert what_to_do(opened(3.2, sigma=1.5)).action == "measure again"


@pytest.mark.parametrize(("by", "end"), [(25.0, "head"), (-25.0, "heel")])
def test_a_bend_in_the_wrong_place_is_not_passed_and_is_told(by, end):
    # a bilge of R 0.5 m, 25 mm too far along; the marks on it are those of the line. Laid freely it would fit.
    s, rng = np.linspace(0, 2000, 201), np.random.default_rng(4)

    def bilge(moved):
        bend = 1 / 3000 + np.exp(-(((s - moved - 1100) / 300) ** 2)) / 600
        return Target(s, from_curvature(s, bend, np.zeros(2), 0.0).points_mm)

    def seen(moved):
        points = bilge(moved).points_mm[::18] + rng.normal(0, 0.7, (12, 2))
        return deviation(bilge(0), measured_points(bilge(0), points, 1.0, s_mm=s[::18]))

    wrong = seen(by)
    assert wrong.verdict != "within"
    assert wrong.astray
    assert 12 < wrong.slid_mm * np.sign(by) < 30
    told = what_to_do(wrong)
    assert told.action == "measure again"
    assert f"nearer its {end} than its marks say" in str(in_units(told.text, "mm"))
    little = seen(by / 5)
    assert not little.astray
    assert little.verdict == "within"


def test_a_frame_that_fits_further_along_is_told_so():
    # bent for 30 mm further on along a line that bends more and more: slid so far towards the head it lies on it
    s, slope = np.linspace(0, 1500, 151), (1 / 1200 - 1 / 4000) / 1500
    line, frame = (
        Target(s, from_curvature(s, 1 / 4000 + slope * (s + ahead), np.zeros(2), 0.0).points_mm) for ahead in (0, 30)
    )
    found = deviation(line, measured_points(line, frame.points_mm[::15], 0.1, s_mm=s[::15]), tolerance_mm=0.5)
    assert found.verdict == "outside"
    by = slide_to_fit(found)
    assert 12 < by < 32  # what the tolerance gives is taken
    assert f"Slid {by:.1f} mm along itself towards its head" in what_to_do(found).text
    other = deviation(frame, measured_points(frame, line.points_mm[::15], 0.1, s_mm=s[::15]), tolerance_mm=0.5)
    assert slide_to_fit(other) == pytest.approx(-by, abs=1)
    bumpy = deviation(line, measured_offsets(line, s[::10], 6 * np.cos(s[::10] / 150), 0.3))
    assert slide_to_fit(bumpy) is None
    assert "Slid" not in what_to_do(bumpy).text


def test_wood_left_is_what_was_spare_and_the_deviation():
    found = opened(3.0)
    left = planing(found, 5.0, 4.0)
    # law: what comes off both faces together does not change by moving the piece
    np.testing.assert_allclose(left.outside_mm + left.inside_mm, 9.0, atol=1e-9)
    assert left.least_mm == pytest.approx(min(left.outside_mm.min(), left.inside_mm.min()))
    # moving it can only help: not moved, the least is what it is
    still = min((5.0 + found.deviation_mm).min(), (4.0 - found.deviation_mm).min())
    assert left.least_mm >= still
    # half a mm shifts from one face to the other: 4.5 each, less half the deviation's range at the best
    assert left.least_mm <= 4.5
    assert left.ok


def test_no_wood_no_planing():
    left = planing(opened(6.0), 1.0, 1.0)
    assert left.least_mm < 0
    assert not left.ok
    assert "too little wood" in left.workings[0].caution


def test_a_frame_within_tolerance_needs_no_force():
    found = opened(0.4)
    assert pull_in(found, PLACES, EI, 100).least_n == pytest.approx(0, abs=1e-3)


def test_fastenings_in_the_wrong_places_cannot_do_it():
    # the ends stand proud and nothing holds them
    assert pull_in(opened(40.0), [700, 800, 900], EI, 1e9).least_n is None


def test_feet_and_inches():
    found = opened(9.0)
    told = in_units(planing(found, 12.0, 12.0).workings[0], "ft").value
    assert "/64 in" in told or "/32 in" in told or "/16 in" in told or "/8 in" in told
    assert "mm" not in told


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda d: pull_in(d, [0, 100], EI, 10), "2 fastenings; give the places of 3"),
        (lambda d: pull_in(d, [0, 100, 100], EI, 10), "two fastenings at one place"),
        (lambda d: pull_in(d, [0, 100, 9000], EI, 10), "fastenings from 0 to 9000 mm; the frame runs from 0 to 1680"),
        (lambda d: pull_in(d, PLACES, 0, 10), "stiffness of the frame: 0"),
        (lambda d: pull_in(d, PLACES, EI, 0), "force allowed at a fastening: 0 N"),
        (lambda d: planing(d, np.nan, 0), "wood to spare is not a finite number"),
    ],
)
def test_what_cannot_be(call, said):
    with pytest.raises(BadMarks, match=said):
        call(opened(3.0))
