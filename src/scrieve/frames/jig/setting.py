"""The setting of the jig as a value that is kept, and the list of changes from one setting to the next."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from scrieve.errors import BadJig
from scrieve.frames.jig.bed import JigBed
from scrieve.frames.parts import Array, Jig
from scrieve.units import MM_PER_INCH, Units, format_length

#: A swivel that differs by less is left: a face that wide stands 0.35 mm off at its edges [rad].
SWIVEL_STEP_RAD = math.radians(1.0)

#: Two places of extra brackets nearer than this are one [mm].
_SAME_PLACE_MM = 1.0


def travel_told(mm: float, units: Units) -> str:
    """A travel without its unit: to half a millimetre, or in inches and 32nds, to which a rule can be read as finely.

    Examples
    --------
    >>> travel_told(212.5, "mm"), travel_told(1031.5, "ft"), travel_told(4.5, "ft"), travel_told(25.4, "ft")
    ('212.5', '40 5/8', '3/16', '1')
    """
    if units == "mm":
        return format_length(mm, "mm", 1)
    whole, rest = divmod(round(mm / MM_PER_INCH * 32), 32)
    common = math.gcd(rest, 32)
    parts = [str(whole)] if whole or not rest else []
    return " ".join([*parts, f"{rest // common}/{32 // common}"] if rest else parts)


@dataclass(frozen=True, slots=True)
class Stand:
    """One bracket as it stands: travel of its face from the datum line, and swivel.

    `rail` counts from 1 at the left end of the bed, 0 for a bracket clamped between rails at `along_mm` from rail 1.
    """

    rail: int
    along_mm: float
    travel_mm: float
    swivel_rad: float


@dataclass(frozen=True, slots=True)
class JigSetting:
    """Where every bracket of the jig stands; `stands` in order along the bed. It is kept from frame to frame."""

    stands: tuple[Stand, ...] = field(default=())

    @classmethod
    def of_jig(cls, jig: Jig, before: JigSetting | None = None) -> JigSetting:
        """The setting once a frame's jig is set; rails it does not use stay as they were `before`."""
        new = [Stand(each.rail, each.along_mm, each.travel_mm, each.swivel_rad) for each in jig.brackets]
        used = {stand.rail for stand in new}
        old = [stand for stand in (before.stands if before else ()) if stand.rail and stand.rail not in used]
        return cls(tuple(sorted([*new, *old], key=lambda stand: stand.along_mm)))

    @classmethod
    def of_arrays(cls, bed: JigBed, travel_mm: Array, swivel_rad: Array) -> JigSetting:
        """The setting of rails 1 to J; NaN where a rail has no bracket."""
        pairs = zip(bed.along_mm.tolist(), travel_mm.tolist(), swivel_rad.tolist(), strict=True)
        return cls(
            tuple(
                Stand(rail, along, travel, 0.0 if math.isnan(swivel) else swivel)
                for rail, (along, travel, swivel) in enumerate(pairs, start=1)
                if not math.isnan(travel)
            )
        )

    def arrays(self, bed: JigBed) -> tuple[Array, Array]:
        """(J,) travels and swivels of the bed's rails; NaN where no bracket stands on one.

        Raises
        ------
        BadJig
            The setting names a rail that the bed does not have.
        """
        travel, swivel = np.full(bed.rails, np.nan), np.full(bed.rails, np.nan)
        for stand in self.stands:
            if stand.rail > bed.rails:
                raise BadJig(
                    f"the jig's setting has a bracket on rail {stand.rail}; the bed has {bed.rails} rails. "
                    "Describe the bed as it stands, or forget the setting."
                )
            if stand.rail:
                travel[stand.rail - 1], swivel[stand.rail - 1] = stand.travel_mm, stand.swivel_rad
        return travel, swivel

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any]) -> JigSetting:
        """Read a setting from plain values, as JSON gives them.

        Raises
        ------
        BadJig
            A value is missing or is no number.

        Examples
        --------
        >>> kept = {"stands": [{"rail": 3, "along_mm": 500.0, "travel_mm": 212.5, "swivel_rad": 0.1}]}
        >>> JigSetting.from_mapping(kept).to_mapping() == kept
        True
        """
        try:
            stands = tuple(
                Stand(
                    int(each["rail"]),
                    float(each["along_mm"]),
                    float(each["travel_mm"]),
                    float(each["swivel_rad"]),
                )
                for each in given["stands"]
            )
        except (KeyError, TypeError, ValueError) as error:
            raise BadJig(
                f"the jig's setting cannot be read ({error!r}); give rail, along_mm, travel_mm and swivel_rad of each "
                "bracket, or forget the setting."
            ) from error
        if not all(math.isfinite(value) for s in stands for value in (s.along_mm, s.travel_mm, s.swivel_rad)):
            raise BadJig("the jig's setting has a value that is no number; measure that bracket again.")
        return cls(stands)

    def to_mapping(self) -> dict[str, Any]:
        """Return the setting as plain values, fit for JSON."""
        return {
            "stands": [
                {"rail": s.rail, "along_mm": s.along_mm, "travel_mm": s.travel_mm, "swivel_rad": s.swivel_rad}
                for s in self.stands
            ]
        }


@dataclass(frozen=True, slots=True)
class Change:
    """What is done to one bracket between two frames.

    `bracket` is its number in the frame's list (0: it is not used), `rail` its rail (0: clamped between rails at
    `along_mm`). `was_mm` is None where it has no known place; `minutes` the time it takes.
    """

    bracket: int
    rail: int
    along_mm: float
    was_mm: float | None
    travel_mm: float
    swivel_by_rad: float
    swivel_rad: float
    minutes: float

    @property
    def by_mm(self) -> float | None:
        """How far out the face moves (below zero: in); None where it was not known."""
        return None if self.was_mm is None else self.travel_mm - self.was_mm

    @property
    def moved(self) -> bool:
        """Whether its travel changes."""
        return self.was_mm is None or self.travel_mm != self.was_mm

    def words(self, units: Units = "mm") -> str:
        """The change as told at the bench: 'bracket 7 (rail 9): out 4.5 mm, swivel +1.2°'."""
        unit = " mm" if units == "mm" else ""
        thin = " mm" if units == "mm" else " in"
        place = f"rail {self.rail}" if self.rail else f"{format_length(self.along_mm, units)}{unit} from rail 1"
        name = f"bracket {self.bracket} ({place})" if self.bracket else f"the bracket at {place}"
        by = self.by_mm
        if not self.bracket:
            return f"{name}: take away"
        told = []
        if by is None:
            told.append(f"set to {travel_told(self.travel_mm, units)}{thin}")
        elif by:
            way = ("out" if by > 0 else "in") + (" by" if units == "ft" else "")  # 'in 1/16 in' reads as a slip
            told.append(f"{way} {travel_told(abs(by), units)}{thin}")
        if by is None:
            told.append(f"swivel to {math.degrees(self.swivel_rad):+.1f}°")
        elif abs(self.swivel_by_rad) >= SWIVEL_STEP_RAD:
            told.append(f"swivel {math.degrees(self.swivel_by_rad):+.1f}°")
        return f"{name}: {', '.join(told) or 'stays'}"


@dataclass(frozen=True, slots=True)
class ChangeList:
    """All changes from one setting to a frame's, brackets from the heel, and the minutes they take."""

    changes: tuple[Change, ...]
    minutes: float

    @property
    def moved(self) -> int:
        """How many brackets are moved."""
        return sum(change.moved for change in self.changes)

    @property
    def travel_mm(self) -> float:
        """All travel together [mm]."""
        return sum(abs(change.by_mm or 0.0) for change in self.changes)


def changes(jig: Jig, bed: JigBed, before: JigSetting | None = None) -> ChangeList:
    """The changes that bring the jig from the setting `before` to one frame's.

    Brackets that stay are listed too, with no minutes, so that they are checked. An extra bracket that stood between
    rails and is no longer wanted there is taken away: it is the one set elsewhere, or it costs a move.
    """
    stood = {stand.rail: stand for stand in before.stands if stand.rail} if before else {}
    loose = [stand for stand in before.stands if not stand.rail] if before else []
    found = []
    spare = 0
    for each in jig.brackets:
        was = stood.get(each.rail)
        if not each.rail:
            was = next((s for s in loose if abs(s.along_mm - each.along_mm) <= _SAME_PLACE_MM), None)
            if was:
                loose.remove(was)
        by = 0.0 if was is None else abs(each.travel_mm - was.travel_mm)
        turn = each.swivel_rad - was.swivel_rad if was else each.swivel_rad
        minutes = 0.0 if was and not by else bed.move_min + bed.mm_min * by
        if was is None or abs(turn) >= SWIVEL_STEP_RAD:
            minutes += bed.swivel_min
        spare += was is None and not each.rail
        at = was.travel_mm if was else None
        found.append(Change(each.number, each.rail, each.along_mm, at, each.travel_mm, turn, each.swivel_rad, minutes))
    for i, stand in enumerate(loose):
        cost = bed.move_min if i >= spare else 0.0
        found.append(Change(0, 0, stand.along_mm, stand.travel_mm, stand.travel_mm, 0.0, stand.swivel_rad, cost))
    return ChangeList(tuple(found), bed.frame_min + sum(change.minutes for change in found))
