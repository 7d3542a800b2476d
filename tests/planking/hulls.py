"""Hulls with closed answers, as planking takes them: a surface, its range, and where its frames stand."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from wigley import Wigley


@dataclass(frozen=True)
class FramedWigley(Wigley):
    """The Wigley hull with frames 1 to 29 every 500 mm, frame 15 amidships."""

    x_range: tuple[float, float] = (-7400.0, 7400.0)
    stations: dict[str, float] = field(default_factory=lambda: {str(i): 500.0 * (i - 15) for i in range(1, 30)})


@dataclass(frozen=True)
class ConeHull:
    """A quarter of a cone about the x axis, keel to side: radius `first_mm` at x = 0, `last_mm` at x = 6000."""

    first_mm: float = 1200.0
    last_mm: float = 800.0
    x_range: tuple[float, float] = (0.0, 6000.0)
    stations: dict[str, float] = field(default_factory=lambda: {str(i): 500.0 * i for i in range(13)})

    def radius(self, x):
        return self.first_mm + (self.last_mm - self.first_mm) * np.asarray(x, dtype=float) / 6000

    def point(self, x, v):
        x, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        angle = np.pi / 2 * v
        return np.stack([x, self.radius(x) * np.sin(angle), -self.radius(x) * np.cos(angle)], axis=-1)

    def partials(self, x, v):
        x, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        angle, grows = np.pi / 2 * v, (self.last_mm - self.first_mm) / 6000
        return (
            np.stack([np.ones_like(x), grows * np.sin(angle), -grows * np.cos(angle)], axis=-1),
            np.pi / 2 * self.radius(x)[..., None] * np.stack([np.zeros_like(x), np.cos(angle), np.sin(angle)], axis=-1),
        )


@dataclass(frozen=True)
class Moved:
    """Another hull shifted aft and up (which no plank may feel)."""

    hull: object
    aft_mm: float
    up_mm: float

    @property
    def x_range(self):
        return tuple(x + self.aft_mm for x in self.hull.x_range)

    @property
    def stations(self):
        return {label: x + self.aft_mm for label, x in self.hull.stations.items()}

    def point(self, x, v):
        return self.hull.point(np.asarray(x) - self.aft_mm, v) + np.array([self.aft_mm, 0, self.up_mm])

    def partials(self, x, v):
        return self.hull.partials(np.asarray(x) - self.aft_mm, v)


@dataclass(frozen=True)
class Reversed:
    """Another hull turned end for end: x runs the other way."""

    hull: object

    @property
    def x_range(self):
        first, last = self.hull.x_range
        return (-last, -first)

    @property
    def stations(self):
        return {label: -x for label, x in self.hull.stations.items()}

    def point(self, x, v):
        return self.hull.point(-np.asarray(x), v) * np.array([-1, 1, 1])

    def partials(self, x, v):
        by_x, by_v = self.hull.partials(-np.asarray(x), v)
        return by_x * np.array([1, -1, -1]), by_v * np.array([-1, 1, 1])


@dataclass(frozen=True)
class TwistedHull:
    """A side of straight frames, 800 mm high, that lean out more and more going aft: 17.2° in a metre."""

    x_range: tuple[float, float] = (0.0, 4000.0)
    stations: dict[str, float] = field(default_factory=lambda: {str(i): 500.0 * i for i in range(9)})

    def point(self, x, v):
        x, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        lean = 0.0003 * (x - 2000)
        return np.stack([x, 1000 + 800 * (v - 0.5) * np.sin(lean), 800 * (v - 0.5) * np.cos(lean)], axis=-1)

    def partials(self, x, v):
        x, v = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        lean, up = 0.0003 * (x - 2000), 800 * (v - 0.5)
        turn = 0.0003 * up
        return (
            np.stack([np.ones_like(x), turn * np.cos(lean), -turn * np.sin(lean)], axis=-1),
            800 * np.stack([np.zeros_like(x), np.sin(lean), np.cos(lean)], axis=-1),
        )
