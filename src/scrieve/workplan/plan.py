"""A plan: when each operation is done and by whom, in clock time; kept, read, and compared."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Any

from scrieve.errors import BadPlan
from scrieve.workplan.kinds import KINDS, Kind, kind_of
from scrieve.workplan.yard import Aim


@dataclass(frozen=True, slots=True)
class Entry:
    """One operation as planned: its name ('frame 14: rip'), from when to when, `ticks` of shop time, by whom.

    `jig` is the jig it is done on (0: on none); `running`: it had been begun when the plan was made.
    """

    op: str
    starts: datetime
    ends: datetime
    ticks: int
    people: tuple[str, ...]
    jig: int = 0
    running: bool = False

    @property
    def member(self) -> str:
        """Key of the member: 'frame 14'."""
        return self.op.rpartition(": ")[0]

    @property
    def kind(self) -> Kind:
        """What kind of operation it is."""
        member, _, key = self.op.rpartition(": ")
        return kind_of("frame" if member.startswith("frame ") else "plank", key)

    @property
    def told(self) -> str:
        """'frame 14: rip the pair'."""
        return f"{self.member}: {self.kind.words}"


@dataclass(frozen=True)
class Plan:
    """A plan of all work that was left when it was made.

    Attributes
    ----------
    made : datetime
        Nothing is planned before.
    entries : tuple of Entry
        In order of their starts.
    aim : 'finish' or 'people'
    value, bound : float
        What was sought, as found and the least proved possible, in days of the shop or in people.
    late_days : float
        Shop days by which members come after their dates, together.
    proved : bool
        No better is possible by this yard's figures.
    stopped : bool
        The search was ended by hand.
    seconds : float
        How long it took.
    made_from : str
        Revision of yard, members and setting times.
    moved : int or None
        Operations that start at another time than in the plan before; None where there was none.
    """

    made: datetime
    entries: tuple[Entry, ...]
    aim: Aim = "finish"
    value: float = 0.0
    bound: float = 0.0
    late_days: float = 0.0
    proved: bool = False
    stopped: bool = False
    seconds: float = 0.0
    made_from: str = ""
    moved: int | None = None

    @property
    def finish(self) -> datetime:
        """When the last operation ends."""
        return max((entry.ends for entry in self.entries), default=self.made)

    @property
    def gap(self) -> float:
        """By how much what was sought could at most be bettered, as a share of it."""
        return max(self.value - self.bound, 0.0) / self.value if self.value else 0.0

    @cached_property
    def by_op(self) -> Mapping[str, Entry]:
        """Entries by the operation's name."""
        return {entry.op: entry for entry in self.entries}

    @property
    def members(self) -> tuple[str, ...]:
        """Keys of members with work left, in the order in which they are finished."""
        last: dict[str, datetime] = {}
        for entry in self.entries:
            last[entry.member] = max(entry.ends, last.get(entry.member, entry.ends))
        return tuple(sorted(last, key=lambda key: (last[key], key)))

    @property
    def people(self) -> tuple[str, ...]:
        """Who has work in it."""
        return tuple(dict.fromkeys(name for entry in self.entries for name in entry.people))

    @property
    def jig_order(self) -> tuple[str, ...]:
        """Frames in the order in which the jig is set."""
        return tuple(entry.member.removeprefix("frame ") for entry in self.entries if entry.op.endswith(": set"))

    @property
    def hull_order(self) -> tuple[str, ...]:
        """Members in the order in which the old ones come out."""
        return tuple(entry.member for entry in self.entries if entry.op.endswith(": out"))

    def span(self, member: str, first: str, last: str) -> tuple[datetime, datetime] | None:
        """From the start of one kind of operation to the end of another; where the first is done already, from the
        making of the plan; None where the last is."""
        end = self.by_op.get(f"{member}: {last}")
        if end is None:
            return None
        begin = self.by_op.get(f"{member}: {first}")
        return (begin.starts if begin else self.made, end.ends)

    def to_mapping(self) -> dict[str, Any]:
        """Return the plan as plain values, fit for JSON."""
        return {
            "made": self.made.isoformat(),
            "entries": [
                [e.op, e.starts.isoformat(), e.ends.isoformat(), e.ticks, list(e.people), e.jig, e.running]
                for e in self.entries
            ],
            **{name: getattr(self, name) for name in _PLAIN},
        }

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any]) -> Plan:
        """Read a plan as `to_mapping` gives it.

        Raises
        ------
        BadPlan
            It cannot be read.
        """
        try:
            entries = tuple(
                Entry(str(op), datetime.fromisoformat(starts), datetime.fromisoformat(ends), int(ticks), tuple(people),
                      int(jig), bool(running))
                for op, starts, ends, ticks, people, jig, running in given["entries"]
            )  # fmt: skip
            for entry in entries:
                _known(entry.op)
            return cls(datetime.fromisoformat(given["made"]), entries, **{name: given[name] for name in _PLAIN})
        except (KeyError, TypeError, ValueError) as error:
            raise BadPlan(f"the plan that was kept cannot be read ({error!r}); make it again.") from error


_PLAIN = ("aim", "value", "bound", "late_days", "proved", "stopped", "seconds", "made_from", "moved")


def _known(op: str) -> None:
    member, _, key = op.rpartition(": ")
    kinds = KINDS["frame" if member.startswith("frame ") else "plank"]
    if not member or all(kind.key != key for kind in kinds):
        raise ValueError(f"no operation {op!r}")
