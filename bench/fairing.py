"""How near the fair hull comes to the truth, what it finds of planted blunders, and what that costs.

Run: python bench/fairing.py [seeds]. Three forms with exact answers; marks with 1.5 mm error both ways, 2 % of them
10 to 300 mm out; 25 frames x 14 marks, three inner frames withheld. The general-purpose reference, on the same marks in
the same run, is scipy's make_smoothing_spline along lines of equal girth share. It has no way to find blunders, so it
is given the marks as they were before the blunders were planted.
"""

from __future__ import annotations

import itertools
import resource
import sys
import time
import tracemalloc

import numpy as np
from forms import FORMS, Form
from planted import Take, departures, take_off
from scipy.interpolate import make_smoothing_spline
from scipy.spatial import cKDTree

from scrieve.boat import Boat
from scrieve.fairing import fair

WITHHELD = (6, 11, 17)
BOAT = Boat("bench", sigma_mm=1.5)


def lines_of_equal_share(take: Take, lines: int = 41) -> dict[float, np.ndarray]:
    """The reference: each frame smoothed by its chord length, then each of `lines` equal shares along the hull."""
    share = np.linspace(0, 1, lines)
    stations, shapes = [], []
    for frame in dict.fromkeys(mark.frame for mark in take.marks):
        here = [i for i, mark in enumerate(take.marks) if mark.frame == frame]
        points = np.array([(take.marks[i].half_breadth_mm, take.marks[i].height_mm) for i in here])
        corner = [k for k, i in enumerate(here) if take.marks[i].kind == "knuckle"]
        length = np.r_[0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
        cuts = [0, *corner, len(points) - 1]
        shares = np.linspace(0, 1, len(cuts))  # a knuckle stands at one share on all frames
        parts = []
        for (a, b), (low, high) in zip(itertools.pairwise(cuts), itertools.pairwise(shares), strict=True):
            inner = share[(share >= low - 1e-12) & ((share < high - 1e-12) | (high == 1))]
            at = length[a] + (inner - low) / (high - low) * (length[b] - length[a])
            way, piece = length[a : b + 1], points[a : b + 1]
            fits = [
                make_smoothing_spline(way, axis)(at) if len(way) >= 5 else np.interp(at, way, axis) for axis in piece.T
            ]
            parts.append(np.column_stack(fits))
        stations.append(take.marks[here[0]].station_mm)
        shapes.append(np.vstack(parts))
    x, shape = np.array(stations), np.stack(shapes)
    at = take.stations[list(take.withheld)]
    gone = np.stack(
        [[make_smoothing_spline(x, shape[:, k, axis])(at) for axis in (0, 1)] for k in range(lines)], axis=1
    )  # (2, lines, withheld)
    return {float(station): gone[:, :, k].T for k, station in enumerate(at)}


def trial(form: Form, seed: int) -> dict[str, float]:
    take = take_off(form, seed, wrong_share=0.02, withheld=WITHHELD)
    began = time.process_time()
    hull = fair(take.marks, BOAT)
    seconds = time.process_time() - began
    gone = [departures(hull, form, take.stations[k]) for k in WITHHELD]
    met = [departures(hull, form, x) for k, x in enumerate(take.stations) if k not in WITHHELD]
    off = np.concatenate([a for a, _ in gone])
    inside = np.concatenate([a < 2 * b for a, b in gone + met])
    suspects = {mark.number - 1 for mark in hull.suspects}
    planted = set(np.flatnonzero(np.abs(take.wrong) > 12).tolist())
    good = set(np.flatnonzero(take.wrong == 0).tolist())
    began = time.process_time()
    reference = lines_of_equal_share(take_off(form, seed, withheld=WITHHELD))  # the same, none wrong
    other = np.concatenate([cKDTree(form.dense(x, 20_001)[0]).query(points)[0] for x, points in reference.items()])
    return {
        "withheld rms": float(np.sqrt(np.mean(off**2))),
        "worst": float(off.max()),
        "measured rms": float(np.sqrt(np.mean(np.concatenate([a for a, _ in met]) ** 2))),
        "in 2 sd %": 100 * float(inside.mean()),
        "planted": len(planted),
        "named": len(planted & suspects),
        "false %": 100 * len(good & suspects) / len(good),
        "cpu s": seconds,
        "ref. rms": float(np.sqrt(np.mean(other**2))),
        "ref. worst": float(other.max()),
        "ref. cpu s": time.process_time() - began,
    }


def memory_mb() -> float:
    take = take_off(FORMS[0], 0, withheld=WITHHELD)
    tracemalloc.start()
    fair(take.marks, BOAT)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def main(seeds: int) -> None:
    print("All lengths in mm; worst is the worst of all seeds, the rest are means over", seeds, "seeds.\n")
    heads: list[str] = []
    for form in FORMS:
        runs = [trial(form, seed) for seed in range(seeds)]
        if not heads:
            heads = list(runs[0])
            print("| form | " + " | ".join(heads) + " |\n|" + "---|" * (len(heads) + 1))
        total = {name: [run[name] for run in runs] for name in heads}
        cells = []
        for name in heads:
            worst, whole = name.endswith("worst"), name in ("planted", "named")
            value = max(total[name]) if worst else sum(total[name]) if whole else float(np.mean(total[name]))
            cells.append(
                f"{value:.0f}" if whole else f"{value:.2f}" if "rms" in name or " s" in name else f"{value:.1f}"
            )
        print(f"| {form.name} | " + " | ".join(cells) + " |", flush=True)
    print(f"\nMost memory taken by one fairing of 22 x 14 marks: {memory_mb():.0f} MB; ", end="")
    print(f"whole process, with scipy: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000:.0f} MB.")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
