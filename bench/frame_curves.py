"""Random frame curves for tests and benchmarks of the batten: made from a smooth curvature, so their truth is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class FrameCurve:
    """A dense true line: length s, points as complex numbers, direction."""

    s: np.ndarray
    z: np.ndarray
    way: np.ndarray

    def off(self, points: np.ndarray) -> np.ndarray:
        """Distance of points from the line, square to it."""
        at = points[:, 0] + 1j * points[:, 1]
        near = np.abs(at[:, None] - self.z[None, ::10]).argmin(axis=1) * 10
        for _ in range(3):  # the foot, by steps along the tangent
            along = ((at - self.z[near]) * self.way[near].conj()).real
            near = np.clip(near + np.rint(along / (self.s[1] - self.s[0])).astype(int), 0, len(self.s) - 1)
        return ((at - self.z[near]) * self.way[near].conj()).imag

    def rms(self, points: np.ndarray) -> float:
        """Root mean square of the same, evenly along the line."""
        return float(np.sqrt(np.mean(self.off(points) ** 2)))

    def square_at(self, point: np.ndarray) -> np.ndarray:
        """Unit vector square to the line at the point of it nearest to `point`."""
        near = np.abs(complex(*point) - self.z).argmin()
        return np.array([-self.way[near].imag, self.way[near].real])


def random_frame(rng: np.random.Generator) -> FrameCurve:
    """2.4 to 3.6 m round a bilge of least radius about 0.6 to 2 m, with a hollow at the heel now and then."""
    length = rng.uniform(2400, 3600)
    s = np.linspace(0, length, 6001)
    bilge = rng.uniform(0.35, 0.65) * length
    wide = rng.uniform(0.16, 0.28) * length
    turn = np.radians(rng.uniform(45, 80))
    curvature = turn / (wide * np.sqrt(2 * np.pi)) * np.exp(-(((s - bilge) / wide) ** 2) / 2)
    curvature += rng.normal(0, 6e-5) + rng.normal(0, 1e-4) * np.cos(np.pi * s / length)
    curvature += rng.normal(0, 8e-5) * np.cos(2 * np.pi * s / length) + rng.normal(0, 5e-5) * np.sin(
        3 * np.pi * s / length
    )
    step = s[1] - s[0]
    angle = np.radians(rng.uniform(5, 25)) + np.r_[0.0, np.cumsum((curvature[1:] + curvature[:-1]) / 2 * step)]
    way = np.exp(1j * angle)
    z = np.r_[0.0, np.cumsum(np.exp(1j * (angle[1:] + angle[:-1]) / 2) * step)]
    return FrameCurve(s, z, way)


def marks_on(frame: FrameCurve, count: int, sigma: float, rng: np.random.Generator) -> np.ndarray:
    """Marks about evenly along the line, each with a random error both ways."""
    even = np.linspace(0, 1, count)
    even[1:-1] += rng.uniform(-0.2, 0.2, count - 2) / (count - 1)
    at = np.rint(even * (len(frame.s) - 1)).astype(int)
    z = frame.z[at] + sigma * (rng.normal(size=count) + 1j * rng.normal(size=count))
    return np.column_stack([z.real, z.imag])
