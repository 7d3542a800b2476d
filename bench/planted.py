"""Marks taken off a form as a builder would: scattered, unevenly spaced, some of them wrong, some frames withheld."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from forms import LENGTH, Form
from scipy.spatial import cKDTree

from scrieve.fairing import FairHull
from scrieve.takeoff.marks import Mark


@dataclass(frozen=True)
class Take:
    """What was taken off: all stations, the marks of those not withheld, how far wrong each was made [mm] (0: not)."""

    form: Form
    stations: np.ndarray
    marks: list[Mark]
    wrong: np.ndarray
    withheld: tuple[int, ...]


def take_off(
    form: Form,
    seed: int = 0,
    *,
    frames: int = 25,
    marks: int = 14,
    sigma_mm: float = 1.5,
    wrong_share: float = 0.0,
    withheld: tuple[int, ...] = (),
    named_ends: bool = True,
    scale: float = 1.0,
    uneven: float = 0.15,
    wrong: dict[tuple[int, int], float] | None = None,
    slid: dict[tuple[int, int], float] | None = None,
) -> Take:
    """Take marks off `form`: stations jittered, marks uneven along the girth, `wrong_share` of them 10-300 mm out.

    `wrong` plants given misses, (frame, mark) -> mm outwards, besides, and `slid` the same along the frame, headwards.
    `scale` makes the whole boat larger; `uneven` is how far a station may stray, as a share of the spacing.
    """
    rng = np.random.default_rng(seed)
    x = np.linspace(-0.46, 0.46, frames) * LENGTH
    x[1:-1] += rng.uniform(-uneven, uneven, frames - 2) * (x[1] - x[0])
    made, miss = [], []
    for frame, station in enumerate(x):
        points, s = form.dense(station)
        s = s / s[-1]
        v = np.linspace(0, 1, marks)
        v[1:-1] += rng.uniform(-0.3, 0.3, marks - 2) / (marks - 1)
        corners = []
        for knuckle in form.knuckles:
            at = np.interp(knuckle, np.linspace(0, 1, len(s)), s)
            free = [i for i in range(1, marks - 1) if i not in corners]
            corners.append(min(free, key=lambda i: abs(v[i] - at)))
            v[corners[-1]] = at
        true = np.column_stack([np.interp(v, s, points[:, axis]) for axis in (0, 1)])
        ahead = np.column_stack([np.interp(v + 1e-3, s, points[:, axis]) for axis in (0, 1)])
        behind = np.column_stack([np.interp(v - 1e-3, s, points[:, axis]) for axis in (0, 1)])
        tangent = (ahead - behind) / np.hypot(*(ahead - behind).T)[:, None]
        off = rng.normal(0, 1, (marks, 2)) * sigma_mm
        amount = np.exp(rng.uniform(np.log(10), np.log(300), marks)) * rng.choice([-1, 1], marks)
        amount *= rng.uniform(size=marks) < wrong_share
        for (at_frame, at_mark), mm in (wrong or {}).items():
            if at_frame == frame:
                amount[at_mark % marks] = mm / scale
        along = np.zeros(marks)
        for (at_frame, at_mark), mm in (slid or {}).items():
            if at_frame == frame:
                along[at_mark % marks] = mm / scale
        if frame in withheld:
            continue
        found = true * scale + off + amount[:, None] * scale * np.column_stack([tangent[:, 1], -tangent[:, 0]])
        found += along[:, None] * scale * tangent
        for i, (y, z) in enumerate(found):
            kind = "knuckle" if i in corners else "heel" if i == 0 else "head" if i == marks - 1 else ""
            if not named_ends and kind != "knuckle":
                kind = ""
            made.append(
                Mark(
                    str(frame),
                    float(station * scale),
                    float(z),
                    float(abs(y)),
                    kind=kind,
                    sigma_mm=sigma_mm or None,
                    number=len(made) + 1,
                )
            )
            miss.append(np.hypot(amount[i], along[i]) * scale if along[i] else amount[i] * scale)
    return Take(form, x * scale, made, np.array(miss), withheld)


def departures(hull: FairHull, form: Form, station: float, scale: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    """How far points along the section lie off the true line, square to it [mm], and their stated sd."""
    section = hull.section(float(station), points=200)
    true = form.dense(station / scale, 40_001)[0] * scale
    return cKDTree(true).query(section.points_mm)[0], section.sd_mm
