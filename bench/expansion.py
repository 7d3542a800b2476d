"""Laying planks flat: CPU time for 80 whole strakes, and errors of edge length against a general-purpose library.

`python bench/expansion.py` prints what docs/planking.md tells under "Expansion".
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "planking"))
sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "published"))

from form_hulls import FormHull
from test_flattening import STRIPS, cell_sizes, mesh, ratio, share_of, square_cells

from scrieve.planking import LiningChoice, line_off
from scrieve.planking.expansion import expand
from scrieve.planking.seams import Strip, strip_between

#: Longest side of a cell, and longest against shortest: beyond these a mesh is too coarse to be a measure.
COARSEST_MM, SLIMMEST = 60.0, 4.1
#: A strip that is strained less lies flat as good as exactly: rounding and chords are all there is to compare.
LEAST_STRAIN = 3e-5


def strakes(name: str, count: int) -> list[Strip]:
    """All strakes of a side of a form, straight across."""
    hull = FormHull(name)
    choice = LiningChoice("side", strakes=count, narrowest_mm=30, end_narrowest_mm=20, widest_mm=400)
    lining = line_off(hull, choice)
    return [strip_between(hull, lining.seams[j], lining.seams[j + 1], name=f"{name}, strake {j + 1}", straight=True)
            for j in range(count)]  # fmt: skip


def against() -> Iterator[tuple[float, str]]:
    """The sum on each mesh in shares of the library's, and which it is."""
    strips = []
    for name in ("round bilge", "wigley"):
        for number, strake in list(enumerate(strakes(name, 14), 1))[:12:3]:
            parts = (
                ("whole", strake),
                ("midship part", share_of(strake, 0.35, 0.65)),
                ("end", share_of(strake, 0.02, 0.3)),
            )
            strips += [(f"{name}, strake {number}, {which}", strip, False) for which, strip in parts]
    for title, strip, round_ in [*strips, *((name, strip, True) for name, strip in STRIPS.items())]:
        if expand(strip).strain_max < LEAST_STRAIN:
            continue
        meshes = [
            (121, 5),
            (241, 5),
            (121, 9),
            (241, 9),
            (481, 9),
            (241, 17),
            square_cells(strip),
            square_cells(strip, 4),
        ]
        for cells in meshes:
            size = cell_sizes(mesh(strip, *cells)[2], *cells)
            if max(size) <= min(COARSEST_MM, SLIMMEST * min(size)):
                yield ratio(strip, cells, on_the_surface=round_), f"{title}, {size[0]:.0f} × {size[1]:.0f}"


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
    told = sorted(against())
    half = told[len(told) // 2][0] - 1
    print(f"{len(told)} meshes: {told[0][0] - 1:+.1%} to {told[-1][0] - 1:+.1%}, half of them under {half:+.1%}")
    for share, which in [one for one in told if one[0] > 1]:
        print(f"  above: {share - 1:+.1%}, {which}")


if __name__ == "__main__":
    main()
