"""Fair hulls whose surface is a known form, set straight into the spline, so that no fitting stands between."""

from __future__ import annotations

import itertools
from functools import cache

import numpy as np
from threadpoolctl import threadpool_limits

from scrieve.boat import Boat
from scrieve.fairing.result import FairHull
from scrieve.fairing.smoother import Fit, Grid, Problem, Rows
from scrieve.geometry.bspline import Basis


def problem_of(section, x, *, pieces=12, features=(0.0, 1.0)):
    """Observations of a form, both coordinates at every Greville point and beyond, with a weak prior."""
    breaks = [0.0]
    for a, b in itertools.pairwise(features):
        breaks += list(np.linspace(a, b, max(round(pieces * (b - a)), 2) + 1)[1:])
        if b < 1:
            breaks += [b, b]
    grid = Grid(Basis(np.asarray(x, float)), Basis(np.array(breaks)))
    at = np.linspace(x[0], x[-1], 3 * grid.along.size)
    share = np.unique(np.concatenate([np.linspace(0, 1, 4 * grid.around.size), features]))
    xx, vv = (a.ravel() for a in np.meshgrid(at, share, indexing="ij"))
    points = section(xx, vv)
    rows = [grid.rows(xx, vv, np.tile(d, (len(xx), 1))) for d in ([1.0, 0.0], [0.0, 1.0])]
    data = Rows(
        np.vstack([index for index, _ in rows]),
        np.vstack([value for _, value in rows]),
        np.concatenate([points[:, 0], points[:, 1]]),
        np.full(2 * len(xx), 1e-3),
    )
    return Problem.of(grid, data, (), np.zeros(grid.blocks * grid.block))


def hull_of(section, x, *, stations=None, features=(0.0, 1.0), pieces=12):
    """A hull that passes through `section(x, v)` (n, 2) to a thousandth of a millimetre, if smooth enough."""
    with threadpool_limits(1, "blas"):
        return _solved(section, x, stations, features, pieces)


def _solved(section, x, stations, features, pieces):
    problem = problem_of(section, x, pieces=pieces, features=features)
    fit = problem.solve(np.array([-40.0, -40.0, 0.0]))
    # one step of refinement: the weak prior's pull is taken off again
    left = Rows(problem.data.index, problem.data.value, problem.data.target - problem.data.of(fit.c), problem.data.sd)
    more = Problem.of(problem.grid, left, (), np.zeros_like(fit.c)).solve(np.array([-40.0, -40.0, 0.0]))
    fit = Fit(fit.grid, fit.c + more.c, fit.factor, fit.stiffness)
    stations = stations if stations is not None else {str(n): float(at) for n, at in enumerate(x)}
    return FairHull(Boat("a form"), fit, stations, (), tuple(features))


LENGTH, BEAM, DRAUGHT = 15000.0, 3000.0, 1200.0


def wigley(x, v):
    """Wigley's hull by share of the draught: a product of parabolas, which cubic splines hold exactly."""
    z = DRAUGHT * (np.asarray(v) - 1)
    return np.column_stack([BEAM / 2 * (1 - (2 * x / LENGTH) ** 2) * (1 - (z / DRAUGHT) ** 2), z])


@cache
def wigley_hull():
    return hull_of(wigley, np.linspace(-6900, 6900, 13))


APEX, TAPER = 12000.0, 0.15


def cone(x, v):
    """A quarter of a circular cone about a fore-and-aft axis, its apex aft: radius 0.15 (12000 - x)."""
    angle = np.asarray(v) * np.pi / 2
    r = TAPER * (APEX - x)
    return np.column_stack([r * np.sin(angle), -r * np.cos(angle)])


@cache
def cone_hull():
    return hull_of(cone, np.linspace(0, 10000, 9), pieces=16)


STATIONS = np.array([-6000.0, -4500, -3000, -1000, 500, 2500, 4000, 6000])
SIGMA = 2.0


def placed(knuckle=False):
    """A problem with marks placed unevenly, and the hull that it gives."""
    rng = np.random.default_rng(4)
    around = np.array([0, 0.25, 0.5, 0.5, 0.5, 0.75, 1]) if knuckle else np.linspace(0, 1, 6)
    grid = Grid(Basis(STATIONS), Basis(around))
    x = np.repeat(STATIONS, 6)
    v = np.tile(np.linspace(0, 1, 6), len(STATIONS)) + np.where(np.tile([0, 1, 1, 1, 1, 0], 8), 0.05, 0)
    keep = rng.uniform(size=len(x)) < 0.85
    x, v = x[keep], v[keep]
    points = wigley(x, v)
    parts = [(*grid.rows(x, v, np.tile(d, (len(x), 1))), points @ d) for d in (np.array([1.0, 0]), np.array([0, 1.0]))]
    index, value, target = (np.concatenate(both) for both in zip(*parts, strict=True))
    data = Rows(index, value, target, np.full(len(index), SIGMA))
    problem = Problem.of(grid, data, (), np.zeros(grid.blocks * grid.block))
    fit = problem.solve(np.array([-6.0, -4.0, 0.0]))
    features = (0.0, 0.5, 1.0) if knuckle else (0.0, 1.0)
    stations = {str(n): float(at) for n, at in enumerate(STATIONS)}
    return problem, FairHull(Boat("a form", sigma_mm=SIGMA), fit, stations, (), features)


def dense(problem, stiffness):
    """Inverse of the whole posterior covariance, by numpy."""
    parts = problem.data.blocks(problem.grid)
    problem.grid.stiffen(problem.grid.weights(stiffness), parts)
    k, b = parts.diagonal.shape[:2]
    full = np.eye(k * b) * 1e-7
    for i in range(k):
        full[i * b : (i + 1) * b, i * b : (i + 1) * b] += parts.diagonal[i]
    for i in range(k - 1):
        full[(i + 1) * b : (i + 2) * b, i * b : (i + 1) * b] = parts.below[i]
        full[i * b : (i + 1) * b, (i + 1) * b : (i + 2) * b] = parts.below[i].T
    return full
