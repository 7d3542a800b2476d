"""The ends of one plank held against a set of rules for butts, and against the ends of the planks beside it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from scrieve.errors import BadPlank
from scrieve.planking.board import scarf_length
from scrieve.planking.butts import Breach, EndJoint, ShellLayout, StrakeRun, breaches
from scrieve.planking.butts_rules import ButtRules
from scrieve.planking.choice import StrakeChoice
from scrieve.planking.seams import Hull, Strip, run_length, strake_strip
from scrieve.working import Check

#: Seams of one line: their shares of the girth differ by no more than this.
_SAME = 0.01


def end_checks(hull: Hull, choices: Mapping[str, StrakeChoice], name: str, rules: ButtRules) -> tuple[Check, ...]:
    """Hold the joints at the ends of a plank against a set of rules.

    Planks that share a seam with it, on its own hand, are the strakes above and below; no others are looked at.
    The shift across strakes that are not among the planks is for the side's lining.

    Parameters
    ----------
    hull : Hull
    choices : mapping of name -> StrakeChoice
        Planks drawn from their seams.
    name : str
        The one that is judged.
    rules : ButtRules

    Raises
    ------
    BadPlank, NoSuchFrame
        A plank cannot be placed on the hull.
    """
    choice = choices[name]
    strip = strake_strip(hull, choice)
    frames = tuple(sorted(hull.stations.items(), key=lambda item: item[1]))
    if len(frames) < 2:
        raise BadPlank(f"plank {name!r}: {len(frames)} frames are marked; spaces between frames need two.")
    middle = _joints(2, strip, choice)
    runs = [StrakeRun(2, *_reach(hull))]
    others: list[EndJoint] = []
    for other, theirs in choices.items():
        if other == name or (choice.side and theirs.side and choice.side != theirs.side):
            continue
        beside = strake_strip(hull, theirs)
        where = _beside(strip, beside)
        if where:
            others += _joints(2 + where, beside, theirs)
    runs += [StrakeRun(number, *_reach(hull)) for number in {joint.strake for joint in others}]
    runs.sort(key=lambda run: run.number)
    layout = ShellLayout(frames, tuple(runs), tuple(middle + others))
    found = [
        breach
        for breach in breaches(layout, rules)
        if breach.rule != "shortest plank" and any(joint in middle for joint in breach.joints)
    ]
    spaces = layout.spaces_at(strip.last_mm) - layout.spaces_at(strip.first_mm)
    u = np.linspace(0, 1, 241)
    run_mm = run_length(strip(u, np.full_like(u, 0.5))[0])
    broken = "; ".join(_told(layout, breach) for breach in found)
    checks = [
        Check("Butts and scarfs", broken or "every rule kept",
              f"shift of {rules.name!r}, against {len(others)} ends of planks beside it", not found, rules.source,
              rules.caution),
    ]  # fmt: skip
    if rules.shortest_spaces or rules.shortest_mm:
        ok = spaces >= rules.shortest_spaces - 1e-9 and run_mm >= rules.shortest_mm - 1.0
        checks.append(Check(
            "Shortest plank", f"{spaces:.1f} frame spaces, {run_mm / 1000:.2f} m",
            f"{rules.shortest_spaces:g} frame spaces and {rules.shortest_mm / 1000:.2f} m", ok, rules.source,
            "Renew to the next butt."))  # fmt: skip
    return tuple(checks)


def _told(layout: ShellLayout, breach: Breach) -> str:
    mine = next(joint for joint in breach.joints if joint.strake == 2)
    where = f"{mine.kind}, {layout.where(mine.x_mm)}"
    beside = [joint for joint in breach.joints if joint.strake != 2]
    if beside:
        side = "above" if beside[0].strake == 3 else "below"
        where += f", and {beside[0].kind} of the plank {side}, {layout.where(beside[0].x_mm)}"
    return f"{where}: {breach.found}; {breach.rule}, {breach.asked}"


def _joints(strake: int, strip: Strip, choice: StrakeChoice) -> list[EndJoint]:
    """Butts and scarfs at a plank's two ends; a hood end is none."""
    found = []
    for kind, x in ((choice.ends.first, strip.first_mm), (choice.ends.last, strip.last_mm)):
        if kind != "hood":
            long = scarf_length(choice.thickness_mm, choice.ends.scarf_slope) if kind == "scarf" else 0.0
            found.append(EndJoint(strake, x, "scarf" if kind == "scarf" else "butt", long))
    return found


def _beside(strip: Strip, other: Strip) -> int:
    """1 where the other lies on the upper seam, -1 on the lower, 0 where it does not touch within both their runs."""
    x = np.linspace(max(strip.lower.first_mm, other.lower.first_mm), min(strip.lower.last_mm, other.lower.last_mm), 9)
    if x[-1] <= x[0]:
        return 0
    if np.all(np.abs(other.lower(x) - strip.upper(x)) < _SAME):
        return 1
    return -1 if np.all(np.abs(other.upper(x) - strip.lower(x)) < _SAME) else 0


def _reach(hull: Hull) -> tuple[float, float]:
    return hull.x_range[0] - 1.0, hull.x_range[1] + 1.0
