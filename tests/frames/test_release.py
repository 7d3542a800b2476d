"""A frame off the jig against its line: closed forms, exact releases, and honesty of the stated ±."""

import numpy as np
import pytest

from scrieve.errors import BadGeometry, BadMarks
from scrieve.frames.release.deviation import change_between, deviation
from scrieve.frames.release.measured import measured_offsets, measured_points
from scrieve.frames.shape.displacement import Target, displaced, laid, lying, outward_of
from scrieve.frames.shape.line import from_curvature


def arc(radius=1200.0, turn=1.4, n=281):
    a = np.linspace(0, turn, n)
    return Target(radius * a, radius * np.column_stack([np.sin(a), 1 - np.cos(a)]))


def turned(points, angle, shift):
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return points @ turn.T + shift


def test_outward_is_away_from_the_hollow():
    target = arc()
    centre = np.array([0.0, 1200.0])
    np.testing.assert_allclose(target.outward, (target.points_mm - centre) / 1200, atol=2e-5)


def test_opening_an_arc_moves_it_as_circles_of_two_radii_differ():
    # closed form: of two arcs of one length and curvatures κ and κ + δ from one tangent, at s the outward distance
    # for small δ is that of R (1 - cos(s/R)) differentiated by κ, resolved square to the first arc
    target, delta = arc(), 1e-8
    moved = displaced(target, np.full(len(target.s_mm), delta))
    exact = from_curvature(target.s_mm, np.full(len(target.s_mm), 1 / 1200 + delta), np.zeros(2), 0.0).points_mm
    base = from_curvature(target.s_mm, np.full(len(target.s_mm), 1 / 1200), np.zeros(2), 0.0).points_mm
    np.testing.assert_allclose(moved, exact - base, atol=2e-6)
    u = target.s_mm / 1200
    outward = -delta * 1200**2 * (1 - np.cos(u))  # closed form of the integral of (r(s) - r(u)) · t(s), worked by hand
    np.testing.assert_allclose(outward_of(target, moved), outward, atol=5e-6)


def test_a_rigid_move_is_no_deviation():
    target = arc()
    s = np.linspace(60, target.length_mm - 60, 11)
    points = turned(target.at(s, target.points_mm), 2.1, [4000.0, -900.0])
    for places in (None, s):
        found = deviation(target, measured_points(target, points, 1.0, s_mm=places))
        assert np.abs(found.deviation_mm).max() < 0.02
        assert found.verdict == "within"
        assert found.suspects == ()


def test_the_other_half_is_measured_mirrored():
    target = arc()
    s = np.linspace(0, target.length_mm, 11)
    points = target.at(s, target.points_mm) + 3 * np.cos(s / 300)[:, None] * target.at(s, target.outward)
    port = measured_points(target, points, 1.0, s_mm=s)
    starboard = measured_points(target, turned(points * [1, -1], 0.4, [90, 10]), 1.0, s_mm=s)
    assert (port.turned, starboard.turned) == (False, True)
    np.testing.assert_allclose(starboard.offset_mm, port.offset_mm, atol=1e-3)
    wrong = measured_points(target, points * [1, -1], 1.0, s_mm=s, turned=False)
    assert np.abs(wrong.offset_mm).max() > 50
    skew = np.tile([[4.0, 1.5], [1.5, 1.0]], (11, 1, 1))
    here = measured_points(target, points, covariance_mm2=skew, s_mm=s)
    there = measured_points(target, points * [-1, 1], covariance_mm2=skew * [[1, -1], [-1, 1]], s_mm=s)
    np.testing.assert_allclose(here.covariance_mm2, there.covariance_mm2, atol=1e-6)


def test_an_exact_release_is_found():
    # the bend opened by a share that varies along the frame, integrated on the exact curve, measured without error
    target = arc()
    share = 0.01 * (1 + np.sin(target.s_mm / 400))
    out = from_curvature(target.s_mm, (1 - share) / 1200, np.zeros(2), 0.0).points_mm
    at = np.linspace(0, target.length_mm, 15)
    points = np.column_stack([np.interp(at, target.s_mm, out[:, axis]) for axis in (0, 1)])
    found = deviation(target, measured_points(target, turned(points, -0.7, [100, 50]), 0.02, s_mm=at))
    # independent: straight difference square to the line, laid on it
    off = laid(target, out - target.points_mm)
    np.testing.assert_allclose(found.deviation_mm, off, atol=0.15)  # second order: the ends moved 15 mm
    assert np.abs(found.deviation_mm).max() > 2


def test_the_sign_is_outward_where_the_frame_stands_proud():
    # a frame too open stands outside its line at both ends and inside at the middle
    target = arc()
    out = from_curvature(target.s_mm, np.full(281, 0.97 / 1200), np.zeros(2), 0.0).points_mm
    found = deviation(target, measured_points(target, out[::20], 1.0, s_mm=target.s_mm[::20]))
    assert found.deviation_mm[0] > 1
    assert found.deviation_mm[140] < -1
    assert found.deviation_mm[-1] > 1


def test_stated_error_is_honest():
    rng = np.random.default_rng(4)
    target, inside, hits = arc(n=101), [], []
    for _ in range(120):
        change = np.polynomial.legendre.legval(
            np.linspace(-1, 1, 101), rng.normal(size=5) / np.arange(1, 6)
        ) * rng.choice([0.5e-5, 2e-5])
        true = laid(target, displaced(target, change))
        s = np.linspace(20, target.length_mm - 20, 13)
        slid = rng.normal(0, 5) * lying(target).slide  # the marks of the frame are not quite on those of the line
        offsets = measured_offsets(target, s, target.at(s, true + slid) + rng.normal(0, 1.5, 13), 1.5)
        found = deviation(target, offsets)
        inside.append(np.abs(found.deviation_mm - true) <= 2 * found.sd_mm)
        hits.append(len(found.suspects))
    assert 0.92 <= np.mean(inside) <= 0.985
    assert np.mean(hits) < 0.05


def test_a_wild_mark_is_named():
    rng = np.random.default_rng(6)
    target = arc()
    s = np.linspace(20, target.length_mm - 20, 13)
    offset = rng.normal(0, 1.0, 13)
    offset[5] += 25.4
    found = deviation(target, measured_offsets(target, s, offset, 1.0))
    assert found.suspects == (6,)
    assert "mark 6 from the heel" in found.workings[0].caution


def test_verdicts():
    target = arc()
    s = np.linspace(0, target.length_mm, 13)
    opened = np.polyval([1, 0, -1 / 3], np.linspace(-1, 1, 13))  # past a rigid fit, nearly
    verdicts = [
        deviation(target, measured_offsets(target, s, size * opened, sigma)).verdict
        for size, sigma in ((0.3, 0.3), (12.0, 0.5), (2.6, 1.5))
    ]
    assert verdicts == ["within", "outside", "doubtful"]


def test_after_ripping():
    rng = np.random.default_rng(7)
    target = arc()
    s = np.linspace(0, target.length_mm, 13)
    shape = 3.0 * np.polyval([1, 0, -1 / 3], np.linspace(-1, 1, 13))
    first, second = (
        deviation(target, measured_offsets(target, s, size * shape + rng.normal(0, 0.3, 13), 0.3)) for size in (1, 2)
    )
    change, sd = change_between(first, second)
    expected = target.at(s, lying(target).rest(np.interp(target.s_mm, s, shape)))
    assert np.all(np.abs(target.at(s, change) - expected) < 4 * target.at(s, sd) + 0.05)
    with pytest.raises(BadMarks, match="different lines"):
        change_between(first, deviation(arc(1300), measured_offsets(arc(1300), s, shape, 0.3)))


def test_the_picture():
    target = arc()
    s = np.linspace(0, target.length_mm, 9)
    found = deviation(target, measured_offsets(target, s, 4 * np.cos(s / 300), 0.5))
    np.testing.assert_allclose(
        np.linalg.norm(found.drawn(10) - target.points_mm, axis=1), 10 * np.abs(found.deviation_mm), atol=1e-9
    )
    low, high = found.band(10)
    np.testing.assert_allclose(np.linalg.norm(high - low, axis=1), 40 * found.sd_mm, atol=1e-9)
    values, covariance = found.at(target.s_mm[::40])
    np.testing.assert_allclose(values, found.deviation_mm[::40], atol=1e-12)
    np.testing.assert_allclose(np.sqrt(np.diag(covariance)), found.sd_mm[::40], atol=1e-9)


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda t: measured_offsets(t, [0, 1, 2], [0, 0, 0], 1), "3 measured places on the frame; give 5"),
        (lambda t: measured_offsets(t, [0, 1], [0], 1), "2 places but 1 offsets"),
        (lambda t: measured_offsets(t, range(0, 5000, 1000), [0] * 5, 1), r"place no\. 3, 2000 mm along"),
        (lambda t: measured_offsets(t, range(0, 500, 100), [0, 0, np.nan, 0, 0], 1), "not a finite number"),
        (lambda t: measured_points(t, [[0, 0]] * 5), "two in a row are the same"),
        (lambda t: measured_points(t, t.points_mm[:50:10], s_mm=[0, 2, 1, 3, 4]), "run from heel to head"),
        (lambda t: measured_points(t, t.points_mm[:50:10], -1.0), "error of a point: -1 mm"),
        (lambda t: deviation(t, measured_offsets(t, range(0, 500, 100), [0] * 5, 1), tolerance_mm=0), "tolerance: 0"),
    ],
)
def test_what_cannot_be_compared(call, said):
    with pytest.raises(BadMarks, match=said):
        call(arc())


def test_a_line_must_run():
    with pytest.raises(BadGeometry, match="has 3 points; give 8"):
        Target(np.arange(3.0), np.zeros((3, 2)))


def bending_more_and_more():
    # bend from 1/4000 to 1/1200 along 1.5 m, as towards a bilge
    s = np.linspace(0, 1500, 151)
    return Target(s, from_curvature(s, np.linspace(1 / 4000, 1 / 1200, 151), np.zeros(2), 0.0).points_mm)


def test_a_wrong_frame_is_not_passed_by_sliding_it_along_itself():
    # the frame for 60 mm further on, its own marks on it: it would lie on the line if it were slid back
    target = bending_more_and_more()
    ahead = np.linspace(60, 1560, 151)
    longer = from_curvature(ahead, 1 / 4000 + (1 / 1200 - 1 / 4000) * ahead / 1500, np.zeros(2), 0.0)
    points, at = turned(longer.points_mm[::15], 0.3, [50, 900]), target.s_mm[::15]
    marked = deviation(target, measured_points(target, points, 0.5, s_mm=at))
    assert marked.verdict == "outside"
    off = laid(target, longer.points_mm - target.points_mm)
    np.testing.assert_allclose(marked.deviation_mm, off, atol=0.5)
    by_offsets = deviation(target, measured_offsets(target, at, off[::15], 0.5))
    assert by_offsets.verdict == "outside"
    a_little = deviation(target, measured_offsets(target, at, lying(target).slide[::15], 0.5))  # a mm beside its marks
    assert a_little.verdict == "within"


def test_how_a_frame_is_held_does_not_matter_to_what_is_seen():
    target = bending_more_and_more()
    moved = displaced(target, 1e-5 * np.cos(target.s_mm / 300))
    turn = np.column_stack([-target.points_mm[:, 1], target.points_mm[:, 0]])
    np.testing.assert_allclose(laid(target, moved + 0.02 * turn + [3.0, -8.0]), laid(target, moved), atol=1e-9)


def test_points_that_do_not_reach_from_end_to_end_want_their_places():
    target = bending_more_and_more()
    points = turned(target.points_mm[::15], 0.3, [50, 900])
    whole = deviation(target, measured_points(target, points, 0.5))
    assert whole.verdict == "within"
    assert np.abs(whole.deviation_mm).max() < 0.05
    part = measured_points(target, points[2:], 0.5)
    assert part.along_sd_mm == pytest.approx(300 / np.sqrt(12), rel=0.01)
    found = deviation(target, part)
    assert found.verdict == "doubtful"
    assert "give the place of each along the frame" in found.workings[0].caution
