"""Bevels kept in the boat: how a board is written into its record, and which readings stand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any

from scrieve.takeoff.bevels import BevelReading

#: Kind of the record that keeps the readings of one sending.
BEVEL_BOARD = "bevel board"
#: Places nearer to one another than this are one place, read again [mm].
_SAME_PLACE_MM = 0.5


def board_detail(readings: Sequence[BevelReading], source: str) -> dict[str, Any]:
    """Return what the record of one sending holds, in plain values; `source` tells where the readings came from."""
    return {"text": f"{bevels_words(readings)}: {source}", "bevels": [asdict(one) for one in readings]}


def bevels_words(readings: Sequence[BevelReading]) -> str:
    """Say how many readings there are, and on how many frames.

    Examples
    --------
    >>> bevels_words([BevelReading("14", 0.1, "fore", 300.0)])
    '1 bevel on 1 frame'
    """
    frames = len({one.frame for one in readings})
    many = f"{len(readings)} bevel{'' if len(readings) == 1 else 's'}"
    return f"{many} on {frames} frame{'' if frames == 1 else 's'}"


def standing_bevels(details: Iterable[Mapping[str, Any]]) -> tuple[BevelReading, ...]:
    """Return the readings that stand: of one place read twice, the later.

    Parameters
    ----------
    details : iterable of mapping
        What the records hold, oldest first, as `board_detail` gives it.

    Returns
    -------
    tuple of BevelReading
        Without the lines of their files, by frame in the order in which the frames were first read.
    """
    found: dict[object, BevelReading] = {}
    frames: dict[str, int] = {}
    for detail in details:
        for plain in detail["bevels"]:
            one = replace(BevelReading(**plain), line=0)
            frames.setdefault(one.frame, len(frames))
            found[_place(one)] = one
    return tuple(sorted(found.values(), key=lambda one: frames[one.frame]))


def new_bevels(readings: Iterable[BevelReading], standing: Iterable[BevelReading]) -> tuple[BevelReading, ...]:
    """Return the readings that do not stand already just so; the line of a file makes no difference."""
    there = set(standing)
    return tuple(one for one in readings if replace(one, line=0) not in there)


def _place(one: BevelReading) -> object:
    lengths = (one.height_mm, one.girth_mm)
    if lengths == (None, None):
        return one.frame, one.side, one.face, one.label.casefold()
    return one.frame, one.side, one.face, *(None if mm is None else round(mm / _SAME_PLACE_MM) for mm in lengths)
