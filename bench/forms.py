"""Hull forms with exact answers, of our own making, for benchmarks.

`FORMS` are the three of the bars: Wigley's, a flared round bilge, a hard chine. `MORE` are others, so that the fairing
is not made to suit three; `INVENTED` are kinds whose measures are drawn by lot.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
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


def _deep_keel(x: float, t: np.ndarray, *lot: float) -> np.ndarray:
    """Wineglass on a deep keel that goes deeper aft."""
    beam0, depth, fine, hollow, bilge, rake, spring = lot
    u = x / LENGTH
    beam = beam0 * (1 - np.abs(2 * u - rake) ** fine / (1 + rake) ** fine) ** 0.85
    keel = -depth * (1.15 * (u + 0.5) + 1 - 1.6 * (u - 0.1) ** 2) / 1.5
    deck = 900 + 200 * spring * (u - 0.08) ** 2
    rise = deck - keel
    return _bezier(
        t,
        (60, keel),
        (62 + 0.01 * beam, keel + 0.24 * rise),
        (70 + hollow * beam, keel + 0.38 * rise),
        (60 + bilge * beam, keel + 0.46 * rise),
        (60 + 1.02 * beam, keel + 0.74 * rise),
        (55 + beam, deck),
    )


def _canoe(x: float, t: np.ndarray, *lot: float) -> np.ndarray:
    """Alike at both ends, sections between a round and a U, ends that rise."""
    beam0, full, fine, high = lot
    u, angle = 2 * x / LENGTH, t * np.pi / 2
    beam = 40 + beam0 * (1 - np.abs(u) ** fine)
    keel, deck = 120 * u**4, 800 + high * np.abs(u) ** 3.2
    power = 2 / (2 + (full - 2) * (1 - u**2))
    return np.column_stack([35 + beam * np.sin(angle) ** power, keel + (deck - keel) * (1 - np.cos(angle) ** power)])


def _barge(x: float, t: np.ndarray, *lot: float) -> np.ndarray:
    """Two chines, a wide flat bottom that sweeps up at both ends, sides nearly upright."""
    beam0, sweep, power, low, out, side, flare = lot
    u = 2 * x / LENGTH
    beam, floor = beam0 * (1 - 0.35 * u**4), sweep * np.abs(u) ** power
    bilge = (out * beam, floor + side * (1 - 0.3 * u**2))
    corners = np.array([(30.0, floor), (low * beam, floor + 25), bilge, ((1 + flare) * beam, 1350 + 200 * u**2)])
    which = np.minimum((t * 3).astype(int), 2)
    part = (t * 3 - which)[:, None]
    bow = np.array([(2.0, -10.0), (10.0, -12.0), (18.0, 0.0)])[which]
    return corners[which] + (corners[which + 1] - corners[which]) * part + bow * (4 * part * (1 - part))


def _skiff(x: float, t: np.ndarray, *lot: float) -> np.ndarray:
    """A transom skiff with one chine: fine forward, nearly as wide at the transom as amidships."""
    beam0, vee, rocker, narrower, flare, chine_rise = lot
    u = x / LENGTH + 0.5  # 0 forward, 1 at the transom
    beam = beam0 * (1 - (1 - u) ** 3.2) * (1 - narrower * u**3)
    keel = rocker * (u - 0.45) ** 2 * 4
    heel = np.array([40.0, keel])
    chine = np.array([40 + flare * beam, keel + vee * beam * 0.6 + chine_rise * (1 - u) ** 2.5])
    head = np.array([60 + beam, 1300 + 700 * (1 - u) ** 2])
    low, high = np.minimum(t, 0.5)[:, None] * 2, (np.maximum(t, 0.5)[:, None] - 0.5) * 2
    points = heel + (chine - heel) * low + (head - chine) * high
    return points + np.array([10.0, -25.0]) * (low * (1 - low)) + np.array([60.0, -10.0]) * (high * (1 - high))


def _ship(x: float, t: np.ndarray, *lot: float) -> np.ndarray:
    """A long full middle body with a firm bilge, ends hollow below and flaring above."""
    beam0, body, bilge, hollow, sheer = lot
    u = 2 * x / LENGTH
    at_water, at_deck = beam0 * (1 - np.abs(u) ** body), beam0 * (1 - 0.55 * np.abs(u) ** (body + 1.5))
    keel, deck = 60 * u**4, 1500 + 150 * sheer * (u - 0.1) ** 2
    rise, full = deck - keel, (1 - np.abs(u) ** 2.2) * bilge
    return _bezier(
        t,
        (50, keel),
        (50 + (0.05 + full * (1 - 0.3 * hollow)) * at_water, keel + 0.01 * rise),
        (50 + (0.3 + 0.78 * full) * at_water, keel + (0.22 - 0.15 * full) * rise),
        (50 + (0.75 + 0.28 * full) * at_water, keel + 0.5 * rise),
        (50 + at_deck, deck),
    )


@dataclass(frozen=True)
class Invented:
    """A kind of hull whose measures are drawn by lot between limits, and how marks are taken off it."""

    name: str
    section: Callable[..., np.ndarray]
    lots: tuple[tuple[float, float], ...]
    frames: int
    marks: int
    scale: float = 1.0
    uneven: float = 0.3
    withheld: tuple[int, ...] = ()
    knuckles: tuple[float, ...] = ()

    def form(self, seed: int) -> Form:
        """The hull of a seed."""
        rng = np.random.default_rng([seed, *self.name.encode()])
        drawn = [float(rng.uniform(*limits)) for limits in self.lots]
        return Form(f"{self.name} {seed}", partial(_drawn, self.section, drawn), self.knuckles)


def _drawn(section: Callable[..., np.ndarray], lot: list[float], x: float, t: np.ndarray) -> np.ndarray:
    return section(x, t, *lot)


INVENTED = (
    Invented(
        "deep keel",
        _deep_keel,
        ((1200, 1700), (500, 1100), (1.8, 2.8), (0.05, 0.35), (0.9, 1.05), (0, 0.12), (2, 5)),
        frames=22,
        marks=14,
        scale=0.8,
        withheld=(5, 10, 16),
    ),
    Invented(
        "canoe",
        _canoe,
        ((900, 1300), (2.0, 2.8), (1.6, 2.4), (150, 500)),
        frames=14,
        marks=10,
        scale=0.4,
        withheld=(4, 9),
    ),
    Invented(
        "barge",
        _barge,
        ((1700, 2300), (300, 900), (2.5, 4.5), (0.72, 0.86), (0.93, 0.99), (250, 450), (-0.05, 0.08)),
        frames=30,
        marks=13,
        scale=1.6,
        withheld=(7, 15, 22),
        knuckles=(1 / 3, 2 / 3),
    ),
    Invented(
        "skiff",
        _skiff,
        ((1500, 2100), (0.10, 0.3), (100, 400), (0.05, 0.3), (0.75, 0.9), (300, 900)),
        frames=6,
        marks=9,
        scale=1 / 3,
        uneven=0.15,
        knuckles=(0.5,),
    ),
    Invented(
        "ship",
        _ship,
        ((1300, 1700), (2.6, 4.0), (0.6, 0.95), (0.2, 0.5), (1.5, 4)),
        frames=80,
        marks=18,
        scale=3.0,
        uneven=0.45,
        withheld=(20, 41, 60),
    ),
)
