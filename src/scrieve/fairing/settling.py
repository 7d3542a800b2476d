"""Blunders looked for and taken out, while stiffness and error are learnt from the marks that are left."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from scrieve.fairing.neighbours import weigh_neighbours
from scrieve.fairing.placing import SUSPECT_SD, Placing
from scrieve.fairing.smoother import Fit

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: Up to so many marks, blunders are looked for from two beginnings.
_FEW = 200
#: Of a line so many stations at either end, and of its other marks so many that lie the furthest off, are left out by
#: way of trial; what lies within so many frames of one left out is judged afresh.
_ENDS, _LOOKED, _REACH = 2, 3, 3
#: Accounts of all marks that differ by less (in -2 log likelihood, one in seven) may as well be.
_AS_WELL = 4.0
#: On a line of more than so many marks one with none out beside it is left out in earnest only where the account, with
#: stiffness and error not yet learnt anew, is worse by less than this: good marks make it worse by 14 and more.
_MANY_ON_A_LINE, _PROMISING = 20, 12.0
#: Stations below which no mark of a line can be told to be wrong.
_LEAST = 5


def robust_weights(placing: Placing, fit: Fit, held: Flags) -> tuple[Placing, float]:
    """Weights of a long-tailed error, and the log of (true / stated error) by the median; held marks keep 1."""
    stand = placing.stand
    residual, sd = stand.residual(fit), np.sqrt(stand.stated[:, 0, 0])
    size = np.where(stand.pinned, np.hypot(*residual.T) / np.sqrt(2), np.abs(residual[:, 0])) / sd
    scale = max(1.4826 * float(np.median(size[placing.active])), 1e-3)
    weight = np.where(held, 1.0, 1.0 / (1.0 + (size / (2.5 * scale)) ** 2))
    return replace(placing, stand=replace(stand, weight=weight)), float(np.log(scale))


def settle(
    placing: Placing,
    start: Array,
    stiffness: Array,
    *,
    held: Flags,
    dropped: Flags,
    learn: bool = True,
    weigh: bool = True,
    tick: Callable[[], None] | None = None,
) -> tuple[Fit, Placing]:
    """Fit, with suspects taken out one place at a time, worst first, until no mark is one; then let back who fits.

    `held` marks are never taken out; `dropped` ones never count. `weigh` looks once more at neighbours of blunders.
    """
    fit, placing, z = _round(placing, start, stiffness, held=held, dropped=dropped, learn=learn, tick=tick)
    if weigh:
        weighed = weigh_neighbours(placing, start, fit, z, held=held, dropped=dropped)
        if not np.array_equal(weighed.active, placing.active):
            fit, placing, _ = _round(weighed, start, fit.stiffness, held=held, dropped=dropped, learn=learn, tick=tick)
    return fit, placing


def first_look(
    placing: Placing,
    start: Array,
    stiffness: Array,
    *,
    held: Flags,
    dropped: Flags,
    tick: Callable[[], None] | None = None,
) -> tuple[Fit, Placing]:
    """Look for blunders among all marks before anything is known of the stiffness and the error."""
    everything = placing = replace(placing, active=~dropped)
    fit = placing.problem(start).solve(stiffness)
    for _ in range(4):
        placing, log_scale = robust_weights(placing, fit, held)
        stiffness = np.array([stiffness[0], stiffness[1], np.clip(log_scale, -6.0, 3.0)])
        fit = placing.problem(start).solve(stiffness)
    fit = placing.problem(start).learn(stiffness, to=0.5, tick=tick)
    # judged afresh from all marks, now that the stiffness and the error are known
    placing, fit, _ = _take_out(everything, start, everything.problem(start).solve(fit.stiffness), held)
    if placing.active.sum() > _FEW:
        return fit, placing
    # on few marks a floppy surface may pass through blunders and call them the shape: begin also from the stiffness
    # that a hull usually has, and keep the better account of all marks
    best = _round(placing, start, fit.stiffness, held=held, dropped=dropped, learn=True, tick=tick)[:2]
    usual = np.array([*placing.stand.grid.usual, 0.0])
    placing, fit, _ = _take_out(everything, start, everything.problem(start).solve(usual), held, learnt=False)
    other = _round(placing, start, usual, held=held, dropped=dropped, learn=True, tick=tick)[:2]
    return min((best, other), key=lambda pair: pair[1].account(start, pair[0], dropped))


def leave_out(placing: Placing, start: Array, fit: Fit, *, held: Flags, dropped: Flags) -> tuple[Fit, Placing]:
    """Leave marks of a line out in turn, learn anew each time, and keep what is the likelier account of all.

    A line may run through a blunder, and is then learnt to be so slack, or its marks so wrong, that the blunder no
    longer stands out; or the blame falls on a good mark beside it. Without it both are seen. Tried are those at the
    ends, and those that lie the furthest off a line as stiff as usual, or off this one. Where either of two near ones
    may as well be the wrong one, neither counts.
    """
    x, stations = placing.stand.x, np.unique(placing.stand.x)
    if len(stations) < _LEAST:
        return fit, placing
    usual = np.array([*placing.stand.grid.usual, 0.0])
    every = replace(placing, active=~dropped)
    off_usual = every.judge(every.problem(start).solve(usual), learnt=False)
    ends = np.isin(x, [*stations[:_ENDS], *stations[-_ENDS:]])
    least = placing.account(start, fit, dropped)
    for _ in range(1 + len(x) // 8):
        far = np.concatenate([np.argsort(-z)[:_LOOKED] for z in (off_usual, placing.judge(fit))])
        tried = (ends | np.isin(np.arange(len(x)), far)) & ~held & ~dropped
        found = [(least, fit, placing)]
        for mark in np.flatnonzero(tried).tolist():
            gone = dropped.copy()
            gone[mark] = True  # it stays out: how it lies then is weighed by the account
            afresh = np.abs(x - x[mark]) <= _REACH * placing.stand.near_mm
            left = replace(placing, active=placing.active & ~gone)
            blamed = np.flatnonzero(afresh & ~placing.active & ~dropped).tolist()
            if blamed == [mark]:
                continue  # it is out, and nothing beside it
            if len(x) > _MANY_ON_A_LINE and not blamed:
                as_learnt = left.problem(start).solve(fit.stiffness)
                if left.account(start, as_learnt, dropped) > least + _PROMISING:
                    continue
            left = replace(left, active=(placing.active | afresh) & ~gone)
            other, there, _ = _round(left, start, usual, held=held, dropped=gone, learn=True, tick=None)
            found.append((there.account(start, other, dropped), other, there))
        cost, fit, placing = min(found, key=lambda one: one[0])
        likely = [there.active for other, _, there in found if other < cost + _AS_WELL]
        # another to blame, not one more
        as_well = [active for active in likely if active.sum() == placing.active.sum()]
        if len(as_well) > 1:
            placing = replace(placing, active=np.logical_and.reduce(as_well))
            fit = placing.problem(start).solve(fit.stiffness)
        if cost >= least:
            break
        least = cost
    return fit, placing


def _round(
    placing: Placing,
    start: Array,
    stiffness: Array,
    *,
    held: Flags,
    dropped: Flags,
    learn: bool,
    tick: Callable[[], None] | None,
) -> tuple[Fit, Placing, Array]:
    """Learn, take out, let back in, until nothing changes; gives also how far each mark lies off, in sd."""
    fit: Fit | None = None
    for turn in range(4):
        learning = learn and turn < 2
        fit = (
            placing.problem(start).learn(stiffness, tick=tick) if learning else fit or _solve(placing, start, stiffness)
        )
        stiffness, before = fit.stiffness, placing.active
        placing, fit, z = _take_out(placing, start, fit, held)
        back = ~placing.active & ~dropped & (z < 0.97 * SUSPECT_SD)
        same = np.array_equal(before, placing.active | back)
        if not back.any() and (same or not learn or turn > 0):
            return fit, placing, z  # the fit is that of the marks that are left, and nothing more is to be learnt
        placing = replace(placing, active=placing.active | back)
        fit = None if back.any() else fit
        if same:
            break
    fit = fit or _solve(placing, start, stiffness)
    return fit, placing, placing.judge(fit)


def _solve(placing: Placing, start: Array, stiffness: Array) -> Fit:
    return placing.problem(start).solve(stiffness)


def _take_out(
    placing: Placing, start: Array, fit: Fit, held: Flags, *, learnt: bool = True
) -> tuple[Placing, Fit, Array]:
    """Take out suspects: each time the worst of its neighbourhood, never two that may explain each other.

    Gives the fit that is left, and how far each mark lies off what the others say, in standard deviations.
    """
    x, v = placing.stand.x, placing.stand.v
    near = placing.stand.near_mm
    for _ in range(20):
        z = placing.judge(fit, learnt=learnt)
        out = np.flatnonzero((z > SUSPECT_SD) & placing.active & ~held)
        if not out.size:
            return placing, fit, z
        active = placing.active.copy()
        while out.size:
            worst = out[np.argmax(z[out])]
            active[worst] = False
            out = out[(np.abs(x[out] - x[worst]) > near) | (np.abs(v[out] - v[worst]) > 0.3)]
        placing = replace(placing, active=active)
        fit = placing.problem(start).solve(fit.stiffness)
    return placing, fit, placing.judge(fit, learnt=learnt)
