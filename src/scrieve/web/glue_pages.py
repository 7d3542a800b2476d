"""The glue-up of a frame pair: the day typed, the card, what must be signed, and what was done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Annotated, Any
from urllib.parse import parse_qsl, quote, urlencode, urlsplit

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import BadLamination, NoSuchFrame, ScrieveError
from scrieve.frames.design import FrameDesign
from scrieve.frames.glue_up import GlueUpCard, GlueUpPlan, card_for
from scrieve.frames.off_jig import as_glued
from scrieve.revision import revision as revision_of
from scrieve.sheets.glue_sheet import glue_bench_sheet, glue_summary, glue_tables
from scrieve.sheets.pack import file_name
from scrieve.sheets.pdf import bench_sheet_pdf
from scrieve.timber.data_sheet import FIGURES, DataSheet, data_sheet
from scrieve.web.addresses import own_path
from scrieve.web.forms import Sent
from scrieve.web.glue_forms import AS_IF, PLAN, Day, own_shown, own_typed, plan_kept, plan_typed
from scrieve.web.views import View, small_unit
from scrieve.wording import in_units

pages = APIRouter()
_WHO = "pages"
#: The shop's plan is kept under this name.
PLAN_NAME = "glue-up"


@dataclass(frozen=True)
class GlueUp:
    """A frame pair's glue-up as its page shows it."""

    frame: str
    design: FrameDesign
    revision: str
    sheet: DataSheet
    plan: GlueUpPlan
    day: Day
    card: GlueUpCard
    signed: Mapping[str, str]


def glue_path(frame: str, day: Day | None = None) -> str:
    """Path of a frame's glue-up page."""
    return "/glue-up?" + urlencode({"frame": frame, **(day.asked if day else {})}, quote_via=quote)


def own_sheet(view: View, design: FrameDesign) -> DataSheet:
    """The data sheet of the frame's glue: the builder's figures over the family's, the frame's own spread between."""
    choice = design.choice
    kept = store.choices(view.file.engine, "glue").get(choice.glue, {})
    own: dict[str, Any] = {"spread_g_m2": choice.spread_g_m2} if choice.spread_g_m2 else {}
    return data_sheet(choice.glue, own | kept.get("own", {}), kept.get("source", ""))


def glue_up(view: View, frame: str, day: Day) -> GlueUp:
    """Reckon the glue-up of a frame.

    Raises
    ------
    ScrieveError
        The frame cannot be designed, or what was typed cannot be read.
    """
    view.ready()
    design, _, revision = view.frame(frame)
    sheet = own_sheet(view, design)
    plan = plan_kept(store.choices(view.file.engine, "yard").get(PLAN_NAME), day.people)
    card = card_for(design, day.conditions(), plan, sheet)
    signed = {
        record.detail["key"]: f"{record.detail['name']}, {record.at[:16].replace('T', ' ')}"
        for record in store.records(view.file.engine, "signature", frame)
        if "key" in record.detail and "name" in record.detail
    }
    _ = day.start_min
    return GlueUp(frame, design, revision, sheet, plan, day, card, signed)


@pages.get("/glue-up")
def page(request: Request, frame: Annotated[str, Query()] = "") -> Response:
    """The card of a frame's glue-up; without a frame, the frames that have been designed."""
    view = View(request)
    if early := view.early():
        return early
    if not frame:
        return view.page(
            "glue_list.html", frames=list(view.kept.frames), path=glue_path, what="Glue-up", done=_done(view)
        )
    return _page(view, frame, Day.typed(request.query_params))


def _done(view: View) -> dict[str, str]:
    return {record.member: f"glued {record.at[:10]}" for record in store.records(view.file.engine, "glue-up")}


def _page(
    view: View,
    frame: str,
    day: Day,
    *,
    error: ScrieveError | None = None,
    at: str = "",
    typed: Mapping[str, str] | None = None,
) -> Response:
    """The page; `error` is what was refused in the form `at`, `typed` what was sent with it."""
    status = 422 if error else 200
    try:
        found = glue_up(view, frame, day)
    except BadLamination as refused:
        if at == "day":
            raise
        return _page(view, frame, Day(), error=refused, at="day", typed=asdict(day))
    units = view.boat.units
    card = found.card
    shown = {name: own_shown(found.sheet, name, units) for name in found.sheet.own}
    return view.page(
        "glue.html",
        status,
        g=found,
        card=card,
        day=asdict(day) if typed is None or at != "day" else dict(typed),
        day_given=day.given,
        as_if=AS_IF,
        summary_rows=glue_summary(card, units),
        tables=glue_tables(card, units, day.start_min),
        shown_workings=in_units(card.workings, units),
        shown_cautions=in_units(card.cautions, units),
        stops=in_units(card.stops, units),
        figures=[
            (
                name,
                what,
                small_unit(units) if name == "line_mm" else unit,
                (typed or {}).get(name, "") if at == "sheet" else shown.get(name, ""),
                own_shown(data_sheet(found.sheet.family), name, units)
                if data_sheet(found.sheet.family).has(name)
                else "",
            )
            for name, (what, unit, _, _) in FIGURES.items()
        ],
        source=(typed or {}).get("source", "") if at == "sheet" else found.sheet.to_mapping()["source"],
        plan_rows=[
            (
                name,
                what,
                unit,
                (typed or {}).get(name, "") if at == "plan" else _plan_shown(found.plan, name),
            )
            for name, (what, unit) in PLAN.items()
        ],
        records=store.records(view.file.engine, "glue-up", frame)[::-1],
        error=error,
        error_at=at,
        back=glue_path(frame, day),
        pdf="/glue-up/card.pdf?" + glue_path(frame, day).partition("?")[2],
    )


def _plan_shown(plan: GlueUpPlan, name: str) -> str:
    value = getattr(plan, name)
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


@pages.get("/glue-up/card.pdf")
def card_pdf(request: Request, frame: Annotated[str, Query()]) -> Response:
    """The card as a bench sheet, to be printed."""
    view = View(request)
    day = Day.typed(request.query_params)
    found = glue_up(view, frame, day)
    sheet = glue_bench_sheet(found.card, view.boat, found.revision, start_min=day.start_min, signed=found.signed)
    headers = {
        "Content-Disposition": f'attachment; filename="frame-{file_name(frame)}-glue-up.pdf"',
        "Cache-Control": "no-cache",
    }
    return Response(
        bench_sheet_pdf(sheet, date=date.today().isoformat()), media_type="application/pdf", headers=headers
    )


def came_from(sent: Mapping[str, str]) -> tuple[str, Day]:
    """The frame and the day of the page that a form was sent from.

    Raises
    ------
    NoSuchFrame
        It names none.
    """
    asked = dict(parse_qsl(urlsplit(own_path(sent.get("back", "/"))).query, keep_blank_values=True))
    if not asked.get("frame"):
        raise NoSuchFrame("which frame? Start from its page.")
    return asked["frame"], Day.typed(asked)


def _key(sent: Mapping[str, str], *content: object) -> str | None:
    return f"{sent['key']}-{revision_of(content)}" if sent.get("key") else None


@pages.post("/glue-up/sheet")
def keep_sheet(request: Request, sent: Sent) -> Response:
    """Keep the builder's figures of the maker's data sheet, for every frame glued with this family."""
    view = View(request)
    frame, day = came_from(sent)
    try:
        family = view.frame(frame)[0].choice.glue
        own = own_typed(sent, view.boat.units)
        source = sent.get("source", "").strip()[:200]
        data_sheet(family, own, source)
        choice = {"own": own, "source": source}
        store.keep_choice(view.file.engine, "glue", family, choice, key=_key(sent, choice), who=_WHO)
    except ScrieveError as error:
        return _page(view, frame, day, error=error, at="sheet", typed=sent)
    return RedirectResponse(glue_path(frame, day) + "#sheet", 303)


@pages.post("/glue-up/plan")
def keep_plan(request: Request, sent: Sent) -> Response:
    """Keep how the shop glues up, for every frame."""
    view = View(request)
    frame, day = came_from(sent)
    try:
        plan = plan_typed(sent)
        store.keep_choice(view.file.engine, "yard", PLAN_NAME, plan, key=_key(sent, plan), who=_WHO)
    except ScrieveError as error:
        return _page(view, frame, day, error=error, at="plan", typed=sent)
    day = Day(**{**asdict(day), "people": ""})
    return RedirectResponse(glue_path(frame, day) + "#plan", 303)


@pages.post("/glue-up/sign")
def sign(request: Request, sent: Sent) -> Response:
    """Keep a name under a stop, for the limit and the value that stand there."""
    view = View(request)
    frame, day = came_from(sent)
    try:
        found = glue_up(view, frame, day)
        stop = next((each for each in found.card.stops if each.key == sent.get("stop")), None)
        if stop is None:
            raise BadLamination("that stop has changed since the page was made; look at the card again.")
        name = sent.get("name", "").strip()[:100]
        if not name:
            raise BadLamination(f"{stop.what}: nobody's name was typed; the stop stands.")
        detail = {"key": stop.key, "what": stop.what, "limit": stop.limit, "value": stop.value, "name": name}
        store.add_record(view.file.engine, "signature", frame, detail, key=_key(sent, detail), who=_WHO)
    except ScrieveError as error:
        return _page(view, frame, day, error=error, at="sign", typed=sent)
    return RedirectResponse(glue_path(frame, day) + "#stops", 303)


@pages.post("/glue-up/done")
def done(request: Request, sent: Sent) -> Response:
    """Keep that the frame was glued up: the day, the pots, the design, and the line it is to have."""
    view = View(request)
    frame, day = came_from(sent)
    try:
        if not day.given:
            raise BadLamination("type the day's temperature and humidity before the glue-up is kept.")
        found = glue_up(view, frame, day)
        detail = done_detail(found, sent.get("name", "").strip()[:100], sent.get("note", "").strip()[:500])
        store.add_record(view.file.engine, "glue-up", frame, detail, key=_key(sent, detail), who=_WHO)
    except ScrieveError as error:
        return _page(view, frame, day, error=error, at="done", typed=sent)
    return RedirectResponse(glue_path(frame, day) + "#done", 303)


def done_detail(found: GlueUp, name: str, note: str) -> dict[str, Any]:
    """What is kept of a glue-up that was done."""
    card = found.card
    glued = as_glued(found.design, found.revision)
    return {
        "by": name,
        "note": note,
        "conditions": asdict(card.conditions),
        "hour": found.day.hour,
        "plan": asdict(card.plan),
        "glue": found.sheet.family.name,
        "sheet": found.sheet.to_mapping(),
        "pots_g": [round(pot.mass_g, 1) for pot in card.pots],
        "closed_used_min": round(card.closed_used_min, 1),
        "release_h": card.release.release_h,
        "stops": [
            {"key": s.key, "what": s.what, "value": s.value, "signed": found.signed.get(s.key, "")} for s in card.stops
        ],
        "revision": found.revision,
        "factor_used": glued.factor_used,
        "glued": glued.to_mapping(),
    }
