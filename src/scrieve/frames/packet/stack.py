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

    It is worked out once for each row (m, k) of `sorts`, the ways in which laminations lie together; `sort` (n,) says
    which of them is at each place.
    """

    modulus_mpa: Array
    thickness_mm: Array
    set_share: Array
    set_per_mm: Array
    sorts: NDArray[np.bool_]
    sort: NDArray[np.intp]

    @cached_property
    def _of_sorts(self) -> dict[str, Array]:
        t, e = np.where(self.sorts, self.thickness_mm, 0.0), self.modulus_mpa
        middles = np.cumsum(t[:, ::-1], axis=1)[:, ::-1] - t / 2
        neutral = (e * t * middles).sum(axis=1) / (e * t).sum(axis=1)
        each, inboard = e * t**3 / 12, middles - neutral[:, None]
        glued = (each + e * t * inboard**2).sum(axis=1)
        return {
            "thick_mm": t,
            "middles_mm": middles,
            "depth_mm": t.sum(axis=1),
            "neutral_mm": neutral,
            "each": each,
            "loose": each.sum(axis=1),
            "glued": glued,
            "share": (each * (1 - self.set_share)).sum(axis=1) / glued,
            "given": (each * self.set_per_mm).sum(axis=1) / glued,
            "own_mm": (each * (1 - self.set_share) * inboard).sum(axis=1) / glued,
            "third_mm": (e * (t * inboard**3 + t**3 / 12 * inboard)).sum(axis=1) / glued,
        }

    @property
    def present(self) -> NDArray[np.bool_]:
        """(n, k) whether each lamination is there."""
        return self.sorts[self.sort]

    @property
    def thick_mm(self) -> Array:
        """(n, k) thickness at each place, 0 where dropped."""
        return self._of_sorts["thick_mm"][self.sort]

    @property
    def middles_mm(self) -> Array:
        """(n, k) middle of each from the outer face."""
        return self._of_sorts["middles_mm"][self.sort]

    @property
    def depth_mm(self) -> Array:
        """(n,) depth of the packet."""
        return self._of_sorts["depth_mm"][self.sort]

    @property
    def neutral_mm(self) -> Array:
        """(n,) neutral line from the outer face."""
        return self._of_sorts["neutral_mm"][self.sort]

    @property
    def each(self) -> Array:
        """(n, k) EᵢIᵢ of each lamination."""
        return self._of_sorts["each"][self.sort]

    @property
    def loose(self) -> Array:
        """(n,) ΣEᵢIᵢ."""
        return self._of_sorts["loose"][self.sort]

    @property
    def glued(self) -> Array:
        """(n,) EI of the glued section."""
        return self._of_sorts["glued"][self.sort]

    @property
    def share(self) -> Array:
        """(n,) share of the jig's curvature lost on release: ΣEᵢIᵢ (1 - set share) / EI."""
        return self._of_sorts["share"][self.sort]

    @property
    def given(self) -> Array:
        """(n,) curvature that pre-bent laminations bring along: ΣEᵢIᵢκ₀ᵢ / EI [1/mm]."""
        return self._of_sorts["given"][self.sort]

    def loss(self, jig_per_mm: ArrayLike) -> tuple[Array, Array]:
        """`share` and `given` (n,) of a packet bent so sharply that its laminations lie on unlike radii.

        Parameters
        ----------
        jig_per_mm : array_like (n,)
            Curvature of the neutral line in the jig [1/mm].

        References
        ----------
        .. [1] docs/frames.md, "Springback": a lamination d inboard of the neutral line lies on κ/(1 - κd) and is
           1 - κd as long. To the first order of κd, Σ EᵢIᵢ (κᵢ - κ₀ᵢ) and EI both change; where the stack is
           symmetric, neither does.
        """
        kappa, of = np.asarray(jig_per_mm, dtype=float), self._of_sorts
        third = 1 - kappa * of["third_mm"][self.sort]
        return np.asarray(third * self.share + kappa * of["own_mm"][self.sort]), np.asarray(third * self.given)

    @property
    def full_loose(self) -> float:
        """ΣEᵢIᵢ of all laminations, whether they are there or not."""
        return float((self.modulus_mpa * self.thickness_mm**3).sum() / 12)

    def held_per_mm(self, jig_per_mm: ArrayLike) -> Array:
        """(n,) curvature in which the loose packet lies by itself, ΣEᵢIᵢκ₀ᵢ / ΣEᵢIᵢ, once made for a jig's [1/mm]."""
        kappa = np.asarray(jig_per_mm, dtype=float)
        return np.asarray(kappa - self.moment(kappa) / self.loose)

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
    sorts, sort = np.ones((1, len(plies)), dtype=bool), np.zeros(len(s), dtype=np.intp)
    if np.isfinite(first).any() or np.isfinite(last).any():
        sorts, sort = np.unique((s[:, None] >= first) & (s[:, None] <= last), axis=0, return_inverse=True)
    empty = np.asarray(~sorts.any(axis=1))[sort]
    if empty.any():
        where = float(s[int(np.argmax(empty))])
        raise BadLamination(
            f"no lamination is left {where:.0f} mm along from the heel; drop fewer, or end the frame there."
        )
    return Along(
        np.array([ply.timber.bending_modulus_mpa for ply in plies]),
        t,
        np.array([ply.set_share for ply in plies]),
        np.array([ply.set_per_mm for ply in plies]),
        sorts,
        sort.reshape(-1),
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
