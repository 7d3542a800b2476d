"""A boat without marks, with too few, being faired; and what the builder answers, stored once."""

import re
import threading
import time

import pytest
from boats import HOME, client_of, make_small, ready

from scrieve import chain, store
from scrieve.boat import Boat
from scrieve.takeoff.marks import Mark
from scrieve.web import create_app
from scrieve.web.addresses import frame_path

SAME = {"Origin": HOME}


def test_a_boat_without_marks_says_what_to_do(tmp_path):
    path = tmp_path / "it's new.scrieve"
    store.create(path, Boat("New <i>")).dispose()
    client = client_of(ready(create_app(path)))
    page = client.get("/").text
    assert "No marks yet" in page
    assert "scrieve marks " in page
    assert "New &lt;i&gt;" in page
    for other in ("/marks", "/frames", "/planks", "/sheets"):
        reply = client.get(other)
        assert reply.status_code == 200
        assert "yet" in reply.text
    assert client.get("/api/hull").status_code == 422
    assert client.get("/stations/3").status_code == 422


def test_too_few_marks_are_shown_and_what_is_missing_is_said(tmp_path):
    client = client_of(ready(create_app(make_small(tmp_path / "few.scrieve", frames=3))))
    page = client.get("/").text
    assert "at least 4 frames" in page
    assert "21 marks on 3 frames" in page
    frame = client.get("/frames/2")
    assert frame.status_code == 200
    assert frame.text.count("not placed") == 7


def test_while_fairing_a_page_asks_again_by_itself(tmp_path, monkeypatch):
    go = threading.Event()

    def slow(*args, tick, **rest):
        tick("first surface", 0.42)
        go.wait(30)
        return fair(*args, tick=tick, **rest)

    fair = chain.fair
    monkeypatch.setattr(chain, "fair", slow)
    client = client_of(create_app(make_small(tmp_path / "slow.scrieve", frames=6)))
    try:
        began = time.monotonic()
        page = client.get("/frames/3")
        assert time.monotonic() - began < 5  # the patience of a request, and room for a busy machine
        assert page.status_code == 202
        assert '<meta http-equiv="refresh" content="1; url=' in page.text
        assert "first surface" in page.text
        assert "42 %" in page.text
        assert "no-store" in page.headers["cache-control"]
        waiting = client.get("/api/hull")
        assert (waiting.status_code, waiting.headers["retry-after"]) == (503, "1")
    finally:
        go.set()
    ready(client.app)
    assert client.get("/frames/3").status_code == 200


def test_a_fairing_nobody_waits_for_is_given_up(tmp_path, monkeypatch):
    began, told = threading.Event(), []

    def slow(marks, boat, *, answers, tick):
        told.append(len(answers))
        began.set()
        for _ in range(1200):
            if answers:
                break
            time.sleep(0.05)
            tick("still at it", 0.5)
        return fair(marks, boat, answers=answers)

    fair = chain.fair
    monkeypatch.setattr(chain, "fair", slow)
    client = client_of(create_app(make_small(tmp_path / "twice.scrieve", frames=5)))
    assert began.wait(30)
    store.answer(client.app.state.boat.engine, 3, "keep")
    began_again = time.monotonic()
    ready(client.app)
    assert told == [0, 1]
    assert time.monotonic() - began_again < 8  # far under the 10 s of the first
    assert client.get("/").status_code == 200


def _form(page, number, what):
    form = re.search(
        rf'name="number" value="{number}">\s*<input type="hidden" name="what" value="{what}">\s*'
        r'<input type="hidden" name="key" value="(\w+)">\s*<input type="hidden" name="back" value="([^"]*)">',
        page,
    )
    return {"number": number, "what": what, "key": form[1], "back": form[2]}


def test_a_suspect_is_dropped_once_and_kept_again(small):
    client = small(slip_mm=150.0)
    engine = client.app.state.boat.engine
    page = client.get("/").text
    assert "Suspect marks" in page
    drop = _form(page, 18, "drop")
    for _ in range(2):  # pressed twice
        reply = client.post("/marks/answer", data=drop, headers=SAME)
        assert (reply.status_code, reply.headers["location"]) == (303, "/#suspects")
    assert store.answers(engine) == {18: "drop"}
    assert len([act for act in store.acts(engine) if act.what == "answered: drop"]) == 1
    ready(client.app)
    after = client.get("/").text
    assert "<strong>dropped</strong>" in after
    assert "Suspect marks" not in after
    frame = client.get("/frames/3?x=1").text
    keep = _form(frame, 18, "keep")
    assert keep["back"] == "/frames/3?x=1"
    assert client.post("/marks/answer", data=keep, headers=SAME).headers["location"] == "/frames/3?x=1"
    assert store.answers(engine) == {18: "keep"}
    ready(client.app)
    for what in ("drop", "keep"):  # what was answered in the same state before is a new act now
        again = _form(client.get("/").text, 18, what)
        assert client.post("/marks/answer", data=again, headers=SAME).status_code == 303
        assert store.answers(engine) == {18: what}
        ready(client.app)


def test_an_answer_leads_back_to_any_frame(small):
    client = small()
    engine = client.app.state.boat.engine
    store.add_marks(engine, [Mark("½ <b>", 1000.0, 100.0 * j, 300.0 + 50 * j) for j in range(7)])
    store.answer(engine, 50, "keep")
    ready(client.app)
    page = client.get(frame_path("½ <b>"))
    reply = client.post("/marks/answer", data=_form(page.text, 50, "drop"), headers=SAME)
    assert reply.headers["location"] == frame_path("½ <b>")


@pytest.mark.parametrize(
    "headers",
    [{}, {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Origin": "http://127.0.0.1:1"},
     {"Origin": HOME, "Sec-Fetch-Site": "cross-site"}],
)  # fmt: skip
def test_a_form_from_elsewhere_stores_nothing(small, headers):
    client = small()
    for path in ("/marks/answer", "/frames/design"):
        reply = client.post(path, data={"number": "1", "what": "drop", "label": "2"}, headers=headers)
        assert reply.status_code == 403
    engine = client.app.state.boat.engine
    assert store.answers(engine) == {}
    assert store.frames(engine) == {}


def test_an_answer_that_cannot_be_is_told(small):
    client = small()
    send = lambda data, **more: client.post("/marks/answer", data=data, headers={**SAME, **more})  # noqa: E731
    assert "give the number" in send({"number": "x", "what": "drop"}).text
    assert "say keep or drop" in send({"number": "1", "what": "burn"}).text
    assert "no mark 999" in send({"number": "999", "what": "drop"}).text
    assert send({"number": "999", "what": "drop"}).status_code == 422
    assert send({"number": "1" * 70_000}).status_code == 413
    plain = client.post("/marks/answer", content=b"{}", headers={**SAME, "Content-Type": "application/json"})
    assert plain.status_code == 415
    away = send({"number": "1", "what": "keep", "back": "//evil.example/"})
    assert away.headers["location"] == "/"


def test_a_frame_is_designed_from_its_page(small):
    client = small()
    form = {"on": "frame", "label": "4", "timber": "larch", "sided": "0-1-2", "moulded": "40", "key": "k"}
    reply = client.post("/frames/design", data=form, headers=SAME)
    assert (reply.status_code, reply.headers["location"]) == (303, "/frames/4")
    chosen = store.frames(client.app.state.boat.engine)["4"]
    assert chosen["choice"]["sided_mm"] == pytest.approx(31.75)  # 1 2/8 in
    assert chosen["station_mm"] is None
    page = client.get("/frames/4").text
    assert "Jig brackets" in page
    count = len(store.acts(client.app.state.boat.engine))
    assert client.post("/frames/design", data=form, headers=SAME).status_code == 303
    assert len(store.acts(client.app.state.boat.engine)) == count  # sent twice, stored once
    # sent from the same page with its rounded figure: only what was changed changes
    again = {**form, "sided": "32", "moulded": "45"}
    assert client.post("/frames/design", data=again, headers=SAME).status_code == 303
    chosen = store.frames(client.app.state.boat.engine)["4"]["choice"]
    assert (chosen["sided_mm"], chosen["moulded_mm"]) == (pytest.approx(31.75), 45.0)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"label": "4", "on": "frame", "timber": "nowood <b>"}, "nowood &lt;b&gt;"),
        ({"label": "4", "on": "frame", "sided": "thick"}, "found &#39;thick&#39;"),
        ({"label": "4", "on": "frame", "moulded": "-3"}, "above zero"),
        ({"label": "9", "on": "list"}, "give the station where it stands"),
        ({"label": "9", "on": "list", "station": "99999"}, "outside the marks"),
        ({"label": "9", "on": "frame"}, "give the station where it stands"),
        ({"label": "", "on": "list"}, "the frame has no label"),
    ],
)
def test_what_was_typed_comes_back_beside_the_message(small, typed, words):
    client = small()
    form = {"timber": "larch", "sided": "41", "moulded": "52", **typed}
    reply = client.post("/frames/design", data=form, headers=SAME)
    assert reply.status_code == 422
    assert words in reply.text
    for name in ("sided", "moulded"):
        assert f'name="{name}" value="{form[name]}"' in reply.text
    assert store.frames(client.app.state.boat.engine) == {}


def test_a_frame_without_marks_is_designed_at_its_station(small):
    client = small()
    form = {"on": "list", "label": "2½", "station": "1.8m", "timber": "larch", "sided": "30", "moulded": "40"}
    reply = client.post("/frames/design", data=form, headers=SAME)
    assert reply.headers["location"] == "/frames/2%C2%BD"
    assert store.frames(client.app.state.boat.engine)["2½"]["station_mm"] == 1800.0
    assert "Station 1800 mm" in client.get(reply.headers["location"]).text


def test_a_new_boats_pages_lead_on_and_offer_nothing_that_cannot_be_done(tmp_path):
    path = tmp_path / "new.scrieve"
    store.create(path, Boat("New")).dispose()
    client = client_of(ready(create_app(path)))
    assert 'href="/planks">Planking' in client.get("/plan/what-if").text
    assert "Plan them side by side" not in client.get("/plan/what-if").text
    assert 'value="lay"' not in client.get("/timber").text
    told = client.get("/release?frame=14")
    assert (told.status_code, 'href="/marks/new">Take marks off' in told.text) == (422, True)
