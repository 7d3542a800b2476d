"""The yard: hours, people with skills and days off, jigs, clamps, machines, times, temperatures, rules of the hull."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any, Literal

from scrieve.errors import BadPlan
from scrieve.timber.data_sheet import DataSheet, data_sheet
from scrieve.workplan.calendar import DAYS, TICK_MIN, Calendar, Hours, format_hours, parse_hours
from scrieve.workplan.kinds import KINDS, MACHINES, SKILLS, Kind, MemberKind
from scrieve.workplan.waits import Temperatures, Wait

Aim = Literal["finish", "people"]

_SHOP = ((8 * 60, 12 * 60), (12 * 60 + 30, 16 * 60 + 30))


@dataclass(frozen=True, slots=True)
class Person:
    """One person: name as it stands on the sheets, skills of `SKILLS`, days off, and what an hour costs."""

    name: str
    skills: frozenset[str]
    off: frozenset[date] = frozenset()
    hour_cost: float | None = None

    def __post_init__(self) -> None:
        if not self.name.strip() or any(sign in self.name for sign in ";\n"):
            raise BadPlan(f"a person is called {self.name!r}; give a name, without ';'.")
        if strange := sorted(self.skills - set(SKILLS)):
            raise BadPlan(f"{self.name}: skill {strange[0]!r}; say any of {', '.join(SKILLS)}.")


@dataclass(frozen=True, slots=True)
class HullRules:
    """How much of the hull may be open at once. Common practice, no source; agree them with a surveyor.

    `sound_between` frames, sound or renewed, at the least between two that are out (1 or more: never two neighbours);
    `frames_out` pairs and `planks_off` planks of one side at once, at the most; `strakes_between` strakes at the least
    between two planks off on one side. Planks of one strake, port and starboard, are begun to be hung within
    `pair_days` days of the shop of one another (0: as near as can be, which is no rule). `old_counts`: frames still to
    be renewed count as sound between others.
    `ready_first`: the old comes out once the new is made. `frames_first`: a plank comes off once the frames under it
    have been renewed.
    """

    sound_between: int = 2
    frames_out: int = 2
    planks_off: int = 1
    strakes_between: int = 2
    pair_days: int = 0
    old_counts: bool = False
    ready_first: bool = True
    frames_first: bool = True

    def __post_init__(self) -> None:
        for name, least, most in (("sound_between", 1, 20), ("frames_out", 1, 20), ("planks_off", 1, 20),
                                  ("strakes_between", 1, 20), ("pair_days", 0, 60)):  # fmt: skip
            value = getattr(self, name)
            if not (isinstance(value, int) and least <= value <= most):
                raise BadPlan(f"{name.replace('_', ' ')}: {value}; give a whole number from {least} to {most}.")


@dataclass(frozen=True, slots=True)
class Yard:
    """All that is settled of the yard; every default is common practice, no source.

    `week` and `closed` are the shop's hours and holidays; `machines` how many there are; `minutes` the yard's own times
    by 'frame rip', 'plank hang'…; `hours` those of waits ('moisture' being days for 25 mm); `shed` temperatures by the
    clock; `glue` and `sheet` the glue of what is not told otherwise and figures of its data sheet; `sheets` the yard's
    own figures of each family's data sheet. `due` holds dates by which members are wanted,
    `finish_by` that of the whole. `aim` is what is sought; `calm_days` what a plan made anew may finish later for not
    moving work about.
    """

    people: tuple[Person, ...] = (
        Person("lead hand", frozenset(SKILLS)),
        Person("second hand", frozenset({"machines", "bench", "glue", "hull"})),
    )
    week: Mapping[str, Hours] = field(default_factory=lambda: dict.fromkeys(DAYS[:5], _SHOP))
    closed: frozenset[date] = frozenset()
    jigs: int = 1
    clamps: int = 40
    machines: Mapping[str, int] = field(default_factory=lambda: dict(MACHINES))
    minutes: Mapping[str, float] = field(default_factory=dict)
    moisture_days: float = 14.0
    paint_h: float = 16.0
    shed: tuple[tuple[datetime, float], ...] = ((datetime(2000, 1, 1), 18.0),)
    glue: str = "epoxy"
    sheet: Mapping[str, Any] = field(default_factory=dict)
    sheets: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    hull: HullRules = field(default_factory=HullRules)
    due: Mapping[str, date] = field(default_factory=dict)
    finish_by: date | None = None
    aim: Aim = "finish"
    calm_days: float = 0.5
    seconds: float = 60.0

    def __post_init__(self) -> None:
        names = [person.name for person in self.people]
        if not names:
            raise BadPlan("nobody works here; add one person at the least.")
        if twice := [name for n, name in enumerate(names) if name in names[:n]]:
            raise BadPlan(f"two people are called {twice[0]!r}; give each a name of their own.")
        if not any(self.week.get(day) for day in DAYS):
            raise BadPlan("the shop is never open; give its hours on one weekday at the least.")
        for what, value, least, most in (("jigs", self.jigs, 1, 6), ("clamps", self.clamps, 1, 2000)):
            if not (isinstance(value, int) and least <= value <= most):
                raise BadPlan(f"{what}: {value}; give a whole number from {least} to {most}.")
        for name, count in self.machines.items():
            if name not in MACHINES or not (isinstance(count, int) and 1 <= count <= 20):
                raise BadPlan(f"machine {name!r}: {count}; give 1 to 20 of {', '.join(MACHINES)}.")
        known = {f"{member} {kind.key}" for member, row in KINDS.items() for kind in row}
        for name, minutes in self.minutes.items():
            if name not in known:
                raise BadPlan(f"time of {name!r}: there is no such operation.")
            if not (math.isfinite(minutes) and 5 <= minutes <= 60 * 200):
                raise BadPlan(f"time of {name!r}: {minutes:g} min; give 5 min to 200 h.")
        for what, low, high in (("moisture_days", 0, 400), ("paint_h", 0, 1000), ("calm_days", 0, 100),
                                ("seconds", 1, 3600)):  # fmt: skip
            if not (math.isfinite(getattr(self, what)) and low <= getattr(self, what) <= high):
                raise BadPlan(f"{what.replace('_', ' ')}: {getattr(self, what):g}; give {low} to {high}.")
        if self.aim not in ("finish", "people"):
            raise BadPlan(f"aim {self.aim!r}: say finish (shortest) or people (fewest).")
        if self.aim == "people" and self.finish_by is None:
            raise BadPlan("the fewest people are sought for a date: say by when the work is to be finished.")
        Temperatures(self.shed)

    def kind(self, member: MemberKind, kind: Kind) -> float:
        """Minutes of one kind of operation in this yard."""
        return float(self.minutes.get(f"{member} {kind.key}", kind.minutes))

    @property
    def ticks_a_day(self) -> float:
        """Ticks of an ordinary day of the shop: the mean of its open weekdays."""
        open_days = [hours for hours in self.week.values() if hours]
        return sum(close - opens for hours in open_days for opens, close in hours) / TICK_MIN / len(open_days)

    def wait(self, name: str) -> Wait:
        """One of `WAITS`, moisture apart, which hangs on thickness."""
        if name == "clamps":
            return Wait(name, cure="clamp_h")
        if name == "full cure":
            return Wait(name, cure="full_cure_h")
        return Wait(name, self.paint_h if name == "paint" else 0.0)

    @property
    def temperatures(self) -> Temperatures:
        """The shed by the clock."""
        return Temperatures(self.shed)

    def data_sheet(self, family: str = "") -> DataSheet:
        """A glue as it is reckoned with; '' is the yard's, whose figures here go before those of `sheets`."""
        family = family or self.glue
        own = dict(self.sheets.get(family, {}))
        return data_sheet(family, own | dict(self.sheet) if family == self.glue else own)

    def calendar(self, begins: datetime, days: int) -> Calendar:
        """The shop's hours from a moment on."""
        return Calendar(begins, self.week, self.closed, days)

    def to_mapping(self) -> dict[str, Any]:
        """Return the yard as plain values, fit for JSON."""
        return {
            "people": [
                {"name": p.name, "skills": sorted(p.skills), "off": sorted(d.isoformat() for d in p.off),
                 "hour_cost": p.hour_cost} for p in self.people
            ],
            "week": {day: format_hours(hours) for day, hours in self.week.items()},
            "closed": sorted(day.isoformat() for day in self.closed),
            "jigs": self.jigs,
            "clamps": self.clamps,
            "machines": dict(self.machines),
            "minutes": dict(self.minutes),
            "moisture_days": self.moisture_days,
            "paint_h": self.paint_h,
            "shed": [[at.isoformat(timespec="minutes"), value] for at, value in self.shed],
            "glue": self.glue,
            "sheet": dict(self.sheet),
            "sheets": {family: dict(own) for family, own in self.sheets.items()},
            "hull": {name: getattr(self.hull, name) for name in HullRules.__slots__},
            "due": {name: day.isoformat() for name, day in self.due.items()},
            "finish_by": self.finish_by.isoformat() if self.finish_by else None,
            "aim": self.aim,
            "calm_days": self.calm_days,
            "seconds": self.seconds,
        }  # fmt: skip

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any] | None) -> Yard:
        """Read a yard as `to_mapping` gives it; what is missing stays as it is at first.

        Raises
        ------
        BadPlan
            It cannot be read.
        """
        if not given:
            return cls()
        plain = dict(given)
        try:
            if "people" in plain:
                plain["people"] = tuple(
                    Person(p["name"], frozenset(p["skills"]), _dates(p.get("off", ())), p.get("hour_cost"))
                    for p in plain["people"]
                )
            if "week" in plain:
                plain["week"] = {day: parse_hours(text, day) for day, text in plain["week"].items()}
            if "closed" in plain:
                plain["closed"] = _dates(plain["closed"])
            if "shed" in plain:
                plain["shed"] = tuple((datetime.fromisoformat(at), float(value)) for at, value in plain["shed"])
            if "hull" in plain:
                plain["hull"] = HullRules(**plain["hull"])
            if "due" in plain:
                plain["due"] = {name: date.fromisoformat(day) for name, day in plain["due"].items()}
            if plain.get("finish_by"):
                plain["finish_by"] = date.fromisoformat(plain["finish_by"])
            return cls(**plain)
        except (KeyError, TypeError, ValueError) as error:
            if isinstance(error, BadPlan):
                raise
            raise BadPlan(f"what is kept of the yard cannot be read ({error!r}); settle it again.") from error


def _dates(given: Iterable[str]) -> frozenset[date]:
    return frozenset(date.fromisoformat(day) for day in given)


def working_days(yard: Yard, first: date, last: date) -> int:
    """Days on which the shop is open, both ends counted."""
    count, at = 0, first.toordinal()
    while at <= last.toordinal():
        day = date.fromordinal(at)
        count += bool(yard.week.get(DAYS[day.weekday()])) and day not in yard.closed
        at += 1
    return count


def opening(yard: Yard, day: date) -> datetime:
    """When the shop opens on a day; midnight where it does not."""
    hours = yard.week.get(DAYS[day.weekday()], ())
    minute = hours[0][0] if hours and day not in yard.closed else 0
    return datetime.combine(day, time(minute // 60, minute % 60))
