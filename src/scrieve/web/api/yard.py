"""Boards by hand, the bevel board, costs and what was used, as JSON: by the pages' own acts."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Annotated, Literal

from fastapi import Query, Request
from pydantic import ConfigDict, Field
from starlette.responses import Response

from scrieve import store
from scrieve.takeoff.bevels import BevelReading
from scrieve.web.api.designs import workings, written
from scrieve.web.api.route import Body, Label, Millimetres, readable, router, told
from scrieve.web.forms import Parcel
from scrieve.web.people.who import who
from scrieve.web.takeoff.bevels_work import held, keep_bevels, kept_bevels
from scrieve.web.timber.acts import ACTS
from scrieve.web.views import View
from scrieve.web.workplan import work as plan_work
from scrieve.web.workplan.forms import amount_typed
from scrieve.workplan.costs import USED

pages = router("boards, bevels, costs")

Radians = Annotated[float, Field(ge=-math.pi / 2, le=math.pi / 2)]


class BoardActIn(Body):
    """A part put by hand or taken off its board, the last step back, nothing held any longer, a board cut or not cut
    after all, laminations ripped. All parts are laid by /api/jobs; boards are added by /api/choices.
    """

    model_config = ConfigDict(json_schema_extra={"examples": [{"do": "rip"}]})
    do: Literal["put", "off", "back", "let-go", "cut", "uncut", "rip"]
    part: Annotated[str, Field(max_length=120, description="put, off.")] = ""
    board: Annotated[str, Field(max_length=80, description="put, cut, uncut.")] = ""
    first_mm: Annotated[Millimetres | None, Field(description="put: from the board's first end.")] = None
    lowest_mm: Annotated[Millimetres | None, Field(description="put: from its datum line.")] = None
    turned_deg: Annotated[float | None, Field(ge=-90, le=90, description="put.")] = None


@pages.post("/boards", summary="Boards by hand", responses=told({"act": 44}))
def boards(request: Request, sent: BoardActIn) -> Response:
    """Do one thing on the rack; what a saw could not cut is refused. What lies where is read at /api/boards."""
    view = View(request)
    fields = {"part": sent.part, "board": sent.board}
    given = {"first": sent.first_mm, "lowest": sent.lowest_mm}
    fields |= {name: f"{value!r} mm" for name, value in given.items() if value is not None}
    fields |= {"turned": repr(sent.turned_deg)} if sent.turned_deg is not None else {}
    with readable("the act"):
        ACTS[sent.do](view, Parcel(fields))
    return written(view, {"act": store.last_act(view.file.engine)})


class BevelIn(Body):
    """One bevel as read, from square, as worked from `face`: standing above zero; its place is a height, a girth from
    the heel, or the label of a mark.
    """

    frame: Label
    bevel_rad: Radians
    face: Literal["fore", "aft"]
    height_mm: Millimetres | None = None
    girth_mm: Millimetres | None = None
    label: Annotated[str, Field(max_length=80)] = ""
    side: Literal["", "P", "S"] = ""
    note: Annotated[str, Field(max_length=500)] = ""


class BevelsIn(Body):
    """Bevels as they stand on the board."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"bevels": [
        {"frame": "2", "bevel_rad": 0.05, "face": "fore", "height_mm": 300, "label": "b1"}]}]})  # fmt: skip
    bevels: Annotated[list[BevelIn], Field(min_length=1, max_length=2000)]
    source: Annotated[str, Field(max_length=120)] = "sent by a script"


@pages.post("/bevels", summary="Keep bevels", responses=told({"record": 11, "new": 1}))
def keep(request: Request, sent: BevelsIn) -> Response:
    """Keep what is new of them; `record` is 0 where nothing is. /api/undo takes them back."""
    view = View(request)
    readings = [BevelReading(**one.model_dump()) for one in sent.bevels]
    with readable("the bevels"):
        held(view, view.ready(), readings, math.radians(1.0))
    number, new = keep_bevels(view, readings, sent.source, None)
    return written(view, {"record": number, "new": new})


@pages.get("/bevels", summary="The bevel board beside the hull")
def bevels(
    request: Request, tolerance: Annotated[float, Query(gt=0, le=45, description="In degrees.")] = 3.0
) -> Response:
    """Every bevel kept, what the fair hull has there, and which differ by more than the tolerance."""
    view = View(request)
    kept = kept_bevels(view)
    if not kept:
        return written(view, {"bevels": [], "differing": 0, "workings": []})
    found = held(view, view.ready(), kept, math.radians(tolerance))
    rows = [
        {**asdict(off.reading), "girth_mm": off.s_mm, "hull_rad": off.hull_rad, "hull_sd_rad": off.hull_sd_rad,
         "residual_rad": off.residual_rad, "differs": off.differs}
        for off in found.board.offs
    ]  # fmt: skip
    return written(
        view, {"bevels": rows, "differing": len(found.board.differing), "workings": workings(found.workings)}
    )


@pages.get("/costs", summary="What is to be ordered, what it costs, what was used")
def costs(request: Request) -> Response:
    """Timber, glue, fastenings, caulking and time: planned and used; null where no price is known."""
    view = View(request)
    view.ready()
    engine, frame, plank = view.file.engine, lambda label: view.frame(label)[::2], lambda name: view.plank(name)[0]
    stand = plan_work.stand(engine, view.kept, frame, plank)
    found = plan_work.costs_of(
        engine, stand, *plan_work.all_goods(engine, stand, frame, plank), plan_work.prices(engine)
    )
    return written(view, {
        "lines": [asdict(line) | {"cost": line.cost} for line in found.lines], "cost": found.cost,
        "used_cost": found.used_cost, "without_price": found.unpriced,
        "orders": [asdict(order) for order in found.orders], "workings": workings(found.workings),
    })  # fmt: skip


class UsedIn(Body):
    """What was used, or with an amount below zero brought back; `what` as /api/costs names it."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"what": "glue", "amount": 1.5, "note": "frame 3"}]})
    what: Label
    amount: Annotated[float, Field(gt=-1e6, lt=1e6)]
    note: Annotated[str, Field(max_length=300)] = ""


@pages.post("/used", summary="What was used", responses=told({"record": 12}))
def used(request: Request, sent: UsedIn) -> Response:
    """Keep what was used."""
    view = View(request)
    detail = amount_typed({"what": sent.what, "amount": repr(sent.amount), "note": sent.note})
    return written(view, {"record": store.add_record(view.file.engine, USED, "", detail, who=who())})
