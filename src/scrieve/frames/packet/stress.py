"""Stress locked into a glued packet, and how the frame moves when some of it is planed, tapered or bevelled away."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from scrieve.errors import BadLamination
from scrieve.frames.packet.stack import Along
from scrieve.frames.parts import Array

#: Gauss points across the siding, at which a bevelled section is added up, and through what is left of a lamination.
_ACROSS, _THROUGH = 12, 2


@dataclass(frozen=True, slots=True, eq=False)
class Movement:
    """How the frame moves when a section is worked out of the packet; (n,) each, two parts of one figure.

    With κ the curvature of the neutral line in the jig, the curvature in the frame's plane grows by `share` κ +
    `given`, the neutral line stretches by `stretch` κ + `stretch_given`, and the frame bends sideways by `side` κ +
    `side_given`, above zero where the far face becomes the round one [1/mm].
    """

    share: Array
    given: Array
    stretch: Array
    stretch_given: Array
    side: Array
    side_given: Array

    def curvature(self, jig_per_mm: ArrayLike) -> Array:
        """(n,) gain of curvature in the frame's plane [1/mm]."""
        return np.asarray(self.share * np.asarray(jig_per_mm, dtype=float) + self.given)

    def stretched(self, jig_per_mm: ArrayLike) -> Array:
        """(n,) strain of the neutral line [-]."""
        return np.asarray(self.stretch * np.asarray(jig_per_mm, dtype=float) + self.stretch_given)

    def sideways(self, jig_per_mm: ArrayLike) -> Array:
        """(n,) curvature out of the frame's plane [1/mm]."""
        return np.asarray(self.side * np.asarray(jig_per_mm, dtype=float) + self.side_given)


class _Bent(NamedTuple):
    """The packet in the jig: each lamination is bent by κ `unit` + `own` about its own middle; (n, k) each."""

    along: Along
    kappa: Array
    unit: Array
    own: Array

    @classmethod
    def of(cls, along: Along, jig_per_mm: ArrayLike) -> _Bent:
        kappa = np.broadcast_to(np.asarray(jig_per_mm, dtype=float), along.depth_mm.shape)
        inboard = along.middles_mm - along.neutral_mm[:, None]
        unit = (1 - along.set_share) / (1 - kappa[:, None] * inboard)
        return cls(along, kappa, unit, np.broadcast_to(-along.set_per_mm, unit.shape))

    @property
    def by(self) -> Array:
        return self.kappa[:, None] * self.unit + self.own


def locked_stress(along: Along, jig_per_mm: ArrayLike, depth_mm: ArrayLike, factor: float = 1.0) -> Array:
    """Stress along the grain in the released packet at depths below its outer face.

    Parameters
    ----------
    along : Along
        The stack at n places.
    jig_per_mm : array_like (n,)
        Curvature of the neutral line in the jig.
    depth_mm : array_like (m,)
        Depths below the outer face [mm].
    factor : float
        Learnt factor on springback: what a packet gives back more than theory, it held more of.

    Returns
    -------
    ndarray (n, m)
        Above zero in tension [N/mm²]; 0 outside the packet.

    References
    ----------
    .. [1] docs/frames.md, "Locked-in stress": bending of each lamination about its own middle, and of the glued section
       by the moment given back.
    """
    bent, depth = _Bent.of(along, jig_per_mm), np.asarray(depth_mm, dtype=float)
    unit, own = _whole(bent)
    stretch, turn, _ = factor * (bent.kappa * unit.T + own.T)[..., None]
    inboard = depth - along.neutral_mm[:, None]  # (n, m)
    longer = (stretch + turn * inboard) / (1 - bent.kappa[:, None] * inboard)
    top, bottom = (along.middles_mm + side * along.thick_mm / 2 for side in (-1, 1))
    inside = (depth[None, :, None] >= top[:, None]) & (depth[None, :, None] < bottom[:, None])
    bending = bent.by[:, None] * (depth[None, :, None] - along.middles_mm[:, None])
    each = along.modulus_mpa * (longer[..., None] * (1 - bending) - factor * bending)
    return np.asarray(np.where(inside, each, 0.0).sum(axis=2))


def movement(
    along: Along,
    jig_per_mm: ArrayLike,
    outer_mm: ArrayLike,
    moulded_mm: ArrayLike,
    slope: ArrayLike,
    sided_mm: float,
    factor: float = 1.0,
) -> Movement:
    """How a half moves when the finished section is worked out of the released packet.

    Parameters
    ----------
    along : Along
        The stack at n places.
    jig_per_mm : array_like (n,)
        Curvature of the neutral line in the jig; the parts of the movement hang on it a little, since the laminations
        lie on unlike radii [1/mm].
    outer_mm : array_like (n,)
        Depth of the finished outer edge below the packet's outer face, on the moulding face [mm].
    moulded_mm : array_like (n,)
        Finished depth from there.
    slope : array_like (n,)
        Tangent of the bevel, standing above zero: the edges lie so much further out for each mm towards the far face.
    sided_mm : float
        Finished siding. Ripping square to the laminations moves nothing by itself: each half keeps the same balance.
    factor : float
        Learnt factor on springback.

    Raises
    ------
    BadLamination
        The finished section has no wood at some place.

    References
    ----------
    .. [1] docs/frames.md, "Locked-in stress": what is left must balance.
    """
    bent = _Bent.of(along, jig_per_mm)
    node, weight = np.polynomial.legendre.leggauss(_ACROSS)
    z = sided_mm * (node + 1) / 2
    outer = np.asarray(outer_mm, dtype=float)[:, None] - np.asarray(slope, dtype=float)[:, None] * z
    inner = outer + np.asarray(moulded_mm, dtype=float)[:, None]
    parts = [
        factor * (left - whole)
        for left, whole in zip(_freed(bent, outer, inner, z, sided_mm * weight / 2), _whole(bent), strict=True)
    ]
    (e, a, b), (e0, a0, b0) = (part.T for part in parts)
    return Movement(-a, -a0, e, e0, b, b0)


def _whole(bent: _Bent) -> tuple[Array, Array]:
    """What the glued packet does when it is let go, nothing taken off."""
    outer = np.zeros((len(bent.kappa), 2))
    return _freed(bent, outer, outer + bent.along.depth_mm[:, None], np.array([-0.5, 0.5]), np.full(2, 0.5))


def _freed(bent: _Bent, outer: Array, inner: Array, z: Array, dz: Array) -> tuple[Array, Array]:
    """How a section springs from the jig, for each 1/mm of curvature there and for what was bent beforehand; (n, 3).

    The three are strain of the neutral line, strain for each mm inboard of it, and for each mm across the siding. The
    section reaches from `outer` to `inner` (n, j) below the outer face at places `z` (j,) across, each `dz` wide.
    """
    along, kappa = bent.along, bent.kappa[:, None, None]
    top, bottom = (along.middles_mm[:, None] + side * along.thick_mm[:, None] / 2 for side in (-1, 1))
    low, high = np.maximum(top, outer[..., None]), np.minimum(bottom, inner[..., None])
    half, middle = np.maximum(high - low, 0.0) / 2, (high + low) / 2  # (n, j, k): what is left of each lamination
    across = np.stack([dz, z * dz, z * z * dz], axis=1)
    stiff, loads = np.zeros((3, *outer.shape)), np.zeros((2, 2, *outer.shape))
    for node, weight in zip(*np.polynomial.legendre.leggauss(_THROUGH), strict=True):
        depth = middle + node * half
        inboard, arm = depth - along.neutral_mm[:, None, None], depth - along.middles_mm[:, None]
        wood = along.modulus_mpa * half * weight
        give = wood * (1 - bent.by[:, None] * arm) / (1 - kappa * inboard)
        for power in range(3):
            stiff[power] += give.sum(axis=2)
            give = give * inboard
        for which, by in enumerate((bent.unit, bent.own)):
            held = wood * arm * by[:, None]
            loads[which, 0] += held.sum(axis=2)
            loads[which, 1] += (held * inboard).sum(axis=2)
    s0, s1, s2 = stiff @ across
    if np.any(s0[:, 0] <= 0):
        raise BadLamination("the finished section lies outside the packet; give a deeper blank or a smaller moulding.")
    matrix = np.stack(
        [s0[:, 0], s1[:, 0], s0[:, 1], s1[:, 0], s2[:, 0], s1[:, 1], s0[:, 1], s1[:, 1], s0[:, 2]], axis=1
    )
    unit, own = (
        np.linalg.solve(matrix.reshape(-1, 3, 3), np.column_stack([f0[:, 0], f1[:, 0], f0[:, 1]])[..., None])[..., 0]
        for f0, f1 in loads @ across
    )
    return unit, own
