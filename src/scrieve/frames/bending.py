"""The packet bent in the jig: its curve, overbent for springback, and how it lies between brackets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from scrieve.frames.choice import FrameChoice
from scrieve.frames.laminations import Lay
from scrieve.frames.line import Line, lengthened, offset, offset_varied
from scrieve.frames.parts import Array
from scrieve.frames.springback import bend_back
from scrieve.frames.stack import Along
from scrieve.frames.stress import Movement


@dataclass(frozen=True, slots=True, eq=False)
class Bent:
    """The packet in the jig, in the section's axes, past heel and head by the trimming allowance.

    `girth_mm` is the moulded line's arc length at each point, `wanted` the neutral line after release, `neutral` in
    the jig, `face` the bearing face and `other` the other one. `reference` is a line of the packet that runs through
    unbroken where laminations are dropped, in the jig; `along` what the stack is at each point.
    """

    girth_mm: Array
    wanted: Line
    neutral: Line
    face: Line
    other: Line
    reference: Line | None = None
    along: Along | None = None


def bend(line: Line, found: Lay, choice: FrameChoice, later: Movement | None = None) -> Bent:
    """Bend the packet for the jig: neutral line overbent for springback, then out to both faces of the packet.

    Parameters
    ----------
    line, found, choice
        The moulded line, the stack laid along it, and what the builder has settled.
    later : Movement, optional
        What the frame gains once it is cleaned off, at the points of the moulded line; the jig is set so much
        slacker. Left out: the frame has its shape as it comes off the jig.

    Raises
    ------
    BadLamination
        A face of the packet folds, or springback leaves nothing.
    """
    run = lengthened(line, choice.trim_mm)
    along = found.along(run.s_mm)
    from_outer = found.depth_mm - found.neutral_mm  # the reference: the full packet's neutral line
    straight = offset(run, found.inside_mm - found.neutral_mm, "the packet's neutral line")
    away = along.neutral_mm - from_outer
    share, given = choice.spring_factor * along.share, choice.spring_factor * along.given
    if later is not None:
        share = share - np.interp(run.s_mm, line.s_mm, later.share)
        given = given + np.interp(run.s_mm, line.s_mm, later.given)
    reference = bend_back(straight, away, share, given)
    inner = offset_varied(reference, along.depth_mm - from_outer, "the inside of the packet in the jig")
    outer = offset(reference, -from_outer, "the outside of the packet in the jig")
    face, other = (inner, outer) if choice.bearing == "inside" else (outer, inner)
    wanted = offset_varied(straight, away, "the packet's neutral line")
    neutral = offset_varied(reference, away, "the packet's neutral line in the jig")
    return Bent(run.s_mm, wanted, neutral, face, other, reference, along)


def between_brackets(bent: Bent, stations_mm: Array) -> tuple[float, float, Array]:
    """How far the packet, held at brackets only, leaves the wanted curve within the finished length.

    Parameters
    ----------
    bent : Bent
        The packet in the jig.
    stations_mm : ndarray (k,)
        Places of the brackets along the neutral line, rising.

    Returns
    -------
    error_mm, girth_mm : float
        The most it leaves the curve, and where along the moulded line.
    shear : ndarray (k,)
        Force of the packet on each bracket over the loose packet's EI [1/mm²]; above zero where it presses on a
        bearing face inside the bend.

    References
    ----------
    .. [1] docs/frames.md, "Between brackets": of all small departures w that vanish at the brackets, the packet takes
       the one of least ∫(κ + w'')² ds. With K'' = κ, K + w is the natural cubic spline through K at the brackets.
    """
    s, kappa = bent.neutral.s_mm, bent.neutral.curvature_per_mm
    step = np.diff(s)
    slope = np.concatenate([[0.0], np.cumsum(step * (kappa[1:] + kappa[:-1]) / 2)])
    rise = np.cumsum(step * slope[:-1] + step**2 * (2 * kappa[:-1] + kappa[1:]) / 6)
    curve = np.concatenate([[0.0], rise])
    spline = CubicSpline(stations_mm, np.interp(stations_mm, s, curve), bc_type="natural")
    inside = np.clip(s, stations_mm[0], stations_mm[-1])
    taken = spline(inside) + spline(inside, 1) * (s - inside)
    finished = (bent.girth_mm >= -1e-9) & (bent.girth_mm <= bent.girth_mm[-1] + bent.girth_mm[0] + 1e-9)
    departure = np.where(finished, np.abs(taken - curve), 0.0)
    worst = int(np.argmax(departure))
    bending = np.concatenate([[0.0], np.diff(spline(stations_mm, 2)) / np.diff(stations_mm), [0.0]])
    return float(departure[worst]), float(bent.girth_mm[worst]), -np.diff(bending)
