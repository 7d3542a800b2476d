"""Glue: generic families with shop defaults from memory, and how much a packet takes."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from scrieve.errors import BadLamination, NoSuchTimber, above_zero

FROM_MEMORY = "shop default from memory, unverified; take the maker's data sheet"

COMMON_PRACTICE = "common practice, no source; the maker's data sheet comes first"

#: Share of the mixed glue that stays in pot, roller and squeeze-out: shop default, no source.
WASTE_SHARE = 0.2


@dataclass(frozen=True, slots=True)
class Glue:
    """One family of glue. Every figure is a shop default from memory: the maker's data sheet comes first.

    `spread_g_m2` is for one joint, both faces together. `figures` are what a glue-up reckons with, each a name, a
    value and its source; `scrieve.timber.data_sheet` reads them and lays the builder's own over them.
    """

    name: str
    spread_g_m2: float
    spread_range_g_m2: tuple[float, float]
    pressure: str
    moisture: str
    least_temperature_c: float
    line_mm: str
    outside: str
    caution: str
    source: str = FROM_MEMORY
    figures: tuple[tuple[str, float, str], ...] = ()


def glue(name: str) -> Glue:
    """Return a family of glue by its name, upper or lower case.

    Raises
    ------
    NoSuchTimber
        The family is not in the table; the message lists those that are.

    Examples
    --------
    >>> glue("Epoxy").spread_g_m2
    350.0
    """
    wanted = name.strip().lower()
    if wanted not in _table():
        raise NoSuchTimber(f"glue {name.strip()!r} is not in the table; there are {', '.join(glue_names())}.")
    return _table()[wanted]


def glue_names() -> list[str]:
    """Return the names of all families."""
    return list(dict.fromkeys(entry.name for entry in _table().values()))


def glue_mass(
    joints: int, area_mm2: float, spread_g_m2: float, waste_share: float = WASTE_SHARE
) -> tuple[float, float]:
    """Glue on the joints, and to be mixed with waste [g].

    Parameters
    ----------
    joints : int
        Number of glue lines, one fewer than laminations.
    area_mm2 : float
        Area of one joint [mm²].
    spread_g_m2 : float
        Spread for one joint, both faces together [g/m²].
    waste_share : float
        Share of what is mixed that does not reach the joint, 0 up to (not including) 1.

    Raises
    ------
    BadLamination
        A value is out of range.

    Examples
    --------
    >>> glue_mass(7, 0.1 * 3 * 1e6, 350, 0.2)
    (735.0, 918.75)
    """
    if joints < 1 or not 0 <= waste_share < 1:
        raise BadLamination(f"glue: {joints} joints, waste {waste_share:g}; give 1 joint or more, waste 0 to below 1.")
    square_metres = float(above_zero("area", area_mm2, "mm²")) / 1e6
    net = joints * square_metres * float(above_zero("spread", spread_g_m2, "g/m²"))
    return round(net, 6), round(net / (1 - waste_share), 6)


@cache
def _table() -> dict[str, Glue]:
    text = resources.files(__package__).joinpath("glue.toml").read_text(encoding="utf-8")
    table: dict[str, Glue] = {}
    for row in tomllib.loads(text)["glue"]:
        aliases = row.pop("aliases")
        low, high = row.pop("spread_range_g_m2")
        spread, least = float(row.pop("spread_g_m2")), float(row.pop("least_temperature_c"))
        row["figures"] = tuple((name, *_sourced(given)) for name, given in row["figures"].items())
        entry = Glue(spread_g_m2=spread, least_temperature_c=least, spread_range_g_m2=(float(low), float(high)), **row)
        table |= dict.fromkeys([entry.name, *aliases], entry)
    return table


def _sourced(given: float | list[Any]) -> tuple[float, str]:
    """A bare number is common practice; a number with its source comes as a pair."""
    return (float(given[0]), str(given[1])) if isinstance(given, list) else (float(given), COMMON_PRACTICE)
