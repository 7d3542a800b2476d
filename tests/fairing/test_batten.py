"""Laws of the batten: what it must do whatever the marks."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import lsq_linear

from scrieve.errors import BadGeometry
from scrieve.fairing.batten import End, lay_batten


def frame(rng, count=12, sigma=1.0):
    """Marks round a bilge, 2 to 3 m."""
    turn = np.linspace(0.1, 1.5, count) + 0.05 * np.sin(np.linspace(0, 5, count))
    step = 200 * np.exp(1j * turn) * rng.uniform(0.8, 1.2, count)
    z = np.cumsum(step) + sigma * (rng.normal(size=count) + 1j * rng.normal(size=count))
    return np.c_[z.real, z.imag]


def reinsch(x):
    """Q and R of the cubic spline: second differences, and their gram matrix (Green & Silverman 1994, ch. 2.1)."""
    h, n = np.diff(x), len(x)
    Q, R = np.zeros((n, n - 2)), np.zeros((n - 2, n - 2))
    for j in range(n - 2):
        Q[j : j + 3, j] = 1 / h[j], -1 / h[j] - 1 / h[j + 1], 1 / h[j + 1]
        R[j, j] = (h[j] + h[j + 1]) / 3
        if j:
            R[j, j - 1] = R[j - 1, j] = h[j] / 6
    return Q, R


def turned(points, angle, move=(0.0, 0.0)):
    c, s = np.cos(angle), np.sin(angle)
    return points @ np.array([[c, s], [-s, c]]) + move


ways = pytest.mark.parametrize(
    "settings_",
    [{"sigma": 1.0}, {}, {"sigma": 1.0, "smoothing": 3e5}, {"smoothing": 0.0}, {"sigma": 1.0, "knuckles": (5,)}],
    ids=["risk", "cross-validation", "given", "interpolating", "knuckle"],
)


@ways
@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10**6), angle=st.floats(-3, 3), move=st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)))
def test_turning_and_moving_the_marks_turns_and_moves_the_line(settings_, seed, angle, move):
    marks = frame(np.random.default_rng(seed))
    here = lay_batten(marks, judge=False, **settings_)
    there = lay_batten(turned(marks, angle, move), judge=False, **settings_)
    assert there.points_mm == pytest.approx(turned(here.points_mm, angle, move), abs=1e-3)
    assert there.residual_mm == pytest.approx(here.residual_mm, abs=1e-3)
    assert there.smoothing == pytest.approx(here.smoothing, rel=1e-3)


@ways
@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_marks_in_reverse_give_the_line_in_reverse(settings_, seed):
    marks = frame(np.random.default_rng(seed))
    settings_ = dict(settings_)
    here = lay_batten(marks, judge=False, **settings_)
    if "knuckles" in settings_:
        settings_["knuckles"] = (len(marks) - 1 - 5,)
    back = lay_batten(marks[::-1], judge=False, **settings_)
    assert back.points_mm[::-1] == pytest.approx(here.points_mm, abs=1e-3)
    assert -back.residual_mm[::-1] == pytest.approx(here.residual_mm, abs=1e-3)
    assert -back.curvature_per_mm[::-1] == pytest.approx(here.curvature_per_mm, abs=1e-8)


@ways
@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10**6), scale=st.floats(0.01, 100))
def test_a_larger_boat_has_the_same_line_larger(settings_, seed, scale):
    marks = frame(np.random.default_rng(seed))
    here = lay_batten(marks, judge=False, **settings_)
    larger = dict(settings_)
    if "sigma" in larger:
        larger["sigma"] *= scale
    if "smoothing" in larger:
        larger["smoothing"] *= scale
    there = lay_batten(scale * marks, judge=False, **larger)
    assert there.points_mm == pytest.approx(scale * here.points_mm, abs=1e-3 * scale)
    assert there.curvature_per_mm * scale == pytest.approx(here.curvature_per_mm, abs=1e-8)
    assert there.sd_mm == pytest.approx(scale * here.sd_mm, rel=2e-3, nan_ok=True)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6), span=st.integers(0, 10), side=st.sampled_from([-3.0, 3.0]))
def test_one_more_nail_never_makes_the_batten_easier(seed, span, side):
    marks = frame(np.random.default_rng(seed))
    line = lay_batten(marks, smoothing=0, judge=False)
    at = np.mean(line.mark_s_mm[span : span + 2])
    on = np.array([np.interp(at, line.s_mm, c) for c in line.points_mm.T])
    way = np.interp(at, line.s_mm, line.direction_rad)
    there = lay_batten(np.insert(marks, span + 1, on, axis=0), smoothing=0, judge=False)
    assert there.energy_per_mm == pytest.approx(line.energy_per_mm, rel=1e-3)
    aside = on + side * np.array([-np.sin(way), np.cos(way)])
    off = lay_batten(np.insert(marks, span + 1, aside, axis=0), smoothing=0, judge=False)
    assert off.energy_per_mm > line.energy_per_mm


def test_more_nodes_change_little():
    marks = frame(np.random.default_rng(1))
    coarse, fine = (lay_batten(marks, 1.0, smoothing=3e5, judge=False, nodes=n) for n in (200, 1600))
    assert coarse.residual_mm == pytest.approx(fine.residual_mm, abs=2e-3)
    assert coarse.energy_per_mm == pytest.approx(fine.energy_per_mm, rel=2e-4)


def test_one_kind_of_stiffness_from_none_to_all():
    marks = frame(np.random.default_rng(2), sigma=3.0)
    lines = [lay_batten(marks, 3.0, smoothing=v, judge=False) for v in (1e-2, 1e2, 1e5, 1e8, 1e12)]
    assert np.all(np.diff([line.energy_per_mm for line in lines]) < 0)
    assert np.all(np.diff([line.chi2 for line in lines]) > 0)
    assert np.all(np.diff([line.freedoms for line in lines]) < 0)
    assert lines[-1].freedoms == pytest.approx(2, abs=0.01)  # a straight edge: place and direction
    straight = marks - marks.mean(axis=0)
    least = np.linalg.svd(straight, compute_uv=False)[1]  # least squares square to the line
    assert np.sqrt(np.sum(lines[-1].residual_mm ** 2)) == pytest.approx(least, rel=1e-4)


def test_pull_of_the_marks_balances():
    # a free batten at rest: the forces d/σ² square to the line have no sum (statics of a free body)
    marks = frame(np.random.default_rng(3), sigma=2.0)
    line = lay_batten(marks, 2.0, judge=False)
    way = np.interp(line.mark_s_mm, line.s_mm, line.direction_rad)
    force = line.residual_mm[:, None] * np.c_[np.sin(way), -np.cos(way)]
    assert np.abs(force.sum(axis=0)).max() < 1e-2 * np.abs(force).sum()


def test_says_how_the_stiffness_was_chosen():
    marks = frame(np.random.default_rng(4))
    assert lay_batten(marks, 1.0).chosen_by == "unbiased risk"
    assert lay_batten(marks).chosen_by == "cross-validation"
    assert "measuring error" in lay_batten(marks).why
    assert lay_batten(marks, smoothing=0).chosen_by == "interpolating"
    assert lay_batten(marks, smoothing=5).chosen_by == "given"
    assert {w.figure for w in lay_batten(marks, 1.0).workings} == {
        "Stiffness of the batten",
        "Bending energy of the line",
    }


def test_surer_marks_are_passed_closer():
    marks = frame(np.random.default_rng(5), sigma=4.0)
    sure = np.full(12, 4.0)
    sure[6] = 0.05
    usual, closer = lay_batten(marks, 4.0, judge=False), lay_batten(marks, sure, judge=False)
    assert abs(closer.residual_mm[6]) < 0.1 < abs(usual.residual_mm[6])


def test_end_fixed_in_place_and_with_a_direction():
    marks = frame(np.random.default_rng(6), sigma=5.0)
    free = lay_batten(marks, 5.0, judge=False)
    line = lay_batten(marks, 5.0, judge=False, ends=(End(fixed=True, direction_rad=0.4), End(direction_rad=1.2)))
    assert abs(free.residual_mm[0]) > 0.1 > 1e-6 > abs(line.residual_mm[0])
    assert line.points_mm[0] == pytest.approx(marks[0], abs=1e-5)
    assert line.direction_rad[0] == pytest.approx(0.4, abs=1e-9)
    assert line.direction_rad[-1] == pytest.approx(1.2, abs=1e-9)
    assert free.curvature_per_mm[0] == 0
    assert line.curvature_per_mm[0] != 0


def test_clamped_low_line_is_the_clamped_cubic():
    # SciPy's CubicSpline with end slopes given
    from scipy.interpolate import CubicSpline

    x, y = np.array([0.0, 300, 700, 1000]), np.array([0.0, 0.05, -0.02, 0.03])
    slopes = (2e-4, -1e-4)
    line = lay_batten(
        np.c_[x, y], smoothing=0, judge=False, ends=(End(direction_rad=slopes[0]), End(direction_rad=slopes[1]))
    )
    want = CubicSpline(x, y, bc_type=((1, slopes[0]), (1, slopes[1])))
    assert line.points_mm[:, 1] == pytest.approx(want(line.points_mm[:, 0]), abs=2e-5)


def test_held_marks_are_passed_within_their_tolerance():
    marks = frame(np.random.default_rng(7), sigma=6.0)
    free = lay_batten(marks, 6.0, smoothing=1e7, judge=False)
    worst = np.argsort(-np.abs(free.residual_mm))[:2]
    hold = {int(i): 0.5 for i in worst}
    held = lay_batten(marks, 6.0, smoothing=1e7, judge=False, hold=hold)
    assert np.abs(free.residual_mm[worst]).min() > 2
    assert np.abs(held.residual_mm[worst]) == pytest.approx(0.5, abs=1e-6)  # on the side they would rather leave
    assert np.sign(held.residual_mm[worst]).tolist() == np.sign(free.residual_mm[worst]).tolist()
    assert held.energy_per_mm > free.energy_per_mm


def test_a_hold_that_binds_nothing_changes_nothing():
    marks = frame(np.random.default_rng(8))
    free = lay_batten(marks, 1.0, smoothing=1e5, judge=False)
    held = lay_batten(marks, 1.0, smoothing=1e5, judge=False, hold={3: 50.0, 8: 50.0})
    assert held.points_mm == pytest.approx(free.points_mm, abs=1e-9)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**6), tolerance=st.floats(0.01, 3))
def test_the_easiest_line_within_tolerances(seed, tolerance):
    # small slopes: energy of the natural cubic is ½|C⁻¹Qᵀg|², R = CCᵀ (Green & Silverman 1994, ch. 2), its least within
    # bounds by SciPy's lsq_linear
    x, y = np.linspace(0, 1000, 7), np.random.default_rng(seed).normal(size=7) * 1e-3
    limit = tolerance * 1e-3
    line = lay_batten(np.c_[x, y], smoothing=1e12, judge=False, hold=dict.fromkeys(range(7), limit), nodes=800)
    assert np.abs(line.residual_mm).max() <= limit + 1e-9
    Q, R = reinsch(x)
    root = np.linalg.solve(np.linalg.cholesky(R), Q.T)
    best = lsq_linear(root, root @ y, (-limit, limit), method="bvls", tol=1e-14)
    assert line.energy_per_mm == pytest.approx(best.cost, rel=1e-3, abs=1e-18)


def test_knuckle_breaks_the_line_and_only_there():
    s = np.linspace(0, 1000, 6)
    low, high = np.c_[s, 0.1 * s], np.c_[1000 + 0.3 * s[1:], 100 + s[1:]]
    marks = np.r_[low, high]
    line = lay_batten(marks, 1.0, knuckles=(5,), judge=False)
    assert line.energy_per_mm < 1e-9  # two straight runs cost nothing
    assert np.abs(line.residual_mm).max() < 1e-4
    assert line.knuckle_rad[0] == pytest.approx(np.arctan2(1, 0.3) - np.arctan2(0.1, 1), abs=1e-6)
    rounded = lay_batten(marks, 1.0, judge=False)
    assert rounded.energy_per_mm > 1e-4


def test_knuckle_is_found_better_than_its_own_mark():
    # the mark at the knuckle is 4 mm out; the straight runs on both sides say so
    s = np.linspace(0, 1000, 8)
    marks = np.r_[np.c_[s, 0 * s], np.c_[1000 + 0 * s[1:], s[1:]]]
    marks[7] += [2.8, -2.8]
    line = lay_batten(marks, 1.0, knuckles=(7,), judge=False)
    k = np.abs(line.s_mm - line.mark_s_mm[7]).argmin()
    assert np.hypot(*(line.points_mm[k] - [1000, 0])) < 2.5
    interpolating = lay_batten(marks, smoothing=0, knuckles=(7,), judge=False)
    k = np.hypot(*(interpolating.points_mm - marks[7]).T).min()
    assert k < 1e-5


def test_two_sides_of_a_knuckle_know_nothing_of_each_other():
    rng = np.random.default_rng(9)
    marks = frame(rng)
    line = lay_batten(marks, smoothing=0, knuckles=(5,), judge=False)
    alone = lay_batten(marks[:6], smoothing=0, judge=False, nodes=100)
    part = line.points_mm[line.s_mm <= line.mark_s_mm[5] + 1e-6]
    assert np.hypot(*(part[:, None] - alone.points_mm).transpose(2, 0, 1)).min(axis=1).max() < 40
    bend = np.interp(alone.mark_s_mm, line.s_mm, line.curvature_per_mm)
    assert bend == pytest.approx(np.interp(alone.mark_s_mm, alone.s_mm, alone.curvature_per_mm), abs=2e-6)


def test_reversals_of_an_ess_curve():
    x = np.linspace(0, 2000, 21)
    line = lay_batten(np.c_[x, 150 * np.sin(x * np.pi / 1000)], smoothing=0, judge=False)
    assert len(line.reversals) == 1
    assert line.reversals[0].point_mm == pytest.approx((1000, 0), abs=1)
    round_ = np.linspace(0, 1.5, 12)
    assert lay_batten(1000 * np.c_[np.sin(round_), 1 - np.cos(round_)], 1.0).reversals == ()


def test_marks_close_together_share_a_place():
    # two takers-off, each with his own mark at the same spots: no mark of a pair may upset the other
    rng = np.random.default_rng(10)
    marks = np.repeat(frame(rng, sigma=0.0), 2, axis=0)
    noisy = marks + rng.normal(size=marks.shape)
    line = lay_batten(noisy, 1.0, judge=False)
    assert np.abs(line.residual_mm).max() < 4
    assert line.freedoms < 12


def test_dropped_and_suspect_marks_do_not_count_but_are_measured():
    marks = frame(np.random.default_rng(11))
    marks[4] += [20, -20]
    named = lay_batten(marks, 1.0)
    dropped = lay_batten(marks, 1.0, drop=(4,))
    without = lay_batten(np.delete(marks, 4, axis=0), 1.0)
    assert [suspect.mark for suspect in named.suspects] == [4]
    assert not named.counts[4]
    assert named.points_mm == pytest.approx(without.points_mm)
    assert dropped.points_mm == pytest.approx(without.points_mm)
    assert named.residual_mm[4] == pytest.approx(np.hypot(20, 20), abs=4)  # outside: to the right
    assert named.residual_mm[4] == pytest.approx(named.suspects[0].out_mm, abs=2)
    kept = lay_batten(marks, 1.0, keep=(4,))
    assert kept.suspects == () or kept.suspects[0].mark != 4


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"points": [(0, 0), (1, 1)]}, "2 marks; a batten needs at least three"),
        ({"points": [(0, 0, 0)] * 4}, r"shape \(4, 3\)"),
        ({"points": [(0, 0), (100, np.nan), (200, 0)]}, "mark 2: .* is no place"),
        ({"points": [(0, 0), (100, 5), (100, 5), (200, 0)]}, "marks 2 and 3 lie on one another"),
        ({"points": [(0, 0), (100, 0), (200, 0), (150, 1), (300, 0)]}, "folds back at mark 3"),
        ({"points": [(0, 0), (0.001, 0), (1000, 0), (2000, 0)], "smoothing": 0}, "marks 1 and 2 are 0.001 mm apart"),
        ({"sigma": -1}, "measuring error of mark 1: -1 mm; give one above zero"),
        ({"sigma": [1, 2]}, "2 measuring errors for 12 marks"),
        ({"smoothing": -1}, "smoothing -1; give 0"),
        ({"knuckles": (11,)}, "knuckle at mark 12 of 12"),
        ({"hold": {40: 1.0}}, "no mark 41"),
        ({"hold": {4: -1.0}}, "mark 5 to be held within -1 mm"),
        ({"hold": {4: 1.0}, "drop": (4,)}, "mark 5 is held or a knuckle, and dropped"),
        ({"drop": tuple(range(10))}, "2 marks count"),
        ({"nodes": 3}, "3 nodes; give 20"),
    ],
)
def test_bad_input_is_named(change, words):
    asked = {"points": frame(np.random.default_rng(0)), **change}
    with pytest.raises(BadGeometry, match=words):
        lay_batten(**asked)


def test_an_end_without_a_direction_is_named():
    with pytest.raises(BadGeometry, match="direction inf of an end; give an angle"):
        End(direction_rad=np.inf)
