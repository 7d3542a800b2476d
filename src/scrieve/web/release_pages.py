"""A frame off the jig: measured, held against its line, what to do, what the next jig learns; and its ripping."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Annotated, Any
from urllib.parse import quote, urlencode

import numpy as np
from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import BadGeometry, BadMarks, ScrieveError
from scrieve.frames.design import FrameDesign
from scrieve.frames.learning import Learnt, NextJig, Spring, for_next_jig, learn
from scrieve.frames.off_jig import Glued, as_glued
from scrieve.frames.release import TOLERANCE_MM, Deviation, change_between
from scrieve.frames.released import SIGMA_MM, Released, course, read_rows, springs_of
from scrieve.frames.remedy import Remedy, planing, pull_in, what_to_do
from scrieve.frames.ripping import RippingPlan, plan_for
from scrieve.revision import revision as revision_of
from scrieve.sheets.bench import Table
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.figures import length, off_by, thickness, thin_unit
from scrieve.sheets.glue_sheet import ripping_bench_sheet, ripping_tables
from scrieve.sheets.pack import file_name
from scrieve.sheets.pdf import bench_sheet_pdf
from scrieve.sheets.release_sheet import course_drawing, deviation_drawing, deviation_table
from scrieve.store import Record
from scrieve.units import parse_length
from scrieve.web.forms import Sent
from scrieve.web.glue_forms import number
from scrieve.web.views import View
from scrieve.wording import in_units
from scrieve.working import Working

pages = APIRouter()
_WHO = "pages"
#: How the shop judges a release is kept under this name.
SHOP = "release"
#: Fields of the form, beside the offsets at the bevel marks.
_FIELDS = ("when", "hand", "face", "way", "text", "sigma", "note", "name", "corrects")


@dataclass(frozen=True)
class Shop:
    """How the shop judges a release [mm, N]; the force that one fastening may be asked is the builder's to say."""

    tolerance_mm: float = TOLERANCE_MM
    sigma_mm: float = SIGMA_MM
    fastening_n: float | None = None


@dataclass(frozen=True)
class Seen:
    """One measuring of a frame, judged."""

    record: Record
    taken: Released
    found: Deviation
    remedy: Remedy
    text: str
    drawing: Drawing
    table: Table
    workings: tuple[Working, ...]
    changed: str


@dataclass(frozen=True)
class Lesson:
    """What all frames of this timber and glue have taught."""

    learnt: Learnt
    springs: tuple[Spring, ...]
    drawing: Drawing
    next: NextJig


def release_path(frame: str) -> str:
    """Path of a frame's release page."""
    return "/release?" + urlencode({"frame": frame}, quote_via=quote)


def shop_of(view: View) -> Shop:
    """How the shop judges a release, as kept or by default."""
    kept = store.choices(view.file.engine, "yard").get(SHOP, {})
    return Shop(**{name: kept[name] for name in Shop.__dataclass_fields__ if name in kept})


def glued_of(view: View, frame: str, design: FrameDesign, revision: str) -> tuple[Glued, str]:
    """The pair as it was last set on the jig, and what it was kept with: 'glue-up', 'release', or '' as designed now.

    A frame whose glue-up was not kept has its line from the first measuring: what that taught has changed the design.
    """
    for kind, plain in _kept_lines(view, frame):
        try:
            return Glued.from_mapping(plain), kind
        except BadGeometry:
            continue
    return as_glued(design, revision), ""


def _set_on_the_jig(view: View, frame: str, design: FrameDesign, revision: str) -> tuple[Glued, dict[str, Any]]:
    """As `glued_of`, with the plain values that are kept: of an older record as they stand there."""
    glued, kind = glued_of(view, frame, design, revision)
    for known, plain in _kept_lines(view, frame):
        if known == kind:
            return glued, plain
    return glued, glued.to_mapping()


def _kept_lines(view: View, frame: str) -> list[tuple[str, dict[str, Any]]]:
    """The lines kept with glue-ups and measurings of a frame, the latest first."""
    return [
        (record.kind, dict(record.detail["glued"]))
        for record in reversed(store.records(view.file.engine, member=frame))
        if record.kind in ("glue-up", "release") and isinstance(record.detail.get("glued"), dict)
    ]


def places(design: FrameDesign, least: int = 9) -> list[tuple[str, float]]:
    """Where offsets are asked: the bevel marks, by their numbers, and places between them where they are few."""
    found = [(f"{bevel.number}", float(bevel.s_mm)) for bevel in design.bevels]
    while 1 < len(found) < least:
        between = [("between", (a[1] + b[1]) / 2) for a, b in pairwise(found)]
        found = sorted([*found, *between], key=lambda place: place[1])
    return found


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
    shop = shop_of(view)
    glued, kept = glued_of(view, frame, design, revision)
    plan, refused = _ripping(view, design, siding, kerf)
    if refused and error is None:
        error, at = refused, "ripping"
    seen, lesson = _all_seen(view, design, frame, shop), _lesson(view, glued)
    return view.page(
        "release.html",
        422 if error else 200,
        frame=frame,
        design=design,
        revision=revision,
        glued=glued,
        was_kept=kept,
        shop=shop,
        fastening="" if shop.fastening_n is None else f"{shop.fastening_n:g}",
        typed={**dict.fromkeys(_FIELDS, ""), **typed},
        marks=[(i, name, length(at, units)) for i, (name, at) in enumerate(places(design))],
        seen=seen,
        lesson=lesson,
        lesson_workings=in_units((*lesson.learnt.workings, *lesson.next.workings), units),
        error=error,
        error_at=at,
        plan=plan,
        plan_check=in_units(plan.check, units),
        plan_tables=ripping_tables(plan, units),
        plan_workings=in_units(plan.workings, units),
        plan_cautions=in_units(plan.cautions, units),
        siding=siding,
        kerf=kerf,
        pdf="/release/ripping.pdf?" + urlencode({"frame": frame, "siding": siding, "kerf": kerf}, quote_via=quote),
    )


def _ripping(view: View, design: FrameDesign, siding: str, kerf: str) -> tuple[RippingPlan, ScrieveError | None]:
    try:
        sizes = [parse_length(text, view.boat.units) if text.strip() else None for text in (siding, kerf)]
        return plan_for(design, found_siding_mm=sizes[0], kerf_mm=sizes[1]), None
    except ScrieveError as error:
        return plan_for(design), error


def _all_seen(view: View, design: FrameDesign, frame: str, shop: Shop) -> list[Seen]:
    """Every measuring of the frame that stands, the latest first."""
    records = store.records(view.file.engine, "release", frame)
    seen: list[Seen] = []
    for record in records:
        try:
            seen.append(_seen(view, design, record, shop, seen))
        except (BadMarks, BadGeometry):
            continue
    return seen[::-1]


def _seen(view: View, design: FrameDesign, record: Record, shop: Shop, before: Sequence[Seen]) -> Seen:
    units = view.boat.units
    taken = Released.from_mapping(record.detail)
    found = taken.deviation(shop.tolerance_mm)
    against = taken.against
    girth = [bevel.s_mm for bevel in design.bevels if bevel.s_mm <= against.girth_mm[-1] + 1]
    try:
        pull = pull_in(found, list(against.along(np.array(girth))), against.ei_nmm2, shop.fastening_n)
    except BadMarks:
        pull = None
    remedy = what_to_do(found, pull, planing(found, against.outside_spare_mm, against.inside_spare_mm))
    same = [each for each in before if taken.when == "after ripping" and each.taken.when == "off the jig"]
    changed = ""
    if same and same[-1].taken.face == taken.face:
        try:
            change, sd = change_between(same[-1].found, found)
            worst = int(np.argmax(np.abs(change)))
            changed = (
                f"Since it was measured off the jig it has moved by {off_by(float(change[worst]), units)} "
                f"± {off_by(float(sd[worst]), units).lstrip('+')} {thin_unit(units)} at the most, "
                f"{length(float(found.target.s_mm[worst]), units)} along."
            )
        except BadMarks:
            changed = "It cannot be compared with what was measured off the jig: that was another glue-up."
    return Seen(
        record,
        taken,
        found,
        remedy,
        in_units(remedy.text, units),
        deviation_drawing(found, units, f"{taken.when.capitalize()}, {taken.face}"),
        deviation_table(found, against, girth, units),
        in_units((*found.workings, *remedy.workings), units),
        changed,
    )


def _lesson(view: View, glued: Glued) -> Lesson:
    """What the frames of this timber and glue have taught, and what it means at this frame."""
    every = springs_of(record.detail for record in store.records(view.file.engine, "release"))
    mine = tuple(each for each in every if (each.timber, each.glue) == (glued.timber, glued.glue))
    learnt = learn(mine)
    against = glued.face("moulded line")
    return Lesson(
        learnt,
        mine,
        course_drawing(mine, course(mine), f"Springback factor: {glued.timber}, {glued.glue}"),
        for_next_jig(against.target, against.lost_per_mm, learnt, factor_used=glued.factor_used),
    )


@pages.post("/release/store")
def keep(request: Request, sent: Sent) -> Response:
    """Store what was measured, raw, with the line it is held against; a correction names what it puts right."""
    view = View(request)
    view.ready()
    frame = sent.get("frame", "")
    try:
        detail, corrects = _measured(view, frame, sent)
        typed = {name: value for name, value in sent.items() if name != "key"}  # the line moves once it has taught
        key = f"{sent['key']}-{revision_of(typed)}" if sent.get("key") else None
        store.add_record(view.file.engine, "release", frame, detail, corrects=corrects, key=key, who=_WHO)
    except ScrieveError as error:
        return _page(view, frame, sent, error=error, at="measure")
    return RedirectResponse(release_path(frame) + "#seen", 303)


def _measured(view: View, frame: str, sent: Mapping[str, str]) -> tuple[dict[str, Any], int | None]:
    units = view.boat.units
    design, _, revision = view.frame(frame)
    glued, line = _set_on_the_jig(view, frame, design, revision)
    corrects = int(sent["corrects"]) if sent.get("corrects", "").isdecimal() else None
    if corrects is not None:
        old = {each.number: each for each in store.records(view.file.engine, "release", frame)}
        if corrects not in old:
            raise BadMarks(f"measuring no. {corrects} does not stand any more: it was corrected before.")
        line = dict(old[corrects].detail["glued"])
        glued = Glued.from_mapping(line)
    text, way = sent.get("text", ""), sent.get("way", "offsets")
    if not text.strip():
        way = "offsets"
        text = "\n".join(
            f"{length(at, units)}; {sent[f'o{i}'].strip()}"
            for i, (_, at) in enumerate(places(design))
            if sent.get(f"o{i}", "").strip()
        )
    shown = thickness(shop_of(view).sigma_mm, units)
    said = sent.get("sigma", "").strip()
    sigma = shop_of(view).sigma_mm if said in ("", shown) else parse_length(said, units)
    if way not in ("offsets", "points", "placed points"):
        raise BadMarks(f"way of measuring: found {way!r}; say offsets, points or placed points.")
    rows = read_rows(text, way, units)  # type: ignore[arg-type]
    taken = Released(
        glued,
        sent.get("when", ""),  # type: ignore[arg-type]
        sent.get("hand", ""),  # type: ignore[arg-type]
        sent.get("face", ""),  # type: ignore[arg-type]
        way,  # type: ignore[arg-type]
        rows,
        sigma,
        sent.get("note", "").strip()[:500],
    )
    if taken.when == "after ripping" and not taken.hand:
        raise BadMarks("after ripping there are two halves: say which hand was measured.")
    return taken.to_mapping() | {"glued": line, "text": text, "name": sent.get("name", "").strip()[:100]}, corrects


@pages.post("/release/shop")
def keep_shop(request: Request, sent: Sent) -> Response:
    """Keep how the shop judges a release."""
    view = View(request)
    view.ready()
    frame, units, before = sent.get("frame", ""), view.boat.units, shop_of(view)
    try:
        found: dict[str, float] = {}
        for name in ("tolerance_mm", "sigma_mm"):
            text, now = sent.get(name, "").strip(), getattr(before, name)
            value = now if text in ("", thickness(now, units)) else parse_length(text, units)
            if not 0.01 <= value <= 50:
                raise BadMarks(f"{text}: give {thickness(0.1, units)} to {thickness(50, units)}.")
            found[name] = value
        if sent.get("fastening_n", "").strip():
            found["fastening_n"] = number(sent["fastening_n"], "force of one fastening")
            if not 0 < found["fastening_n"] <= 1e5:
                raise BadMarks("force of one fastening: give N, above zero.")
        key = f"{sent['key']}-{revision_of(found)}" if sent.get("key") else None
        store.keep_choice(view.file.engine, "yard", SHOP, found, key=key, who=_WHO)
    except ScrieveError as error:
        return _page(view, frame, {}, error=error, at="shop")
    return RedirectResponse(release_path(frame) + "#seen", 303)


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
    sheet = ripping_bench_sheet(plan, view.boat, revision)
    headers = {
        "Content-Disposition": f'attachment; filename="frame-{file_name(frame)}-ripping.pdf"',
        "Cache-Control": "no-cache",
    }
    return Response(
        bench_sheet_pdf(sheet, date=date.today().isoformat()), media_type="application/pdf", headers=headers
    )
