"""The ends of one plank held against a set of rules for butts, and against the ends of the planks beside it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from scrieve.errors import BadPlank, ScrieveError
from scrieve.planking.board import scarf_length
from scrieve.planking.butts.joints import Breach, EndJoint, ShellLayout, StrakeRun, asked_of, breaches
from scrieve.planking.butts.rules import Apart, ButtRules
from scrieve.planking.choice import StrakeChoice
from scrieve.planking.lining.layout import frames_among
from scrieve.planking.seams import Hull, Strip, run_length, strake_strip
from scrieve.wording import by_itself, joined, length, metres, tell
from scrieve.working import Check

#: Seams of one line: their shares of the girth differ by no more than this.
_SAME = 0.01
#: Planks this many strakes off are still looked for: no rule asks of joints with more solid strakes between.
_FARTHEST = 3


@dataclass(frozen=True, slots=True)
class OwnEnds:
    """The joints at the ends of one plank, within the shell as far as it is known.

    `own` are among the joints of `layout`; `names` says of which planks the others are, by their joint. `run_mm` is the
    plank's length along its middle, from `first_mm` to `last_mm`. `unplaced` names planks that do not lie on this hull.
    """

    layout: ShellLayout
    strake: int
    own: tuple[EndJoint, ...]
    first_mm: float
    last_mm: float
    run_mm: float
    names: Mapping[EndJoint, tuple[str, ...]]
    unplaced: tuple[str, ...] = ()

    @property
    def spaces(self) -> float:
        """Frame spaces that the plank runs over."""
        return self.layout.spaces_at(self.last_mm) - self.layout.spaces_at(self.first_mm)


@dataclass(frozen=True, slots=True)
class EndShift:
    """One end of a plank and a joint of another strake: how far apart they lie, and what the rules ask.

    `off` counts strakes from the plank's own, above zero upwards; `spaces` frame spaces from bay to bay, `apart_mm`
    along the boat. `names` are the planks that meet in the other joint.
    """

    at: str
    off: int
    names: tuple[str, ...]
    other_at: str
    spaces: float
    apart_mm: float
    asked: str
    ok: bool


def ends_beside(
    hull: Hull, choices: Mapping[str, StrakeChoice], name: str, unmarked: Mapping[str, float] | None = None
) -> OwnEnds:
    """Find the ends of the planks beside one, from strake to strake as they share a seam, on its own hand.

    Parameters
    ----------
    hull : Hull
    choices : mapping of name -> StrakeChoice
        Planks drawn from their seams.
    name : str
        The one that is looked at.
    unmarked : mapping of label -> station [mm], optional
        Frames without marks, which count as frames.

    Raises
    ------
    BadPlank, NoSuchFrame
        The plank cannot be placed on the hull, or fewer than two frames are known.
    """
    choice = choices[name]
    strip = strake_strip(hull, choice)
    frames = tuple(frames_among([*hull.stations.items()], [*(unmarked or {}).items()]))
    if len(frames) < 2:
        raise BadPlank(f"plank {name!r}: {len(frames)} frames are marked; spaces between frames need two.")
    strips, unplaced = {name: strip}, []
    for other, theirs in choices.items():
        if other != name and not (choice.side and theirs.side and choice.side != theirs.side):
            try:
                strips[other] = strake_strip(hull, theirs)
            except ScrieveError:
                unplaced.append(other)
    strakes, found = {name: 0}, [name]
    for one in found:  # grows while it is gone through: nearest strakes first
        for other, there in strips.items():
            if other not in strakes and (beside := _beside(strips[one], there)):
                strakes[other] = strakes[one] + beside
                if abs(strakes[other]) < _FARTHEST:
                    found.append(other)
    names: dict[EndJoint, tuple[str, ...]] = {}
    numbers = {other: 1 + _FARTHEST + off for other, off in strakes.items()}
    for other, number in numbers.items():
        if other != name:
            for joint in _joints(number, strips[other], choices[other]):
                names[joint] = (*names.get(joint, ()), other)
    reach = hull.x_range[0] - 1.0, hull.x_range[1] + 1.0
    runs = tuple(StrakeRun(number, *reach) for number in sorted(set(numbers.values())))
    bare = ShellLayout(frames, runs, tuple(names))
    return ends_within(bare, numbers[name], strip, choice, names, tuple(unplaced))


def ends_within(
    layout: ShellLayout,
    strake: int,
    strip: Strip,
    choice: StrakeChoice,
    names: Mapping[EndJoint, tuple[str, ...]],
    unplaced: tuple[str, ...] = (),
) -> OwnEnds:
    """Return the ends of a plank that lies in a strake of a shell whose other joints are known."""
    own = _joints(strake, strip, choice)
    u = np.linspace(0, 1, 241)
    run_mm = run_length(strip(u, np.full_like(u, 0.5))[0])
    others = tuple(joint for joint in layout.joints if joint.strake != strake)
    return OwnEnds(
        replace(layout, joints=own + others), strake, own, strip.first_mm, strip.last_mm, run_mm, names, unplaced
    )


def end_checks(ends: OwnEnds, rules: ButtRules) -> tuple[Check, ...]:
    """Hold the joints at the ends of a plank, and its length, against a set of rules."""
    found = [
        breach
        for breach in breaches(ends.layout, rules)
        if breach.rule != "shortest plank" and any(joint in ends.own for joint in breach.joints)
    ]
    others = len(ends.layout.joints) - len(ends.own)
    broken = joined([_told(ends, breach) for breach in found], "; ")
    unplaced = f"; not on this hull: {', '.join(ends.unplaced)}" if ends.unplaced else ""
    checks = [
        Check("Butts and scarfs", broken or "every rule kept",
              f"shift of {rules.name!r}, against {others} ends of planks beside it{unplaced}", not found, rules.source,
              rules.caution),
    ]  # fmt: skip
    if rules.shortest_spaces or rules.shortest_mm:
        ok = ends.spaces >= rules.shortest_spaces - 1e-9 and ends.run_mm >= rules.shortest_mm - 1.0
        checks.append(Check(
            "Shortest plank",
            tell("{n:.1f} frame spaces, {it}", n=ends.spaces, it=metres(ends.run_mm, 2)),
            tell("{n:g} frame spaces and {it}", n=rules.shortest_spaces, it=metres(rules.shortest_mm, 2)),
            ok, rules.source,
            "Renew to the next butt."))  # fmt: skip
    return tuple(checks)


def end_shifts(ends: OwnEnds, rules: ButtRules) -> tuple[EndShift, ...]:
    """Return, for each end of a plank, the nearest joint of every strake of which the rules speak, met or not.

    Joints further off in the same strake are left out where they keep the rules.
    """
    found: list[EndShift] = []
    layout = ends.layout
    for mine in ends.own:
        told: set[int] = set()
        others = [joint for joint in layout.joints if joint.strake != ends.strake]
        for other in sorted(others, key=lambda joint: (joint.strake, mine.clear_of(joint))):
            rule = asked_of(layout, rules, mine, other)
            if rule is None:
                continue
            spaces = abs(layout.spaces_at(mine.x_mm) - layout.spaces_at(other.x_mm))
            alone = replace(layout, joints=(mine, other))
            ok = all(other not in breach.joints for breach in breaches(alone, rules) if len(breach.joints) == 2)
            if ok and other.strake in told:
                continue
            told.add(other.strake)
            at, there = layout.where(mine.x_mm), layout.where(other.x_mm)
            found.append(EndShift(at, other.strake - ends.strake, ends.names.get(other, ()), there, spaces,
                                  mine.clear_of(other), _asked(rule), ok))  # fmt: skip
    return tuple(found)


def _asked(rule: Apart) -> str:
    parts = ["not in one bay" if rule.spaces == 1 else f"{rule.spaces:g} frame spaces"] if rule.spaces else []
    return joined([*parts, *([by_itself(length(rule.mm))] if rule.mm else [])], " and ")


def _told(ends: OwnEnds, breach: Breach) -> str:
    layout = ends.layout
    mine = next(joint for joint in breach.joints if joint in ends.own)
    where = tell("{kind}, {at}", kind=mine.kind, at=layout.where(mine.x_mm))
    beside = [joint for joint in breach.joints if joint.strake != ends.strake]
    if beside:
        side = "above" if beside[0].strake > ends.strake else "below"
        far = abs(beside[0].strake - ends.strake)
        of = f"the plank {side}" if far == 1 else f"a plank {far} strakes {side}"
        where = tell("{where}, and {kind} of {of}, {at}", where=where, kind=beside[0].kind, of=of,
                     at=layout.where(beside[0].x_mm))  # fmt: skip
    return tell("{where}: {found}; {rule}, {asked}", where=where, found=breach.found, rule=breach.rule,
                asked=breach.asked)  # fmt: skip


def _joints(strake: int, strip: Strip, choice: StrakeChoice) -> tuple[EndJoint, ...]:
    """Butts and scarfs at a plank's two ends; a hood end or a nib is none."""
    found = []
    stepped = {step.end for step in choice.steps}
    for end, kind, x in (("first", choice.ends.first, strip.first_mm), ("last", choice.ends.last, strip.last_mm)):
        if kind not in ("hood", "nib") and end not in stepped:
            ends = choice.ends
            long = scarf_length(choice.thickness_mm, ends.scarf_slope, ends.nib_mm) if kind == "scarf" else 0.0
            found.append(EndJoint(strake, x, "scarf" if kind == "scarf" else "butt", long))
    return tuple(found)


def _beside(strip: Strip, other: Strip) -> int:
    """1 where the other lies on the upper seam, -1 on the lower, 0 where it does not touch within both their runs."""
    x = np.linspace(max(strip.lower.first_mm, other.lower.first_mm), min(strip.lower.last_mm, other.lower.last_mm), 9)
    if x[-1] <= x[0]:
        return 0
    if np.all(np.abs(other.lower(x) - strip.upper(x)) < _SAME):
        return 1
    return -1 if np.all(np.abs(other.upper(x) - strip.lower(x)) < _SAME) else 0
