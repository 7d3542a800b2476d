"""Strakes of smooth doubly curved forms, by chance: what a plank of a hull that nobody has thought of looks like."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scrieve.errors import BadPlank
from scrieve.planking.curvature import Patch
from scrieve.planking.expansion import Array, expand
from scrieve.planking.ruled import ruled_strip

#: A strip that is strained less lies flat as good as exactly: rounding and chords are all there is to compare.
LEAST_STRAIN = 3e-5
#: A strip that is strained more is no plank.
MOST_STRAIN = 3e-3


def by_chance(seed: int, count: int) -> Iterator[Patch]:
    """Strakes of smooth doubly curved forms, all by chance: fullness, flare, sheer, length, width and taper.

    Of every number by chance always the same strakes.
    """
    rng = np.random.default_rng(seed)
    t, found = np.linspace(-1, 1, 81), 0
    while found < count:
        long = rng.uniform(5000, 16000)
        beam, deep = rng.uniform([0.12, 0.09], [0.2, 0.15]) * long
        full, fine, skew, flare = rng.uniform([-0.5, -0.3, -0.25, -0.2], [0.5, 0.3, 0.25, 0.3])
        power = 2 * int(rng.integers(1, 4))
        run = rng.uniform(0.2, 0.9) * long
        x = rng.uniform(-0.46 * long, 0.46 * long - run) + run * (t + 1) / 2

        def half_breadth(
            x: Array, z: Array, g: tuple[float, ...] = (long, beam, deep, full, fine, skew, flare, power)
        ) -> Array:
            long, beam, deep, full, fine, skew, flare, power = g
            at, down = x / (long / 2), -z / deep
            below = 1 - down**power * (1 - 0.5 * fine * at * at)
            return beam * (1 - at * at) * (1 + full * at * at + skew * at) * below * (1 + flare * (1 - down) * at * at)

        z = np.linspace(-0.97 * deep, 0, 601)
        y = half_breadth(x[:, None], z[None])
        girth = np.column_stack([np.zeros(81), np.cumsum(np.hypot(np.diff(y), np.diff(z)), axis=1)])
        low, wide = rng.uniform(0.03, 0.85), rng.uniform(90, 250) / np.median(girth[:, -1])
        sweep, taper = rng.uniform(-0.06, 0.06, 2), rng.uniform(-0.25, 0.25, 2)
        shares = [
            low + sweep[0] * t + sweep[1] * t * t + k * wide * (1 + taper[0] * t + taper[1] * t * t) for k in (0, 1)
        ]
        if np.min(y) <= 0 or np.min(shares) < 0.005 or np.max(shares) > 0.995:
            continue
        edges = []
        for share in shares:
            read = [np.interp(a * g[-1], g, z) for a, g in zip(share, girth, strict=True)]
            height = np.polynomial.Chebyshev.fit(x, read, 8)(x)
            edges.append(np.column_stack([x, half_breadth(x, height), height]))
        strip = ruled_strip(*edges)
        try:
            if LEAST_STRAIN <= expand(strip).strain_max <= MOST_STRAIN:
                found += 1
                yield strip
        except BadPlank:
            continue
