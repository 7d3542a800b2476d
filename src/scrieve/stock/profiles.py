"""Profiles: shapes as upper and lower edges on equal cells along the board, rounded to the safe side.

Two shapes that every upright line meets in one piece clear each other, at a given shift along, exactly when the one is
moved across by no less than the greatest difference of their edges: so a clear place is found by subtraction alone.
A shape that an upright line meets in several pieces is kept as several profiles, one above the other.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, box
from shapely.geometry.base import BaseGeometry

from scrieve.stock.usable import Wood

Array = NDArray[np.float64]

#: More stacked pieces than this are run together.
MOST_PIECES = 4


def shape_profile(shape: BaseGeometry, start_mm: float, cell_mm: float, count: int) -> tuple[Array, Array]:
    """Return the lowest and highest edge of a shape in each cell, rounded outwards.

    Parameters
    ----------
    shape : Polygon or collection of them
    start_mm, cell_mm, count
        Where the first cell begins, the length of each, and how many.

    Returns
    -------
    lower, upper : ndarray (pieces, count)
        [mm]; +inf and -inf in cells in which there is nothing.
    """
    polygons = [part for part in getattr(shape, "geoms", [shape]) if isinstance(part, Polygon) and not part.is_empty]
    if all(_is_plain(part) for part in polygons):
        found = [_plain(np.asarray(part.exterior.coords), start_mm, cell_mm, count) for part in polygons]
    else:
        found = [piece for part in polygons for piece in _stacked(part, start_mm, cell_mm, count)]
    if not found:
        return np.full((1, count), np.inf), np.full((1, count), -np.inf)
    return np.array([low for low, _ in found]), np.array([high for _, high in found])


def wood_profile(wood: Wood, start_mm: float, cell_mm: float, count: int, widen_mm: float) -> tuple[Array, Array]:
    """Return the usable edges in each cell, rounded inwards and then moved outwards by `widen_mm`; (count,) each.

    Cells that lie wholly past an end of the board are without limit: the end itself is held elsewhere.
    """
    ends = start_mm + cell_mm * np.arange(count + 1)
    x = np.unique(np.r_[np.clip(ends, wood.x_mm[0], wood.x_mm[-1]), wood.x_mm])
    low, high = np.interp(x, wood.x_mm, wood.lower_mm), np.interp(x, wood.x_mm, wood.upper_mm)
    lower, upper = np.full(count, -np.inf), np.full(count, np.inf)
    # Each point belongs to the cells on both its sides, so that no cell misses its ends.
    for cells in (np.floor((x - start_mm) / cell_mm - 1e-9), np.floor((x - start_mm) / cell_mm + 1e-9)):
        at = cells.astype(int)
        inside = (at >= 0) & (at < count)
        np.maximum.at(lower, at[inside], low[inside])
        np.minimum.at(upper, at[inside], high[inside])
    return lower - widen_mm, upper + widen_mm


def run_profile(run: Array, start_mm: float, cell_mm: float, count: int) -> tuple[Array, Array]:
    """Return least and greatest slope angle [rad] of a line in each cell, (count,); +inf and -inf where it is not."""
    least, most = np.full(count, np.inf), np.full(count, -np.inf)
    steps = np.diff(run, axis=0)
    angles = np.arctan2(steps[:, 1], steps[:, 0])
    angles = (angles + np.pi / 2) % np.pi - np.pi / 2
    for (a, b), angle in zip(zip(run[:-1, 0], run[1:, 0], strict=True), angles, strict=True):
        first = int(np.floor((min(a, b) - start_mm) / cell_mm - 1e-9))
        last = int(np.floor((max(a, b) - start_mm) / cell_mm + 1e-9))
        cells = slice(max(first, 0), max(last + 1, 0))
        least[cells] = np.minimum(least[cells], angle)
        most[cells] = np.maximum(most[cells], angle)
    return least, most


def grain_profile(breaks: Array, angles: Array, start_mm: float, cell_mm: float, count: int) -> tuple[Array, Array]:
    """Return least and greatest slope angle of a board's grain in each cell, (count,) [rad]."""
    left = start_mm + cell_mm * np.arange(count)
    touched = (breaks[None, :-1] <= left[:, None] + cell_mm + 1e-9) & (breaks[None, 1:] >= left[:, None] - 1e-9)
    least = np.where(touched, angles[None, :], np.inf).min(axis=1)
    most = np.where(touched, angles[None, :], -np.inf).max(axis=1)
    return least, most


def _is_plain(shape: Polygon) -> bool:
    """Whether every upright line meets the shape in one piece: its outline runs along once and back once."""
    if shape.interiors:
        return False
    steps = np.sign(np.diff(np.asarray(shape.exterior.coords)[:, 0]))
    steps = steps[steps != 0]
    return int(np.count_nonzero(steps != np.roll(steps, 1))) <= 2


def _plain(ring: Array, start: float, cell: float, count: int) -> tuple[Array, Array]:
    lower, upper = np.full(count, np.inf), np.full(count, -np.inf)
    a, b = ring[:-1], ring[1:]
    first = np.ceil((np.minimum(a[:, 0], b[:, 0]) - start) / cell)
    last = np.floor((np.maximum(a[:, 0], b[:, 0]) - start) / cell)
    crossed = np.maximum(last - first + 1, 0).astype(int)
    which = np.repeat(np.arange(len(a)), crossed)
    offset = np.arange(len(which)) - np.repeat(np.cumsum(crossed) - crossed, crossed)
    x = start + cell * (first[which] + offset)
    run = b[which, 0] - a[which, 0]
    share = np.where(np.abs(run) > 1e-12, (x - a[which, 0]) / np.where(np.abs(run) > 1e-12, run, 1.0), 0.0)
    y = a[which, 1] + share * (b[which, 1] - a[which, 1])
    x, y = np.r_[a[:, 0], x], np.r_[a[:, 1], y]
    for cells in (np.floor((x - start) / cell - 1e-9), np.floor((x - start) / cell + 1e-9)):
        at = cells.astype(int)
        inside = (at >= 0) & (at < count)
        np.minimum.at(lower, at[inside], y[inside])
        np.maximum.at(upper, at[inside], y[inside])
    return lower, upper


def _stacked(shape: Polygon, start: float, cell: float, count: int) -> list[tuple[Array, Array]]:
    lower, upper = np.full((MOST_PIECES, count), np.inf), np.full((MOST_PIECES, count), -np.inf)
    low, high = shape.bounds[1] - 1, shape.bounds[3] + 1
    first = max(int(np.floor((shape.bounds[0] - start) / cell)), 0)
    last = min(int(np.ceil((shape.bounds[2] - start) / cell)), count)
    for at in range(first, last):
        cut = shape.intersection(box(start + at * cell, low, start + (at + 1) * cell, high))
        spans = sorted((part.bounds[1], part.bounds[3]) for part in getattr(cut, "geoms", [cut]) if not part.is_empty)
        merged: list[list[float]] = []
        for bottom, top in spans:
            if merged and (bottom <= merged[-1][1] or len(merged) == MOST_PIECES):
                merged[-1][1] = max(merged[-1][1], top)
            else:
                merged.append([bottom, top])
        for piece, (bottom, top) in enumerate(merged):
            lower[piece, at], upper[piece, at] = bottom, top
    used = np.isfinite(lower).any(axis=1)
    return list(zip(lower[used], upper[used], strict=True))
