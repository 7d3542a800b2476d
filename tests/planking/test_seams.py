"""Seams on the Wigley hull, whose heights, girths and half-breadths are closed formulas."""

import numpy as np
import pytest
from hulls import ConeHull, FramedWigley, Moved

from scrieve.errors import BadPlank, NoSuchFrame
from scrieve.planking.choice import SeamMark
from scrieve.planking.seams import Strip, fair_seam, girths, place, share_at, station_of, strip_between
from scrieve.wording import in_units

HULL = FramedWigley()


def level(height, frames=range(5, 26)):
    return [SeamMark(height, "height", str(frame)) for frame in frames]


@pytest.mark.parametrize("frame", ["5", "15", "27"])
@pytest.mark.parametrize("height", [-1150.0, -600.0, -50.0])
def test_height_half_breadth_and_girth_name_the_same_point(frame, height):
    x = HULL.stations[frame]
    girth = float(HULL.girth(x, height))
    exact = girth / float(HULL.girth(x))
    out = float(HULL.half_breadth(x, height))
    for kind, value in (("height", height), ("girth", girth), ("half_breadth", out)):
        assert share_at(HULL, SeamMark(value, kind, frame)) == pytest.approx((x, exact), abs=1e-7)


def test_girth_is_integrated_from_the_partials():
    v, girth = girths(HULL, 3000.0)
    assert girth[-1] == pytest.approx(1820.559498, abs=1e-5)  # (T/2)(√(1+k²) + asinh(k)/k)
    np.testing.assert_allclose(girth, v * girth[-1], atol=1e-5)


def test_heel_and_head_can_be_named():
    assert share_at(HULL, SeamMark(0.0, "girth", "10"))[1] == 0
    assert share_at(HULL, SeamMark(0.0, "height", "10"))[1] == pytest.approx(1)
    assert share_at(HULL, SeamMark(0.3, "height", "10"))[1] == 1  # 0.3 mm past the head is on it


def test_a_level_seam_stays_level_between_frames():
    seam = fair_seam(HULL, level(-500.0))
    x = np.linspace(-5000, 5000, 401)
    assert np.max(np.abs(HULL.point(x, seam(x))[:, 2] + 500)) < 0.02
    h = 0.5
    np.testing.assert_allclose(seam.slope(x[1:-1]), (seam(x[1:-1] + h) - seam(x[1:-1] - h)) / (2 * h), atol=1e-9)
    assert seam.suspects == ()


def test_a_mark_that_stands_out_is_named_and_kept():
    marks = level(-500.0)
    marks[8] = SeamMark(-480.0, "height", "13")
    seam = fair_seam(HULL, marks)
    assert seam.suspects == ("frame 13",)
    x = HULL.stations["13"]
    assert HULL.point(x, seam(x))[2] == pytest.approx(-480, abs=1e-6)


def test_a_tolerance_eases_rough_marks_and_leaves_fair_ones():
    rng = np.random.default_rng(11)
    x = np.linspace(-5000, 5000, 401)
    fair = HULL.girth(x, -500.0)
    assert np.max(np.abs(fair_seam(HULL, level(-500.0), tolerance_mm=3.0)(x) * HULL.girth(x) - fair)) < 0.05
    rough, eased = [], []
    for _ in range(6):
        marks = [
            SeamMark(float(HULL.girth(HULL.stations[str(f)], -500.0) + rng.normal(0, 1)), "girth", str(f))
            for f in range(5, 26)
        ]
        for found, tolerance in ((rough, 0.0), (eased, 3.0)):
            seam = fair_seam(HULL, marks, tolerance_mm=tolerance)
            found.append(np.sqrt(np.mean((seam(x) * HULL.girth(x) - fair) ** 2)))
            off = [
                abs(float(seam(HULL.stations[m.frame]) * HULL.girth(HULL.stations[m.frame])) - m.value_mm)
                for m in marks
            ]
            assert max(off) <= tolerance + 0.01
    assert np.mean(eased) < 0.8 * np.mean(rough)


def test_two_and_three_marks_give_a_seam():
    for frames in (("5", "25"), ("5", "15", "25")):
        seam = fair_seam(HULL, [SeamMark(700.0, "girth", frame) for frame in frames])
        for frame in frames:
            x = HULL.stations[frame]
            assert seam(x) * HULL.girth(x) == pytest.approx(700, abs=1e-4)


def test_strip_derivatives():
    lower, upper = fair_seam(HULL, level(-500.0)), fair_seam(HULL, level(-350.0))
    u, w = (grid.ravel() for grid in np.meshgrid(np.linspace(0.01, 0.99, 15), np.linspace(0.01, 0.99, 4)))
    h = 1e-6
    for straight in (True, False):
        strip = Strip(HULL, lower, upper, -5000, 5000, straight)
        _, along, across = strip(u, w)
        np.testing.assert_allclose(along, (strip(u + h, w)[0] - strip(u - h, w)[0]) / (2 * h), atol=1e-2)
        np.testing.assert_allclose(across, (strip(u, w + h)[0] - strip(u, w - h)[0]) / (2 * h), atol=1e-3)


def test_a_strip_that_follows_the_hull_lies_on_it():
    strip = strip_between(
        HULL, fair_seam(HULL, level(-500.0)), fair_seam(HULL, level(-350.0)), first="7", last="20", straight=False
    )
    point = strip(np.linspace(0, 1, 9), np.full(9, 0.3))[0]
    np.testing.assert_allclose(point[:, 1], HULL.half_breadth(point[:, 0], point[:, 2]), atol=1e-6)
    assert (strip.first_mm, strip.last_mm) == (-4000, 2500)


def test_stations():
    assert station_of(HULL, "16") == 500
    assert station_of(HULL, "-120.5") == -120.5
    assert station_of(HULL, "4.65m") == 4650
    assert station_of(HULL, "15-3-0") == 15.25 * 304.8
    assert place(HULL, 500.2) == "frame 16"
    assert place(HULL, 740.0) == "station 740 mm (between frames 16 and 17)"
    assert in_units(place(HULL, 2 * 304.8), "ft") == "station 2-0-0 (between frames 16 and 17)"
    assert place(HULL, 7390.0) == "station 7390 mm (after frame 29)"
    assert place(HULL, -7390.0) == "station -7390 mm (before frame 1)"
    with pytest.raises(NoSuchFrame, match=r"frame '12a': this hull has no such frame; its frames are 1, 2"):
        station_of(HULL, "12a")
    with pytest.raises(BadPlank, match=r"station 9000 mm \(after frame 29\) lies outside the fair hull, which"):
        station_of(HULL, "9000")
    with pytest.raises(BadPlank, match=r"frame 3 lies outside the fair hull, which runs from -5000 to 5000 mm"):
        station_of(FramedWigley(x_range=(-5000.0, 5000.0)), "3")


@pytest.mark.parametrize(
    ("mark", "said"),
    [
        (SeamMark(20.0, "height", "15"), r"frame 15: height 20 mm is not on this section, which runs from -1200 to 0"),
        (SeamMark(5000.0, "girth", "15"), r"frame 15: girth 5000 mm is not on this section, .* 2011 mm"),
        (SeamMark(float("nan"), "height", "15"), r"frame 15, height: found nan; give a length"),
    ],
)
def test_marks_off_the_hull_are_told(mark, said):
    with pytest.raises(BadPlank, match=said):
        share_at(HULL, mark)


def test_a_frame_that_is_not_there_is_never_read_as_a_station():
    with pytest.raises(NoSuchFrame, match=r"topside, lower: frame '99' is not in this hull"):
        share_at(HULL, SeamMark(-500.0, "height", "99"), seam="topside, lower")
    assert share_at(HULL, SeamMark(-500.0, "height", "99", 250.0))[0] == 250


def test_a_half_breadth_met_twice_is_told_with_both_girths():
    class Tumblehome(ConeHull):
        def point(self, x, v):  # a half circle, keel to deck: every half-breadth comes twice
            return super().point(x, 2 * np.asarray(v))

        def partials(self, x, v):
            by_x, by_v = super().partials(x, 2 * np.asarray(v))
            return by_x, 2 * by_v

    with pytest.raises(BadPlank, match=r"half-breadth 600 mm is met 2 times, at girths 628 and 3142 mm from the heel"):
        share_at(Tumblehome(), SeamMark(600.0, "half_breadth", "0"))


def test_too_few_marks_and_doubled_marks():
    with pytest.raises(BadPlank, match=r"lower seam: 1 mark\(s\); a seam needs two"):
        fair_seam(HULL, level(-500.0, [5]), name="lower seam")
    with pytest.raises(BadPlank, match=r"two marks at frame 9; keep one"):
        fair_seam(HULL, level(-500.0, [5, 9, 9, 12]))


def test_seams_that_cross_swap_or_meet():
    low, high = fair_seam(HULL, level(-500.0)), fair_seam(HULL, level(-350.0))
    with pytest.raises(BadPlank, match=r"plank: the upper seam lies \d+ mm below the lower one at .*frame.*swapped"):
        strip_between(HULL, high, low)
    rising = fair_seam(HULL, [SeamMark(-500.0 + 12 * (f - 5), "height", str(f)) for f in range(5, 26)])
    with pytest.raises(BadPlank, match=r"the upper seam lies \d+ mm below the lower one at frame 25"):
        strip_between(HULL, rising, high)
    closing = fair_seam(HULL, [SeamMark(-500.0 + 7.5 * (f - 5), "height", str(f)) for f in range(5, 26)])
    with pytest.raises(BadPlank, match=r"the seams meet at frame 25; end the plank before its point"):
        strip_between(HULL, closing, high)


def test_ends_past_the_marks_and_ends_that_coincide():
    low, high = fair_seam(HULL, level(-500.0)), fair_seam(HULL, level(-350.0, range(8, 20)))
    strip = strip_between(HULL, low, high)
    assert (strip.first_mm, strip.last_mm) == (HULL.stations["8"], HULL.stations["19"])
    with pytest.raises(BadPlank, match=r"upper seam: marked from frame 8 to frame 19, but .* end at frame 6; mark it"):
        strip_between(HULL, low, high, first="6")
    with pytest.raises(BadPlank, match=r"both ends are at frame 9"):
        strip_between(HULL, low, high, first="9", last="9")
    with pytest.raises(BadPlank, match=r"no length in common"):
        strip_between(HULL, fair_seam(HULL, level(-500.0, [2, 3, 4])), fair_seam(HULL, level(-350.0, [8, 9])))


def test_either_end_may_be_named_first():
    low, high = fair_seam(HULL, level(-500.0)), fair_seam(HULL, level(-350.0))
    strip = strip_between(HULL, low, high, first="20", last="7")
    assert (strip.first_mm, strip.last_mm) == (-4000, 2500)


def test_a_shifted_hull_has_the_same_seams():
    moved = Moved(HULL, 10_000.0, 250.0)
    here, there = fair_seam(HULL, level(-500.0)), fair_seam(moved, level(-250.0))
    x = np.linspace(-5000, 5000, 50)
    np.testing.assert_allclose(there(x + 10_000), here(x), atol=1e-9)
