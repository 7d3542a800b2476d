"""One frame line on a flat plank."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PlankNail:
    """A nail, or its hole in the frame, as pricked on the spiling batten: x along the datum line, y square to it [mm].

    `frame` is empty where none was named. `to_edge_mm` is how far it lies within the nearest edge; below zero off the
    plank.
    """

    frame: str
    x_mm: float
    y_mm: float
    to_edge_mm: float


@dataclass(frozen=True, slots=True)
class PlankFrame:
    """One frame line on the flat plank; lengths in mm, None where it is not known (no hull, no radius given)
    or, for `hollow_mm`, not cut (a thin skin).

    `lower_mm` and `upper_mm` are the points (x, y) where the frame line meets the edges: x along the straight datum
    line, y the offset square to it, as set off at the bench. `width_mm` is their distance,
    `girth_mm` the width along the frame, as a tape laid on it reads. Bevels are measured from
    square to the board's face, above zero where the plank must be wider outside than inside ('standing'), the seam's
    opening already taken off. `hollow_mm` is the backing-out, below zero where the inside must be rounded instead;
    `radius_mm` the frame's radius across the plank, below zero where the hull is hollow there.
    """

    label: str
    station_mm: float | None
    lower_mm: tuple[float, float]
    upper_mm: tuple[float, float]
    width_mm: float
    lower_bevel_rad: float | None
    upper_bevel_rad: float | None
    hollow_mm: float | None
    radius_mm: float | None
    girth_mm: float | None = None
