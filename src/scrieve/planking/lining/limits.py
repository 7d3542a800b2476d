"""How wide a strake may be at each place, and from that how many strakes a side wants."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadPlank
from scrieve.planking.lining.choice import LiningChoice
from scrieve.planking.lining.girth import Girths
from scrieve.planking.seams import place, station_of

Array = NDArray[np.float64]

#: Over this share of the region at each end the narrowest width falls to that of the ends.
END_SHARE = 0.1
#: Kept in hand, in proposing a number of strakes, for lines that must be fair.
IN_HAND = 0.08


def hollow_of(width: ArrayLike, turn: ArrayLike) -> Array:
    """Depth to which a plank is hollowed whose frame turns through `turn` under it, as a round frame does [mm].

    Parameters
    ----------
    width : array_like
        Width along the frame [mm].
    turn : array_like, broadcast with `width`
        Angle between the frame's directions at the two edges [rad].

    Returns
    -------
    ndarray
        w·tan(φ/4)·sin(φ/2)/φ: of a circular arc w long that turns φ, chord/2 · tan(φ/4); near to wφ/8.

    Examples
    --------
    >>> round(float(hollow_of(600 * 0.2, 0.2)), 6), round(600 * (1 - float(np.cos(0.1))), 6)
    (2.997501, 2.997501)
    """
    w, phi = np.broadcast_arrays(np.asarray(width, dtype=float), np.abs(np.asarray(turn, dtype=float)))
    safe = np.maximum(phi, 1e-9)
    return np.asarray(w * np.tan(safe / 4) * np.sin(safe / 2) / safe)


def allowed_width(hollow_mm: float, curvature: ArrayLike) -> Array:
    """Width along a round frame that is hollowed by `hollow_mm` [mm]; infinite where the frame is straight.

    Examples
    --------
    >>> width = float(allowed_width(3, 1 / 600))
    >>> round(width, 3), round(float(hollow_of(width, width / 600)), 9)
    (120.05, 3.0)
    """
    kappa = np.abs(np.asarray(curvature, dtype=float))
    with np.errstate(divide="ignore", invalid="ignore"):
        turn = 2 * np.arccos(np.clip(1 - hollow_mm * kappa, -1, 1))
        return np.asarray(np.where(kappa > 1e-9, turn / kappa, np.inf))


@dataclass(frozen=True, slots=True, eq=False)
class Limits:
    """Narrowest and widest (n, k) of each strake at each frame [mm]."""

    narrowest: Array
    widest: Array


def least_widths(choice: LiningChoice, x: Array) -> Array:
    """Narrowest width at stations x (k,) of the region, before limits by place [mm]."""
    run = x[-1] - x[0]
    from_end = np.minimum(x - x[0], x[-1] - x) / (END_SHARE * run)
    share = np.clip(from_end, 0, 1)
    return np.asarray(choice.end_narrowest_mm + share * (choice.narrowest_mm - choice.end_narrowest_mm))


def limits(choice: LiningChoice, girths: Girths, strakes: int) -> Limits:
    """Limits of width for each of `strakes` at each frame.

    Raises
    ------
    BadPlank
        A limit by place is turned about, or names a strake there is not.
    """
    low = np.broadcast_to(least_widths(choice, girths.x), (strakes, len(girths.x))).copy()
    high = np.full_like(low, choice.widest_shown_mm)
    for limit in choice.limits:
        if not (0 <= limit.lowest <= strakes and 0 <= limit.highest <= strakes):
            raise BadPlank(f"limit by place: strakes {limit.lowest} to {limit.highest}; there are 1 to {strakes}.")
        start, end = girths.x[0], girths.x[-1]
        if limit.first.strip():
            start = station_of(girths.hull, limit.first)
        if limit.last.strip():
            end = station_of(girths.hull, limit.last)
        there = (girths.x >= min(start, end) - 0.5) & (girths.x <= max(start, end) + 0.5)
        rows = slice(max(limit.lowest, 1) - 1, limit.highest or strakes)
        if limit.narrowest_mm is not None:
            low[rows, there] = limit.narrowest_mm
        if limit.widest_mm is not None:
            high[rows, there] = limit.widest_mm
    if np.any(low > high):
        j, k = (int(i) for i in np.argwhere(low > high)[0])
        raise BadPlank(
            f"strake {j + 1} at {place(girths.hull, girths.x[k])}: narrowest {low[j, k]:g} mm, widest {high[j, k]:g} "
            "mm; change a limit."
        )
    return Limits(low, high)


def by_curvature(choice: LiningChoice, girths: Girths) -> Array:
    """Width allowed within each fine step of the girth at each frame (k, p − 1) [mm].

    Where no stock is given, a quarter of the thickness is taken to be hollowed away. A clinker strake is as wide as
    leaves its land half the thickness: the frame turns under it by atan(t / 2 lap).
    """
    curvature = np.abs(np.diff(girths.turn, axis=1) / np.diff(girths.girth, axis=1))
    if choice.build == "clinker":
        allowed = choice.land_rad / np.maximum(curvature, 1e-9)
    else:
        hollow = choice.hollow_mm if np.isfinite(choice.hollow_mm) else choice.thickness_mm / 4
        allowed = allowed_width(hollow, curvature)
    width = np.minimum(allowed, choice.widest_shown_mm)
    return np.asarray(np.maximum(width, choice.end_narrowest_mm))


@dataclass(frozen=True, slots=True)
class Proposal:
    """How many strakes a region wants.

    `least` that the widest widths allow, at `least_at`, where they bite; `most` that the narrowest allow there too, and
    `most_at_ends` at the frame `most_at` with the least room; `strakes` is what is proposed, never fewer than `least`.
    `stealers` tells whether some have to end short of the ends.
    """

    strakes: int
    least: int
    least_at: str
    most: int
    most_at_ends: int
    most_at: str

    @property
    def stealers(self) -> bool:
        """Whether the girth somewhere has no room for all strakes."""
        return self.strakes > self.most_at_ends


def propose(choice: LiningChoice, girths: Girths, low: Array, high: Array) -> Proposal:
    """The number of strakes for the region between girths `low` and `high` (k,) at the frames.

    At each frame planks are set one above the other, each as wide as stock and curvature allow; the frame that takes
    most of them rules. A twelfth is kept in hand for lines that must be fair. Limits by place count where they hold for
    all strakes; raises as `limits` for those.
    """
    room = np.asarray(high - low)
    everywhere = tuple(limit for limit in choice.limits if not limit.lowest and not limit.highest)
    there = limits(replace(choice, limits=everywhere), girths, 1)
    narrowest, widest = there.narrowest[0], there.widest[0]
    limited = np.isfinite(choice.hollow_mm) or choice.build == "clinker"
    need = np.empty(len(room))
    width = by_curvature(choice, girths)
    for k in range(len(room)):
        if limited:
            edges = np.clip(girths.girth[k], low[k], high[k])
            need[k] = float(np.sum(np.diff(edges) / width[k]))
            need[k] = max(need[k], room[k] / widest[k]) if everywhere else need[k]
        else:
            need[k] = room[k] / widest[k]
    worst = int(np.argmax(need))
    least = max(1, int(np.ceil(need[worst] - 1e-9)))
    fits = np.floor(room / narrowest + 1e-9).astype(int)
    tight = int(np.argmin(fits))
    here = int(fits[worst])
    wanted = int(np.ceil(need[worst] * (1 + IN_HAND) - 1e-9))
    return Proposal(
        strakes=max(least, min(wanted, max(here, 1))),
        least=least,
        least_at=place(girths.hull, float(girths.x[worst])),
        most=max(here, 1),
        most_at_ends=max(int(fits[tight]), 0),
        most_at=place(girths.hull, float(girths.x[tight])),
    )
