"""The history as JSON: acts, what each would restore, taking them back; members forgotten; what needs attention and the
files of every sheet.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Literal

from fastapi import Query, Request
from pydantic import ConfigDict, Field
from starlette.responses import Response

from scrieve import store
from scrieve.web.addresses import file_path
from scrieve.web.api.designs import written
from scrieve.web.api.route import Act, Body, Label, Number, router, told
from scrieve.web.boat.attention import attention
from scrieve.web.boat.pages import frame_states
from scrieve.web.frames.pages import see
from scrieve.web.frames.progress import progress
from scrieve.web.logbook.undo import lines, there
from scrieve.web.people.who import who
from scrieve.web.planks.pages import see_plank
from scrieve.web.sheet_pages import ROLL, TILED
from scrieve.web.views import View

pages = router("history and sheets")

_ACT = {"number": 41, "at": "2026-03-02T08:30:00.000+00:00", "who": "lead hand", "what": "chose for a frame: 14",
        "undoes": None, "restores": ["sided: 45.0 mm again, now 50.0 mm"], "cannot": ""}  # fmt: skip


@pages.get("/acts", summary="The history", responses=told({"acts": [_ACT], "more": True}))
def acts(
    request: Request,
    to: Annotated[int, Query(ge=0, lt=10**9, description="The last act asked for; 0: the latest.")] = 0,
    limit: Annotated[int, Query(ge=1, le=500)] = 40,
) -> Response:
    """What was done, the latest first: what taking it back would restore, or why it cannot be (`cannot`, else '')."""
    view = View(request)
    last = min(to or view.state.acts, view.state.acts)
    rows = [
        {"number": line.act.number, "at": line.act.at, "who": line.act.who, "what": line.words,
         "undoes": line.act.undoes, "restores": line.restores, "cannot": line.bar}
        for line in lines(view, last, limit)
    ]  # fmt: skip
    return written(view, {"acts": rows, "more": last > limit})


class UndoIn(Body):
    """Acts to be taken back, by their numbers in /api/acts; one that took another back brings that one back."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"acts": [2]}]})
    acts: Annotated[list[Number], Field(min_length=1, max_length=200)]


@pages.post("/undo", summary="Take acts back", responses=told({"undone": [2], "act": 42}))
def undo(request: Request, sent: UndoIn) -> Response:
    """Take acts back, the latest first, each by an act of its own. One that cannot be ends it, and is told; those
    before it stay taken back.
    """
    view = View(request)
    undone = []
    for number in sorted(set(sent.acts), reverse=True):
        undone += [act.number for act in store.undo(view.file.engine, number=number, who=who())]
    return written(view, {"undone": undone, "act": store.last_act(view.file.engine)})


class ForgetIn(Body):
    """A frame or a plank that is not to be made after all; a board goes by /api/choices."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"of": "plank", "label": "trial"}]})
    of: Literal["frame", "plank"]
    label: Label
    seen: Act = None


@pages.post("/forget", summary="Take a frame or plank off its list", responses=told({"act": 43}))
def forget(request: Request, sent: ForgetIn) -> Response:
    """Take it off the list of those to be made. Its marks, records and choices stay, and /api/undo brings it back."""
    view = View(request)
    there(view, sent.of, sent.label)
    return written(view, {"act": store.keep_choice(view.file.engine, sent.of, sent.label, None, seen=sent.seen,
                                                   who=who())})  # fmt: skip


@pages.get(
    "/attention",
    summary="What needs attention",
    responses=told({"matters": [{"what": "One suspect mark", "told": "frame 17; off the fair hull, not counted",
                                 "path": "#suspects", "do": "keep, drop or measure again"}]}),
)  # fmt: skip
def matters(request: Request) -> Response:
    """As the boat's page has it: what stops the work first, each with the page where it is seen to."""
    view = View(request)
    frames = progress(view, frame_states(view.kept, view.ready()))
    return written(view, {"matters": [asdict(matter) for matter in attention(view, frames)]})


@pages.get(
    "/sheets",
    summary="Sheets",
    responses=told({"sheets": [{"of": "frame", "label": "14", "revision": "89A8CB30", "checks_met": True,
                                "cannot": None, "files": {"dxf": "/sheets/file?of=frame&label=14&kind=dxf"}}]}),
)  # fmt: skip
def sheets(request: Request) -> Response:
    """Every member with its revision and the addresses of its files. A print of another revision is out of date."""
    view = View(request)
    view.ready()
    rows = []
    for label in view.kept.frames:
        frame = see(view, label)
        names = [table.name for table in frame.sheet.tables] if frame.sheet else []
        met = frame.design is not None and frame.design.all_ok
        rows.append(_row("frame", label, frame.revision, met, frame.said, names))
    for name in view.kept.planks:
        plank = see_plank(view, name)
        names = [table.name for table in plank.sheet.tables] if plank.sheet else []
        met = plank.design is not None and all(check.ok for check in plank.design.checks)
        rows.append(_row("plank", name, plank.revision, met, plank.said, names))
    return written(view, {"sheets": rows})


def _row(of: str, label: str, revision: str, met: bool, cannot: object, tables: list[str]) -> dict[str, object]:
    kinds = ["bench.pdf", ROLL, *TILED, "dxf", "svg", *(f"{name}.csv" for name in tables if name), "all.zip"]
    files = {} if cannot else {kind: file_path(of, label, kind) for kind in kinds}
    return {"of": of, "label": label, "revision": revision, "checks_met": met,
            "cannot": str(cannot) if cannot else None, "files": files}  # fmt: skip
