"""Stress locked into a glued packet, and how the frame moves when some of it is planed, tapered or bevelled away."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from scrieve.errors import BadLamination
from scrieve.frames.parts import Array
from scrieve.frames.stack import Along

#: Places across the siding at which a bevelled section is added up (Gauss).
_ACROSS = 12


class Fibre(NamedTuple):
    """Stress of each lamination at depth u below the outer face, E (p u + q), for one curvature; (n, k) each."""

    p: Array
    q: Array


@dataclass(frozen=True, slots=True, eq=False)
class Movement:
    """How the frame moves when a section is worked out of the packet; (n,) each, two parts of one figure.

    With κ the curvature of the neutral line in the jig, the curvature in the frame's plane grows by `share` κ +
    `given`, the outer face of the packet stretches by `stretch` κ + `stretch_given`, and the frame bends sideways by
    `side` κ + `side_given`, above zero where the far face becomes the round one [1/mm].
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

    def sideways(self, jig_per_mm: ArrayLike) -> Array:
        """(n,) curvature out of the frame's plane [1/mm]."""
        return np.asarray(self.side * np.asarray(jig_per_mm, dtype=float) + self.side_given)


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
    kappa = np.broadcast_to(np.asarray(jig_per_mm, dtype=float), along.depth_mm.shape)
    depth = np.asarray(depth_mm, dtype=float)
    fibre = _fibre(along, along.bending(kappa), along.share * kappa - along.given)
    top, bottom = (along.middles_mm + side * along.thick_mm / 2 for side in (-1, 1))
    inside = (depth[None, :, None] >= top[:, None]) & (depth[None, :, None] < bottom[:, None])
    each = along.modulus_mpa * (fibre.p[:, None] * depth[:, None] + fibre.q[:, None])
    return np.asarray(factor * np.where(inside, each, 0.0).sum(axis=2))


def movement(
    along: Along, outer_mm: ArrayLike, moulded_mm: ArrayLike, slope: ArrayLike, sided_mm: float, factor: float = 1.0
) -> Movement:
    """How a half moves when the finished section is worked out of the released packet.

    Parameters
    ----------
    along : Along
        The stack at n places.
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
    .. [1] docs/frames.md, "Locked-in stress": what is left must balance, ∫(σ + E (e + a u + b z)) (1, u, z) dA = 0.
    """
    unit = _fibre(along, np.broadcast_to(1 - along.set_share, along.thick_mm.shape), along.share)
    given = _fibre(along, np.broadcast_to(-along.set_per_mm, along.thick_mm.shape), -along.given)
    node, weight = np.polynomial.legendre.leggauss(_ACROSS)
    z, dz = sided_mm * (node + 1) / 2, sided_mm * weight / 2
    outer = np.asarray(outer_mm, dtype=float)[:, None] - np.asarray(slope, dtype=float)[:, None] * z
    inner = outer + np.asarray(moulded_mm, dtype=float)[:, None]
    top, bottom = (along.middles_mm[:, None] + side * along.thick_mm[:, None] / 2 for side in (-1, 1))
    low, high = np.maximum(top, outer[..., None]), np.minimum(bottom, inner[..., None])
    high = np.maximum(low, high)  # (n, z, k): what is left of each lamination
    powers = [(high**i - low**i) / i * along.modulus_mpa for i in (1, 2, 3)]
    over_z = [np.stack([dz, z * dz, z * z * dz])] * 3
    stiff = np.empty((len(outer), 3, 3))
    sums = [(np.einsum("nzk,jz->nj", power, part)) for power, part in zip(powers, over_z, strict=True)]
    stiff[:, 0] = np.column_stack([sums[0][:, 0], sums[1][:, 0], sums[0][:, 1]])
    stiff[:, 1] = np.column_stack([sums[1][:, 0], sums[2][:, 0], sums[1][:, 1]])
    stiff[:, 2] = np.column_stack([sums[0][:, 1], sums[1][:, 1], sums[0][:, 2]])
    if np.any(sums[0][:, 0] <= 0):
        raise BadLamination("the finished section lies outside the packet; give a deeper blank or a smaller moulding.")
    moved = []
    for fibre in (unit, given):
        force = [
            np.einsum("nk,nzk,jz->nj", fibre.p, powers[i + 1], over_z[0])
            + np.einsum("nk,nzk,jz->nj", fibre.q, powers[i], over_z[0])
            for i in (0, 1)
        ]
        load = -factor * np.column_stack([force[0][:, 0], force[1][:, 0], force[0][:, 1]])
        moved.append(np.linalg.solve(stiff, load[..., None])[..., 0])
    (e, a, b), (e0, a0, b0) = moved[0].T, moved[1].T
    return Movement(-a, -a0, e, e0, b, b0)


def _fibre(along: Along, bent: Array, lost: Array) -> Fibre:
    """Stress over modulus as p u + q: bent about each middle by (n, k), and back about the neutral line by (n,)."""
    return Fibre(lost[:, None] - bent, bent * along.middles_mm - (lost * along.neutral_mm)[:, None])
