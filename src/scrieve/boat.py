"""The boat: what is settled once for the whole hull."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scrieve.errors import BadBoat

Side = Literal["P", "S", ""]


@dataclass(frozen=True, slots=True)
class Boat:
    """What is settled once for the whole hull; lengths in mm.

    `planking` says whether the marks were taken to the inside or the outside of the planking. `units` is how the
    builder reads lengths. `sigma_mm` is the measuring error (one standard deviation) of a mark that does not state
    its own. `half_beam_mm`, where known, catches half-breadths that cannot be.
    """

    name: str
    planking: Literal["inside", "outside"] = "inside"
    thickness_mm: float = 0.0
    units: Literal["mm", "ft"] = "mm"
    sigma_mm: float = 2.0
    half_beam_mm: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise BadBoat("the boat has no name; give one with --name.")
        if self.planking not in ("inside", "outside"):
            raise BadBoat(f"planking: found {self.planking!r}; say 'inside' or 'outside' (of the planking).")
        if not 0 <= self.thickness_mm < 500:
            raise BadBoat(f"planking thickness: {self.thickness_mm:g} mm; give 0 to 500 mm.")
        if self.planking == "outside" and self.thickness_mm == 0:
            raise BadBoat("marks to the outside of planking need the planking's thickness; give --thickness.")
        if not 0 < self.sigma_mm <= 100:
            raise BadBoat(f"measuring error: {self.sigma_mm:g} mm; give a value above 0, up to 100 mm.")
        if self.half_beam_mm is not None and not self.half_beam_mm > 0:
            raise BadBoat(f"half-beam: {self.half_beam_mm:g} mm; give a value above zero, or leave it out.")
