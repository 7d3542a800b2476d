"""Hull forms with exact answers, of our own making, for benchmarks: Wigley's, a flared round bilge, a hard chine."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

LENGTH = 15000.0


@dataclass(frozen=True)
class Form:
    """A hull by its sections: `section(x, t)` gives (n, 2) for t in 0..1, heel to head; `knuckle` is its t, if any."""

    name: str
    section: Callable[[float, np.ndarray], np.ndarray]
    knuckle: float | None = None

    def dense(self, x: float, n: int = 2001) -> tuple[np.ndarray, np.ndarray]:
        """Points and arc length of a section."""
        points = self.section(x, np.linspace(0, 1, n))
        s = np.r_[0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
        return points, s


def _wigley(x: float, t: np.ndarray) -> np.ndarray:
    z = -1200 + 1200 * t
    return np.column_stack([1500 * (1 - (2 * x / LENGTH) ** 2) * (1 - (z / 1200) ** 2), z])


def _round(x: float, t: np.ndarray) -> np.ndarray:
    """A flared round bilge: fine and hollow forward, fuller aft, with a rising sheer."""
    u = x / LENGTH  # -0.5 forward, 0.5 aft
    beam = 1550 * (1 - np.abs(2 * u) ** 2.6) ** 0.8 + 260 * (u + 0.5)
    flare = 0.22 * (0.5 - u) ** 2
    deck = 1250 + 900 * (u - 0.08) ** 2 + 250 * (0.5 - u) ** 3
    keel = 120 * (u + 0.5) ** 3
    full = 2.3 + 1.4 * np.exp(-(((u - 0.05) / 0.28) ** 2))
    angle = t * np.pi / 2
    out = np.sin(angle) ** (2 / full * 1.15) if full else np.sin(angle)
    up = 1 - np.cos(angle) ** (2 / full * 1.6)
    return np.column_stack([60 + (beam - 60) * (out * (1 - flare) + flare * t**2.2), keel + (deck - keel) * up])


def _chine(x: float, t: np.ndarray) -> np.ndarray:
    u = x / LENGTH
    beam = 1400 * (1 - np.abs(2 * u) ** 2.4) + 200
    chine = np.array([beam * 0.82, 250 + 700 * (0.5 - u) ** 2.5])
    heel = np.array([40.0, 120 * (u + 0.5) ** 2])
    head = np.array([beam, 1150 + 500 * (u - 0.1) ** 2])
    low = np.minimum(t, 0.5)[:, None] * 2
    high = (np.maximum(t, 0.5)[:, None] - 0.5) * 2
    bow = 40 * np.array([0.4, -1.0])
    points = heel + (chine - heel) * low + (head - chine) * high
    return points + bow * (low * (1 - low)) + np.array([35.0, -5.0]) * (high * (1 - high))


FORMS = [Form("wigley", _wigley), Form("round bilge", _round), Form("hard chine", _chine, 0.5)]
