"""Learning springback: sets of frames made with a wrong theory, each jig set with what the ones before it taught.

`python bench/learning.py [sets]` prints the table of docs/glue-up.md: every frame is bent, released by the true factor
on the exact curve, measured at 12 places with 1.5 mm of error in a pose of its own, its marks struck
some 5 mm along from where they belong, and read as a builder's would be.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from scrieve.frames.release.learning import Prior, learn, read_spring
from scrieve.frames.release.measured import ALONG_MM, measured_points
from scrieve.frames.shape.displacement import Target, laid
from scrieve.frames.shape.line import from_curvature

FRAMES = 20
SIGMA_MM = 1.5
PLACES = 12


@dataclass(frozen=True)
class Shape:
    """A frame by its wanted curvature, and its computed share of springback."""

    s: np.ndarray
    curvature: np.ndarray
    r: float

    @property
    def target(self) -> Target:
        return Target(self.s, line(self.s, self.curvature))


def line(s: np.ndarray, curvature: np.ndarray) -> np.ndarray:
    return from_curvature(s, curvature, np.zeros(2), 0.1).points_mm


def a_frame(rng: np.random.Generator) -> Shape:
    """2.4 to 3 m, a bilge of R 0.8 to 1.6 m and in half of them a flare; 4, 5 or 6 equal laminations."""
    s = np.linspace(0, rng.uniform(2400, 3000), 301)
    bilge = np.exp(-0.5 * ((s / s[-1] - rng.uniform(0.3, 0.45)) / rng.uniform(0.12, 0.2)) ** 2)
    flare = rng.choice([0.0, rng.uniform(0.2, 0.5)]) * np.exp(-0.5 * ((s / s[-1] - 0.85) / 0.1) ** 2)
    return Shape(s, (bilge - flare) / rng.uniform(800, 1600), 1 / rng.integers(4, 7) ** 2)


def release(shape: Shape, used: float, own: float, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, float]:
    """Bend with one factor, release by another; return points measured, where, and the error of the frame, RMS [mm]."""
    jig = shape.curvature / (1 - used * shape.r)
    came_out = line(shape.s, jig * (1 - own * shape.r))
    target = shape.target
    error = float(np.sqrt(np.mean(laid(target, came_out - target.points_mm) ** 2)))
    at = np.linspace(0, shape.s[-1], PLACES)
    points = np.column_stack([np.interp(at, shape.s, came_out[:, axis]) for axis in (0, 1)])
    points += rng.normal(0, SIGMA_MM, points.shape)
    angle = rng.uniform(-np.pi, np.pi)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return points @ turn.T + rng.uniform(-2000, 2000, 2), at + rng.normal(0, ALONG_MM), error


def one_set(true: float, scatter: float, rng: np.random.Generator, prior: Prior, frames: int = FRAMES):
    """Return errors (frames,) and (factor, sd) known before each."""
    springs, errors, known = [], [], []
    for number in range(frames):
        found = learn(springs, prior)
        shape = a_frame(rng)
        points, at, error = release(shape, found.factor, true + scatter * rng.normal(), rng)
        errors.append(error)
        known.append((found.factor, found.sd))
        target = shape.target
        offsets = measured_points(target, points, SIGMA_MM, s_mm=at)
        jig = shape.curvature / (1 - found.factor * shape.r)
        springs.append(read_spring(target, offsets, shape.r * jig, factor_used=found.factor, frame=str(number + 1)))
    return np.array(errors), np.array(known)


def main(sets: int) -> None:
    print(f"{sets} sets of {FRAMES} frames, {PLACES} places each, {SIGMA_MM} mm; RMS of released error, mm")
    print("| theory wrong by | scatter q | prior | frame 1 | 2 | 3 | 7 | 12 | 20 | 7th / 1st | c within 2 sd |")
    print("|---|---|---|---|---|---|---|---|---|---|---|")
    for wrong in ("N(0, 15 %)", "15 % each way"):
        for scatter in (0.0, 0.03, 0.06):
            for name, prior in (("q found", Prior()), ("q stated", Prior(scatter=scatter))):
                rng = np.random.default_rng(4)
                errors, inside = [], []
                for number in range(sets):
                    true = rng.normal(1, 0.15) if wrong.startswith("N") else 1 + 0.15 * (-1) ** number
                    error, known = one_set(true, scatter, rng, prior)
                    errors.append(error)
                    inside.append(np.mean(np.abs(known[1:, 0] - true) <= 2 * known[1:, 1]))
                rms = np.sqrt(np.mean(np.square(errors), axis=0))
                shown = " | ".join(f"{rms[i]:.2f}" for i in (0, 1, 2, 6, 11, 19))
                print(
                    f"| {wrong} | {scatter:.0%} | {name} | {shown} | {rms[6] / rms[0]:.2f} | {np.mean(inside):.1%} ± "
                    f"{np.std(inside) / np.sqrt(sets):.1%} |",
                    flush=True,
                )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
