"""Taking back from the pages: what is listed, what it would restore, who asks, and that nothing is lost by it."""

from __future__ import annotations

import pytest

from scrieve import store
from scrieve.frames.design import FrameChoice
from scrieve.web.people.rules import rule

HERE = {"Origin": "http://127.0.0.1:8777"}


@pytest.fixture
def client(small):
    return small(slip_mm=150.0)


def _engine(client):
    return client.app.state.boat.engine


def _keep(client, label="4", **how):
    choice = FrameChoice(label, "larch", **how).to_mapping()
    return store.keep_frame(_engine(client), label, {"choice": choice, "station_mm": None})


def test_the_list_says_what_each_act_would_restore(client):
    _keep(client, sided_mm=45.0)
    _keep(client, sided_mm=50.0)
    page = client.get("/undo").text
    assert "sided: 45.0 mm again, now 50.0 mm" in page
    assert page.count("changed again since: take the later act back first") == 1  # the first choice
    assert "restores mark 1 to 49: taken back" in page  # the marks were added by one act


def test_taken_back_and_done_again(client):
    _keep(client, sided_mm=45.0)
    number = _keep(client, sided_mm=50.0)
    engine = _engine(client)
    sided = lambda: store.frames(engine)["4"]["choice"]["sided_mm"]  # noqa: E731
    asked = client.get(f"/undo?act={number}").text
    assert '<form method="post" action="/undo"' in asked
    assert sided() == 50.0, "asking takes nothing back"
    reply = client.post("/undo", data={"acts": str(number), "key": "k", "back": "/frames/4"}, headers=HERE)
    assert (reply.status_code, reply.headers["location"], sided()) == (303, "/frames/4", 45.0)
    again = client.post("/undo", data={"acts": str(number), "key": "k", "back": "/frames/4"}, headers=HERE)
    assert (again.status_code, sided()) == (303, 45.0), "pressed twice, taken back once"
    made = store.last_act(engine)
    assert reply.headers["set-cookie"].startswith(f"stored={made}u;")
    client.post("/undo", data={"acts": str(made)}, headers=HERE)
    assert sided() == 50.0


def test_what_was_changed_since_is_told_and_left_alone(client):
    first = _keep(client, sided_mm=45.0)
    _keep(client, sided_mm=50.0)
    reply = client.post("/undo", data={"acts": str(first)}, headers=HERE)
    assert reply.status_code == 422
    assert "take the later act back first" in reply.text
    assert store.frames(_engine(client))["4"]["choice"]["sided_mm"] == 50.0


def test_a_record_corrected_since_is_not_offered(client):
    """Before the correction it is; once that is taken back, it is again: as the store itself would answer."""
    engine = _engine(client)
    store.add_record(engine, "release", "4", {"mm": 1.0})
    first = store.last_act(engine)
    offered = lambda: f'href="/undo?act={first}"' in client.get("/undo").text  # noqa: E731
    assert offered()
    store.add_record(engine, "release", "4", {"mm": 2.0}, corrects=1)
    assert not offered()
    assert "take the later act back first" in client.get(f"/undo?act={first}").text
    assert client.post("/undo", data={"acts": str(first)}, headers=HERE).status_code == 422
    store.undo(engine)
    assert offered()
    assert client.post("/undo", data={"acts": str(first)}, headers=HERE).status_code == 303
    assert store.records(engine) == ()


def test_a_form_that_was_stored_offers_its_acts_and_a_script_is_offered_nothing(client):
    fields = {"number": "18", "what": "drop", "back": "/"}
    reply = client.post("/marks/answer", data=fields | {"key": "a"}, headers=HERE)
    act = store.last_act(_engine(client))
    assert reply.headers["set-cookie"].startswith(f"stored={act};")
    fields["what"] = "keep"
    reply = client.post("/marks/answer", data=fields | {"key": "b"}, headers=HERE | {"Sec-Fetch-Mode": "cors"})
    assert reply.status_code == 303
    assert "set-cookie" not in reply.headers


def test_forgetting_asks_and_is_taken_back(client):
    _keep(client)
    engine = _engine(client)
    kept = store.frames(engine)
    assert "Forget frame" in client.get("/forget?of=frame&label=4").text
    assert store.frames(engine) == kept
    assert client.post("/forget", data={"of": "frame", "label": "4"}, headers=HERE).status_code == 303
    assert store.frames(engine) == {}
    act = store.last_act(engine)
    assert "frame 4: back, as it was" in client.get(f"/undo?act={act}").text
    client.post("/undo", data={"acts": str(act)}, headers=HERE)
    assert store.frames(engine) == kept


@pytest.mark.parametrize(
    "path", ["/forget?of=frame&label=99", "/forget?of=plank&label=99", "/forget?of=hull", "/undo?act=999"]
)
def test_what_is_not_there_is_not_asked_about(client, path):
    assert client.get(path).status_code in (404, 422)


def test_a_lead_hand_takes_back():
    assert (rule("GET", "/undo"), rule("POST", "/undo"), rule("POST", "/forget")) == ("look", "lead hand", "lead hand")
