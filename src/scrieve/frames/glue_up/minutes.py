"""The minutes of a glue-up: joints spread and laid one after the other, glue pot by pot, then every clamp."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from scrieve.errors import BadLamination, above_zero
from scrieve.timber.data_sheet import DataSheet
from scrieve.timber.glue import WASTE_SHARE

ClampFrom = Literal["middle", "heel", "head"]

SHOP_DEFAULT = "shop default, common practice, no source; change it to suit"

#: Nobody has more hands than this.
MOST_PEOPLE = 12


@dataclass(frozen=True, slots=True)
class GlueUpPlan:
    """How the shop means to do it. Every default is common practice, no source; change them to suit.

    `people` at work; `spread_m2_min` face that one of them spreads in a minute; `mixing_min` for each pot, all else
    standing; `lay_min` to lay and line up one lamination; `clamp_min` one person's minutes for one clamp;
    `pot_share` of the pot life that is used; `clamps_at_hand` (None: not counted); `clamp_from` where clamping starts;
    `waste_share` of the glue that stays in pot and rollers.
    """

    people: int = 2
    spread_m2_min: float = 0.1
    mixing_min: float = 3.0
    lay_min: float = 0.5
    clamp_min: float = 1.0
    pot_share: float = 0.7
    clamps_at_hand: int | None = None
    clamp_from: ClampFrom = "middle"
    waste_share: float = WASTE_SHARE

    def __post_init__(self) -> None:
        if not 1 <= self.people <= MOST_PEOPLE:
            raise BadLamination(f"glue-up: {self.people} people; give 1 to {MOST_PEOPLE}.")
        for name in ("spread_m2_min", "pot_share"):
            above_zero(f"glue-up, {name}", getattr(self, name), "")
        for name in ("mixing_min", "lay_min", "clamp_min"):
            if not (math.isfinite(getattr(self, name)) and getattr(self, name) >= 0):
                raise BadLamination(f"glue-up, {name}: {getattr(self, name):g}; give minutes, 0 or more.")
        if self.pot_share > 1:
            raise BadLamination(f"glue-up, pot_share: {self.pot_share:g}; give a share up to 1.")
        if self.clamp_from not in ("middle", "heel", "head"):
            raise BadLamination(f"glue-up, clamp_from: found {self.clamp_from!r}; say middle, heel or head.")


@dataclass(frozen=True, slots=True)
class Joint:
    """One glue line, as laid: its area, the glue mixed for it, minutes to spread and lay it, and when it is laid."""

    number: int
    area_m2: float
    mass_g: float
    minutes: float
    laid_min: float


@dataclass(frozen=True, slots=True)
class Pot:
    """One batch: its mass, the joints it does (first and last, as laid), and minutes from the start."""

    number: int
    mass_g: float
    first_joint: int
    last_joint: int
    mixed_min: float
    used_by_min: float
    good_until_min: float | None


@dataclass(frozen=True, slots=True)
class Minutes:
    """A glue-up from the first mixing to the last clamp.

    `pot_life_min` is that of a pot at the day's temperature, `pot_use_min` the share of it that is used (None: one
    part, no pot), `pot_most_g` the most for one pot. `too_big`: one joint alone is more than a pot can do.
    `laid_min` and `closed_min` count from the first mixing.
    """

    joints: tuple[Joint, ...]
    pots: tuple[Pot, ...]
    pot_life_min: float | None
    pot_use_min: float | None
    pot_most_g: float
    too_big: bool
    laid_min: float
    closed_min: float

    @property
    def open_used_min(self) -> float:
        """The longest that a spread face lies open."""
        return max(joint.minutes for joint in self.joints)

    @property
    def closed_used_min(self) -> float:
        """How long the first joint waits for the last clamp."""
        return self.closed_min - self.joints[0].laid_min


def glue_up_minutes(
    areas_m2: Sequence[float], gross_g: float, clamps: int, sheet: DataSheet, warm_c: float, plan: GlueUpPlan
) -> Minutes:
    """Go through a glue-up joint by joint.

    Parameters
    ----------
    areas_m2 : sequence of float
        Of each joint, in the order they are laid [m²].
    gross_g : float
        Glue to be mixed for all of them [g].
    clamps : int
        How many are set.
    sheet, warm_c
        The glue, and the warmest of air, timber and glue [°C].
    plan : GlueUpPlan

    References
    ----------
    .. [1] docs/glue-up.md, "Time": spreading, mixing and laying one after the other, the first joint waiting longest.
    """
    pace = plan.spread_m2_min * plan.people
    each = [area * sheet["spread_faces"] / pace + plan.lay_min for area in areas_m2]
    mass = [gross_g * area / sum(areas_m2) for area in areas_m2]
    life = float(sheet.time("pot_life_min", warm_c)) if sheet.has("pot_life_min") else None
    use = math.inf if life is None else plan.pot_share * life
    most = sheet["pot_mass_g"] if sheet.has("pot_mass_g") else math.inf
    mixing = 0.0 if life is None else plan.mixing_min
    clock, joints, pots, too_big = 0.0, list[Joint](), list[Pot](), False
    while len(joints) < len(each):
        start, in_pot, first = clock, 0.0, len(joints)
        clock += mixing
        for j in range(first, len(each)):
            over = in_pot + mass[j] > most or clock + each[j] - start - mixing > use
            if over and j > first:
                break
            too_big |= over
            in_pot += mass[j]
            clock += each[j]
            joints.append(Joint(j + 1, areas_m2[j], mass[j], each[j], clock))
        good = None if life is None else start + mixing + life
        pots.append(Pot(len(pots) + 1, in_pot, first + 1, len(joints), start, clock, good))
    return Minutes(
        joints=tuple(joints),
        pots=tuple(pots),
        pot_life_min=life,
        pot_use_min=None if life is None else use,
        pot_most_g=most,
        too_big=too_big,
        laid_min=clock,
        closed_min=clock + clamps * plan.clamp_min / plan.people,
    )


def people_needed(
    areas_m2: Sequence[float],
    gross_g: float,
    clamps: int,
    sheet: DataSheet,
    warm_c: float,
    plan: GlueUpPlan,
    limit_min: float,
) -> int | None:
    """Fewest people who close it within the limit; None where even twelve do not."""
    for n in range(1, MOST_PEOPLE + 1):
        run = glue_up_minutes(areas_m2, gross_g, clamps, sheet, warm_c, replace(plan, people=n))
        if run.closed_used_min <= limit_min:
            return n
    return None
