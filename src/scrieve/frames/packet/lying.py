"""How the packet truly lies: an elastic lath through its brackets, and how far that leaves the wanted curve."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadJig
from scrieve.frames.packet.bending import Bent
from scrieve.frames.packet.held import Held, widest
from scrieve.frames.parts import Array
from scrieve.frames.shape.line import Line

#: The packet is a chain of arcs so long, and its departure looked for at their ends [mm].
_STEP_MM = 4.0
#: It is at rest when every bracket is met within so much [mm]; a turn counts as so many mm; it is turned so often.
_AT_REST_MM, _ARM_MM, _MOST_TURNS = 1e-5, 1000.0, 40
#: A bracket that touches it within so much of where it was reckoned to is near enough; it is reckoned anew so often.
_SLID_MM, _MOST_SLIDES = 0.3, 6
#: Departure of the end bay of an even row on an arc, over b²/R: three-moment equations, (2 + √3) times the next bay's.
END_BAY = 0.0488
#: The six products of (1, x, y) with one another, and which of them stands where in the square of all.
_FIRST, _SECOND = np.triu_indices(3)
_PAIRS = np.array([[0, 1, 2], [1, 3, 4], [2, 4, 5]])


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
    stiff: Array | None = None,
    held_per_mm: Array | None = None,
) -> Lie:
    """The true shape of a packet held at brackets only, with no pull along it, and its departure from a curve.

    Parameters
    ----------
    wanted : Line
        Neutral line that the packet is to take in the jig (n points).
    stations_mm : ndarray (k,)
        Places of the brackets along it, rising, k >= 2.
    off_mm : ndarray (k,), optional
        How far each bracket holds the packet to the left of the wanted curve (a bracket left where it stood).
    within : (float, float), optional
        The part of the neutral line that matters, here the finished frame between its trimming allowances.
    stiff : ndarray (n,), optional
        Stiffness of the loose packet along it, as a share of the full packet's; even where left out.
    held_per_mm : ndarray (n,), optional
        Curvature in which it lies by itself, from laminations bent beforehand; straight where left out [1/mm].

    Raises
    ------
    BadJig
        Fewer than two brackets, or brackets not in order along the packet; or it finds no rest on them.

    References
    ----------
    .. [1] docs/jig.md, "Between brackets": the line of least ∫B (κ - κ₀)² ds through the brackets, its ends free. Each
       bracket pushes square to the packet; of an even, straight packet that is Love's elastica (Mathematical Theory of
       Elasticity, art. 262-263), and the force is EI times the jump of dκ/ds.
    """
    at = np.asarray(stations_mm, dtype=float)
    if len(at) < 2 or np.any(np.diff(at) <= 0):
        raise BadJig(f"{len(at)} brackets at {at.round(1).tolist()} mm along the packet; give two or more, in order.")
    s = wanted.s_mm
    off = np.zeros(len(at)) if off_mm is None else np.asarray(off_mm, dtype=float)
    low, high = within or (float(s[0]), float(s[-1]))
    places = np.unique(np.r_[np.arange(low, high, _STEP_MM), high, at[(at > low) & (at < high)]])
    marks = np.column_stack([np.interp(at, s, column) for column in wanted.points_mm.T])
    marks = marks + off[:, None] * _left(np.interp(at, s, wanted.angle_rad))
    chain = np.arange(min(low, at[0]), max(high, at[-1]), _STEP_MM)
    touch = at  # where along itself the packet touches each bracket: it slides by what it is longer than the curve
    for _ in range(_MOST_SLIDES):
        nodes = np.unique(np.r_[places, chain, touch])
        target = np.column_stack([np.interp(nodes, s, column) for column in wanted.points_mm.T])
        angle = np.interp(nodes, s, wanted.angle_rad)
        middle = (nodes[1:] + nodes[:-1]) / 2
        share = np.ones(len(middle)) if stiff is None else np.interp(middle, s, stiff)
        own = np.zeros(len(middle)) if held_per_mm is None else np.interp(middle, s, held_per_mm)
        here = np.searchsorted(nodes, touch)
        points, way, kappa, force, slid = _rest(nodes, target[0], angle, here, marks, share, own)
        if np.abs(slid).max() < _SLID_MM:
            break
        touch = touch + slid
    tangent, wanted_way = _along(way), _along(angle)
    ahead = -((points - target) * wanted_way).sum(axis=1) / (tangent * wanted_way).sum(axis=1)
    lies = points + ahead[:, None] * tangent + (kappa * ahead**2 / 2)[:, None] * _left(way)
    pick = np.searchsorted(nodes, places)
    departure = ((lies - target) * _left(angle)).sum(axis=1)[pick]
    return Lie(places, departure, lies[pick], _bays(places, departure, at), force)


def _along(angle: Array) -> Array:
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)


def _left(angle: Array) -> Array:
    return np.stack([-np.sin(angle), np.cos(angle)], axis=1)


def _rest(
    nodes: Array, start: Array, angle: Array, here: NDArray[np.intp], marks: Array, stiff: Array, own: Array
) -> tuple[Array, Array, Array, Array, Array]:
    """Where a packet comes to rest on its brackets: points, direction, curvature at n nodes; the k forces and slides.

    Forces square to the packet at its brackets bend it by M = B (κ - κ₀), M at a piece of it being the sum of the
    forces past it times their arms; they balance among themselves. Newton's method on the places of the brackets, each
    an arc long; the middle bracket alone holds it lengthwise, with a force that comes out as good as nothing.
    """
    step, count = np.diff(nodes), len(here)
    heading, kappa, origin = float(angle[0]), np.diff(angle) / step, start
    hold = np.append(here, here[count // 2])
    shorter = np.minimum(hold[:, None], hold)
    way, points, node_kappa = np.empty(len(nodes)), np.empty((len(nodes), 2)), np.empty(len(nodes))
    push, miss = np.empty((count + 1, 2)), np.empty(count + 1)
    matrix, given = np.zeros((count + 4, count + 4)), np.zeros(count + 4)
    past, levers = np.zeros((3, len(nodes))), np.ones((3, len(step)))
    runs = np.zeros((9, len(nodes)))
    for _ in range(_MOST_TURNS):
        way[0], way[1:] = heading, heading + np.cumsum(step * kappa)
        chord = step * np.sinc(step * kappa / (2 * np.pi))
        points[0], points[1:] = origin, origin + np.cumsum(chord[:, None] * _along((way[1:] + way[:-1]) / 2), axis=0)
        node_kappa[[0, -1]], node_kappa[1:-1] = kappa[[0, -1]], (kappa[1:] + kappa[:-1]) / 2
        push[:-1], ahead = _left(way[here]), _along(way[here])
        push[-1] = ahead[count // 2]
        gap = marks - points[here]
        slid = (gap * ahead).sum(axis=1)
        miss[:-1] = (gap * push[:-1]).sum(axis=1) - node_kappa[here] * slid**2 / 2  # it bends on past the bracket
        miss[-1] = slid[count // 2]
        # a force's lever at a piece is turn · (1, x, y) of the piece: sums over pieces are of running ones, made once
        middle = points[len(step) // 2]
        x, y = (points[hold] - middle).T
        turn = np.stack([push[:, 1] * x - push[:, 0] * y, -push[:, 1], push[:, 0]])
        levers[1:] = ((points[1:] + points[:-1]) / 2 - middle).T
        soft, lack = step / stiff, step * (own - kappa)
        runs[:6, 1:] = np.cumsum(soft * levers[_FIRST] * levers[_SECOND], axis=1)
        runs[6:, 1:] = np.cumsum(lack * levers, axis=1)
        both = runs[_PAIRS][:, :, shorter]
        flexible = np.einsum("aj,abjl,bl->jl", turn, both, turn)
        whole = push[:, 1] * (points[hold] - origin)[:, 0] - push[:, 0] * (points[hold] - origin)[:, 1]
        unit = float(np.abs(flexible).max()) or 1.0  # forces of one size with shifts, or the equations are lopsided
        matrix[:-3, :-3], matrix[:-3, -3:-1], matrix[:-3, -1] = flexible / unit, push, whole / _ARM_MM
        matrix[-3:, :-3] = matrix[:-3, -3:].T
        given[:-3] = miss - (turn * runs[6:, hold]).sum(axis=0)
        try:
            found = np.linalg.solve(matrix, given)
        except np.linalg.LinAlgError:
            break
        force = found[:-3] / unit
        past[:] = 0.0
        np.add.at(past.T, hold, (force * turn).T)
        bends = np.cumsum(past[:, ::-1], axis=1)[:, -2::-1]  # of the forces past each piece
        change = own + (bends * levers).sum(axis=0) / stiff - kappa
        kappa, origin, turned = kappa + change, origin + found[-3:-1], float(found[-1]) / _ARM_MM
        heading += turned
        if np.abs(miss).max() < _AT_REST_MM and np.abs(change).max() * _ARM_MM < 1e-6:
            return points, way, node_kappa, np.asarray(force[:count]), np.asarray(slid)
    raise BadJig(f"a packet on {count} brackets finds no rest; set them nearer to the wanted curve, or closer.")


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


def lie_on(bent: Bent, stations_mm: Array, off_mm: Array | None = None) -> Lie:
    """How a packet lies between brackets, judged within the finished frame; see `lie_between`."""
    return lie_between(
        bent.neutral, stations_mm, off_mm, within=finished(bent), stiff=bent.stiff, held_per_mm=bent.held_per_mm
    )


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
    The small-departure sum (`Held`) finds the pitch, the true shape settles it: one pitch less until it
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

    held = Held(bent)

    def departure(pitch: float) -> float:
        return float("inf") if length < 2 * pitch else held.most(stations(pitch))

    estimate = _estimate(bent, limit_mm, double_ends)
    found = widest(pitches_mm, limit_mm, departure)
    for pitch in reversed([float(each) for each in pitches_mm if each <= found]):
        error = lie_on(bent, stations(pitch)).error_mm
        if error <= limit_mm:
            return PitchFound(pitch, error, estimate)
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
