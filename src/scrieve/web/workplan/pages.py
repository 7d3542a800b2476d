"""The work plan: the chart, today, what waits on what, the yard, what-if, costs, and the week's sheet."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import BadPlan, ScrieveError
from scrieve.frames.design import FrameDesign
from scrieve.jobs.work_plan import PLAN
from scrieve.planking import PlankDesign
from scrieve.sheets.pdf import bench_sheet_pdf
from scrieve.sheets.plan_chart import plan_chart
from scrieve.sheets.plan_sheet import (
    cost_table,
    hold_table,
    order_table,
    outcome_table,
    week_sheet,
)
from scrieve.store import Conflict
from scrieve.timber.data_sheet import data_sheet
from scrieve.timber.glue import glue_names
from scrieve.web.column_whys import column_whys
from scrieve.web.forms import Sent
from scrieve.web.people.signing import needs_pin
from scrieve.web.people.who import who
from scrieve.web.settling import as_seen, keep_settled, not_changed
from scrieve.web.sheet_pages import code_of
from scrieve.web.views import View
from scrieve.web.workplan import work as plan_work
from scrieve.web.workplan.forms import (
    FORMS,
    amount_typed,
    format_days,
    format_shed,
    parse_day,
    prices_typed,
    times_shown,
)
from scrieve.web.workplan.jobs import compare_now, latest, plan_now
from scrieve.web.workplan.work import PRICES, STRAKES, YARD, Stand
from scrieve.working import Working
from scrieve.workplan.calendar import DAYS, format_hours
from scrieve.workplan.columns import cost_columns, order_columns, outcome_columns
from scrieve.workplan.costs import GOODS, USED, Prices
from scrieve.workplan.daily import Removal, at_hand, day_of, holds, next_open, removals, week_of
from scrieve.workplan.durations import format_duration, parse_duration
from scrieve.workplan.kinds import MACHINES, SKILLS, Kind, kind_of
from scrieve.workplan.plan import Plan
from scrieve.workplan.status import waits_for
from scrieve.workplan.support import CAUTION, SOURCE, shoring
from scrieve.workplan.whatif import usual_changes
from scrieve.workplan.work import Work, prepare
from scrieve.workplan.yard import Yard

pages = APIRouter()
#: How far ahead is looked for what waits on what [days].
#: The longest run of days on one chart.
_CHART_DAYS = 70


def _frame(view: View) -> Callable[[str], tuple[FrameDesign, str]]:
    def frame(label: str) -> tuple[FrameDesign, str]:
        design, _, revision = view.frame(label)
        return design, revision

    return frame


def _plank(view: View) -> Callable[[str], PlankDesign]:
    return lambda name: view.plank(name)[0]


def _stand(view: View) -> Stand:
    return plan_work.stand(view.file.engine, view.kept, _frame(view), _plank(view))


def _live(response: Response) -> Response:
    """What changes by the clock and by what others record is asked for each time."""
    del response.headers["etag"]
    response.headers["cache-control"] = "no-store"
    return response


def _work(found: Stand, now: datetime) -> tuple[Work | None, ScrieveError | None]:
    """The work that is left, or why it cannot be set out."""
    try:
        return prepare(found.yard, found.job, now, plan_work.AHEAD_DAYS), None
    except ScrieveError as error:
        return None, error


@pages.get("/plan")
def plan_page(request: Request, first: Annotated[str, Query(alias="from")] = "") -> Response:
    """The chart, how the search stands, holds and removals; the forms that plan, plan anew, and stop."""
    view = View(request)
    if not view.fairing.done.is_set():
        return view.wait()
    try:
        start = parse_day(first, "from")
    except BadPlan:
        start = None
    return _plan(view, start)


def _plan(view: View, first: date | None = None, error: ScrieveError | None = None) -> Response:
    found, now = _stand(view), plan_work.clock()
    job = latest(view.file.engine, "plan")
    plan = found.plan
    context: dict[str, Any] = {
        "found": found, "plan": plan, "job": job, "running": job is not None and job.running, "error": error,
        "now": now, "failed": job.error if job is not None and not job.running else None, "late": found.late(now),
    }  # fmt: skip
    if plan is not None and plan.entries:
        begins = first or plan.made.date()
        ends = min(plan.finish.date(), begins + timedelta(days=_CHART_DAYS))
        days = (ends - begins).days + 1
        context |= {
            "chart": plan_chart(plan, found.yard, first=begins, last=ends, now=now),
            "weeks": max(1, min(-(-days // 7), 10)),
            "before": begins - timedelta(days=28) if begins > plan.made.date() else None,
            "after": ends + timedelta(days=1) if ends < plan.finish.date() else None,
            "signatures": hold_table(holds(plan)),
            "removals": _removals(plan, found),
            "source": SOURCE,
            "caution": CAUTION,
            "told": _workings(plan, found),
        }
    return _live(view.page("plan.html", 422 if error else 200, **context))


def _removals(plan: Plan, found: Stand) -> tuple[Removal, ...]:
    known = {member.key for member in found.job.members}
    there = tuple(entry for entry in plan.entries if entry.member in known)
    return removals(replace(plan, entries=there), found.job, found.yard)


def _workings(plan: Plan, found: Stand) -> tuple[Working, ...]:
    people = "people" if plan.aim == "people" else "days of the shop"
    least = f"{plan.bound:.1f} {people}"
    rules = found.yard.hull
    return (
        Working("Finish of all", f"{plan.finish:%a %-d %b %Y %H:%M}", "the end of the last operation of the plan",
                (("planned", f"{plan.made:%a %-d %b %H:%M}"), ("operations", f"{len(plan.entries)}"),
                 ("days of the shop", f"{plan.value:.1f}")),
                "docs/work-plan.md; times of the yard: common practice, no source, until your own stand"),
        Working("Proved", "no better is possible" if plan.proved else f"at most {plan.gap:.0%} better",
                "(found - least possible) / found",
                (("found", f"{plan.value:.1f} {people}"), ("least possible", least),
                 ("searched", f"{plan.seconds:.0f} s")),
                "bound of the search (constraint programming), for these times, hours and rules"),
        Working("Hull support", f"{rules.sound_between} sound frames between",
                "no two nearer than that are out at once",
                (("frame pairs out at once, at most", f"{rules.frames_out}"),
                 ("planks off a side, at most", f"{rules.planks_off}"),
                 ("strakes between planks off", f"{rules.strakes_between}")), SOURCE, CAUTION),
    )  # fmt: skip


def seek(view: View, day: date | None = None, *, anew: bool) -> None:
    """Begin to seek a plan from a day on, or from now: `anew`, or with little moved.

    Raises
    ------
    BadPlan
        There is nothing to plan, or the work cannot be set out.
    """
    found = _stand(view)
    if not found.job.members:
        raise BadPlan("there is nothing to plan: design a frame pair or draw a plank first.")
    now = plan_work.next_quarter(plan_work.clock())
    if day is not None and day > now.date():
        now = datetime(day.year, day.month, day.day)
    prepare(found.yard, found.job, now, plan_work.AHEAD_DAYS)
    plan_now(view.file.engine, found, now, found.yard.seconds, None if anew else found.plan)


@pages.post("/plan")
def act(request: Request, sent: Sent) -> Response:
    """Begin to plan (anew with little moved, or from nothing), stop, or forget the plan."""
    view = View(request)
    do = sent.get("do", "")
    engine = view.file.engine
    try:
        if do == "stop":
            job = latest(engine, "plan")
            if job is not None:
                job.stop.set()
                job.done.wait(5.0)
        elif do == "forget":
            not_changed(engine, "yard", PLAN, sent, _plan_told, _plan_told(None), again="Forget it all the same")
            plan_work.keep_plan(engine, None, who=who())
        elif do in ("make", "again"):
            seek(view, parse_day(sent.get("begin", ""), "begin on"), anew=do == "make")
        else:
            raise BadPlan(f"{do!r} cannot be done here.")
    except Conflict:
        raise
    except ScrieveError as error:
        return _plan(view, error=error)
    return RedirectResponse("/plan", 303)


def _plan_told(plan: Mapping[str, Any] | None) -> Mapping[str, str]:
    """A plan as it is kept, in words."""
    if plan is None:
        return {"plan": "none"}
    found = Plan.from_mapping(plan)
    return {"planned": f"{found.made:%a %-d %b %H:%M}", "operations": f"{len(found.entries)}",
            "finish of all": f"{found.finish:%a %-d %b %Y %H:%M}"}  # fmt: skip


@pages.get("/plan/today")
def today(
    request: Request,
    person: Annotated[str, Query(alias="who")] = "",
    day: Annotated[str, Query()] = "",
) -> Response:
    """What each person, or one, does on one day; with buttons that record it."""
    view = View(request)
    if not view.fairing.done.is_set():
        return view.wait()
    return _today(view, person, day)


def _today(view: View, person: str = "", day: str = "", error: ScrieveError | None = None) -> Response:
    found, now = _stand(view), plan_work.clock()
    usual = at_hand(found.yard, now, person)
    try:
        at = parse_day(day, "day") or usual.day
    except BadPlan:
        at = usual.day
    people = [p for p in found.yard.people if person in ("", p.name)] or list(found.yard.people)
    work, cannot = _work(found, now)
    days = [day_of(found.plan, found.yard, p.name, at) for p in people] if found.plan else []
    behind = found.late(datetime.combine(at, datetime.min.time()))
    return _live(view.page(
        "plan_today.html", 422 if error else 200, found=found, plan=found.plan, days=days, day=at, now=now,
        why=usual.why if at == usual.day else "",
        person=person, error=error or cannot, behind=[found.plan.by_op[op] for op in behind] if found.plan else [],
        waits={op.name: waits_for(work, op.name) for op in work.ops} if work else {},
        shores=lambda member: shoring(found.job, found.job.member(member), found.yard.hull), caution=CAUTION,
        yesterday=at - timedelta(days=1), tomorrow=next_open(found.yard, at + timedelta(days=1)),
        key=lambda op, what: view.key("work", op, what), needs_pin=needs_pin(view.file.engine),
    ))  # fmt: skip


@pages.post("/plan/work")
def record(request: Request, sent: Sent) -> Response:
    """Record that an operation was begun, finished or signed, or that it was not so."""
    view = View(request)
    op, what = sent.get("op", ""), sent.get("what", "")
    back = sent.get("back", "")
    try:
        at = datetime.fromisoformat(sent["at"]).replace(tzinfo=None) if sent.get("at") else None
        named = [name for name in (part.strip() for part in sent.get("who", "").split(";")) if name]
        minutes = parse_duration(sent["minutes"], "time it took") if sent.get("minutes", "").strip() else None
        plan_work.add_work(view.file.engine, _stand(view), op, what, named, pin=sent.get("pin", ""), at=at,
                           minutes=minutes, note=sent.get("note", "")[:300], key=sent.get("key") or None)  # fmt: skip
    except ValueError as error:
        told = error if isinstance(error, ScrieveError) else BadPlan("the time could not be read; leave it empty.")
        return _today(View(request), error=told)
    return RedirectResponse(back if back.startswith("/plan") else "/plan/today", 303)


def _kind(op: str) -> Kind:
    member, _, key = op.rpartition(": ")
    return kind_of("frame" if member.startswith("frame ") else "plank", key)


@pages.get("/plan/waits")
def waits(request: Request, member: Annotated[str, Query()] = "") -> Response:
    """Every operation of every member, or of one: done, under way, may begin, or what it waits for."""
    view = View(request)
    if not view.fairing.done.is_set():
        return view.wait()
    found, now = _stand(view), plan_work.clock()
    work, cannot = _work(found, now)
    members = [m for m in found.job.members if member in ("", m.key)] or list(found.job.members)
    rows = []
    for one in members:
        lines = []
        for op in one.ops:
            did = found.job.done.get(op)
            state = "done" if did and did.finished else "under way" if did else "left"
            waiting = waits_for(work, op) if work and state == "left" else ()
            lines.append((op, state, did, waiting, found.plan.by_op.get(op) if found.plan else None))
        rows.append((one, lines, shoring(found.job, one, found.yard.hull)))
    return _live(view.page("plan_waits.html", found=found, rows=rows, error=cannot, member=member,
                           caution=CAUTION, kind=_kind,
                           now=now, key=lambda op, what: view.key("work", op, what),
                           needs_pin=needs_pin(view.file.engine)))  # fmt: skip


@pages.get("/plan/yard")
def yard_page(request: Request) -> Response:
    """The yard: hours, people, machines, times, waits, rules of the hull, what is sought."""
    view = View(request)
    if not view.fairing.done.is_set():
        return view.wait()
    return _yard(view)


def _yard(view: View, typed: dict[str, str] | None = None, error: ScrieveError | None = None) -> Response:
    found = _stand(view)
    yard = found.yard
    usual = data_sheet(yard.glue, {})
    clamp = {name: data_sheet(yard.glue, yard.sheet)[name] for name in ("clamp_h", "full_cure_h") if usual.has(name)}
    return _live(view.page(
        "plan_yard.html", 422 if error else 200, found=found, yard=yard, error=error, typed=typed or {},
        at=(typed or {}).get("do", ""), week={day: format_hours(yard.week.get(day, ())) for day in DAYS},
        closed=format_days(yard.closed), off={p.name: format_days(p.off) for p in yard.people}, skills=SKILLS,
        machines={name: yard.machines.get(name, 1) for name in MACHINES}, times=times_shown(yard),
        shed=format_shed(yard.shed), read=next((r for r in found.job.readings[::-1] if not r.member), None),
        glues=glue_names(), clamp=clamp, paint=format_duration(yard.paint_h * 60),
        source=SOURCE, caution=CAUTION,
    ))  # fmt: skip


@pages.post("/plan/yard")
def keep_yard(request: Request, sent: Sent) -> Response:
    """Keep what one form of the yard's page says, by its word under `do`."""
    view = View(request)
    do, engine = sent.get("do", ""), view.file.engine
    try:
        if do == "strakes":
            found = {name: sent[f"strake {n}"] for n, name in enumerate(view.kept.planks) if f"strake {n}" in sent}
            if bad := [text for text in found.values() if text.strip() and not text.strip().isdigit()]:
                raise BadPlan(f"strake: found {bad[0]!r}; count strakes from the keel, 1 for the garboard.")
            strakes = plan_work.checked_strakes({name: int(t) for name, t in found.items() if t.strip()})
            keep_settled(engine, "yard", STRAKES, strakes, sent)
        elif do in FORMS:
            was = Yard.from_mapping(as_seen(engine, "yard", YARD, sent))
            before, made = was.to_mapping(), FORMS[do](was, sent).to_mapping()
            changed = {name: value for name, value in made.items() if value != before[name]}
            usual = Yard().to_mapping()
            keep_settled(engine, "yard", YARD, changed, sent, alone=False, usual=usual, fit=Yard.from_mapping)
        else:
            raise BadPlan(f"{do!r} cannot be done here.")
    except Conflict:
        raise
    except ScrieveError as error:
        return _yard(view, sent, error)
    return RedirectResponse(f"/plan/yard#{do}", 303)


@pages.get("/plan/what-if")
def what_if(request: Request) -> Response:
    """Finish dates side by side: a second jig, a colder shed, one person away."""
    view = View(request)
    if not view.fairing.done.is_set():
        return view.wait()
    return _what_if(view)


def _what_if(view: View, sent: dict[str, str] | None = None, error: ScrieveError | None = None) -> Response:
    found = _stand(view)
    job = latest(view.file.engine, "what-if")
    ended = job is not None and not job.running
    outcomes = job.outcomes if ended and job else ()
    table = outcome_table(outcomes) if outcomes else None
    return _live(view.page(
        "plan_whatif.html", 422 if error else 200, found=found, job=job, running=job is not None and job.running,
        error=error, failed=job.error if ended and job else None, sent=sent or {}, outcome=table,
        whys=column_whys(table, outcome_columns(outcomes), view.boat.units) if table else (),
    ))  # fmt: skip


@pages.post("/plan/what-if")
def begin_what_if(request: Request, sent: Sent) -> Response:
    """Begin to plan each change, or stop."""
    view = View(request)
    try:
        if sent.get("do") == "stop":
            job = latest(view.file.engine, "what-if")
            if job is not None:
                job.stop.set()
                job.done.wait(5.0)
            return RedirectResponse("/plan/what-if", 303)
        days, colder, seconds = (
            _count(sent, name, usual) for name, usual in (("days", 10), ("colder", 5), ("seconds", 20))
        )
        begin_changes(view, away=sent.get("away", ""), away_days=int(days), colder_k=colder, seconds=seconds)
    except ScrieveError as error:
        return _what_if(view, sent, error)
    return RedirectResponse("/plan/what-if", 303)


def begin_changes(view: View, *, away: str, away_days: int, colder_k: float, seconds: float) -> None:
    """Begin to plan the work under each usual change of the yard, side by side.

    Raises
    ------
    BadPlan
        There is nothing to plan, or no time to search in.
    """
    found = _stand(view)
    if not found.job.members:
        raise BadPlan("there is nothing to plan: design a frame pair or draw a plank first.")
    now = plan_work.next_quarter(plan_work.clock())
    changes = usual_changes(found.yard, now, away=away, away_days=away_days, colder_k=colder_k,
                            jigs=found.yard.jigs + 1)  # fmt: skip
    if not 1 <= seconds <= 600:
        raise BadPlan(f"seconds for each: {seconds:g}; give 1 to 600.")
    prepare(found.yard, found.job, now, plan_work.AHEAD_DAYS)
    compare_now(view.file.engine, found, now, seconds, changes)


def _count(sent: dict[str, str], name: str, usual: float) -> float:
    text = sent.get(name, "").strip()
    try:
        return float(text) if text else usual
    except ValueError:
        raise BadPlan(f"{name}: found {text!r}; expected a number.") from None


@pages.get("/plan/costs")
def costs_page(request: Request) -> Response:
    """What is to be ordered, what it costs, and what was used."""
    view = View(request)
    if not view.fairing.done.is_set():
        return view.wait()
    return _costs(view)


def _costs(view: View, sent: dict[str, str] | None = None, error: ScrieveError | None = None) -> Response:
    found, engine = _stand(view), view.file.engine
    prices = plan_work.prices(engine)
    pieces, goods = plan_work.all_goods(engine, found, _frame(view), _plank(view))
    result = plan_work.costs_of(engine, found, pieces, goods, prices)
    timbers = sorted({piece.timber for piece in pieces})
    units = view.boat.units
    money, order = cost_table(result), order_table(result.orders, units)
    return _live(view.page(
        "plan_costs.html", 422 if error else 200, found=found, result=result, prices=prices, timbers=timbers,
        goods=GOODS, error=error,
        tables=[(money, column_whys(money, cost_columns(result, prices.waste), units)),
                (order, column_whys(order, order_columns(result.orders, prices.waste), units))],
        sent=sent or {}, used=store.records(engine, USED)[::-1],
    ))  # fmt: skip


@pages.post("/plan/costs")
def keep_costs(request: Request, sent: Sent) -> Response:
    """Keep prices, or what was used."""
    view = View(request)
    engine = view.file.engine
    try:
        if sent.get("do") == "used":
            detail = amount_typed(sent)
            store.add_record(engine, USED, "", detail, key=sent.get("key") or None, who=sent.get("who", "") or who())
        else:
            found = _stand(view)
            timbers = sorted({piece.timber for piece in plan_work.materials(found, _frame(view), _plank(view))[0]})
            was = Prices.from_mapping(as_seen(engine, "yard", PRICES, sent))
            made = prices_typed(was, sent, timbers).to_mapping()
            keep_settled(engine, "yard", PRICES, made, sent, usual=Prices.from_mapping(None).to_mapping())
    except Conflict:
        raise
    except ScrieveError as error:
        return _costs(view, sent, error)
    return RedirectResponse("/plan/costs", 303)


@pages.get("/plan/week.pdf")
def week_pdf(request: Request, first: Annotated[str, Query(alias="from")] = "") -> Response:
    """The sheet of one week, to be printed."""
    view = View(request)
    found, now = _stand(view), plan_work.clock()
    if found.plan is None:
        return RedirectResponse("/plan", 303)
    day = parse_day(first, "from") or at_hand(found.yard, now).day
    link = code_of(view, "/plan", found.plan.made_from)
    sheet = week_sheet(found.plan, found.job, found.yard, view.boat, day, now=now, link=link)
    name = f"week-{week_of(day)[0].isoformat()}.pdf"
    head = {"Content-Disposition": f'inline; filename="{name}"', "Cache-Control": "no-store"}
    return Response(bench_sheet_pdf(sheet, date=f"{now:%Y-%m-%d}"), media_type="application/pdf", headers=head)
