"""Springback: what a glued packet loses on release, and the jig's curve that makes up for it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadLamination, above_zero
from scrieve.frames.parts import Array
from scrieve.frames.shape.line import Line, from_angle, from_curvature


@dataclass(frozen=True, slots=True, eq=False)
class PacketStiffness:
    """Stiffness of a packet at one or many places; each field has the leading shape of the laminations given.

    `neutral_mm` is the neutral line from the inside face [mm]; `loose` is ΣEᵢIᵢ and `glued` the EI of the glued
    section, both per mm of width [N mm].
    """

    neutral_mm: Array
    loose: Array
    glued: Array

    @property
    def springback(self) -> Array:
        """Share of the jig's curvature lost on release: loose / glued [-]."""
        return np.asarray(self.loose / self.glued)


def packet_stiffness(thickness: ArrayLike, modulus: ArrayLike, present: ArrayLike | None = None) -> PacketStiffness:
    """Stiffness of a packet, loose and glued, by the transformed section.

    Parameters
    ----------
    thickness : array_like, shape (..., n)
        Each lamination, from the inside of the bend outwards [mm].
    modulus : array_like, broadcast with `thickness`
        Modulus of elasticity along the grain [N/mm²].
    present : array_like of bool, broadcast with `thickness`, optional
        False where a lamination has been dropped (those outside it close up on those inside).

    Raises
    ------
    BadLamination
        A thickness or modulus is not above zero, or no lamination is present at some place.

    References
    ----------
    .. [1] docs/frames.md, "Springback".

    Examples
    --------
    >>> float(packet_stiffness([6, 6, 6], [10_000, 14_000, 10_000]).neutral_mm)
    9.0
    """
    here = np.ones(1, dtype=bool) if present is None else np.asarray(present, dtype=bool)
    t, e, here = np.broadcast_arrays(
        above_zero("thickness", thickness, "mm"), above_zero("modulus", modulus, "N/mm²"), here
    )
    if not here.any(axis=-1).all():
        raise BadLamination("a place of the packet has no lamination left; drop fewer, or end the frame there.")
    t = np.where(here, t, 0.0)
    middle = np.cumsum(t, axis=-1) - t / 2
    neutral = np.sum(e * t * middle, axis=-1, keepdims=True) / np.sum(e * t, axis=-1, keepdims=True)
    loose = e * t**3 / 12
    glued = loose + e * t * (middle - neutral) ** 2
    return PacketStiffness(neutral[..., 0], loose.sum(axis=-1), glued.sum(axis=-1))


def springback_fraction(
    thickness: ArrayLike, modulus: ArrayLike, present: ArrayLike | None = None
) -> NDArray[np.float64]:
    """Share of the jig's curvature that a glued packet loses on release (straight stock, no creep).

    Parameters
    ----------
    thickness : array_like, shape (..., n)
        Each lamination, from the inside of the bend outwards [mm].
    modulus : array_like, broadcast with `thickness`
        Modulus of elasticity along the grain [N/mm²].
    present : array_like of bool, broadcast with `thickness`, optional
        False where a lamination has been dropped.

    Returns
    -------
    ndarray, shape (...)
        r = ΣEᵢIᵢ / (EI) of the glued section [-]; the jig needs κ / (1 - r). The width cancels.

    Raises
    ------
    BadLamination
        A thickness or modulus is not above zero, or no lamination is present at some place.

    References
    ----------
    .. [1] docs/frames.md, "Springback": derivation by the transformed section, and check values.

    Examples
    --------
    >>> round(float(springback_fraction([8, 8, 8, 8], 11_000)), 9)  # n equal laminations: 1/n²
    0.0625
    """
    return packet_stiffness(thickness, modulus, present).springback


def jig_curvature(wanted_per_mm: ArrayLike, springback: ArrayLike, factor: float = 1.0) -> Array:
    """Curvature of the jig at the neutral line that releases to the wanted one: κ / (1 - c r) [1/mm].

    Parameters
    ----------
    wanted_per_mm, springback : array_like, broadcast together
        Curvature wanted of the released neutral line [1/mm]; computed springback there [-].
    factor : float
        Learnt factor c on the springback; 1 until releases have been measured.

    Raises
    ------
    BadLamination
        c r is not from 0 up to (not including) 1.

    Examples
    --------
    >>> round(float(1 / jig_curvature(1 / 1000, 1 / 36)), 2)
    972.22
    """
    loss = np.asarray(springback, dtype=float) * factor
    if not np.all((loss >= 0) & (loss < 1)):
        raise BadLamination(
            f"springback {np.max(loss):g} of the jig's curvature: nothing would be left; "
            "take two laminations or more, and a factor that keeps it below 1."
        )
    return np.asarray(np.asarray(wanted_per_mm, dtype=float) / (1 - loss))


def jig_line(wanted: Line, springback: ArrayLike, factor: float = 1.0) -> Line:
    """The neutral line as it must lie in the jig, from the one wanted on release: same length, more curvature."""
    curvature = jig_curvature(wanted.curvature_per_mm, springback, factor)
    return from_curvature(
        wanted.s_mm, np.broadcast_to(curvature, wanted.s_mm.shape), wanted.points_mm[0], float(wanted.angle_rad[0])
    )


def bend_back(reference: Line, neutral_mm: ArrayLike, share: ArrayLike, given: ArrayLike = 0.0) -> Line:
    """The line in the jig that releases to the one wanted, for a stack that changes along it.

    Parameters
    ----------
    reference : Line
        A line wanted of the released packet that runs through unbroken (n points): a parallel of the moulded line.
    neutral_mm : array_like, broadcast to (n,)
        The packet's neutral line at each place, to the left of the reference; it may step where a lamination is
        dropped.
    share, given : array_like, broadcast to (n,)
        On release the neutral line's curvature in the jig, κ, becomes κ - (share κ - given): the share is c ΣEᵢIᵢ/EI
        for straight stock, less what planing gives back afterwards; `given` is the curvature that pre-bent laminations
        bring along, c ΣEᵢIᵢκ₀ᵢ/EI [1/mm].

    Returns
    -------
    Line
        The reference line as it lies in the jig. The neutral line keeps its length on release; the reference stretches
        or shortens by its distance from it.

    Raises
    ------
    BadLamination
        A share is not between -1 and 1, or the reference folds.

    References
    ----------
    .. [1] docs/frames.md, "Springback".
    """
    rate, stretch = bent_rates(reference.curvature_per_mm, neutral_mm, share, given)
    step = np.diff(reference.s_mm)
    turned = np.concatenate([[0.0], np.cumsum(step * (rate[1:] + rate[:-1]) / 2)])
    s = np.concatenate([[0.0], np.cumsum(step * (stretch[1:] + stretch[:-1]) / 2)]) + reference.s_mm[0]
    angle = float(reference.angle_rad[0]) + turned
    return from_angle(s, angle, rate / stretch, reference.points_mm[0])


def bent_rates(
    wanted_per_mm: Array, neutral_mm: ArrayLike, share: ArrayLike, given: ArrayLike = 0.0
) -> tuple[Array, Array]:
    """What the reference line turns in the jig, and how long it is there, for each mm of it as wanted.

    Parameters
    ----------
    wanted_per_mm : ndarray (n,)
        Curvature of the reference line wanted of the released packet [1/mm].
    neutral_mm, share, given
        As `bend_back` takes them.

    Returns
    -------
    rate, stretch : ndarray (n,)
        dθ/ds [1/mm] and ds in the jig / ds; the curvature in the jig is rate / stretch.

    Raises
    ------
    BadLamination
        A share is not between -1 and 1, or the reference folds.
    """
    loss = np.asarray(share, dtype=float)
    if not np.all(np.abs(loss) < 1):
        jig_curvature(0.0, np.abs(loss))  # says so
    away = np.broadcast_to(np.asarray(neutral_mm, dtype=float), wanted_per_mm.shape)
    squeeze = 1 - wanted_per_mm * away
    kappa = (wanted_per_mm / squeeze - np.asarray(given, dtype=float)) / (1 - loss)
    stretch = squeeze * (1 + kappa * away)
    if np.any(squeeze <= 0) or np.any(stretch <= 0):
        raise BadLamination("the packet folds in the jig; take a smaller moulded depth, or a joint there.")
    return np.asarray(kappa * squeeze), np.asarray(stretch)


def let_go(
    jig: Line, neutral_mm: ArrayLike, share: ArrayLike, given: ArrayLike = 0.0, stretch: ArrayLike = 0.0
) -> Line:
    """The reference line after release: what `bend_back` undoes.

    Parameters
    ----------
    jig : Line
        The reference line as it lies in the jig (n points).
    neutral_mm, share, given
        As `bend_back` takes them.
    stretch : array_like, broadcast to (n,)
        Strain of the neutral line itself, where wood that carried stress has been planed off [-].
    """
    away = np.broadcast_to(np.asarray(neutral_mm, dtype=float), jig.s_mm.shape)
    squeeze = 1 - jig.curvature_per_mm * away
    before = jig.curvature_per_mm / squeeze
    kappa = before - (np.asarray(share, dtype=float) * before - np.asarray(given, dtype=float))
    rate, longer = kappa * squeeze, squeeze * (1 + kappa * away + np.asarray(stretch, dtype=float))
    step = np.diff(jig.s_mm)
    angle = float(jig.angle_rad[0]) + np.concatenate([[0.0], np.cumsum(step * (rate[1:] + rate[:-1]) / 2)])
    s = np.concatenate([[0.0], np.cumsum(step * (longer[1:] + longer[:-1]) / 2)]) + jig.s_mm[0]
    return from_angle(s, angle, rate / longer, jig.points_mm[0])
