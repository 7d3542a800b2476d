"""Marks placed on the spline: which rows they give, how far each lies off, and how far it would lie off unseen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtr

from scrieve.fairing.smoother import Fit, Grid, Problem, Rows

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: A mark further out than this many standard deviations, judged by all the others, is a suspect.
SUSPECT_SD = 4.0
#: The same for a mark of an end or a knuckle, which can be out two ways (equal tail of chi-square, two degrees).
SUSPECT_SD_PINNED = 4.4
#: Up to so many marks, blunders are looked for from two beginnings.
_FEW = 200


@dataclass(frozen=True, eq=False)
class Placing:
    """Marks at their places (x, v) on a grid.

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
    active : ndarray of bool (n,)
        Marks that count.
    weight : ndarray (n,)
        1, or less while blunders are being looked for.
    guides : tuple of Rows
        Where an end or a knuckle lies on frames that have no good mark of it, as its line along the hull tells; and
        that the section is smooth where a knuckle has ended.
    """

    grid: Grid
    x: Array
    v: Array
    points: Array
    normal: Array
    covariance: Array
    pinned: Flags
    slack: float
    active: Flags
    weight: Array
    guides: tuple[Rows, ...] = ()

    @property
    def _along(self) -> Array:
        return np.column_stack([-self.normal[:, 1], self.normal[:, 0]])

    def _error(self) -> Array:
        """Covariance (n, 2, 2) of each mark as stated, square to the section and along it [mm²]."""
        turn = np.stack([self.normal, self._along], axis=1)
        return np.asarray(turn @ self.covariance @ turn.transpose(0, 2, 1))

    @property
    def sd(self) -> Array:
        """Measuring error as stated, square to the section (n,) [mm]."""
        return np.sqrt(self._error()[:, 0, 0])

    def _rows(self, direction: Array, sd: Array) -> Rows:
        index, value = self.grid.rows(self.x, self.v, direction)
        return Rows(index, value, np.einsum("ni,ni->n", direction, self.points), sd)

    def problem(self, start: Array) -> Problem:
        """The observations and anchors that the active marks give."""
        error = self._error() / self.weight[:, None, None]
        across = self._rows(self.normal, np.sqrt(error[:, 0, 0]))
        along = self._rows(self._along, np.sqrt(error[:, 1, 1]))
        both, slid = self.active & self.pinned, self.active & ~self.pinned
        data = Rows.joined(across.take(self.active), along.take(both))
        anchors = self._rows(self._along, np.full(len(self.x), self.slack)).take(slid)
        return Problem(self.grid, data, (anchors, *self.guides) if slid.any() else self.guides, start)

    def residual(self, fit: Fit) -> Array:
        """(n, 2): mark less surface, square to the section (outwards) and along it [mm]."""
        off = self.points - fit.value(self.x, self.v)
        return np.column_stack([np.einsum("ni,ni->n", off, self.normal), np.einsum("ni,ni->n", off, self._along)])

    def spread(self, fit: Fit) -> Array:
        """Posterior covariance (n, 2, 2) of the surface at each mark, square to the section and along it [mm²]."""
        across, along = (self.grid.rows(self.x, self.v, d) for d in (self.normal, self._along))
        index, value = (np.stack([a, b], axis=1) for a, b in zip(across, along, strict=True))
        return fit.row_covariance(index, value)

    def judge(self, fit: Fit, *, learnt: bool = True) -> Array:
        """How far each mark lies off what all the others say, in standard deviations of that; ends by both ways.

        A mark that counts is taken out by the deletion formula e = r / (1 - h), with variance σ²/(1 - h); one that
        does not count is compared as it lies. A mark that nothing else can judge gets 0. `learnt` says that stiffness
        and error come from these very marks: with few to spare they are themselves in doubt, and the tail is longer.
        """
        stated = self._error() * fit.error_scale**2
        error = stated[:, 0, 0]
        residual, spread = self.residual(fit), self.spread(fit)
        sign = np.where(self.active, -1.0, 1.0)
        across = error + sign * spread[:, 0, 0]
        # r²/(σ² - C) is the deleted miss over its own variance, since r = (1 - h) e and 1 - h = (σ² - C)/σ²
        z = np.abs(residual[:, 0]) / np.sqrt(np.maximum(across, 1e-12))
        z = np.where(self.active & (across < 1e-3 * error), 0.0, z)
        both = np.flatnonzero(self.pinned)
        if both.size:
            cover = stated[both] + sign[both, None, None] * spread[both]
            lone = self.active[both] & (np.linalg.eigvalsh(cover)[:, 0] < 1e-3 * error[both])
            cover[lone] = np.eye(2)
            square = np.einsum("ni,ni->n", residual[both], np.linalg.solve(cover, residual[both][..., None])[..., 0])
            z[both] = np.where(lone, 0.0, np.sqrt(np.maximum(square, 0.0)) * SUSPECT_SD / SUSPECT_SD_PINNED)
        if not learnt:
            return np.asarray(z)
        used = spread[:, 0, 0] / error + np.where(self.pinned, spread[:, 1, 1] / stated[:, 1, 1], 0.0)
        rows = np.where(self.pinned, 2.0, 1.0)
        freedom = max(float(np.sum((rows - used)[self.active])), 1.0)
        # Student's tail, told as a normal one
        return np.asarray(-ndtri(np.maximum(stdtr(freedom, -z), 1e-300)))

    def account(self, start: Array, fit: Fit, dropped: Flags) -> float:
        """−2 log of how likely all marks are, when each that was taken out costs what a suspect must reach."""
        cost = np.where(self.pinned, SUSPECT_SD_PINNED, SUSPECT_SD) ** 2
        return self.problem(start).evidence(fit.stiffness)[0] + float(np.sum(cost[~self.active & ~dropped]))


def robust_weights(placing: Placing, fit: Fit, held: Flags) -> tuple[Placing, float]:
    """Weights of a long-tailed error, and the log of (true / stated error) by the median; held marks keep 1."""
    residual = placing.residual(fit)
    size = np.where(placing.pinned, np.hypot(*residual.T) / np.sqrt(2), np.abs(residual[:, 0])) / placing.sd
    scale = max(1.4826 * float(np.median(size[placing.active])), 1e-3)
    weight = np.where(held, 1.0, 1.0 / (1.0 + (size / (2.5 * scale)) ** 2))
    return replace(placing, weight=weight), float(np.log(scale))


def settle(
    placing: Placing,
    start: Array,
    stiffness: Array,
    *,
    held: Flags,
    dropped: Flags,
    learn: bool = True,
    robust: bool = True,
    tick: Callable[[], None] | None = None,
) -> tuple[Fit, Placing]:
    """Fit, with suspects taken out one place at a time, worst first, until no mark is one; then let back who fits.

    `held` marks are never taken out; `dropped` ones never count.
    """
    if robust:
        fit, placing = _first(placing, start, stiffness, held=held, dropped=dropped, learn=learn, tick=tick)
        stiffness = fit.stiffness
    return _round(placing, start, stiffness, held=held, dropped=dropped, learn=learn, tick=tick)


def _first(
    placing: Placing,
    start: Array,
    stiffness: Array,
    *,
    held: Flags,
    dropped: Flags,
    learn: bool,
    tick: Callable[[], None] | None,
) -> tuple[Fit, Placing]:
    """Look for blunders among the active marks before anything is known of the stiffness and the error."""
    everything = placing = replace(placing, active=~dropped)
    fit = placing.problem(start).solve(stiffness)
    for _ in range(6):
        placing, log_scale = robust_weights(placing, fit, held)
        stiffness = np.array([stiffness[0], stiffness[1], np.clip(log_scale, -6.0, 3.0)])
        fit = placing.problem(start).solve(stiffness)
    if learn:
        fit = placing.problem(start).learn(stiffness, tick=tick)
    # judged afresh from all marks, now that the stiffness and the error are known
    placing, fit, _ = _take_out(everything, start, everything.problem(start).solve(fit.stiffness), held)
    if not learn or placing.active.sum() > _FEW:
        return fit, placing
    # on few marks a floppy surface may pass through blunders and call them the shape: begin also from the stiffness
    # that a hull usually has, and keep the better account of all marks
    best = _round(placing, start, fit.stiffness, held=held, dropped=dropped, learn=True, tick=tick)
    usual = np.array([*placing.grid.usual, 0.0])
    placing, fit, _ = _take_out(everything, start, everything.problem(start).solve(usual), held, learnt=False)
    other = _round(placing, start, usual, held=held, dropped=dropped, learn=True, tick=tick)
    return min((best, other), key=lambda pair: pair[1].account(start, pair[0], dropped))


def _round(
    placing: Placing,
    start: Array,
    stiffness: Array,
    *,
    held: Flags,
    dropped: Flags,
    learn: bool,
    tick: Callable[[], None] | None,
) -> tuple[Fit, Placing]:
    """Learn, take out, let back in, until nothing changes."""
    for turn in range(4):
        problem = placing.problem(start)
        fit = problem.learn(stiffness, tick=tick) if learn and turn < 2 else problem.solve(stiffness)
        stiffness = fit.stiffness
        before = placing.active
        placing, fit, z = _take_out(placing, start, fit, held)
        back = ~placing.active & ~dropped & (z < 0.97 * SUSPECT_SD)
        if back.any():
            placing = replace(placing, active=placing.active | back)
        if np.array_equal(before, placing.active):
            return fit, placing
    return placing.problem(start).solve(stiffness), placing


def _take_out(
    placing: Placing, start: Array, fit: Fit, held: Flags, *, learnt: bool = True
) -> tuple[Placing, Fit, Array]:
    """Take out suspects: each time the worst of its neighbourhood, never two that may explain each other.

    Gives the fit that is left, and how far each mark lies off what the others say, in standard deviations.
    """
    step = float(np.median(np.diff(np.unique(placing.x)))) * 1.6 if len(np.unique(placing.x)) > 1 else 1.0
    for _ in range(20):
        z = placing.judge(fit, learnt=learnt)
        out = np.flatnonzero((z > SUSPECT_SD) & placing.active & ~held)
        if not out.size:
            return placing, fit, z
        chosen: list[int] = []
        for i in out[np.argsort(-z[out])]:
            if all(abs(placing.x[i] - placing.x[j]) > step or abs(placing.v[i] - placing.v[j]) > 0.3 for j in chosen):
                chosen.append(int(i))
        active = placing.active.copy()
        active[chosen] = False
        placing = replace(placing, active=active)
        fit = placing.problem(start).solve(fit.stiffness)
    return placing, fit, placing.judge(fit, learnt=learnt)


def carry(placing: Placing, fit: Fit, pinned: Flags) -> Placing:
    """Move each mark's foot to where the mark stands square on to its section, and take the normal there."""
    n = len(placing.x)
    around = fit.grid.around
    share = np.linspace(0, 1, 8 * around.size + 1)
    stations, which = np.unique(placing.x, return_inverse=True)
    section = around.dense(share) @ fit.sections(stations)
    a, d = section[which, :-1], np.diff(section, axis=1)[which]
    t = np.clip(((placing.points[:, None] - a) * d).sum(-1) / np.maximum((d * d).sum(-1), 1e-12), 0, 1)
    near = ((a + t[..., None] * d - placing.points[:, None]) ** 2).sum(-1).argmin(axis=1)
    v = share[near] + t[np.arange(n), near] * (share[1] - share[0])
    for _ in range(3):
        off, slope = placing.points - fit.value(placing.x, v), fit.value(placing.x, v, by_v=1)
        move = (off * slope).sum(-1) / (slope * slope).sum(-1)
        v = np.clip(v + np.clip(move, -0.02, 0.02), -0.03, 1.03)
    v = np.where(pinned, placing.v, v)
    slope = fit.value(placing.x, v, by_v=1)
    slope /= np.hypot(*slope.T)[:, None]
    return replace(placing, v=v, normal=np.column_stack([slope[:, 1], -slope[:, 0]]), pinned=pinned)
