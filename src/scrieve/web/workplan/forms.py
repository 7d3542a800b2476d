"""What the forms of the plan send, read into the yard, and the yard written back as it can be typed."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from scrieve.errors import BadPlan
from scrieve.timber.data_sheet import data_sheet
from scrieve.timber.glue import glue
from scrieve.workplan.calendar import DAYS, parse_hours
from scrieve.workplan.costs import GOODS, Prices
from scrieve.workplan.durations import format_duration, parse_duration
from scrieve.workplan.kinds import KINDS, MACHINES, SKILLS
from scrieve.workplan.yard import HullRules, Person, Yard

_MOST_DAYS = 400
_SPAN = re.compile(r"(\d{4}-\d\d-\d\d)(?:\s*(?:to|–|\.\.)\s*(\d{4}-\d\d-\d\d))?")
_TEMPERATURE = re.compile(r"(?:(\d{4}-\d\d-\d\d)(?:[ T]+(\d{1,2}:\d\d))?\s+)?(-?\d+(?:[.,]\d+)?)\s*(?:°?\s*c)?", re.I)


def parse_days(text: str, what: str = "days") -> frozenset[date]:
    """Read days such as 2026-03-04, 2026-03-09 to 2026-03-13.

    Raises
    ------
    BadPlan
        One cannot be read.

    Examples
    --------
    >>> sorted(d.day for d in parse_days("2026-03-04, 2026-03-09 to 2026-03-11"))
    [4, 9, 10, 11]
    """
    found: set[date] = set()
    for part in re.split(r"[,;\n]", text):
        if not part.strip():
            continue
        match = _SPAN.fullmatch(part.strip())
        try:
            first = date.fromisoformat(match[1]) if match else None
            last = date.fromisoformat(match[2] or match[1]) if match else None
        except ValueError:
            first = last = None
        if (
            first is None
            or last is None
            or not 2000 <= first.year <= 2200
            or not 0 <= (last - first).days <= _MOST_DAYS
        ):
            raise BadPlan(f"{what}: found {part.strip()!r}; expected such as 2026-03-04, or 2026-03-09 to 2026-03-13.")
        found |= {first + timedelta(days=n) for n in range((last - first).days + 1)}
    return frozenset(found)


def format_days(days: frozenset[date]) -> str:
    """Write days as they can be typed, runs of them as such.

    Examples
    --------
    >>> format_days(parse_days("2026-03-04, 2026-03-09 to 2026-03-11"))
    '2026-03-04, 2026-03-09 to 2026-03-11'
    """
    runs: list[list[date]] = []
    for day in sorted(days):
        if runs and (day - runs[-1][-1]).days == 1:
            runs[-1].append(day)
        else:
            runs.append([day])
    return ", ".join(f"{run[0]}" if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)


def parse_shed(text: str) -> tuple[tuple[datetime, float], ...]:
    """Read temperatures of the shed: one a line, with its day (and hour) where it changes.

    Raises
    ------
    BadPlan
        A line cannot be read.

    Examples
    --------
    >>> parse_shed("2026-03-02 15\\n2026-03-05 06:00 9,5")
    ((datetime.datetime(2026, 3, 2, 12, 0), 15.0), (datetime.datetime(2026, 3, 5, 6, 0), 9.5))
    """
    found = []
    for line in text.splitlines():
        if not line.strip():
            continue
        match = _TEMPERATURE.fullmatch(line.strip())
        if match is None:
            raise BadPlan(
                f"temperature of the shed: found {line.strip()!r}; expected such as 2026-03-05 06:00 9.5, or 15."
            )
        try:
            at = (
                datetime.fromisoformat(f"{match[1]} {(match[2] or '12:00').zfill(5)}")
                if match[1]
                else datetime(2000, 1, 1)
            )
        except ValueError:
            raise BadPlan(f"temperature of the shed: there is no day {match[1]}.") from None
        found.append((at, float(match[3].replace(",", "."))))
    return tuple(sorted(found))


def format_shed(shed: tuple[tuple[datetime, float], ...]) -> str:
    """Write temperatures as they can be typed."""
    return "\n".join(f"{value:g}" if at.year == 2000 else f"{at:%Y-%m-%d %H:%M} {value:g}" for at, value in shed)


def _whole(text: str, what: str) -> int:
    if not re.fullmatch(r"\d{1,6}", text.strip()):
        raise BadPlan(f"{what}: found {text!r}; expected a whole number.")
    return int(text)


def _number(text: str, what: str) -> float:
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise BadPlan(f"{what}: found {text!r}; expected a number.")
    return value


def parse_day(text: str, what: str) -> date | None:
    """Read one day; None where nothing was typed."""
    if not text.strip():
        return None
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        raise BadPlan(f"{what}: found {text!r}; expected such as 2026-03-04.") from None
    if not 2000 <= day.year <= 2200:
        raise BadPlan(f"{what}: found {text!r}; expected a day of this century or the next.")
    return day


def hours_typed(yard: Yard, sent: Mapping[str, str]) -> Yard:
    """The shop's hours and holidays."""
    week = {day: parse_hours(sent[day], day) for day in DAYS if day in sent}
    return replace(yard, week=week, closed=parse_days(sent.get("closed", ""), "holidays"))


def person_typed(yard: Yard, sent: Mapping[str, str]) -> Yard:
    """One person added, changed (`was` names them), or taken off (`gone`)."""
    was, name = sent.get("was", ""), sent.get("name", "").strip()
    if sent.get("gone"):
        return replace(yard, people=tuple(p for p in yard.people if p.name != was))
    cost = sent.get("cost", "").strip()
    skills = frozenset(skill for skill in SKILLS if sent.get(skill))
    hour_cost = _number(cost, "cost of an hour") if cost else None
    person = Person(name, skills, parse_days(sent.get("off", ""), "off"), hour_cost)
    if was:
        return replace(yard, people=tuple(person if p.name == was else p for p in yard.people))
    return replace(yard, people=(*yard.people, person))


def shop_typed(yard: Yard, sent: Mapping[str, str]) -> Yard:
    """Jigs, clamps, machines."""
    machines = {name: _whole(sent.get(f"machine {name}", "1"), name) for name in MACHINES}
    return replace(yard, jigs=_whole(sent.get("jigs", ""), "jigs"), clamps=_whole(sent.get("clamps", ""), "clamps"),
                   machines=machines)  # fmt: skip


def times_typed(yard: Yard, sent: Mapping[str, str]) -> Yard:
    """Times of operations; one that is as at first is not kept."""
    minutes = dict(yard.minutes)
    for member, row in KINDS.items():
        for kind in row:
            name = f"{member} {kind.key}"
            if name in sent:
                value = parse_duration(sent[name], f"time of {member}, {kind.words}")
                minutes.pop(name, None)
                if value != kind.minutes:
                    minutes[name] = value
    return replace(yard, minutes=minutes)


def waits_typed(yard: Yard, sent: Mapping[str, str]) -> Yard:
    """Temperatures, the glue with its clamp time, paint and moisture."""
    family = sent.get("glue", yard.glue).strip()
    glue(family)
    sheet = dict(yard.sheet) if family == yard.glue else {}
    for name in ("clamp_h", "full_cure_h"):
        text = sent.get(name, "").strip()
        usual = data_sheet(family, {})
        if text and usual.has(name) and _number(text, name) != usual[name]:
            sheet[name] = _number(text, name)
        else:
            sheet.pop(name, None)
    data_sheet(family, sheet)
    return replace(yard, shed=parse_shed(sent.get("shed", "")), glue=family, sheet=sheet,
                   paint_h=parse_duration(sent.get("paint", ""), "drying of primer") / 60,
                   moisture_days=_number(sent.get("moisture", ""), "days for 25 mm"))  # fmt: skip


def hull_typed(yard: Yard, sent: Mapping[str, str]) -> Yard:
    """The rules of the hull."""
    counts: dict[str, Any] = {name: _whole(sent.get(name, f"{getattr(yard.hull, name)}"), name.replace("_", " "))
              for name in ("sound_between", "frames_out", "planks_off", "strakes_between", "pair_days")}  # fmt: skip
    ticks = {name: bool(sent.get(name)) for name in ("old_counts", "ready_first", "frames_first")}
    return replace(yard, hull=HullRules(**counts, **ticks))


def aim_typed(yard: Yard, sent: Mapping[str, str]) -> Yard:
    """What is sought, and by when."""
    aim: Any = sent.get("aim", "finish")
    return replace(yard, aim=aim, finish_by=parse_day(sent.get("finish_by", ""), "finish by"),
                   calm_days=_number(sent.get("calm_days", "0.5"), "days later for calm"),
                   seconds=_number(sent.get("seconds", "60"), "seconds"))  # fmt: skip


def due_typed(yard: Yard, sent: Mapping[str, str]) -> Yard:
    """By when one member is wanted; empty takes the date off."""
    member, day = sent.get("member", ""), parse_day(sent.get("due", ""), "wanted by")
    due = {key: value for key, value in yard.due.items() if key != member}
    return replace(yard, due=due | ({member: day} if day else {}))


#: What each form of the yard's page does, by its word under `do`.
FORMS = {"hours": hours_typed, "person": person_typed, "shop": shop_typed, "times": times_typed, "waits": waits_typed,
         "hull": hull_typed, "aim": aim_typed, "due": due_typed}  # fmt: skip


def times_shown(yard: Yard) -> list[tuple[str, list[tuple[str, str, str, str]]]]:
    """By sort of member: field, words, time as typed, and what else is to be known of each operation."""
    shown: list[tuple[str, list[tuple[str, str, str, str]]]] = []
    for member, row in KINDS.items():
        lines = []
        for kind in row:
            more = [f"{kind.people} people" if kind.people > 1 else "1 person", SKILLS[kind.skill]]
            more += [kind.machine] if kind.machine else []
            more += ["in one go"] if kind.one_go else []
            lines.append(
                (f"{member} {kind.key}", kind.words, format_duration(yard.kind(member, kind)), ", ".join(more))
            )
        shown.append((member, lines))
    return shown


def prices_typed(before: Prices, sent: Mapping[str, str], timbers: list[str]) -> Prices:
    """Prices as typed; an empty field has none."""
    timber = dict(before.timber)
    for n, name in enumerate(timbers):
        text = sent.get(f"timber {n}", "").strip()
        timber.pop(name, None)
        if text:
            timber[name] = _number(text, f"price of {name}")
    goods = {name: _number(sent[name], f"price of {name}") for name in GOODS if sent.get(name, "").strip()}
    return Prices(timber, goods, _number(sent.get("waste", "35"), "share lost") / 100)


def amount_typed(sent: Mapping[str, str]) -> dict[str, Any]:
    """What was used: of which thing, how much."""
    what, amount = sent.get("what", "").strip(), _number(sent.get("amount", ""), "amount")
    if not what:
        raise BadPlan("what was used? Choose it from the list.")
    if not 0 < abs(amount) < 1e6:
        raise BadPlan(f"{what}: {amount:g}; give an amount that is not nought (below zero: brought back).")
    return {"what": what, "amount": amount, "note": sent.get("note", "")[:300]}
