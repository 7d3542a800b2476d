"""Members to be made and what has been done to each: what a plan is made from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadPlan
from scrieve.workplan.kinds import Glued, MemberKind, kinds_for
from scrieve.workplan.waits import Temperatures


@dataclass(frozen=True, slots=True)
class Member:
    """A frame pair or a plank to be made and fitted.

    `stock_mm` is the thickness of its stock as it settles to its moisture; `clamps` how many a glue-up takes; `glue`
    the family it is glued with, by whose cure it waits ('': the yard's). Of a plank: its `side` ('P', 'S' or '' for
    both), `strake` counted from the keel (None: not known, so it is taken for a neighbour of every other), the frames
    it crosses, in `frames`, and where it has glued scarfs, whose cure is waited for as well, in `glued`.
    """

    kind: MemberKind
    name: str
    stock_mm: float = 25.0
    clamps: int = 0
    side: Literal["P", "S", ""] = ""
    strake: int | None = None
    frames: tuple[str, ...] = ()
    glue: str = ""
    glued: tuple[Glued, ...] = ()

    @property
    def key(self) -> str:
        """'frame 14', 'plank garboard'."""
        return f"{self.kind} {self.name}"

    def op(self, kind: str) -> str:
        """Name of one of its operations: 'frame 14: rip'."""
        return f"{self.key}: {kind}"

    @property
    def ops(self) -> tuple[str, ...]:
        """Names of its operations, in order."""
        return tuple(self.op(kind.key) for kind in kinds_for(self.kind, self.glued))


@dataclass(frozen=True, slots=True)
class Did:
    """What happened to one operation: begun, ended (None: not yet), by whom, on which jig (from 1; 0: on none)."""

    started: datetime
    finished: datetime | None = None
    people: tuple[str, ...] = ()
    jig: int = 0
    minutes: float | None = None


@dataclass(frozen=True, eq=False)
class Setups:
    """Minutes to set the jig for each frame: from how it stands now, and after each other frame.

    `labels` (n); `first` (n,); `between` (n, n), from the row's frame to the column's.
    """

    labels: tuple[str, ...]
    first: NDArray[np.float64]
    between: NDArray[np.float64]

    def __post_init__(self) -> None:
        n = len(self.labels)
        if self.first.shape != (n,) or self.between.shape != (n, n):
            raise BadPlan(
                f"setting times: shapes {self.first.shape} and {self.between.shape}; expected ({n},), ({n}, {n})."
            )
        if not (np.isfinite(self.first).all() and np.isfinite(self.between).all() and (self.between >= 0).all()):
            raise BadPlan("setting times: one is below zero or no number.")

    def minutes(self, before: str | None, frame: str) -> float | None:
        """Minutes to set the jig for a frame after another (None: as it stands); None where it is not known."""
        if frame not in self.labels or (before is not None and before not in self.labels):
            return None
        to = self.labels.index(frame)
        return float(self.first[to] if before is None else self.between[self.labels.index(before), to])


@dataclass(frozen=True, slots=True)
class Reading:
    """A temperature as it was read: of the shed, or at the glue line of the member named."""

    at: datetime
    celsius: float
    member: str = ""


@dataclass(frozen=True, eq=False)
class Job:
    """What is to be planned: members, every frame of the hull in order from forward (those that stay among them), what
    has been done, setting times of the jig, and temperatures as they were read."""

    members: tuple[Member, ...]
    hull_frames: tuple[str, ...] = ()
    done: Mapping[str, Did] = field(default_factory=dict)
    setups: Setups | None = None
    readings: tuple[Reading, ...] = ()

    def __post_init__(self) -> None:
        keys = [member.key for member in self.members]
        if twice := [key for n, key in enumerate(keys) if key in keys[:n]]:
            raise BadPlan(f"{twice[0]} stands twice among what is to be made.")
        if strange := [m.name for m in self.members if m.kind == "frame" and m.name not in self.hull_frames]:
            raise BadPlan(f"frame {strange[0]} is not among the hull's frames; its neighbours are not known.")

    def temperatures(self, shed: Temperatures, member: str = "") -> Temperatures:
        """The shed by the clock, as expected and as it was read; of a member, its glue line where that was read."""
        found = shed.with_read((each.at, each.celsius) for each in self.readings if not each.member)
        return found.with_read((each.at, each.celsius) for each in self.readings if member and each.member == member)

    def member(self, key: str) -> Member:
        """One member by its key."""
        found = next((member for member in self.members if member.key == key), None)
        if found is None:
            raise BadPlan(f"{key!r} is not among what is to be made.")
        return found

    @property
    def frames(self) -> tuple[Member, ...]:
        """Frame pairs in order from forward."""
        place = {label: n for n, label in enumerate(self.hull_frames)}
        return tuple(sorted((m for m in self.members if m.kind == "frame"), key=lambda m: place[m.name]))

    @property
    def planks(self) -> tuple[Member, ...]:
        """Planks."""
        return tuple(member for member in self.members if member.kind == "plank")

    def finished(self, op: str) -> datetime | None:
        """When an operation ended; None where it has not."""
        did = self.done.get(op)
        return did.finished if did else None

    def running(self, op: str) -> bool:
        """Whether it is begun and not ended."""
        return op in self.done and self.done[op].finished is None

    def is_open(self, member: Member) -> bool:
        """Whether the hull is open at this member now."""
        return member.op("out") in self.done and self.finished(member.op("inspect")) is None

    def is_renewed(self, member: Member) -> bool:
        """Whether it has been renewed and inspected."""
        return self.finished(member.op("inspect")) is not None

    @cached_property
    def on_jigs(self) -> Mapping[str, int]:
        """Frames on a jig now, as `on_jigs` tells them."""
        return on_jigs(self.done)

    def jig_of(self, member: Member) -> int:
        """Number of the jig a frame is on now, from 1; 0 where it is on none."""
        return self.on_jigs.get(member.name, 0) if member.kind == "frame" else 0


def on_jigs(done: Mapping[str, Did], at: datetime = datetime.max) -> dict[str, int]:
    """Frames on a jig, with its number from 1: of each jig the frame last set or glued on it, until it is released.

    Whatever was on a jig before is off it, though nobody may have said so, nor measured it. With `at`, as it was then.
    """
    last: dict[int, tuple[datetime, str]] = {}
    for label in ever_set(done):
        dids = [done[op] for key in ("set", "dry", "glue") if (op := f"frame {label}: {key}") in done]
        if times := [time for did in dids if (time := did.finished or did.started) <= at]:
            jig = dids[0].jig or 1
            last[jig] = max(last.get(jig, (datetime.min, "")), (max(times), label))
    off = {label: did.finished for _, label in last.values() if (did := done.get(f"frame {label}: release"))}
    return {label: jig for jig, (_, label) in last.items() if not ((ended := off.get(label)) and ended <= at)}


def ever_set(done: Mapping[str, Did]) -> list[str]:
    """Labels of the frames for which a jig has been set."""
    ops = (op for op in done if op.startswith("frame ") and op.endswith(": set"))
    return [op.removeprefix("frame ").removesuffix(": set") for op in ops]


def pairs(members: Sequence[Member]) -> Iterable[tuple[Member, Member]]:
    """Planks of one strake, port and starboard, which are hung together."""
    for n, one in enumerate(members):
        for other in members[n + 1 :]:
            if one.strake is not None and one.strake == other.strake and {one.side, other.side} == {"P", "S"}:
                yield one, other
