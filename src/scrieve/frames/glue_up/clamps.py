"""The order in which the clamps of a glue-up are set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from scrieve.frames.glue_up.minutes import ClampFrom
from scrieve.frames.packet.closing import ClampPlace, middle_out


@dataclass(frozen=True, slots=True)
class ClampStep:
    """One place in the order clamps are set: `at` is its number from the heel, `s_mm` where it is along the frame,
    `bracket` the bracket there (0: between two), `clamps` how many are set there."""

    order: int
    at: int
    s_mm: float
    bracket: int = 0
    clamps: int = 1


def clamp_order(places: Sequence[ClampPlace], start: ClampFrom = "middle") -> tuple[int, ...]:
    """Numbers of places, from 1 at the heel, in the order clamps are set: brackets from the middle out, as the packet
    is drawn in, or from one end; a place between two brackets once both of them are closed.

    Examples
    --------
    >>> row = [ClampPlace(0, 1), ClampPlace(150), ClampPlace(300, 2), ClampPlace(500, 3), ClampPlace(800, 4)]
    >>> clamp_order(row), clamp_order(row, "heel"), clamp_order(row, "head")
    ((3, 4, 1, 2, 5), (1, 3, 2, 4, 5), (5, 4, 3, 1, 2))
    """
    row = sorted(places, key=lambda place: place.s_mm)
    fixed = [n for n, place in enumerate(row) if place.bracket] or list(range(len(row)))
    order = [fixed[k] for k in middle_out([row[n].s_mm for n in fixed])] if start == "middle" else fixed
    found: list[int] = []
    for n in order if start != "head" else order[::-1]:
        found.append(n)
        at = fixed.index(n)
        for a, b in pairwise(fixed[max(at - 1, 0) : at + 2]):
            if a in found and b in found:
                found += range(a + 1, b)
    found += [n for n in range(len(row)) if n not in found]  # past the end brackets
    return tuple(n + 1 for n in found)


def clamp_steps(places: Sequence[ClampPlace], start: ClampFrom) -> tuple[ClampStep, ...]:
    """Places of clamps in the order they are set; `start` as for `clamp_order`."""
    row = sorted(places, key=lambda place: place.s_mm)
    return tuple(
        ClampStep(i, at, row[at - 1].s_mm, row[at - 1].bracket, row[at - 1].clamps)
        for i, at in enumerate(clamp_order(row, start), start=1)
    )
