"""Shift of butts: how far apart the end joints of a shell must lie, as named sets of rules with their sources."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from scrieve.errors import BadPlank
from scrieve.planking.lining.choice import known
from scrieve.units import MM_PER_INCH

_FOOT = 12 * MM_PER_INCH


@dataclass(frozen=True, slots=True)
class Apart:
    """Joints in two strakes with `between` solid strakes between them lie this far apart, in both measures given.

    `spaces` counts frame spaces from bay to bay (1: not in one bay); `mm` is measured along the boat, station to
    station; 0 asks nothing.
    """

    between: int
    spaces: float = 0.0
    mm: float = 0.0

    @property
    def strakes(self) -> str:
        """Which strakes it speaks of, in words."""
        if self.between == 0:
            return "adjacent strakes"
        return f"{'one strake' if self.between == 1 else f'{self.between} strakes'} between"


@dataclass(frozen=True, slots=True)
class ButtRules:
    """A set of rules for the end joints of planks; `source` says whose.

    `apart` holds one `Apart` for each number of solid strakes between. No plank, nor part left in place, is shorter
    than `shortest_spaces` frame spaces, nor than `shortest_mm`. `garboard_mm` is the least distance of a garboard's
    joints from those of the opposite garboard and from the scarfs of the keel. `on_frames` allows joints on a frame;
    else they stay `clear_mm` off its line; a scarf may lie on one. `scarfs` holds what two scarfs keep apart; None: as
    much as butts. A scarf and a butt keep apart as two butts do. `caution` tells what the set leaves open.
    """

    name: str
    source: str
    apart: tuple[Apart, ...]
    shortest_spaces: float = 0.0
    shortest_mm: float = 0.0
    garboard_mm: float = 0.0
    on_frames: bool = False
    clear_mm: float = 50.0
    caution: str = ""
    scarfs: tuple[Apart, ...] | None = None

    def __post_init__(self) -> None:
        where = f"butt rules {self.name!r}"
        if not self.name.strip():
            raise BadPlank("a set of butt rules has no name; give it one.")
        for rows in (self.apart, self.scarfs or ()):
            between = [rule.between for rule in rows]
            if len(set(between)) != len(between) or any(number < 0 for number in between):
                raise BadPlank(f"{where}: strakes between are {between}; give one rule for each of 0, 1, 2 ...")
        values = {"shortest plank, spaces": self.shortest_spaces, "shortest plank": self.shortest_mm,
                  "garboards": self.garboard_mm, "clear of frames": self.clear_mm}  # fmt: skip
        for rule in (*self.apart, *(self.scarfs or ())):
            values[rule.strakes] = min(rule.spaces, rule.mm)
        for name, value in values.items():
            if not (isinstance(value, (int, float)) and math.isfinite(value) and value >= 0):
                raise BadPlank(f"{where}, {name}: {value}; give zero or more.")

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any]) -> ButtRules:
        """Read rules from plain values such as `dataclasses.asdict` gives; raise BadPlank for what is not one."""
        values = known(cls, given)
        for name in ("apart", "scarfs"):
            if values.get(name) is not None:
                values[name] = tuple(Apart(**known(Apart, row)) for row in values[name])
        return cls(**values)

    def asked(self, between: int, *, scarfs: bool) -> Apart | None:
        """Return what two joints with so many solid strakes between keep apart; `scarfs`: both of them are scarfs."""
        rows = self.scarfs if scarfs and self.scarfs is not None else self.apart
        return next((rule for rule in rows if rule.between == between), None)


_ARMY = "TB 55-1900-201-45/1"
_SURVEYOR = "Agree the butts of an old hull with a surveyor or naval architect; class or flag rules come first."

#: The sets that can be chosen by name; the first is the strictest and the default.
BUTT_RULES: dict[str, ButtRules] = {
    rules.name: rules
    for rules in (
        ButtRules(
            "army, usual frame spacing",
            f"{_ARMY}, paragraphs 2-12 and 2-13",
            (Apart(0, spaces=3), Apart(1, spaces=1), Apart(2, spaces=1)),
            shortest_spaces=6,
            shortest_mm=5 * _FOOT,
            caution=_SURVEYOR,
        ),
        ButtRules(
            "army, unusual frame spacing",
            f"{_ARMY}, paragraphs 2-12 and 2-13",
            (Apart(0, mm=5 * _FOOT), Apart(1, spaces=1), Apart(2, spaces=1)),
            shortest_mm=5 * _FOOT,
            caution=_SURVEYOR,
        ),
        ButtRules(
            "Great Lakes, 1866",
            "rules of 1866 for construction of Great Lakes vessels",
            (Apart(0, spaces=1, mm=5 * _FOOT), Apart(1, spaces=1, mm=4 * _FOOT), Apart(2, spaces=1)),
            on_frames=True,
            caution=f"Written for ships that butt on their timbers. {_SURVEYOR}",
        ),
        ButtRules(
            "small yacht",
            "a small-yacht builder's published practice, not a standard",
            (Apart(0, spaces=2), Apart(1, spaces=1)),
            caution=_SURVEYOR,
        ),
        ButtRules(
            "clinker",
            "rule of thumb for clinker boats: three planks or three spaces apart",
            (Apart(0, spaces=3), Apart(1, spaces=3)),
            on_frames=True,
            caution=f"Read here as: within three strakes, three spaces apart. {_SURVEYOR}",
        ),
        ButtRules(
            "composite, 1891: garboards",
            "classification rules for composite vessels, 1891: garboards 4 ft 6 in",
            (),
            garboard_mm=4.5 * _FOOT,
            on_frames=True,
            caution=f"Says nothing of other strakes: use it beside another set. {_SURVEYOR}",
        ),
    )
}
#: How scarfs keep apart from scarfs. No source gives a shift for glued scarfs of planks: the first is the strictest.
SCARF_SHIFTS: dict[str, tuple[Apart, ...] | None] = {
    "as butts": None,
    "not in one bay": (Apart(0, spaces=1),),
    "free": (),
}
DEFAULT_RULES = "army, usual frame spacing"


def butt_rules(name: str, scarfs: str = "as butts") -> ButtRules:
    """Look a set of rules up by its name, and how its scarfs keep apart.

    Raises
    ------
    BadPlank
        No set is called so, or no shift of scarfs.

    Examples
    --------
    >>> butt_rules("small yacht", "not in one bay").scarfs
    (Apart(between=0, spaces=1, mm=0.0),)
    """
    if name not in BUTT_RULES:
        raise BadPlank(f"butt rules {name!r} are not known; known are {'; '.join(BUTT_RULES)}.")
    if scarfs not in SCARF_SHIFTS:
        raise BadPlank(f"shift of scarfs {scarfs!r} is not known; known are {'; '.join(SCARF_SHIFTS)}.")
    return replace(BUTT_RULES[name], scarfs=SCARF_SHIFTS[scarfs])
