"""Frames that stand in or out as a whole: neighbouring marks that together lie off what the other frames say.

No single mark of a smooth dent need be a suspect, and the marks of its own frame bear each other out. Only the frames
beside it can tell, and only the builder whether the hull is so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from scrieve.errors import CannotFair
from scrieve.fairing.placing import Stand
from scrieve.fairing.result import FairHull
from scrieve.fairing.smoother import Fit
from scrieve.wording import by_itself, joined, small, tell
from scrieve.working import Working

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Index = NDArray[np.intp]

#: The fewest neighbouring marks that make a dent; fewer are suspects, each by itself.
LEAST_RUN = 3
#: How likely anything may be told of a hull without dents.
_FALSE = 0.01
#: Nothing is known finer than this [mm], though exact marks may say so; it keeps rounding out of the question.
_LEAST_MM = 0.1


@dataclass(frozen=True, slots=True)
class Dent:
    """Neighbouring marks of one frame and side that stand in or out together.

    Attributes
    ----------
    frame, side : str
        As the builder named them; the side is empty where marks stand for both.
    station_mm : float
        The frame's station [mm].
    beside : tuple of str
        The two measured frames next to it.
    marks : tuple of int
        Numbers of the marks, heel to head.
    whole : bool
        Whether these are all the marks of the frame and side.
    off_mm, most_mm : float
        Their mean distance from where the other frames say they would lie, and that of the one furthest off, square to
        the section; above zero outwards [mm].
    sd_mm : float
        What of that mean is to be expected, one standard deviation [mm].
    """

    frame: str
    side: str
    station_mm: float
    beside: tuple[str, str]
    marks: tuple[int, ...]
    whole: bool
    off_mm: float
    most_mm: float
    sd_mm: float

    @property
    def out_by_sd(self) -> float:
        """How far the mean lies off, in standard deviations."""
        return abs(self.off_mm) / self.sd_mm

    def told(self) -> str:
        """What is seen and what to do, in the builder's words."""
        where = "its marks" if self.whole else f"its marks {self.marks[0]} to {self.marks[-1]}"
        return tell(
            "Frame {frame}: {where} stand {off} {way} of where {beside} would have them, {most} at the most. A dent or "
            "a bulge, a frame measured from a shifted datum, or is the hull so? Spring a batten past it and look.",
            frame=f"{self.frame} {self.side}".rstrip(),
            where=where,
            off=small(abs(self.off_mm)),
            way="outside" if self.off_mm > 0 else "inside",
            beside="frames " + joined(self.beside, " and "),
            most=small(abs(self.most_mm)),
        )

    def working(self) -> Working:
        """How it was found."""
        return Working(
            "stands off",
            by_itself(small(abs(self.off_mm))),
            "mean of e, e = r + C₀ D r: marks less the surface that all other frames alone would give; "
            "its variance is that of the mean of e, Cov e = C₀ + σ²",
            (
                ("marks", str(len(self.marks))),
                ("expected, one standard deviation", by_itself(small(self.sd_mm))),
                ("off, in standard deviations", f"{self.out_by_sd:.1f}"),
            ),
            "docs/fairing.md, 'Dents'",
        )


def dents(hull: FairHull) -> tuple[Dent, ...]:
    """Frames whose marks, or a run of neighbouring ones, stand in or out of what the other frames say, worst first.

    Every frame and side is compared with the surface that the others alone would give, at the stiffness and the error
    that all marks told: with r the residuals of the frame's n marks square to the section, C the surface's posterior
    covariance there and D = diag(1/σ² of the marks that count), C₀ = (I − C D)⁻¹ C is the covariance without them and
    e = r + C₀ D r their distance from it, with covariance C₀ + σ² (the matrix inversion lemma, as for one mark). Of
    all runs of three neighbouring marks or more that one is taken whose mean stands off the most standard deviations,
    with its furthest mark and without it: a single slip is a suspect and no dent.
    It is told where that is past what a hull without dents shows once in a hundred hulls, all runs of all frames
    counted as so many tries. Suspects are counted in, dropped marks not. The first and last frame are not asked: what
    lies beyond the others is a guess. Beside a dent the next frame seems to stand the other way: it is passed over.

    Raises
    ------
    CannotFair
        The hull was not laid through marks.

    References
    ----------
    .. [1] C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, eq. A.9 (inversion lemma)
       and 5.4.2 (what all other data foretell).
    """
    if hull.laid is None:
        raise CannotFair("this hull was not laid through marks, so no frame's marks can be compared with the others.")
    marks, stand, active = hull.laid.marks, hull.laid.placing.stand, hull.laid.placing.active
    groups: dict[tuple[str, str], list[int]] = {}
    for i, mark in enumerate(marks):
        if hull.laid.answers.get(mark.number) != "drop":
            groups.setdefault((mark.frame, mark.side), []).append(i)
    ways = [np.array(sorted(group, key=lambda i: float(stand.v[i]))) for group in groups.values()]
    tries = sum(max(len(way) - LEAST_RUN + 1, 0) * (len(way) - LEAST_RUN + 2) // 2 for way in ways)
    limit = float(-ndtri(_FALSE / (2 * max(tries, 1))))
    labels = list(hull.stations)
    found: list[Dent] = []
    for (frame, side), way in zip(groups, ways, strict=True):
        at = labels.index(frame)
        if len(way) < LEAST_RUN or not 0 < at < len(labels) - 1:
            continue
        off, cover = _left_out(stand, hull.laid.loose or hull.fit, way, active)
        runs = _runs(len(off))
        out = _borne_out(off, cover, runs)
        best = int(np.argmax(out))
        if out[best] < limit:
            continue
        run = np.flatnonzero(runs[best])
        mean, sd = (float(each[best]) for each in _means(off, cover, runs))
        beside = (labels[at - 1], labels[at + 1])
        numbers = tuple(marks[i].number for i in way[run])
        most = float(off[run][np.argmax(np.abs(off[run]))])
        found.append(Dent(frame, side, hull.stations[frame], beside, numbers, len(numbers) == len(way), mean, most, sd))
    return _by_themselves(found)


def _left_out(stand: Stand, fit: Fit, way: Index, active: Flags) -> tuple[Array, Array]:
    """How far some marks of one station lie off the surface without them (n,) [mm], and the covariance of that."""
    part = stand.take(way)
    index, value = part.grid.rows(part.x, part.v, part.normal)
    cover = fit.row_covariance(index[None], value[None])[0]
    error = part.stated[:, 0, 0] * fit.error_scale**2
    known = np.diag(active[way] / error)
    without = np.linalg.solve(np.eye(len(way)) - cover @ known, cover)
    residual = part.residual(fit)[:, 0]
    return residual + without @ known @ residual, without + np.diag(error)


def _runs(many: int) -> Flags:
    """Every run of neighbours among so many marks: a row each, telling which belong to it."""
    first, last = np.triu_indices(many - LEAST_RUN + 1)
    at = np.arange(many)
    return np.asarray((first[:, None] <= at) & (at < last[:, None] + LEAST_RUN))


def _means(off: Array, cover: Array, runs: Flags) -> tuple[Array, Array]:
    """Mean distance of the marks of each run, and its standard deviation [mm]."""
    share = runs / runs.sum(axis=1, keepdims=True)
    variance = np.sum(share @ cover * share, axis=1)
    return share @ off, np.sqrt(np.maximum(variance, _LEAST_MM**2))


def _borne_out(off: Array, cover: Array, runs: Flags) -> Array:
    """How many standard deviations each run stands off to one side, its furthest mark left out if it is less so: one
    slip among good marks makes no dent.
    """
    mean, sd = _means(off, cover, runs)
    rest = runs.copy()
    rest[np.arange(len(runs)), np.argmax(np.where(runs, np.abs(off), -1.0), axis=1)] = False
    other, other_sd = _means(off, cover, rest)
    return np.asarray(np.minimum(np.abs(mean) / sd, np.sign(mean) * other / other_sd))


def _by_themselves(found: list[Dent]) -> tuple[Dent, ...]:
    """The worst first, without those that only seem to stand the other way because the next frame is dented."""
    kept: list[Dent] = []
    for dent in sorted(found, key=lambda one: -one.out_by_sd):
        if not any(dent.frame in worse.beside and dent.off_mm * worse.off_mm < 0 for worse in kept):
            kept.append(dent)
    return tuple(kept)
