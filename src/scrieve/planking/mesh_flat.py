"""A skin known only as a mesh laid out flat: the sum of the squares of its edges' errors of length made least."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import coo_array, csr_array, diags_array
from scipy.sparse.linalg import splu

from scrieve.errors import BadPlank

Array = NDArray[np.float64]
Triangles = NDArray[np.intp]

_MOST_STEPS = 60


def mesh_edges(triangles: ArrayLike) -> Triangles:
    """(m, 2) edges of a mesh, each once.

    Examples
    --------
    >>> mesh_edges([[0, 1, 2], [0, 2, 3]]).tolist()
    [[0, 1], [0, 2], [0, 3], [1, 2], [2, 3]]
    """
    sides = np.asarray(triangles, dtype=np.intp)[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    return np.asarray(np.unique(np.sort(sides, axis=1), axis=0))


def flatten_mesh(points: ArrayLike, triangles: ArrayLike, start: ArrayLike | None = None) -> Array:
    """Lay a mesh out flat with the least sum of (length on the flat − length in space)² over its edges.

    The edges are chords: a coarse mesh of a round skin comes out short. Where the surface itself is known, `expand`
    takes its lengths from that.

    Parameters
    ----------
    points : array_like (n, 3)
        Points of the mesh [mm].
    triangles : array_like (m, 3)
        Each triangle's three points, all the same way round; one piece, without holes.
    start : array_like (n, 2), optional
        A flat shape to begin from, such as `expand` gives [mm]; found by a conformal map where left out.

    Returns
    -------
    ndarray (n, 2) [mm]

    Raises
    ------
    BadPlank
        The mesh has a point in no triangle, or no flat shape is found.

    Notes
    -----
    Gauss-Newton steps with a damping that falls while they succeed (Nocedal and Wright, *Numerical Optimization*,
    chapter 10.3), so that each shape is better than the last. Without a start: the least-squares conformal map, which
    keeps each triangle's angles as well as it can, brought to size.

    Examples
    --------
    >>> roof = [(0, 0, 0), (3, 0, 4), (3, 9, 4), (0, 9, 0), (6, 0, 0), (6, 9, 0)]
    >>> flat = flatten_mesh(roof, [[0, 1, 2], [0, 2, 3], [1, 4, 5], [1, 5, 2]])
    >>> round(float(np.linalg.norm(flat[4] - flat[0])), 6)  # two slopes of 5
    10.0
    """
    space, corners = np.asarray(points, dtype=float), np.asarray(triangles, dtype=np.intp)
    count = len(space)
    if not np.all(np.isfinite(space)) or len(np.unique(corners)) != count:
        raise BadPlank("the mesh has a point that is no number or in no triangle; clean it first.")
    edges = mesh_edges(corners)
    true = np.linalg.norm(space[edges[:, 0]] - space[edges[:, 1]], axis=1)
    flat = _conformal(space, corners) if start is None else np.array(start, dtype=float)
    damping = 1e-3
    misfit = _misfit(flat, edges, true)
    for _ in range(_MOST_STEPS):
        between = flat[edges[:, 0]] - flat[edges[:, 1]]
        length = np.linalg.norm(between, axis=1)
        along = between / np.maximum(length, 1e-12)[:, None]
        rows = np.repeat(np.arange(len(edges)), 4)
        columns = np.stack([2 * edges[:, 0], 2 * edges[:, 0] + 1, 2 * edges[:, 1], 2 * edges[:, 1] + 1], axis=1)
        jacobian: csr_array = coo_array(
            (np.concatenate([along, -along], axis=1).ravel(), (rows, columns.ravel())), (len(edges), 2 * count)
        ).tocsr()
        normal, slope = jacobian.T @ jacobian, jacobian.T @ (length - true)
        while True:
            step = splu((normal + diags_array(np.full(2 * count, damping))).tocsc()).solve(slope)
            trial = flat - step.reshape(-1, 2)
            better = _misfit(trial, edges, true)
            if better <= misfit:
                break
            damping *= 8
            if damping > 1e9:
                return flat
        gained, flat, misfit = misfit - better, trial, better
        damping = max(damping / 8, 1e-9)
        if gained <= 1e-10 * misfit or np.max(np.abs(step)) < 1e-9 * float(np.max(true)):
            return flat
    raise BadPlank("the mesh is too strongly curved to lie flat; divide it into narrower pieces.")


def _misfit(flat: Array, edges: Triangles, true: Array) -> float:
    return float(np.sum((np.linalg.norm(flat[edges[:, 0]] - flat[edges[:, 1]], axis=1) - true) ** 2))


def _conformal(space: Array, corners: Triangles) -> Array:
    """The least-squares conformal map: each triangle turned and scaled from its own shape as nearly as may be."""
    a, b, c = (space[corners[:, k]] for k in range(3))
    along = b - a
    base = np.linalg.norm(along, axis=1)
    reach = np.einsum("ij,ij->i", c - a, along) / base
    height = np.linalg.norm(np.cross(along, c - a), axis=1) / base
    if np.min(base) <= 0 or np.min(height) <= 0:
        raise BadPlank("the mesh has a triangle without area; clean it first.")
    own = np.stack([np.zeros_like(reach), base + 0j, reach + 1j * height], axis=1)
    share = np.stack([own[:, 2] - own[:, 1], own[:, 0] - own[:, 2], own[:, 1] - own[:, 0]], axis=1)
    share = share / np.sqrt(base * height)[:, None]
    rows = np.repeat(np.arange(len(corners)), 3)
    system = coo_array((share.ravel(), (rows, corners.ravel())), (len(corners), len(space))).tocsc()
    first = int(np.argmax(np.linalg.norm(space - space.mean(axis=0), axis=1)))
    last = int(np.argmax(np.linalg.norm(space - space[first], axis=1)))
    free = np.setdiff1d(np.arange(len(space)), [first, last])
    far = float(np.linalg.norm(space[last] - space[first]))
    flat = np.zeros(len(space), dtype=complex)
    flat[last] = far
    moved = system[:, free]
    flat[free] = splu((moved.conj().T @ moved).tocsc()).solve(
        -(moved.conj().T @ (system[:, [last]].toarray()[:, 0] * far))
    )
    found = np.column_stack([flat.real, flat.imag])
    edges = mesh_edges(corners)
    true = np.linalg.norm(space[edges[:, 0]] - space[edges[:, 1]], axis=1)
    drawn = np.linalg.norm(found[edges[:, 0]] - found[edges[:, 1]], axis=1)
    return np.asarray(found * (np.sum(true * drawn) / np.sum(drawn**2)))
