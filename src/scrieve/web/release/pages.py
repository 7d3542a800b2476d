"""A frame off the jig: measured, held against its line, what to do, what the next jig learns; and its ripping."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query, Request
from sqlalchemy import Engine
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import BadMarks, ScrieveError
from scrieve.frames.columns.work import ripping_plan_columns
from scrieve.frames.design import FrameDesign
from scrieve.frames.ripping import RippingPlan, plan_for
from scrieve.revision import revision as revision_of
from scrieve.sheets.bench import BenchSheet
from scrieve.sheets.figures import length, thickness
from scrieve.sheets.glue_sheet import ripping_bench_sheet, ripping_drawing, ripping_tables
from scrieve.sheets.pack import file_name
from scrieve.sheets.pdf import bench_sheet_pdf
from scrieve.store import Conflict
from scrieve.units import Units
from scrieve.web.addresses import asked
from scrieve.web.column_whys import table_whys
from scrieve.web.faults import by_beginning
from scrieve.web.forms import Sent
from scrieve.web.people.who import who
from scrieve.web.release.work import (
    SHOP,
    all_seen,
    glued_of,
    held_of,
    held_typed,
    keep_held,
    lesson_of,
    measured,
    places,
    sheet_of,
    shop_of,
    shop_shown,
    shop_typed,
    size_typed,
)
from scrieve.web.settling import Seen, keep_settled
from scrieve.web.sheet_pages import code_of
from scrieve.web.views import View
from scrieve.wording import in_units

pages = APIRouter()
#: Fields of the form, beside the offsets at the bevel marks.
_FIELDS = ("when", "hand", "face", "way", "text", "sigma", "note", "name", "corrects")


#: How messages begin that are about one field, by the form.
_BEGIN: dict[str, dict[str, tuple[str, ...]]] = {
    "measure": {
        "sigma": ("error of a figure",),
        "hand": ("after ripping there are two", "hand:"),
        "text": ("the measured figures",),
    },
    "fastenings": {"held": ("",)},
    "shop": {"tolerance_mm": ("tolerance",), "sigma_mm": ("error of a figure",), "fastening_n": ("force of one",)},
    "ripping": {"siding": ("siding", "least siding"), "kerf": ("kerf", "ripping, kerf")},
}


def _at_field(error: ScrieveError | None, form: str) -> str:
    """The field of a form that an error is about; '' where it is about none."""
    if form == "measure" and (place := re.match(r"place (\d+) ", str(error or ""))):
        return f"o{int(place[1]) - 1}"
    return by_beginning(error, _BEGIN.get(form, {}))


def release_path(frame: str) -> str:
    """Path of a frame's release page."""
    return asked("/release", frame=frame)


@pages.get("/release")
def page(
    request: Request,
    frame: Annotated[str, Query()] = "",
    correct: Annotated[int, Query()] = 0,
    siding: Annotated[str, Query()] = "",
    kerf: Annotated[str, Query()] = "",
) -> Response:
    """A frame's release; without a frame, those that have been designed."""
    view = View(request)
    if early := view.early():
        return early
    if not frame:
        done = {record.member: f"measured {record.at[:10]}" for record in store.records(view.file.engine, "release")}
        return view.page(
            "glue_list.html", frames=list(view.kept.frames), path=release_path, what="After release", done=done
        )
    typed: dict[str, str] = {}
    if correct:
        old = next((each for each in store.records(view.file.engine, "release", frame) if each.number == correct), None)
        if old is None:
            raise BadMarks(f"measuring no. {correct} is not among those of frame {frame} that stand.")
        typed = {name: str(old.detail.get(name, "")) for name in ("when", "hand", "face", "way", "text", "note")}
        typed |= {"sigma": thickness(old.detail["sigma_mm"], view.boat.units), "corrects": str(correct)}
    return _page(view, frame, typed, siding=siding, kerf=kerf)


def _page(
    view: View,
    frame: str,
    typed: Mapping[str, str],
    *,
    error: ScrieveError | None = None,
    at: str = "",
    siding: str = "",
    kerf: str = "",
) -> Response:
    view.ready()
    units = view.boat.units
    design, _, revision = view.frame(frame)
    engine = view.file.engine
    shop = shop_of(engine)
    glued, kept = glued_of(engine, frame, design, revision)
    plan, refused = _ripping(view, design, siding, kerf)
    if refused and error is None:
        error, at = refused, "ripping"
    plan_tables = ripping_tables(plan, units)
    return view.page(
        "release.html",
        422 if error else 200,
        frame=frame,
        design=design,
        revision=revision,
        glued=glued,
        was_kept=kept,
        shop=shop,
        judged={**shop_shown(shop, units), **(typed if at == "shop" else {})},
        typed={**dict.fromkeys(_FIELDS, ""), **typed},
        marks=[(i, name, length(at, units)) for i, (name, at) in enumerate(places(design))],
        seen=all_seen(engine, frame, design, units),
        lesson=lesson_of(engine, glued, units),
        held="; ".join(length(at, units) for at in held_of(engine, frame)) if at != "fastenings" else typed["held"],
        fitted=store.records(engine, "fitted", frame)[::-1],
        error=error,
        error_at=at,
        at=_at_field(error, at),
        plan=plan,
        plan_check=in_units(plan.check, units),
        plan_drawn=ripping_drawing(plan, units),
        plan_tables=plan_tables,
        plan_whys=table_whys(plan_tables, ripping_plan_columns(plan), units),
        plan_workings=in_units(plan.workings, units),
        plan_cautions=in_units(plan.cautions, units),
        siding=siding,
        kerf=kerf,
        pdf=asked("/release/ripping.pdf", frame=frame, siding=siding, kerf=kerf),
    )


def _ripping(view: View, design: FrameDesign, siding: str, kerf: str) -> tuple[RippingPlan, ScrieveError | None]:
    try:
        sizes = [
            size_typed(text, name, view.boat.units) if text.strip() else None
            for name, text in (("siding of the blank", siding), ("kerf", kerf))
        ]
        return plan_for(design, found_siding_mm=sizes[0], kerf_mm=sizes[1]), None
    except ScrieveError as error:
        return plan_for(design), error


@dataclass(frozen=True)
class Form:
    """A form of this page as it was sent."""

    view: View
    sent: Mapping[str, str]

    def __getitem__(self, name: str) -> str:
        return self.sent.get(name, "")

    @property
    def frame(self) -> str:
        """The frame of the page that it came from."""
        return self["frame"]

    @property
    def engine(self) -> Engine:
        """The boat's file."""
        return self.view.file.engine

    @property
    def units(self) -> Units:
        """The builder's units."""
        return self.view.boat.units

    @property
    def design(self) -> tuple[FrameDesign, str]:
        """The frame's design and its revision; raises what `View.frame` raises."""
        design, _, revision = self.view.frame(self.frame)
        return design, revision

    def key(self, content: object) -> str | None:
        """Key of the act, so that the same button pressed twice is one act."""
        return f"{self['key']}-{revision_of(content)}" if self["key"] else None


def _stored(request: Request, sent: Mapping[str, str], at: str, act: Callable[[Form], None]) -> Response:
    """Do what the form `at` asks and lead to what comes of it; refused, give back what was typed."""
    form = Form(View(request), sent)
    form.view.ready()
    try:
        act(form)
    except Conflict:
        raise
    except ScrieveError as error:
        return _page(form.view, form.frame, sent, error=error, at=at)
    return RedirectResponse(release_path(form.frame) + ("#fitted" if at == "fitted" else "#seen"), 303)


@pages.post("/release/store")
def keep(request: Request, sent: Sent) -> Response:
    """Store what was measured, raw, with the line it is held against; a correction names what it puts right."""

    def act(form: Form) -> None:
        detail, corrects = measured(form.engine, form.frame, *form.design, form.units, form.sent)
        typed = {name: value for name, value in form.sent.items() if name != "key"}  # the line moves once it has taught
        store.add_record(form.engine, "release", form.frame, detail, corrects=corrects, key=form.key(typed), who=who())

    return _stored(request, sent, "measure", act)


@pages.post("/release/shop")
def keep_shop(request: Request, sent: Sent) -> Response:
    """Keep how the shop judges a release."""

    def act(form: Form) -> None:
        found = shop_typed(form.sent, shop_of(form.engine), form.units)
        keep_settled(form.engine, "yard", SHOP, found, sent)

    return _stored(request, sent, "shop", act)


@pages.post("/release/fastenings")
def keep_fastenings(request: Request, sent: Sent) -> Response:
    """Keep where this frame can be held to the hull."""

    def act(form: Form) -> None:
        held = held_typed(form["held"], form.design[0], form.units)
        keep_held(form.engine, form.frame, held, seen=Seen.of(sent).act, who=who())

    return _stored(request, sent, "fastenings", act)


@pages.post("/release/fitted")
def fitted(request: Request, sent: Sent) -> Response:
    """Keep that a half, or both, were fitted in the hull."""

    def act(form: Form) -> None:
        detail = {"hand": form["hand"], "by": form["name"].strip()[:100], "note": form["note"].strip()[:500]}
        if detail["hand"] not in ("", "P", "S"):
            raise BadMarks(f"hand: found {detail['hand']!r}; say port, starboard or both.")
        _ = form.design
        store.add_record(form.engine, "fitted", form.frame, detail, key=form.key(detail), who=who())

    return _stored(request, sent, "fitted", act)


@pages.get("/release/sheet.pdf")
def sheet_pdf(request: Request, frame: Annotated[str, Query()], measuring: Annotated[int, Query()] = 0) -> Response:
    """A measuring as a bench sheet, to be printed; the latest unless it is named by its number.

    Where there is none, it leads to where one is typed.
    """
    view = View(request)
    view.ready()
    design = view.frame(frame)[0]
    engine, units = view.file.engine, view.boat.units
    seen = [each for each in all_seen(engine, frame, design, units) if measuring in (0, each.record.number)]
    if not seen:
        return RedirectResponse(release_path(frame) + "#measure", 303)
    glued = seen[0].taken.glued
    return _pdf(sheet_of(seen[0], lesson_of(engine, glued, units), glued, view.boat), f"{file_name(frame)}-release")


@pages.get("/release/ripping.pdf")
def ripping_pdf(
    request: Request,
    frame: Annotated[str, Query()],
    siding: Annotated[str, Query()] = "",
    kerf: Annotated[str, Query()] = "",
) -> Response:
    """The ripping as a bench sheet, to be printed."""
    view = View(request)
    view.ready()
    design, _, revision = view.frame(frame)
    plan, refused = _ripping(view, design, siding, kerf)
    if refused:
        raise refused
    link = code_of(view, release_path(frame), revision)
    return _pdf(ripping_bench_sheet(plan, view.boat, revision, link), f"{file_name(frame)}-ripping")


def _pdf(sheet: BenchSheet, name: str) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="frame-{name}.pdf"', "Cache-Control": "no-cache"}
    data = bench_sheet_pdf(sheet, date=date.today().isoformat())
    return Response(data, media_type="application/pdf", headers=headers)
