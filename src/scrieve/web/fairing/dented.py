"""Frames that stand in or out as a whole, as the pages tell them until the builder has said that the hull is so."""

from __future__ import annotations

from collections import defaultdict
from functools import partial

from scrieve.athand import AtHand
from scrieve.fairing import Dent, dents
from scrieve.fairing.result import FairHull
from scrieve.web.fairing.look import By
from scrieve.web.views import View

_dented: AtHand[tuple[Dent, ...]] = AtHand(8)


def open_dents(view: View, hull: FairHull | None, by: By = "") -> tuple[Dent, ...]:
    """Return the frames of a hull that stand in or out, the worst first, but for those of which every mark is kept.

    Parameters
    ----------
    view : View
    hull : FairHull, optional
        That of both sides, or of the side `by` alone.
    """
    if hull is None:
        return ()
    found = _dented.get((view.kept.hull_revision, by), partial(dents, hull))
    kept = {number for number, what in view.kept.answers.items() if what == "keep"}
    return tuple(each for each in found if not kept.issuperset(each.marks))


def opposed(found: tuple[Dent, ...]) -> tuple[str, ...]:
    """Return the frames of which port stands to one side and starboard to the other: they lie on two lines."""
    ways: defaultdict[str, dict[str, float]] = defaultdict(dict)
    for each in found:
        ways[each.frame].setdefault(each.side, each.off_mm)
    return tuple(frame for frame, side in ways.items() if side.get("P", 0.0) * side.get("S", 0.0) < 0)
