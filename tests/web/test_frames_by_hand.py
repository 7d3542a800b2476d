"""Frames called by their hand: looked up and designed as 14 where 14 P and 14 S were measured, and the other way."""

from dataclasses import replace

import pytest
from boats import HOME, client_of, make_small, ready, settled

from scrieve import store
from scrieve.boat import Boat
from scrieve.web import create_app

HERE = {"Origin": HOME}
PAIR = {"label": "4", "timber": "larch", "sided": "45", "moulded": "60"}


def boat_of(tmp_path, name, hands="PS"):
    """The small boat, its frames called by `name` of label and hand."""
    engine = store.open_boat(make_small(tmp_path / "plain.scrieve"))
    plain = store.marks(engine)
    engine.dispose()
    engine = store.create(tmp_path / "hands.scrieve", Boat("Hands", sigma_mm=1.0))
    store.add_marks(
        engine,
        [replace(mark, number=0, side=hand, frame=name(mark.frame, hand)) for mark in plain for hand in hands],
    )  # fmt: skip
    engine.dispose()
    return client_of(ready(create_app(tmp_path / "hands.scrieve")))


@pytest.fixture
def by_hand(tmp_path):
    return boat_of(tmp_path, lambda frame, hand: f"{frame} {hand}", "P")


@pytest.fixture
def plain(tmp_path):
    return boat_of(tmp_path, lambda frame, hand: frame)


def test_frame_4_is_found_and_designed_where_4_p_was_measured(by_hand):
    assert by_hand.get("/frames/4").status_code == 200
    assert by_hand.get("/section.csv?at=4").text == by_hand.get("/section.csv?at=4%20P").text
    made = by_hand.post("/frames/design", data=PAIR, headers=HERE)
    assert made.status_code == 303, made.text
    assert store.frames(by_hand.app.state.boat.engine)["4"]["station_mm"] == 3000.0
    assert by_hand.get("/frames/4").status_code == 200
    assert by_hand.get("/frames/9").status_code == 404


def test_4_p_is_found_where_4_was_measured_and_made_a_blank_of_its_own_side(plain):
    assert plain.get("/frames/4%20P").status_code == 200
    assert plain.get("/find?what=4+p").status_code == 200
    assert "/frames/4" in plain.get("/find?what=4+p").text
    made = plain.post("/frames/design", data=PAIR | {"label": "4 P"}, headers=HERE)
    assert made.status_code == 303, made.text
    entry = store.frames(plain.app.state.boat.engine)["4 P"]
    assert (entry["of"], entry["choice"]["hull"], entry["choice"]["hands"]) == ("4", "port", "port")
    assert plain.get("/frames/4%20P").status_code == 200


def test_half_of_a_pair_is_not_made_besides_it(plain):
    plain.post("/frames/design", data=PAIR, headers=HERE)
    refused = plain.post("/frames/design", data=PAIR | {"label": "4 P"}, headers=HERE)
    assert refused.status_code == 422
    assert "frame 4 is to be made as a pair; make of it two blanks" in refused.text
    assert list(store.frames(plain.app.state.boat.engine)) == ["4"]


def test_a_name_that_may_mean_two_is_asked_about(by_hand):
    engine = by_hand.app.state.boat.engine
    there = [mark for mark in store.marks(engine) if mark.frame == "4 P"]
    for hand, station in (("P", 3300.0), ("S", 3400.0)):
        mine = [replace(mark, number=0, frame=f"9 {hand}", side=hand, station_mm=station) for mark in there]
        store.add_marks(engine, mine)
    told = settled(by_hand, "/frames/9")
    assert told.status_code == 404
    assert "may mean 9 P at station 3300 mm or 9 S at station 3400 mm; say which." in told.text


def test_hands_written_as_frames_at_one_station_are_told_how_to_be_written(tmp_path):
    client = boat_of(tmp_path, lambda frame, hand: f"{frame} {hand}")
    told = client.get("/").text
    assert "Frames 1 P and 1 S stand at one station" in told
    assert "send both as frame 1, with P and S in the column &#39;side&#39;" in told
