"""How the packet truly lies: an elastic lath through its brackets, and how far that leaves the wanted curve."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline

from scrieve.errors import BadJig
from scrieve.fairing.batten import lay_batten
from scrieve.frames.bending import Bent, between_brackets
from scrieve.frames.line import Line
from scrieve.frames.parts import Array

#: Nodes of the lath: to each bay, and at least. Its error falls with their square; so many leave 0.001 mm.
_NODES_A_BAY, _LEAST_NODES = 24, 160
#: The departure is looked for at places so far apart along the wanted curve [mm].
_STEP_MM = 4.0
#: Departure of the end bay of an even row on an arc, over b²/R: three-moment equations, (2 + √3) times the next bay's.
END_BAY = 0.0488


@dataclass(frozen=True, slots=True)
class Bay:
    """The stretch between two brackets: their numbers from the heel (0: the packet's end), and how far it departs.

    `departure_mm` is signed, above zero to the left of the wanted curve run from heel to head (inboard), at `s_mm`
    along the neutral line.
    """

    first: int
    last: int
    departure_mm: float
    s_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Lie:
    """The packet as it lies between k brackets.

    Attributes
    ----------
    s_mm, departure_mm : ndarray (m,)
        Places along the wanted neutral line, and how far the packet lies to the left of it there [mm].
    points_mm : ndarray (m, 2)
        Where the packet's neutral line lies at those places.
    bays : tuple of Bay
        The most of it in each bay, the runs past the end brackets first and last where there are any.
    force_per_ei : ndarray (k,)
        Force of each bracket on the packet over the loose packet's EI, above zero to the left [1/mm²].
    """

    s_mm: Array
    departure_mm: Array
    points_mm: Array
    bays: tuple[Bay, ...]
    force_per_ei: Array

    @property
    def worst(self) -> Bay:
        """The bay that departs most."""
        return max(self.bays, key=lambda bay: abs(bay.departure_mm))

    @property
    def error_mm(self) -> float:
        """The most by which the packet departs [mm]."""
        return abs(self.worst.departure_mm)


def lie_between(
    wanted: Line,
    stations_mm: Array,
    off_mm: Array | None = None,
    *,
    within: tuple[float, float] | None = None,
) -> Lie:
    """The true shape of a packet held at brackets only, with no pull along it, and its departure from a curve.

    Parameters
    ----------
    wanted : Line
        Neutral line that the packet is to take in the jig.
    stations_mm : ndarray (k,)
        Places of the brackets along it, rising, k >= 2.
    off_mm : ndarray (k,), optional
        How far each bracket holds the packet to the left of the wanted curve (a bracket left where it stood).
    within : (float, float), optional
        The part of the neutral line that matters, here the finished frame between its trimming allowances.

    Raises
    ------
    BadJig
        Fewer than two brackets, or brackets not in order along the packet.
    BadGeometry
        The lath finds no rest on these brackets.

    References
    ----------
    .. [1] docs/jig.md, "Between brackets": the line of least ∫κ² ds through the brackets, of free length, its ends
       free and straight past the end brackets (Love, Mathematical Theory of Elasticity, art. 262-263). Each bracket
       pushes square to the packet; its force is EI times the jump of dκ/ds.
    """
    at = np.asarray(stations_mm, dtype=float)
    if len(at) < 2 or np.any(np.diff(at) <= 0):
        raise BadJig(f"{len(at)} brackets at {at.round(1).tolist()} mm along the packet; give two or more, in order.")
    normal = wanted.left
    held = np.column_stack([np.interp(at, wanted.s_mm, column) for column in (*wanted.points_mm.T, *normal.T)])
    off = np.zeros(len(at)) if off_mm is None else np.asarray(off_mm, dtype=float)
    marks = held[:, :2] + off[:, None] * held[:, 2:]
    low, high = within or (float(wanted.s_mm[0]), float(wanted.s_mm[-1]))
    places = np.unique(np.r_[np.arange(low, high, _STEP_MM), high, at[(at > low) & (at < high)]])
    target = np.column_stack([np.interp(places, wanted.s_mm, column) for column in wanted.points_mm.T])
    angle = np.interp(places, wanted.s_mm, wanted.angle_rad)
    way = np.column_stack([np.cos(angle), np.sin(angle)])
    square = np.column_stack([-way[:, 1], way[:, 0]])
    if len(at) == 2:  # nothing bends it
        run, unit = marks[0], (marks[1] - marks[0]) / np.hypot(*(marks[1] - marks[0]))
        reach = ((target - run) * way).sum(axis=1) / (way @ unit)
        lies, force = run + reach[:, None] * unit, np.zeros(2)
    else:
        batten = lay_batten(marks, smoothing=0, judge=False, nodes=max(_LEAST_NODES, _NODES_A_BAY * (len(at) - 1)))
        heading = np.column_stack([np.cos(batten.direction_rad), np.sin(batten.direction_rad)])
        lies = _feet(batten.s_mm, batten.points_mm, heading, batten.mark_s_mm, at, places, target, way)
        force = _forces(batten.s_mm, batten.curvature_per_mm, batten.mark_s_mm)
    departure = ((lies - target) * square).sum(axis=1)
    return Lie(places, departure, lies, _bays(places, departure, at), force)


def _feet(
    s: Array, points: Array, heading: Array, mark_s: Array, at: Array, places: Array, target: Array, way: Array
) -> Array:
    """Where the line through the nodes crosses the normals of the wanted curve; straight past its ends."""
    curve = CubicHermiteSpline(s, points, heading)
    slope = curve.derivative()
    reach = np.interp(places, at, mark_s) + np.minimum(places - at[0], 0) + np.maximum(places - at[-1], 0)
    found = target
    for _ in range(4):
        inside = np.clip(reach, s[0], s[-1])
        tangent = slope(inside)
        found = curve(inside) + (reach - inside)[:, None] * tangent
        ahead = ((target - found) * way).sum(axis=1)
        reach = reach + ahead / (tangent * way).sum(axis=1)
    return np.asarray(found)


def _forces(s: Array, curvature: Array, mark_s: Array) -> Array:
    """Jumps of dκ/ds at the brackets, from the bending moments there (between brackets κ'' = -κ³/2 is small)."""
    kappa = np.interp(mark_s, s, curvature)
    kappa[[0, -1]] = 0.0
    bay = np.diff(mark_s)
    cube = np.diff(np.interp(mark_s, s, np.r_[0.0, np.cumsum(np.diff(s) * (curvature[1:] ** 3 + curvature[:-1] ** 3))]))
    mean = cube / 2 / bay  # of κ³ in each bay: κ' at its ends is the chord's slope ± mean κ³ × bay / 4
    slope = np.diff(kappa) / bay
    starts, ends = slope + mean * bay / 4, slope - mean * bay / 4
    return np.asarray(np.r_[starts, 0.0] - np.r_[0.0, ends])


def _bays(places: Array, departure: Array, at: Array) -> tuple[Bay, ...]:
    edges = np.r_[-np.inf, at, np.inf]
    bays = []
    for number, (low, high) in enumerate(itertools.pairwise(edges)):
        mine = np.flatnonzero((places >= low) & (places <= high))
        if len(mine) > 1:
            worst = mine[int(np.argmax(np.abs(departure[mine])))]
            last = 0 if number == len(at) else number + 1
            bays.append(Bay(number, last, float(departure[worst]), float(places[worst])))
    return tuple(bays)


def finished(bent: Bent) -> tuple[float, float]:
    """Where heel and head of the finished frame lie along the neutral line [mm]."""
    trim = -float(bent.girth_mm[0])
    heel, head = np.interp([0.0, float(bent.girth_mm[-1]) - trim], bent.girth_mm, bent.neutral.s_mm)
    return float(heel), float(head)


@dataclass(frozen=True, slots=True)
class PitchFound:
    """The widest pitch that holds the packet within a limit, and the handbook estimate beside it.

    `pitch_mm` is 0 where none does; `error_mm` is the departure at that pitch. `estimate_mm` is by the rule of an even
    row on an arc: its end bays depart by 0.0488 b²/R, the bays within by 3.73 times less.
    """

    pitch_mm: float
    error_mm: float
    estimate_mm: float


def widest_pitch(
    bent: Bent,
    limit_mm: float,
    *,
    double_ends: bool = True,
    pitches_mm: Sequence[float] = tuple(range(50, 510, 10)),
) -> PitchFound:
    """The widest pitch up to which every pitch tried holds the packet to a limit, brackets evenly along its chord.

    Parameters
    ----------
    bent : Bent
        The packet in the jig.
    limit_mm : float
        The most by which it may leave the wanted curve within the finished length [mm].
    double_ends : bool
        Set a second bracket a fifth of the pitch inside each end one.
    pitches_mm : sequence of float
        Pitches to try, rising.

    Notes
    -----
    The small-departure sum (`between_brackets`) finds the pitch, the true shape settles it: one pitch less until it
    holds.

    References
    ----------
    .. [1] docs/jig.md, "Widest pitch".
    """
    face = bent.face.points_mm
    chord = face[-1] - face[0]
    length = float(np.hypot(*chord))
    along = np.maximum.accumulate((face - face[0]) @ chord / length)

    def stations(pitch: float) -> Array:
        rails = int(length / pitch + 1e-9) + 1
        places = (length - (rails - 1) * pitch) / 2 + pitch * np.arange(rails)
        if double_ends:
            places = np.sort(np.r_[places, places[0] + pitch / 5, places[-1] - pitch / 5])
        return np.asarray(np.interp(places, along, bent.neutral.s_mm))

    passed: list[float] = []
    for pitch in pitches_mm:
        if length < 2 * pitch or between_brackets(bent, stations(pitch))[0] > limit_mm:
            break
        passed.append(float(pitch))
    estimate = _estimate(bent, limit_mm, double_ends)
    while passed:
        error = lie_between(bent.neutral, stations(passed[-1]), within=finished(bent)).error_mm
        if error <= limit_mm:
            return PitchFound(passed[-1], error, estimate)
        passed.pop()
    return PitchFound(0.0, float("nan"), estimate)


def _estimate(bent: Bent, limit_mm: float, double_ends: bool) -> float:
    kappa = np.abs(bent.neutral.curvature_per_mm)
    ends = max(len(kappa) // 7, 1)
    within = np.sqrt(3.73 * limit_mm / END_BAY / max(float(kappa.max()), 1e-9))
    at_ends = np.sqrt(limit_mm / END_BAY / max(float(np.r_[kappa[:ends], kappa[-ends:]].max()), 1e-9))
    return float(within if double_ends else min(within, at_ends))


def departures(lie: Lie) -> NDArray[np.float64]:
    """(number of bays,) the most departure of each bay, signed [mm]."""
    return np.array([bay.departure_mm for bay in lie.bays])
