"""The Wigley hull: a hull with closed answers, used as an outside check of fairing, bevels and girths.

y = (B/2)·(1 - (2x/L)²)·(1 - (z/T)²) between x = ±L/2, from the keel at z = -T to the waterline at z = 0. A standard
analytic test hull of ship hydrodynamics; slopes, curvature and girth below follow from that one line by calculus.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Wigley:
    """A Wigley hull, one side; mm. Sections run from the keel (heel) to the waterline (head); x inside ±L/2."""

    length_mm: float = 15000.0
    beam_mm: float = 3000.0
    draught_mm: float = 1200.0

    def waterline(self, x: ArrayLike) -> Array:
        """Half-breadth at z = 0."""
        return np.asarray(self.beam_mm / 2 * (1 - (2 * np.asarray(x, dtype=float) / self.length_mm) ** 2))

    def half_breadth(self, x: ArrayLike, z: ArrayLike) -> Array:
        """Half-breadth y(x, z)."""
        return np.asarray(self.waterline(x) * (1 - (np.asarray(z, dtype=float) / self.draught_mm) ** 2))

    def slopes(self, x: ArrayLike, z: ArrayLike) -> tuple[Array, Array]:
        """∂y/∂x and ∂y/∂z."""
        share = np.asarray(z, dtype=float) / self.draught_mm
        by_x = -4 * self.beam_mm * np.asarray(x, dtype=float) / self.length_mm**2 * (1 - share**2)
        return np.asarray(by_x), np.asarray(-2 * self.waterline(x) * share / self.draught_mm)

    def bevel(self, x: ArrayLike, z: ArrayLike) -> Array:
        """Slope fore and aft square to the section, above zero where she swells going aft [rad]."""
        by_x, by_z = self.slopes(x, z)
        return np.asarray(np.arctan(by_x / np.sqrt(1 + by_z**2)))

    def curvature(self, x: ArrayLike, z: ArrayLike) -> Array:
        """Curvature of the section, above zero where hollow inboard [1/mm]."""
        _, by_z = self.slopes(x, z)
        return np.asarray(2 * self.waterline(x) / self.draught_mm**2 / (1 + by_z**2) ** 1.5)

    def girth(self, x: ArrayLike, z: ArrayLike = 0.0) -> Array:
        """Length of the section from the keel up to z."""
        k = 2 * self.waterline(x) / self.draught_mm
        share = np.asarray(z, dtype=float) / self.draught_mm
        return np.asarray(self.draught_mm * (_length(k, np.ones_like(k)) + _length(k, share)))

    def volume(self) -> float:
        """Both sides, below the waterline [mm³]."""
        return 4 / 9 * self.length_mm * self.beam_mm * self.draught_mm

    def _share_of_draught(self, k: Array, v: Array) -> Array:
        """z/T at the share v of the girth, by Newton's method."""
        share = v - 1.0
        for _ in range(30):
            share = share - (_length(k, share) - (v - 1) * _length(k, np.ones_like(k))) / np.sqrt(1 + (k * share) ** 2)
        return share

    def point(self, x: ArrayLike, v: ArrayLike) -> Array:
        """Points (..., 3) at station x and the share v of the girth, as `scrieve.geometry.surface.Surface` asks."""
        at, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        z = self.draught_mm * self._share_of_draught(2 * self.waterline(at) / self.draught_mm, v)
        return np.stack([at, self.half_breadth(at, z), z], axis=-1)

    def partials(self, x: ArrayLike, v: ArrayLike) -> tuple[Array, Array]:
        """First derivatives of `point` by x and by v, each (..., 3)."""
        at, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        k = 2 * self.waterline(at) / self.draught_mm
        share = self._share_of_draught(k, v)
        by_x, by_z = self.slopes(at, self.draught_mm * share)
        speed = np.sqrt(1 + (k * share) ** 2)  # of the length by z/T
        k_by_x = -8 * self.beam_mm * at / self.length_mm**2 / self.draught_mm
        whole = np.ones_like(k)
        z_by_x = self.draught_mm * k_by_x * ((v - 1) * _length_by_k(k, whole) - _length_by_k(k, share)) / speed
        z_by_v = self.draught_mm * _length(k, whole) / speed
        return (
            np.stack([np.ones_like(at), by_x + by_z * z_by_x, z_by_x], axis=-1),
            np.stack([np.zeros_like(at), by_z * z_by_v, z_by_v], axis=-1),
        )


def _length(k: Array, share: Array) -> Array:
    """∫√(1 + k²t²) dt from 0 to `share`; k above 0."""
    return np.asarray((share * np.sqrt(1 + (k * share) ** 2) + np.arcsinh(k * share) / k) / 2)


def _length_by_k(k: Array, share: Array) -> Array:
    """∂/∂k of `_length`: ∫k t²/√(1 + k²t²) dt."""
    root = np.sqrt(1 + (k * share) ** 2)
    return np.asarray((share * root - np.arcsinh(k * share) / k) / (2 * k))
