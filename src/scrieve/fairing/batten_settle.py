"""How a batten comes to rest: Newton steps square to the line, marks pinned or held within limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import lapack

from scrieve.errors import BadGeometry
from scrieve.fairing.batten_shape import PIN, Array, Flags, Index, Rest

#: Steps of this share of the length, square to the line, count as rest.
_REST = 1e-8
#: A limit is kept to this share of the length.
_SLACK = 1e-12


@dataclass(frozen=True, eq=False)
class Settled:
    """A batten at rest: the line, banded Cholesky factor of its Hessian, weights, and at which marks it is held."""

    rest: Rest
    factor: Array
    weight: Array
    pinned: Flags

    def spread(self, unknowns: Index) -> Array:
        """Columns of the inverse Hessian, (M, len(unknowns))."""
        unit = np.zeros((self.rest.layout.size, len(unknowns)))
        unit[unknowns, np.arange(len(unknowns))] = 1.0
        return np.asarray(lapack.dpbtrs(self.factor, unit, lower=1)[0])


def settle(rest: Rest, weight: Array, tolerance: Array, *, rounds: int = 80) -> Settled:
    """Bring a line to its least energy.

    `weight` (m,) is that of each observation; `tolerance` (m,) is infinite where a mark only pulls, zero where the
    line must pass through it, and otherwise how far it may pass from it.

    Raises
    ------
    BadGeometry
        The batten finds no rest.
    """
    hard = tolerance == 0
    limited = np.isfinite(tolerance) & ~hard
    side = np.zeros(len(weight))  # -1, 1: held at that limit
    pull = np.where(hard, 0.0, weight)
    for turn in range(rounds):
        if turn and rest.strays():
            rest = rest.afresh()
        step, factor, side, reaction = _step(rest, pull, hard, limited, side, tolerance)
        lay = rest.layout
        move = np.abs(step)
        share = min(1.0, 0.5 / float(np.max(np.abs(np.diff(step[lay.unknown])) / rest.lengths) + 1e-300))
        size = float(move.max())
        if size < 1e-4:
            rest = rest.moved(step, share)
        else:
            stiff = 2 * float(np.max(np.abs(reaction), initial=0.0))
            bar = np.where(hard | limited, tolerance, np.inf)
            before = _merit(rest, pull, bar, stiff)
            for _ in range(7):
                trial = rest.moved(step, share)
                if _merit(trial, pull, bar, stiff) <= before * (1 + 1e-9):
                    break
                share /= 2
            rest = trial
        if size < _REST and share == 1.0 and not rest.strays():
            return Settled(rest, factor, pull, hard | (side != 0))
    raise BadGeometry(
        "the batten finds no rest on these marks: look for a mark out of order, one far off its neighbours, or an end "
        "set in a direction that doubles back."
    )


def _merit(rest: Rest, weight: Array, bar: Array, stiff: float) -> float:
    over = np.maximum(np.abs(rest.off) - bar, 0.0)
    return rest.energy + 0.5 * float(weight @ rest.off**2) + stiff * float(over.sum())


def _step(
    rest: Rest, pull: Array, hard: Flags, limited: Flags, side: Array, tolerance: Array
) -> tuple[Array, Array, Array, Array]:
    """One Newton step; returns also the factor of its Hessian, which limits bind, and the forces at pins.

    Marks with a tolerance are held by the primal active-set method: from a line that keeps all limits towards the
    best one for the limits now held, stopping at the first new limit; a limit that would rather be left is let go.
    """
    lay, (bent, bending) = rest.layout, rest.system
    slope = bent + np.bincount(lay.seen, pull * rest.off, lay.size)
    stiffest = float(bending[0].max())
    bar = np.where(limited, tolerance, 0.0)

    def solve(pinned: Flags, target: Array) -> tuple[Array, Array]:
        band, rhs = bending.copy(), -slope
        weight = np.where(pinned, PIN * stiffest, pull)
        band[0] += np.bincount(lay.seen, weight, lay.size)
        if pinned.any():
            rhs = rhs + np.bincount(lay.seen, np.where(pinned, weight * (target - rest.off), 0.0), lay.size)
        factor = _factor(band, stiffest)
        return np.asarray(lapack.dpbtrs(factor, rhs, lower=1)[0]), factor

    def press(step: Array) -> Array:
        """Slope of the energy by each mark's miss: below zero, the line would rather pass further left."""
        return (_times(bending, step) + bent)[lay.seen] + pull * (rest.off + step[lay.seen])

    if not limited.any():
        step, factor = solve(hard, np.zeros(len(hard)))
        return step, factor, side, press(step) if hard.any() else np.zeros(1)
    side = np.where(limited & (np.abs(rest.off) >= bar), np.sign(rest.off), side)
    kept, factor = solve(hard | limited, np.where(side != 0, side * bar, rest.off) * limited)
    for _ in range(20 + 10 * int(limited.sum())):
        step, factor = solve(hard | (side != 0), side * bar)
        was, now = rest.off + kept[lay.seen], rest.off + step[lay.seen]
        over = np.flatnonzero(limited & (side == 0) & (np.abs(now) > bar + _SLACK))
        if len(over):
            shares = (np.sign(now[over]) * bar[over] - was[over]) / (now[over] - was[over])
            first = int(np.argmin(shares))
            kept = kept + float(np.clip(shares[first], 0.0, 1.0)) * (step - kept)
            side[over[first]] = np.sign(now[over[first]])
            continue
        kept = step
        force = press(step)
        against = np.where(limited, side * force, 0.0)
        if against.max() <= 1e-9 * float(np.abs(force).max()):
            break
        side[int(np.argmax(against))] = 0.0
    return kept, factor, side, press(kept)


def _factor(band: Array, scale: float) -> Array:
    """Banded Cholesky factor, the matrix stiffened where it is not positive definite."""
    extra = 0.0
    while True:
        factor, bad = lapack.dpbtrf(band, lower=1)
        if not bad:
            return np.asarray(factor)
        more = max(1e-8 * scale, 4 * extra)
        band = band.copy()
        band[0] += more - extra
        extra = more
        if extra > 1e6 * scale:
            raise BadGeometry("the marks do not hold the batten: add marks, or fix an end.")


def _times(band: Array, x: Array) -> Array:
    """Symmetric matrix in lower banded form, times a vector."""
    out = band[0] * x
    for k in range(1, len(band)):
        out[k:] += band[k, :-k] * x[:-k]
        out[:-k] += band[k, :-k] * x[k:]
    return np.asarray(out)
