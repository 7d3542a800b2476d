"""How a frame's line moves when its curvature changes a little, and what of it is left past moving it as a whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import eigh

from scrieve.errors import BadGeometry

Array = NDArray[np.float64]

#: Fewest points of a target line.
LEAST_POINTS = 8


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """The line that a frame ought to have: m points (half-breadth, height) by arc length, heel to head [mm].

    It is the line that is measured: the outer face, the inner face or the neutral line, as the builder lays his rule.
    """

    s_mm: Array
    points_mm: Array

    def __post_init__(self) -> None:
        s, points = self.s_mm, self.points_mm
        if s.ndim != 1 or points.shape != (len(s), 2) or len(s) < LEAST_POINTS:
            raise BadGeometry(f"the line to compare with has {len(s)} points; give {LEAST_POINTS} or more.")
        if not (np.isfinite(s).all() and np.isfinite(points).all() and np.all(np.diff(s) > 0)):
            raise BadGeometry("the line to compare with is not finite or does not run heel to head; design it again.")

    @property
    def length_mm(self) -> float:
        """Arc length [mm]."""
        return float(self.s_mm[-1] - self.s_mm[0])

    @property
    def tangent(self) -> Array:
        """(m, 2) unit tangents, heel to head."""
        way = np.gradient(self.points_mm, self.s_mm, axis=0, edge_order=2)
        return np.asarray(way / np.hypot(way[:, 0], way[:, 1])[:, None])

    @property
    def outward(self) -> Array:
        """(m, 2) unit normals to the right of the tangent: outboard, for a line that runs heel to head."""
        tangent = self.tangent
        return np.column_stack([tangent[:, 1], -tangent[:, 0]])

    def at(self, s_mm: ArrayLike, field: Array) -> Array:
        """A field (m, ...) of this line at places along it, straight between its points."""
        s = np.asarray(s_mm, dtype=float)
        here = np.clip(np.searchsorted(self.s_mm, s) - 1, 0, len(self.s_mm) - 2)
        share = (s - self.s_mm[here]) / (self.s_mm[here + 1] - self.s_mm[here])
        share = share.reshape(share.shape + (1,) * (field.ndim - 1))
        return np.asarray(field[here] * (1 - share) + field[here + 1] * share)


def displaced(target: Target, curvature_change: ArrayLike) -> Array:
    """How points move when the curvature changes, the heel held in place and direction.

    Parameters
    ----------
    target : Target
    curvature_change : array_like, shape (m,) or (m, k)
        Change of curvature at each point of the line [1/mm], small beside the curvature a full turn would need.

    Returns
    -------
    ndarray, shape (m, 2) or (m, k, 2)
        δr(s) = ∫₀ˢ δκ(u) J (r(s) − r(u)) du, J a quarter turn to the left [mm].

    References
    ----------
    .. [1] docs/glue-up.md, "Deviation": each piece that bends by δκ du turns all that lies past it.
    """
    change = np.asarray(curvature_change, dtype=float)
    columns = change.reshape(len(change), -1)
    r = target.points_mm
    turned = _running(columns, target.s_mm)
    carried = _running(columns[:, :, None] * r[:, None, :], target.s_mm)
    arm = turned[:, :, None] * r[:, None, :] - carried
    moved = np.stack([-arm[:, :, 1], arm[:, :, 0]], axis=-1)
    return np.asarray(moved[:, 0] if change.ndim == 1 else moved)


def outward_of(target: Target, moved: Array) -> Array:
    """The part of a movement (m, ..., 2) that is square to the line, above zero outboard: (m, ...) [mm]."""
    normals = target.outward.reshape((len(moved),) + (1,) * (moved.ndim - 2) + (2,))
    return np.asarray((moved * normals).sum(axis=-1))


def rigid_columns(target: Target) -> Array:
    """(m, 3): outward movement where the frame is shifted a mm each way, and turned by 1 mm at its end."""
    normals = target.outward
    arm = target.points_mm - target.points_mm.mean(axis=0)
    reach = float(np.hypot(arm[:, 0], arm[:, 1]).max())
    return np.column_stack([normals, (-arm[:, 1] * normals[:, 0] + arm[:, 0] * normals[:, 1]) / reach])


@dataclass(frozen=True, slots=True, eq=False)
class Lying:
    """How a frame may lie beside its line as a whole: two ways that are free, and a slide along itself, which is not.

    A frame whose bend changes along it would fit many a wrong line if only it were slid far enough: the marks on it
    tell where along the line it lies.

    Attributes
    ----------
    square : ndarray (m, 2)
        Outward movement in the two free ways, with no slide in either [mm].
    slide : ndarray (m,)
        Outward movement for a slide of one mm (RMS along the line) towards the head.
    along : ndarray (m,)
        Movement along the line for that slide; its weighted square sums to one.
    weight : ndarray (m,)
        Share of the length that each point stands for.
    """

    square: Array
    slide: Array
    along: Array
    weight: Array

    def slid(self, along_mm: Array) -> Array:
        """How far a movement along the line, (m, ...), is a slide of the whole: (...) [mm]."""
        return np.asarray(np.tensordot(self.weight * self.along, along_mm, axes=1))

    def rest(self, fields: Array) -> Array:
        """Outward fields (m, ...) past the best fit in the two free ways over the whole line."""
        return without_rigid(self.square, fields, self.weight)


def lying(target: Target) -> Lying:
    """The ways in which a frame can lie beside its line.

    References
    ----------
    .. [1] docs/glue-up.md, "Deviation": of the movements of the whole, the one with the least share square to the line;
       an eigenvalue problem of three unknowns. The other two are orthogonal to it both square to the line and along it.
    """
    outward, tangent = rigid_columns(target), target.tangent
    arm = target.points_mm - target.points_mm.mean(axis=0)
    reach = float(np.hypot(arm[:, 0], arm[:, 1]).max())
    along = np.column_stack([tangent, (-arm[:, 1] * tangent[:, 0] + arm[:, 0] * tangent[:, 1]) / reach])
    weight = np.gradient(target.s_mm)
    weight /= weight.sum()
    square, whole = (columns.T @ (weight[:, None] * columns) for columns in (outward, along))
    _, ways = eigh(square, square + whole)
    way = ways[:, 0] / np.sqrt(ways[:, 0] @ whole @ ways[:, 0])
    way *= np.sign(weight @ along @ way) or 1.0
    return Lying(outward @ ways[:, 1:], outward @ way, along @ way, weight)


def laid(target: Target, moved: Array) -> Array:
    """What is seen of a movement (m, ..., 2) where the frame is laid on its line with its marks on those of the line.

    Returns
    -------
    ndarray (m, ...)
        The movement square to the line, above zero outboard, past the slide and the best fit in the two other ways
        [mm]: whatever the frame was held by, it is the same.
    """
    ways = lying(target)
    return ways.rest(unslid(target, moved, ways))


def unslid(target: Target, moved: Array, ways: Lying | None = None) -> Array:
    """The movement square to the line, as `laid`, but for the two free ways, which are left in."""
    ways = ways or lying(target)
    shape = (len(moved),) + (1,) * (moved.ndim - 2)
    along = (moved * target.tangent.reshape(*shape, 2)).sum(axis=-1)
    return np.asarray(outward_of(target, moved) - ways.slide.reshape(shape) * ways.slid(along))


def without_rigid(columns: Array, fields: Array, weight: Array | None = None) -> Array:
    """Fields (m, ...) with what the columns explain taken off by least squares."""
    root = np.ones(len(columns)) if weight is None else np.sqrt(weight)
    flat = fields.reshape(len(fields), -1)
    found = np.linalg.lstsq(columns * root[:, None], flat * root[:, None], rcond=None)[0]
    return np.asarray((flat - columns @ found).reshape(fields.shape))


def _running(rate: Array, s: Array) -> Array:
    step = np.diff(s).reshape((-1,) + (1,) * (rate.ndim - 1))
    return np.concatenate([np.zeros((1, *rate.shape[1:])), np.cumsum(step * (rate[1:] + rate[:-1]) / 2, axis=0)])
