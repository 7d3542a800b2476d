"""What is kept of the jig between sessions: the bed, how it stands now, the work at the bench, and the plan chosen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from scrieve.errors import BadJig
from scrieve.frames.design import FrameDesign
from scrieve.frames.jig.bed import HELD_MM, JigBed
from scrieve.frames.jig.poses import Plan
from scrieve.frames.jig.poses_curve import Pose
from scrieve.frames.jig.setting import Change, ChangeList, JigSetting, Stand, changes
from scrieve.frames.jig.setting_on_bed import blocks_for, set_on_bed
from scrieve.frames.jig.setting_workings import block_words, plan_workings, setting_limits, setting_workings
from scrieve.frames.packet.designed import bent_of
from scrieve.frames.packet.lying import Lie
from scrieve.frames.parts import Bracket, Jig
from scrieve.revision import revision
from scrieve.units import Units
from scrieve.working import Check, Working

#: The packet's curves are computed at steps of 1 mm and drawn at every fourth.
_THIN = 4
#: Two places of extra brackets nearer than this are one [mm].
_SAME_PLACE_MM = 1.0


@dataclass(frozen=True, slots=True)
class Planned:
    """One frame's turn in a plan that is kept; `revision` is that of the design it was planned from."""

    frame: str
    revision: str
    pose: Pose
    setting: JigSetting
    moved: tuple[int, ...]
    kept: tuple[int, ...]
    travel_mm: float
    minutes: float
    departure_mm: float


@dataclass(frozen=True, slots=True)
class PlanKept:
    """The order chosen: its turns, its minutes and those as numbered, the bound (None: not stated), and for which bed.

    `before` is how the jig stood when it was worked out, None where that was not known.
    A turn holds for the bed and the revision of the frame it was planned with; see `turn`.
    """

    turns: tuple[Planned, ...]
    minutes: float
    naive_minutes: float
    bound_minutes: float | None
    stopped: bool
    bed: JigBed
    before: JigSetting | None = None

    @classmethod
    def of(cls, plan: Plan, revisions: Mapping[str, str]) -> PlanKept:
        """What is to be kept of a plan, with the revision of each frame."""
        turns = tuple(
            Planned(
                each.frame,
                revisions[each.frame],
                each.pose,
                each.setting,
                each.moved,
                each.kept,
                each.travel_mm,
                each.minutes,
                each.departure_mm,
            )
            for each in plan.setups
        )
        return cls(turns, plan.minutes, plan.naive_minutes, plan.bound_minutes, plan.stopped, plan.bed, plan.before)

    @property
    def order(self) -> tuple[str, ...]:
        """Labels in the order of gluing."""
        return tuple(each.frame for each in self.turns)

    @property
    def saving(self) -> float:
        """Share of the setting time as numbered that is saved."""
        return 1 - self.minutes / self.naive_minutes if self.naive_minutes else 0.0

    @property
    def workings(self) -> tuple[Working, ...]:
        """How the setting time came about, and what it saves."""
        return plan_workings(self.turns, self.minutes, self.naive_minutes, self.bound_minutes, self.bed)

    def turn(self, frame: str, frame_revision: str, bed: JigBed) -> Planned | None:
        """The turn of a frame; None where there is none, or the frame or the bed has changed since."""
        if bed != self.bed:
            return None
        return next((each for each in self.turns if (each.frame, each.revision) == (frame, frame_revision)), None)

    def to_mapping(self) -> dict[str, Any]:
        """Return the plan as plain values, fit for JSON."""
        return {
            "turns": [
                {
                    "frame": each.frame,
                    "revision": each.revision,
                    "pose": [each.pose.along_mm, each.pose.across_mm, each.pose.turn_rad],
                    "setting": each.setting.to_mapping(),
                    "moved": list(each.moved),
                    "kept": list(each.kept),
                    "travel_mm": each.travel_mm,
                    "minutes": each.minutes,
                    "departure_mm": each.departure_mm,
                }
                for each in self.turns
            ],
            "minutes": self.minutes,
            "naive_minutes": self.naive_minutes,
            "bound_minutes": self.bound_minutes,
            "stopped": self.stopped,
            "bed": self.bed.to_mapping(),
            "before": None if self.before is None else self.before.to_mapping(),
        }

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any]) -> PlanKept:
        """Read a plan as `to_mapping` gives it.

        Raises
        ------
        BadJig
            It cannot be read.
        """
        try:
            turns = tuple(
                Planned(
                    str(each["frame"]),
                    str(each["revision"]),
                    Pose(*(float(value) for value in each["pose"])),
                    JigSetting.from_mapping(each["setting"]),
                    tuple(int(rail) for rail in each["moved"]),
                    tuple(int(rail) for rail in each["kept"]),
                    float(each["travel_mm"]),
                    float(each["minutes"]),
                    float(each["departure_mm"]),
                )
                for each in given["turns"]
            )
            bound, before = given["bound_minutes"], given.get("before")
            return cls(
                turns,
                float(given["minutes"]),
                float(given["naive_minutes"]),
                None if bound is None else float(bound),
                bool(given["stopped"]),
                JigBed.from_mapping(given["bed"]),
                None if before is None else JigSetting.from_mapping(before),
            )
        except (KeyError, TypeError, ValueError) as error:
            raise BadJig(f"the order that was kept cannot be read ({error!r}); work it out again.") from error


@dataclass(frozen=True, slots=True)
class Bench:
    """The work under way: the frame whose brackets are being set, which setting of it, and the brackets ticked."""

    frame: str = ""
    of: str = ""
    ticked: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class JigKept:
    """Everything kept of the jig. `bed` is None until it has been described, `setting` until brackets are known."""

    bed: JigBed | None = None
    setting: JigSetting | None = None
    bench: Bench = field(default_factory=Bench)
    plan: PlanKept | None = None

    @classmethod
    def of(cls, choices: Mapping[str, Mapping[str, Any]]) -> JigKept:
        """Read what the store holds under 'jig': 'bed', 'setting' and 'plan', each where there is one.

        Raises
        ------
        BadJig
            One of them cannot be read.
        """
        bed, setting, plan = (choices.get(name) for name in ("bed", "setting", "plan"))
        work = (setting or {}).get("bench") or {}
        return cls(
            None if bed is None else JigBed.from_mapping(bed),
            None if setting is None else JigSetting.from_mapping(setting),
            Bench(str(work.get("frame", "")), str(work.get("of", "")), tuple(int(n) for n in work.get("ticked", ()))),
            None if plan is None else PlanKept.from_mapping(plan),
        )

    def setting_mapping(self) -> dict[str, Any]:
        """The setting with the work at the bench, as it is stored under 'setting'."""
        work = {"frame": self.bench.frame, "of": self.bench.of, "ticked": list(self.bench.ticked)}
        return (self.setting or JigSetting()).to_mapping() | {"bench": work}


@dataclass(frozen=True, slots=True, eq=False)
class FrameOnBed:
    """One designed frame set on the bed: its jig, the packet's true shape on it, and what to change from now.

    `turn` is its turn in the plan that is kept, None where it lies by its chord on the datum line. `key` names this
    setting: another design or another bed gives another. Where no bracket can be clamped between rails and those on
    them do not hold the packet, `blocks` between them would, and `blocked_mm` is its departure then.
    """

    design: FrameDesign
    jig: Jig
    lie: Lie
    change: ChangeList
    turn: Planned | None
    bed: JigBed
    key: str
    blocks: tuple[Bracket, ...] = ()
    blocked_mm: float | None = None

    @property
    def limits(self) -> tuple[Check, ...]:
        """What the setting takes of the jig, held against what the jig has, and the packet's departure on it."""
        return setting_limits(self.jig, self.lie, self.bed, block_words(self.blocks, self.blocked_mm, self.bed))

    @property
    def workings(self) -> tuple[Working, ...]:
        """How travel, departure and minutes came about."""
        return setting_workings(self.jig, self.lie, self.change, self.bed)

    def ticked(self, kept: JigKept) -> tuple[int, ...]:
        """Numbers of the brackets ticked at the bench for just this setting, and standing so still."""
        if (kept.bench.frame, kept.bench.of) != (self.design.choice.frame, self.key):
            return ()
        return kept.bench.ticked

    def tick(self, kept: JigKept, number: int) -> JigKept:
        """What is kept once one bracket has been set and ticked: it stands in the present setting from then on.

        Raises
        ------
        BadJig
            There is no such bracket.
        """
        now, others = self._and_others(kept, number)
        stands = tuple(sorted([*others, now], key=lambda stand: stand.along_mm))
        return self._kept(kept, stands, {*self.ticked(kept), number})

    def _and_others(self, kept: JigKept, number: int) -> tuple[Stand, list[Stand]]:
        """Where a bracket is to stand, and how all others stand now."""
        each = self._bracket(number)
        now = Stand(each.rail, each.along_mm, each.travel_mm, each.swivel_rad)
        return now, [stand for stand in _stands(kept) if not _same(stand, now)]

    def untick(self, kept: JigKept, number: int) -> JigKept:
        """What is kept once a tick has been taken back: nobody knows where that bracket stands.

        Raises
        ------
        BadJig
            There is no such bracket.
        """
        _, others = self._and_others(kept, number)
        return self._kept(kept, tuple(others), {*self.ticked(kept)} - {number})

    def take_away(self, kept: JigKept, along_mm: float) -> JigKept:
        """What is kept once an extra bracket that is in the way between two rails has been taken off the bed."""
        gone = Stand(0, along_mm, 0.0, 0.0)
        stands = tuple(stand for stand in _stands(kept) if not _same(stand, gone))
        return self._kept(kept, stands, {*self.ticked(kept)})

    def set_whole(self, kept: JigKept) -> JigKept:
        """What is kept once every bracket has been set."""
        setting = JigSetting.of_jig(self.jig, kept.setting)
        return self._kept(kept, setting.stands, {each.number for each in self.jig.brackets})

    @property
    def away(self) -> tuple[Change, ...]:
        """Extra brackets of the setting before that are to be taken away."""
        return tuple(change for change in self.change.changes if not change.bracket)

    def _bracket(self, number: int) -> Any:
        for each in self.jig.brackets:
            if each.number == number:
                return each
        raise BadJig(f"frame {self.design.choice.frame} has no bracket {number}; it has 1 to {len(self.jig.brackets)}.")

    def _kept(self, kept: JigKept, stands: tuple[Stand, ...], ticked: set[int]) -> JigKept:
        bench = Bench(self.design.choice.frame, self.key, tuple(sorted(ticked)))
        return replace(kept, setting=JigSetting(stands), bench=bench)


def frame_on_bed(design: FrameDesign, design_revision: str, kept: JigKept, units: Units = "mm") -> FrameOnBed:
    """Set a designed frame on the bed that is kept, as its plan has it if there is one.

    Raises
    ------
    BadJig
        The frame does not go on this jig; the message gives every reason.
    """
    bed = kept.bed or JigBed.of(design.choice)
    turn = kept.plan.turn(design.choice.frame, design_revision, bed) if kept.plan else None
    pose, planned = (turn.pose, turn.setting) if turn else (None, None)
    bent = bent_of(design)
    jig, lie = set_on_bed(bent, design.choice, design.packet.loose_ei_nmm2, bed, pose, planned, units)
    pick = np.unique(np.r_[np.arange(0, len(jig.s_mm), _THIN), len(jig.s_mm) - 1])
    curves = ("s_mm", "face_mm", "other_mm", "neutral_mm", "curvature_per_mm")
    jig = replace(jig, **{name: getattr(jig, name)[pick] for name in curves})
    key = revision([(each.rail, each.along_mm, each.travel_mm, each.swivel_rad) for each in jig.brackets])
    found = FrameOnBed(design, jig, lie, changes(jig, bed, kept.setting), turn, bed, key)
    if bed.between or lie.error_mm <= HELD_MM:
        return found
    blocks, held = blocks_for(bent, design.choice, bed, pose, planned)
    return replace(found, blocks=blocks, blocked_mm=held.error_mm) if blocks else found


def read_after(lines: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Read what must be fitted first: lines such as '15 after 14', or '15:14' with several parted by commas.

    Raises
    ------
    BadJig
        A line cannot be read.

    Examples
    --------
    >>> read_after(["15 after 14, 13", "18:15"])
    {'15': ('14', '13'), '18': ('15',)}
    """
    found: dict[str, tuple[str, ...]] = {}
    for text in lines:
        if not text.strip():
            continue
        frame, sign, first = text.partition(" after ") if " after " in text else text.partition(":")
        names = tuple(name.strip() for name in first.split(",") if name.strip())
        if not (sign and frame.strip() and names):
            raise BadJig(f"what must be fitted first: found {text.strip()!r}; write it as 15 after 14.")
        found[frame.strip()] = (*found.get(frame.strip(), ()), *names)
    return found


def _stands(kept: JigKept) -> tuple[Stand, ...]:
    return kept.setting.stands if kept.setting else ()


def _same(one: Stand, other: Stand) -> bool:
    """Whether two stands are of one place: the same rail, or the same place between rails."""
    if one.rail or other.rail:
        return one.rail == other.rail
    return abs(one.along_mm - other.along_mm) <= _SAME_PLACE_MM
