"""Marks, answers, shapes and settings sent as JSON; stored by the same acts as the pages'. Sent twice, stored once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, replace
from typing import Annotated, Any, Literal, get_args

from fastapi import Request
from pydantic import ConfigDict, Field
from starlette.responses import Response

from scrieve import store
from scrieve.chain import entry_of
from scrieve.errors import BadBoard, BadMarks, BadPlank, NoSuchFrame, ScrieveError
from scrieve.frames.choice import FrameChoice
from scrieve.frames.forms import first
from scrieve.frames.glue_up.minutes import GlueUpPlan
from scrieve.frames.jig.bed import JigBed
from scrieve.planking.lining.choice import LiningChoice
from scrieve.planking.skins.laid import SkinChoice
from scrieve.stock.forms import board_from, mapping_of
from scrieve.stock.layout import Shop as BoardRules
from scrieve.stock.standing import SHOP
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.sending import doubts_of
from scrieve.timber.data_sheet import data_sheet
from scrieve.web.api.designs import checks, written
from scrieve.web.api.route import Act, Body, Label, Millimetres, Number, Words, readable, router, told
from scrieve.web.glue_up.work import PLAN_NAME
from scrieve.web.lining.work import Hand, Side
from scrieve.web.people.who import who
from scrieve.web.planks.skin import Skins
from scrieve.web.release.work import SHOP as RELEASE
from scrieve.web.release.work import Shop as ReleaseRules
from scrieve.web.release.work import shop_typed
from scrieve.web.timber.work import timber
from scrieve.web.views import View
from scrieve.web.workplan import work as plan_work
from scrieve.workplan.costs import Prices
from scrieve.workplan.yard import Yard

pages = router("shapes and settings")

Error = Annotated[float, Field(gt=0, le=1000)]


class MarkIn(Body):
    """One mark; lengths in mm."""

    frame: Label
    station_mm: Millimetres
    height_mm: Millimetres
    half_breadth_mm: Annotated[float, Field(ge=0, le=100_000)]
    side: Literal["", "P", "S"] = ""
    label: Annotated[str, Field(max_length=80)] = ""
    kind: Literal["", "heel", "head", "knuckle"] = ""
    sigma_mm: Error | None = None
    note: Annotated[str, Field(max_length=500)] = ""


class MarksIn(Body):
    """Marks as they were taken off."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"source": "tablet", "marks": [
        {"frame": "3", "station_mm": 2200, "height_mm": 350, "half_breadth_mm": 471.5, "side": "P"}]}]})  # fmt: skip
    marks: Annotated[list[MarkIn], Field(min_length=1, max_length=5000)]
    source: Annotated[str, Field(max_length=120)] = "sent by a script"


@pages.post("/marks", summary="Store marks", responses=told({"numbers": [50], "doubts": []}))
def store_marks(request: Request, sent: MarksIn) -> Response:
    """Store marks, all or none; the answer tells their numbers and what is doubted of them.

    They are not held back as likely slips as on the page: what contradicts the others becomes a suspect of the fairing.
    """
    view = View(request)
    engine = view.file.engine
    marks = [Mark(**mark.model_dump()) for mark in sent.marks]
    numbers = store.add_marks(engine, marks, source=sent.source, who=who())
    doubts = doubts_of(numbers, store.marks(engine, standing=True), view.boat)
    return written(view, {"numbers": numbers, "doubts": [{"text": d.text, "marks": d.numbers} for d in doubts]})


class AnswerIn(Body):
    """What is said of marks; with 'measured again', what was read this time."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"marks": [18], "what": "keep", "seen": 7}]})
    marks: Annotated[list[Number], Field(min_length=1, max_length=1000)]
    what: Literal["keep", "drop", "measured again"]
    height_mm: Millimetres | None = None
    half_breadth_mm: Annotated[float, Field(ge=0, le=100_000)] | None = None
    note: Annotated[str, Field(max_length=500)] = ""
    seen: Act = None


@pages.post("/answers", summary="Answer suspects", responses=told({"replaced_by": None}))
def store_answer(request: Request, sent: AnswerIn) -> Response:
    """Keep marks, drop them, or put one measured again in its place (the old one stands aside)."""
    view = View(request)
    replacement = None
    if sent.what == "measured again":
        old = {mark.number: mark for mark in view.state.every_mark}.get(sent.marks[0])
        if old is None or len(sent.marks) > 1 or sent.height_mm is None or sent.half_breadth_mm is None:
            raise BadMarks("'measured again' takes one mark that there is, with height_mm and half_breadth_mm.")
        replacement = replace(
            old, height_mm=sent.height_mm, half_breadth_mm=sent.half_breadth_mm, var_height_mm2=None,
            var_half_breadth_mm2=None, cov_mm2=None, way="offsets", raw="",
        )  # fmt: skip
    number = store.answer(
        view.file.engine, sent.marks, sent.what, replacement=replacement, note=sent.note, seen=sent.seen, who=who()
    )
    return written(view, {"replaced_by": number})


class FrameIn(Body):
    """A frame pair to be made: only the settings that change; the rest stays, or is what is usual."""

    model_config = ConfigDict(json_schema_extra={"examples": [
        {"label": "3", "choice": {"timber": "larch", "sided_mm": 45, "moulded_mm": 60}}]})  # fmt: skip
    label: Label
    choice: Annotated[dict[str, Any], Field(max_length=80, default_factory=dict)]
    station_mm: Millimetres | None = None
    keep: Annotated[bool, Field(description="false: a trial; what would come of it is told, nothing is stored.")] = True
    seen: Act = None


@pages.post("/frames", summary="Design a frame", responses=told({"act": 9, "revision": "89A8CB30", "unmet": []}))
def design_frame(request: Request, sent: FrameIn) -> Response:
    """Keep the choice for a frame where a pair can be designed from it; `unmet` names the checks that are not met."""
    view = View(request)
    hull = view.ready()
    new = first(view.boat.units)
    before = entry_of(view.kept, sent.label, hull.stations, new)
    choice = FrameChoice.from_mapping({"frame": sent.label, **before.get("choice", new)}).to_mapping()
    station = None
    if sent.label not in hull.stations:
        station = before.get("station_mm") if sent.station_mm is None else sent.station_mm
        if station is None:
            raise NoSuchFrame(f"frame {sent.label!r} has no marks; give station_mm, where it stands.")
    with readable("the choice"):
        chosen = FrameChoice.from_mapping({**choice, **sent.choice, "frame": sent.label})
        design = view.kept.design(chosen, station)
    kept = {"choice": chosen.to_mapping(), "station_mm": station}
    if of := before.get("of"):
        kept["of"] = of
    found: dict[str, Any] = {"unmet": [check.name for check in design.checks if not check.ok]}
    if not sent.keep:
        packet = design.packet
        found |= {
            "springback": packet.springback,
            "laminations": len(packet.laminations),
            "checks": checks(design.checks),
        }
        return written(view, found)
    act = store.keep_frame(view.file.engine, sent.label, kept, seen=sent.seen, who=who())
    view = View(request)
    return written(view, {"act": act, "revision": view.kept.frame_revision(sent.label)} | found)


class PlankIn(Body):
    """A plank: settings and, of one spiled, the marks of its batten; as /api/planks and the bundle have them."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"name": "trial", "kind": "strake", "choice": {
        "thickness_mm": 20, "side": "P", "lower": [{"value_mm": 100, "frame": "2"}, {"value_mm": 100, "frame": "6"}],
        "upper": [{"value_mm": 220, "frame": "2"}, {"value_mm": 220, "frame": "6"}]}}]})  # fmt: skip
    name: Label
    kind: Literal["strake", "spiled", "diagonal"]
    choice: Annotated[dict[str, Any], Field(max_length=60)]
    marks: Annotated[list[dict[str, Any]], Field(max_length=500, default_factory=list)]
    seen: Act = None


@pages.post("/planks", summary="Draw a plank", responses=told({"act": 12, "revision": "1C44E0A7", "unmet": []}))
def design_plank(request: Request, sent: PlankIn) -> Response:
    """Keep a plank where it can be drawn flat; settings that are not sent stay as they were."""
    view = View(request)
    view.ready()
    before = view.kept.planks.get(sent.name, {})
    if before and before["kind"] != sent.kind:
        raise BadPlank(f"plank {sent.name!r} is {before['kind']}; give the new one another name.")
    entry: dict[str, Any] = {**before, "kind": sent.kind}
    entry["choice"] = {**before.get("choice", {}), **sent.choice, "name": sent.name}
    if sent.kind == "spiled":
        entry["marks"] = sent.marks or before.get("marks", [])
    with readable("the plank"):
        design = view.kept.with_plank(sent.name, entry).plank(sent.name)
    act = store.keep_plank(view.file.engine, sent.name, entry, seen=sent.seen, who=who())
    view = View(request)
    found = {"act": act, "revision": view.kept.plank_revision(sent.name)}
    return written(view, found | {"unmet": [check.name for check in design.checks if not check.ok]})


class BoatIn(Body):
    """Settings of the whole boat: only those that change."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"note": "planking sounded", "thickness_mm": 22}]})
    name: Label | None = None
    planking: Literal["inside", "outside"] | None = None
    units: Literal["mm", "ft"] | None = None
    thickness_mm: Annotated[float, Field(ge=0, lt=500)] | None = None
    sigma_mm: Annotated[float, Field(gt=0, le=100)] | None = None
    half_beam_mm: Annotated[float, Field(gt=0, le=100_000)] | None = None
    note: Words | None = None
    seen: Act = None


@pages.post("/boat", summary="Change the boat's settings", responses=told({"act": 13}))
def change_boat(request: Request, sent: BoatIn) -> Response:
    """Keep changed settings; the hull is faired anew from them."""
    view = View(request)
    changed = sent.model_dump(exclude_none=True, exclude={"seen"})
    act = store.keep_boat(view.file.engine, replace(view.boat, **changed), seen=sent.seen, who=who())
    return written(view, {"act": act})


class ChoiceIn(Body):
    """What is settled of a part of the yard; null takes a board or the bed off the list."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"part": "glue", "name": "epoxy", "choice": {
        "own": {"pot_life_min": 30}, "source": "data sheet of the tin"}}]})  # fmt: skip
    part: Literal["board", "glue", "jig", "lining", "skin", "layout", "yard"]
    name: Label
    choice: Annotated[dict[str, Any], Field(max_length=200)] | None
    seen: Act = None


@pages.post("/choices", summary="Settle a part", responses=told({"act": 14}))
def settle(request: Request, sent: ChoiceIn) -> Response:
    """Keep a board of the rack, figures of a glue's data sheet, the jig's bed (name `bed`), a side's lining or skins,
    the shop's rules for boards (`layout`, `rules`), or of the yard: `work yard`, `work prices`, `work strakes`, how it
    glues up (`glue-up`) and judges a release (`release`).

    The values are those that /api/choices gives back; they are read as the pages read them before they are kept. Of the
    yard, the rules and a lining, what is not sent stays.
    """
    view = View(request)
    with readable("the choice"):
        found = None if sent.choice is None else _READ[sent.part](view, sent.name, sent.choice)
    may_go = sent.part in ("board", "jig") and sent.name in store.choices(view.file.engine, sent.part)
    if found is None and not may_go:
        raise ScrieveError(f"{sent.part} {sent.name!r} is not there to be taken off.")
    act = store.keep_choice(view.file.engine, sent.part, sent.name, found, seen=sent.seen, who=who())
    return written(view, {"act": act})


def _board(view: View, name: str, given: Mapping[str, Any]) -> dict[str, Any]:
    found = board_from({**given, "name": name})
    if name in timber(view).sawn:
        raise BadBoard(f"board {name!r} has been cut already; give the new one another name.")
    return mapping_of(found)


def _glue(view: View, name: str, given: Mapping[str, Any]) -> dict[str, Any]:
    own, source = dict(given.get("own", {})), str(given.get("source", ""))[:200]
    data_sheet(name, own, source)
    return {"own": own, "source": source}


def _jig(view: View, name: str, given: Mapping[str, Any]) -> dict[str, Any]:
    if name != "bed":
        raise ScrieveError(f"jig {name!r}: the bed is kept here, under 'bed'; its setting by /api/jig/setting.")
    return JigBed.from_mapping(given).checked().to_mapping()


def _lining(view: View, name: str, given: Mapping[str, Any]) -> dict[str, Any]:
    hands: tuple[Hand, ...] = get_args(Hand)
    if name not in hands:
        raise BadPlank(f"lining {name!r}: say one of {', '.join(hands)}.")
    here = Side(view, hands[hands.index(name)])
    choice = LiningChoice.from_mapping({**asdict(here.choice), **given})
    here.lined(choice)
    return {**here.stored, "choice": asdict(choice)}


def _skin(view: View, name: str, given: Mapping[str, Any]) -> dict[str, Any]:
    hands: tuple[Hand, ...] = get_args(Hand)
    if name not in hands:
        raise BadPlank(f"skins {name!r}: say one of {', '.join(hands)}.")
    here = Skins(view, hands[hands.index(name)])
    chosen = {layer: SkinChoice.from_mapping(given[layer]) for layer in ("inner", "outer") if given.get(layer)}
    if "inner" not in chosen:
        raise BadPlank("skins: give the inner layer, and where there are two the outer.")
    for choice in chosen.values():
        here.laid(choice)
    return {layer: asdict(chosen[layer]) if layer in chosen else None for layer in ("inner", "outer")}


def _layout(view: View, name: str, given: Mapping[str, Any]) -> dict[str, Any]:
    if name != SHOP:
        raise BadBoard(f"layout {name!r}: the rules are kept here, under {SHOP!r}; parts are laid by /api/jobs.")
    return BoardRules.from_mapping(
        {**(store.choices(view.file.engine, "layout").get(SHOP) or {}), **given}
    ).to_mapping()


def _yard(view: View, name: str, given: Mapping[str, Any]) -> dict[str, Any]:
    if name not in _OF_YARD:
        raise ScrieveError(f"yard {name!r}: say one of {', '.join(_OF_YARD)}; a plan is made by /api/jobs.")
    return _OF_YARD[name]({**(store.choices(view.file.engine, "yard").get(name) or {}), **given})


def _strakes(given: Mapping[str, Any]) -> dict[str, Any]:
    return dict(plan_work.checked_strakes({plank: int(strake) for plank, strake in given.items()}))


def _release(given: ReleaseRules) -> dict[str, float]:
    plain = {name: f"{value:g}" for name, value in asdict(given).items() if value is not None}
    return asdict(given) | shop_typed(plain, ReleaseRules(), "mm")


_OF_YARD: Mapping[str, Callable[[Mapping[str, Any]], dict[str, Any]]] = {
    plan_work.YARD: lambda given: Yard.from_mapping(given).to_mapping(),
    plan_work.PRICES: lambda given: Prices.from_mapping(given).to_mapping(),
    plan_work.STRAKES: _strakes,
    PLAN_NAME: lambda given: asdict(GlueUpPlan(**given)),
    RELEASE: lambda given: asdict(ReleaseRules(**_release(ReleaseRules(**given)))),
}
_READ: Mapping[str, Callable[[View, str, Mapping[str, Any]], dict[str, Any]]] = {
    "board": _board, "glue": _glue, "jig": _jig, "lining": _lining, "skin": _skin, "layout": _layout, "yard": _yard,
}  # fmt: skip
