"""A fair edge: arcs and parabolas cost nothing, a wild point is named, a tolerance is kept."""

import numpy as np
import pytest

from scrieve.errors import BadPlank
from scrieve.planking.fair_edge import fair_edge

X = np.linspace(0, 6000, 13)
ARC = np.sqrt(25_000**2 - (X - 2800) ** 2) - 24_800  # a circle of 25 m
INNER = np.linspace(0, 6000, 241)
ON_ARC = np.sqrt(25_000**2 - (INNER - 2800) ** 2) - 24_800


@pytest.mark.parametrize("tolerance", [0.0, 1.0, 3.0])
def test_an_exact_arc_is_kept_whatever_the_tolerance(tolerance):
    edge = fair_edge(X, ARC, tolerance_mm=tolerance)
    assert np.max(np.abs(edge(INNER) - ON_ARC)) < 0.01
    assert not edge.suspect.any()


@pytest.mark.parametrize("which", [0, 1, 5, 11, 12])
@pytest.mark.parametrize("wild", [-25.0, 12.0])
def test_a_wild_point_is_named_not_averaged_in(which, wild):
    y = ARC.copy()
    y[which] += wild
    edge = fair_edge(X, y, tolerance_mm=1.0)
    assert np.flatnonzero(edge.suspect).tolist() == [which]
    assert edge.residual_mm[which] == pytest.approx(wild, abs=0.05 if 0 < which < 12 else 1.0)
    assert np.max(np.abs(edge(INNER) - ON_ARC)) < (0.05 if 0 < which < 12 else 1.0)


def seam_like(count):
    """Girths of a seam that bends more and more towards both ends, to the millimetre, at stations far apart."""
    x = np.linspace(-6600, 6600, count)
    return x, np.round(1000 * np.sqrt(1.2 - (x / 7000) ** 2))


@pytest.mark.parametrize("count", [8, 9, 12, 13, 14, 15, 20])
def test_the_end_of_a_fair_line_with_few_points_does_not_stand_out(count):
    x, y = seam_like(count)
    assert not fair_edge(x, y, tolerance_mm=2.0).suspect.any()


@pytest.mark.parametrize("which", [0, 19])
def test_an_end_of_it_that_is_wrong_still_does(which):
    x, y = seam_like(20)
    y[which] += 60
    assert np.flatnonzero(fair_edge(x, y, tolerance_mm=2.0).suspect).tolist() == [which]


def test_a_point_that_is_kept_is_never_judged():
    y = ARC.copy()
    y[5] += 12
    keep = np.arange(13) == 5
    edge = fair_edge(X, y, keep=keep)
    assert not edge.suspect.any()
    np.testing.assert_allclose(edge.residual_mm, 0, atol=1e-9)


def test_two_wild_points_are_both_named():
    y = ARC.copy()
    y[[3, 8]] += [14, -18]
    assert np.flatnonzero(fair_edge(X, y, tolerance_mm=1.0).suspect).tolist() == [3, 8]


def test_small_errors_raise_no_alarm_and_are_eased_within_the_tolerance():
    rng = np.random.default_rng(1924)
    named, raw, eased = 0, [], []
    for _ in range(60):
        y = ARC + rng.normal(0, 0.5, 13)
        edge = fair_edge(X, y, tolerance_mm=1.5)
        named += int(edge.suspect.sum())
        assert np.max(np.abs(edge.residual_mm[~edge.suspect])) <= 1.5 + 1e-9
        eased.append(np.sqrt(np.mean((edge(INNER) - ON_ARC) ** 2)))
        raw.append(np.sqrt(np.mean((fair_edge(X, y)(INNER) - ON_ARC) ** 2)))
    assert named <= 3  # of 780 points
    assert np.mean(eased) < 0.85 * np.mean(raw)


def test_no_tolerance_goes_through_every_point():
    rng = np.random.default_rng(3)
    y = ARC + rng.normal(0, 0.3, 13)
    np.testing.assert_allclose(fair_edge(X, y).residual_mm, 0, atol=1e-9)


def test_few_points_are_not_judged():
    edge = fair_edge(X[:5], ARC[:5] + 30 * (np.arange(5) == 2), tolerance_mm=1.0)
    assert not edge.suspect.any()
    assert fair_edge([0, 1000], [3, 5])(500) == pytest.approx(4)
    assert fair_edge([0, 1000, 2000], [0, 1, 0])(500) == pytest.approx(0.75)


def test_the_slope_is_the_derivative():
    edge = fair_edge(X, ARC, tolerance_mm=1.0)
    at = np.array([700.0, 3100.0])
    np.testing.assert_allclose(edge.slope(at), (edge(at + 0.1) - edge(at - 0.1)) / 0.2, atol=1e-6)


@pytest.mark.parametrize(
    ("x", "y", "said"),
    [
        ([0], [0], r"lower edge: 1 point\(s\); two or more are needed"),
        ([0, 100, 100, 300], [0, 1, 2, 3], r"lower edge: two points at 100 mm along"),
        ([0, 200, 100], [0, 1, 2], r"lower edge: two points at 200 mm along, or out of order"),
        ([0, 100], [0, float("nan")], r"lower edge: a point is no number"),
    ],
)
def test_what_cannot_be_an_edge_is_told(x, y, said):
    with pytest.raises(BadPlank, match=said):
        fair_edge(x, y, name="lower edge")
