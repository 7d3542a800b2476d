"""The chart of the plan: days across, people, jigs and members down; what is done told by hatching before colour."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from urllib.parse import urlencode

import numpy as np

from scrieve.sheets.drawing import Drawing, Hatch, HatchStyle, Item, Line, Polyline, Text, polyline, shorten
from scrieve.workplan.calendar import DAYS
from scrieve.workplan.kinds import KINDS
from scrieve.workplan.plan import Entry, Plan
from scrieve.workplan.yard import Yard

#: An open day, a closed one, a row, and the lettering [mm of the drawing].
DAY, SHUT, ROW, LETTER = 22.0, 5.0, 8.0, 2.3
_NAMES, _GAP, _BAR = 38.0, 5.0, 5.4

#: How each sort of work is hatched: making, the jig, the hull open.
STYLES: dict[str, HatchStyle] = {"making": "diagonal", "jig": "upright", "hull": "cross", "sign": "level"}
_JIG = ("set", "dry", "glue", "release")
_HULL = ("shore", "out", "landings", "fit", "hang", "fasten", "caulk")


def sort_of(entry: Entry) -> str:
    """'making', 'jig', 'hull' or 'sign'."""
    key = entry.kind.key
    if entry.kind.hold:
        return "sign"
    return "jig" if key in _JIG and entry.member.startswith("frame ") else "hull" if key in _HULL else "making"


@dataclass
class _Axis:
    """Days side by side, each as wide whatever its hours; a closed one narrow."""

    yard: Yard
    first: date
    last: date
    places: dict[date, tuple[float, float]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        x, day = _NAMES, self.first
        while day <= self.last:
            wide = DAY if self.hours(day) else SHUT
            self.places[day] = (x, wide)
            x, day = x + wide, day + timedelta(days=1)
        self.right = x

    def hours(self, day: date) -> tuple[tuple[int, int], ...]:
        return () if day in self.yard.closed else self.yard.week.get(DAYS[day.weekday()], ())

    def x(self, at: datetime) -> float:
        day = at.date()
        if day < self.first:
            return _NAMES
        if day > self.last:
            return self.right
        left, wide = self.places[day]
        hours = self.hours(day)
        opens, closes = (hours[0][0], hours[-1][1]) if hours else (0, 1440)
        share = (at.hour * 60 + at.minute - opens) / (closes - opens)
        return left + wide * min(max(share, 0.0), 1.0)


def plan_chart(plan: Plan, yard: Yard, *, first: date | None = None, last: date | None = None,
               now: datetime | None = None, links: bool = True) -> Drawing:  # fmt: skip
    """Return the chart of a plan.

    Parameters
    ----------
    plan : Plan
    yard : Yard
        For its hours, people and jigs.
    first, last : date, optional
        Days shown; all that the plan runs over unless given.
    now : datetime, optional
        Drawn as an upright line.
    links : bool
        Whether a bar leads to the page of its member.
    """
    axis = _Axis(yard, first or plan.made.date(), max(last or plan.finish.date(), first or plan.made.date()))
    items: list[Item] = []
    y = 0.0
    jigs = sorted({entry.jig for entry in plan.entries if entry.jig} | {1})
    bands: list[tuple[str, list[tuple[str, list[Item]]]]] = [("People", []), ("Jig", []), ("Members", [])]
    for person in yard.people:
        row = [e for e in plan.entries if person.name in e.people]
        drawn: list[Item] = [bar for e in row for bar in _bar(axis, e, _short(e), links)]
        for day in person.off:
            if axis.first <= day <= axis.last and axis.hours(day):
                left, wide = axis.places[day]
                drawn.append(Text((left + wide / 2, ROW / 2), "away", LETTER, "FIGURES", "middle", "middle"))
        bands[0][1].append((person.name, drawn))
    for jig in jigs:
        name = "jig" if len(jigs) == 1 else f"jig {jig}"
        bands[1][1].append((name, [item for e in _turns(plan, jig) for item in _turn(axis, plan, e, links)]))
    for member in plan.members:
        if not any(
            e.starts.date() <= axis.last and e.ends.date() >= axis.first for e in plan.entries if e.member == member
        ):
            continue
        bands[2][1].append((member, _member(axis, plan, member, links)))
    marks: list[Item] = []
    for title, rows in bands:
        y -= _GAP
        marks.append(Text((0.0, y), title, LETTER * 1.15, "TEXT", "left", "baseline"))
        y -= 1.6
        marks.append(Line((0.0, y), (axis.right, y), "MOULDED LINE"))
        for name, drawn in rows:
            y -= ROW
            marks.append(Text((1.0, y + ROW / 2), shorten(name, 18), LETTER, "TEXT", "left", "middle"))
            items += [_lifted(item, y) for item in drawn]
            marks.append(Line((0.0, y), (axis.right, y), "GRID"))
    items = [*_days(axis, y), *marks, *items]
    if now is not None and axis.first <= now.date() <= axis.last:
        items.append(Line((axis.x(now), y), (axis.x(now), 0.0), "JIG FACE"))
    return Drawing(tuple(items), "Chart of the work", times=None)


def _short(entry: Entry) -> str:
    return f"{entry.member.removeprefix('frame ').removeprefix('plank ')} {_WORDS.get(entry.kind.key, entry.kind.key)}"


_WORDS = {"stock": "stock", "set": "set jig", "dry": "dry run", "accept": "sign", "shored": "sign", "inspect": "sign",
          "out": "out"}  # fmt: skip


def _told(entry: Entry) -> str:
    same = entry.starts.date() == entry.ends.date()
    until = f"{entry.ends:%H:%M}" if same else f"{entry.ends:%a %d %b %H:%M}"
    return f"{entry.told}, {entry.starts:%a %d %b %H:%M} to {until}, {', '.join(entry.people)}"


def link_of(member: str) -> str:
    """Address of what waits on what, at one member."""
    return "/plan/waits?" + urlencode({"member": member})


def _box(left: float, right: float, low: float, high: float) -> list[tuple[float, float]]:
    return [(left, low), (right, low), (right, high), (left, high)]


def _bar(axis: _Axis, entry: Entry, words: str, links: bool) -> Iterable[Item]:
    left, right = axis.x(entry.starts), axis.x(entry.ends)
    if right <= _NAMES or left >= axis.right or right - left < 0.05:
        return
    low, middle = (ROW - _BAR) / 2, (left + right) / 2
    box = _box(left, right, low, low + _BAR)
    sort = sort_of(entry)
    room = right - left - 1.0
    label = next((text for text in (words, words.split(" ")[0]) if len(text) * LETTER * 0.83 <= room), "")
    half = len(label) * LETTER * 0.415 + 0.4 if label else 0.0
    for a, b in [(left, middle - half), (middle + half, right)] if label else [(left, right)]:  # clear of the words
        yield Hatch(
            polyline(_box(a, b, low, low + _BAR), "HATCHING").points, STYLES[sort], 1.6 if sort == "hull" else 1.3
        )
    yield polyline(box, "JIG FACE" if sort == "hull" else "SECTIONS", True, link=link_of(entry.member) if links else "",
                   title=_told(entry))  # fmt: skip
    if label:
        yield Text((middle, ROW / 2), label, LETTER, "TEXT", "middle", "middle")


def _turns(plan: Plan, jig: int) -> list[str]:
    return [e.member for e in plan.entries if e.op.endswith(": release") and e.jig == jig]


def _turn(axis: _Axis, plan: Plan, member: str, links: bool) -> Iterable[Item]:
    span = plan.span(member, "set", "release")
    if span is None:
        return
    left, right = axis.x(span[0]), axis.x(span[1])
    glue, release = plan.by_op.get(f"{member}: glue"), plan.by_op[f"{member}: release"]
    low = (ROW - _BAR) / 2
    cured = axis.x(glue.ends) if glue else left
    label, middle = member.removeprefix("frame "), (left + right) / 2
    half = len(label) * LETTER * 0.5 + 0.4
    if right - left <= 2 * half:
        label, half = "", 0.0
    off = axis.x(release.starts)
    for a, b in ((cured, min(off, middle - half)), (max(cured, middle + half), off)) if label else ((cured, off),):
        if b > a:
            yield Hatch(polyline(_box(a, b, low, low + _BAR), "HATCHING").points, "upright", 1.1)
    if right > left:
        yield polyline(_box(left, right, low, low + _BAR), "SECTIONS", True, link=link_of(member) if links else "",
                       title=f"{member} on the jig, {span[0]:%a %d %b %H:%M} to {span[1]:%a %d %b %H:%M}")  # fmt: skip
    if label:
        yield Text((middle, ROW / 2), label, LETTER * 1.2, "TEXT", "middle", "middle")


def _member(axis: _Axis, plan: Plan, member: str, links: bool) -> list[Item]:
    items: list[Item] = []
    if span := plan.span(member, "out", "inspect"):
        left, right = axis.x(span[0]), axis.x(span[1])
        if right > left:
            items.append(polyline(_box(left, right, 0.4, ROW - 0.4), "BAND", True))
    order = {kind.key: n for row in KINDS.values() for n, kind in enumerate(row)}
    for entry in sorted((e for e in plan.entries if e.member == member), key=lambda e: order[e.kind.key]):
        items += _bar(axis, entry, _WORDS.get(entry.kind.key, entry.kind.key), links)
        if entry.kind.hold and axis.first <= entry.ends.date() <= axis.last:
            x = axis.x(entry.ends)
            items.append(polyline([(x, 0.6), (x + 1.7, ROW / 2), (x, ROW - 0.6), (x - 1.7, ROW / 2)], "MARKS", True))
    return items


def _days(axis: _Axis, bottom: float) -> Iterable[Item]:
    for day, (left, wide) in axis.places.items():
        yield Line((left, bottom), (left, 5.5), "GRID")
        if wide == DAY:
            yield Text((left + wide / 2, 1.4), f"{day:%a %-d}", LETTER, "TEXT", "middle", "baseline")
        else:
            yield Hatch(polyline(_box(left, left + wide, bottom, 0.0), "GRID").points, "back", 2.5, "GRID")
        if day.day == 1 or (day == axis.first and (day + timedelta(days=3)).month == day.month):
            yield Text((left + 0.6, 6.2), f"{day:%B %Y}", LETTER, "TEXT", "left", "baseline")
    yield Line((axis.right, bottom), (axis.right, 5.5), "GRID")


def _lifted(item: Item, by: float) -> Item:
    match item:
        case Text():
            return replace(item, at=(item.at[0], item.at[1] + by))
        case Line():
            return replace(item, start=(item.start[0], item.start[1] + by), end=(item.end[0], item.end[1] + by))
        case Hatch():
            return replace(item, polygon=item.polygon + np.array([0.0, by]))
        case Polyline():
            return replace(item, points=item.points + np.array([0.0, by]))
    return item
