"""Hands: on which side of a line a point lies, in the words of the builder."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from scrieve.takeoff.columns import Cells

Hand = Literal["left", "right"]

#: What may be written -> the word kept.
WORDS = {
    "out": "out", "outboard": "out", "in": "in", "inboard": "in",
    "above": "above", "over": "above", "below": "below", "under": "below",
    "left": "left", "right": "right",
}  # fmt: skip
EXPECTED = "out, in, above, below, left or right"

#: 'Above' a line says nothing where the line stands nearer to plumb than this (sine of 6°), nor 'out' of a level one.
_LEAST_SLOPE = 0.1


def lies(cells: Cells, *, needed: bool) -> str:
    """Return the word of the column `lies`; empty where there is none or it is bad."""
    found = cells.text("lies").lower()
    if (needed or found) and found not in WORDS:
        cells.complain("lies", f"on which side the hull lies: {EXPECTED}")
    return WORDS.get(found, "")


def hand(word: str, one: ArrayLike, two: ArrayLike) -> Hand | None:
    """Return the hand on which `word` lies, looking along the line from `one` to `two`, half-breadth right, height up.

    None where the word does not tell: 'above' or 'below' a line that stands plumb, 'out' or 'in' of a level one.

    Examples
    --------
    >>> hand("above", (0, 0), (1000, 0)), hand("out", (0, 0), (0, 1000)), hand("out", (0, 0), (1000, 0))
    ('left', 'right', None)
    """
    if word in ("left", "right"):
        return "left" if word == "left" else "right"
    way = np.subtract(two, one)
    way = way / max(float(np.hypot(*way)), 1e-300)
    upward = {"above": float(way[0]), "below": -float(way[0]), "out": -float(way[1]), "in": float(way[1])}[word]
    if abs(upward) < _LEAST_SLOPE:
        return None
    return "left" if upward > 0 else "right"


def advice(word: str) -> str:
    """Return what to write instead of a word that does not tell."""
    if word in ("above", "below"):
        return f"the line stands plumb, so '{word}' does not tell the side; write out or in"
    return f"the line lies level, so '{word}' does not tell the side; write above or below"
