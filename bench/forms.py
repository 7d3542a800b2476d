"""Hull forms with exact answers, of our own making, for benchmarks.

`FORMS` are the three of the bars: Wigley's, a flared round bilge, a hard chine. `MORE` are others, so that the fairing
is not made to suit three.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import comb

import numpy as np

LENGTH = 15000.0


@dataclass(frozen=True)
class Form:
    """A hull by its sections: `section(x, t)` gives (n, 2) for t in 0..1, heel to head; `knuckles`: the t of each."""

    name: str
    section: Callable[[float, np.ndarray], np.ndarray]
    knuckles: tuple[float, ...] = ()

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


def _bezier(t: np.ndarray, *corners: tuple[float, float]) -> np.ndarray:
    """Bézier curve through its first and last corner."""
    n = len(corners) - 1
    weight = np.stack([comb(n, k) * t**k * (1 - t) ** (n - k) for k in range(n + 1)], axis=1)
    return weight @ np.array(corners, dtype=float)


def _double_ender(x: float, t: np.ndarray) -> np.ndarray:
    """Alike at both ends: hollow at the ends, slack-bilged amidships, keel with rocker, springing sheer."""
    u = 2 * x / LENGTH
    beam = 1450 * (1 - u**2) ** 0.7
    keel, deck = 150 * u**4, 1050 + 520 * u**2
    rise = deck - keel
    hollow = 0.10 + 0.35 * u**2  # how far the garboards stand in
    return _bezier(
        t,
        (45, keel),
        (45 + (0.62 - hollow) * beam, keel + 0.08 * rise),
        (45 + 0.98 * beam, keel + 0.28 * rise),
        (45 + 1.02 * beam, keel + 0.62 * rise),
        (45 + beam, deck),
    )


def _two_chines(x: float, t: np.ndarray) -> np.ndarray:
    """Bottom, bilge panel and topside, each slightly rounded; both chines rise forward."""
    u = x / LENGTH
    beam = 1300 * (1 - np.abs(2 * u) ** 2.5) + 180
    fore = 0.5 - u
    corners = np.array(
        [
            (40.0, 130 * (u + 0.5) ** 2),
            (0.55 * beam, 110 + 420 * fore**2.4),
            (0.88 * beam, 430 + 520 * fore**2.2),
            (beam, 1100 + 480 * (u - 0.1) ** 2),
        ]
    )
    which = np.minimum((t * 3).astype(int), 2)
    part = t * 3 - which
    a, b = corners[which], corners[which + 1]
    out = np.array([(16.0, -26.0), (14.0, -14.0), (24.0, -4.0)])[which]
    return a + (b - a) * part[:, None] + out * (4 * part * (1 - part))[:, None]


def _wineglass(x: float, t: np.ndarray) -> np.ndarray:
    """Deep and hollow at the garboards throughout, firm bilge, fuller aft."""
    u = x / LENGTH
    beam = 1350 * (1 - np.abs(2 * u - 0.1) ** 2.4 / 1.1) ** 0.85
    keel = -300 + 260 * (0.5 - u) ** 3
    deck = 950 + 800 * (u - 0.1) ** 2
    rise = deck - keel
    return _bezier(
        t,
        (55, keel),
        (70 + 0.02 * beam, keel + 0.20 * rise),
        (75 + 0.30 * beam, keel + 0.36 * rise),
        (60 + 1.02 * beam, keel + 0.42 * rise),
        (60 + 1.03 * beam, keel + 0.72 * rise),
        (55 + beam, deck),
    )


def _tumblehome(x: float, t: np.ndarray) -> np.ndarray:
    """Full and round, topsides falling in aft, flaring out forward: widest well below the sheer."""
    u = x / LENGTH
    beam = 1600 * (1 - np.abs(2 * u) ** 3.2) ** 0.75
    keel = 90 * (u + 0.5) ** 4
    deck = 1500 + 620 * (u - 0.02) ** 2
    rise = deck - keel
    lean = 1 - 0.20 / (1 + np.exp(-12 * (u - 0.05))) + 0.10 / (1 + np.exp(14 * (u + 0.25)))
    return _bezier(
        t,
        (50, keel),
        (50 + 0.72 * beam, keel + 0.02 * rise),
        (50 + 1.10 * beam, keel + 0.14 * rise),
        (50 + 1.08 * beam, keel + 0.55 * rise),
        (50 + lean * beam, deck),
    )


FORMS = [Form("wigley", _wigley), Form("round bilge", _round), Form("hard chine", _chine, (0.5,))]
MORE = [
    Form("double-ender", _double_ender),
    Form("two chines", _two_chines, (1 / 3, 2 / 3)),
    Form("wineglass", _wineglass),
    Form("tumblehome", _tumblehome),
]
