"""Doubly curved strips laid flat, against a general-purpose mesh flattening on the same mesh.

Source: libigl's as-rigid-as-possible flattening (general-purpose, used in tests only). Measured: the sum over all edges
of the mesh of (length on the flat − length in space)². It starts from our own shape, so that it cannot lose by stopping
early. What a mesh calls the length of an edge in space is its chord; the edge itself, drawn on the surface, is longer.
"""

import igl
import numpy as np
import pytest
from strips import saddle, sphere

from scrieve.planking.expansion import expand
from scrieve.planking.mesh_flat import flatten_mesh
from scrieve.planking.ruled import ruled_strip


def wigley_strake(below: float, above: float):
    """A strake of the hull y = 1500 (1 − (x/7000)²)(1 − (z/1200)²), straight across; its edges sheer."""
    x = np.linspace(-6300, 6300, 61)
    edges = []
    for depth in (below, above):
        z = depth * (1 - 0.3 * (x / 7000) ** 2)
        edges.append(np.column_stack([x, 1500 * (1 - (x / 7000) ** 2) * (1 - (z / 1200) ** 2), z]))
    return ruled_strip(*edges)


STRIPS = [("sphere", sphere(3000, 3000, 0.03)), ("saddle", saddle)]


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


def rival(space, triangles, ours):
    """The general-purpose flattening's shape, begun from ours."""
    settings = igl.ARAPData()
    settings.max_iter = 100
    igl.arap_precomputation(space, triangles.astype(np.int64), 2, np.array([0], dtype=np.int32), settings)
    ours = np.ascontiguousarray(ours)
    return igl.arap_solve(ours[:1].copy(), settings, ours)


def opponent(space, triangles, ours):
    return misfit(space, rival(space, triangles, ours), triangles)


@pytest.mark.parametrize(("name", "patch"), STRIPS)
@pytest.mark.parametrize("cells", [(241, 17), (121, 9)])  # near to square: 12 to 33 mm either way
def test_the_map_of_a_surface_is_no_worse_on_a_mesh_of_it(name, patch, cells):
    u, w, space, triangles = mesh(patch, *cells)
    ours = expand(patch).flat(u, w).reshape(-1, 2)
    assert misfit(space, ours, triangles) <= opponent(space, triangles, ours)
    # the measure tells: a shape laid straighter than it wants to lie is worse
    assert misfit(space, ours * [1, 1.0005], triangles) > 1.02 * misfit(space, ours, triangles)


def cell_sizes(space, along, across):
    """Middle size of a mesh's cells along and across [mm]."""
    grid = space.reshape(along, across, 3)
    return tuple(float(np.mean(np.linalg.norm(np.diff(grid, axis=k), axis=-1))) for k in (0, 1))


@pytest.mark.parametrize(("name", "patch"), STRIPS)
def test_on_cells_that_stand_across_the_map_made_for_them_is_no_worse(name, patch):
    for cells, as_drawn in (((241, 5), True), ((481, 9), False)):  # the first so coarse that its chords come short
        u, w, space, triangles = mesh(patch, *cells)
        ours = expand(patch, cells=cell_sizes(space, *cells)).flat(u, w).reshape(-1, 2)
        true = drawn_on_the_surface(patch, u, w, triangles) if as_drawn else None
        theirs = misfit(space, rival(space, triangles, ours), triangles, true)
        assert misfit(space, ours, triangles, true) <= theirs
        # the measure tells: the map that favours no direction is above it on such cells
        evenly = expand(patch).flat(u, w).reshape(-1, 2)
        assert misfit(space, evenly, triangles, true) > 1.1 * misfit(space, ours, triangles, true)


def square_cells(strip):
    """Points along and across of a mesh of nearly square cells, eight to the middle width of a strip."""
    edges = [strip(np.linspace(0, 1, 241), np.full(241, side))[0] for side in (0.0, 1.0)]
    width = np.mean(np.linalg.norm(edges[1] - edges[0], axis=1))
    return round(float(np.sum(np.linalg.norm(np.diff(edges[0], axis=0), axis=1)) / width * 8)) + 1, 9


@pytest.mark.parametrize(("below", "above"), [(-1000, -860), (-300, -140)])
def test_a_whole_strake_of_a_hull_is_laid_no_worse_than_its_mesh(below, above):
    strake = wigley_strake(below, above)
    u, w, space, triangles = mesh(strake, *square_cells(strake))
    flat = expand(strake).flat(u, w).reshape(-1, 2)
    assert misfit(space, flat, triangles) <= opponent(space, triangles, flat)


@pytest.mark.parametrize(("name", "patch"), STRIPS)
@pytest.mark.parametrize("cells", [(241, 5), (61, 5), (61, 17)])  # long cells and wide ones, coarse and fine
def test_a_mesh_alone_is_laid_flat_no_worse_whatever_its_cells(name, patch, cells):
    _, _, space, triangles = mesh(patch, *cells)
    ours = flatten_mesh(space, triangles)
    assert misfit(space, ours, triangles) <= opponent(space, triangles, ours)
