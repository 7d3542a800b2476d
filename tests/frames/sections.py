"""Sections in closed form, from which frames are designed in the tests."""

import numpy as np

from scrieve.fairing.section import Section


def section(s, points, bevel, curvature, frame="14"):
    n = len(s)
    bevels = np.broadcast_to(np.asarray(bevel, dtype=float), (n,)).copy()
    return Section(frame, 4200.0, s, points[:, 0], points[:, 1], np.zeros(n), bevels, curvature)


def circle(radius=1500.0, turn=np.pi / 2, n=200, bevel=0.0, start=0.0):
    """An arc hollow inboard, leaving the heel in the direction `start`."""
    a = start + np.linspace(0, turn, n)
    points = radius * np.column_stack([np.sin(a) - np.sin(start), np.cos(start) - np.cos(a)])
    return section(radius * (a - start), points, bevel, np.full(n, 1 / radius))


def s_shape(length=2600.0, most=1 / 1100.0, n=200, bevel=0.0):
    """κ = most × sin(2πs/L): hollow first, then reverse, as in a flared bow; positions by fine Gauss quadrature."""
    s = np.linspace(0, length, n)
    nodes, weights = np.polynomial.legendre.leggauss(12)
    middle, half = (s[1:] + s[:-1]) / 2, np.diff(s) / 2
    fine = middle[:, None] + half[:, None] * nodes
    angle = s_angle(fine, length, most)
    walk = half[:, None] * np.column_stack([np.cos(angle) @ weights, np.sin(angle) @ weights])
    points = np.vstack([[0.0, 0.0], np.cumsum(walk, axis=0)])
    return section(s, points, bevel, most * np.sin(2 * np.pi * s / length))


def s_angle(s, length=2600.0, most=1 / 1100.0):
    return 0.3 + most * length / (2 * np.pi) * (1 - np.cos(2 * np.pi * s / length))


def straight(length=1200.0, n=50, bevel=0.0):
    s = np.linspace(0, length, n)
    return section(s, np.column_stack([0.6 * s, 0.8 * s]), bevel, np.zeros(n))
