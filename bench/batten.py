"""The batten's figures: the chosen smoothing, honesty of the ±, suspects, speed: python bench/batten.py"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.interpolate import make_smoothing_spline

sys.path.insert(0, str(Path(__file__).parent))
from frame_curves import FrameCurve, marks_on, random_frame

from scrieve.fairing.batten import lay_batten
from scrieve.fairing.batten_suspects import find_suspects


def smoothing(count: int) -> None:
    """RMS shape error of the chosen smoothing beside the best that could have been chosen knowing the truth."""
    ways: dict[str, list[float]] = {name: [] for name in ("best", "unbiased risk", "cross-validation", "through all")}
    within = []
    for number in range(count):
        rng = np.random.default_rng(number)
        frame = random_frame(rng)
        marks = marks_on(frame, 15, 1.0, rng)
        line = lay_batten(marks, 1.0, judge=False)
        ways["unbiased risk"].append(frame.rms(line.points_mm))
        within.append(np.abs(frame.off(line.points_mm)) < 2 * line.sd_mm)
        ways["cross-validation"].append(frame.rms(lay_batten(marks, judge=False).points_mm))
        ways["through all"].append(frame.rms(lay_batten(marks, smoothing=0, judge=False).points_mm))
        trials = line.smoothing * np.geomspace(1e-3, 1e3, 25)
        errors = [frame.rms(lay_batten(marks, 1.0, smoothing=v, judge=False).points_mm) for v in trials]
        ways["best"].append(min(errors))
    print(f"\nsmoothing, {count} random frames, 15 marks, 1 mm: RMS shape error mm, mean / 95 %, and over the best")
    for name, errors in ways.items():
        over = np.mean(errors) / np.mean(ways["best"])
        print(f"  {name:18s} {np.mean(errors):.3f} / {np.percentile(errors, 95):.2f}   {over:.3f}")
    print(f"  share of the line within 2 sd: {np.mean(np.concatenate(within)):.3f}")


def suspects(count: int) -> None:
    """Slips named, and good marks named."""
    print(f"\nsuspects, {count} seeds each, 15 marks, 1 mm")
    for name, sigma in (("error given", np.ones(15)), ("error not given", None)):
        clean = sum(bool(find_suspects(_marks(n)[1], sigma)) for n in range(count))
        print(f"  {name}: clean sets with any mark named {clean / count:.2%}")
        for size in (5.0, 10.0, 20.0):
            named: dict[str, list[bool]] = {"inner": [], "next to end": [], "end": []}
            false = 0
            for n in range(count):
                frame, marks, rng = _marks(n, offset=10_000)
                which = int(rng.integers(15))
                marks[which] += size * rng.choice([-1, 1]) * frame.square_at(marks[which])
                found = {suspect.mark for suspect in find_suspects(marks, sigma)}
                where = "end" if which in (0, 14) else "next to end" if which in (1, 13) else "inner"
                named[where].append(which in found)
                false += len(found - {which})
            shares = ", ".join(f"{where} {np.mean(hits):.1%}" for where, hits in named.items())
            print(f"    {size:g} mm named: {shares}; good marks named a set {false / count:.3f}")


def _marks(number: int, offset: int = 0) -> tuple[FrameCurve, np.ndarray, np.random.Generator]:
    rng = np.random.default_rng(number + offset)
    frame = random_frame(rng)
    return frame, marks_on(frame, 15, 1.0, rng), rng


def speed() -> None:
    """Milliseconds beside one smoothing spline with its parameter given, on the same 40 marks."""
    rng = np.random.default_rng(3)
    marks = marks_on(random_frame(rng), 40, 1.0, rng)
    x = np.arange(40.0)
    jobs: dict[str, Callable[[], object]] = {
        "make_smoothing_spline, given lam": lambda: make_smoothing_spline(x, marks[:, 1], lam=1.0),
        "batten, given smoothing": lambda: lay_batten(marks, 1.0, smoothing=2e5, judge=False),
        "batten through all marks": lambda: lay_batten(marks, 1.0, smoothing=0, judge=False),
        "batten, smoothing chosen": lambda: lay_batten(marks, 1.0, judge=False),
        "the same with its ± band": lambda: lay_batten(marks, 1.0, judge=False).sd_mm,
        "judge alone": lambda: find_suspects(marks, np.ones(40)),
        "all of it": lambda: lay_batten(marks, 1.0).sd_mm,
    }
    taken: dict[str, list[float]] = {name: [] for name in jobs}
    for turn in range(40):
        for name, job in jobs.items():
            start = time.perf_counter()
            job()
            if turn > 3:
                taken[name].append(1e3 * (time.perf_counter() - start))
    print("\nspeed, 40 marks, ms (median), and over the spline")
    base = np.median(taken["make_smoothing_spline, given lam"])
    for name, times in taken.items():
        print(f"  {name:34s} {np.median(times):7.2f}   {np.median(times) / base:6.2f}")


if __name__ == "__main__":
    speed()
    smoothing(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
    suspects(int(sys.argv[2]) if len(sys.argv) > 2 else 1000)
