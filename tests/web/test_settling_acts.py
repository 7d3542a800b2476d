"""Acts that bear on what somebody else has changed meanwhile: the second is shown the difference, nothing is stored.

Forms of settings are held to it in test_settling.py; what is entered and never written over is named at the end.
"""

import html
import re
from dataclasses import asdict

import pytest
from boats import HOME, MERGANSER, all_routes, client_of, make_small, ready

from scrieve import store
from scrieve.frames.choice import FrameChoice
from scrieve.planking import SpilingChoice, read_spiling
from scrieve.stock import rectangular
from scrieve.stock.forms import mapping_of
from scrieve.store import people
from scrieve.web import create_app
from scrieve.web.app import PARTS
from scrieve.web.jig.planning import Planning


@pytest.fixture
def client(tmp_path):
    """A small boat with two frames and a spiled plank to be made, and two boards."""
    path = make_small(tmp_path / "small.scrieve")
    engine = store.open_boat(path)
    for label in ("4", "5"):
        choice = FrameChoice(label, moulded_mm=30.0, lamination_mm=4.0, sided_mm=30.0, pitch_mm=160.0, trim_mm=50.0)
        store.keep_frame(engine, label, {"choice": choice.to_mapping(), "station_mm": None})
    marks = [asdict(mark) for mark in read_spiling((MERGANSER / "spiling.csv").read_bytes(), "s.csv").batten.marks]
    spiled = {"kind": "spiled", "choice": asdict(SpilingChoice("strake 9", 25.0, side="P")), "marks": marks}
    store.keep_plank(engine, "strake 9", spiled)
    for name in ("A1", "B2"):
        store.keep_choice(engine, "board", name, mapping_of(rectangular(name, 6000, 500, 60)))
    store.keep_choice(engine, "layout", "rules", {"grain_run": 0.0})
    engine.dispose()
    with client_of(ready(create_app(path))) as client:
        client.headers["Origin"] = HOME
        yield client
        client.app.state.boat.engine.dispose()


def engine_of(client):
    return client.app.state.boat.engine


def form(client, page, action, **holds):
    """The hidden fields of a page's form that is sent to an address and holds these values or buttons."""
    text = client.get(page).text
    for found in re.findall(rf'<form[^>]*action="{action}[#"].*?</form>', text, re.DOTALL):
        if all(re.search(rf'name="{name}"[^>]*value="{re.escape(value)}"', found) for name, value in holds.items()):
            return {**dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', found)), **holds}
    raise AssertionError(f"{page} has no form to {action} that holds {holds}")


def refused(client, address, sent, *rows):
    """Send a form that somebody else has got ahead of; return the fields of the button that does it all the same."""
    before = store.last_act(engine_of(client))
    reply = client.post(address, data=sent)
    assert reply.status_code == 409, reply.text[:2000]
    assert store.last_act(engine_of(client)) == before
    text = html.unescape(re.sub(r"</?strong>", "", reply.text))
    told = re.findall(r'<th scope="row">(.*?)</th><td>(.*?)</td><td>(.*?)</td><td>(.*?)</td>', text)
    assert [row for row in rows if row not in told] == [], told
    assert "Store both" not in reply.text
    (again,) = re.findall(rf'<form[^>]*action="{address}".*?</form>', reply.text, re.DOTALL)
    return dict(re.findall(r'name="([^"]+)" value="([^"]*)"', again))


HAND = {"part": "strake 9", "do": "put", "up": "outside", "turned": "0", "over": "", "lowest": "100"}


def put(client, first, board="A1", **sent):
    return client.post("/timber", data={**HAND, "board": board, "first": first, **sent})


def place(board, first="50.0"):
    """How a place is told."""
    return f"board {board}, outside up, {first} mm from its first end, lowest 100.0 mm, turned 0.00°, held"


def lies(client):
    """Where the part lies, by the kept laying: its board, and whether it is held."""
    placed = store.choices(engine_of(client), "layout")["laying"]["placements"]
    return [(one["board"], one["held"]) for one in placed]


def test_a_part_put_by_hand_where_somebody_else_has_moved_it(client):
    assert put(client, "50").status_code == 303
    opened = {name: form(client, "/timber?part=strake+9", "/timber", part="strake 9")[name] for name in ("seen", "key")}
    assert put(client, "50", "B2").status_code == 303
    row = ("strake 9", place("A1"), place("B2"), place("A1", "200.0"))
    mine = refused(client, "/timber", {**HAND, **opened, "board": "A1", "first": "200"}, row)
    assert lies(client) == [("B2", True)]
    assert client.post("/timber", data=mine).status_code == 303
    assert lies(client) == [("A1", True)]


def opened_at(client, act):
    """Forms of the timber page as they were opened at an act."""
    return {"seen": str(act), "key": f"opened at {act}"}


def test_other_steps_by_hand_after_somebody_elses(client):
    put(client, "50")
    seen = store.last_act(engine_of(client))
    put(client, "50", "B2")
    row = ("strake 9", place("A1"), place("B2"))
    off = refused(
        client, "/timber", {"do": "off", "part": "strake 9", **opened_at(client, seen)}, (*row, "on no board")
    )
    assert off["do"] == "off"
    refused(client, "/timber", {"do": "back", **opened_at(client, seen)}, (*row, row[1]))
    refused(client, "/timber", {"do": "let-go", **opened_at(client, seen)}, (*row, row[2].removesuffix(", held")))
    # he has sawn A1 by his sheet, or means an empty board to go: neither is so any more
    refused(
        client, "/timber", {"do": "cut", "board": "A1", **opened_at(client, seen)}, (row[0], row[1], "none", row[1])
    )
    gone = refused(
        client, "/timber", {"do": "forget", "board": "B2", **opened_at(client, seen)}, (row[0], "none", row[2], "none")
    )
    assert client.post("/timber", data=gone).status_code == 303
    assert "B2" not in store.choices(engine_of(client), "board")


def test_another_part_moved_meanwhile_is_not_in_the_way(client):
    marks = store.planks(engine_of(client))["strake 9"]
    store.keep_plank(engine_of(client), "strake 8", {**marks, "choice": {**marks["choice"], "name": "strake 8"}})
    seen = store.last_act(engine_of(client))
    assert put(client, "50", part="strake 8").status_code == 303
    assert put(client, "50", "B2", **opened_at(client, seen)).status_code == 303
    assert lies(client) == [("A1", True), ("B2", True)]


def test_the_jig_set_for_another_frame_meanwhile(client):
    opened = form(client, "/jig?frame=4", "/jig/setting", what="set")
    assert client.post("/jig/setting", data=form(client, "/jig?frame=5", "/jig/setting", what="set")).status_code == 303
    ticked = len(store.choices(engine_of(client), "jig")["setting"]["bench"]["ticked"])
    rows = ("set for", "nobody knows", "frame 5", "frame 4"), ("brackets ticked", "none", str(ticked))
    mine = refused(client, "/jig/setting", opened, rows[0])
    forget = form(client, "/jig", "/jig/setting", what="forget")
    tick = {"frame": "4", "what": "tick", "bracket": "1", "seen": forget["seen"], "of": _setting(client, "4")}
    assert client.post("/jig/setting", data=mine).status_code == 303
    assert client.post("/jig/bench", data=tick).status_code == 303, "two who set brackets for one frame are at one"
    tick["of"] = _setting(client, "5")
    refused(client, "/jig/bench", {**tick, "frame": "5"}, ("set for", "frame 5", "frame 4", "frame 5"))
    again = refused(client, "/jig/setting", forget, ("set for", "frame 5", "frame 4", "nobody knows"))
    assert client.post("/jig/setting", data=again).status_code == 303
    assert "setting" not in store.choices(engine_of(client), "jig")


def _setting(client, frame):
    (of,) = set(re.findall(r'name="of" value="(\w+)"', client.get(f"/jig/bench?frame={frame}").text))
    return of


def test_an_order_of_the_jig_kept_or_worked_out_by_somebody_else(client):
    def order(**sent):
        reply = client.post("/jig/order", data=sent)
        Planning(engine_of(client)).job.done.wait(20)
        return reply

    order(after="4 after 5")
    opened = form(client, "/jig/order", "/jig/order", what="keep")
    order(after="5 after 4")
    other = order(**opened)
    assert other.status_code == 422
    assert "another order has been worked out since this page was opened" in other.text
    shown = form(client, "/jig/order", "/jig/order", what="keep")
    assert order(**shown).status_code == 303
    order(after="4 after 5")
    late = form(client, "/jig/order", "/jig/order", what="keep") | {"seen": shown["seen"]}
    forget = form(client, "/jig/order", "/jig/order", what="forget") | {"seen": shown["seen"]}
    keep = refused(client, "/jig/order", late, ("order", "none", "4, 5", "5, 4"))
    assert order(**keep).status_code == 303
    again = refused(client, "/jig/order", {**forget, "seen": keep["seen"]}, ("order", "4, 5", "5, 4", "none"))
    assert order(**again).status_code == 303
    assert "plan" not in store.choices(engine_of(client), "jig")


def test_a_frame_changed_meanwhile_is_not_forgotten_unseen(client):
    opened = form(client, "/forget?of=frame&label=4", "/forget", of="frame")
    entry = store.frames(engine_of(client))["4"]
    store.keep_frame(engine_of(client), "4", {**entry, "choice": {**entry["choice"], "sided_mm": 36.0}}, who="Wren")
    mine = refused(client, "/forget", opened, ("sided", "30.0 mm", "36.0 mm", "30.0 mm"))
    assert client.post("/forget", data=mine).status_code == 303
    assert "4" not in store.frames(engine_of(client))


def test_a_mark_answered_meanwhile_is_not_measured_again_unseen(client):
    seen = store.last_act(engine_of(client))
    store.answer(engine_of(client), 9, "drop", who="Wren")
    again = {"number": "9", "height": "100", "half_breadth": "60", "seen": str(seen), "back": "/fairing"}
    reply = client.post("/marks/again", data=again)
    assert reply.status_code == 409
    assert "<strong>measured again</strong>" in reply.text
    assert store.answers(engine_of(client)) == {9: "drop"}


def test_a_role_given_by_another_keeper_meanwhile(client):
    engine = engine_of(client)
    people.add_person(engine, "Ask", "keeper", "a long enough password")
    people.add_person(engine, "Wren", "bench", "a long enough password")
    opened = {"name": "Wren", "was": "bench", "do": "change"}
    people.change_person(engine, "Wren", role="lead hand")
    reply = client.post("/people", data={**opened, "role": "look"})
    assert reply.status_code == 422
    assert "somebody has made lead hand of that since; look was not stored" in reply.text
    sitting = people.sit_down(engine, people.known(engine, "Wren", "a long enough password"))
    assert client.post("/people", data={**opened, "role": "bench"}).status_code == 303
    assert [each.role for each in people.people(engine)] == ["keeper", "lead hand"], "a role left as it was is not sent"
    assert people.sitting(engine, sitting), "and ends no sitting"


#: Every address that stores something, by what its second sender is told.
ASKED = {
    "a form": {"/settings", "/frames/design", "/jig/bed", "/glue-up/sheet", "/glue-up/plan", "/release/shop",
               "/release/fastenings", "/planks/settings", "/planks/lining", "/planks/skin", "/planks/file",
               "/plan/yard", "/plan/costs", "/marks/answer", "/people"},
    "an act": {"/timber", "/jig/setting", "/jig/bench", "/jig/order", "/fairing/made-from", "/forget", "/marks/again",
               "/plan", "/undo"},
    # entries: both stay in the record, none writes over another
    "nothing": {"/marks/new", "/marks/file", "/marks/bevels", "/log", "/glue-up/sign", "/glue-up/done", "/glue-up/cure",
                "/release/store", "/release/fitted", "/plan/work", "/sign-in", "/sign-out", "/me"},
    "nothing, for it stores nothing": {"/frames/try", "/plan/what-if", "/api/judge"},
}  # fmt: skip


def test_every_address_that_stores_says_what_becomes_of_the_second():
    """A new form is to be put with its like, and to be tried as those are."""
    named = {path for paths in ASKED.values() for path in paths}
    posts = {route.path for part in PARTS for route in all_routes(part.pages) if "POST" in route.methods}
    assert {path for path in posts if not path.startswith("/api/") or path in named} == named
    assert sum(len(paths) for paths in ASKED.values()) == len(named)
