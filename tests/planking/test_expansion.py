"""Laws that any laying-out must keep: it cannot feel where the hull lies, which hand it is, or which end is first."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from strips import cone, cylinder, saddle, sphere

from scrieve.errors import BadPlank
from scrieve.planking.expansion import expand


def moved(patch, turn, shift):
    def there(u, w):
        point, along, across = patch(u, w)
        return point @ turn.T + shift, along @ turn.T, across @ turn.T

    return there


@settings(max_examples=8, deadline=None)
@given(st.tuples(*[st.floats(-3, 3)] * 3), st.tuples(*[st.floats(-1e4, 1e4)] * 3))
def test_it_does_not_feel_where_the_hull_lies(turn, shift):
    here = expand(saddle)
    there = expand(moved(saddle, Rotation.from_rotvec(turn).as_matrix(), np.array(shift)))
    np.testing.assert_allclose(there.lower_mm, here.lower_mm, atol=1e-5)
    np.testing.assert_allclose(there.upper_mm, here.upper_mm, atol=1e-5)
    assert there.edge_set_mm == pytest.approx(here.edge_set_mm, abs=1e-5)
    assert there.twist_rad == pytest.approx(here.twist_rad, abs=1e-7)


def test_the_other_end_first_is_the_same_plank_turned():
    def reversed_(u, w):
        point, along, across = saddle(1 - u, 1 - w)
        return point, -along, -across

    here, there = expand(saddle), expand(reversed_)
    length = np.mean([here.lower_mm[-1, 0], here.upper_mm[-1, 0]])
    np.testing.assert_allclose([length, 0] - there.upper_mm[::-1], here.lower_mm, atol=1e-5)
    assert there.twist_rad == pytest.approx(here.twist_rad, abs=1e-6)


def test_mirrored_hull_gives_the_mirrored_plank():
    def other_hand(u, w):
        point, along, across = saddle(u, 1 - w)
        mirror = np.array([1, -1, 1])
        return point * mirror, along * mirror, -across * mirror

    here, there = expand(saddle), expand(other_hand)
    np.testing.assert_allclose(there.upper_mm * [1, -1], here.lower_mm, atol=1e-5)
    assert there.edge_set_mm == pytest.approx(here.edge_set_mm, abs=1e-6)


def test_datum_runs_through_the_middles_of_both_ends():
    laid = expand(saddle)
    first, last = ((laid.lower_mm[end] + laid.upper_mm[end]) / 2 for end in (0, -1))
    np.testing.assert_allclose(first, [0, 0], atol=1e-9)
    assert last[1] == pytest.approx(0, abs=1e-9)
    assert last[0] > 3900
    assert np.all(laid.upper_mm[:, 1] > laid.lower_mm[:, 1])


def test_finer_splines_change_nothing_that_a_pencil_could_show():
    coarse, fine = expand(saddle), expand(saddle, along=48, across=6)
    assert np.max(np.abs(coarse.lower_mm - fine.lower_mm)) < 0.02
    assert np.max(np.abs(coarse.upper_mm - fine.upper_mm)) < 0.02


def test_true_lengths_are_those_of_a_finely_divided_edge():
    laid = expand(saddle)
    u = np.linspace(0, 1, 200_001)
    for edge in (0, 1):
        points = saddle(u, np.full_like(u, edge))[0]
        length = np.sum(np.linalg.norm(np.diff(points, axis=0), axis=1))
        assert laid.true_lengths_mm[edge] == pytest.approx(length, abs=1e-4)
        flat = (laid.lower_mm, laid.upper_mm)[edge]
        assert laid.flat_lengths_mm[edge] == pytest.approx(
            np.sum(np.hypot(*np.diff(flat, axis=0).T)), abs=5e-3
        )  # the chords of 240 pieces come a little short


def test_no_other_flat_shape_strains_less():
    # the least of ∫‖E‖²: spreading, shearing or bowing the found shape only adds strain
    laid = expand(saddle)
    u, w = (grid.ravel() for grid in np.meshgrid(np.linspace(0.005, 0.995, 100), np.linspace(0.05, 0.95, 10)))
    _, s_u, s_w = saddle(u, w)
    metric = np.stack([np.sum(a * b, -1) for a, b in ((s_u, s_u), (s_u, s_w), (s_w, s_w))])
    area = np.sqrt(metric[0] * metric[2] - metric[1] ** 2)
    h = 1e-5

    def strained(bend):
        def at(u_, w_):
            return bend(laid.flat(u_, w_))

        x_u, x_w = (at(u + h, w) - at(u - h, w)) / (2 * h), (at(u, w + h) - at(u, w - h)) / (2 * h)
        e = [np.sum(a * b, -1) for a, b in ((x_u, x_u), (x_u, x_w), (x_w, x_w))]
        change = np.stack([e[0] - metric[0], e[1] - metric[1], e[2] - metric[2]])
        m11, m12, m22 = 1 / np.sqrt(metric[0]), -metric[1] / (np.sqrt(metric[0]) * area), np.sqrt(metric[0]) / area
        e11 = m11 * change[0] * m11
        e12 = m11 * (change[0] * m12 + change[1] * m22)
        e22 = m12 * (change[0] * m12 + change[1] * m22) + m22 * (change[1] * m12 + change[2] * m22)
        return np.sum(area * (e11**2 + 2 * e12**2 + e22**2))

    least = strained(lambda p: p)
    for bend in (
        lambda p: p * [1, 1 + 3e-4],
        lambda p: p * [1 + 3e-4, 1],
        lambda p: p + np.stack([p[..., 1] * 3e-4, 0 * p[..., 1]], -1),
        lambda p: p + np.stack([0 * p[..., 0], 2 * np.sin(np.pi * p[..., 0] / 4000)], -1),
    ):
        assert strained(bend) > least


def test_twist_is_above_zero_where_the_outside_turns_upwards():
    # a straight-ruled strip whose outside (y > 0) leans up more and more going aft: normal (0, cos a, sin a)
    def leaning(u, w):
        a, b = 0.3 * u, 150 * (w - 0.5)
        return (
            np.stack([4000 * u, -b * np.sin(a), b * np.cos(a)], -1),
            np.stack([4000 + 0 * u, -0.3 * b * np.cos(a), -0.3 * b * np.sin(a)], -1),
            150 * np.stack([0 * u, -np.sin(a), np.cos(a)], -1),
        )

    laid = expand(leaning)
    assert laid.twist_rad == pytest.approx(0.3, rel=1e-3)
    # the edge of a helicoid is longer: √(L² + (0.3·75)²)
    assert laid.true_lengths_mm == pytest.approx([np.hypot(4000, 22.5)] * 2, abs=1e-6)


def test_strain_of_a_sphere_grows_with_the_square_of_the_width():
    # the ends, where the strain is greatest, take fine coefficients
    narrow, wide = (expand(sphere(3000, 3000, half), along=80) for half in (0.02, 0.04))
    assert wide.strain_max / narrow.strain_max == pytest.approx(4, rel=0.02)


def test_a_larger_hull_strains_its_planks_alike():
    small, large = expand(cone(1200, 800, 6000, 0.1)), expand(cone(2400, 1600, 12000, 0.1), along=24)
    np.testing.assert_allclose(large.lower_mm, 2 * small.lower_mm, atol=1e-3)


def test_no_width_is_told():
    with pytest.raises(BadPlank, match=r"no width at \d+% of its length"):
        expand(lambda u, w: cylinder(1500, 3000, 0.0)(u, w))
