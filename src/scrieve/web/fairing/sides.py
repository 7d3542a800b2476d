"""Both sides as one, or each by itself: when the page advises against the first, and the hull of one side alone."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

import numpy as np

from scrieve.errors import ScrieveError
from scrieve.fairing.result import FairHull
from scrieve.frames.choice import MadeFrom
from scrieve.takeoff.marks import Mark
from scrieve.web.fairing.look import By
from scrieve.web.studies import Studies
from scrieve.web.views import View

#: Suspects on one side of a frame, all others of it being in order, that look like a side thrown out; and on how many
#: frames, before it is said.
_SUSPECTS, _FRAMES = 3, 3
#: The middle departures of the two sides further apart than this many stated errors are no matter of measuring.
_APART_SD = 8.0


def lopsided(marks: Sequence[Mark], hull: FairHull) -> tuple[str, ...]:
    """Return the frames on which port and starboard do not belong to one hull; empty if few.

    Where they differ by many times the measuring error, fairing them as one has to doubt one of them, which may be
    another at each frame, or to call all marks bad and pass between them. So a frame is told of where one side's marks
    are doubted in numbers and none of the other's, or where the middle departures of the two lie far apart. Slips of
    the hand do not choose a side.

    Parameters
    ----------
    marks : sequence of Mark
        Those the hull was laid through.
    hull : FairHull
        Both sides as one.
    """
    there = {(mark.frame, mark.side) for mark in marks}
    count = Counter((off.frame, off.side) for off in hull.suspects)
    off: defaultdict[tuple[str, str], list[float]] = defaultdict(list)
    for each in hull.offs:
        off[each.frame, each.side].append(each.residual_mm)

    def doubted(frame: str) -> bool:
        fewer, more = sorted((count[frame, "P"], count[frame, "S"]))
        return fewer == 0 and more >= _SUSPECTS

    def apart(frame: str) -> bool:
        middle = [float(np.median(off[frame, side])) for side in "PS"]
        return abs(middle[0] - middle[1]) > _APART_SD * hull.boat.sigma_mm

    both = [frame for frame in hull.stations if {(frame, "P"), (frame, "S")} <= there]
    found = tuple(frame for frame in both if doubted(frame) or apart(frame))
    return found if len(found) >= _FRAMES else ()


def hull_by(view: View, by: By, patience_s: float) -> tuple[FairHull | None, ScrieveError | None]:
    """Return the hull of one side by itself, or why there is none; neither while it is being faired.

    It is begun if need be, and waited for at most `patience_s`.
    """
    kept = view.kept
    side: MadeFrom = "port" if by == "P" else "starboard"
    studies: Studies = view.request.app.state.studies
    own = studies.get(view.state.revision, ("by itself", side), lambda tick: kept.hull(tick, side), patience_s)
    return own.value, own.error
