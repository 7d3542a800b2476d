"""What was done and measured, sent as JSON: jig set, glued up, off the jig, fitted, the plan's work, the logbook."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Literal

from fastapi import Request
from pydantic import Base64Bytes, ConfigDict, Field
from starlette.responses import Response

from scrieve import store
from scrieve.errors import BadLamination
from scrieve.logbook.written import MOST_VALUES
from scrieve.web.api.designs import written
from scrieve.web.api.route import Body, Label, Millimetres, Number, Words, readable, router, told
from scrieve.web.forms import Parcel
from scrieve.web.glue_up.curing import KIND, curing_of, look_typed
from scrieve.web.glue_up.forms import Day
from scrieve.web.glue_up.pages import seen as glue_seen
from scrieve.web.glue_up.work import done_detail, signature
from scrieve.web.jig.pages import change_setting
from scrieve.web.logbook.work import keep as keep_entry
from scrieve.web.people.signing import signed_by
from scrieve.web.people.who import who
from scrieve.web.release.work import measured
from scrieve.web.views import View
from scrieve.web.workplan import work as plan_work

pages = router("work done")

Short = Annotated[str, Field(max_length=100)]
Celsius = Annotated[float, Field(ge=-40, le=100)]
#: Of the one who signs; asked for where the yard has people.
Pin = Annotated[str, Field(max_length=20)]


class SettingIn(Body):
    """That the jig stands for a frame, or one bracket does; `forget`: nobody knows any more how it stands."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"frame": "3", "what": "bracket", "bracket": 1}]})
    frame: Label
    what: Literal["set", "bracket", "not", "away", "proved", "forget"]
    bracket: Annotated[int, Field(ge=0, le=1000)] = 0
    along_mm: Annotated[Millimetres, Field(description="away: where on the bed the bracket stands.")] = 0.0


@pages.post("/jig/setting", summary="The jig stands", responses=told({"frame": "3", "what": "set"}))
def jig_setting(request: Request, sent: SettingIn) -> Response:
    """Keep that the jig stands for a frame (`set`), that a bracket does or does `not`, that one which is in the way was
    taken off the bed (`away`), or that the tape proved it.
    """
    view = View(request)
    view.ready()
    engine, number = view.file.engine, sent.bracket
    if sent.what == "forget":
        store.keep_choice(engine, "jig", "setting", None, who=who())
    elif sent.what == "proved":
        view.frame(sent.frame)
        detail = {"of": "", "frame": sent.frame, "revision": view.kept.frame_revision(sent.frame)}
        store.add_record(engine, "jig proved", sent.frame, detail, who=who())
    else:
        acts = {"set": lambda found, kept: found.set_whole(kept), "bracket": lambda f, kept: f.tick(kept, number),
                "not": lambda found, kept: found.untick(kept, number),
                "away": lambda found, kept: found.take_away(kept, sent.along_mm)}  # fmt: skip
        with readable("the setting"):
            change_setting(view, sent.frame, acts[sent.what])
    return written(view, {"frame": sent.frame, "what": sent.what})


class DayIn(Body):
    """A frame and the day of its glue-up."""

    frame: Label
    air_c: Celsius
    humidity_pct: Annotated[float, Field(gt=0, le=100)]
    timber_c: Celsius | None = None
    glue_c: Celsius | None = None
    moistures_pct: Annotated[list[Annotated[float, Field(gt=0, le=100)]], Field(max_length=200, default_factory=list)]
    people: Annotated[int, Field(ge=1, le=50)] | None = None
    hour: Annotated[str, Field(pattern=r"^(\d{1,2}[:.]\d\d)?$")] = ""

    @property
    def day(self) -> Day:
        """The day as the page's form has it."""
        texts = {"air": self.air_c, "rh": self.humidity_pct, "timber": self.timber_c, "glue": self.glue_c,
                 "people": self.people}  # fmt: skip
        plain = {name: "" if value is None else repr(value) for name, value in texts.items()}
        return Day(**plain, mc=" ".join(map(repr, self.moistures_pct)), hour=self.hour)


class SignIn(DayIn):
    """A name under a stop of a day's card."""

    model_config = ConfigDict(json_schema_extra={"examples": [
        {"frame": "3", "air_c": 18, "humidity_pct": 60, "stop": "dry run", "name": "first hand"}]})  # fmt: skip
    stop: Annotated[str, Field(max_length=200, description="Its `key` in /api/glue-up.")]
    name: Annotated[str, Field(min_length=1, max_length=100)]
    pin: Pin = ""


@pages.post("/glue-up/sign", summary="Sign a stop", responses=told({"record": 4}))
def sign(request: Request, sent: SignIn) -> Response:
    """Keep a name under a stop, for the limit and the value that stand there on that day."""
    view = View(request)
    with readable("the signature"):
        name, signed = signed_by(view.file.engine, sent.name, sent.pin)
        detail = signature(glue_seen(view, sent.frame, sent.day), sent.stop, name, signed)
    return written(view, {"record": store.add_record(view.file.engine, "signature", sent.frame, detail, who=who())})


class GluedIn(DayIn):
    """That a frame was glued up."""

    model_config = ConfigDict(json_schema_extra={"examples": [
        {"frame": "3", "air_c": 18, "humidity_pct": 60, "name": "first hand", "hour": "8:30"}]})  # fmt: skip
    name: Short = ""
    note: Annotated[str, Field(max_length=500)] = ""


@pages.post("/glue-up/done", summary="Glued up", responses=told({"record": 5}))
def glued(request: Request, sent: GluedIn) -> Response:
    """Keep that the frame is in the clamps: the day, the pots, the design, and the line it is to have."""
    view = View(request)
    detail = done_detail(glue_seen(view, sent.frame, sent.day), sent.name, sent.note)
    return written(view, {"record": store.add_record(view.file.engine, "glue-up", sent.frame, detail, who=who())})


class CureIn(Body):
    """A temperature read at the glue line; without an hour, now."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"frame": "3", "glue_c": 17.5, "name": "first hand"}]})
    frame: Label
    glue_c: Celsius
    hour: Annotated[float, Field(ge=0, le=10_000)] | None = None
    name: Short = ""


@pages.post("/glue-up/cure", summary="A look at the glue line", responses=told({"record": 6}))
def cure(request: Request, sent: CureIn) -> Response:
    """Keep a temperature while it cures; sent again for the same hour, it is put right."""
    view = View(request)
    curing = curing_of(view.file.engine, sent.frame)
    if curing is None:
        raise BadLamination("no glue-up of this frame has been kept; say first that it is in the clamps.")
    hour = "" if sent.hour is None else repr(sent.hour)
    detail, corrects = look_typed(curing, hour, repr(sent.glue_c), sent.name, datetime.now(UTC))
    number = store.add_record(view.file.engine, KIND, sent.frame, detail, corrects=corrects, who=who())
    return written(view, {"record": number})


class ReleaseIn(Body):
    """A frame measured off the jig, or again after ripping; rows in mm."""

    model_config = ConfigDict(json_schema_extra={"examples": [{
        "frame": "3", "when": "off the jig", "hand": "", "face": "outside", "way": "offsets",
        "rows": [[0, 0.5], [200, 0.8], [400, 1.6], [600, 0.9], [700, 0.2]], "name": "first hand"}]})  # fmt: skip
    frame: Label
    when: Literal["off the jig", "after ripping"]
    hand: Literal["", "P", "S"] = ""
    face: Literal["outside", "moulded line", "inside"]
    way: Literal["offsets", "points", "placed points"] = "offsets"
    rows: Annotated[
        list[Annotated[list[Millimetres], Field(min_length=2, max_length=3)]], Field(min_length=1, max_length=500)
    ]
    sigma_mm: Annotated[float, Field(gt=0, le=100)] | None = None
    name: Short = ""
    note: Annotated[str, Field(max_length=500)] = ""
    corrects: Number | None = None


@pages.post("/release", summary="Off the jig: measured", responses=told({"record": 7}))
def release(request: Request, sent: ReleaseIn) -> Response:
    """Keep what was measured, raw, with the line it is held against; a correction names what it puts right."""
    view = View(request)
    view.ready()
    design, _, revision = view.frame(sent.frame)
    text = "\n".join("; ".join(f"{value!r} mm" for value in row) for row in sent.rows)
    plain = {name: getattr(sent, name) for name in ("when", "hand", "face", "way", "name", "note")}
    plain |= {
        "text": text,
        "sigma": f"{sent.sigma_mm!r} mm" if sent.sigma_mm else "",
        "corrects": str(sent.corrects or ""),
    }
    with readable("what was measured"):
        detail, corrects = measured(view.file.engine, sent.frame, design, revision, view.boat.units, plain)
    number = store.add_record(view.file.engine, "release", sent.frame, detail, corrects=corrects, who=who())
    return written(view, {"record": number})


class FittedIn(Body):
    """That a half, or both, stand in the hull."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"frame": "3", "hand": "P", "name": "first hand"}]})
    frame: Label
    hand: Literal["", "P", "S"] = ""
    name: Short = ""
    note: Annotated[str, Field(max_length=500)] = ""


@pages.post("/fitted", summary="Fitted in the hull", responses=told({"record": 8}))
def fitted(request: Request, sent: FittedIn) -> Response:
    """Keep that a frame was fitted."""
    view = View(request)
    view.ready()
    view.frame(sent.frame)
    detail = {"hand": sent.hand, "by": sent.name, "note": sent.note}
    return written(view, {"record": store.add_record(view.file.engine, "fitted", sent.frame, detail, who=who())})


class WorkIn(Body):
    """An operation of the plan begun, finished, signed, or not so after all."""

    model_config = ConfigDict(
        json_schema_extra={"examples": [{"op": "frame 3: shore", "what": "begun", "people": ["lead hand"]}]}
    )
    op: Annotated[str, Field(min_length=1, max_length=160)]
    what: Literal["begun", "finished", "signed", "undone"]
    people: Annotated[list[Short], Field(max_length=30, default_factory=list)]
    minutes: Annotated[float, Field(ge=0, le=100_000)] | None = None
    note: Annotated[str, Field(max_length=300)] = ""
    pin: Pin = ""


@pages.post("/plan/work", summary="Work of the plan", responses=told({"record": 9}))
def work(request: Request, sent: WorkIn) -> Response:
    """Record it where the plan allows it: nothing before it is left undone, and a hold point is signed by a name."""
    view = View(request)
    view.ready()
    engine = view.file.engine
    found = plan_work.stand(engine, view.kept, lambda label: view.frame(label)[::2], lambda name: view.plank(name)[0])
    with readable("the operation"):
        number = plan_work.add_work(engine, found, sent.op, sent.what, sent.people, pin=sent.pin, minutes=sent.minutes,
                                    note=sent.note)  # fmt: skip
    return written(view, {"record": number})


class EntryIn(Body):
    """An entry of the logbook; photographs as base64 of a JPEG, PNG, WebP or TIFF."""

    model_config = ConfigDict(json_schema_extra={"examples": [{
        "kind": "found", "member": "frame 3", "text": "rot at the heel, 120 mm up", "values": {"depth": "14 mm"},
        "temperature_c": 17.5, "humidity_pct": 62}]})  # fmt: skip
    kind: Annotated[str, Field(max_length=40)] = "note"
    member: Annotated[str, Field(max_length=80)] = ""
    text: Words = ""
    values: Annotated[dict[Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[^:\n]+$")],
                           Annotated[str, Field(min_length=1, max_length=200, pattern=r"^[^\n]+$")]],
                      Field(max_length=MOST_VALUES, default_factory=dict)]  # fmt: skip
    temperature_c: Annotated[float, Field(ge=-40, le=60)] | None = None
    humidity_pct: Annotated[float, Field(ge=0, le=100)] | None = None
    photographs: Annotated[list[Base64Bytes], Field(max_length=8, default_factory=list)]
    sign: Annotated[str, Field(max_length=60)] = ""
    pin: Pin = ""
    corrects: Number | None = None


@pages.post("/log", summary="Write in the logbook", responses=told({"record": 10}))
def entry(request: Request, sent: EntryIn) -> Response:
    """Keep an entry; with `sign` and `pin` it is signed by that person."""
    view = View(request)
    fields = {name: getattr(sent, name) for name in ("kind", "member", "text", "sign", "pin")} | {
        "values": "\n".join(f"{name}: {figure}" for name, figure in sent.values.items()),
        "temperature": "" if sent.temperature_c is None else repr(sent.temperature_c),
        "humidity": "" if sent.humidity_pct is None else repr(sent.humidity_pct),
        "corrects": str(sent.corrects or ""),
    }  # fmt: skip
    return written(view, {"record": keep_entry(view, Parcel(fields, files=tuple(sent.photographs)))})
