"""Fastenings: planking screws after Herreshoff and Nevins, and withdrawal of screws, lag screws and nails.

Wood Handbook loads are ultimate averages in side grain of seasoned wood, gravity by volume at 12 %; NDS loads are
allowable, gravity by ovendry volume. The two gravities are not to be mixed. Not design values for a hull: agree
fastenings with a surveyor or naval architect; class or flag rules come first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from scrieve.errors import BadPlank, above_zero
from scrieve.units import MM_PER_INCH

Fastener = Literal["screw", "lag", "nail"]

#: N per lbf, exact by definition of the pound and of standard gravity.
N_PER_LBF = 4.4482216152605

#: Inch forms: p [lb] = c G^a D^b L, D and L in inches.
_WOOD_HANDBOOK = {"nail": (7850.0, 2.5, 1.0), "screw": (15700.0, 2.0, 1.0), "lag": (8100.0, 1.5, 0.75)}
_NDS = {"nail": (1380.0, 2.5, 1.0), "screw": (2850.0, 2.0, 1.0), "lag": (1800.0, 1.5, 0.75)}

#: NDS: factor on a nail driven slantwise.
TOE_NAIL = 0.67

#: Thickness of plank, body hole, screw number, length [in], bung [in] as printed.
_PLANKING_SCREWS = (
    (3 / 8, 9 / 64, 6, 3 / 4, "5/16"),
    (7 / 16, 5 / 32, 7, 7 / 8, "5/16"),
    (1 / 2, 11 / 64, 8, 1.0, "3/8"),
    (9 / 16, 3 / 16, 9, 1 + 1 / 8, "3/8"),
    (5 / 8, 3 / 16, 10, 1 + 1 / 4, "7/16"),
    (3 / 4, 7 / 32, 12, 1 + 1 / 2, "7/16"),
    (7 / 8, 1 / 4, 14, 1 + 3 / 4, "1/2"),
    (1.0, 17 / 64, 16, 2.0, "9/16"),
    (1 + 1 / 8, 19 / 64, 18, 2 + 1 / 4, "5/8"),
    (1 + 1 / 4, 5 / 16, 20, 2 + 1 / 2, "11/16"),
    (1 + 1 / 2, 11 / 32, 22, 2 + 3 / 4, "11/16 or 3/4"),
    (1 + 3 / 4, 3 / 8, 24, 3.0, "3/4 or 13/16"),
    (2.0, 13 / 32, 26, 3 + 1 / 2, "13/16"),
)


@dataclass(frozen=True, slots=True)
class PlankingScrew:
    """The screw for planking of one thickness; `bung_in` as printed [in], the rest in mm."""

    thickness_mm: float
    number: int
    length_mm: float
    body_hole_mm: float
    bung_in: str
    source: str = "screw sizes after the Herreshoff and Nevins rules"


def planking_screw(thickness_mm: float) -> PlankingScrew:
    """Return the row of the table for planking of this thickness: the nearest thickness printed.

    Raises
    ------
    BadPlank
        The thickness is more than a sixteenth of an inch outside the table (3/8 to 2 in).

    Examples
    --------
    >>> planking_screw(25.4).number, planking_screw(25.4).length_mm
    (16, 50.8)
    """
    inches = float(above_zero("thickness of planking", thickness_mm, "mm", BadPlank)) / MM_PER_INCH
    if not 3 / 8 - 1 / 16 <= inches <= 2 + 1 / 16:
        raise BadPlank(f"planking {thickness_mm:g} mm thick: the screw table runs from 9.5 to 50.8 mm.")
    thickness, hole, number, length, bung = min(_PLANKING_SCREWS, key=lambda row: abs(row[0] - inches))
    return PlankingScrew(thickness * MM_PER_INCH, number, length * MM_PER_INCH, hole * MM_PER_INCH, bung)


def withdrawal_ultimate_n(fastener: Fastener, diameter_mm: float, gravity_12: float, thread_mm: float) -> float:
    """Ultimate withdrawal from the side grain of seasoned wood, average of tests [N].

    Parameters
    ----------
    fastener : 'screw', 'lag' or 'nail'
    diameter_mm, thread_mm : float
        Shank diameter; length of thread (nail: of shank) in the member that holds the point [mm].
    gravity_12 : float
        Ovendry mass over volume at 12 % moisture content [-].

    Raises
    ------
    BadPlank
        A value is not above zero or the fastener is not known.

    References
    ----------
    .. [1] Wood Handbook eq. 8-1, 8-10, 8-14: 7850 G^2.5 D L, 15700 G² D L, 8100 G^1.5 D^0.75 L (lb, in).

    Examples
    --------
    >>> round(withdrawal_ultimate_n("screw", 5, 0.68, 30))
    7508
    """
    return _withdrawal(_WOOD_HANDBOOK, fastener, diameter_mm, gravity_12, thread_mm)


def withdrawal_allowable_n(
    fastener: Fastener, diameter_mm: float, gravity_ovendry: float, thread_mm: float, *, toe_nailed: bool = False
) -> float:
    """Allowable withdrawal from side grain, dry, normal load duration [N].

    `gravity_ovendry` is ovendry mass over ovendry volume. Not for end grain (a lag screw there: × 0.75).

    Raises
    ------
    BadPlank
        A value is not above zero, the fastener is not known, or something other than a nail is toe-nailed.

    References
    ----------
    .. [1] NDS 2018, 12.2.1 to 12.2.3: 1380 G^2.5 D, 2850 G² D, 1800 G^1.5 D^0.75 (lb per inch of penetration).

    Examples
    --------
    >>> round(withdrawal_allowable_n("screw", 0.19 * 25.4, 0.5, 25.4) / N_PER_LBF, 1)
    135.4
    """
    if toe_nailed and fastener != "nail":
        raise BadPlank(f"toe-nailed: found a {fastener}; only nails are driven slantwise.")
    return _withdrawal(_NDS, fastener, diameter_mm, gravity_ovendry, thread_mm) * (TOE_NAIL if toe_nailed else 1.0)


def _withdrawal(
    table: dict[str, tuple[float, float, float]], fastener: str, diameter: float, gravity: float, thread: float
) -> float:
    if fastener not in table:
        raise BadPlank(f"fastener {fastener!r} is not known; give one of {', '.join(table)}.")
    given = np.array([diameter, thread]) / MM_PER_INCH
    above_zero("diameter and length", given, "in", BadPlank)
    g = float(above_zero("gravity", gravity, "(no unit)", BadPlank))
    c, power_g, power_d = table[fastener]
    return float(c * g**power_g * given[0] ** power_d * given[1] * N_PER_LBF)


@dataclass(frozen=True, slots=True)
class CountRule:
    """How many fastenings hold a plank at each frame, by its width.

    `steps` pairs a width [mm] with the counts at one frame and at the next: they hold for planks wider than it (from
    it on, where `from_on`). The widest step that a plank passes rules.
    """

    name: str
    source: str
    steps: tuple[tuple[float, int, int], ...]
    from_on: bool = False
    caution: str = ""

    def at(self, width_mm: float) -> tuple[int, int]:
        """Fastenings of a plank of this width at one frame and at the next.

        Examples
        --------
        >>> count_rule("wooden ships, 1891").at(9 * 25.4)
        (2, 1)
        """
        width = float(above_zero("width of plank", width_mm, "mm", BadPlank))
        passed = [step for step in self.steps if width > step[0] or (self.from_on and width >= step[0] > 0)]
        return max(passed)[1:]


_SHIPS = "Written for treenails and bolts of ships, not for screws in light planking."

COUNT_RULES: dict[str, CountRule] = {
    rule.name: rule
    for rule in (
        CountRule("two, three in wide planks", "common practice, no source: three over about 7-8 in",
                  ((0.0, 2, 2), (7.5 * MM_PER_INCH, 3, 3)), caution="Stagger them: no two in one line of grain."),
        CountRule("wooden ships, 1855", "classification rules for fastening as printed 1855: over 12 in double, over "
                  "9 in double and single, else single",
                  ((0.0, 1, 1), (9 * MM_PER_INCH, 2, 1), (12 * MM_PER_INCH, 2, 2)), caution=_SHIPS),
        CountRule("wooden ships, 1891", "classification rules for wooden ships, 1891, section 46: over 11 in double, "
                  "over 8 in double and single, else single",
                  ((0.0, 1, 1), (8 * MM_PER_INCH, 2, 1), (11 * MM_PER_INCH, 2, 2)), caution=_SHIPS),
        CountRule("composite ships, 1891", "classification rules for composite ships, 1891: from 10 in double, from "
                  "8-1/2 in alternate, under that single",
                  ((0.0, 1, 1), (8.5 * MM_PER_INCH, 2, 1), (10 * MM_PER_INCH, 2, 2)), from_on=True, caution=_SHIPS),
    )
}  # fmt: skip


def count_rule(name: str) -> CountRule:
    """Look a rule up by its name.

    Raises
    ------
    BadPlank
        No rule is called so.
    """
    try:
        return COUNT_RULES[name]
    except KeyError:
        raise BadPlank(f"fastenings: the rule {name!r} is not known; known are {'; '.join(COUNT_RULES)}.") from None


#: Root of a wood screw's thread over its shank (Wood Handbook, chapter 8: about two thirds).
ROOT_SHARE = 2 / 3
#: Pilot in the thread's part over the root diameter. Not verified: another printed page gives 70 % for hardwood too.
PILOT_SHARE: dict[str, float] = {"softwood": 0.70, "hardwood": 0.90}
PILOT_SOURCE = (
    "shop default, from memory: 70 % of the root diameter in softwood, 90 % in hardwood (70 % by another page); root "
    "about 2/3 of the shank (Wood Handbook, chapter 8); try it in an off-cut"
)


def pilot_hole(screw: PlankingScrew, group: str) -> float:
    """Hole for the thread in the frame [mm]; the shank is taken as the printed body hole.

    Raises
    ------
    BadPlank
        The group is neither 'softwood' nor 'hardwood'.

    Examples
    --------
    >>> round(pilot_hole(planking_screw(25.4), "hardwood"), 2)
    4.05
    """
    if group not in PILOT_SHARE:
        raise BadPlank(f"pilot hole: found {group!r}; say softwood or hardwood.")
    return screw.body_hole_mm * ROOT_SHARE * PILOT_SHARE[group]
