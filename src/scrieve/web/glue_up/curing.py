"""A frame in the clamps: the temperatures it really had, looked at and typed, and when the clamps may come off."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Engine

from scrieve import store
from scrieve.errors import BadLamination, ScrieveError
from scrieve.store import Record
from scrieve.timber.cure import LONGEST_H, Cure, cure
from scrieve.timber.data_sheet import DataSheet, data_sheet
from scrieve.web.glue_up.forms import number
from scrieve.working import Working

#: A look at the glue line is kept under this kind; its detail names the glue-up by number.
KIND = "curing"


@dataclass(frozen=True)
class Curing:
    """A glue-up that was kept, and its cure by what was looked at since.

    `log` is (hours since it was closed, °C), from the coldest of the day on which it was glued; `looks` the records,
    by their hour.
    """

    glue_up: Record
    sheet: DataSheet
    looks: tuple[Record, ...]
    log: tuple[tuple[float, float], ...]
    cure: Cure

    @property
    def closed(self) -> datetime:
        """When it was kept as being in the clamps (UTC)."""
        return datetime.fromisoformat(self.glue_up.at).astimezone(UTC)

    @property
    def off(self) -> datetime | None:
        """The earliest hour at which the clamps may come off; None where never at the last temperature."""
        return None if self.cure.release_h is None else self.closed + timedelta(hours=self.cure.release_h)

    @property
    def working(self) -> Working:
        """How the hour came about."""
        clamp, found = self.sheet.figure("clamp_h"), self.cure
        never = "never, at the temperature it has"
        return Working(
            "Clamps off, at the earliest",
            never if found.release_h is None else f"{found.release_h:.1f} h after closing",
            "∫ dt / t(T) = 1; t(T) the sheet's clamp time at that temperature, nothing counted below its least",
            (
                ("clamp time", clamp.text),
                ("temperatures, h: °C", "; ".join(f"{hour:.1f}: {at:g}" for hour, at in self.log)),
                ("cured by the last look", f"{found.share:.0%}"),
                ("hours too cold", f"{found.cold_h:.1f}"),
                ("past the last look", "the last temperature held" if found.projected else "not needed"),
            ),
            clamp.source,
            "try the wet sample of each pot first; longer in the clamps is always safe",
        )


def curing_of(engine: Engine, frame: str) -> Curing | None:
    """The latest glue-up of a frame with its cure; None where none was kept, or what was kept cannot be read."""
    done = store.records(engine, "glue-up", frame)
    if not done:
        return None
    last = done[-1]
    looks = [record for record in store.records(engine, KIND, frame) if record.detail.get("glue_up") == last.number]
    try:
        return _curing(last, looks)
    except (ScrieveError, KeyError, TypeError, ValueError):
        return None


def _curing(last: Record, looks: list[Record]) -> Curing:
    looks.sort(key=lambda record: float(record.detail["hour"]))
    sheet = data_sheet(last.detail["glue"], **last.detail["sheet"])
    on: Mapping[str, Any] = last.detail["conditions"]
    start = min(float(on[name]) for name in ("air_c", "timber_c", "glue_c") if on.get(name) is not None)
    hours = {0.0: start} | {float(each.detail["hour"]): float(each.detail["glue_c"]) for each in looks}
    log = tuple(sorted(hours.items()))
    return Curing(last, sheet, tuple(looks), log, cure(sheet, log))


def look_typed(
    found: Curing, hour: str, temperature: str, name: str, now: datetime
) -> tuple[dict[str, Any], int | None]:
    """What is kept of a look at the glue line, and the number of the look at that hour which it puts right, if any.

    An empty `hour` is now.

    Raises
    ------
    BadLamination
        A figure cannot be read or used, or lies before closing or ahead of now.
    """
    since = (now - found.closed).total_seconds() / 3600
    if hour.strip():
        at = number(hour, "hour since closing")
        if not 0 <= at <= min(max(since, 0.0) + 0.25, LONGEST_H):
            raise BadLamination(
                f"hour since closing: found {at:g}; it was closed {since:.1f} h ago, and a temperature is typed once "
                "it has been read."
            )
    else:
        at = round(max(since, 0.0), 2)
    glue_c = number(temperature, "temperature at the glue line")
    if not -40 <= glue_c <= 100:
        raise BadLamination(f"temperature at the glue line: found {glue_c:g} °C; give -40 to 100.")
    same = next((each for each in found.looks if math.isclose(float(each.detail["hour"]), at, abs_tol=0.01)), None)
    detail = {"glue_up": found.glue_up.number, "hour": at, "glue_c": glue_c, "by": name.strip()[:100]}
    return detail, None if same is None else same.number


def hour_told(at: datetime | None) -> str:
    """An hour by the clock of this machine.

    Examples
    --------
    >>> hour_told(None)
    'never at this temperature'
    """
    return "never at this temperature" if at is None else at.astimezone().strftime("%a %d %b, %H:%M")
