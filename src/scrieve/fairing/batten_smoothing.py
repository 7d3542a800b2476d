"""How stiff the batten should be: from the measuring error where it is known, from the marks themselves where not.

About the batten at rest its answer to the marks is linear, so one small symmetric matrix tells for every stiffness how
far it would miss the marks (χ²) and how many freedoms it would use (tr A). The best one is laid, and asked again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scrieve.fairing.batten_settle import Settled, settle
from scrieve.fairing.batten_shape import Rest, Task

Array = NDArray[np.float64]

_ROUNDS = 12
#: Cross-validation is made robust by this share (1: not at all), or it follows errors of few marks now and then:
#: Lukas, Inverse Problems 22 (2006) 1883, R-GCV.
_ROBUST = 0.2
#: Misses below this share of the length are none.
_NOTHING = 1e-9
#: The stiffest batten worth telling from a straight edge, by its weight of marks.
_STRAIGHT = 1e-4
#: Stiffness is sought among these multiples of the last one.
_SEARCH = np.geomspace(1e-3, 1e3, 121)


@dataclass(frozen=True, eq=False)
class Stiffness:
    """What a stiffness costs: χ² of the marks, freedoms used (tr A), the measuring error that the marks show."""

    chi2: float
    freedoms: float
    noise: float


def reckon(settled: Settled, sigma: Array, *, known: bool) -> Stiffness:
    """χ², tr A and measuring error of a batten at rest; marks held in place are no part of them."""
    missed, answer = _answer(settled, sigma)
    if not len(missed):
        return Stiffness(0.0, float(np.count_nonzero(settled.pinned)), 1.0 if known else np.nan)
    chi2, freedoms = float(missed @ missed), float(np.trace(answer))
    noise = 1.0 if known else float(np.sqrt(chi2 / max(len(missed) - freedoms, 1e-9)))
    return Stiffness(chi2, freedoms, noise)


def _answer(settled: Settled, sigma: Array) -> tuple[Array, Array]:
    """Miss of each mark that pulls [σ], and how the line there answers to each mark (the matrix A)."""
    seen = (settled.weight > 0) & ~settled.pinned
    unknowns = settled.rest.layout.seen[seen]
    root = np.sqrt(settled.weight[seen])
    answer = root[:, None] * settled.spread(unknowns)[unknowns] * root if len(root) else np.zeros((0, 0))
    return settled.rest.off[seen] / sigma[seen], (answer + answer.T) / 2


def _best(missed: Array, answer: Array, nothing: float, known: bool) -> float:
    """Multiple of the present stiffness with least χ² + 2 tr A, or least cross-validated miss."""
    if not len(missed):
        return 1.0
    share, modes = np.linalg.eigh(answer)
    mu, a = 1 / np.clip(share, 1e-13, 1 - 1e-13) - 1, modes.T @ missed
    x = _SEARCH
    real = mu[mu > 1e-7 * mu.max()]
    x = x[(x * mu.max() >= 1e-2) & (x * real.min() <= 1e4)]
    if not len(x):
        return 1.0
    kept = 1 / (1 + np.multiply.outer(x, mu))
    chi2 = ((a * x[:, None] * (1 + mu) * kept) ** 2).sum(axis=1)
    freedoms = kept.sum(axis=1)
    if known:
        score = chi2 + 2 * freedoms
    else:
        left = np.maximum(1 - freedoms / len(mu), 1e-12)
        robust = _ROBUST + (1 - _ROBUST) * np.mean(kept**2, axis=1)
        score = np.log(chi2 + nothing) - 2 * np.log(left) + np.log(robust)
    best = int(np.argmin(score))
    if 0 < best < len(x) - 1:  # the parabola through three neighbours
        low, mid, high = score[best - 1 : best + 2]
        bow = low - 2 * mid + high
        shift = 0.5 * (low - high) / bow if bow > 0 else 0.0
        return float(x[best] * (x[1] / x[0]) ** shift)
    return float(x[best])


def weigh(value: float, sigma: Array) -> Array:
    """Weight of each observation for a stiffness; one beyond a straight edge counts as a straight edge."""
    return np.asarray(1 / (min(value, 1 / (_STRAIGHT * float(np.mean(sigma**2)))) * sigma**2))


def choose(task: Task, sigma: Array, tolerance: Array, *, known: bool) -> tuple[Settled, float]:
    """Lay the batten with the stiffness that the measuring error, or cross-validation, asks for.

    `sigma` (m,) is the error of each observation in units of the batten's length.
    """
    count = len(task.marks)
    value = count / (4 * np.pi) ** 4 / float(np.mean(sigma**2))
    nothing = float(np.sum((_NOTHING / sigma) ** 2))
    rest: Rest | None = None
    for _ in range(_ROUNDS):
        laid = value
        weight = weigh(value, sigma)
        if rest is None:
            rest = task.start(weight[:count], tolerance[:count] == 0)
        settled = settle(rest, weight, tolerance)
        rest = settled.rest
        factor = _best(*_answer(settled, sigma), nothing, known)
        if abs(np.log(factor)) < 0.01:
            break
        value *= factor
    return settled, laid
