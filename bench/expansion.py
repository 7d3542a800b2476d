"""Laying planks flat: CPU time for 80 whole strakes of the forms of the bench.

`python bench/expansion.py` prints what docs/planking.md tells under "Expansion".
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "planking"))

from form_hulls import FormHull

from scrieve.planking import LiningChoice, line_off
from scrieve.planking.expansion import expand
from scrieve.planking.seams import strip_between


def main() -> None:
    strips = []
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


if __name__ == "__main__":
    main()
