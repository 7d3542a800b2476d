"""Backing out, seam and scarf against closed forms and published rules.

Sources: rise of a circular arc over its chord, r − √(r² − (w/2)²), to the digits given (inches); the seam of 3 to 4 mm
in 25 mm plank as told by British builders, and the inch rule (common practice, no source), which disagree; scarf
slopes 12:1 for solid plank and 8:1 for plywood (Wood Handbook, chapter 10: 1 in 12 or flatter is strongest).
"""

import numpy as np
import pytest
from strips import cone, cylinder, sphere

from scrieve.planking.board import scarf_length
from scrieve.planking.edges import across, backing_out, edge_bevels, seam_opening, stock_thickness


@pytest.mark.parametrize(("radius_in", "width_in", "depth_in"), [(24, 5, 0.1306), (36, 6, 0.1252), (12, 4, 0.1678)])
def test_hollow_on_a_round_frame(radius_in, width_in, depth_in):
    assert backing_out(radius_in, width_in) == pytest.approx(depth_in, abs=5e-5)
    assert backing_out(radius_in * 25.4, width_in * 25.4) / 25.4 == pytest.approx(depth_in, abs=5e-5)


def test_hollow_of_120_mm_on_600_mm():
    assert backing_out(600, 120) == pytest.approx(3.0075377, abs=5e-8)
    assert stock_thickness(28, float(backing_out(600, 120)), 3) == pytest.approx(34.0075377, abs=1e-7)


@pytest.mark.parametrize(("radius", "width"), [(300, 150), (600, 120), (1500, 200)])
def test_hollow_from_the_hull_is_that_of_its_circle(radius, width):
    # a strip whose width *along* the frame is an arc: chord 2r sin(w/2r), rise r(1 − cos(w/2r))
    chord, hollow, found = across(cylinder(radius, 3000, width), np.array([0.0, 0.4, 1.0]))
    np.testing.assert_allclose(chord, 2 * radius * np.sin(width / 2 / radius), atol=1e-4)
    np.testing.assert_allclose(hollow, radius * (1 - np.cos(width / 2 / radius)), atol=1e-4)
    np.testing.assert_allclose(hollow, backing_out(radius, chord), atol=1e-4)
    np.testing.assert_allclose(found, radius, rtol=1e-4)


def test_a_plank_askew_to_the_frames_is_hollowed_by_its_own_curvature_across():
    # Euler: square to a run at angle a to the axis the radius is r/cos²a
    _, _, radius = across(cylinder(600, 2000, 80, np.radians(30)), np.array([0.5]))
    assert radius[0] == pytest.approx(600 / np.cos(np.radians(30)) ** 2, rel=1e-3)


def test_seams_stand_square_to_the_hull():
    # half the turn from seam to seam: 150/(2·600) rad each edge on a cylinder; the sphere's lie on radii
    lower, upper = edge_bevels(cylinder(600, 3000, 150), np.linspace(0, 1, 5))
    np.testing.assert_allclose(lower, 150 / 1200, atol=1e-9)
    np.testing.assert_allclose(upper, 150 / 1200, atol=1e-9)
    for edge in edge_bevels(sphere(3000, 3000, 0.03), np.linspace(0, 1, 5)):
        np.testing.assert_allclose(edge, 0.03, atol=1e-6)


def test_seams_of_a_plank_along_a_cone_are_alike():
    lower, upper = edge_bevels(cone(1200, 800, 6000, 0.15), np.linspace(0, 1, 5))
    np.testing.assert_allclose(lower, upper, atol=1e-9)


def test_the_two_seam_rules_disagree_by_about_half():
    assert 3 <= seam_opening(25, "metric") <= 4
    assert seam_opening(25.4, "inch") == pytest.approx(25.4 / 16)
    assert seam_opening(100, "inch") == pytest.approx(25.4 / 8)  # up to about 1/8 in


def test_scarf_lengths():
    assert scarf_length(25.4, 12) == pytest.approx(12 * 25.4)
    assert scarf_length(3 / 8 * 25.4, 8) == pytest.approx(3 * 25.4)
