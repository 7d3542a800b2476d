"""The bevel board against the fair hull: each bevel as read beside the hull's own, and what differs too much."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadMarks, NoSuchFrame
from scrieve.fairing.bevel_doubt import bevel_sd, share_at
from scrieve.fairing.result import FairHull
from scrieve.fairing.section import Section
from scrieve.takeoff.bevels import BevelReading
from scrieve.takeoff.marks import Mark
from scrieve.units import format_angle

Array = NDArray[np.float64]

#: A bevel that differs by more is told, unless another tolerance is stated (our own limit, no source).
TOLERANCE_RAD = math.radians(3.0)
_POINTS = 400
#: Places of one height whose bevels differ by more than this are not the same to the reader [rad].
_ALIKE_RAD = math.radians(0.5)
#: Readings of one frame from which something is said of all of them.
_FEWEST = 3


class Bevelled(Protocol):
    """A fair hull, as far as bevels go."""

    def station_of(self, at: str | float) -> tuple[str, float]:
        """Label and station [mm] of a frame."""
        ...

    def section(self, at: str | float, points: int = 200) -> Section:
        """Moulded line at a frame."""
        ...


@dataclass(frozen=True, slots=True)
class BevelOff:
    """One reading beside the hull; angles as worked from the reading's face, standing above zero [rad].

    `s_mm` is its place by arc length from the heel; `residual_rad` is read less hull; `differs` where that is over the
    tolerance. `hull_sd_rad` is one standard deviation of the hull's own bevel there, as its marks leave it in doubt;
    nan where the hull knows none.
    """

    reading: BevelReading
    s_mm: float
    hull_rad: float
    residual_rad: float
    differs: bool
    hull_sd_rad: float = math.nan

    @property
    def unsure(self) -> bool:
        """Whether the hull's own doubt, two standard deviations, explains as much."""
        return abs(self.residual_rad) <= 2 * self.hull_sd_rad


@dataclass(frozen=True, slots=True)
class BevelBoard:
    """All readings beside the hull, those without a place on it, and what can be said of whole frames."""

    offs: tuple[BevelOff, ...]
    lost: tuple[str, ...]
    hints: tuple[str, ...]
    tolerance_rad: float

    @property
    def differing(self) -> tuple[BevelOff, ...]:
        """Readings over the tolerance, the furthest first."""
        return tuple(sorted((off for off in self.offs if off.differs), key=lambda off: -abs(off.residual_rad)))

    @property
    def rms_rad(self) -> float:
        """Root mean square of the residuals; 0 without any [rad]."""
        return float(np.sqrt(np.mean([off.residual_rad**2 for off in self.offs]))) if self.offs else 0.0


def compare_bevels(
    readings: Iterable[BevelReading],
    hull: Bevelled,
    *,
    tolerance_rad: float = TOLERANCE_RAD,
    marks: Sequence[Mark] = (),
) -> BevelBoard:
    """Hold a bevel board against the fair hull.

    Parameters
    ----------
    readings : iterable of BevelReading
        As `takeoff.bevels.read_bevels` gives them.
    hull : Bevelled
        The fair hull.
    tolerance_rad : float
        What a bevel may differ by [rad].
    marks : sequence of Mark
        Where readings are placed by a mark's label: the marks of the boat.

    Returns
    -------
    BevelBoard
        The hull's bevel is that of `Section.bevel_rad`, towards aft, and so the other way from an aft moulding edge.

    Raises
    ------
    BadMarks
        The tolerance is not above zero.
    """
    if not (math.isfinite(tolerance_rad) and tolerance_rad > 0):
        raise BadMarks(f"tolerance of bevels: {math.degrees(tolerance_rad):g}°; give a value above zero.")
    sections: dict[str, Section | str] = {}
    offs: list[BevelOff] = []
    lost: list[str] = []
    for reading in readings:
        if reading.frame not in sections:
            sections[reading.frame] = _section(hull, reading.frame)
        section = sections[reading.frame]
        s = section if isinstance(section, str) else _place(reading, section, marks)
        if isinstance(s, str) or isinstance(section, str):
            where = f"line {reading.line}: " if reading.line else ""
            lost.append(f"{where}bevel of frame {reading.frame}: {s}")
            continue
        towards_aft = float(np.interp(s, section.s_mm, section.bevel_rad))
        sd = math.nan
        if isinstance(hull, FairHull):
            sd = float(bevel_sd(hull, section.station_mm, share_at(hull, section.station_mm, s))[0])
        there = towards_aft if reading.face == "fore" else -towards_aft
        residual = reading.bevel_rad - there
        offs.append(BevelOff(reading, s, there, residual, abs(residual) > tolerance_rad, sd))
    return BevelBoard(tuple(offs), tuple(lost), tuple(_hints(offs, tolerance_rad)), tolerance_rad)


def _section(hull: Bevelled, frame: str) -> Section | str:
    """Return the section of a frame, or why there is none; a number that is no frame's is not taken for a station."""
    try:
        label, station = hull.station_of(frame)
    except NoSuchFrame as error:
        return str(error)
    return hull.section(station, _POINTS) if label == frame.strip() else "no frame of that name has marks here."


def _place(reading: BevelReading, section: Section, marks: Sequence[Mark]) -> float | str:
    """Return the arc length at which a bevel was read, or why it has none."""
    if reading.girth_mm is not None:
        if not 0 <= reading.girth_mm <= section.girth_mm:
            girths = f"girth {reading.girth_mm:.0f} mm, but the frame's is {section.girth_mm:.0f} mm"
            return f"{girths}; measure from the heel."
        return reading.girth_mm
    if reading.height_mm is not None:
        return _at_height(reading.height_mm, section)
    those = [
        mark
        for mark in marks
        if mark.frame == reading.frame
        and mark.label.casefold() == reading.label.casefold()
        and (not reading.side or mark.side in ("", reading.side))
    ]
    if not those:
        return f"no mark {reading.label} on this frame; give the height or the girth of the bevel."
    middle = np.mean([(mark.half_breadth_mm, mark.height_mm) for mark in those], axis=0)
    return float(section.s_mm[int(np.argmin(np.hypot(*(section.points_mm - middle).T)))])


def _at_height(height: float, section: Section) -> float | str:
    off = section.height_mm - height
    here = np.flatnonzero(off[:-1] * off[1:] <= 0)
    if not here.size:
        low, high = float(section.height_mm.min()), float(section.height_mm.max())
        return f"height {height:.0f} mm, but the frame runs from {low:.0f} to {high:.0f} mm."
    rise = off[here + 1] - off[here]
    share = np.where(rise == 0, 0.5, -off[here] / np.where(rise == 0, 1.0, rise))
    s = section.s_mm[here] + share * (section.s_mm[here + 1] - section.s_mm[here])
    if np.ptp(np.interp(s, section.s_mm, section.bevel_rad)) > _ALIKE_RAD:
        return f"the frame is {height:.0f} mm high in {len(s)} places; give the girth from the heel."
    return float(np.mean(s))


def _hints(offs: Sequence[BevelOff], tolerance: float) -> list[str]:
    frames: dict[str, list[BevelOff]] = {}
    for off in offs:
        frames.setdefault(off.reading.frame, []).append(off)
    said = []
    for frame, those in frames.items():
        if len(those) < _FEWEST or sum(off.differs for off in those) * 2 < len(those):
            continue
        read = np.array([off.reading.bevel_rad for off in those])
        there = np.array([off.hull_rad for off in those])
        changed_over, one_angle = float(np.sqrt(np.mean((read + there) ** 2))), float(np.std(read - there))
        by_one = one_angle < tolerance / 2
        if changed_over < 0.5 * np.sqrt(np.mean((read - there) ** 2)) and not (by_one and one_angle < changed_over):
            said.append(
                f"frame {frame}: its {len(those)} bevels fit with standing and under changed over; were they taken "
                "from the other face?"
            )
        elif by_one:
            out = format_angle(float(np.mean(read - there)))
            said.append(
                f"frame {frame}: its {len(those)} bevels are all out by about {out}; does the frame stand square to "
                "the centreplane, and is the gauge true?"
            )
    return said
