"""The glue-up of a frame pair: the day typed, the card, what must be signed, what was done, and how it cures."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Annotated, Any
from urllib.parse import parse_qsl, quote, urlencode, urlsplit

from fastapi import APIRouter, Query, Request
from sqlalchemy import Engine
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import BadLamination, NoSuchFrame, ScrieveError
from scrieve.frames.glue_up.minutes import GlueUpPlan
from scrieve.frames.jig.setting_kept import JigKept
from scrieve.revision import revision as revision_of
from scrieve.sheets.glue_sheet import clamp_drawing, curing_drawing, glue_bench_sheet, glue_summary, glue_tables
from scrieve.sheets.pack import file_name
from scrieve.sheets.pdf import bench_sheet_pdf
from scrieve.store import Conflict
from scrieve.timber.data_sheet import FIGURES, data_sheet
from scrieve.web.addresses import own_path
from scrieve.web.away.outbox import typed_at
from scrieve.web.column_whys import table_whys
from scrieve.web.faults import at_fault, by_beginning
from scrieve.web.forms import Sent
from scrieve.web.glue_up.curing import KIND, curing_of, hour_told, look_typed
from scrieve.web.glue_up.forms import AS_IF, PLAN, Day, own_shown, own_typed, plan_typed
from scrieve.web.glue_up.work import PLAN_NAME, GlueUp, columns_of, done_detail, glue_up, signature
from scrieve.web.people.signing import needs_pin, signed_by
from scrieve.web.people.who import who
from scrieve.web.settling import keep_settled
from scrieve.web.sheet_pages import code_of
from scrieve.web.views import View, small_unit
from scrieve.wording import in_units

pages = APIRouter()


#: How messages begin that are about one field of the day.
_DAY: dict[str, tuple[str, ...]] = {
    "air": ("air:", "temperature:"),
    "rh": ("humidity", "relative humidity"),
    "timber": ("temperature of the timber",),
    "glue": ("temperature of the glue",),
    "mc": ("moisture of lamination", "lamination"),
    "people": ("people at work", "glue-up:"),
    "hour": ("hour of the start",),
    "log": ("log of temperatures", "hour of the log", "temperature of the log"),
}
_CURE: dict[str, tuple[str, ...]] = {"glue_c": ("temperature at the glue line",), "hour": ("hour since closing",)}


def _at_field(error: ScrieveError | None, form: str, typed: Mapping[str, str]) -> str:
    """The field of a form that an error is about; '' where it is about none."""
    if form in ("sheet", "plan"):
        names = {name: what for name, (what, *_) in (FIGURES if form == "sheet" else PLAN).items()}
        return at_fault(error, names, typed)
    return by_beginning(error, {"day": _DAY, "cure": _CURE}.get(form, {}))


def glue_path(frame: str, day: Day | None = None) -> str:
    """Path of a frame's glue-up page."""
    return "/glue-up?" + urlencode({"frame": frame, **(day.asked if day else {})}, quote_via=quote)


def seen(view: View, frame: str, day: Day) -> GlueUp:
    """Reckon the glue-up of a frame; raise what `View.frame` and `glue_up` raise."""
    view.ready()
    design, _, revision = view.frame(frame)
    return glue_up(view.file.engine, frame, design, revision, day)


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
    answer = _page(view, frame, Day.typed(request.query_params))
    if "x-typing" in request.headers:  # asked while it is typed: half a figure is no fault, and is told in the page
        answer.status_code = 200
    return answer


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
        found = seen(view, frame, day)
    except BadLamination as refused:
        if at == "day":
            raise
        return _page(view, frame, Day(), error=refused, at="day", typed=asdict(day))
    units = view.boat.units
    card = found.card
    curing = curing_of(view.file.engine, frame)
    shown = {name: own_shown(found.sheet, name, units) for name in found.sheet.own}
    tables = glue_tables(card, units, day.start_min)
    return view.page(
        "glue.html",
        status,
        needs_pin=needs_pin(view.file.engine),
        g=found,
        described=JigKept.of(store.choices(view.file.engine, "jig")).bed is not None,
        card=card,
        day=asdict(day) if typed is None or at != "day" else dict(typed),
        day_given=day.given,
        as_if=AS_IF,
        summary_rows=glue_summary(card, units),
        tables=tables,
        whys=table_whys(tables, columns_of(found), units),
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
        clamps_drawn=clamp_drawing(card, units),
        curing=curing,
        curing_drawn=curing_drawing(curing.cure, curing.log) if curing else None,
        clamps_off=hour_told(curing.off) if curing else "",
        typed=dict(typed or {}),
        error=error,
        error_at=at,
        at=_at_field(error, at, typed or {}),
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
    found = seen(view, frame, day)
    link = code_of(view, glue_path(frame, day), found.revision)
    sheet = glue_bench_sheet(
        found.card, view.boat, found.revision, link=link, start_min=day.start_min, signed=found.signed
    )
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


@dataclass(frozen=True)
class Form:
    """A form of this page as it was sent: from which frame's page, on which day, with which fields."""

    view: View
    frame: str
    day: Day
    sent: Mapping[str, str]

    def __getitem__(self, name: str) -> str:
        return self.sent.get(name, "")

    @property
    def engine(self) -> Engine:
        """The boat's file."""
        return self.view.file.engine

    @property
    def found(self) -> GlueUp:
        """The glue-up that the page showed."""
        return seen(self.view, self.frame, self.day)

    def key(self, *content: object) -> str | None:
        """Key of the act, so that the same button pressed twice is one act."""
        return f"{self['key']}-{revision_of(content)}" if self["key"] else None


def _stored(
    request: Request, sent: Mapping[str, str], at: str, act: Callable[[Form], object], **after: str
) -> Response:
    """Do what the form `at` asks and lead back to it, the day changed by `after`; refused, give back what was typed."""
    form = Form(View(request), *came_from(sent), sent)
    try:
        act(form)
    except Conflict:
        raise
    except ScrieveError as error:
        return _page(form.view, form.frame, form.day, error=error, at=at, typed=sent)
    return RedirectResponse(glue_path(form.frame, replace(form.day, **after)) + f"#{at}", 303)


@pages.post("/glue-up/sheet")
def keep_sheet(request: Request, sent: Sent) -> Response:
    """Keep the builder's figures of the maker's data sheet, for every frame glued with this family."""

    def act(form: Form) -> None:
        family = form.view.frame(form.frame)[0].choice.glue
        own = own_typed(form.sent, form.view.boat.units)
        choice: dict[str, Any] = {"own": own, "source": form["source"].strip()[:200]}
        data_sheet(family, **choice)
        keep_settled(form.engine, "glue", family, choice, sent, fit=lambda both: data_sheet(family, **both))

    return _stored(request, sent, "sheet", act)


@pages.post("/glue-up/plan")
def keep_plan(request: Request, sent: Sent) -> Response:
    """Keep how the shop glues up, for every frame."""

    def act(form: Form) -> None:
        keep_settled(form.engine, "yard", PLAN_NAME, plan_typed(form.sent), sent, fit=lambda both: GlueUpPlan(**both))

    return _stored(request, sent, "plan", act, people="")


@pages.post("/glue-up/sign")
def sign(request: Request, sent: Sent) -> Response:
    """Keep a name under a stop, for the limit and the value that stand there."""

    def act(form: Form) -> None:
        name, signed = signed_by(form.engine, form["name"], form.sent.get("pin", ""))
        detail = signature(form.found, form["stop"], name, signed)
        store.add_record(form.engine, "signature", form.frame, detail, key=form.key(detail), who=who())

    return _stored(request, sent, "stops", act)


@pages.post("/glue-up/done")
def done(request: Request, sent: Sent) -> Response:
    """Keep that the frame was glued up: the day, the pots, the design, and the line it is to have."""

    def act(form: Form) -> None:
        detail = done_detail(form.found, form["name"], form["note"])
        store.add_record(form.engine, "glue-up", form.frame, detail, key=form.key(detail), who=who())

    return _stored(request, sent, "done", act)


@pages.post("/glue-up/cure")
def look(request: Request, sent: Sent) -> Response:
    """Keep a temperature read at the glue line while it cures; typed again for the same hour, it is put right."""

    def act(form: Form) -> None:
        curing = curing_of(form.engine, form.frame)
        if curing is None:
            raise BadLamination("no glue-up of this frame has been kept; say first that it is in the clamps.")
        detail, corrects = look_typed(curing, form["hour"], form["glue_c"], form["name"], typed_at(request))
        key = form.key(curing.glue_up.number, form["hour"], detail["glue_c"])
        store.add_record(form.engine, KIND, form.frame, detail, corrects=corrects, key=key, who=who())

    return _stored(request, sent, "cure", act)
