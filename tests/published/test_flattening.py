"""Strakes of doubly curved hulls laid flat, against a general-purpose mesh flattening on the same mesh.

Source: libigl's as-rigid-as-possible flattening (general-purpose, used in tests only). Measured: the sum over all edges
of the mesh of (length on the flat − length in space)². It starts from our own shape, so that it cannot lose by stopping
early. Cells are of all shapes that a plank's mesh has: standing across it up to four times, square, and lying along it.
A solid plank is straight across, so that the chords of its mesh are its lengths. On the two round strips, where a chord
across comes short by as much as the strip is strained, an edge's length is told along the surface.
"""

import igl
import numpy as np
import pytest
from strakes_by_chance import by_chance
from strips import saddle, sphere

from scrieve.planking.expansion import expand
from scrieve.planking.ruled import ruled_strip


def wigley_strake(below: float, above: float):
    """A strake of the hull y = 1500 (1 − (x/7000)²)(1 − (z/1200)²), straight across; its edges sheer."""
    x = np.linspace(-6300, 6300, 61)
    edges = []
    for depth in (below, above):
        z = depth * (1 - 0.3 * (x / 7000) ** 2)
        edges.append(np.column_stack([x, 1500 * (1 - (x / 7000) ** 2) * (1 - (z / 1200) ** 2), z]))
    return ruled_strip(*edges)


def share_of(strip, first, last):
    """From one share of a strip's length to another."""

    def shorter(u, w):
        point, along, across = strip(first + (last - first) * u, w)
        return point, (last - first) * along, across

    return shorter


STRIPS = {"sphere": sphere(3000, 3000, 0.03), "saddle": saddle}
STRAKES = {"low": wigley_strake(-1000, -860), "high": wigley_strake(-300, -140)}


def mesh(patch, along, across):
    """Points (n, 3) and triangles of a strip, diagonals this way and that, and the parameters of the points."""
    u, w = np.meshgrid(np.linspace(0, 1, along), np.linspace(0, 1, across), indexing="ij")
    i = np.arange(u.size).reshape(u.shape)
    a, b, c, d = i[:-1, :-1], i[1:, :-1], i[1:, 1:], i[:-1, 1:]
    odd = (np.indices(a.shape).sum(axis=0) % 2 == 1)[..., None]
    one = np.where(odd, np.stack([a, b, c], -1), np.stack([a, b, d], -1)).reshape(-1, 3)
    other = np.where(odd, np.stack([a, c, d], -1), np.stack([b, c, d], -1)).reshape(-1, 3)
    return u, w, patch(u, w)[0].reshape(-1, 3), np.concatenate([one, other])


def edges_of(triangles):
    pairs = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    return np.unique(np.sort(pairs, axis=1), axis=0)


def misfit(space, flat, triangles, true=None):
    """Σ (flat − true length of an edge)² [mm²]; the true length is the chord in space unless given."""
    edges = edges_of(triangles)
    chord, drawn = (np.linalg.norm(p[edges[:, 0]] - p[edges[:, 1]], axis=1) for p in (space, flat))
    return float(np.sum((drawn - (chord if true is None else true)) ** 2))


def drawn_on_the_surface(patch, u, w, triangles):
    """Length of each edge drawn straight in the parameters, by 32 short chords [mm]."""
    ends = np.column_stack([u.ravel(), w.ravel()])[edges_of(triangles)]
    at = ends[:, :1] + (ends[:, 1:] - ends[:, :1]) * np.linspace(0, 1, 33)[:, None]
    return np.linalg.norm(np.diff(patch(at[..., 0], at[..., 1])[0], axis=1), axis=-1).sum(axis=1)


def cell_sizes(space, along, across):
    """Middle size of a mesh's cells along and across [mm]."""
    grid = space.reshape(along, across, 3)
    return tuple(float(np.mean(np.linalg.norm(np.diff(grid, axis=k), axis=-1))) for k in (0, 1))


def rival(space, triangles, ours):
    """The general-purpose flattening's shape, begun from ours."""
    settings = igl.ARAPData()
    settings.max_iter = 100
    igl.arap_precomputation(space, triangles.astype(np.int64), 2, np.array([0], dtype=np.int32), settings)
    ours = np.ascontiguousarray(ours)
    return igl.arap_solve(ours[:1].copy(), settings, ours)


def ratio(strip, cells, *, on_the_surface=False, flat=None):
    """Our sum in shares of the rival's, on a mesh of so many points along and across."""
    u, w, space, triangles = mesh(strip, *cells)
    ours = expand(strip).flat(u, w).reshape(-1, 2)
    true = drawn_on_the_surface(strip, u, w, triangles) if on_the_surface else None
    theirs = misfit(space, rival(space, triangles, ours), triangles, true)
    return misfit(space, ours if flat is None else flat(ours), triangles, true) / theirs


def square_cells(strip, across=8):
    """Points along and across of a mesh of nearly square cells, so many to the middle width of a strip."""
    edges = [strip(np.linspace(0, 1, 241), np.full(241, side))[0] for side in (0.0, 1.0)]
    width = np.mean(np.linalg.norm(edges[1] - edges[0], axis=1))
    return round(float(np.sum(np.linalg.norm(np.diff(edges[0], axis=0), axis=1)) / width * across)) + 1, across + 1


@pytest.mark.parametrize("which", STRAKES)
def test_a_whole_strake_of_a_hull_is_laid_no_worse_than_its_mesh(which):
    for cells in (square_cells(STRAKES[which]), square_cells(STRAKES[which], 4)):
        assert ratio(STRAKES[which], cells) <= 1
    # the measure tells: a shape laid straighter than it wants to lie is worse
    assert ratio(STRAKES[which], cells, flat=lambda ours: ours * [1, 1.0005]) > 1.02


@pytest.mark.parametrize("which", STRAKES)
@pytest.mark.parametrize("cells", [(241, 5), (481, 9), (121, 9), (241, 9), (241, 17)])
def test_a_plank_of_it_is_laid_no_worse_whatever_the_cells(which, cells):
    assert ratio(share_of(STRAKES[which], 0.05, 0.35), cells) <= 1


@pytest.mark.parametrize("name", STRIPS)
@pytest.mark.parametrize("cells", [(241, 5), (121, 9), (241, 17)])
def test_nor_is_a_round_strip_by_its_lengths_on_the_surface(name, cells):
    assert ratio(STRIPS[name], cells, on_the_surface=True) <= 1


#: Numbers of strakes by chance, and meshes on which other weights of the expansion lay above: cells that stand across
#: the plank two to four times, cells that lie along it, and square ones.
WIDE = [(4, (121, 5)), (7, (241, 5)), (7, (481, 9)), (10, (121, 9)), (18, (241, 5)), (18, (481, 9)), (20, (121, 9)),
        (21, (481, 9))]  # fmt: skip


@pytest.fixture(scope="module")
def chance():
    return dict(enumerate(by_chance(1, 24), 1))


@pytest.mark.parametrize(("number", "cells"), WIDE)
def test_nor_is_a_strake_by_chance_on_cells_far_from_square(chance, number, cells):
    assert ratio(chance[number], cells, on_the_surface=True) <= 1
