"""A mark: one point of the hull as the builder took it off."""

from __future__ import annotations

from dataclasses import dataclass

from scrieve.boat import Side

#: What a mark may be besides a plain point of the moulded line: names the file may use -> the name kept.
KINDS = {
    "": "",
    "mark": "",
    "offset": "",
    "heel": "heel",
    "keel": "heel",
    "rabbet": "heel",
    "head": "head",
    "sheer": "head",
    "deck": "head",
    "gunwale": "head",
    "knuckle": "knuckle",
    "chine": "knuckle",
}


@dataclass(frozen=True, slots=True)
class Mark:
    """One point taken off the hull; lengths in mm.

    `number` is the mark's own in its boat (0 before it is stored). `frame` is the builder's label. `side` is 'P', 'S'
    or '' where the mark stands for both. `label` is the builder's name of the mark. `sigma_mm` is its measuring error
    where stated. `kind` is '', 'heel', 'head' or 'knuckle'. `line` is the line of the file it came from (0: typed).
    """

    frame: str
    station_mm: float
    height_mm: float
    half_breadth_mm: float
    side: Side = ""
    label: str = ""
    sigma_mm: float | None = None
    kind: str = ""
    note: str = ""
    number: int = 0
    line: int = 0
