"""Lining off on the bench's forms: time of the sum and of the whole, fairness against equal division, limits met.

`python bench/lining.py` prints the table of docs/lining-off.md, "Measured".
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "planking"))

from form_hulls import FormHull

from scrieve.planking.lining import lines as lining_lines
from scrieve.planking.lining.choice import LiningChoice
from scrieve.planking.lining.line_off import ground_of, line_off, task_on


def best_ms(run, times: int = 7) -> float:
    """Shortest of several runs [ms]."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        took.append(time.perf_counter() - start)
    return 1000 * min(took)


def main() -> None:
    print("form          strakes  limits      one sum ms  whole ms  off mm (equal)  step mm (equal)  passed mm")
    for name in ("round bilge", "wigley"):
        hull = FormHull(name)
        for strakes in (10, 14, 18):
            free = line_off(
                hull, LiningChoice("side", strakes=strakes, narrowest_mm=30, end_narrowest_mm=20, widest_mm=400)
            )
            low, high = np.nanmin(free.width_mm), np.nanmax(free.width_mm)
            mean, fullest = float(np.nanmean(free.width_mm)), float(free.girth_mm[-1].max()) / strakes
            tight = max(high - 0.06 * (high - mean), 1.004 * fullest)
            for said, narrow, wide in (
                ("none bite", 0.6 * low, 1.5 * high),
                ("both bite", low + 0.2 * (mean - low), tight),
            ):
                choice = LiningChoice("side", strakes=strakes, narrowest_mm=narrow + 0.01, end_narrowest_mm=narrow,
                                      widest_mm=wide)  # fmt: skip
                lining = line_off(hull, choice)
                task, _ = task_on(ground_of(hull, choice), choice)
                start = task.unknowns.spread(task.unknowns.gather(np.concatenate(
                    [np.zeros((1, len(task.girths.x))), np.cumsum(task.pattern, axis=0)])))  # fmt: skip
                rows, limits = lining_lines._sums(task, start), lining_lines._bounds(task, start)
                one = best_ms(lambda: lining_lines.least_squares_within(*rows, *limits))  # noqa: B023
                whole = best_ms(lambda: line_off(hull, choice), 3)  # noqa: B023
                off = [max(seam.off_mm for seam in fair[1:-1]) for fair in (lining.fairness, lining.equal)]
                step = [max(seam.change_mm for seam in fair[1:-1]) for fair in (lining.fairness, lining.equal)]
                passed = max(float(np.nanmax(lining.width_mm - wide)), float(np.nanmax(narrow - lining.width_mm)), 0.0)
                print(f"{name:13} {strakes:7}  {said:10} {one:11.1f} {whole:9.0f}  {off[0]:6.2f} ({off[1]:5.2f})  "
                      f"{step[0]:7.2f} ({step[1]:5.2f})  {passed:9.4f}")  # fmt: skip


if __name__ == "__main__":
    main()
