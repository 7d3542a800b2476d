"""Stealers: strakes that end within the run, where the girth has no room for all."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadPlank
from scrieve.planking.lining.choice import End, LiningChoice, Stealer
from scrieve.planking.lining.limits import least_widths
from scrieve.planking.lining.line_off import Ground, ground_of, task_on
from scrieve.planking.lining.lines import Lines, Task, lines
from scrieve.planking.lining.result import Lining
from scrieve.planking.lining.verdicts import KEPT_MM
from scrieve.planking.seams import Hull, place

Array = NDArray[np.float64]


#: Told of each stealer in turn: what is tried, and the share that is done; it may raise to stop.
Tick = Callable[[str, float], None]
#: Of the strakes looked at in one pass, so many are tried to the end.
_TRIED = 3


def propose_stealers(hull: Hull, choice: LiningChoice, tick: Tick | None = None) -> tuple[Stealer, ...]:
    """Stealers that the girth calls for, beside those already chosen.

    From the greatest girth towards each end: at the first frame where the strakes would have to be narrower than is
    allowed, one of them ends at the frame before, with a nib; and so on. Which strake it is, is settled by trying each
    inner one and keeping that with which the lines pass the fewest limits and bend least edgewise: all in one pass,
    and those that do best in it to the end.

    Returns
    -------
    tuple of Stealer
        All stealers, those chosen first; as they are where the girth has room for all.

    Raises
    ------
    BadPlank, NoSuchFrame
        As `line_off` does.
    """
    ground = ground_of(hull, choice)
    found = list(choice.stealers)
    called = list(_ends(ground, choice))
    for number, (end, k) in enumerate(called):
        if tick is not None:
            tick(f"stealer {number + 1} of {len(called)}", number / len(called))
        label = ground.girths.frames[k].label or f"{ground.girths.x[k]:.0f}"
        nib = choice.nib_mm or choice.thickness_mm
        tried: list[tuple[tuple[float, float], Stealer, Task]] = []
        for strake in range(2, sum(ground.counts)):
            if any(abs(strake - other.strake) < 2 for other in found if other.end == end):
                continue
            stealer = Stealer(strake, end, label, nib)
            try:
                task, _ = task_on(ground, replace(choice, stealers=(*found, stealer)))
            except BadPlank:
                continue
            tried.append((_score(task, lines(task, passes=1)), stealer, task))
        tried.sort(key=lambda one: one[0])
        if tried:
            best = min(tried[:_TRIED], key=lambda one: _score(one[2], lines(one[2])))
            found.append(best[1])
    return tuple(found)


def short_of_room(lining: Lining) -> tuple[str, float, float] | None:
    """The frame at which the strakes at their narrowest need most more than the girth has, with girth and need [mm].

    None where there is room for every strake as far as it runs. Where none of `propose_stealers` helps, the want is so
    near an end that no strake could end there with a nib.
    """
    room = lining.girth_mm[-1] - lining.girth_mm[0]
    need = np.sum(np.where(np.isfinite(lining.width_mm), lining.limits.narrowest, 0.0), axis=0)
    k = int(np.argmax(need - room))
    if need[k] - room[k] <= KEPT_MM:
        return None
    return place(lining.hull, lining.frames[k].x_mm), float(room[k]), float(need[k])


def _score(task: Task, laid: Lines) -> tuple[float, float]:
    """Sum of what limits are passed by [mm], and how much the lines bend."""
    width = np.diff(laid.girth, axis=0)
    passed = np.maximum(task.limits.narrowest - width, width - task.limits.widest)[task.is_there]
    return round(float(np.sum(np.maximum(passed, 0.0))), 1), laid.value


def _ends(ground: Ground, choice: LiningChoice) -> Iterator[tuple[End, int]]:
    """Each stealer the girth calls for: the end it does not reach, and the frame of its nib."""
    room = ground.edges[-1] - ground.edges[0]
    low = least_widths(choice, ground.girths.x)
    middle = int(np.argmax(room))
    last = len(room) - 1
    sides: tuple[tuple[End, range], ...] = (("first", range(middle, -1, -1)), ("last", range(middle, last + 1)))
    for end, way in sides:
        given = sum(stealer.end == end for stealer in choice.stealers)
        for number, k in enumerate(_nibs(way, room, low, sum(ground.counts))):
            if number >= given and 3 <= k <= last - 3:
                yield end, k


def _nibs(way: range, room: Array, low: Array, strakes: int) -> Iterator[int]:
    before = way[0]
    for k in way:
        while strakes > 1 and room[k] < strakes * low[k] - 1e-6:
            strakes -= 1
            yield before
        before = k
