"""Marks placed on the spline: which rows they give, how far each lies off, and how far it would lie off unseen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtr

from scrieve.fairing.smoother import Fit, Grid, Normal, Problem, Rows

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: A mark further out than this many standard deviations, judged by all the others, is a suspect.
SUSPECT_SD = 4.0
#: The same for a mark of an end or a knuckle, which can be out two ways (equal tail of chi-square, two degrees).
SUSPECT_SD_PINNED = 4.4
#: −2 log of how likely a blunder of one measuring error is: one of two in a hundred, evenly by the log of 10 to 300 mm.
_BLUNDER = float(-2 * np.log(0.02 / np.log(30.0)))


@dataclass(frozen=True, eq=False)
class Stand:
    """Where marks stand on a grid, how sure each is, and what guides the surface besides.

    Attributes
    ----------
    x, v : ndarray (n,)
        Station [mm] and share of the girth of each mark's foot.
    points : ndarray (n, 2)
        Half-breadth and height as taken off [mm].
    normal : ndarray (n, 2)
        Unit vector square to the section there, outwards.
    covariance : ndarray (n, 2, 2)
        Measuring error of half-breadth and height as stated [mm²].
    pinned : ndarray of bool (n,)
        Marks of an end or a knuckle, known along the section as well as across it.
    slack : float
        How far a mark that is not pinned may slide along the section [mm].
    weight : ndarray (n,)
        1, or less while blunders are being looked for.
    guides : tuple of Rows
        Where an end or a knuckle lies on frames that have no good mark of it, as its line along the hull tells; and
        that the section is smooth where a knuckle has ended.
    fair : tuple of Rows
        What keeps each knuckle a fair line.
    """

    grid: Grid
    x: Array
    v: Array
    points: Array
    normal: Array
    covariance: Array
    pinned: Flags
    slack: float
    weight: Array
    guides: tuple[Rows, ...] = ()
    fair: tuple[Rows, ...] = ()

    @cached_property
    def near_mm(self) -> float:
        """How far apart along the hull two marks may explain each other: about to the next frame [mm]."""
        stations = np.unique(self.x)
        return 1.6 * float(np.median(np.diff(stations))) if len(stations) > 1 else 1.0

    @cached_property
    def directions(self) -> Array:
        """Square to the section and along it, at each mark: (n, 2, 2)."""
        return np.stack([self.normal, np.column_stack([-self.normal[:, 1], self.normal[:, 0]])], axis=1)

    @cached_property
    def stated(self) -> Array:
        """Covariance (n, 2, 2) of each mark as stated, square to the section and along it [mm²]."""
        return np.asarray(self.directions @ self.covariance @ self.directions.transpose(0, 2, 1))

    @cached_property
    def rows(self) -> tuple[Rows, Rows]:
        """What the marks say square to the section and along it, with their weights in the errors."""
        sd = np.sqrt(np.einsum("nii->in", self.stated) / self.weight)
        return self._row(0, sd[0]), self._row(1, sd[1])

    def _row(self, way: int, sd: Array) -> Rows:
        direction = self.directions[:, way]
        index, value = self.grid.rows(self.x, self.v, direction)
        return Rows(index, value, np.einsum("ni,ni->n", direction, self.points), sd)

    def split(self, some: Flags) -> tuple[Rows, Rows]:
        """Observations, and anchors along the section, of some of the marks."""
        across, along = self.rows
        anchors = replace(along, sd=np.full(len(along.sd), self.slack))
        return Rows.joined(across.take(some), along.take(some & self.pinned)), anchors.take(some & ~self.pinned)

    @cached_property
    def _whole(self) -> tuple[Normal, Normal]:
        """Normal equations of all marks: of their observations, and of their anchors with the guides."""
        data, anchors = self.split(np.ones(len(self.x), bool))
        ties = [rows for rows in (anchors, *self.guides, *self.fair) if len(rows.sd)]
        return Normal.of(self.grid, data), Normal.of(self.grid, *ties)

    def problem(self, active: Flags, start: Array) -> Problem:
        """What the active marks give: all marks' equations less those of the few that do not count."""
        known, ties = self._whole
        if not active.all():
            data, anchors = self.split(~active)
            known, ties = known.less(self.grid, data), ties.less(self.grid, anchors)
        return Problem(self.grid, self.split(active)[0], known, ties, start)

    def take(self, some: NDArray[np.intp]) -> Stand:
        """Some of the marks alone."""
        names = ("x", "v", "points", "normal", "covariance", "pinned", "weight")
        return replace(self, **{name: getattr(self, name)[some] for name in names})

    def residual(self, fit: Fit) -> Array:
        """(n, 2): mark less surface, square to the section (outwards) and along it [mm]."""
        return np.stack([rows.target - rows.of(fit.c) for rows in self.rows], axis=1)

    def spread(self, fit: Fit) -> Array:
        """Posterior covariance (n, 2, 2) of the surface at each mark, square to the section and along it [mm²]."""
        return np.asarray(self.directions @ fit.point_covariance(self.x, self.v) @ self.directions.transpose(0, 2, 1))


@dataclass(frozen=True, eq=False)
class Placing:
    """Marks standing on a grid, and which of them count (`active`, bool (n,))."""

    stand: Stand
    active: Flags

    def problem(self, start: Array) -> Problem:
        """The observations and anchors that the active marks give."""
        return self.stand.problem(self.active, start)

    def judge(self, fit: Fit, *, learnt: bool = True, spread: Array | None = None) -> Array:
        """How far each mark lies off what all the others say, in standard deviations of that; ends by both ways.

        A mark that counts is taken out by the deletion formula e = r / (1 - h), with variance σ²/(1 - h); one that
        does not count is compared as it lies. A mark that nothing else can judge gets 0. `learnt` says that stiffness
        and error come from these very marks: with few to spare they are themselves in doubt, and the tail is longer.
        `spread` is that of the surface at each mark, where it is known already.
        """
        stand, pinned = self.stand, self.stand.pinned
        stated = stand.stated * fit.error_scale**2
        error = stated[:, 0, 0]
        residual, both_ways = stand.residual(fit), stand.spread(fit) if spread is None else spread
        own = np.maximum(both_ways[:, 0, 0], 0.0)
        sign = np.where(self.active, -1.0, 1.0)
        across = error + sign * own
        # r²/(σ² - C) is the deleted miss over its own variance, since r = (1 - h) e and 1 - h = (σ² - C)/σ²
        z = np.abs(residual[:, 0]) / np.sqrt(np.maximum(across, 1e-12))
        z = np.where(self.active & (across < 1e-3 * error), 0.0, z)
        both = np.flatnonzero(pinned)
        if both.size:
            cover = stated[both] + sign[both, None, None] * both_ways[both]
            lone = self.active[both] & (np.linalg.eigvalsh(cover)[:, 0] < 1e-3 * error[both])
            cover[lone] = np.eye(2)
            square = np.einsum("ni,ni->n", residual[both], np.linalg.solve(cover, residual[both][..., None])[..., 0])
            z[both] = np.where(lone, 0.0, np.sqrt(np.maximum(square, 0.0)) * SUSPECT_SD / SUSPECT_SD_PINNED)
        if not learnt:
            return np.asarray(z)
        used = own / error
        used[both] += both_ways[both, 1, 1] / stated[both, 1, 1]
        rows = np.where(pinned, 2.0, 1.0)
        freedom = max(float(np.sum((rows - used)[self.active])), 1.0)
        # Student's tail, told as a normal one
        return np.asarray(-ndtri(np.maximum(stdtr(freedom, -z), 1e-300)))

    def told_from(self, fit: Fit, spread: Array) -> Array:
        """From how large on a slip of each mark would be told [mm], in the direction that hides it best.

        A slip b moves the line too, and leaves (S − C) S⁻¹ b of itself to be seen, S the mark's own error and C that of
        the line through it: it is told where bᵀ S⁻¹ (S − C) S⁻¹ b reaches the square of what makes a suspect; of a mark
        that does not count, where bᵀ (S + C)⁻¹ b does. Never, where nothing else holds the line there: infinity.

        References
        ----------
        .. [1] W. Baarda, A Testing Procedure for Use in Geodetic Networks, 1968: the least error that a test can find.
        """
        own = self.stand.stated * fit.error_scale**2
        ends = self.stand.pinned[:, None]
        across = np.diag([1.0, 0.0])  # of a mark that is no end, what lies along the line says nothing
        own = np.where(ends[..., None], own, own * across + np.diag([0.0, 1.0]))
        of_line = np.where(ends[..., None], spread, spread * across)
        inside = np.linalg.solve(own, np.linalg.solve(own, own - of_line).transpose(0, 2, 1))
        seen = np.where(self.active[:, None, None], inside, np.linalg.inv(own + of_line))
        least = np.where(self.stand.pinned, np.linalg.eigvalsh(seen)[:, 0], seen[:, 0, 0])
        size = np.where(self.stand.pinned, SUSPECT_SD_PINNED, SUSPECT_SD)
        return np.asarray(np.where(least > 1e-12, size / np.sqrt(np.maximum(least, 1e-12)), np.inf))

    def account(self, start: Array, fit: Fit, dropped: Flags) -> float:
        """−2 log of how likely all marks are, when each that was taken out costs what a suspect must reach.

        On a line, whose end the other marks foretell badly, it costs what a blunder of its size does: two marks in a
        hundred, as likely of 10 to 20 mm as of 20 to 40, spread evenly round about, −2 log (ε σ² / (r² log 30)).
        """
        cost = np.where(self.stand.pinned, SUSPECT_SD_PINNED, SUSPECT_SD) ** 2
        if self.stand.grid.is_line:
            off = np.hypot(*self.stand.residual(fit).T) / np.sqrt(self.stand.stated[:, 0, 0])
            cost = np.maximum(cost, _BLUNDER + 4 * np.log(np.maximum(off, 1.0)))
        return self.problem(start).evidence(fit.stiffness)[0] + float(np.sum(cost[~self.active & ~dropped]))


def carry(stand: Stand, fit: Fit, pinned: Flags, *, afresh: Flags | bool = True) -> Stand:
    """Move each mark's foot to where the mark stands square on to its section, and take the normal there.

    Marks `afresh` look for their foot on the whole section; the others near where it was.
    """
    v = stand.v.copy()
    look = np.flatnonzero(np.broadcast_to(afresh, v.shape) & ~pinned)
    if look.size:
        v[look] = _nearest(stand.x[look], stand.points[look], fit)
    for _ in range(3):
        off, slope = stand.points - fit.value(stand.x, v), fit.value(stand.x, v, by_v=1)
        move = (off * slope).sum(-1) / (slope * slope).sum(-1)
        v = np.where(pinned, stand.v, np.clip(v + np.clip(move, -0.02, 0.02), -0.03, 1.03))
    slope = fit.value(stand.x, v, by_v=1)
    slope /= np.hypot(*slope.T)[:, None]
    return replace(stand, v=v, normal=np.column_stack([slope[:, 1], -slope[:, 0]]), pinned=pinned)


def _nearest(x: Array, points: Array, fit: Fit) -> Array:
    """Share of the girth (n,) at the place of its section that is nearest to each point."""
    around = fit.grid.around
    share = np.linspace(0, 1, 8 * around.size + 1)
    stations, which = np.unique(x, return_inverse=True)
    section = around.dense(share) @ fit.sections(stations)
    v = np.empty(len(x))
    for station, line in enumerate(section):  # one at a time: the tables stay small
        here = np.flatnonzero(which == station)
        a, d = line[:-1], np.diff(line, axis=0)
        off = points[here, None] - a
        t = np.clip((off * d).sum(-1) / np.maximum((d * d).sum(-1), 1e-12), 0, 1)
        near = ((t[..., None] * d - off) ** 2).sum(-1).argmin(axis=1)
        v[here] = share[near] + t[np.arange(len(here)), near] * (share[1] - share[0])
    return v
