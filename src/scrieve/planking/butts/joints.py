"""End joints of planks over the whole shell, and every breach of the chosen rules."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadPlank
from scrieve.planking.butts.rules import Apart, ButtRules
from scrieve.planking.lining.choice import known
from scrieve.wording import by_itself, length, tell

Array = NDArray[np.float64]
JointKind = Literal["butt", "scarf"]

#: Distances that miss a rule by less than this keep it: half of the last eighth of an inch that is read [mm].
KEPT_MM = 1.0


@dataclass(frozen=True, slots=True)
class EndJoint:
    """A joint of two planks of one strake (from 1, the garboard) at a station [mm]: of a scarf, its middle.

    `length_mm` is the length of a scarf along the plank; distances are told from the nearer end of it.
    """

    strake: int
    x_mm: float
    kind: JointKind = "butt"
    length_mm: float = 0.0

    def clear_of(self, other: EndJoint) -> float:
        """Distance along the boat between two joints, from end to end of scarfs [mm]; 0 where they overlap."""
        return max(abs(self.x_mm - other.x_mm) - (self.length_mm + other.length_mm) / 2, 0.0)


@dataclass(frozen=True, slots=True)
class StrakeRun:
    """Where a strake runs, from one hood end or nib to the other; lengths in mm.

    `along_mm` pairs stations with the true length along the strake from its first end, for the lengths of planks;
    without it lengths are taken along the boat, which is a little short at the ends. `renew` is False where its planks
    stay, with the joints they have.
    """

    number: int
    first_mm: float
    last_mm: float
    name: str = ""
    along_mm: tuple[tuple[float, float], ...] = ()
    renew: bool = True

    def length_to(self, x: float) -> float:
        """Length along the strake from its first end [mm]."""
        if not self.along_mm:
            return x - self.first_mm
        at, length = zip(*self.along_mm, strict=True)
        return float(np.interp(x, at, length))


@dataclass(frozen=True, slots=True)
class ShellLayout:
    """The strakes of one side, its frames and its joints; plain values that can be kept as JSON.

    `frames` pairs labels with stations in order [mm]; `opposite_mm` are stations of the other garboard's joints,
    `keel_scarfs_mm` of the middles of the keel's scarfs.
    """

    frames: tuple[tuple[str, float], ...]
    strakes: tuple[StrakeRun, ...]
    joints: tuple[EndJoint, ...] = ()
    opposite_mm: tuple[float, ...] = ()
    keel_scarfs_mm: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        x = [station for _, station in self.frames]
        if len(x) < 2 or any(after <= before for before, after in pairwise(x)):
            raise BadPlank(f"butts: {len(x)} frames, stations {x[:4]}; give two or more in order.")
        numbers = [run.number for run in self.strakes]
        if numbers != sorted(set(numbers)) or not numbers:
            raise BadPlank(f"butts: strakes are numbered {numbers}; give each once, from below.")
        for run in self.strakes:
            if run.last_mm <= run.first_mm:
                raise BadPlank(f"butts, strake {run.number}: it runs from {run.first_mm:.0f} to {run.last_mm:.0f} mm; "
                               "give ends that lie apart, forward first.")  # fmt: skip
        for joint in self.joints:
            run = self.run(joint.strake)
            if not run.first_mm < joint.x_mm < run.last_mm:
                raise BadPlank(f"butts, strake {joint.strake}: a {joint.kind} at {self.where(joint.x_mm)}, beyond the "
                               "strake's end; check its station.")  # fmt: skip

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any]) -> ShellLayout:
        """Read a layout from plain values such as `dataclasses.asdict` gives; raise BadPlank for what is not one."""
        values = known(cls, given)
        runs = [known(StrakeRun, row) for row in values["strakes"]]
        for run in runs:
            run["along_mm"] = tuple((float(x), float(s)) for x, s in run.get("along_mm", ()))
        values["frames"] = tuple((str(label), float(x)) for label, x in values["frames"])
        values["strakes"] = tuple(StrakeRun(**run) for run in runs)
        values["joints"] = tuple(EndJoint(**known(EndJoint, row)) for row in values.get("joints", ()))
        for name in ("opposite_mm", "keel_scarfs_mm"):
            values[name] = tuple(float(x) for x in values.get(name, ()))
        return cls(**values)

    def run(self, number: int) -> StrakeRun:
        """The strake of that number.

        Raises
        ------
        BadPlank
            There is none.
        """
        for run in self.strakes:
            if run.number == number:
                return run
        raise BadPlank(f"butts: strake {number} is not in this shell, which has {len(self.strakes)} strakes.")

    def spaces_at(self, x: float) -> float:
        """Where a joint stands, counted in frame spaces: a whole number on a frame, and a half in a bay."""
        stations = np.array([station for _, station in self.frames])
        near = int(np.argmin(np.abs(stations - x)))
        if abs(stations[near] - x) < 0.5:
            return float(near)
        if x < stations[0]:
            return float((x - stations[0]) / (stations[1] - stations[0]))
        if x > stations[-1]:
            return float(len(stations) - 1 + (x - stations[-1]) / (stations[-1] - stations[-2]))
        return float(np.searchsorted(stations, x)) - 0.5

    def where(self, x: float) -> str:
        """Say where a station is: its frame, its bay, or past the end frames."""
        at = self.spaces_at(x)
        labels = [label for label, _ in self.frames]
        if at == int(at):
            return f"frame {labels[int(at)]}" if 0 <= at < len(labels) else tell("station {x}", x=length(x))
        if at < 0 or at > len(labels) - 1:
            past = f"{'before' if at < 0 else 'after'} frame {labels[0 if at < 0 else -1]}"
            return tell("station {x}, {past}", x=length(x), past=past)
        return f"bay {labels[int(at)]}-{labels[int(at) + 1]}"

    def between(self, one: EndJoint, other: EndJoint) -> int:
        """Solid strakes between two joints: those that run past both."""
        low, high = sorted((one.strake, other.strake))
        span = sorted((one.x_mm, other.x_mm))
        return sum(
            low < run.number < high and run.first_mm <= span[0] and run.last_mm >= span[1] for run in self.strakes
        )


@dataclass(frozen=True, slots=True)
class Breach:
    """One breach: which rule of which set, of which joints or plank (`at`), what was found and what is asked."""

    rule: str
    joints: tuple[EndJoint, ...]
    found: str
    asked: str
    source: str
    text: str
    at: str


def breaches(layout: ShellLayout, rules: ButtRules) -> tuple[Breach, ...]:
    """Every breach of a set of rules in a layout, joint by joint and plank by plank."""
    return (*_pairs(layout, rules), *_lengths(layout, rules), *_garboards(layout, rules), *_frames(layout, rules))


def asked_of(layout: ShellLayout, rules: ButtRules, one: EndJoint, other: EndJoint) -> Apart | None:
    """Return what a set of rules asks between two joints; None in one strake, and where it asks nothing."""
    if one.strake == other.strake:
        return None
    return rules.asked(layout.between(one, other), scarfs=one.kind == other.kind == "scarf")


def _pairs(layout: ShellLayout, rules: ButtRules) -> Iterator[Breach]:
    for one, other in combinations(sorted(layout.joints, key=lambda joint: (joint.strake, joint.x_mm)), 2):
        rule = asked_of(layout, rules, one, other)
        if rule is None:
            continue
        spaces = abs(layout.spaces_at(one.x_mm) - layout.spaces_at(other.x_mm))
        apart = one.clear_of(other)
        at = tell("strakes {one} and {other}, {here} and {there}", one=one.strake, other=other.strake,
                  here=layout.where(one.x_mm), there=layout.where(other.x_mm))  # fmt: skip
        if rule.spaces and spaces < rule.spaces - 1e-9:
            same = rule.spaces == 1
            limit = "not in one bay" if same else f"{rule.spaces:g} frame spaces"
            found = "in one bay" if same and spaces == 0 else f"{spaces:g} frame space{'' if spaces == 1 else 's'}"
            yield _breach(rules, rule.strakes, (one, other), found, limit, at)
        if rule.mm and apart < rule.mm - KEPT_MM:
            yield _breach(rules, rule.strakes, (one, other), _told(apart), _told(rule.mm), at)


def _lengths(layout: ShellLayout, rules: ButtRules) -> Iterator[Breach]:
    for run in layout.strakes:
        joints = sorted((joint for joint in layout.joints if joint.strake == run.number), key=lambda joint: joint.x_mm)
        ends = [run.first_mm, *(joint.x_mm for joint in joints), run.last_mm]
        for number, (first, last) in enumerate(pairwise(ends)):
            run_mm = run.length_to(last) - run.length_to(first)
            spaces = layout.spaces_at(last) - layout.spaces_at(first)
            its = tuple(joints[max(0, number - 1) : number + 1])
            at = tell(
                "strake {it}, {here} to {there}", it=run.number, here=layout.where(first), there=layout.where(last)
            )
            if not its:
                continue  # a strake in one length is as long as it can be
            if rules.shortest_spaces and spaces < rules.shortest_spaces - 1e-9:
                limit = f"{rules.shortest_spaces:g} frame spaces"
                yield _breach(rules, "shortest plank", its, f"{round(spaces, 1):g} frame spaces", limit, at)
            if rules.shortest_mm and run_mm < rules.shortest_mm - KEPT_MM:
                yield _breach(rules, "shortest plank", its, _told(run_mm), _told(rules.shortest_mm), at)


def _garboards(layout: ShellLayout, rules: ButtRules) -> Iterator[Breach]:
    if not rules.garboard_mm:
        return
    lowest = layout.strakes[0].number
    others = [("the opposite garboard's joint", x) for x in layout.opposite_mm]
    others += [("a scarf of the keel", x) for x in layout.keel_scarfs_mm]
    for joint in (joint for joint in layout.joints if joint.strake == lowest):
        for what, x in others:
            off = max(abs(joint.x_mm - x) - joint.length_mm / 2, 0.0)
            if off < rules.garboard_mm - KEPT_MM:
                at = tell("garboard, {here}, and {what} at {there}", here=layout.where(joint.x_mm), what=what,
                          there=layout.where(x))  # fmt: skip
                found = _told(off)
                yield _breach(rules, "garboards", (joint,), found, _told(rules.garboard_mm), at)


def _frames(layout: ShellLayout, rules: ButtRules) -> Iterator[Breach]:
    if rules.on_frames:
        return
    for joint in (joint for joint in layout.joints if joint.kind == "butt"):
        label, station = min(layout.frames, key=lambda frame: abs(frame[1] - joint.x_mm))
        off = abs(station - joint.x_mm)
        if off < rules.clear_mm - 1e-9:
            at = f"strake {joint.strake}, frame {label}"
            asked = tell("{clear} clear", clear=length(rules.clear_mm))
            yield _breach(rules, "between frames", (joint,), _told(off), asked, at)


def _breach(rules: ButtRules, rule: str, joints: tuple[EndJoint, ...], found: str, asked: str, at: str) -> Breach:
    text = tell("{at}: {found}; {rule}, {asked} ({name}).", at=at, found=found, rule=rule, asked=asked, name=rules.name)
    return Breach(rule, joints, found, asked, rules.source, text, at)


def _told(mm: float) -> str:
    return by_itself(length(mm))
