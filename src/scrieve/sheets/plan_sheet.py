"""The week on one sheet: chart, who does what each day, what comes out and what must stand first, signatures."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from scrieve.boat import Boat
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.figures import sized, thin_unit, unit
from scrieve.sheets.figures import thin as thin_figure
from scrieve.sheets.plan_chart import plan_chart
from scrieve.units import Units
from scrieve.workplan.costs import Costs, Line, ToOrder
from scrieve.workplan.daily import Removal, day_of, holds, removals, week_of
from scrieve.workplan.members import Job
from scrieve.workplan.plan import Entry, Plan
from scrieve.workplan.support import CAUTION, SOURCE
from scrieve.workplan.whatif import Outcome, days_later
from scrieve.workplan.yard import Yard

_BOX = "[  ]"


def day_table(plan: Plan, yard: Yard, person: str, days: Sequence[date]) -> Table:
    """What one person does on some days: when, what, with whom, and a box to tick."""
    rows: list[tuple[str, ...]] = []
    for day in days:
        found = day_of(plan, yard, person, day)
        if found.away:
            rows.append(("", f"{day:%a %-d %b}", "", "away", ""))
        for piece in found.pieces:
            entry = piece.entry
            more = "" if piece.first else " (goes on)"
            others = ", ".join(name for name in entry.people if name != person)
            rows.append(
                (_BOX, f"{day:%a %-d %b}", f"{piece.starts:%H:%M}–{piece.ends:%H:%M}", entry.told + more, others or "–")
            )
    return Table(person, ("done", "day", "when", "what", "with"), tuple(rows), name=f"week-{person}")


def hold_table(entries: Sequence[Entry]) -> Table:
    """Hold points: when they are due, and room for a name."""
    return Table(
        "Hold points: nothing that follows is begun before they are signed",
        ("due", "what", "who may sign", "signed"),
        tuple((f"{e.ends:%a %-d %b %H:%M}", e.told, ", ".join(e.people), "____________") for e in entries),
        name="hold-points",
    )


def removal_table(found: Sequence[Removal]) -> Table:
    """Members that come out, and what must stand before each."""
    rows = [
        (_BOX, one.member if not n else "", f"{one.out:%a %-d %b %H:%M}" if not n else "",
         f"{one.closed:%a %-d %b %H:%M}" if not n else "", text)
        for one in found
        for n, text in enumerate(one.shores)
    ]  # fmt: skip
    return Table("Before each removal: shores and spalls", ("stands", "member", "comes out", "closed again", "what"),
                 tuple(rows), f"{SOURCE}. {CAUTION}", name="removals")  # fmt: skip


def week_sheet(plan: Plan, job: Job, yard: Yard, boat: Boat, day: date, *, now: datetime | None = None,
               link: str = "") -> BenchSheet:  # fmt: skip
    """Return the sheet of the week in which a day lies.

    Parameters
    ----------
    plan, job, yard, boat
        What was planned, and from what.
    day : date
    now : datetime, optional
        Drawn as a line on the chart.
    link : str
        Address of the plan's page.
    """
    days = week_of(day)
    first, last = days[0], days[-1]
    tables = [day_table(plan, yard, person.name, days) for person in yard.people]
    out = removals(plan, job, yard, first, last)
    signed = holds(plan, first, last)
    busy = [table for table in tables if table.rows]
    on_jig = [e for e in plan.entries if e.op.endswith((": set", ": release")) and first <= e.starts.date() <= last]
    return BenchSheet(
        title=f"Work, week of {first:%-d %B %Y}",
        boat=boat.name,
        member="the yard",
        revision=plan.made_from,
        link=link,
        drawings=((f"{first:%-d %b} to {last:%-d %b}", plan_chart(plan, yard, first=first, last=last, now=now,
                                                                   links=False)),),
        tables=(*busy, *([hold_table(signed)] if signed else []), *([removal_table(out)] if out else [])),
        cautions=(CAUTION,) if out else (),
        notes=() if busy else ("No work is planned in this week.",),
        summary=(
            ("plan made", f"{plan.made:%a %-d %b %Y %H:%M}"),
            ("finish of all", f"{plan.finish:%a %-d %b %Y}"),
            ("on the jig", ", ".join(f"{e.told}, {e.starts:%a %H:%M}" for e in on_jig) or "–"),
            ("comes out", ", ".join(f"{one.member}, {one.out:%a %H:%M}" for one in out) or "nothing"),
        ),
    )  # fmt: skip


def outcome_table(outcomes: Sequence[Outcome]) -> Table:
    """What-if: finish dates side by side."""
    base = next((one.plan for one in outcomes if one.plan), None)
    rows = []
    for one in outcomes:
        if one.plan is None or base is None:
            rows.append((one.name, "–", "–", "–", one.why_not))
            continue
        later = days_later(one, base.finish.date())
        told = "–" if one.plan is base else f"{later:+d}" if later else "0"
        proved = "best possible" if one.plan.proved else f"at most {one.plan.gap:.0%} better"
        rows.append((one.name, f"{one.plan.finish:%a %-d %b %Y}", told, f"{one.plan.value:.1f}", proved))
    return Table("Finish, side by side", ("what if", "finish", "days later", "shop days", "proved"), tuple(rows),
                 "Each planned with the same time to search; where more is possible, a longer search may change the "
                 "date.", name="what-if")  # fmt: skip


def order_table(orders: Sequence[ToOrder], units: Units) -> Table:
    """Timber to order by length and thickness."""
    return Table(
        "Timber to order",
        ("timber", f"sawn ({thin_unit(units)})", "pieces", "metres", f"longest ({unit(units)})",
         f"widest ({unit(units)})", "net (m³)", "order (m³)", "for"),
        tuple(
            (o.timber, thin_figure(o.thickness_mm, units), f"{o.pieces}", f"{o.metres:.1f}",
             sized(o.longest_mm, units).removesuffix(" mm"), sized(o.widest_mm, units).removesuffix(" mm"),
             f"{o.net_m3:.3f}", f"{o.order_m3:.3f}", ", ".join(o.members))
            for o in orders
        ),
        "Sizes as sawn, planing allowed for. The timber page lays planks on real boards and tells more.",
        name="order",
    )  # fmt: skip


def cost_table(costs: Costs) -> Table:
    """Planned beside used."""

    def money(value: float | None) -> str:
        return "–" if value is None else f"{value:.2f}"

    def amount(line: Line, value: float) -> str:
        return f"{value:.{ {'m³': 3, 'pieces': 0}.get(line.unit, 1) }f}"

    rows = [
        (line.what, line.unit, amount(line, line.planned), amount(line, line.used),
         amount(line, line.planned - line.used), money(line.price), money(line.cost), money(line.used_cost))
        for line in costs.lines
    ]  # fmt: skip
    rows.append(("together", "", "", "", "", "", money(costs.cost), money(costs.used_cost)))
    note = f"No price: {', '.join(costs.unpriced)}." if costs.unpriced else ""
    return Table("Planned and used", ("what", "unit", "planned", "used", "left", "price", "cost planned", "cost used"),
                 tuple(rows), note, name="costs")  # fmt: skip
