"""Readings as they were taken, a plank's file, which hull members are made from, where a frame can be held, as JSON."""

from __future__ import annotations

from base64 import b64encode
from typing import Annotated, Literal

from fastapi import Request
from pydantic import Base64Bytes, ConfigDict, Field, JsonValue
from starlette.responses import Response

from scrieve import store
from scrieve.errors import BadMarks
from scrieve.sheets.plank_read import Says
from scrieve.takeoff.marks import Way
from scrieve.takeoff.sending import doubts_of, open_sending
from scrieve.takeoff.tables import Row, Table
from scrieve.web.api.designs import written
from scrieve.web.api.route import Act, Body, Label, Millimetres, readable, router, told
from scrieve.web.fairing.members import make_from
from scrieve.web.forms import Parcel
from scrieve.web.people.who import who
from scrieve.web.planks.files import entry_of_file
from scrieve.web.release.work import held_typed, keep_held
from scrieve.web.settling import keep_plank
from scrieve.web.views import View

pages = router("readings and files")

Cell = Annotated[str, Field(max_length=200)] | Annotated[float, Field(ge=-1e6, le=1e6)]
_Cells = Annotated[dict[Label, Cell], Field(min_length=1, max_length=40)]
_TAPES: list[JsonValue] = [
    {"frame": "3", "station_mm": 2200, "mark": "t1", "side": "P", "nail": "A", "nail_height": 0,
     "nail_half_breadth": 1000, "tape": 630, "lies": "in"},
    {"frame": "3", "mark": "t1", "side": "P", "nail": "B", "nail_height": 900, "nail_half_breadth": 1000, "tape": 764},
]  # fmt: skip

_SEAMS = b64encode(b"frame,edge,girth_mm\n2,lower,100\n2,upper,220\n6,lower,100\n6,upper,220\n").decode()


class ReadingsIn(Body):
    """Rows of one way of taking off: their columns are those of the files (docs/formats.md), bare lengths in mm."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"way": "tapes", "rows": _TAPES}]})
    rows: Annotated[list[_Cells], Field(min_length=1, max_length=5000)]
    way: Annotated[Way | None, Field(description="Told by the columns, unless given.")] = None
    second: Annotated[bool, Field(description="Rows that the boat has already are measured anew.")] = False
    source: Annotated[str, Field(max_length=120)] = "sent by a script"


@pages.post(
    "/readings",
    summary="Store raw readings",
    responses=told({"way": "tapes", "numbers": [51], "known": [], "warnings": [], "doubts": []}),
)
def readings(request: Request, sent: ReadingsIn) -> Response:
    """Store marks with what was read of them (tapes, ordinates, templates, arcs, offsets), all or none.

    Sent without an Idempotency-Key, rows that the boat has already are left out, `known` by their numbers; with one it
    is the key that tells. Bevels go to /api/bevels.
    """
    view = View(request)
    second = sent.second or bool(request.headers.get("idempotency-key", "").strip())
    engine = view.file.engine
    columns = list(dict.fromkeys(name for row in sent.rows for name in row))
    cells = [tuple(_text(row.get(name, "")) for name in columns) for row in sent.rows]
    lines = (Row(0, tuple(columns), True), *(Row(n, row, True) for n, row in enumerate(cells, start=1)))
    found = open_sending(
        Table(lines), "rows", view.state.every_mark, view.boat, way=sent.way, units="mm", second=second
    )
    if found.bad:
        raise BadMarks("some rows cannot be read, so nothing was stored:", found.bad)
    new = store.add_marks(engine, found.marks, source=sent.source, who=who()) if found.marks else []
    doubts = doubts_of(new, store.marks(engine, standing=True), view.boat)
    return written(view, {"way": found.way, "numbers": list(new), "known": list(found.known),
                          "warnings": list(found.warnings),
                          "doubts": [{"text": d.text, "marks": d.numbers} for d in doubts]})  # fmt: skip


def _text(cell: str | float) -> str:
    return cell if isinstance(cell, str) else f"{cell:.12g}"


class PlankFileIn(Body):
    """A plank's file: its seams, the marks of its spiling batten, or a trace of it (DXF), as base64."""

    model_config = ConfigDict(json_schema_extra={"examples": [{
        "name": "of a file", "says": "seams", "thickness_mm": 20, "file_name": "seams.csv",
        "file": _SEAMS}]})  # fmt: skip
    name: Label
    says: Annotated[Says, Field(description="What the file tells.")]
    file: Base64Bytes
    file_name: Annotated[str, Field(min_length=1, max_length=200, description="Its ending tells CSV, XLSX or DXF.")]
    thickness_mm: Annotated[float | None, Field(gt=0, lt=500, description="Else as before, or the boat's.")] = None
    side: Literal["", "P", "S"] = ""
    unit: Annotated[Literal["", "mm", "cm", "m", "in", "ft"], Field(description="Of a drawing that names none.")] = ""
    layer: Annotated[str, Field(max_length=200, description="Of a drawing.")] = ""
    outside: Annotated[bool, Field(description="Traced from outside.")] = False
    anew: Annotated[bool, Field(description="In place of the plank of this name.")] = False


@pages.post("/planks/file", summary="Draw a plank from its file", responses=told({"revision": "1C44E0A7"}))
def plank_file(request: Request, sent: PlankFileIn) -> Response:
    """Keep the plank of a file where it can be drawn; `warnings` say what to look at in the file."""
    view = View(request)
    view.ready()
    plain = {name: getattr(sent, name) for name in ("name", "says", "side", "unit", "layer")}
    plain |= {"outside": "yes"} if sent.outside else {}
    plain |= {"anew": "yes"} if sent.anew else {}
    plain |= {"thickness": f"{sent.thickness_mm!r} mm"} if sent.thickness_mm else {}
    with readable("the file"):
        name, entry, warnings = entry_of_file(view, Parcel(plain, sent.file_name, sent.file, (sent.file,)))
    keep_plank(view, name, entry, plain)
    view = View(request)
    return written(view, {"revision": view.kept.plank_revision(name), "warnings": list(warnings)})


class MadeFromIn(Body):
    """What a frame, a plank or everything is made from: both sides faired as one, or each side's own marks."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"of": "everything", "how": "together"}]})
    of: Literal["frame", "plank", "everything"]
    label: Annotated[str, Field(max_length=80, description="Of the frame or plank.")] = ""
    how: Annotated[
        Literal["apart", "together", "both", "port", "starboard"],
        Field(description="frame, everything: apart, a blank for each hand, or together; plank: the hull."),
    ]


@pages.post("/made-from", summary="What members are made from", responses=told({"act": 45}))
def made_from(request: Request, sent: MadeFromIn) -> Response:
    """Change it where every member concerned can be made so; else nothing is changed, and each is named."""
    view = View(request)
    view.ready()
    make_from(view, sent.of, sent.label, sent.how, {})
    return written(view, {"act": store.last_act(view.file.engine)})


class FasteningsIn(Body):
    """Where a frame can be held to the hull: along its moulded line from the heel; none: at its bevel marks."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"frame": "3", "s_mm": [100, 400, 700]}]})
    frame: Label
    s_mm: Annotated[list[Millimetres], Field(max_length=200)]
    seen: Act = None


@pages.post("/fastenings", summary="Where a frame can be held", responses=told({"act": 46}))
def fastenings(request: Request, sent: FasteningsIn) -> Response:
    """Keep the places; a release is judged as the frame will lie when it is held there."""
    view = View(request)
    view.ready()
    places = held_typed(";".join(f"{place!r} mm" for place in sent.s_mm), view.frame(sent.frame)[0], "mm")
    keep_held(view.file.engine, sent.frame, places, seen=sent.seen, who=who())
    return written(view, {"act": store.last_act(view.file.engine)})
