"""Laying planks flat: CPU time for 80 whole strakes, and errors of edge length against a general-purpose library.

`python bench/expansion.py` prints what docs/planking.md tells under "Expansion".
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "planking"))
sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "published"))

from form_hulls import FormHull
from test_flattening import STRIPS, cell_sizes, drawn_on_the_surface, mesh, misfit, rival, square_cells

from scrieve.planking import LiningChoice, line_off
from scrieve.planking.expansion import expand
from scrieve.planking.mesh_flat import flatten_mesh
from scrieve.planking.seams import Strip, strip_between


def main() -> None:
    strips: list[Strip] = []
    for name in ("round bilge", "wigley"):
        hull = FormHull(name)
        for strakes in (10, 14, 16):
            lining = line_off(hull, LiningChoice("side", strakes=strakes, narrowest_mm=30, end_narrowest_mm=20,
                                                 widest_mm=400))  # fmt: skip
            strips += [strip_between(hull, lining.seams[j], lining.seams[j + 1], name=f"strake {j + 1}", straight=True)
                       for j in range(strakes)]  # fmt: skip
    start = time.process_time()
    strains = [expand(strip).strain_max for strip in strips]
    took = time.process_time() - start
    print(f"{len(strips)} strakes laid flat in {took:.2f} s of CPU; greatest strain {max(strains):.3%}")
    against = []
    for strip in strips:
        u, w, space, triangles = mesh(strip, *square_cells(strip))
        flat = expand(strip).flat(u, w).reshape(-1, 2)
        against.append(misfit(space, flat, triangles) / misfit(space, rival(space, triangles, flat), triangles) - 1)
    print(f"their spline maps on meshes of square cells, eight across: {min(against):+.1%} to {max(against):+.1%}")
    for name, patch in STRIPS:
        for cells in ((61, 5), (121, 9), (241, 17), (241, 5), (481, 9), (961, 17)):
            u, w, space, triangles = mesh(patch, *cells)
            size = cell_sizes(space, *cells)
            maps = [expand(patch, cells=one).flat(u, w).reshape(-1, 2) for one in ((1, 1), size)]
            theirs, true = rival(space, triangles, maps[0]), drawn_on_the_surface(patch, u, w, triangles)
            told = [misfit(space, flat, triangles, by) / misfit(space, theirs, triangles, by) - 1
                    for flat, by in ((maps[0], None), (maps[1], None), (maps[1], true),
                                     (flatten_mesh(space, triangles, maps[1]), None))]  # fmt: skip
            print(f"{name}, {cells[0]} × {cells[1]}, cells {size[0]:.0f} × {size[1]:.0f} mm: "
                  f"spline map {told[0]:+.1%}, made for the cells {told[1]:+.1%}, so by lengths on the surface "
                  f"{told[2]:+.1%}, mesh alone {told[3]:+.1%}")  # fmt: skip


if __name__ == "__main__":
    main()
