"""Lining off: seams as fair lines on the hull, the number of strakes, and the widths at every frame."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_interp_spline

from scrieve.errors import BadPlank
from scrieve.planking.clinker import LEFT_SHARE
from scrieve.planking.lining.choice import KeptSeam, LiningChoice
from scrieve.planking.lining.fairness import fairness
from scrieve.planking.lining.girth import Girths, frames_between
from scrieve.planking.lining.lands import lining_lands
from scrieve.planking.lining.limits import Limits, Proposal, hollow_of, limits, propose
from scrieve.planking.lining.lines import Lines, Task, lines
from scrieve.planking.lining.pattern import pattern_of, tapered
from scrieve.planking.lining.result import Lining, Nib
from scrieve.planking.lining.unknowns import unknowns
from scrieve.planking.lining.verdicts import checks, remarks, workings
from scrieve.planking.seams import Hull, Seam, fair_seam, place, station_of
from scrieve.wording import tell

Array = NDArray[np.float64]

#: Lines follow the pattern of widths in runs much longer than this share of the region, and are fair in shorter ones.
HOLD_SHARE = 0.1
#: A land is still taken as kept where it leaves so much less than is asked [mm].
_LAND_SLACK_MM = 0.1


def line_off(hull: Hull, choice: LiningChoice) -> Lining:
    """Line off a side of the fair hull, or the region between two seams.

    Parameters
    ----------
    hull : Hull
        The fair hull: the face of the frames.
    choice : LiningChoice
        Region, kept seams, number of strakes, limits, set widths, stealers.

    Raises
    ------
    BadPlank
        The seams given cross or do not reach, the widths set do not fill a frame, or a number cannot be; the message
        says where.
    NoSuchFrame
        A frame named is not in this hull.
    """
    ground = ground_of(hull, choice)
    task, nibs = task_on(ground, choice)
    found = _result(choice, ground, task, lines(task), nibs)
    if choice.build == "clinker" and not _lands_kept(found):
        # no lines keep every land: those drawn to come as near as may be would not be fair
        task = replace(task, land_rad=np.inf)
        found = _result(choice, ground, task, lines(task), nibs)
    return found


def _lands_kept(lining: Lining) -> bool:
    """Whether every land of a clinker side leaves as much as is asked, but for what cannot be measured."""
    left = lining_lands(lining).left_mm
    least = LEFT_SHARE * lining.choice.thickness_mm
    return bool(np.all(np.isnan(left) | (left >= least - _LAND_SLACK_MM)))


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What a lining stands on before any line is drawn.

    `edges` (r + 1, k) are the girths of the region's edges and of the kept seams that run its whole length, `counts`
    the strakes in each region between them, `fixed` (n + 1, k) all given girths (nan: free). `strays` names the marks
    of seams given that stand out from their neighbours.
    """

    girths: Girths
    edges: Array
    proposals: tuple[Proposal, ...]
    counts: tuple[int, ...]
    limits: Limits
    fixed: Array
    strays: tuple[str, ...]

    @property
    def at(self) -> NDArray[np.intp]:
        """Numbers of the seams in `edges`."""
        return np.cumsum([0, *self.counts])


def ground_of(hull: Hull, choice: LiningChoice) -> Ground:
    """Measure the region, count its strakes and set their limits; raises as `line_off` does."""
    girths, edges, partial, strays = _region(hull, choice)
    proposals = tuple(propose(choice, girths, low, high) for low, high in itertools.pairwise(edges))
    counts = _counts(choice, edges, proposals, [seam.below for seam in _full(choice, hull, girths)])
    strakes = sum(counts)
    fixed = np.full((strakes + 1, len(girths.x)), np.nan)
    at = np.cumsum([0, *counts])
    fixed[at] = edges
    for seam, girth in partial:
        if not 1 <= seam.below < strakes or seam.below in at:
            raise BadPlank(
                f"kept seam {seam.name!r} does not run the whole length, so the strakes below it must be told: "
                f"found {seam.below}; give a number that no other kept seam has, from 1 to {strakes - 1}."
            )
        fixed[seam.below] = girth
    return Ground(girths, edges, proposals, counts, limits(choice, girths, strakes), fixed, strays)


def _region(hull: Hull, choice: LiningChoice) -> tuple[Girths, Array, list[tuple[KeptSeam, Array]], tuple[str, ...]]:
    """Girths of the region, girths (r + 1, k) of its edges and full kept seams, partial kept seams, stray marks."""
    name = f"lining {choice.name!r}"
    given = [
        fair_seam(hull, marks, name=f"{name}, {edge} seam") if marks else None
        for edge, marks in (("lower", choice.lower), ("upper", choice.upper))
    ]
    first, last = hull.x_range
    for seam in given:
        if seam is not None:
            first, last = max(first, seam.first_mm), min(last, seam.last_mm)
    asked = sorted(
        station_of(hull, end) if end.strip() else other for end, other in ((choice.first, first), (choice.last, last))
    )
    if asked[0] < first - 0.5 or asked[1] > last + 0.5 or asked[1] - asked[0] < 100:
        raise BadPlank(
            f"{name}: from {place(hull, asked[0])} to {place(hull, asked[1])}, but its seams run from "
            f"{place(hull, first)} to {place(hull, last)}; give ends within."
        )
    girths = Girths.of(hull, frames_between(hull, asked[0], asked[1], choice.frames))
    lower, upper = (
        np.full(len(girths.x), 0.0 if i == 0 else 1.0) if seam is None else np.clip(seam(girths.x), 0, 1)
        for i, seam in enumerate(given)
    )
    edges = [girths.girth_at(lower), girths.whole if given[1] is None else girths.girth_at(upper)]
    if given[0] is None:
        edges[0] = np.zeros(len(girths.x))
    partial: list[tuple[KeptSeam, Array]] = []
    strays = [
        tell("{seam} at {where}", seam=f"{edge} seam", where=where)
        for edge, seam in zip(("lower", "upper"), given, strict=True)
        for where in (seam.suspects if seam is not None else ())
    ]
    for kept in choice.kept:
        line = fair_seam(hull, kept.marks, name=f"{name}, kept seam {kept.name!r}")
        strays += [tell("{seam} at {where}", seam=f"seam {kept.name!r}", where=where) for where in line.suspects]
        there = (girths.x >= line.first_mm - 0.5) & (girths.x <= line.last_mm + 0.5)
        girth = np.where(there, girths.girth_at(np.clip(line(girths.x), 0, 1)), np.nan)
        for edge, above in ((edges[0], True), (edges[-1], False)):
            wrong = there & ((girth <= edge) if above else (girth >= edge))
            if np.any(wrong):
                at = float(girths.x[int(np.flatnonzero(wrong)[0])])
                where = f"{name}, kept seam {kept.name!r}: at {place(hull, at)}"
                raise BadPlank(f"{where} it lies outside the region; check its marks.")
        if there.all():
            edges.insert(-1, girth)
        else:
            partial.append((kept, girth))
    order = [0, *sorted(range(1, len(edges) - 1), key=lambda i: float(edges[i].mean())), len(edges) - 1]
    stacked = np.array([edges[i] for i in order])
    if np.any(np.diff(stacked, axis=0) <= 0):
        k = int(np.argwhere(np.diff(stacked, axis=0) <= 0)[0, 1])
        raise BadPlank(f"{name}: two of the seams given cross or meet at {place(hull, float(girths.x[k]))}; "
                       "check their marks.")  # fmt: skip
    return girths, stacked, partial, tuple(strays)


def _full(choice: LiningChoice, hull: Hull, girths: Girths) -> list[KeptSeam]:
    """The kept seams that run the whole length of the region, lowest first."""
    found = []
    for seam in choice.kept:
        line = fair_seam(hull, seam.marks, name=f"kept seam {seam.name!r}")
        if line.first_mm <= girths.x[0] + 0.5 and line.last_mm >= girths.x[-1] - 0.5:
            found.append((float(np.mean(girths.girth_at(np.clip(line(girths.x), 0, 1)))), seam))
    return [seam for _, seam in sorted(found, key=lambda pair: pair[0])]


def _counts(choice: LiningChoice, edges: Array, proposals: Sequence[Proposal], below: Sequence[int]) -> tuple[int, ...]:
    """Strakes in each region: as told where kept seams tell it, else as proposed, and the total as chosen."""
    counts = [proposal.strakes for proposal in proposals]
    told = [False] * len(counts)
    known = [0, *below, choice.strakes]
    for i in range(len(counts)):
        start, end = known[i], known[i + 1]
        if (i == 0 or start) and end:
            if end <= start:
                raise BadPlank(f"lining {choice.name!r}: a kept seam has {start} strakes below it, the next {end}; "
                               "number them from below.")  # fmt: skip
            counts[i], told[i] = end - start, True
    if choice.strakes and sum(counts) != choice.strakes:
        free = [i for i in range(len(counts)) if not told[i]]
        if not free:
            raise BadPlank(f"lining {choice.name!r}: {choice.strakes} strakes asked, but the kept seams tell of "
                           f"{sum(counts)}; change one.")  # fmt: skip
        room = np.diff(edges, axis=0).max(axis=1)
        while sum(counts) != choice.strakes:
            more = sum(counts) < choice.strakes
            able = free if more else [i for i in free if counts[i] > 1]
            if not able:
                raise BadPlank(f"lining {choice.name!r}: {choice.strakes} strakes are fewer than its regions; "
                               "ask for more.")  # fmt: skip
            width = {i: room[i] / counts[i] for i in able}
            i = max(width, key=lambda i: width[i]) if more else min(width, key=lambda i: width[i])
            counts[i] += 1 if more else -1
    return tuple(counts)


def task_on(ground: Ground, choice: LiningChoice) -> tuple[Task, tuple[Nib, ...]]:
    """What the lines are asked for, with set widths and stealers put in; raises as `line_off` does."""
    girths, bounds, fixed, at = ground.girths, ground.limits, ground.fixed, ground.at
    where = [place(girths.hull, float(x)) for x in girths.x]
    strakes, frames = len(fixed) - 1, len(girths.x)
    ties: dict[tuple[int, int], float] = {}
    drawn = np.ones(fixed.shape, dtype=bool)
    there = np.ones((strakes, frames), dtype=bool)
    for given in choice.set_widths:
        k = _frame(girths, given.frame)
        if len(given.widths_mm) != strakes:
            raise BadPlank(f"set widths at {where[k]}: {len(given.widths_mm)} given for {strakes} strakes; give one "
                           "for each, lowest first, or leave it blank.")  # fmt: skip
        for j, width in enumerate(given.widths_mm):
            if width is not None:
                if not (np.isfinite(width) and width > 0):
                    raise BadPlank(f"set widths at {where[k]}, strake {j + 1}: {width} mm; give a width above zero.")
                ties[j, k] = float(width)
    low = bounds.narrowest.copy()
    share = np.ones((strakes, frames))
    nibs = []
    for stealer in choice.stealers:
        j, k = stealer.strake - 1, _frame(girths, stealer.frame)
        if not 0 <= j < strakes:
            raise BadPlank(f"stealer {stealer.strake}: there are strakes 1 to {strakes}.")
        nib = stealer.nib_mm or choice.nib_mm or choice.thickness_mm
        gone = np.arange(frames) < k if stealer.end == "first" else np.arange(frames) > k
        held = [bool(np.isfinite(fixed[seam]).all()) for seam in (j, j + 1)]
        if all(held) or not gone.any() or gone.sum() > frames - 4:
            why = (
                "both its edges are kept seams" if all(held) else "it would end at the region's end or too far from it"
            )
            raise BadPlank(f"stealer {stealer.strake} at {where[k]}: {why}; choose another strake or frame.")
        ties |= {(j, int(i)): 0.0 for i in np.flatnonzero(gone)}
        ties[j, k] = nib
        ended, runs_on, receiver = (j + 1, j, j + 2) if held[0] else (j, j + 1, j)
        drawn[ended, gone] = False
        there[j, gone] = False
        there[j, k] = False
        taper = tapered(girths.x, k, stealer.end)
        share[j] *= np.where(gone, 0.0, taper)
        low[j] = np.minimum(low[j], nib + taper * (low[j] - nib))
        nibs.append(Nib(replace(stealer, nib_mm=nib), k, ended, runs_on, receiver))
    bounds = Limits(low, bounds.widest)
    pattern = np.empty((strakes, frames))
    for start, end in itertools.pairwise(at):
        rows = slice(int(start), int(end))
        pattern[rows] = pattern_of(choice, girths, fixed[start], fixed[end], share[rows], int(start))
    for (j, k), width in ties.items():
        pattern[j, k] = max(width, 1e-6)
    free = unknowns(fixed, ties, where)
    hold = choice.hold_mm or HOLD_SHARE * float(girths.x[-1] - girths.x[0])
    task = Task(girths, free, pattern, drawn, there, bounds, choice.hollow_mm, hold, choice.land_rad)
    return task, tuple(nibs)


def _frame(girths: Girths, frame: str) -> int:
    x = station_of(girths.hull, frame)
    k = int(np.argmin(np.abs(girths.x - x)))
    if abs(girths.x[k] - x) > 0.5:
        raise BadPlank(f"{place(girths.hull, x)} is not one of the frames at which seams are marked; add it, or take "
                       f"{place(girths.hull, float(girths.x[k]))}.")  # fmt: skip
    return k


def _result(choice: LiningChoice, ground: Ground, task: Task, found: Lines, nibs: tuple[Nib, ...]) -> Lining:
    counts, hull = ground.counts, ground.girths.hull
    girths, girth = task.girths, found.girth
    share = np.clip(girths.share(girth), 0, 1)
    share[0] = np.where(girth[0] <= 0, 0.0, share[0])
    point = hull.point(girths.x, share)
    gone = np.zeros(task.is_there.shape, dtype=bool)
    width = np.diff(girth, axis=0)
    gone = width < 1e-9
    width = np.where(gone, np.nan, width)
    turn, _ = girths.turned(girth)
    hollow = np.where(gone, np.nan, hollow_of(np.nan_to_num(width), np.diff(turn, axis=0)))
    # of the whole region, whatever stays in it: a kept seam that is not fair is no measure of itself
    equal = girth[0] + np.linspace(0, 1, len(girth))[:, None] * (girth[-1] - girth[0])
    fair, plain = fairness(girths, girth, task.drawn), fairness(girths, equal, np.ones_like(task.drawn))
    seams = []
    for j in range(len(girth)):
        here = task.drawn[j]
        x = girths.x[here]
        seams.append(Seam(float(x[0]), float(x[-1]), make_interp_spline(x, share[j][here], k=min(3, len(x) - 1))))
    lining = Lining(
        hull=hull, choice=choice, frames=girths.frames, girth_mm=girth, height_mm=point[..., 2],
        half_breadth_mm=np.abs(point[..., 1]), drawn=task.drawn, width_mm=width, hollow_mm=hollow, limits=task.limits,
        proposals=ground.proposals, counts=counts, nibs=nibs, fairness=fair, equal=plain, energy=found.value,
        remarks=remarks(task, width, hollow), checks=(), workings=(), seams=tuple(seams),
    )  # fmt: skip
    return replace(lining, checks=checks(lining, task, ground.strays), workings=workings(lining))
