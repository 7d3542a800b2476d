"""The steps at the bench: what is done to the brackets, one after another."""

from __future__ import annotations

from dataclasses import dataclass

from scrieve.frames.jig.setting import SWIVEL_STEP_RAD
from scrieve.frames.jig.setting_kept import FrameOnBed, JigKept
from scrieve.sheets.figures import degrees, sized
from scrieve.sheets.frame_setting import change_words, row_of
from scrieve.units import Units


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do at the bench: set bracket `number`, or (0) take away the extra one at `along_mm`."""

    number: int
    along_mm: float
    place: str
    travel: str
    row: str
    swivel: str
    change: str
    done: bool
    stays: bool

    @property
    def query(self) -> str:
        """Names the step in an address."""
        return f"bracket={self.number}" if self.number else f"away={self.along_mm:.3f}"


def steps(found: FrameOnBed, kept: JigKept, units: Units) -> tuple[Step, ...]:
    """Return what is to be done at the bench: brackets in the way first, then every bracket from the heel."""
    ticked = found.ticked(kept)
    listed = []
    for change in (*found.away, *(each for each in found.change.changes if each.bracket)):
        place = f"rail {change.rail}" if change.rail else f"{sized(change.along_mm, units)} from rail 1"
        row, travel = row_of(found, change.travel_mm, units)
        listed.append(
            Step(
                change.bracket,
                change.along_mm,
                place,
                travel,
                f"row {row} of holes" if row else "",
                degrees(change.swivel_rad),
                change_words(change, units),
                change.bracket in ticked,
                not change.moved and abs(change.swivel_by_rad) < SWIVEL_STEP_RAD and change.bracket > 0,
            )
        )
    return tuple(listed)
