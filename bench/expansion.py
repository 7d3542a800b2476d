"""Laying planks flat: CPU time for 80 whole strakes, and errors of edge length against a general-purpose library.

`python bench/expansion.py` prints what docs/planking.md tells under "Expansion".
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "planking"))
sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "published"))

from form_hulls import FormHull
from strakes_by_chance import LEAST_STRAIN, by_chance
from test_flattening import STRIPS, cell_sizes, mesh, ratio, share_of, square_cells

from scrieve.planking import LiningChoice, line_off
from scrieve.planking.curvature import Patch
from scrieve.planking.expansion import expand
from scrieve.planking.seams import Strip, strip_between

#: Longest side of a cell, and longest against shortest: beyond these a mesh is too coarse to be a measure.
COARSEST_MM, SLIMMEST = 60.0, 4.1
#: Points along and across of the meshes, besides those of square cells.
MESHES = ((121, 5), (241, 5), (121, 9), (241, 9), (481, 9), (241, 17))
#: Strakes by chance, as (what they are called, number by chance, how many). The weights of the expansion were chosen on
#: the first, on 16 of number 2 and on one of number 4, not on the others.
BY_CHANCE = (("by chance, weights chosen on them", 1, 24), ("by chance, others", 3, 16), ("by chance, others", 5, 16))


def strakes(name: str, count: int) -> list[Strip]:
    """All strakes of a side of a form, straight across."""
    hull = FormHull(name)
    choice = LiningChoice("side", strakes=count, narrowest_mm=30, end_narrowest_mm=20, widest_mm=400)
    lining = line_off(hull, choice)
    return [strip_between(hull, lining.seams[j], lining.seams[j + 1], name=f"{name}, strake {j + 1}", straight=True)
            for j in range(count)]  # fmt: skip


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
    chance = [(what, [(f"{seed}/{k}", strip) for k, strip in enumerate(by_chance(seed, count), 1)])
              for what, seed, count in BY_CHANCE]  # fmt: skip
    for what, meshes in (("known", known()), *chance):
        told = list(against(meshes))
        for at, way in ((0, "by chords"), (1, "on the surface")):
            shares = sorted(one[at] for one in told)
            under = sum(share <= 1 for share in shares)
            print(f"{what}, lengths {way}: {under} of {len(told)} meshes below; {shares[0] - 1:+.1%} to "
                  f"{shares[-1] - 1:+.1%}, half of them under {shares[len(told) // 2] - 1:+.1%}")  # fmt: skip
        for chords, surface, which in [one for one in told if max(one[:2]) > 1]:
            print(f"  above: chords {chords - 1:+.1%}, on the surface {surface - 1:+.1%}, {which}")


if __name__ == "__main__":
    main()
