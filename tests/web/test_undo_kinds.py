"""Every write of the pages and of the API: shown in the history, taken back, done again. A new one has to be told here.

Each is sent from a page as it stands then, with the fields that a person would fill in.
"""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import get_args

import pytest
from boats import HOME, MERGANSER, all_routes, client_of, make_small, ready, settled, until
from forms_read import forms

from scrieve import store
from scrieve.frames.choice import FrameChoice
from scrieve.planking import SpilingChoice, read_spiling
from scrieve.store.keeping import TAKEN_BACK, Part
from scrieve.web import create_app
from scrieve.web.people.rules import WRITES
from scrieve.web.timber.acts import ACTS
from scrieve.web.workplan.forms import FORMS

TEMPLATES = Path(__file__).parents[2] / "src/scrieve/web/templates"
BOARD = {"name": "A9", "length": "6000", "width": "500", "thickness": "60", "timber": "larch"}
DAY = "/glue-up?frame=3&air=18&rh=60&hour=8:30"
BATTEN = (MERGANSER / "spiling.csv").read_text(encoding="utf-8")
MEASURED = "0; 0.5\n200; 0.8\n400; 1.6\n600; 0.9\n700; 0.2"


@dataclass(frozen=True)
class Deed:
    """A form of a page: `having` are fields or buttons that it must have, `given` what is filled in.

    `first` are done before, so that there is something to do it to.
    """

    path: str
    page: str
    given: dict[str, str] = field(default_factory=dict)
    having: dict[str, str] = field(default_factory=dict)
    first: tuple[Deed, ...] = ()


YARD = {
    "person": {"cost": "30"}, "hours": {"Sat": "8:00-12:00"}, "shop": {"jigs": "2"}, "waits": {"shed": "15"},
    "hull": {"frames_out": "1"}, "aim": {"calm_days": "0.7"}, "times": {"frame stock": "3 h"},
    "due": {"due": "2031-05-05"}, "strakes": {},
}  # fmt: skip
#: What was sought for one state of the boat is gone when she has changed in between.
SOUGHT = Deed("/jig/order", "/jig/order", having={"without": ""})
DEEDS = {
    "a mark kept": Deed("/marks/answer", "/fairing", having={"what": "keep"}),
    "a mark dropped": Deed("/marks/answer", "/fairing", having={"what": "drop"}),
    "a mark measured again": Deed("/marks/again", "/fairing?mark=18", {"height": "300", "half_breadth": "540"}),
    "marks typed": Deed("/marks/new", "/marks/new?frame=4", {
        "do": "anyway", "station": "3000", "side": "P", "r1.height": "350", "r1.half_breadth": "620"}),
    "marks of a table": Deed("/marks/file", "/marks/new?frame=4", {
        "do": "anyway", "text": "frame,station,height,half_breadth\n4,3000,350,620\n4,3000,250,560\n"}),
    "bevels typed": Deed("/marks/new", "/marks/new?way=bevels&frame=4", {
        "do": "store", "side": "P", "face": "fore", "r1.mark": "b1", "r1.height": "300", "r1.bevel": "0.5"}),
    "a bevel board": Deed("/marks/bevels", "/marks/bevels", {
        "do": "keep", "text": "frame,mark,height,bevel,face\n5,b1,300,2.5,fore\n"}),
    "a bevel board taken back": Deed("/marks/bevels", "/marks/bevels", having={"do": "back"}),
    "the boat's settings": Deed("/settings", "/settings", {"note": "planking sounded"}),
    "a frame designed": Deed("/frames/design", "/frames", {"label": "5", "sided": "40", "moulded": "50"}),
    "a frame changed": Deed("/frames/design", "/frames/4", {"sided": "32"}, {"label": "4"}),
    "a frame from each side": Deed("/fairing/made-from", "/frames/4", having={"of": "frame", "how": "apart"}),
    "a frame forgotten": Deed("/forget", "/forget?of=frame&label=4"),
    "a plank forgotten": Deed("/forget", "/forget?of=plank&label=strake+9"),
    "the jig's bed": Deed("/jig/bed", "/jig", {"rails": "14"}),
    "the jig set": Deed("/jig/setting", "/jig?frame=4", having={"what": "set"}),
    "the jig's setting forgotten": Deed("/jig/setting", "/jig", having={"what": "forget"}),
    "a bracket ticked": Deed("/jig/bench", "/jig/bench?frame=4&bracket=1", having={"what": "tick"}),
    "a bracket not ticked": Deed("/jig/bench", "/jig/bench?frame=4&bracket=1", having={"what": "undo"}, first=(
        Deed("/jig/bench", "/jig/bench?frame=4&bracket=1", having={"what": "tick"}),)),
    "a bracket off the bed": Deed("/jig/bench", "/jig/bench?frame=4", having={"what": "away"}, first=(
        SOUGHT, Deed("/jig/order", "/jig/order", having={"what": "keep"}))),
    "the jig proved": Deed("/jig/bench", "/jig/bench?frame=3&prove=1", having={"what": "proved"}),
    "the jig's order kept": Deed("/jig/order", "/jig/order", having={"what": "keep"}, first=(SOUGHT,)),
    "the jig's order forgotten": Deed("/jig/order", "/jig/order", having={"what": "forget"}, first=(
        SOUGHT, Deed("/jig/order", "/jig/order", having={"what": "keep"}))),
    "the glue's figures": Deed("/glue-up/sheet", DAY, {"spread_g_m2": "450", "source": "the tin"}),
    "the shop's pace": Deed("/glue-up/plan", DAY, {"people": "3"}),
    "a stop signed": Deed("/glue-up/sign", DAY, {"name": "first hand"}),
    "glued up": Deed("/glue-up/done", DAY, {"name": "first hand"}),
    "a look at the glue": Deed("/glue-up/cure", DAY, {"glue_c": "17.5", "name": "first hand"}),
    "a release": Deed("/release/store", "/release?frame=4", {"text": MEASURED, "face": "outside"}),
    "how a release is judged": Deed("/release/shop", "/release?frame=3", {"tolerance_mm": "2.5"}),
    "where a frame can be held": Deed("/release/fastenings", "/release?frame=3", {"held": "100; 300; 500"}, first=(
        Deed("/release/store", "/release?frame=3", {"text": MEASURED, "face": "outside"}),)),
    "a frame fitted": Deed("/release/fitted", "/release?frame=3", {"hand": "P", "name": "first hand"}),
    "a plank of a file": Deed("/planks/file", "/planks", {
        "name": "strake 5", "says": "spiling", "thickness": "25", "table": BATTEN}),
    "a plank's settings": Deed("/planks/settings", "/planks/strake 9", {"thickness_mm": "24"}),
    "a side lined off": Deed("/planks/lining", "/planks/lining?side=starboard", {"strakes": "5"}, {"form": "settings"}),
    "butts": Deed("/planks/lining", "/planks/lining?side=port", {"do": "check", "renew": "2"}, {"form": "butts"}),
    "fastening and caulking": Deed("/planks/lining", "/planks/lining?side=port", {"cotton": "9"}, {
        "form": "fastening"}),
    "a strake made a plank": Deed("/planks/lining", "/planks/lining?side=port&strake=2", having={"form": "plank"}),
    "skins laid": Deed("/planks/skin", "/planks/skin?side=port", {"inner_width_mm": "180"}, {"form": "skin"}),
    "a plank of a skin": Deed("/planks/skin", "/planks/skin?side=port", having={"form": "plank"}),
    "a board added": Deed("/timber", "/timber", BOARD, {"do": "add"}),
    "boards of a table": Deed("/timber", "/timber", {
        "table": "board,kind,length,width,thickness\nZ1,board,2000,300,30\nZ2,board,2000,300,30\n"}, {"do": "table"}),
    "a board off the rack": Deed("/timber", "/forget?of=board&label=B2", having={"do": "forget"}),
    "the shop's rules": Deed("/timber", "/timber", {"kerf_mm": "5"}, {"do": "shop"}),
    "a part put by hand": Deed("/timber", "/timber", {
        "do": "put", "part": "strake 9", "board": "B1", "first": "900mm"}),
    "a part off its board": Deed("/timber", "/timber", {"do": "off", "part": "strake 9"}),
    "the last step by hand": Deed("/timber", "/timber", having={"do": "back"}),
    "nothing held": Deed("/timber", "/timber", having={"do": "let-go"}),
    "all laid": Deed("/timber", "/timber", having={"do": "lay"}),
    "a board cut": Deed("/timber", "/timber", having={"do": "cut", "board": "B1"}),
    "a board not cut": Deed("/timber", "/timber", having={"do": "uncut"}, first=(
        Deed("/timber", "/timber", having={"do": "cut", "board": "B1"}),)),
    "laminations ripped": Deed("/timber", "/timber", having={"do": "rip"}),
    "the work planned": Deed("/plan", "/plan", having={"do": "make"}),
    "the work planned anew": Deed("/plan", "/plan", having={"do": "again"}),
    "a plan forgotten": Deed("/plan", "/plan", {"do": "forget"}),
    "work begun": Deed("/plan/work", "/plan/waits?member=plank+strake+9", having={"what": "begun"}),
    "prices": Deed("/plan/costs", "/plan/costs", {"glue": "12"}, {"do": "prices"}),
    "what was used": Deed("/plan/costs", "/plan/costs", {"amount": "2"}, {"do": "used"}),
    "an entry of the log": Deed("/log", "/log", {"text": "rot at the heel", "kind": "found"}),
    **{f"the yard: {do}": Deed("/plan/yard", "/plan/yard", given, {"do": do}) for do, given in YARD.items()},
}  # fmt: skip

#: What stores nothing of the boat, or is not taken back: why.
NOT_UNDONE = {
    "/sign-in": "a sitting of one device, ended by signing out",
    "/sign-out": "a sitting of one device",
    "/me": "a password or PIN: only its digest is kept, and an old one is not brought back",
    "/people": "who may do what is no act of the boat's; the same page says otherwise again",
    "/undo": "taken back by itself, see every case here",
    "/frames/try": "a trial",
    "/api/judge": "a trial",
    "/plan/what-if": "a trial: planned aside, nothing kept",
    "/api/jobs": "as the searches of the pages",
}
#: Words of a form that store nothing, or do what another case here does.
WORDS = {
    "judge": "stores nothing", "good": "as 'store' of the rows that can be read", "anyway": "as 'store'",
    "stop": "ends a search: what it found is kept as at its end", "plan": "begins a search: nothing is stored yet",
    "rack": "as 'check'", "change": "people", "gone": "people", "back": "people, and the last step by hand",
    "undone": "a correction of the work recorded, as 'begun'", "finished": "as 'begun'", "signed": "as 'begun'",
    "stealers": "as 'settings': the same choice of the side's lining",
}  # fmt: skip


def job_of(client, path):
    """Wait for what a form has begun aside."""
    return until(lambda: 'value="stop"' not in (text := settled(client, path).text) and text, f"{path}: still at work")


def press(client, deed: Deed):
    """Send a form of a page as it stands now."""
    page = job_of(client, deed.page)
    for action, fields, buttons in forms(page):
        pressed = dict(each for each in buttons if deed.having.get(each[0]) == each[1])
        if action.partition("#")[0] == deed.path and deed.having.items() <= (fields | pressed).items():
            reply = client.post(action.partition("#")[0], data=fields | pressed | deed.given)
            said = re.findall(r'class="message"[^>]*>(.*)', reply.text)
            assert reply.status_code == 303, f"{deed}: {reply.status_code} {said}"
            if deed.having.get("do") in ("lay", "make", "again"):
                job_of(client, deed.page)
            return
    raise AssertionError(f"{deed.page} has no form to {deed.path} with {deed.having}")


def seen(client):
    """All that a reader of the store sees, but the numbers of records and marks taken back: none is used again."""
    engine = client.app.state.boat.engine
    records = sorted(repr((each.kind, each.member, dict(each.detail))) for each in store.records(engine))
    answers = {number: what for number, what in store.answers(engine).items() if what != TAKEN_BACK}
    parts = {part: store.choices(engine, part) for part in get_args(Part)}
    marks = [(mark.frame, mark.height_mm, mark.half_breadth_mm) for mark in store.marks(engine, standing=True)]
    revision = client.app.state.boat.state().revision  # else sheets would be told out of date
    return store.boat(engine), revision, marks, answers, parts, records


def take_back(client, acts):
    """Press the button of the page that asks for each act, the latest first."""
    for act in sorted(acts, reverse=True):
        asked = client.get(f"/undo?act={act}").text
        assert "What it would restore" in asked, re.sub("<[^>]*>", " ", asked)[-1500:]
        assert "<ul></ul>" not in asked, "it does not say what it would restore"
        press(client, Deed("/undo", f"/undo?act={act}", having={"acts": str(act)}))


@pytest.fixture(scope="module")
def boat(tmp_path_factory):
    """A boat on which everything of these cases can be done; each leaves her as she was."""
    path = make_small(tmp_path_factory.mktemp("undo") / "small.scrieve", slip_mm=150.0)
    engine = store.open_boat(path)
    for label in ("3", "4"):
        choice = FrameChoice(label, moulded_mm=30.0, lamination_mm=4.0, sided_mm=30.0, pitch_mm=160.0, trim_mm=50.0)
        store.keep_frame(engine, label, {"choice": choice.to_mapping(), "station_mm": None})
    both = [replace(mark, side=side) for mark in store.marks(engine)[7:42] for side in ("P", "S")]
    store.add_marks(engine, both)  # so that each side can be faired by itself
    batten = read_spiling(BATTEN.encode(), "spiling.csv").batten
    spiled = asdict(SpilingChoice("strake 9", 25.0, side="P"))
    marks = [asdict(mark) for mark in batten.marks]
    store.keep_plank(engine, "strake 9", {"kind": "spiled", "choice": spiled, "marks": marks})
    engine.dispose()
    with client_of(ready(create_app(path))) as client:
        client.headers["origin"] = HOME
        for deed in BEFORE:
            press(client, deed)
        yield client


#: Fields and buttons that say what a form does.
_SAYS = ("do", "what", "form")
#: So that every case has what it is about.
BEFORE = (
    *(Deed("/timber", "/timber", BOARD | {"name": name}, {"do": "add"}) for name in ("B1", "B2", "B3")),
    Deed("/timber", "/timber", {"seconds": "1", "grain_run": "0"}, {"do": "shop"}),
    Deed("/timber", "/timber", having={"do": "lay"}),
    Deed("/timber", "/timber", {"do": "put", "part": "strake 9", "board": "B1"}),
    Deed("/plan/yard", "/plan/yard", {"seconds": "1"}, {"do": "aim"}),
    Deed("/plan", "/plan", having={"do": "make"}),
    Deed("/jig/bed", "/jig"),
    Deed("/jig/setting", "/jig?frame=3", having={"what": "set"}),
    SOUGHT,
    Deed("/glue-up/done", DAY, {"name": "first hand"}),
    Deed("/planks/lining", "/planks/lining?side=port", {"strakes": "6"}, {"form": "settings"}),
    Deed("/planks/skin", "/planks/skin?side=port", {"inner_width_mm": "200"}, {"form": "skin"}),
    Deed("/marks/bevels", "/marks/bevels", {"do": "keep", "text": "frame,mark,height,bevel,face\n4,b1,300,2.5,fore\n"}),
)  # fmt: skip


@pytest.mark.parametrize("kind", DEEDS)
def test_each_write_is_in_the_history_is_taken_back_and_done_again(boat, kind):
    engine = boat.app.state.boat.engine
    begun = store.last_act(engine)
    for deed in DEEDS[kind].first:
        press(boat, deed)
    firsts = [act.number for act in store.acts(engine, after=begun)]
    before, count = seen(boat), store.last_act(engine)
    press(boat, DEEDS[kind])
    after, acts = seen(boat), [act.number for act in store.acts(engine, after=count)]
    assert after != before, "it stored nothing"
    history = boat.get("/undo").text
    assert all(f'id="act-{act}"' in history for act in acts)
    count = store.last_act(engine)
    take_back(boat, acts)
    assert seen(boat) == before
    undone = [act.number for act in store.acts(engine, after=count)]
    take_back(boat, undone)
    assert seen(boat) == after, "what was taken back was not done again"
    count = store.last_act(engine)
    take_back(boat, acts)
    assert seen(boat) == before
    press(boat, DEEDS[kind])
    assert seen(boat) != before, "taken back, it cannot be done anew"
    take_back(boat, [act.number for act in store.acts(engine, after=count)][len(acts) :])
    assert seen(boat) == before
    take_back(boat, firsts)


def test_every_write_is_walked_here_or_said_not_to_be():
    """A new address that takes something, a new word of one, a new form: this fails until it is told above."""
    from scrieve.web.app import PARTS

    taken = {route.path for part in PARTS for route in all_routes(part.pages) if "POST" in route.methods}
    walked = {deed.path for deed in DEEDS.values()}
    api = {path for path in taken if path.startswith("/api/")}
    assert taken - walked - api - set(NOT_UNDONE) == set()
    assert not walked & set(NOT_UNDONE)
    assert not [path for path in (*taken, *WRITES) if path not in taken and not path.startswith("/api/") and not any(
        each.startswith(path + "/") for each in taken)]  # fmt: skip
    told = {value for deed in DEEDS.values() for name, value in (deed.having | deed.given).items() if name in _SAYS}
    words = set()
    for path in TEMPLATES.glob("*.html"):
        for form in re.findall(r'<form method="post".*?</form>', path.read_text("utf-8"), re.S):
            words |= set(re.findall(r'name="(?:do|what|form)" value="(\w[\w -]*)"', form))
    assert {*words, *ACTS, *FORMS} - told - set(WORDS) == set()


@pytest.mark.parametrize("path", sorted(NOT_UNDONE))
def test_what_is_not_undone_is_no_act_of_the_boat(boat, path):
    """Sent with nothing in it, or anything: the history stays as it is, and so does all that a reader sees."""
    before = store.last_act(boat.app.state.boat.engine)
    if path == "/undo":
        assert boat.post(path, data={"acts": "999999"}).status_code == 422
    else:
        boat.post(path, data={"do": "stop", "name": "somebody"})
    assert store.last_act(boat.app.state.boat.engine) == before
