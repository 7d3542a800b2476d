"""`scrieve plan`: the work planned, shown, recorded, compared; and projects in general."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

import click
from sqlalchemy import Engine

from scrieve import store
from scrieve.chain import Kept
from scrieve.cli.common import AS_JSON, BOAT, BoatFirst, dump, opened, progress, read_file, say_all, table
from scrieve.errors import BadPlan
from scrieve.frames.design import FrameDesign
from scrieve.sheets.bench import Table
from scrieve.sheets.pdf import bench_sheet_pdf
from scrieve.sheets.plan_sheet import cost_table, order_table, outcome_table, week_sheet
from scrieve.store.kept import kept
from scrieve.web.workplan import work as plan_work
from scrieve.web.workplan.work import Stand
from scrieve.workplan.daily import at_hand, day_of, removals, week_of
from scrieve.workplan.durations import parse_duration
from scrieve.workplan.plan import Plan
from scrieve.workplan.project import schedule
from scrieve.workplan.project_file import read_project
from scrieve.workplan.search import Progress
from scrieve.workplan.solve import make_plan
from scrieve.workplan.status import RECORD, waits_for
from scrieve.workplan.support import CAUTION
from scrieve.workplan.whatif import compare, usual_changes
from scrieve.workplan.work import prepare
from scrieve.workplan.yard import Yard

_AHEAD = 45
_DAY = click.option("--day", help="A day such as 2026-03-04; today if not given.")


@click.group(cls=BoatFirst)
@BOAT
@click.pass_context
def plan(ctx: click.Context, boat: Path) -> None:
    """The work plan of BOAT: who does what next, and what was done."""
    ctx.obj = boat


def _gathered(engine: Engine) -> tuple[Kept, Stand, plan_work.FrameOf]:
    work = kept(engine)

    def frame(label: str) -> tuple[FrameDesign, str]:
        return work.frame(label), work.frame_revision(label)

    return work, plan_work.stand(engine, work, frame, work.plank), frame


def _tick(what: str, seconds: float) -> Any:
    told = progress()

    def tick(now: Progress) -> bool:
        best = "" if now.best is None else f", best so far {now.best:.1f}"
        least = "" if not now.bound or now.bound < 0 else f", none under {now.bound:.1f}"
        told(f"{what}: {now.what}{best}{least}", min(now.seconds / seconds, 0.99))
        return True

    return tick


def _day(text: str | None, what: str = "--day") -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise BadPlan(f"{what}: found {text!r}; expected such as 2026-03-04.") from None


def _told(found: Table) -> list[str]:
    return ["", found.title, table([found.columns, *found.rows]), *([found.note] if found.note else [])]


def _the_plan(stand: Stand) -> Plan:
    if stand.plan is None:
        raise BadPlan("there is no plan yet; make one with 'scrieve plan BOAT make'.")
    return stand.plan


@plan.command()
@click.option("--begin", help="Begin on this day; now if not given.")
@click.option("--anew", is_flag=True, help="Pass over the plan that is kept; else little of it is moved.")
@click.option("--seconds", type=click.FloatRange(1, 3600), help="Search for at most so long; the yard's if not given.")
@AS_JSON
@click.pass_obj
def make(boat: Path, begin: str | None, anew: bool, seconds: float | None, as_json: bool) -> None:
    """Plan the work that is left, from where it stands, and keep the plan in BOAT."""
    with opened(boat) as engine:
        work, stand, frame = _gathered(engine)
        say_all(stand.said)
        if not stand.job.members:
            raise BadPlan("there is nothing to plan: design a frame pair with 'scrieve frame' or draw a plank first.")
        now = plan_work.next_quarter(plan_work.clock())
        day = _day(begin, "--begin")
        if day is not None and day > now.date():
            now = datetime(day.year, day.month, day.day)
        limit = seconds or stand.yard.seconds
        told = progress()

        def setting(what: str) -> bool:
            told(what, 0.0)
            return True

        whole = replace(stand.job, setups=plan_work.setups(engine, stand, frame, work.boat.units, setting))
        found = make_plan(stand.yard, whole, now, before=None if anew else stand.plan, seconds=limit,
                          tick=_tick("planning", limit), made_from=stand.made_from)  # fmt: skip
        plan_work.keep_plan(engine, found)
    if as_json:
        click.echo(dump(found.to_mapping() | {"finish": found.finish.isoformat(), "gap": found.gap}))
        return
    _show(found)


def _show(found: Plan) -> None:
    unit = "people" if found.aim == "people" else "days of the shop"
    proved = "no better is possible" if found.proved else f"at most {found.gap:.0%} better is possible"
    lines = [f"{len(found.entries)} operations, finished {found.finish:%a %d %b %Y %H:%M}: {found.value:.1f} {unit}; "
             f"{proved}."]  # fmt: skip
    if found.late_days:
        lines.append(f"{found.late_days:.1f} days of the shop after the dates that members were wanted by, together.")
    if found.moved is not None:
        lines.append(f"{found.moved} operations start at another time than in the plan before.")
    lines.append(f"On the jig: {', '.join(found.jig_order) or '–'}.")
    lines.append(f"Coming out: {', '.join(found.hull_order) or '–'}.")
    click.echo("\n".join(lines))


@plan.command()
@AS_JSON
@click.pass_obj
def show(boat: Path, as_json: bool) -> None:
    """The plan that is kept: every operation with its time and people."""
    with opened(boat) as engine:
        _, stand, _ = _gathered(engine)
    found = _the_plan(stand)
    if as_json:
        click.echo(
            dump(found.to_mapping() | {"finish": found.finish.isoformat(), "gap": found.gap, "stale": stand.stale})
        )
        return
    if stand.stale:
        say_all(["the yard or what is to be made has changed since this plan was made"])
    _show(found)
    rows = [("operation", "from", "to", "by")]
    rows += [(e.op, f"{e.starts:%a %d %b %H:%M}", f"{e.ends:%a %d %b %H:%M}", ", ".join(e.people))
             for e in found.entries]  # fmt: skip
    click.echo(table(rows))


@plan.command()
@click.option("--who", help="One person; everybody if not given.")
@_DAY
@AS_JSON
@click.pass_obj
def today(boat: Path, who: str | None, day: str | None, as_json: bool) -> None:
    """What each person does on a day, and what must stand before anything comes out."""
    with opened(boat) as engine:
        _, stand, _ = _gathered(engine)
    found = _the_plan(stand)
    usual = at_hand(stand.yard, plan_work.clock(), who or "")
    at = _day(day) or usual.day
    names = [person.name for person in stand.yard.people if who in (None, person.name)]
    if not names:
        raise BadPlan(f"nobody is called {who!r}; there are {', '.join(p.name for p in stand.yard.people)}.")
    days = [day_of(found, stand.yard, name, at) for name in names]
    out = removals(found, stand.job, stand.yard, at, at)
    if as_json:
        click.echo(dump({
            "day": at.isoformat(),
            "why": usual.why if at == usual.day else "",
            "people": [{"name": one.person, "away": one.away, "work": [
                {"op": p.entry.op, "from": p.starts.isoformat(), "to": p.ends.isoformat()} for p in one.pieces
            ]} for one in days],
            "removals": [{"member": one.member, "shores": list(one.shores)} for one in out],
            "caution": CAUTION if out else "",
        }))  # fmt: skip
        return
    lines = [f"{at:%A %d %B %Y}"]
    if usual.why and at == usual.day:
        lines.append(f"{usual.why}: this is the next working day.")
    for one in days:
        lines += ["", one.person + (": away" if one.away else "" if one.pieces else ": nothing planned")]
        lines += [f"  {p.starts:%H:%M}-{p.ends:%H:%M}  {p.entry.told}" for p in one.pieces]
    for each in out:
        lines += ["", f"Before {each.member} comes out:", *(f"  [ ] {text}" for text in each.shores)]
    click.echo("\n".join([*lines, *(["", CAUTION] if out else [])]))


@plan.command()
@AS_JSON
@click.pass_obj
def waits(boat: Path, as_json: bool) -> None:
    """What may begin now, and what every other operation waits for."""
    with opened(boat) as engine:
        _, stand, _ = _gathered(engine)
    work = prepare(stand.yard, stand.job, plan_work.clock(), _AHEAD)
    found = {op.name: waits_for(work, op.name) for op in work.ops}
    if as_json:
        click.echo(dump({op: [asdict(one) | {"until": one.until.isoformat() if one.until else None} for one in before]
                         for op, before in found.items()}))  # fmt: skip
        return
    for op, before in found.items():
        told = "; ".join(f"{one.op} ({one.why})" for one in before)
        click.echo(f"{op} waits for {told}" if told else f"{op} may begin")


@plan.command()
@click.argument("op")
@click.argument("what", type=click.Choice(["begun", "finished", "signed", "undone"]))
@click.option("--who", multiple=True, help="By whom; may be given several times. Those planned if not given.")
@click.option("--at", help="When, as 2026-03-04T14:30; now if not given.")
@click.option("--took", help="Time that it took, as 90 min or 1:30.")
@click.option("--note", default="", help="A note.")
@click.option("--pin-file", type=click.Path(path_type=Path),
              help="Take the PIN of who signs from this file's first line.")  # fmt: skip
@AS_JSON
@click.pass_obj
def did(boat: Path, op: str, what: str, who: tuple[str, ...], at: str | None, took: str | None, note: str,
        pin_file: Path | None, as_json: bool) -> None:  # fmt: skip
    """Record that the operation OP ('frame 14: rip') was begun, finished or signed, or that it was not so."""
    with opened(boat) as engine:
        _, stand, _ = _gathered(engine)
        try:
            when = datetime.fromisoformat(at).replace(tzinfo=None) if at else None
        except ValueError:
            raise BadPlan(f"--at: found {at!r}; expected such as 2026-03-04T14:30.") from None
        minutes = parse_duration(took, "--took") if took else None
        pin = read_file(pin_file).decode(errors="replace").partition("\n")[0].strip() if pin_file else ""
        number = plan_work.add_work(engine, stand, op, what, who, pin=pin, at=when, minutes=minutes, note=note,
                                    others=False)  # fmt: skip
        kept = next(each for each in store.records(engine, RECORD) if each.number == number)
    click.echo(dump({"record": number, **kept.detail}) if as_json else f"record {number}: {op}, {what}.")


@plan.command(name="what-if")
@click.option("--away", default="", help="Who is away; the last in the list if not given.")
@click.option("--days", type=click.IntRange(1, 365), default=10, help="For how many days (at first 10).")
@click.option(
    "--colder", type=click.FloatRange(0.1, 40), default=5.0, help="How much colder the shed, in K (at first 5)."
)
@click.option("--seconds", type=click.FloatRange(1, 600), default=20.0, help="Search for each (at first 20).")
@AS_JSON
@click.pass_obj
def what_if(boat: Path, away: str, days: int, colder: float, seconds: float, as_json: bool) -> None:
    """Finish dates side by side: as it is, one jig more, a colder shed, one person away. Nothing is kept."""
    with opened(boat) as engine:
        work, stand, frame = _gathered(engine)
        if not stand.job.members:
            raise BadPlan("there is nothing to plan: design a frame pair or draw a plank first.")
        now = plan_work.next_quarter(plan_work.clock())
        whole = replace(stand.job, setups=plan_work.setups(engine, stand, frame, work.boat.units, lambda _: True))
    changes = usual_changes(stand.yard, now, away=away, away_days=days, colder_k=colder)
    found = compare(changes, whole, now, seconds=seconds, tick=_tick("what if", seconds))
    if as_json:
        told = [{"what": one.name, "why_not": one.why_not, "proved": one.plan.proved if one.plan else None,
                 "finish": one.plan.finish.isoformat() if one.plan else None} for one in found]  # fmt: skip
        click.echo(dump(told))
        return
    click.echo("\n".join(_told(outcome_table(found))[1:]))


@plan.command(name="costs")
@AS_JSON
@click.pass_obj
def costs_(boat: Path, as_json: bool) -> None:
    """What is to be ordered, what it costs by the prices kept, and what was used."""
    with opened(boat) as engine:
        work, stand, frame = _gathered(engine)
        pieces, goods = plan_work.all_goods(engine, stand, frame, work.plank)
        found = plan_work.costs_of(engine, stand, pieces, goods, plan_work.prices(engine))
    if as_json:
        click.echo(dump({"lines": [asdict(line) | {"cost": line.cost} for line in found.lines],
                         "orders": [asdict(one) for one in found.orders], "cost": found.cost, "used": found.used_cost,
                         "workings": [asdict(one) for one in found.workings]}))  # fmt: skip
        return
    lines = _told(order_table(found.orders, work.boat.units)) + _told(cost_table(found))
    click.echo("\n".join(lines[1:]))


@plan.command()
@click.option("--to", "to", type=click.Path(path_type=Path), required=True, help="The file to write; needed.")
@_DAY
@AS_JSON
@click.pass_obj
def week(boat: Path, to: Path, day: str | None, as_json: bool) -> None:
    """Write the sheet of the week in which a day lies, as a PDF."""
    with opened(boat) as engine:
        work, stand, _ = _gathered(engine)
    now = plan_work.clock()
    at = _day(day) or at_hand(stand.yard, now).day
    sheet = week_sheet(_the_plan(stand), stand.job, stand.yard, work.boat, at, now=now)
    try:
        to.write_bytes(bench_sheet_pdf(sheet, date=f"{now:%Y-%m-%d}"))
    except OSError as error:
        raise BadPlan(f"{to}: cannot be written ({error.strerror}); choose a folder you may write to.") from error
    first = week_of(at)[0]
    click.echo(dump({"file": str(to), "week": first.isoformat()}) if as_json else f"week of {first:%d %B %Y}: {to}")


@plan.command(name="yard")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@AS_JSON
@click.pass_obj
def yard_(boat: Path, file: Path | None, as_json: bool) -> None:
    """The yard as it is kept: people, hours, machines, times, rules. FILE (JSON, as this prints it) settles it anew."""
    with opened(boat) as engine:
        if file is not None:
            try:
                given = json.loads(read_file(file))
            except ValueError as error:
                raise BadPlan(f"{file}: no JSON ({error}); print the yard, change it, and give that file.") from error
            if not isinstance(given, dict):
                raise BadPlan(f"{file}: expected what this command prints as JSON.")
            plan_work.keep_yard(engine, Yard.from_mapping(given))
        yard = plan_work.yard_of(engine)
    if as_json:
        click.echo(json.dumps(yard.to_mapping(), indent=1))
        return
    lines = [
        f"{len(yard.people)} people: " + "; ".join(f"{p.name} ({', '.join(sorted(p.skills))})" for p in yard.people)
    ]
    lines.append(f"{yard.jigs} jig(s), {yard.clamps} clamps; glue: {yard.glue}; sought: {yard.aim}")
    lines.append(f"{yard.hull.sound_between} sound frames between two that are out, {yard.hull.frames_out} pairs out, "
                 f"{yard.hull.planks_off} plank(s) off a side at once")  # fmt: skip
    click.echo("\n".join(lines))


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--seconds", type=click.FloatRange(0.1, 3600), default=10.0, help="Search for at most so long (at first 10)."
)
@AS_JSON
def project(file: Path, seconds: float, as_json: bool) -> None:
    """The shortest schedule of a project in the .sm text format: tasks, precedence, renewable resources."""
    found = schedule(
        read_project(read_file(file).decode("latin-1"), file.name), seconds, tick=_tick("schedule", seconds)
    )
    if as_json:
        click.echo(dump(asdict(found) | {"gap": found.gap}))
        return
    proved = "no shorter one is possible" if found.proved else f"none under {found.bound} is possible"
    click.echo(f"{found.length} units of time; {proved}.")
    click.echo(table([("job", "starts"), *((str(n), str(at)) for n, at in enumerate(found.starts, 1))]))
