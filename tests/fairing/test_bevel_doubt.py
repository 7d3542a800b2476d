"""The ± of the hull's own bevels: against surfaces drawn by lot from the posterior, and against true bevels.

Sources: numpy's multivariate normal draws the surface's derivatives, of which each draw has a bevel by its own; the
Wigley hull's bevels are closed (wigley.py in tests/published has its formula: y = (B/2)(1 − (2x/L)²)(1 − (z/T)²)).
"""

import numpy as np
import pytest

from scrieve.boat import Boat
from scrieve.fairing.bevel_doubt import bevel_sd, share_at
from scrieve.fairing.hull import fair
from scrieve.takeoff.marks import Mark

LENGTH, BEAM, DRAUGHT, ERROR = 15000.0, 3000.0, 1200.0, 1.5


def half_breadth(x, z):
    return BEAM / 2 * (1 - (2 * x / LENGTH - 1) ** 2) * (1 - (z / DRAUGHT - 1) ** 2)


def bevel(x, z):
    by_x = -2 * BEAM / LENGTH * (2 * x / LENGTH - 1) * (1 - (z / DRAUGHT - 1) ** 2)
    by_z = -BEAM / DRAUGHT * (1 - (2 * x / LENGTH - 1) ** 2) * (z / DRAUGHT - 1)
    return np.arctan(by_x / np.hypot(1, by_z))


def measured(seed):
    rng, heights = np.random.default_rng(seed), np.linspace(0, DRAUGHT, 11)
    kinds = ["heel", *[""] * 9, "head"]
    marks = []
    for frame, x in enumerate(np.linspace(1000, 14000, 14)):
        for z, kind in zip(heights, kinds, strict=True):
            up, out = rng.normal((z, half_breadth(x, z)), ERROR)
            marks.append(Mark(str(frame + 1), x, up, max(out, 0.0), number=len(marks) + 1, kind=kind))
    return fair(marks, Boat("Wigley", sigma_mm=ERROR))


@pytest.fixture(scope="module")
def hulls():
    return [measured(seed) for seed in range(3)]


@pytest.mark.parametrize(("x", "v"), [(1000.0, 0.0), (4321.0, 0.35), (9000.0, 1.0)])
def test_bevels_of_surfaces_drawn_from_the_posterior_scatter_so_much(hulls, x, v):
    fit = hulls[0].fit
    at, share, ways = np.array([x]), np.array([v]), ({"by_x": 1}, {"by_v": 1})
    rows = [fit.grid.rows(at, share, axis[None], **way) for way in ways for axis in np.eye(2)]
    index, value = (np.stack(part, axis=1) for part in zip(*rows, strict=True))
    middle = np.concatenate([fit.value(at, share, **way)[0] for way in ways])
    drawn = np.random.default_rng(0).multivariate_normal(middle, fit.row_covariance(index, value)[0], 40_000)
    along = drawn[:, 2:] / np.hypot(*drawn[:, 2:].T)[:, None]
    bevels = np.arctan(along[:, 1] * drawn[:, 0] - along[:, 0] * drawn[:, 1])
    assert bevel_sd(hulls[0], x, v)[0] == pytest.approx(bevels.std(), rel=0.03)  # 40 000 draws: 0.4 %, and linear


def test_two_of_them_hold_the_true_bevel_nineteen_times_out_of_twenty(hulls):
    inside, width = [], []
    for hull in hulls:
        x, v = (part.ravel() for part in np.meshgrid(np.linspace(1500, 13500, 25), np.linspace(0.05, 0.95, 9)))
        sd = bevel_sd(hull, x, v)
        off = hull.normal(x, v)[1] - bevel(x, hull.fit.value(x, v)[:, 1])
        inside += list(np.abs(off) < 2 * sd)
        width += list(np.abs(off) / sd)
    assert np.mean(inside) > 0.9  # 98.9 % over twelve seeds
    assert np.mean(width) > 0.4  # nor is it told wide to be safe: of a normal error it would be 0.8


def test_a_share_of_the_girth_is_found_from_an_arc_length(hulls):
    section = hulls[0].section("7", 50)
    points = hulls[0].fit.value(np.full(50, section.station_mm), share_at(hulls[0], section.station_mm, section.s_mm))
    assert np.abs(points - section.points_mm).max() < 0.05  # the section's own points, by Simpson's rule
