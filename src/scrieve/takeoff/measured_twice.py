"""Measured twice: two marks of one point of a frame whose difference is more than their errors allow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scrieve.boat import Boat
from scrieve.takeoff.doubt import Doubt, by_frame_and_side, doubt, mark_name
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.slips import slip
from scrieve.takeoff.swapped import lengths, line_through
from scrieve.units import Units, format_length

Array = NDArray[np.float64]

#: Two measurings of one point differ by more than this, in standard deviations of their difference, once in a thousand
#: times (normal distribution, two-sided).
OUT_BY_SD = 3.29
#: By a printed guide to recording historic ships, a method that differs by more is not good enough [mm by m].
GUIDE_MM_PER_M = 5.0
#: The same height, half-breadth or place along the girth: within so many standard deviations of the difference.
_SAME_SD = 2.0
#: Marks without a common label are of one point only where they lie nearer than this share of the usual step.
_NEAR = 0.5
#: With one label, no further apart than this [mm]: a slip of two feet, and a little.
_FAR_MM = 650.0
#: Share of the difference that must stand square to the section.
_LEAST_ACROSS = 0.5
_FEWEST, _MOST = 4, 200


@dataclass(frozen=True, slots=True)
class Pair:
    """Two marks of one point: `apart_mm` square to the section, with the standard deviation that errors give it."""

    first: Mark
    second: Mark
    apart_mm: float
    sd_mm: float

    @property
    def differs(self) -> bool:
        """Whether they differ by more than their errors allow."""
        return self.apart_mm > OUT_BY_SD * self.sd_mm


def pairs(marks: Sequence[Mark], boat: Boat) -> list[Pair]:
    """Return the marks that are second measurings of a point, each with the mark before it.

    Parameters
    ----------
    marks : sequence of Mark
        In the order in which they were written down.
    boat : Boat
        Its measuring error, of marks that state none.

    Returns
    -------
    list of Pair
        Two marks of one frame and side are of one point where they have the same height, half-breadth or place along
        the girth, within 2 sd, and either bear one label (or are both its heel, or head), or bear no two labels, lie
        nearer than half the usual step between marks and are not listed one after the other. The difference is taken
        square to the line through the other marks: along it, it is another point. Its standard deviation is
        √(n·(C₁ + C₂)n), n the unit normal, C the covariance of each mark.

    Notes
    -----
    The printed guide's 5 mm in a metre is told, and not used as the limit: 300 mm from the datum it would accuse marks
    that are as good as stated, and at 3 m pass slips of five times their error.
    """
    found = []
    for group in by_frame_and_side(marks).values():
        if _FEWEST <= len(group) <= _MOST:
            found += _of_frame(group, boat.sigma_mm)
    return found


def _of_frame(group: Sequence[Mark], sigma_mm: float) -> list[Pair]:
    points = np.array([[mark.half_breadth_mm, mark.height_mm] for mark in group])
    step = float(np.quantile(lengths(line_through(points)), 0.75))  # a frame measured twice has short steps as well
    covariances = np.array([mark.covariance_mm2(sigma_mm) for mark in group])
    found = []
    for j in range(1, len(group)):
        away = points[j] - points[:j]
        apart = np.hypot(*away.T)
        named = np.array([_one_name(other, group[j]) for other in group[:j]], dtype=object)
        far = np.where(named == True, max(_FAR_MM, step), np.where(named == None, _NEAR * step, 0.0))  # noqa: E711, E712
        far[-1] *= named[-1] is not None  # listed one after the other without names, they are two points
        near = np.flatnonzero(apart < far)
        for i in near[np.argsort(apart[near])].tolist():
            others = np.delete(points, [i, j], axis=0)
            spread = covariances[i] + covariances[j]
            if pair := _pair(group[i], group[j], away[i], spread, others, step, bool(named[i])):
                found.append(pair)
                break
    return found


def _one_name(one: Mark, other: Mark) -> bool | None:
    """Whether two marks are named as one point, or as two; None where their names do not tell."""
    if one.kind != other.kind:
        return False
    if one.label and other.label:
        return one.label.casefold() == other.label.casefold()
    return True if one.kind in ("heel", "head") else None


def _pair(
    first: Mark, second: Mark, away: Array, spread: Array, others: Array, step: float, named: bool
) -> Pair | None:
    segments = line_through(others)
    segments = segments[lengths(segments) > 0.25 * step]  # of two measurings of a point they tell no direction
    if not len(segments):
        return None
    middle = np.array([second.half_breadth_mm, second.height_mm]) - away / 2
    start, way = segments[:, 0], segments[:, 1] - segments[:, 0]
    along = np.clip(np.sum((middle - start) * way, axis=1) / np.sum(way**2, axis=1), 0, 1)
    nearest = int(np.argmin(np.hypot(*(start + along[:, None] * way - middle).T)))
    length = float(np.hypot(*away))
    if 0 < along[nearest] < 1:
        tangent = way[nearest] / np.hypot(*way[nearest])
        normal = np.array([tangent[1], -tangent[0]])
    elif named and length > 0:  # past the end of the line that the others tell: any difference counts
        normal = away / length
        tangent = np.array([normal[1], -normal[0]])
    else:
        return None
    across = float(away @ normal)
    directions = np.array([[1.0, 0.0], [0.0, 1.0], tangent])
    sds = np.sqrt(np.einsum("ki,ij,kj->k", directions, spread, directions))
    same = bool(np.any(np.abs(directions @ away) <= _SAME_SD * sds))
    if not same or (not named and abs(across) < _LEAST_ACROSS * length):
        return None
    sd = float(np.sqrt(normal @ spread @ normal))
    return Pair(first, second, abs(across), sd)


def measured_twice(found: Sequence[Pair], units: Units = "mm") -> list[Doubt]:
    """Return a doubt for each point measured twice with a difference that its errors do not allow."""
    return [
        doubt("measured twice", [pair.first, pair.second], _text(pair, units), pair.second.frame)
        for pair in found
        if pair.differs
    ]


def _text(pair: Pair, units: Units) -> str:
    first, second = pair.first, pair.second
    before, now = (
        "height {}, half-breadth {}".format(
            *(format_length(mm, units, 1) for mm in (one.height_mm, one.half_breadth_mm))
        )
        for one in (first, second)
    )
    metres = max(float(np.hypot(second.half_breadth_mm, second.height_mm)) / 1000, 1e-3)
    named = slip(np.subtract((second.half_breadth_mm, second.height_mm), (first.half_breadth_mm, first.height_mm)),
                 pair.sd_mm)  # fmt: skip
    perhaps = f" Of the two, {named.words} is the difference of one reading." if named else ""
    return (
        f"{mark_name(second, units)}: measured twice, {before} as {_short(first)} and {now} now; "
        f"{_small(pair.apart_mm, units)} apart square to the frame, where their errors allow "
        f"{_small(OUT_BY_SD * pair.sd_mm, units)} (a printed guide: {GUIDE_MM_PER_M:g} mm in a metre, here "
        f"{_small(GUIDE_MM_PER_M * metres, units)}).{perhaps} Measure it a third time, and drop the one that is wrong."
    )


def _short(mark: Mark) -> str:
    return f"mark {mark.number}" if mark.number > 0 else f"line {mark.line}" if mark.line else "given before"


def _small(mm: float, units: Units) -> str:
    return f"{mm:.1f} mm" if units == "mm" else f"{mm / 25.4:.2f} in"
