"""Which of some neighbouring marks are wrong: told by weighing every choice of them, not one mark after the other.

Two blunders side by side hide each other, or throw the blame on the good mark between them. So around every mark that
lies far off, it and its neighbours on the frame are all taken out, and what the rest of the hull says there is asked.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from scrieve.fairing.placing import SUSPECT_SD, SUSPECT_SD_PINNED, Placing, Stand
from scrieve.fairing.smoother import Fit

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Index = NDArray[np.intp]

#: Marks this many standard deviations out are looked at together with their neighbours, so many on either hand.
_LOOK_SD = 2.8
_REACH = 2


def weigh_neighbours(placing: Placing, start: Array, fit: Fit, z: Array, *, held: Flags, dropped: Flags) -> Placing:
    """Choose anew which marks count, wherever some lie far off.

    For each choice of the wrong ones the rest are compared with what the hull without any of them foretells:
    −2 log likelihood is eᵀV⁻¹e + log |V|, and a mark called wrong costs the square of what a suspect must reach.

    Parameters
    ----------
    placing, start, fit
        As `settle` has them, with the marks that count so far.
    z : ndarray (n,)
        How far each mark lies off what the others say, in standard deviations.
    held, dropped : ndarray of bool (n,)
        Marks that always count, and never.
    """
    groups = _groups(placing, z, dropped)
    if not groups:
        return placing
    active = placing.active.copy()
    active[np.concatenate(groups)] = False
    if active.sum() < 0.5 * placing.active.sum():
        return placing
    rest = replace(placing, active=active)
    without = rest.problem(start).solve(fit.stiffness)
    for group in groups:
        wrong = _best(rest.stand.take(group), without, held[group])
        active[group] = ~wrong
    return replace(placing, active=active)


def _groups(placing: Placing, z: Array, dropped: Flags) -> list[Index]:
    """Groups of neighbours on one frame, or along a line, far enough apart from each other to be weighed alone."""
    stand = placing.stand
    x, v = stand.x, stand.v
    line = stand.grid.is_line
    far = np.flatnonzero(~dropped & (~placing.active | (z > _LOOK_SD)))
    groups: list[Index] = []
    for i in far[np.argsort(-z[far])]:
        if any(np.abs(x[g] - x[i]).min() <= stand.near_mm and np.abs(v[g] - v[i]).min() < 0.15 for g in groups):
            continue  # too near a group that is weighed already
        beside = np.flatnonzero((line | (np.abs(x - x[i]) < 0.05)) & ~dropped)
        way = x if line else v
        below, above = beside[way[beside] < way[i]], beside[way[beside] > way[i]]
        near = [*below[np.argsort(-way[below])][:_REACH], i, *above[np.argsort(way[above])][:_REACH]]
        groups.append(np.array(near, dtype=np.intp))
    # one alone that is far enough out stays out whatever is weighed
    return [g for g in groups if np.isin(g, far).sum() > 1 or z[g].max() < 2.5 * SUSPECT_SD]


def _best(part: Stand, fit: Fit, held: Flags) -> Flags:
    """Which marks of a group are most likely wrong (bool, one each)."""
    count = len(part.x)
    residual = part.residual(fit)
    ways = [(k, way) for k in range(count) for way in ((0, 1) if part.pinned[k] else (0,))]
    mark, way = np.array(ways).T
    index, value = part.grid.rows(part.x[mark], part.v[mark], part.directions[mark, way])
    rows = np.zeros((fit.grid.blocks * fit.grid.block, len(ways)))
    np.put_along_axis(rows, index.T, value.T, axis=0)
    spread = rows.T @ fit.factor.solve(rows)
    stated = part.stated * fit.error_scale**2
    same = mark[:, None] == mark[None, :]
    cover = spread + np.where(same, stated[mark[:, None], way[:, None], way[None, :]], 0.0)
    miss = residual[mark, way]
    best, least = np.zeros(count, bool), np.inf
    for choice in itertools.product((False, True), repeat=count):
        wrong = np.array(choice)
        if np.any(wrong & held):
            continue
        good = ~wrong[mark]
        # a mark called wrong still has its own place: it costs what a suspect must reach, and its own spread
        cost = float(np.sum(np.where(part.pinned, SUSPECT_SD_PINNED, SUSPECT_SD)[wrong] ** 2))
        cost += float(np.log(np.diagonal(cover))[~good].sum())
        if good.any():
            kept = cover[np.ix_(good, good)]
            cost += float(np.linalg.slogdet(kept)[1] + miss[good] @ np.linalg.solve(kept, miss[good]))
        if cost < least:
            best, least = wrong, cost
    return best
