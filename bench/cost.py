"""What fairing costs: time beside scipy on the same marks in the same run, on one core and on two, and memory."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from accuracy import BOAT
from forms import FORMS, Form
from frame_curves import marks_on, random_frame
from planted import take_off
from scipy.interpolate import RBFInterpolator, make_smoothing_spline

from scrieve.fairing import fair, moved
from scrieve.fairing.batten import lay_batten


@dataclass(frozen=True)
class Time:
    """Median seconds of a job: by the clock, and of all cores' work."""

    wall: float
    cpu: float


def timed(job: Callable[[], object], rounds: int) -> Time:
    walls, cpus = [], []
    for _ in range(rounds):
        wall, cpu = time.perf_counter(), time.process_time()
        job()
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
    return Time(float(np.median(walls)), float(np.median(cpus)))


def hull_times(forms: Sequence[Form], rounds: int, frames: int = 60, marks: int = 20) -> dict[str, dict[str, Time]]:
    """Form -> job -> time, for frames x marks with 2 % blunders, on the cores that this process may use."""
    made = {}
    for form in forms:
        take = take_off(form, 0, frames=frames, marks=marks, wrong_share=0.02)
        hull = fair(take.marks, BOAT)
        middle = take.marks[len(take.marks) // 2 + 4]
        heel = next(mark for mark in take.marks if mark.frame == str(frames // 3))
        x = np.array([mark.station_mm for mark in take.marks])
        points = np.array([(mark.half_breadth_mm, mark.height_mm) for mark in take.marks])
        inputs = np.column_stack([x / np.ptp(x), [off.v for off in hull.offs]])
        jobs: dict[str, Callable[[], object]] = {
            "fair": lambda marks=take.marks: fair(marks, BOAT),
            "moved 3 mm": lambda h=hull, m=middle: moved(h, m.number, m.half_breadth_mm + 3, m.height_mm),
            "moved 100 mm": lambda h=hull, m=middle: moved(h, m.number, m.half_breadth_mm + 100, m.height_mm),
            "heel moved": lambda h=hull, m=heel: moved(h, m.number, m.half_breadth_mm, m.height_mm + 20),
            "RBF": lambda at=inputs, p=points: RBFInterpolator(at, p, kernel="thin_plate_spline", smoothing=1e-4)(at),
        }
        made[form.name] = {name: timed(job, rounds if name == "fair" else 2 * rounds) for name, job in jobs.items()}
    return made


def on_one_core(forms: Sequence[Form], rounds: int) -> dict[str, dict[str, Time]]:
    """The same, this process held to one core meanwhile."""
    if not hasattr(os, "sched_setaffinity"):
        return {}
    cores = os.sched_getaffinity(0)
    try:
        os.sched_setaffinity(0, {max(cores)})
        return hull_times(forms, rounds)
    finally:
        os.sched_setaffinity(0, cores)


def batten_times(rounds: int = 60) -> dict[str, Time]:
    rng = np.random.default_rng(3)
    marks = marks_on(random_frame(rng), 40, 1.0, rng)
    x = np.arange(40.0)
    jobs: dict[str, Callable[[], object]] = {
        "make_smoothing_spline, given lam": lambda: make_smoothing_spline(x, marks[:, 1], lam=1.0),
        "batten, given smoothing": lambda: lay_batten(marks, 1.0, smoothing=2e5, judge=False),
        "batten, smoothing chosen": lambda: lay_batten(marks, 1.0, judge=False),
        "batten, chosen, ± and suspects": lambda: lay_batten(marks, 1.0).sd_mm,
    }
    for job in jobs.values():
        timed(job, 3)
    return {name: timed(job, rounds) for name, job in jobs.items()}


def memory_mb() -> dict[str, float]:
    """Most memory [MB] of one fairing of 60 x 20 marks: what it took itself, and the whole of a fresh process."""
    take = take_off(FORMS[1], 0, frames=60, marks=20, wrong_share=0.02)
    tracemalloc.start()
    fair(take.marks, BOAT)
    own = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    fresh = subprocess.run([sys.executable, __file__], capture_output=True, text=True, check=True).stdout
    return {"its own": own, "whole process": float(fresh)}


if __name__ == "__main__":
    fair(take_off(FORMS[1], 0, frames=60, marks=20, wrong_share=0.02).marks, BOAT)
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000)
