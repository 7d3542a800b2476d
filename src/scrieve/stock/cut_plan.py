"""The values of cutting to length: what is wanted, what there is, and how it is cut; lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Piece:
    """One length to be cut, how many, and the width of strip it is cut from; lengths in mm."""

    length_mm: float
    count: int = 1
    width_mm: float = 1.0
    name: str = ""


@dataclass(frozen=True, slots=True)
class Stock:
    """One kind of board: clear length and width, how many, and what each costs."""

    length_mm: float
    count: int
    width_mm: float = 1.0
    cost: float = 1.0
    name: str = ""


@dataclass(frozen=True, slots=True)
class Strip:
    """One strip off a board: its width, and the pieces cut from it in turn (indices into the pieces asked for)."""

    width_mm: float
    pieces: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class CutBoard:
    """One board as it is cut: which kind, and its strips."""

    stock: int
    strips: tuple[Strip, ...]


@dataclass(frozen=True, slots=True)
class CutPlan:
    """Every board to be cut.

    `proved` tells that no plan costs less, lengths rounded up and stock down to `grid_mm`; it is never said where not
    every way of ripping a board was looked at. `short` are the pieces for which there is no board, (index, count) each.
    """

    boards: tuple[CutBoard, ...]
    cost: float
    proved: bool
    grid_mm: float
    short: tuple[tuple[int, int], ...] = ()
