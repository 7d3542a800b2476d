"""Species: strength, weight and movement of each timber, with the source and standing of every figure."""

from __future__ import annotations

import difflib
import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Literal

from scrieve.errors import NoSuchTimber

#: Wood Handbook table 5-3, footnote c: modulus by centre loading; 10 % more removes the shear deflection.
SHEAR_FREE = 1.10

#: Shrinkage in % over this gives the coefficient where none is tabulated (28.4 to 29.5 for most tabulated woods).
SHRINKAGE_OVER_COEFFICIENT = 2850.0

Group = Literal["hardwood", "softwood", "southern pine"]


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a figure comes from. Status S seen, S2 seen quoted, D derived, M from memory."""

    status: Literal["S", "S2", "D", "M"]
    source: str

    @property
    def unverified(self) -> bool:
        """Whether the figure is from memory only."""
        return self.status == "M"

    def __str__(self) -> str:
        return f"{self.source} (unverified)" if self.unverified else self.source


@dataclass(frozen=True, slots=True)
class AcrossGrain:
    """A figure across the grain, radially and tangentially: shrinkage [%] or movement per 1 % of moisture [-]."""

    radial: float
    tangential: float
    standing: Standing


@dataclass(frozen=True, slots=True)
class Species:
    """One timber: clear-wood averages at 12 % moisture content, not design values.

    `gravity_12` is ovendry mass over volume at 12 % [-]. `steam` says how it bends when steamed. `durability` is the
    class of guidance that mirrors ISO 12215-3 (1 lasts longest), where listed.
    """

    name: str
    group: Group
    density_kg_m3: float
    gravity_12: float
    mor_mpa: float
    moe_mpa: float
    strength: Standing
    shrinkage: AcrossGrain | None
    movement: AcrossGrain | None
    steam: str
    steam_unverified: bool
    durability: int | None
    note: str

    @property
    def bending_modulus_mpa(self) -> float:
        """Modulus for pure bending of thin laminations: the printed modulus × 1.10 [N/mm²]."""
        return SHEAR_FREE * self.moe_mpa

    @property
    def breaking_strain(self) -> float:
        """Outer-fibre strain at the printed bending strength, taken as elastic: MOR / (1.10 MOE) [-]."""
        return self.mor_mpa / self.bending_modulus_mpa

    @property
    def unverified(self) -> bool:
        """Whether strength and modulus are from memory only, and so not to be relied on."""
        return self.strength.unverified


def species(name: str) -> Species:
    """Return one timber by its name or a common alias, upper or lower case.

    Raises
    ------
    NoSuchTimber
        Not in the table; the message lists names that come near.

    Examples
    --------
    >>> species("Larch").name, species("sapele").moe_mpa
    ('larch, European', 12500.0)
    """
    table = _table()
    wanted = _plain(name)
    if wanted in table:
        return table[wanted]
    words = {word for word in re.split(r"\W+", wanted) if len(word) > 2}
    near = [key for key in table if words & set(re.split(r"\W+", key))]
    near += difflib.get_close_matches(wanted, table, n=3, cutoff=0.6)
    names = sorted({table[key].name for key in near}) or species_names()
    raise NoSuchTimber(f"timber {name.strip()!r} is not in the table of species; there are {'; '.join(names)}.")


def species_names() -> list[str]:
    """Return the names of all timbers of the table."""
    return sorted({entry.name for entry in _table().values()}, key=str.lower)


def movement(timber: Species) -> AcrossGrain:
    """Return movement coefficients per 1 % of moisture: tabulated, else shrinkage / 2850.

    Raises
    ------
    NoSuchTimber
        The table has neither for this timber.

    Notes
    -----
    The fallback under-predicts for khaya, mahogany, iroko and the lighter cedars, which are all tabulated.
    """
    if timber.movement is not None:
        return timber.movement
    if timber.shrinkage is None:
        raise NoSuchTimber(f"{timber.name}: no movement or shrinkage is in the table; measure your own stock.")
    given = timber.shrinkage
    standing = Standing(
        "M" if given.standing.unverified else "D", f"shrinkage / 2850, shrinkage from {given.standing.source}"
    )
    return AcrossGrain(
        given.radial / SHRINKAGE_OVER_COEFFICIENT, given.tangential / SHRINKAGE_OVER_COEFFICIENT, standing
    )


def gravity_at_12(basic_gravity: float) -> float:
    """Return ovendry mass over volume at 12 % from the basic gravity (volume green), fibre saturation at 30 %.

    References
    ----------
    .. [1] Wood Handbook eq. 4-11: G = Gb / (1 - 0.265 Gb (1 - M/30)), M = 12.

    Examples
    --------
    >>> round(gravity_at_12(0.42), 4), round(density_at_12(gravity_at_12(0.42)), 1)
    (0.4501, 504.1)
    """
    return basic_gravity / (1 - 0.265 * basic_gravity * (1 - 12 / 30))


def density_at_12(gravity_12: float) -> float:
    """Return density at 12 % moisture content [kg/m³] from gravity at 12 %: 1000 × 1.12 × G."""
    return 1120 * gravity_12


def _plain(name: str) -> str:
    return " ".join(re.split(r"[\s\-]+", name.strip().lower()))


@cache
def _table() -> dict[str, Species]:
    text = resources.files(__package__).joinpath("species.toml").read_text(encoding="utf-8")
    table: dict[str, Species] = {}
    for row in tomllib.loads(text)["species"]:
        entry = _read(row)
        table |= {_plain(key): entry for key in [entry.name, *row["aliases"]]}
    return table


def _read(row: dict[str, Any]) -> Species:
    steam = row.get("steam", {"text": "no figure", "status": "S"})
    return Species(
        name=row["name"],
        group=row["group"],
        density_kg_m3=float(row["density_kg_m3"]),
        gravity_12=float(row.get("gravity_12", row["density_kg_m3"] / 1120)),
        mor_mpa=float(row["mor_mpa"]),
        moe_mpa=float(row["moe_mpa"]),
        strength=Standing(**row["strength"]),
        shrinkage=_across(row.get("shrinkage")),
        movement=_across(row.get("movement")),
        steam=steam["text"],
        steam_unverified=steam["status"] == "M",
        durability=row.get("durability"),
        note=row.get("note", ""),
    )


def _across(given: dict[str, Any] | None) -> AcrossGrain | None:
    if given is None:
        return None
    return AcrossGrain(given["radial"], given["tangential"], Standing(given["status"], given["source"]))
