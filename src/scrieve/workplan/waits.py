"""What must be waited for by the clock: cure at the shed's temperature, paint, and moisture taken up or given off."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadPlan
from scrieve.timber.cure import LONGEST_H, cure
from scrieve.timber.data_sheet import DataSheet
from scrieve.workplan.calendar import Calendar

#: The range in which temperatures are taken [°C].
COLDEST_C, HOTTEST_C = -40.0, 60.0
#: So long before and after it a temperature that was read tells of the shed.
_READ_FOR = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Wait:
    """A wait: `hours` by the clock, or where `cure` is 'clamp_h' or 'full_cure_h', as long as the glue takes ('': the
    yard's)."""

    why: str
    hours: float = 0.0
    cure: str = ""
    glue: str = ""


@dataclass(frozen=True)
class Temperatures:
    """Temperature of the shed by the clock: (time, °C) in order, straight between, held before the first and after the
    last. A log of what was, a forecast of what will be, or both one after the other."""

    entries: tuple[tuple[datetime, float], ...]

    def __post_init__(self) -> None:
        if not self.entries:
            raise BadPlan("no temperature of the shed; give one at the least.")
        times = [at for at, _ in self.entries]
        if any(b <= a for a, b in pairwise(times)):
            raise BadPlan("temperatures of the shed: two stand at one time, or they are out of order.")
        for at, value in self.entries:
            if not COLDEST_C <= value <= HOTTEST_C:
                raise BadPlan(
                    f"temperature of the shed at {at:%Y-%m-%d %H:%M}: {value:g} °C; give {COLDEST_C:g} to "
                    f"{HOTTEST_C:g} °C."
                )

    def at(self, when: datetime) -> float:
        """°C at a time."""
        hours = [(time - when).total_seconds() / 3600 for time, _ in self.entries]
        return float(np.interp(0.0, hours, [value for _, value in self.entries]))

    def with_read(self, read: Iterable[tuple[datetime, float]]) -> Temperatures:
        """The same with temperatures as they were read: each counts for a day before and after it, straight from one to
        the next, and goes before what was expected there up to the last of them; beyond that it is as it was expected.

        Examples
        --------
        >>> shed = Temperatures(((datetime(2026, 1, 1), 18.0),)).with_read([(datetime(2026, 3, 2, 8), 10.0)])
        >>> [shed.at(datetime(2026, 3, day, 8)) for day in (1, 2, 3, 9)], shed.at(datetime(2026, 3, 2, 20))
        ([18.0, 10.0, 18.0, 18.0], 14.0)
        """
        known = dict(read)
        every = known | {
            at: value
            for at, value in self.entries
            if not known or at > max(known) or all(abs(at - each) > _READ_FOR for each in known)
        }
        times = sorted(every)
        for n, here in enumerate(times):
            for way in (-1, 1):
                beside = times[n + way] if 0 <= n + way < len(times) else None
                if here in known and (beside is None or abs(beside - here) > 2 * _READ_FOR):
                    every[here + way * _READ_FOR] = self.at(here + way * _READ_FOR)
        return Temperatures(tuple(sorted(every.items())))

    def colder(self, by_k: float) -> Temperatures:
        """The same shed, colder by so much."""
        return Temperatures(tuple((at, value - by_k) for at, value in self.entries))

    def log(self, begins: datetime, hours: float) -> list[tuple[float, float]]:
        """(hour after `begins`, °C) over so many hours, as `scrieve.timber.cure.cure` takes it."""
        at = np.array([(time - begins).total_seconds() / 3600 for time, _ in self.entries])
        value = np.array([each for _, each in self.entries])
        inside = at[(at > 0) & (at < hours)]
        grid = np.unique(np.concatenate([[0.0], inside, [hours]]))
        return list(zip(grid.tolist(), np.interp(grid, at, value).tolist(), strict=True))


def cured(sheet: DataSheet, shed: Temperatures, begins: datetime, closed_h: NDArray[np.float64], what: str,
          horizon_h: float) -> NDArray[np.float64]:  # fmt: skip
    """Hour at which joints have cured, by the shed's temperature.

    Parameters
    ----------
    sheet : DataSheet
        Of the glue.
    shed : Temperatures
    begins : datetime
        Hour 0.
    closed_h : ndarray (n,)
        Hour at which each joint was closed; below 0 where that was before.
    what : 'clamp_h' or 'full_cure_h'
        Which time of the sheet; a sheet without it has nothing to wait for.
    horizon_h : float
        How far ahead is looked.

    Returns
    -------
    ndarray (n,)
        inf where it does not cure within the horizon. The share of cure used up between two hours is the difference of
        ∫ dt/t(T), so one integral serves every joint.

    References
    ----------
    .. [1] docs/glue-up.md, "Cure".

    Examples
    --------
    >>> from scrieve.timber.data_sheet import data_sheet
    >>> warm = Temperatures(((datetime(2026, 3, 2, 8), 20.0),))
    >>> sheet = data_sheet("epoxy", {"clamp_h": 24})
    >>> cured(sheet, warm, datetime(2026, 3, 2, 8), np.array([0.0, 5.5]), "clamp_h", 200.0).round(2).tolist()
    [24.0, 29.5]
    """
    closed = np.asarray(closed_h, dtype=float)
    if not sheet.has(what):
        return closed.copy()
    first = min(0.0, float(closed.min(initial=0.0)))
    start = begins + _hours(first)
    hours, shares = _curve(sheet, shed, start, horizon_h - first, what)
    used = np.interp(closed - first, hours, shares)
    rising = np.concatenate([[True], np.diff(shares) > 0])
    done = np.interp(used + 1.0, shares[rising], hours[rising], right=np.inf)
    return np.asarray(done + first)


def _curve(sheet: DataSheet, shed: Temperatures, start: datetime, horizon_h: float, what: str
           ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:  # fmt: skip
    """Hours and share of cure used up since `start`, in stretches as long as the cure is reckoned over."""
    hours, shares = np.zeros(1), np.zeros(1)
    at = 0.0
    while at < horizon_h:
        stretch = min(LONGEST_H, horizon_h - at)
        part = cure(sheet, shed.log(start + _hours(at), stretch), what)
        hours = np.concatenate([hours, at + part.hours[1:]])
        shares = np.concatenate([shares, shares[-1] + part.shares[1:]])
        at += stretch
    return hours, shares


def _hours(hours: float) -> timedelta:
    return timedelta(hours=hours)


def ready_ticks(calendar: Calendar, ready_h: NDArray[np.float64]) -> NDArray[np.int64]:
    """The first tick after each hour of readiness; the number of ticks where it never comes."""
    finite = np.where(np.isfinite(ready_h), ready_h * 60, 1e12)
    return calendar.tick_from(np.ceil(finite - 1e-6))


def conditioning_h(thickness_mm: float, days_at_25: float) -> float:
    """Hours that stock stacked in the shed takes to settle to its moisture.

    Parameters
    ----------
    thickness_mm : float
        Of the stock as it is stacked.
    days_at_25 : float
        What the builder reckons for stock 25 mm thick [days].

    Returns
    -------
    float
        days × 24 × (t/25)²: moisture moves by diffusion, and diffusion through a slab takes time as the square of its
        thickness (Fick's law). The days for 25 mm are the yard's own: common practice, no source.

    Examples
    --------
    >>> conditioning_h(25, 14), conditioning_h(12.5, 14)
    (336.0, 84.0)
    """
    return days_at_25 * 24.0 * (thickness_mm / 25.0) ** 2


def pieces(ready: Sequence[int]) -> tuple[tuple[int, int, int, bool], ...]:
    """Cut a rising table e -> f(e) into stretches in which f stands still or rises with e.

    Returns
    -------
    tuple of (first e, last e, f at first e, rises)
        Every e lies in one; in it f(e) = f, or f + e - first e.

    Examples
    --------
    >>> pieces([3, 3, 3, 4, 5, 9, 9])
    ((0, 2, 3, False), (3, 4, 4, True), (5, 6, 9, False))
    """
    found: list[tuple[int, int, int, bool]] = []
    n, at = len(ready), 0
    while at < n:
        last = at
        if at + 1 < n and ready[at + 1] == ready[at]:
            while last + 1 < n and ready[last + 1] == ready[at]:
                last += 1
            found.append((at, last, int(ready[at]), False))
        else:
            while (
                last + 1 < n
                and ready[last + 1] == ready[last] + 1
                and not (last + 2 < n and ready[last + 2] == ready[last + 1])
            ):
                last += 1
            found.append((at, last, int(ready[at]), True))
        at = last + 1
    return tuple(found)
