"""Planks laid flat against exact developments.

Sources: the developments of cylinder, cone and tangent surface are textbook differential geometry (a developable
surface keeps geodesic curvature and lengths when it is laid flat); every expected value below is computed here from
the closed form beside it. The sphere: geodesic curvature of a small circle, tan(latitude)/R. The cone plank of 30 ft
slant: crown of a circular arc over its chord.
"""

import numpy as np
import pytest
from strips import around_cone, cone, cylinder, helix_tangents, sphere

from scrieve.planking.board import board_for, crown
from scrieve.planking.expansion import expand

TOLERANCE_MM = 0.01


def apart(flat, a, b):
    return float(np.hypot(*(flat(*a) - flat(*b))))


class TestCylinder:
    """R 1500; a point at angle φ and height z lies flat at (1500 φ, z)."""

    def test_the_diagonal_of_a_sixth_of_the_turn(self):
        # (0, 0) to (60°, 6000): √(6000² + (1500 π/3)²) = 6202.209372
        flat = expand(cylinder(1500, 6000, 1500 * np.pi / 3)).flat
        assert apart(flat, (0, 0), (1, 1)) == pytest.approx(6202.209372, abs=TOLERANCE_MM)
        assert apart(flat, (0, 0), (0, 1)) == pytest.approx(1570.796327, abs=TOLERANCE_MM)

    @pytest.mark.parametrize("skew_deg", [0, 15, 40, 90])
    @pytest.mark.parametrize("length", [6000, 8000])
    def test_a_strip_rolled_on_askew_unrolls_to_itself(self, skew_deg, length):
        laid = expand(cylinder(1500, length, 150, np.radians(skew_deg)))
        u, w = np.meshgrid(np.linspace(0, 1, 61), np.linspace(0, 1, 5))
        expected = np.stack([length * u, 150 * (w - 0.5)], axis=-1)
        assert np.max(np.abs(laid.flat(u, w) - expected)) < TOLERANCE_MM
        assert laid.strain_max < 1e-6
        assert laid.edge_set_mm < 0.01

    def test_bend_and_twist_of_a_skewed_strip(self):
        # Euler and the geodesic torsion on a cylinder: sin²α/R along, cos²α/R across, sinα cosα/R of twist.
        angle = np.radians(25)
        laid = expand(cylinder(1500, 3000, 120, angle))
        assert laid.bend_radius_mm == pytest.approx(1500 / np.sin(angle) ** 2, rel=1e-4)
        assert laid.across_radius_mm == pytest.approx(1500 / np.cos(angle) ** 2, rel=1e-4)
        assert abs(laid.twist_rad) == pytest.approx(3000 * np.sin(angle) * np.cos(angle) / 1500, rel=1e-4)


class TestCone:
    """End radii 1200 and 800, height 6000: slant √(6000² + 400²), and flat angles (R₁ − R₂)/slant of the turn."""

    slant = np.hypot(6000, 400)
    scale = 400 / slant

    def test_geodesic_from_end_to_end_over_forty_degrees(self):
        # two sides 1200·slant/400 and 800·slant/400 with the flat angle 40°·scale between them: 6052.091232
        flat = expand(cone(1200, 800, 6000, np.radians(40))).flat
        assert apart(flat, (0, 0), (1, 1)) == pytest.approx(6052.091232, abs=TOLERANCE_MM)
        assert apart(flat, (0, 0), (1, 0)) == pytest.approx(6013.318551, abs=TOLERANCE_MM)

    def test_sag_of_a_seam_along_the_big_end(self):
        # radius 1200·slant/400 = 18039.95565; r(1 − cos(1500/2r)) = 15.58814765
        laid = expand(around_cone(18039.95565, np.arcsin(self.scale), 1500, 120))
        assert abs(crown(laid.lower_mm)) == pytest.approx(15.58814765, abs=TOLERANCE_MM)
        assert laid.flat_lengths_mm[0] == pytest.approx(1500, abs=TOLERANCE_MM)

    def test_every_flat_point_of_a_plank_of_eight_metres(self):
        # radii as above carried on: 1200 to 2000/3 over 8000
        small, height, turn = 1200 - 8000 / 15, 8000.0, 150 / 1200
        laid = expand(cone(1200, small, height, turn))
        slant = np.hypot(height, 1200 - small)
        scale = (1200 - small) / slant
        u, w = np.meshgrid(np.linspace(0, 1, 41), np.linspace(0, 1, 5))
        r = (1200 + (small - 1200) * u) / scale
        angle = turn * w * scale
        expected = (r * np.exp(1j * angle)).ravel()
        found = laid.flat(u, w) @ np.array([1, 1j])
        distances = np.abs(found.ravel()[:, None] - found.ravel()) - np.abs(expected[:, None] - expected)
        assert np.max(np.abs(distances)) < TOLERANCE_MM


class TestHelixTangents:
    """Curvature 0.00032: the edge unrolls to a circle of radius 3125 and every tangent stays a tangent of it."""

    laid = expand(helix_tangents(2500, 3000, 3180))

    @pytest.mark.parametrize(("edge", "length"), [(0, 3465.544690), (1, 3566.782303)])
    def test_edges(self, edge, length):  # 2500·√(1 + (0.00032 t)²)
        assert self.laid.flat_lengths_mm[edge] == pytest.approx(length, abs=TOLERANCE_MM)
        assert self.laid.true_lengths_mm[edge] == pytest.approx(length, abs=TOLERANCE_MM)

    def test_diagonal(self):
        assert apart(self.laid.flat, (0, 0), (1, 1)) == pytest.approx(3542.592084, abs=TOLERANCE_MM)

    def test_every_point(self):
        u, w = np.meshgrid(np.linspace(0, 1, 41), np.linspace(0, 1, 5))
        on_circle = np.exp(1j * u * 2500 / 3125)
        expected = (3125 * on_circle + 1j * on_circle * (3000 + 180 * w)).ravel()
        found = (self.laid.flat(u, w) @ np.array([1, 1j])).ravel()
        distances = np.abs(found[:, None] - found) - np.abs(expected[:, None] - expected)
        assert np.max(np.abs(distances)) < TOLERANCE_MM


def test_a_twisted_developable_of_eight_metres():
    """As above, 8 m along the curve t = 3000: s to 8000/√(1 + (0.00032·3000)²); every distance on the flat."""
    length = 8000 / np.hypot(1, 0.96)
    laid = expand(helix_tangents(length, 3000, 3180))
    assert laid.flat_lengths_mm[0] == pytest.approx(8000, abs=TOLERANCE_MM)
    u, w = np.meshgrid(np.linspace(0, 1, 61), np.linspace(0, 1, 5))
    on_circle = np.exp(1j * u * length / 3125)
    expected = (3125 * on_circle + 1j * on_circle * (3000 + 180 * w)).ravel()
    found = (laid.flat(u, w) @ np.array([1, 1j])).ravel()
    distances = np.abs(found[:, None] - found) - np.abs(expected[:, None] - expected)
    assert np.max(np.abs(distances)) < TOLERANCE_MM


class TestSphere:
    """R 3000, 3 m along a great circle, half width 0.03 rad: it cannot be laid flat."""

    laid = expand(sphere(3000, 3000, 0.03))

    def test_seam_to_middle(self):  # cos 0.03
        middle = float(np.hypot(*(self.laid.flat(1, 0.5) - self.laid.flat(0, 0.5))))
        assert self.laid.true_lengths_mm[0] / 3000 == pytest.approx(0.9995500337, abs=1e-8)
        assert middle == pytest.approx(3000, abs=1.0)  # the strain is shared between middle and edges

    def test_edge_set_of_the_seams(self):  # κL²/8 with κ = tan 0.03/3000: 11.253 mm
        assert self.laid.edge_set_mm == pytest.approx(11.253, abs=0.05)
        assert self.laid.edge_set_ten_feet_mm == self.laid.edge_set_mm

    def test_seams_lie_straight(self):
        assert abs(crown(self.laid.lower_mm)) < 0.02
        np.testing.assert_allclose(self.laid.lower_mm * [1, -1], self.laid.upper_mm, atol=1e-6)

    def test_round_both_ways(self):
        assert self.laid.bend_radius_mm == pytest.approx(3000, rel=1e-5)
        assert self.laid.across_radius_mm == pytest.approx(3000, rel=1e-5)
        assert np.all(self.laid.bend_along_per_mm > 0)  # hollow inboard


def test_crown_of_a_plank_on_a_cone_of_thirty_feet():
    # slant 30 ft, arc 16 ft: 30(1 − cos(8/30)) ft = 12.724 in; the board holds width and crown together
    foot = 304.8
    laid = expand(around_cone(30 * foot, np.radians(20), 16 * foot, 6 * 25.4))
    found = abs(crown(laid.lower_mm))
    assert found / 25.4 == pytest.approx(12.724, abs=0.001)
    board = board_for(laid.lower_mm, laid.upper_mm, thickness_mm=25)
    inner_chord = 2 * 29.5 * foot * np.sin(8 / 30)
    assert board.width_mm == pytest.approx(30 * foot - 29.5 * foot * np.cos(8 / 30), abs=0.05)
    assert board.plank_length_mm == pytest.approx(2 * 30 * foot * np.sin(8 / 30), abs=0.05)
    assert np.hypot(*(laid.upper_mm[-1] - laid.upper_mm[0])) == pytest.approx(inner_chord, abs=TOLERANCE_MM)
