"""The glue-up page: own figures, the day, stops signed, and what was done, each stored once and asked for again."""

import re
from html import unescape
from urllib.parse import urlencode

import pytest
from boats import HOME

from scrieve import store
from scrieve.frames.design import FrameChoice
from scrieve.frames.jig.bed import JigBed
from scrieve.store import people

DAY = {"frame": "1", "air": "12", "rh": "70", "hour": "8:30"}


@pytest.fixture
def boat(small):
    client = small()
    store.keep_frame(engine(client), "1", {"choice": FrameChoice("1", "larch").to_mapping(), "station_mm": None})
    return client


def engine(client):
    return client.app.state.boat.engine


def text(answer):
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


def send(client, where, day=DAY, **fields):
    return client.post(
        f"/glue-up/{where}", data={"back": "/glue-up?" + urlencode(day), "key": "k"} | fields, headers={"origin": HOME}
    )


def test_a_card_is_reckoned_as_if_until_the_day_is_typed(boat):
    page = boat.get("/glue-up?frame=1")
    assert "has not been typed" in page.text
    assert "It is in the clamps" not in page.text
    assert 'href="/glue-up?frame=1"' in boat.get("/glue-up").text
    day = boat.get("/glue-up", params=DAY | {"mc": "10 10 10"})
    assert "has not been typed" not in day.text
    assert "08:30" in day.text
    assert boat.get("/glue-up?frame=nowhere").status_code == 404


def test_own_figures_stand_before_the_family_and_can_be_taken_back(boat):
    assert send(boat, "sheet", closed_min="15: 99; 25: 40", spread_g_m2="500", source="the tin").status_code == 303
    page = text(boat.get("/glue-up", params=DAY))
    assert "99 min at 15 °C, 40 min at 25 °C" in page
    assert "own: the tin" in page
    assert store.choices(engine(boat), "glue")["epoxy"]["own"] == {
        "spread_g_m2": 500.0,
        "closed_min": [[15.0, 99.0], [25.0, 40.0]],
    }
    refused = send(boat, "sheet", spread_g_m2="much")
    assert refused.status_code == 422
    assert "found 'much'" in unescape(refused.text)
    assert 'value="much"' in refused.text
    send(boat, "sheet", spread_g_m2="")
    assert "own: the tin" not in text(boat.get("/glue-up", params=DAY))


def test_the_shop_is_kept_and_the_day_stands_before_it(boat):
    assert send(boat, "plan", people="4", clamp_min="2", clamp_from="heel").status_code == 303
    page = text(boat.get("/glue-up", params=DAY))
    assert "4 people" in page
    assert "from the heel" in page
    assert "1 person" in text(boat.get("/glue-up", params=DAY | {"people": "1"}))
    assert send(boat, "plan", people="2.5").status_code == 422


def test_a_stop_is_signed_for_its_value_only(boat):
    cold = DAY | {"air": "5"}
    page = boat.get("/glue-up", params=cold).text
    key = unescape(re.search(r'name="stop" value="(temperature\.low:[^"]+)"', page)[1])
    assert send(boat, "sign", cold, stop=key, name=" ").status_code == 422
    assert send(boat, "sign", cold, stop=key, name="A. Wright").status_code == 303
    assert send(boat, "sign", cold, stop=key, name="A. Wright").status_code == 303  # twice is once
    (kept,) = store.records(engine(boat), "signature", "1")
    assert kept.detail["key"] == key
    assert "Signed: A. Wright" in text(boat.get("/glue-up", params=cold))
    assert "Signed: A. Wright" not in text(boat.get("/glue-up", params=DAY | {"air": "4"}))
    assert send(boat, "sign", DAY, stop=key, name="B").status_code == 422  # no such stop on a warmer day


def test_a_script_signs_with_the_persons_own_pin_too(boat):
    key = unescape(re.search(r'name="stop" value="([^"]+)"', boat.get("/glue-up", params=DAY | {"air": "5"}).text)[1])
    people.add_person(engine(boat), "Ada", "keeper", "larch knee bevel")
    people.change_person(engine(boat), "Ada", pin="4711")
    stop = {"frame": "1", "air_c": 5, "humidity_pct": float(DAY["rh"]), "stop": key, "name": "Ada"}
    work = {"op": "frame 1: shore", "what": "signed", "people": ["Ada"]}
    for path, body in (("/api/glue-up/sign", stop), ("/api/plan/work", work)):
        refused = boat.post(path, json=body | {"pin": "4712"}, headers={"origin": HOME})
        assert (refused.status_code, "not the PIN of Ada" in refused.text) == (422, True)
    assert boat.post("/api/glue-up/sign", json=stop | {"pin": "4711"}, headers={"origin": HOME}).status_code == 200


def test_done_keeps_the_day_the_pots_and_the_line(boat):
    assert send(boat, "done", {"frame": "1"}, name="A").status_code == 422
    assert send(boat, "done", name="A. Wright", note="windy").status_code == 303
    (kept,) = store.records(engine(boat), "glue-up", "1")
    assert kept.detail["conditions"]["air_c"] == 12
    assert kept.detail["revision"] == boat.app.state.boat.state().kept.frame_revision("1")
    assert kept.detail["glued"]["timber"] == "larch"
    assert sum(kept.detail["pots_g"]) > 100
    page = text(boat.get("/glue-up", params=DAY))
    assert "windy" in page
    assert "NOT SIGNED" in page  # moisture was not measured


def test_the_card_prints(boat):
    answer = boat.get("/glue-up/card.pdf", params=DAY)
    assert answer.content.startswith(b"%PDF")
    assert "frame-1-glue-up.pdf" in answer.headers["content-disposition"]


@pytest.mark.parametrize(
    "odd", [{"air": "warm"}, {"rh": "140"}, {"mc": "10 x"}, {"hour": "25:00"}, {"people": "0"}, {"log": "5"}]
)
def test_what_cannot_be_read_is_said_beside_the_day(boat, odd):
    page = boat.get("/glue-up", params=DAY | odd)
    assert page.status_code == 422
    assert 'role="alert"' in page.text
    assert f'value="{next(iter(odd.values()))}"' in page.text or "<textarea" in page.text


def test_while_it_cures_temperatures_bring_the_release_nearer(boat):
    none = send(boat, "cure", glue_c="20")
    assert none.status_code == 422
    assert "no glue-up of this frame" in text(none)
    send(boat, "sheet", clamp_h="20: 12")
    send(boat, "done", name="A. Wright")
    assert send(boat, "cure", glue_c="20", hour="0", name="B").status_code == 303
    page = text(boat.get("/glue-up", params=DAY))
    assert "12.0 h after closing" in page
    assert "20 °C after" not in page
    send(boat, "cure", glue_c="30", hour="0", key="k2")  # the same hour again puts it right
    (look,) = store.records(engine(boat), "curing", "1")
    assert (look.detail["glue_c"], look.corrects is not None) == (30.0, True)
    assert "6.0 h after closing" in text(
        boat.get("/glue-up", params=DAY)
    )  # ten kelvin warmer halve it: docs/glue-up.md
    ahead = send(boat, "cure", glue_c="20", hour="30", key="k3")
    assert ahead.status_code == 422
    assert "once it has been read" in text(ahead)
    assert 'name="hour" inputmode="decimal" autocomplete="off" placeholder="now" value="30"' in ahead.text


def test_a_frame_that_does_not_go_on_the_jig_is_told_so_where_its_clamps_are_placed(boat):
    page = boat.get("/glue-up?frame=1")
    assert "describe the jig" in text(page)
    bed = JigBed(depth_mm=100.0)
    store.keep_choice(engine(boat), "jig", "bed", bed.to_mapping(), who="test")
    page = boat.get("/glue-up?frame=1")
    assert "describe the jig" not in text(page)
    assert "does not go on the jig as described" in text(page)
    assert 'href="/jig?frame=1"' in page.text
    assert boat.get("/jig?frame=1").status_code == 422
