"""What members are made from: a pair as two blanks, a strake on its own side's hull, all at once and back."""

import re
from dataclasses import asdict

import pytest
from boats import HOME, client_of, ready

from scrieve import store
from scrieve.boat import Boat
from scrieve.frames.design import FrameChoice
from scrieve.planking import SeamMark, StrakeChoice
from scrieve.takeoff.marks import Mark
from scrieve.web import create_app

HERE = {"origin": HOME}


@pytest.fixture
def client(tmp_path):
    """Ten frames, port 10 mm fuller than starboard; one pair and a port strake to be made. Starboard lacks frame 4."""
    engine = store.create(tmp_path / "twisted.boat", Boat("Twisted", thickness_mm=20.0, sigma_mm=1.0))
    marks = []
    for i in range(10):
        x = 600.0 + 500.0 * i
        for z in range(0, 700, 100):
            half = 750.0 * (1 - (2 * x / 6000 - 1) ** 2) * (1 - ((600 - z) / 700) ** 2)
            sides = "P" if i == 3 else "PS"
            marks += [Mark(str(i + 1), x, z, half + (5.0 if side == "P" else -5.0), side) for side in sides]
    numbers = store.add_marks(engine, marks)
    store.answer(engine, numbers, "keep")  # the twist is real
    store.keep_frame(engine, "4", {"choice": FrameChoice("4").to_mapping(), "station_mm": None})
    seams = {edge: tuple(SeamMark(z, frame=f) for f in "3456") for edge, z in (("lower", 300.0), ("upper", 400.0))}
    strake = StrakeChoice("top", **seams, thickness_mm=20.0, side="P")
    store.keep_plank(engine, "top", {"kind": "strake", "choice": asdict(strake)})
    engine.dispose()
    return client_of(ready(create_app(tmp_path / "twisted.boat")))


def change(client, **fields):
    return client.post("/fairing/made-from", data={"of": "all", "how": "apart", **fields}, headers=HERE)


def half_breadth(client, label):
    section = client.get("/api/frame", params={"at": label}).json()["section"]
    return section["half_breadth_mm"][-1]


def test_a_pair_becomes_two_blanks_each_from_its_own_side_and_a_pair_again(client):
    before = client.get("/sheets/file?of=frame&label=4&kind=bench.pdf").content
    assert change(client, of="frame", label="4").headers["location"] == "/frames/4%20P"
    page = client.get("/frames/4%20S").text
    assert "starboard&#39;s own marks" in page
    assert 'The other hand: <a href="/frames/4%20P"' in page
    assert "Starboard was not measured at this frame" in page  # which only port was
    assert half_breadth(client, "4 P") - half_breadth(client, "4 S") == pytest.approx(10, abs=1.5)
    assert client.get("/sheets/file?of=frame&label=4%20P&kind=bench.pdf").content != before
    for path in ("/jig?frame=4%20P", "/release?frame=4%20S", "/glue-up?frame=4%20S", "/sheets", "/frames/4"):
        assert client.get(path).status_code == 200, path
    assert "designed" not in re.findall(r'aria-label="Frame 4: [^"]*"', client.get("/frames").text)[0]
    assert change(client, of="frame", label="4 S", how="together").headers["location"] == "/frames/4"
    kept = client.app.state.boat.state().kept
    assert list(kept.frames) == ["4"]
    assert kept.made_from == ()
    assert kept.frames["4"]["station_mm"] is None


def test_all_at_once_and_back(client):
    assert change(client).status_code == 303
    kept = client.app.state.boat.state().kept
    assert set(kept.frames) == {"4 P", "4 S"}
    assert kept.planks["top"]["choice"]["hull"] == "port"
    assert "port&#39;s own marks" in client.get("/planks/top").text
    assert "frame 4 P, frame 4 S, plank top" in client.get("/fairing?show=sides").text
    assert change(client, how="together").status_code == 303
    kept = client.app.state.boat.state().kept
    assert set(kept.frames) == {"4"}
    assert kept.planks["top"]["choice"]["hull"] == "both"


def test_a_setting_changed_on_its_page_leaves_a_blank_for_one_hand_where_it_was(client):
    change(client, of="frame", label="4")
    sent = {"on": "frame", "label": "4 P", "station": "", "timber": "larch", "sided": "50", "moulded": "60"}
    assert client.post("/frames/design", data=sent, headers=HERE).status_code == 303
    entry = client.app.state.boat.state().kept.frames["4 P"]
    assert (entry["of"], entry["station_mm"], entry["choice"]["hands"]) == ("4", 2100.0, "port")


def test_what_somebody_else_has_made_of_a_member_meanwhile_is_shown_first(client):
    """A blank for one hand got another setting, and the strake its own side, while this page stood open."""
    engine = client.app.state.boat.engine
    change(client, of="frame", label="4")
    opened = {"seen": str(store.last_act(engine)), "how": "together", "key": "as opened"}
    entry = store.frames(engine)["4 P"]
    store.keep_frame(engine, "4 P", {**entry, "choice": {**entry["choice"], "sided_mm": 51.0}}, who="Wren")
    change(client, of="plank", label="top", how="port")
    before = store.last_act(engine)
    told = change(client, **opened)
    assert (told.status_code, store.last_act(engine)) == (409, before)
    rows = re.findall(r'<th scope="row">(.*?)</th><td>(.*?)</td><td>(.*?)</td>', told.text)
    assert [row[0] for row in rows] == ["frame 4 P: sided", "plank top"]
    assert rows[1][1:] == ("both sides as one", "<strong>port&#39;s own marks</strong>")
    seen = re.search(r'name="seen" value="(\d+)"', told.text)
    assert change(client, **{**opened, "seen": seen[1]}).status_code == 303
    assert set(store.frames(engine)) == {"4"}


def test_a_side_that_cannot_be_faired_changes_nothing(client):
    boat = client.app.state.boat
    for mark in boat.state().kept.marks:
        if mark.side == "S" and int(mark.frame) > 3:
            store.answer(boat.engine, mark.number, "drop")
    boat.fairing(boat.state(), 60)
    said = change(client, of="frame", label="4")
    assert said.status_code == 422
    assert "starboard by itself: a hull needs at least 4 frames" in said.text
    assert list(boat.state().kept.frames) == ["4"]


@pytest.mark.parametrize("fields", [{"how": "twice"}, {"of": "frame", "label": "9"}, {"of": "plank", "label": "x"}])
def test_what_cannot_be_is_refused(client, fields):
    assert change(client, **fields).status_code in (404, 422)
