"""A packet held at brackets, by small departures: moments, forces, and how far it leaves the wanted curve."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg.lapack import dptsv

from scrieve.errors import BadJig
from scrieve.frames.packet.bending import Bent
from scrieve.frames.parts import Array

#: The departure is looked for at every so many points of the packet, 1 mm apart.
_EVERY = 4


class Held:
    """One packet, made ready to be tried on many sets of brackets.

    Parameters
    ----------
    bent : Bent
        The packet in the jig. Its stiffness and the curve that it brings along are those of its laminations place by
        place; a packet without a stack is even and straight.

    Notes
    -----
    Of all small departures w that are nothing at the brackets the packet takes the one of least ∫B (λ + w'')² ds, B
    the loose packet's stiffness and λ = κ - κ₀ what it lacks of the wanted curve. So M = B (λ + w'') runs straight
    from bracket to bracket, is nothing past the end ones, and ∫(M/B - λ) φ ds = 0 for the roof φ over each inner one.
    All integrals are read off running ones, made once.

    References
    ----------
    .. [1] docs/frames.md, "Closing effort": three-moment equations.
    """

    def __init__(self, bent: Bent) -> None:
        s, self._girth = bent.neutral.s_mm, bent.girth_mm
        soft, lack = 1 / bent.stiff, bent.neutral.curvature_per_mm - bent.held_per_mm
        self._s, self._u = s, s - s[0]
        u = self._u
        self._runs = np.stack([_run(u, *each) for each in ((soft, 0), (soft, 1), (soft, 2), (lack, 0), (lack, 1))])
        finished = (bent.girth_mm >= -1e-9) & (bent.girth_mm <= bent.girth_mm[-1] + bent.girth_mm[0] + 1e-9)
        here = np.flatnonzero(finished)
        self._look = np.unique(np.r_[here[::_EVERY], here[-1]])
        self._looked = u[self._look], self._runs[:, self._look]

    def moments(self, stations_mm: Array) -> tuple[Array, Array]:
        """Moments at the brackets over the full packet's ΣEᵢIᵢ [1/mm], and their forces over it [1/mm²].

        Parameters
        ----------
        stations_mm : ndarray (k,)
            Places of the brackets along the neutral line, rising, k ≥ 3.

        Returns
        -------
        moment, force : ndarray (k,)
            The force of the packet on each bracket, above zero where it presses on one inside the bend.

        Raises
        ------
        BadJig
            Fewer than three places, or two in one place.
        """
        at, moment, _ = self._solve(stations_mm)
        slope = np.concatenate([[0.0], np.diff(moment) / np.diff(at), [0.0]])
        return moment, -np.diff(slope)

    def departure(self, stations_mm: Array) -> tuple[float, float, Array]:
        """The most by which the packet leaves the wanted curve within the finished length, where, and the forces.

        Returns
        -------
        error_mm, girth_mm : float
            The most of it, and where along the moulded line.
        force : ndarray (k,)
            As `moments` gives it.
        """
        bays = self._bays(stations_mm)
        coarse = self._look[int(np.argmax(np.abs(bays.off(*self._looked))))]
        fine = np.arange(max(coarse - _EVERY, self._look[0]), min(coarse + _EVERY, self._look[-1]) + 1)
        off = np.abs(bays.off(self._u[fine], self._runs[:, fine]))
        worst = int(np.argmax(off))
        return float(off[worst]), float(self._girth[fine[worst]]), -np.diff(bays.slope, prepend=0.0, append=0.0)

    def most(self, stations_mm: Array) -> float:
        """The most by which the packet leaves the wanted curve, looked for at every fourth point only [mm]."""
        return float(np.abs(self._bays(stations_mm).off(*self._looked)).max())

    def _bays(self, stations_mm: Array) -> _Bays:
        at, moment, runs = self._solve(stations_mm)
        slope = (moment[1:] - moment[:-1]) / (at[1:] - at[:-1])
        return _Bays(at, moment[:-1] - slope * at[:-1], slope, runs)

    def _solve(self, stations_mm: Array) -> tuple[Array, Array, Array]:
        stations = np.asarray(stations_mm, dtype=float)
        at = stations - self._s[0]
        a, b, pitch = at[:-1], at[1:], at[1:] - at[:-1]
        if len(at) < 3 or (pitch <= 0).any():
            raise BadJig(f"a packet is bent over three points or more, one after another; found {len(at)}.")
        after = np.searchsorted(self._s[1:-1], stations) + 1
        share = np.clip((stations - self._s[after - 1]) / (self._s[after] - self._s[after - 1]), 0.0, 1.0)
        runs = (1 - share) * self._runs[:, after - 1] + share * self._runs[:, after]
        whole, first, second, load, lever = runs[:, 1:] - runs[:, :-1]
        left = (second - 2 * b * first + b**2 * whole) / pitch**2  # ∫φ²/B of the roof that falls from a to b
        right = (second - 2 * a * first + a**2 * whole) / pitch**2
        both = (-second + (a + b) * first - a * b * whole) / pitch**2
        rising, falling = (lever - a * load) / pitch, (b * load - lever) / pitch
        beside = both[1 : max(len(at) - 2, 2)]  # for one equation alone the solver takes a figure and leaves it
        moment = np.zeros(len(at))  # three-moment equations: a moment at a bracket touches its neighbours' only
        moment[1:-1] = dptsv(right[:-1] + left[1:], beside, rising[:-1] + falling[1:])[2]
        return at, moment, runs


def widest(pitches_mm: Sequence[float], limit_mm: float, departure: Callable[[float], float]) -> float:
    """The pitch, of a rising row, up to which each one tried keeps the departure within a limit; 0 where none does.

    The departure grows with the second power of the pitch at a packet's ends and with the fourth within it. Pitches are
    passed over untried only up to that at which it would be a sixth of the limit, were it to grow with the fourth;
    where the next one then fails, those passed over are tried after all.

    Parameters
    ----------
    pitches_mm : sequence of float
        Rising.
    limit_mm : float
    departure : callable
        Of a pitch [mm]; past the limit (or infinite) where it cannot be had.
    """
    best, at, walk = 0.0, 0, False
    while at < len(pitches_mm):
        pitch = pitches_mm[at]
        off = departure(pitch)
        if off > limit_mm:
            before = next((n for n, each in enumerate(pitches_mm) if each > best), 0)
            if before == at:
                break
            at, walk = before, True
            continue
        best = float(pitch)
        reach = pitch if walk else pitch * (limit_mm / 6 / max(off, 1e-9)) ** 0.25
        at = max(at + 1, sum(each <= reach for each in pitches_mm) - 1)
    return best


@dataclass(frozen=True, slots=True, eq=False)
class _Bays:
    """Moments rise + slope u in each bay between brackets `at`; `runs` (5, k) the running integrals there, ∫uⁿ/B for
    n = 0, 1, 2 and ∫uⁿλ for n = 0, 1.
    """

    at: Array
    rise: Array
    slope: Array
    runs: Array

    def off(self, u: Array, runs: Array) -> Array:
        """(m,) how far the packet lies off at places u (m,) of the neutral line, `runs` (5, m) the integrals there."""
        at, rise, slope, here = self.at, self.rise, self.slope, self.runs
        first = _twice(at[:-1], here[:, :-1], rise, slope)
        chord = (_twice(at[1:], here[:, 1:], rise, slope) - first) / (at[1:] - at[:-1])
        bay = np.searchsorted(at[1:-1], u, side="right")
        w = _twice(u, runs, rise[bay], slope[bay]) - first[bay] - chord[bay] * (u - at[bay])
        for end, past in ((0, u < at[0]), (-1, u > at[-1])):  # past the end brackets nothing bends the packet
            held = here[:, end]
            lean = rise[end] * held[0] + slope[end] * held[1] - held[3] - chord[end]
            free = u[past] * (runs[3, past] - held[3]) - (runs[4, past] - held[4])
            w[past] = lean * (u[past] - at[end]) - free
        return np.asarray(w)


def _twice(u: Array, runs: Array, rise: Array, slope: Array) -> Array:
    """∬(M/B - λ) from the packet's end, by u ∫f - ∫uf of each part of the integrand."""
    soft0, soft1, soft2, lack0, lack1 = runs
    return np.asarray(rise * (u * soft0 - soft1) + slope * (u * soft1 - soft2) - (u * lack0 - lack1))


def _run(u: Array, rate: Array, power: int) -> Array:
    """(n,) ∫ uⁿ f du from the first point, exact for f straight between points."""
    middle = (u[1:] + u[:-1]) / 2
    f = rate * u**power
    between = (rate[1:] + rate[:-1]) / 2 * middle**power
    return np.concatenate([[0.0], np.cumsum(np.diff(u) * (f[1:] + 4 * between + f[:-1]) / 6)])
