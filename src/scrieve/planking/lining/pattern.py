"""The pattern of widths before the lines are faired: how a frame's girth is shared out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scrieve.planking.lining.choice import End, LiningChoice
from scrieve.planking.lining.girth import Girths
from scrieve.planking.lining.limits import by_curvature
from scrieve.planking.seams import station_of

Array = NDArray[np.float64]

#: A stealer reaches its full width over this share of the region, from its nib.
TAPER_SHARE = 0.3


def tapered(x: Array, nib: int, end: End) -> Array:
    """Share of its full width (k,) that a stealer has, from 0 at its nib rising smoothly inwards."""
    inwards = (x - x[nib]) * (1 if end == "first" else -1)
    t = np.clip(inwards / (TAPER_SHARE * (x[-1] - x[0])), 0, 1)
    return np.asarray(t * t * (3 - 2 * t))


def pattern_of(choice: LiningChoice, girths: Girths, low: Array, high: Array, share: Array, below: int) -> Array:
    """Widths (n, k) that share out the girth from `low` to `high` (k,) by the chosen rule.

    `share` (n, k) is what part of its width each strake keeps where stealers taper; `below` counts the strakes under
    the region, for the rows of set widths.
    """
    count, frames = share.shape
    weight = np.ones((count, frames))
    if choice.rule == "as set":
        x, rows = [], []
        for given in choice.set_widths:
            row = np.array([np.nan if w is None else w for w in given.widths_mm[below : below + count]], dtype=float)
            if np.isfinite(row).any():
                x.append(station_of(girths.hull, given.frame))
                rows.append(np.where(np.isfinite(row), row, np.nanmean(row)) / np.nanmean(row))
        if rows:
            order = np.argsort(x)
            for j in range(count):
                weight[j] = np.interp(girths.x, np.array(x)[order], np.array(rows)[order, j])
    elif choice.rule == "by curvature":
        width = by_curvature(choice, girths)
        for k in range(frames):
            edges = np.clip(girths.girth[k], low[k], high[k])
            sum_up = np.concatenate([[0.0], np.cumsum(np.diff(edges) / width[k])])
            at = np.interp(np.linspace(0, sum_up[-1], count + 1), sum_up, edges)
            weight[:, k] = np.diff(at)
    weight = weight * share
    return np.asarray(np.maximum(weight / weight.sum(axis=0) * (high - low), 1e-6))
