"""Scarfs: slopes by named rule, and the length that each adds."""

from __future__ import annotations

from dataclasses import dataclass

from scrieve.errors import BadPlank, above_zero
from scrieve.wording import by_itself, length, small
from scrieve.working import Working


@dataclass(frozen=True, slots=True)
class ScarfRule:
    """A slope for scarfs: length over thickness, the share of the thickness squared off as a nib, and whose rule."""

    name: str
    slope: float
    nib: float
    source: str
    caution: str = ""


_DISPUTED = "Slopes are disputed; agree those of structure with a surveyor or naval architect."

#: Rules to choose from; the first is the default for solid plank.
SCARF_RULES: dict[str, ScarfRule] = {
    rule.name: rule
    for rule in (
        ScarfRule("glued, solid plank", 12, 0.0, "Wood Handbook (FPL-GTR-190) p. 10-17: 1 in 12 or flatter strongest",
                  _DISPUTED),
        ScarfRule("glued, plywood and light plank", 8, 0.0, "8 : 1 as shown for plywood by a maker of epoxy and a "
                  "builder's page (9.5 mm with 80 mm of scarf)", _DISPUTED),
        ScarfRule("clinker, with nib", 6, 1 / 6, "rule of thumb for clinker boats: 6 : 1, nib 1/16 in on 3/8 in",
                  _DISPUTED),
        ScarfRule("hardwood member, no bolts", 6, 0.0, "Tredgold's rules for scarfs: 6 times the depth",
                  f"For timbers of structure, not planks. {_DISPUTED}"),
        ScarfRule("fir member, no bolts", 12, 0.0, "Tredgold's rules for scarfs: 12 times the depth",
                  f"For timbers of structure, not planks. {_DISPUTED}"),
        ScarfRule("hardwood member, bolted", 3, 0.0, "Tredgold's rules for scarfs: 3 times the depth",
                  f"For timbers of structure, not planks. {_DISPUTED}"),
        ScarfRule("fir member, bolted", 6, 0.0, "Tredgold's rules for scarfs: 6 times the depth",
                  f"For timbers of structure, not planks. {_DISPUTED}"),
        ScarfRule("keel and hog", 5, 0.0, "Fiji, maritime (ship construction) regulations 5.7: at least 5 times the "
                  "moulded depth", f"Keel scarfs lie five frame spaces clear of those of hog and keelson. {_DISPUTED}"),
    )
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Scarf:
    """A scarf: its length along the plank, the nib, and its working; lengths in mm."""

    rule: ScarfRule
    length_mm: float
    nib_mm: float
    working: Working

    @property
    def added_mm(self) -> float:
        """Length that each of the two planks is longer than to the middle of the scarf."""
        return self.length_mm / 2


def scarf(thickness_mm: float, rule: str | ScarfRule = "glued, solid plank") -> Scarf:
    """The scarf of a plank of this thickness, or of a member of this depth.

    A scarf of slope n in thickness t with nibs of c is (t − 2c)·n long; nibs shorten it (without any, t·n).

    Raises
    ------
    BadPlank
        The rule is not known, the thickness not above zero, or the slope under 1.

    Examples
    --------
    >>> round(scarf(25.4).length_mm / 25.4, 6), round(scarf(9.525, "clinker, with nib").nib_mm / 25.4, 6)
    (12.0, 0.0625)
    """
    if isinstance(rule, str):
        if rule not in SCARF_RULES:
            raise BadPlank(f"scarf rule {rule!r} is not known; known are {'; '.join(SCARF_RULES)}.")
        rule = SCARF_RULES[rule]
    t = float(above_zero("thickness", thickness_mm, "mm", BadPlank))
    if not (1 <= rule.slope <= 40 and 0 <= rule.nib < 0.5):
        raise BadPlank(f"scarf {rule.name!r}: slope {rule.slope:g}, nib {rule.nib:g} of the thickness; give a slope of "
                       "1 to 40 and a nib under half.")  # fmt: skip
    nib = rule.nib * t
    run = (t - 2 * nib) * rule.slope
    return Scarf(rule, run, nib, Working(
        "Scarf", by_itself(length(run)), "(thickness − 2 × nib) × slope",
        (("thickness", by_itself(small(t, None))), ("nib", by_itself(small(nib))),
         ("slope", f"{rule.slope:g} : 1")),
        rule.source, rule.caution,
    ))  # fmt: skip
