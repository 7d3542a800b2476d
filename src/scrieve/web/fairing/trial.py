"""A mark moved by way of trial: the line faired again with it there, beside what is stored. Nothing is stored here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadLength, BadMarks
from scrieve.fairing.hull import moved
from scrieve.fairing.result import FairHull, MarkOff
from scrieve.sheets.figures import length, off_by
from scrieve.takeoff.marks import Mark
from scrieve.units import Units, parse_length

#: Shares of the girth at which a line's move is looked for; how many frames either way are told.
_SHARES = np.linspace(0.0, 1.0, 81)
_NEIGHBOURS = 2


@dataclass(frozen=True, slots=True)
class Move:
    """How far the line of one frame moves: the most, outwards above zero, and the height where that is [mm]."""

    frame: str
    most_mm: float
    height_mm: float


@dataclass(frozen=True)
class Trial:
    """A mark moved by way of trial, and what comes of it; lengths in mm.

    `here_mm` is how far the line moves where the mark stood, square to itself, outwards above zero. `before` and
    `after` are how the mark lies to the line as stored and as tried. `frames` are the frame's own move and its
    neighbours', forward to aft. `gained` and `lost` are marks that become suspect, and that no longer are.
    """

    hull: FairHull
    mark: Mark
    here_mm: float
    before: MarkOff
    after: MarkOff
    frames: tuple[Move, ...]
    gained: tuple[int, ...]
    lost: tuple[int, ...]


def readings(mark: Mark, units: Units) -> tuple[str, str]:
    """Return height and half-breadth of a mark as a field shows them."""
    return length(mark.height_mm, units, 1), length(mark.half_breadth_mm, units, 1)


def read(height: str, half_breadth: str, units: Units) -> tuple[float, float]:
    """Return height and half-breadth as typed [mm].

    Raises
    ------
    BadLength
        One of them cannot be read, or the half-breadth is below zero; the message says which.
    """
    lengths = {}
    for name, text in (("height", height), ("half-breadth", half_breadth)):
        if not text.strip():
            raise BadLength(f"{name}: nothing is given; measure both height and half-breadth again.")
        try:
            lengths[name] = parse_length(text, units)
        except BadLength as error:
            raise BadLength(f"{name}: {error}") from error
    if lengths["half-breadth"] < 0:
        raise BadLength(
            f"half-breadth: found {half_breadth!r}; it is measured out from the centreline, not below zero."
        )
    return lengths["height"], lengths["half-breadth"]


def as_shown(height_mm: float, half_breadth_mm: float, units: Units) -> tuple[float, float]:
    """Return a place as the fields can show it: what is tried is what would be stored."""
    height, half = (parse_length(length(value, units, 1), units) for value in (height_mm, max(half_breadth_mm, 0.0)))
    return height, half


def try_mark(hull: FairHull, number: int, height_mm: float, half_breadth_mm: float, *, hold: bool = False) -> Trial:
    """Fair the hull again with one mark moved.

    Parameters
    ----------
    hull : FairHull
        As stored.
    number : int
        The mark.
    height_mm, half_breadth_mm : float
        Where it is tried, as the boat's marks are read.
    hold : bool
        Whether it counts however far it lies off what all others say, as after the answer 'keep'.

    Raises
    ------
    BadMarks
        The mark does not stand in this hull.
    CannotFair
        As `moved`.
    """
    laid = hull.laid
    if laid is None or number not in (mark.number for mark in laid.marks):
        raise BadMarks(f"mark {number} does not count in this hull: it was dropped or measured again, or is not there.")
    start = hull if not hold else replace(hull, laid=replace(laid, answers={**laid.answers, number: "keep"}))
    after = moved(start, number, half_breadth_mm, height_mm)
    assert after.laid is not None
    off, new = (next(one for one in each.offs if one.number == number) for each in (hull, after))
    before, now = (frozenset(one.number for one in each.offs if one.suspect) for each in (hull, after))
    share = float(np.clip(off.v, 0, 1))
    labels = list(hull.stations)
    at = labels.index(off.frame)
    return Trial(
        after,
        next(mark for mark in after.laid.marks if mark.number == number),
        float(_moves(hull, after, hull.stations[off.frame], np.array([share]))[0]),
        off,
        new,
        tuple(_move(hull, after, label) for label in labels[max(at - _NEIGHBOURS, 0) : at + _NEIGHBOURS + 1]),
        tuple(sorted(now - before)),
        tuple(sorted(before - now)),
    )


def _moves(hull: FairHull, after: FairHull, x: float, share: NDArray[np.float64]) -> NDArray[np.float64]:
    at = np.full(len(share), x)
    normal, _ = hull.normal(at, share)
    return np.asarray(((after.fit.value(at, share) - hull.fit.value(at, share)) * normal).sum(axis=1))


def _move(hull: FairHull, after: FairHull, frame: str) -> Move:
    x = hull.stations[frame]
    moves = _moves(hull, after, x, _SHARES)
    most = int(np.abs(moves).argmax())
    return Move(frame, float(moves[most]), float(hull.point(x, _SHARES[most])[2]))


def numbers(trial: Trial, units: Units) -> Mapping[str, object]:
    """Return what a trial comes to as plain values, for JSON."""
    return {
        "line_moves_mm": trial.here_mm,
        "off_before_mm": trial.before.residual_mm,
        "off_mm": trial.after.residual_mm,
        "suspect": trial.after.suspect,
        "frames": [{"frame": m.frame, "most_mm": m.most_mm, "height_mm": m.height_mm} for m in trial.frames],
        "residuals": [
            {
                "id": off.number,
                "residual_mm": off.residual_mm,
                "suspect": off.suspect,
                "text": off_by(off.residual_mm, units) + (" suspect" if off.suspect else ""),
            }
            for off in trial.hull.offs
            if off.frame == trial.mark.frame
        ],
        "suspects_gained": trial.gained,
        "suspects_lost": trial.lost,
    }
