"""The ends of one plank on its page: held against a set of rules for butts, each end beside the joints around it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scrieve import store
from scrieve.planking import BUTT_RULES, EndJoint, StrakeChoice
from scrieve.planking.butts.end_rules import OwnEnds, end_checks, end_shifts, ends_beside, ends_within
from scrieve.planking.butts.rules import DEFAULT_RULES, ButtRules
from scrieve.planking.lining.layout import unmarked_frames
from scrieve.planking.seams import strake_strip
from scrieve.sheets.figures import length
from scrieve.units import Units
from scrieve.web.addresses import lining_path, plank_path
from scrieve.web.lining.work import Side
from scrieve.web.views import View
from scrieve.wording import in_units
from scrieve.working import Check


@dataclass(frozen=True, slots=True)
class EndRow:
    """One end of the plank beside a joint of another strake, in words, with where the other leads to."""

    at: str
    beside: tuple[tuple[str, str], ...]
    where: str
    other_at: str
    spaces: str
    apart: str
    asked: str
    ok: bool


@dataclass(frozen=True, slots=True)
class EndsSight:
    """The ends of a plank as its page shows them; `lining` is the address of the side whose butts they are among."""

    rules: ButtRules
    checks: tuple[Check, ...]
    rows: tuple[EndRow, ...]
    lining: str


def ends_of(view: View, name: str, rules: str = "") -> EndsSight | None:
    """Hold the ends of a plank against a set of rules; None for one not drawn from its seams, and for a panel.

    Rules for the butts of planks do not speak of plywood. A plank made of a strake that is lined off is held against
    every joint of its side; any other against the planks that share a seam with it, and on from these. Rules not named
    are those of its side, or the usual ones.

    Raises
    ------
    ScrieveError
        It cannot be placed on the hull.
    """
    planks = view.kept.planks
    if planks[name]["kind"] != "strake" or planks[name]["choice"].get("build") == "panel":
        return None
    choices = {each: StrakeChoice.from_mapping(entry["choice"]) for each, entry in planks.items()
               if entry["kind"] == "strake"}  # fmt: skip
    side, strake = _lined(view, name)
    lining = ""
    if side is not None:
        ends, lining = _in_lining(side, strake, choices[name]), lining_path(side.hand, place="butts")
        rules = rules or side.butts.rules
    else:
        hull = view.hull_from(choices[name].hull)
        ends = ends_beside(hull, choices, name, unmarked_frames(view.kept.frames, hull.stations))
    chosen = BUTT_RULES.get(rules) or BUTT_RULES[DEFAULT_RULES]
    units = view.boat.units
    return EndsSight(chosen, in_units(end_checks(ends, chosen), units), _rows(ends, chosen, side, units), lining)


def _lined(view: View, name: str) -> tuple[Side | None, int]:
    """The side and strake that a plank was made of; none where it is lined off no more."""
    for hand, stored in store.choices(view.file.engine, "lining").items():
        for strake, names in stored.get("planks", {}).items():
            if name in names:
                side = Side(view, hand)  # type: ignore[arg-type]
                return (side, int(strake)) if 1 <= int(strake) <= side.lining.strakes else (None, 0)
    return None, 0


def _in_lining(side: Side, strake: int, choice: StrakeChoice) -> OwnEnds:
    names: dict[EndJoint, tuple[str, ...]] = {}
    for joint in side.layout.joints:
        made = side.planks.get(str(joint.strake), ())
        names[joint] = tuple(name for name in made if _ends_at(side, name, joint.x_mm))
    return ends_within(side.layout, strake, strake_strip(side.hull, choice), choice, names)


def _ends_at(side: Side, name: str, x: float) -> bool:
    entry = side.view.kept.planks[name]
    if entry["kind"] != "strake":
        return False
    strip = strake_strip(side.hull, StrakeChoice.from_mapping(entry["choice"]))
    return min(abs(strip.first_mm - x), abs(strip.last_mm - x)) < 1.0


def _rows(ends: OwnEnds, rules: ButtRules, side: Side | None, units: Units) -> tuple[EndRow, ...]:
    found = []
    for shift in end_shifts(ends, rules):
        beside: Sequence[tuple[str, str]] = [(name, plank_path(name)) for name in shift.names]
        if not beside and side is not None:
            strake = ends.strake + shift.off
            beside = [(f"strake {strake}", lining_path(side.hand, strake, "strake"))]
        far = abs(shift.off)
        where = f"{'next' if far == 1 else f'{far} strakes'} {'above' if shift.off > 0 else 'below'}"
        found.append(EndRow(shift.at, tuple(beside), where, shift.other_at, f"{shift.spaces:g}",
                            length(shift.apart_mm, units), in_units(shift.asked, units), shift.ok))  # fmt: skip
    return tuple(found)
