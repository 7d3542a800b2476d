"""Strips of surfaces whose flat shape is known exactly, as `scrieve.planking.expansion.expand` takes them.

Each function returns a patch: (u, w) -> point and first derivatives, u along and w across, both 0 to 1; mm.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Patch = Callable[[Array, Array], tuple[Array, Array, Array]]


def _turned(*columns: Array) -> Array:
    return np.stack(np.broadcast_arrays(*columns), axis=-1)


def cylinder(radius: float, length: float, width: float, skew_rad: float = 0.0) -> Patch:
    """A flat strip `length` × `width` rolled on a cylinder along x, turned by `skew_rad` against its axis."""
    cos, sin = np.cos(skew_rad), np.sin(skew_rad)

    def patch(u: Array, w: Array) -> tuple[Array, Array, Array]:
        a, b = length * u, width * (w - 0.5)
        angle = (sin * a + cos * b) / radius
        s, c = np.sin(angle), np.cos(angle)
        tangent = _turned(np.zeros_like(angle), -s, c)
        axis = np.array([1.0, 0.0, 0.0])
        return (
            _turned(cos * a - sin * b, radius * c, radius * s),
            length * (cos * axis + sin * tangent),
            width * (-sin * axis + cos * tangent),
        )

    return patch


def cone(
    big: float, small: float, height: float, turn_rad: float, *, from_share: float = 0.0, to: float = 1.0
) -> Patch:
    """A cone frustum about x between its end circles; u runs along from the big end, w around by `turn_rad`."""

    def patch(u: Array, w: Array) -> tuple[Array, Array, Array]:
        radius, angle = big + (small - big) * u, turn_rad * w
        s, c = np.sin(angle), np.cos(angle)
        return (
            _turned(height * u, radius * c, radius * s),
            _turned(np.full_like(u, height), (small - big) * c, (small - big) * s),
            _turned(np.zeros_like(s), -radius * s, radius * c) * turn_rad,
        )

    return patch


def around_cone(slant: float, half_angle_rad: float, arc: float, width: float) -> Patch:
    """A plank around a cone: one edge on the circle at `slant` from the apex, `arc` long; `width` towards the apex."""
    radius = slant * np.sin(half_angle_rad)

    def patch(u: Array, w: Array) -> tuple[Array, Array, Array]:
        angle, along = arc / radius * u, slant - width * w
        s, c = np.sin(angle), np.cos(angle)
        ray = _turned(np.full_like(s, np.cos(half_angle_rad)), np.sin(half_angle_rad) * c, np.sin(half_angle_rad) * s)
        around = _turned(np.zeros_like(s), -np.sin(half_angle_rad) * s, np.sin(half_angle_rad) * c)
        return along[..., None] * ray, around * (along * arc / radius)[..., None], -width * ray

    return patch


def helix_tangents(length: float, start: float, end: float) -> Patch:
    """The surface of tangents of the helix (2000 cos s/2500, 2000 sin s/2500, 1500 s/2500), `start` to `end` along."""

    def patch(u: Array, w: Array) -> tuple[Array, Array, Array]:
        angle = u * length / 2500
        s, c = np.sin(angle), np.cos(angle)
        out = start + (end - start) * w
        tangent = _turned(-0.8 * s, 0.8 * c, np.full_like(s, 0.6))
        normal = _turned(-c, -s, np.zeros_like(s))
        foot = _turned(2000 * c, 2000 * s, 1500 * angle)
        return (
            foot + out[..., None] * tangent,
            length * (tangent + 0.00032 * out[..., None] * normal),
            (end - start) * tangent,
        )

    return patch


def sphere(radius: float, length: float, half_width_rad: float) -> Patch:
    """A strip along a great circle of a sphere, `length` along its middle."""

    def patch(u: Array, w: Array) -> tuple[Array, Array, Array]:
        a, b = length / radius * (u - 0.5), half_width_rad * (2 * w - 1)
        sa, ca, sb, cb = np.sin(a), np.cos(a), np.sin(b), np.cos(b)
        return (
            radius * _turned(sa * cb, ca * cb, sb),
            length * _turned(ca * cb, -sa * cb, np.zeros_like(b)),
            2 * half_width_rad * radius * _turned(-sa * sb, -ca * sb, cb),
        )

    return patch


def saddle(u, w):
    """A strip of y = x²/20000 − z²/4000 + x z/9000: bent, hollow and twisted, 4 m by 160 mm."""
    x, z = 4000 * u - 1500, 160 * w + 300
    y = x**2 / 20000 - z**2 / 4000 + x * z / 9000
    y_x, y_z = x / 10000 + z / 9000, -z / 2000 + x / 9000
    one, zero = np.ones_like(x), np.zeros_like(x)
    return (
        np.stack([x, y, z], -1),
        4000 * np.stack([one, y_x, zero], -1),
        160 * np.stack([zero, y_z, one], -1),
    )
