"""Shop hours: time cut into ticks of a quarter of an hour in which the shop is open, and clock time beside them.

Work is planned on ticks alone, so that it stops at closing time and goes on when the shop opens; what runs by itself
(cure, drying, moisture) runs by the clock, through nights and holidays.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadPlan

#: Length of a tick [min].
TICK_MIN = 15
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
#: The longest plan [days].
LONGEST_DAYS = 800

Hours = tuple[tuple[int, int], ...]
_SPAN = re.compile(r"(\d{1,2})(?:[:.](\d\d))?\s*(?:-|–|to)\s*(\d{1,2})(?:[:.](\d\d))?")


def parse_hours(text: str, day: str = "the day") -> Hours:
    """Read the hours of one day; return (opens, closes) in minutes of the day.

    Raises
    ------
    BadPlan
        They cannot be read, overlap, or are no whole quarters of an hour.

    Examples
    --------
    >>> parse_hours("8:00-12:00, 12:30-16:30"), parse_hours("closed")
    (((480, 720), (750, 990)), ())
    """
    plain = text.strip().lower()
    if plain in ("", "closed", "-", "–"):
        return ()
    found: list[tuple[int, int]] = []
    for part in plain.split(","):
        match = _SPAN.fullmatch(part.strip())
        if match is None:
            raise BadPlan(
                f"hours of {day}: found {part.strip()!r}; expected such as 8:00-12:00, 12:30-16:30, or closed."
            )
        opens, closes = (int(match[i]) * 60 + int(match[i + 1] or 0) for i in (1, 3))
        if not 0 <= opens < closes <= 24 * 60 or (found and opens < found[-1][1]):
            raise BadPlan(f"hours of {day}: {part.strip()!r} ends before it begins, or overlaps the one before.")
        if opens % TICK_MIN or closes % TICK_MIN:
            raise BadPlan(f"hours of {day}: {part.strip()!r}; give whole quarters of an hour.")
        found.append((opens, closes))
    return tuple(found)


def format_hours(hours: Hours) -> str:
    """Write hours as they can be typed.

    Examples
    --------
    >>> format_hours(((480, 720), (750, 990))), format_hours(())
    ('8:00-12:00, 12:30-16:30', 'closed')
    """
    return ", ".join(f"{a // 60}:{a % 60:02d}-{b // 60}:{b % 60:02d}" for a, b in hours) or "closed"


@dataclass(frozen=True)
class Calendar:
    """When the shop is open, from a moment on.

    Attributes
    ----------
    begins : datetime
        Local time of the shop; the first tick starts then or when the shop next opens.
    week : mapping of weekday -> hours
        Weekdays as in `DAYS`; one that is left out is closed.
    closed : frozenset of date
        Holidays.
    days : int
        How far ahead it reaches.
    """

    begins: datetime
    week: Mapping[str, Hours]
    closed: frozenset[date] = frozenset()
    days: int = 120

    def __post_init__(self) -> None:
        if not any(self.week.get(day) for day in DAYS):
            raise BadPlan("the shop is never open; give its hours on one weekday at the least.")
        if not 1 <= self.days <= LONGEST_DAYS:
            raise BadPlan(f"the plan would run {self.days} days; {LONGEST_DAYS} at most.")

    @cached_property
    def wall_min(self) -> NDArray[np.int64]:
        """(n,) clock minutes after `begins` at which each tick starts."""
        starts: list[int] = []
        midnight = self.begins.replace(hour=0, minute=0, second=0, microsecond=0)
        gone = (self.begins - midnight).total_seconds() / 60
        for ahead in range(self.days):
            day = midnight + timedelta(days=ahead)
            if day.date() in self.closed:
                continue
            for opens, closes in self.week.get(DAYS[day.weekday()], ()):
                starts += [ahead * 1440 + minute for minute in range(opens, closes, TICK_MIN)]
        found = np.array([s for s in starts if s >= gone - 1e-9], dtype=np.int64)
        if not found.size:
            raise BadPlan("the shop is closed throughout; look at its hours and holidays.")
        return found - math.ceil(gone)

    @property
    def ticks(self) -> int:
        """How many ticks there are."""
        return len(self.wall_min)

    def tick_from(self, wall_min: ArrayLike) -> NDArray[np.int64]:
        """The first tick that starts at or after a clock minute; `ticks` where it lies past the end."""
        return np.asarray(np.searchsorted(self.wall_min, np.asarray(wall_min, dtype=float) - 1e-6), dtype=np.int64)

    def end_min(self, tick: ArrayLike) -> NDArray[np.int64]:
        """Clock minute at which work that ends before tick `tick` ends: the close of the tick before it."""
        at = np.asarray(tick, dtype=np.int64)
        return np.asarray(np.where(at > 0, self.wall_min[np.maximum(at, 1) - 1] + TICK_MIN, self.wall_min[0]))

    def start_at(self, tick: int) -> datetime:
        """Clock time at which a tick starts."""
        return self.begins + timedelta(minutes=int(self.wall_min[tick]))

    def end_at(self, tick: int) -> datetime:
        """Clock time at which work that ends before this tick ends."""
        return self.begins + timedelta(minutes=int(self.end_min(tick)))

    def of_date(self, day: date) -> tuple[int, int]:
        """First tick of a day and the first after it."""
        midnight = datetime(day.year, day.month, day.day)
        low = (midnight - self.begins).total_seconds() / 60
        first, last = self.tick_from([low, low + 1440])
        return int(first), int(last)

    def whole(self, duration: int) -> NDArray[np.bool_]:
        """(n,) whether work of so many ticks, begun with each tick, goes through without the shop closing."""
        n = self.ticks
        good = np.zeros(n, dtype=bool)
        if 0 < duration <= n:
            last = np.arange(duration - 1, n)
            good[: n - duration + 1] = (
                self.wall_min[last] - self.wall_min[: n - duration + 1] == (duration - 1) * TICK_MIN
            )
        return good
