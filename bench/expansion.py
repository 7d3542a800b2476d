"""Laying planks flat: CPU time for 80 whole strakes, and errors of edge length against a general-purpose library.

`python bench/expansion.py` prints what docs/planking.md tells under "Expansion".
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "planking"))
sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "published"))

from form_hulls import FormHull
from test_flattening import STRIPS, cell_sizes, mesh, ratio, share_of, square_cells

from scrieve.errors import BadPlank
from scrieve.planking import LiningChoice, line_off
from scrieve.planking.curvature import Patch
from scrieve.planking.expansion import Array, expand
from scrieve.planking.ruled import ruled_strip
from scrieve.planking.seams import Strip, strip_between

#: Longest side of a cell, and longest against shortest: beyond these a mesh is too coarse to be a measure.
COARSEST_MM, SLIMMEST = 60.0, 4.1
#: A strip that is strained less lies flat as good as exactly: rounding and chords are all there is to compare.
LEAST_STRAIN = 3e-5
#: A strip that is strained more is no plank.
MOST_STRAIN = 3e-3
#: Points along and across of the meshes, besides those of square cells.
MESHES = ((121, 5), (241, 5), (121, 9), (241, 9), (481, 9), (241, 17))
#: Strakes by chance.
SEED, BY_CHANCE = 1, 24


def strakes(name: str, count: int) -> list[Strip]:
    """All strakes of a side of a form, straight across."""
    hull = FormHull(name)
    choice = LiningChoice("side", strakes=count, narrowest_mm=30, end_narrowest_mm=20, widest_mm=400)
    lining = line_off(hull, choice)
    return [strip_between(hull, lining.seams[j], lining.seams[j + 1], name=f"{name}, strake {j + 1}", straight=True)
            for j in range(count)]  # fmt: skip


def by_chance(seed: int, count: int) -> Iterator[Patch]:
    """Strakes of smooth doubly curved forms, all by chance: fullness, flare, sheer, length, width and taper.

    The weights of the expansion were not chosen on these.
    """
    rng = np.random.default_rng(seed)
    t, found = np.linspace(-1, 1, 81), 0
    while found < count:
        long = rng.uniform(5000, 16000)
        beam, deep = rng.uniform([0.12, 0.09], [0.2, 0.15]) * long
        full, fine, skew, flare = rng.uniform([-0.5, -0.3, -0.25, -0.2], [0.5, 0.3, 0.25, 0.3])
        power = 2 * rng.integers(1, 4)
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


def against(strips: Iterable[tuple[str, Patch]]) -> Iterator[tuple[float, float, str]]:
    """The sum on each mesh in shares of the library's, by chords and by lengths on the surface, and which it is."""
    for title, strip in strips:
        if expand(strip).strain_max < LEAST_STRAIN:
            continue
        for cells in (*MESHES, square_cells(strip), square_cells(strip, 4)):
            size = cell_sizes(mesh(strip, *cells)[2], *cells)
            if max(size) <= min(COARSEST_MM, SLIMMEST * min(size)):
                chords, surface = (ratio(strip, cells, on_the_surface=on) for on in (False, True))
                yield chords, surface, f"{title}, {size[0]:.0f} × {size[1]:.0f}"


def known() -> Iterator[tuple[str, Patch]]:
    """Strakes and parts of them, and the round strips of the tests."""
    for name in ("round bilge", "wigley"):
        for number, strake in list(enumerate(strakes(name, 14), 1))[:12:3]:
            parts = (
                ("whole", strake),
                ("midship part", share_of(strake, 0.35, 0.65)),
                ("end", share_of(strake, 0.02, 0.3)),
            )
            yield from ((f"{name}, strake {number}, {which}", strip) for which, strip in parts)
    yield from STRIPS.items()


def main() -> None:
    strips = [strake for name in ("round bilge", "wigley") for count in (10, 14, 16) for strake in strakes(name, count)]
    start = time.process_time()
    strains = [expand(strip).strain_max for strip in strips]
    took = time.process_time() - start
    print(f"{len(strips)} strakes laid flat in {took:.2f} s of CPU; greatest strain {max(strains):.3%}")
    sums = sorted(ratio(strip, square_cells(strip)) - 1 for strip in strips)
    print(
        f"their sums on meshes of square cells, eight across, against the library's: {sums[0]:+.1%} to {sums[-1]:+.1%}"
    )
    chance = ((f"by chance {number}", strip) for number, strip in enumerate(by_chance(SEED, BY_CHANCE), 1))
    for what, meshes in (("known", known()), ("by chance", chance)):
        told = list(against(meshes))
        for at, way in ((0, "chords"), (1, "on the surface")):
            shares = sorted(one[at] for one in told)
            under = sum(share <= 1 for share in shares)
            print(f"{what}, lengths by {way}: {under} of {len(told)} meshes below; {shares[0] - 1:+.1%} to "
                  f"{shares[-1] - 1:+.1%}, half of them under {shares[len(told) // 2] - 1:+.1%}")  # fmt: skip
        for chords, surface, which in [one for one in told if max(one[:2]) > 1]:
            print(f"  above: chords {chords - 1:+.1%}, on the surface {surface - 1:+.1%}, {which}")


if __name__ == "__main__":
    main()
