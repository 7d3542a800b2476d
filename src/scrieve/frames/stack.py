"""The stack: laminations inside to outside, each with its ends and the curve it brings along, and what they make.

Laminations close up towards the outside, so that the packet's outer face stays parallel to the moulded line and its
inner face steps where one is dropped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadLamination, above_zero
from scrieve.frames.choice import FrameChoice
from scrieve.frames.parts import Array
from scrieve.timber.species import Species


@dataclass(frozen=True, slots=True)
class Ply:
    """One lamination of a stack.

    `first_mm` and `last_mm` are where it begins and ends along the moulded line (infinite: past heel or head). Before
    it is laid up it holds the curvature `set_share` × the jig's + `set_per_mm`: 0 for straight stock.
    """

    timber: Species
    thickness_mm: float
    first_mm: float = -np.inf
    last_mm: float = np.inf
    set_share: float = 0.0
    set_per_mm: float = 0.0


@dataclass(frozen=True, eq=False)
class Along:
    """A stack of k laminations at n places of the moulded line; stiffness per mm of width [N mm].

    `present` (n, k) says which laminations are there, `depth_mm` (n,) how deep they are together, `neutral_mm` (n,)
    the neutral line from the *outer* face, `middles_mm` (n, k) the middle of each from there. On release the packet
    loses `share` × its curvature in the jig, less `given` (n,) [1/mm].
    """

    modulus_mpa: Array
    thickness_mm: Array
    set_share: Array
    set_per_mm: Array
    present: NDArray[np.bool_]

    @cached_property
    def thick_mm(self) -> Array:
        """(n, k) thickness at each place, 0 where dropped."""
        return np.where(self.present, self.thickness_mm, 0.0)

    @cached_property
    def middles_mm(self) -> Array:
        """(n, k) middle of each from the outer face."""
        outer = np.cumsum(self.thick_mm[:, ::-1], axis=1)[:, ::-1]
        return np.asarray(outer - self.thick_mm / 2)

    @cached_property
    def depth_mm(self) -> Array:
        """(n,) depth of the packet."""
        return np.asarray(self.thick_mm.sum(axis=1))

    @cached_property
    def neutral_mm(self) -> Array:
        """(n,) neutral line from the outer face."""
        weight = self.modulus_mpa * self.thick_mm
        return np.asarray((weight * self.middles_mm).sum(axis=1) / weight.sum(axis=1))

    @cached_property
    def each(self) -> Array:
        """(n, k) EᵢIᵢ of each lamination."""
        return np.asarray(self.modulus_mpa * self.thick_mm**3 / 12)

    @cached_property
    def loose(self) -> Array:
        """(n,) ΣEᵢIᵢ."""
        return np.asarray(self.each.sum(axis=1))

    @cached_property
    def glued(self) -> Array:
        """(n,) EI of the glued section."""
        arm = self.middles_mm - self.neutral_mm[:, None]
        return np.asarray((self.each + self.modulus_mpa * self.thick_mm * arm**2).sum(axis=1))

    @cached_property
    def share(self) -> Array:
        """(n,) share of the jig's curvature lost on release: ΣEᵢIᵢ (1 - set share) / EI."""
        return np.asarray((self.each * (1 - self.set_share)).sum(axis=1) / self.glued)

    @cached_property
    def given(self) -> Array:
        """(n,) curvature that pre-bent laminations bring along: ΣEᵢIᵢκ₀ᵢ / EI [1/mm]."""
        return np.asarray((self.each * self.set_per_mm).sum(axis=1) / self.glued)

    def moment(self, jig_per_mm: ArrayLike) -> Array:
        """(n,) moment in the loose packet bent to a curvature (n,), per mm of width: ΣEᵢIᵢ (κ - κ₀ᵢ) [N]."""
        kappa = np.asarray(jig_per_mm, dtype=float)
        return np.asarray(self.glued * (self.share * kappa - self.given))

    def bending(self, jig_per_mm: ArrayLike) -> Array:
        """(n, k) curvature through which each lamination is bent when laid up, κ - κ₀ᵢ [1/mm]."""
        kappa = np.asarray(jig_per_mm, dtype=float)[:, None]
        return np.asarray(kappa * (1 - self.set_share) - self.set_per_mm)


def stack_along(plies: Sequence[Ply], s_mm: ArrayLike) -> Along:
    """What a stack is at places along the moulded line.

    Parameters
    ----------
    plies : sequence of k Ply
        From the inside of the bend outwards.
    s_mm : array_like (n,)
        Places along the moulded line from the heel.

    Raises
    ------
    BadLamination
        A thickness is not above zero, or some place is left without a lamination.

    References
    ----------
    .. [1] docs/frames.md, "Stacks".

    Examples
    --------
    >>> from scrieve.timber.species import species
    >>> plies = [Ply(species("larch"), 8.0)] * 3 + [Ply(species("larch"), 8.0, last_mm=500.0)]
    >>> stack_along(plies, [0.0, 900.0]).share.round(6).tolist()
    [0.0625, 0.111111]
    """
    s = np.atleast_1d(np.asarray(s_mm, dtype=float))
    t = above_zero("thickness", [ply.thickness_mm for ply in plies], "mm")
    first, last = (np.array([getattr(ply, name) for ply in plies]) for name in ("first_mm", "last_mm"))
    present = (s[:, None] >= first) & (s[:, None] <= last)
    if not present.any(axis=1).all():
        where = float(s[int(np.argmin(present.any(axis=1)))])
        raise BadLamination(
            f"no lamination is left {where:.0f} mm along from the heel; drop fewer, or end the frame there."
        )
    return Along(
        np.array([ply.timber.bending_modulus_mpa for ply in plies]),
        t,
        np.array([ply.set_share for ply in plies]),
        np.array([ply.set_per_mm for ply in plies]),
        present,
    )


def plies_of(choice: FrameChoice, timbers: Sequence[Species], thickness_mm: Sequence[float]) -> tuple[Ply, ...]:
    """The stack as the builder has settled it: ends and pre-bending of each lamination, by its number from the inside.

    Raises
    ------
    BadLamination
        A number is not in the stack, or a lamination ends before it begins.
    """
    count = len(timbers)
    named = [row[0] for row in choice.ends] + [row[0] for row in (*choice.prebent, *choice.prebent_radius)]
    if wrong := [number for number in named if not 1 <= number <= count]:
        raise BadLamination(
            f"frame {choice.frame}: lamination {wrong[0]} is not in a stack of {count}, numbered 1 on the inside; "
            "give the number of one that is, or settle the stack first."
        )
    ends = {number: (first, last) for number, first, last in choice.ends}
    share, radius = dict(choice.prebent), dict(choice.prebent_radius)
    plies = []
    for number, (timber, t) in enumerate(zip(timbers, thickness_mm, strict=True), start=1):
        first, last = ends.get(number, (None, None))
        plies.append(
            Ply(
                timber,
                float(t),
                -np.inf if first is None else first,
                np.inf if last is None else last,
                0.0 if number in radius else share.get(number, choice.steamed_share),
                1 / radius[number] if number in radius else 0.0,
            )
        )
    return tuple(plies)
