"""The state of a boat as pages see it: carried on by what acts tell, it is the state as it would be read anew."""

import pytest

from scrieve import store
from scrieve.boat import Boat
from scrieve.takeoff.marks import Mark
from scrieve.web import boatfile
from scrieve.web.boatfile import BoatFile

ACTS = (
    lambda e: store.add_marks(e, [Mark("2", 400.0, z, 300.0) for z in (100.0, 200.0, 300.0)]),
    lambda e: store.answer(e, 1, "drop"),
    lambda e: store.answer(e, 2, "measured again", replacement=Mark("1", 0.0, 201.0, 299.0)),
    lambda e: store.undo(e),
    lambda e: store.undo(e, number=store.last_act(e)),
    lambda e: store.undo(e, number=3),  # the marks of frame 2
    lambda e: store.add_record(e, "deviation", "frame 1", {"note": "a knot"}),
    lambda e: store.answer(e, 1, "keep"),
    lambda e: store.keep_choice(e, "yard", "work yard", {"jigs": 2}),
    lambda e: store.add_marks(e, [Mark("3", 800.0, 100.0, 300.0)]),
)


@pytest.fixture
def boat(tmp_path):
    engine = store.create(tmp_path / "a.boat", Boat("Teal"))
    store.add_marks(engine, [Mark("1", 0.0, z, 300.0) for z in (100.0, 200.0)])
    found = BoatFile(tmp_path / "a.boat")
    yield found
    found.engine.dispose()
    engine.dispose()


def told(state):
    kept = state.kept
    return state.acts, state.stored, state.every_mark, kept.marks, kept.answers, kept.frames, kept.springs


def test_the_state_carried_on_is_the_state_read_anew(boat):
    boat.state()
    for act in ACTS:
        act(boat.engine)
        anew = BoatFile(boat.path)
        assert told(boat.state()) == told(anew.state())
        anew.engine.dispose()


def test_a_mark_that_comes_between_two_questions_belongs_to_the_next_state(boat, monkeypatch):
    boat.state()
    store.add_marks(boat.engine, [Mark("2", 400.0, 100.0, 300.0)])
    asked = store.acts

    def and_then_one_more(engine, **how):
        monkeypatch.setattr(boatfile.store, "acts", asked)
        found = asked(engine, **how)
        store.add_marks(engine, [Mark("3", 800.0, 100.0, 300.0)])
        return found

    monkeypatch.setattr(boatfile.store, "acts", and_then_one_more)
    assert [mark.frame for mark in boat.state().stored] == ["1", "1", "2"]
    assert [mark.frame for mark in boat.state().stored] == ["1", "1", "2", "3"]
