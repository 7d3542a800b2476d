"""What it takes to close the loose packet: moments, what each bracket bears, the pull as each is closed, clamps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from scrieve.errors import BadLamination, above_zero
from scrieve.frames.choice import FrameChoice
from scrieve.frames.packet.bending import Bent
from scrieve.frames.packet.held import Held
from scrieve.frames.parts import Jig
from scrieve.wording import length, small, tell
from scrieve.working import Working

#: Pressure spreads through caul and packet at about 45°.
SPREAD = 1.0
SPREAD_SOURCE = "spread of pressure at 45°: common practice, no source"

FRICTION = "friction of the wet packet left out: it helps to hold, and hinders closing"


@dataclass(frozen=True, slots=True)
class Closed:
    """One bracket of a packet drawn in: `force_n` is what the packet bears on it once all are closed (below zero: it
    must be clamped to it), `pull_n` the most that draws the packet to it as it is closed in its turn, `turn` that
    turn (from the middle out), `clamps` how many of the capacity given hold it there."""

    number: int
    s_mm: float
    moment_nmm: float
    force_n: float
    pull_n: float
    turn: int
    clamps: int


@dataclass(frozen=True, slots=True)
class ClampPlace:
    """Where clamps are set along the moulded line: at `bracket` (0: between two of them), so many of them."""

    s_mm: float
    bracket: int = 0
    clamps: int = 1


@dataclass(frozen=True, slots=True)
class Closing:
    """The whole packet drawn in; `moment_nmm` is the most along it, `end_pull_n` the greatest pull in closing.

    `clamp_n` is the capacity of one clamp, `depth_mm` and `width_mm` the packet's where it is shallowest.
    `spacing_mm` is the widest spacing at which clamps under cauls of `caul_mm` press every joint; `places` where
    clamps are set, heel to head, so that the packet is closed and every joint pressed.
    """

    brackets: tuple[Closed, ...]
    moment_nmm: float
    end_pull_n: float
    clamp_n: float
    caul_mm: float
    depth_mm: float
    width_mm: float
    spacing_mm: float
    places: tuple[ClampPlace, ...]

    @property
    def clamps(self) -> int:
        """How many clamps it takes."""
        return sum(place.clamps for place in self.places)

    @property
    def cauls(self) -> int:
        """How many cauls on the free face: one at each place."""
        return len(self.places)

    def under(self, pressure_mpa: float) -> Closing:
        """The same packet, its joints pressed as another glue asks; raises as `clamp_spacing` does."""
        spacing = clamp_spacing(self.depth_mm, self.width_mm, self.caul_mm, self.clamp_n, pressure_mpa)
        return replace(self, spacing_mm=spacing, places=clamp_places(self.brackets, spacing))


def close(
    bent: Bent, stations_mm: Sequence[float], girth_mm: Sequence[float], choice: FrameChoice, width_mm: float,
    pressure_mpa: float = 0.0,
) -> Closing:  # fmt: skip
    """Draw the loose packet in on its brackets, from the middle out.

    Parameters
    ----------
    bent : Bent
        The packet in the jig.
    stations_mm, girth_mm : sequences of k
        Places of the brackets along the neutral line, rising, and along the moulded line.
    choice : FrameChoice
        Bearing face, force of one clamp, thickness of the cauls.
    width_mm : float
        Siding of the blank.
    pressure_mpa : float
        Pressure that the glue asks for; 0 where contact is enough.

    Raises
    ------
    BadJig
        Fewer than three brackets.

    References
    ----------
    .. [1] docs/frames.md, "Closing effort"; the moments and forces are those of `Held`.
    """
    along = bent.along
    assert along is not None
    at = np.asarray(stations_mm, dtype=float)
    inside = 1.0 if choice.bearing == "inside" else -1.0
    packet, whole = Held(bent), along.full_loose * width_mm
    moment, force = (whole * each for each in packet.moments(at))
    turns = middle_out(girth_mm)
    pulls = np.zeros(len(at))
    for turn in range(2, len(at)):
        here = np.sort(turns[: turn + 1])
        now = whole * packet.moments(at[here])[1]
        where = int(np.flatnonzero(here == turns[turn])[0])
        pulls[turns[turn]] = abs(now[where])
    for k in turns[:2]:  # held before anything is bent; the third draws against them
        pulls[k] = 0.0
    held = inside * force
    draw = np.maximum(np.maximum(-held, 0.0), pulls)
    clamps = [max(math.ceil(each / choice.clamp_n - 1e-9), 1) for each in draw]
    depth = float(along.depth_mm.min())
    spacing = clamp_spacing(depth, width_mm, choice.caul_mm, choice.clamp_n, pressure_mpa)
    brackets = tuple(
        Closed(
            k + 1, float(girth_mm[k]), float(moment[k]), float(held[k]), float(pulls[k]), turns.index(k) + 1, clamps[k]
        )
        for k in range(len(at))
    )  # fmt: skip
    return Closing(
        brackets,
        float(np.abs(along.moment(bent.neutral.curvature_per_mm)).max()) * width_mm,
        float(pulls.max()),
        choice.clamp_n,
        choice.caul_mm,
        depth,
        width_mm,
        spacing,
        clamp_places(brackets, spacing),
    )


def middle_out(places_mm: Sequence[float]) -> list[int]:
    """Numbers of places, from 0, in the order they are closed: the middlemost, then each by its distance from that.

    Examples
    --------
    >>> middle_out([0.0, 100.0, 300.0, 550.0, 800.0])
    [2, 1, 3, 0, 4]
    """
    middle = min(places_mm, key=lambda s: abs(s - (places_mm[0] + places_mm[-1]) / 2))
    return sorted(range(len(places_mm)), key=lambda k: abs(places_mm[k] - middle))


def clamp_places(brackets: Sequence[Closed], spacing_mm: float) -> tuple[ClampPlace, ...]:
    """Return where clamps are set: at each bracket as many as draw the packet to it, and evenly between two brackets
    that lie farther apart than `spacing_mm`.

    Examples
    --------
    >>> ends = [Closed(1, 0.0, 0.0, -9.0, 0.0, 1, 2), Closed(2, 500.0, 0.0, -9.0, 0.0, 2, 1)]
    >>> [(place.s_mm, place.bracket, place.clamps) for place in clamp_places(ends, 250.0)]
    [(0.0, 1, 2), (250.0, 0, 1), (500.0, 2, 1)]
    """
    found = [ClampPlace(each.s_mm, each.number, each.clamps) for each in brackets]
    for a, b in pairwise(brackets):
        bays = math.ceil((b.s_mm - a.s_mm) / spacing_mm - 1e-9)
        found += [ClampPlace(a.s_mm + (b.s_mm - a.s_mm) * i / bays) for i in range(1, bays)]
    return tuple(sorted(found, key=lambda place: place.s_mm))


def clamp_spacing(depth_mm: float, width_mm: float, caul_mm: float, clamp_n: float, pressure_mpa: float = 0.0) -> float:
    """Widest spacing at which clamps under cauls press every joint [mm].

    The pressure of one clamp spreads at 45° through caul and packet down to the farthest joint; where the glue asks
    for a pressure, one clamp also has only so much area.

    Raises
    ------
    BadLamination
        A size or force is not above zero.

    References
    ----------
    .. [1] Spread at 45°: common practice, no source. Area: force / pressure.

    Examples
    --------
    >>> clamp_spacing(60, 100, 25, 3000), clamp_spacing(60, 100, 25, 3000, 0.7)
    (170.0, 42.857142857142854)
    """
    above_zero("depth, width or force of a clamp", [depth_mm, width_mm, clamp_n], "mm or N")
    if caul_mm < 0 or pressure_mpa < 0:
        raise BadLamination(f"caul {caul_mm:g} mm, pressure {pressure_mpa:g} N/mm²; give zero or more.")
    spread = 2 * SPREAD * (caul_mm + depth_mm)
    return min(spread, clamp_n / (pressure_mpa * width_mm)) if pressure_mpa > 0 else spread


def closing_of(bent: Bent, jig: Jig, choice: FrameChoice, width_mm: float, pressure_mpa: float = 0.0) -> Closing:
    """The closing of a packet on the brackets of its jig; see `close`."""
    girth = [bracket.s_mm for bracket in jig.brackets]
    stations = np.interp(girth, bent.girth_mm, bent.neutral.s_mm)
    return close(bent, stations.tolist(), girth, choice, width_mm, pressure_mpa)


def closing_working(closing: Closing) -> Working:
    """How many clamps, and why."""
    most = max(closing.brackets, key=lambda each: -each.force_n)
    drawn = max(closing.brackets, key=lambda each: each.pull_n)
    at_brackets = sum(each.clamps for each in closing.brackets)
    between = closing.clamps - at_brackets
    return Working(
        "Clamps to close the packet",
        f"{closing.clamps} of {closing.clamp_n:.0f} N, {closing.cauls} cauls",
        "three-moment equations of the loose packet; at each bracket ⌈force / force of one clamp⌉, one at least; "
        "between two brackets ⌈distance / spacing⌉ - 1",
        (
            ("greatest moment ΣEᵢIᵢ (κ - κ₀ᵢ)", f"{closing.moment_nmm / 1e6:.3f} kN m"),
            ("greatest pull in closing", f"{drawn.pull_n:.0f} N, bracket {drawn.number}, {drawn.turn} in turn"),
            ("greatest pull once closed", f"{max(-most.force_n, 0.0):.0f} N, bracket {most.number}"),
            (
                "spacing that presses every joint",
                tell("{s} with cauls of {c}", s=length(closing.spacing_mm), c=small(closing.caul_mm, None)),
            ),
            ("clamps at brackets", f"{at_brackets} at {len(closing.brackets)} brackets"),
            ("clamps between brackets", f"{between}" if between else "none: they stand close enough"),
        ),
        f"beam theory; {FRICTION}; {SPREAD_SOURCE}",
        "a bent packet stores force: stand clear of its ends, release from the ends inwards, one clamp at a time",
    )
