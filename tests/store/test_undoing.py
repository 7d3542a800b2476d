"""Acts are taken back by new acts; nothing is deleted, and taking back can be taken back."""

import random
from dataclasses import replace

import pytest

from scrieve import store
from scrieve.boat import Boat
from scrieve.errors import BadBoat
from scrieve.takeoff.marks import Mark

MARK = Mark("14", 3600.0, 912.7375, 1180.0, "P")


def seen(engine):
    """All that a reader of the store sees, but the numbers of records and of marks taken back: none is used again."""
    records = sorted(repr((each.kind, each.member, dict(each.detail))) for each in store.records(engine))
    parts = {part: store.choices(engine, part) for part in ("frame", "plank", "jig")}
    answers = {number: what for number, what in store.answers(engine).items() if what != "taken back"}
    return store.boat(engine), store.marks(engine, standing=True), answers, parts, records


DEEDS = {
    "boat": lambda e, n: store.keep_boat(e, Boat("Merganser", thickness_mm=float(n))),
    "marks": lambda e, n: store.add_marks(e, [replace(MARK, height_mm=float(n + i)) for i in range(3)]),
    "keep": lambda e, n: store.answer(e, 1, "keep"),
    "drop": lambda e, n: store.answer(e, [1, 2], "drop"),
    "again": lambda e, n: store.answer(e, 2, "measured again", replacement=replace(MARK, height_mm=float(n))),
    "frame": lambda e, n: store.keep_frame(e, "14", {"sided_mm": float(n)}),
    "forget": lambda e, n: store.forget_frame(e, "14"),
    "record": lambda e, n: store.add_record(e, "release", "14", {"mm": n}),
    "correct": lambda e, n: store.add_record(e, "release", "14", {"mm": -n}, corrects=store.records(e)[0].number),
}


def test_any_sequence_of_acts_is_taken_back_step_by_step_and_done_again(engine):
    """A law: after n steps back all stands as it did n acts ago, and taking those back brings it forward again."""
    store.add_marks(engine, [MARK, MARK, MARK])
    store.add_record(engine, "release", "14", {"mm": 1.0})
    rng, states = random.Random(7), [seen(engine)]
    for n in range(14):
        DEEDS[rng.choice(list(DEEDS))](engine, n)
        states.append(seen(engine))
    acts = len(store.acts(engine))
    for state in reversed(states[:-1]):
        store.undo(engine)
        assert seen(engine) == state
    back = [each.number for each in store.acts(engine)[acts:] if each.undoes]
    assert len(back) == 14
    for number, state in zip(reversed(back), states[1:], strict=True):
        store.undo(engine, number=number)
        assert seen(engine) == state
    name = engine.get_execution_options()["shown"]
    assert [each for each in store.check(name) if not each.ok] == []


def test_several_at_once_and_sent_twice(engine):
    for n in range(4):
        DEEDS["frame"](engine, n)
    for _ in range(2):
        assert [each.number for each in store.undo(engine, 3, key="k")] == [5, 4, 3]
    assert store.frames(engine) == {"14": {"sided_mm": 0.0}}
    store.undo(engine)
    assert store.frames(engine) == {}
    assert len(store.acts(engine)) == 1 + 4 + 4


def test_what_cannot_be_taken_back_is_told_and_left(engine):
    with pytest.raises(BadBoat, match="0 acts can be taken back, 1 were asked for"):
        store.undo(engine)
    DEEDS["frame"](engine, 1)
    DEEDS["frame"](engine, 2)
    with pytest.raises(BadBoat, match="2 acts can be taken back, 3 were asked for; nothing was changed"):
        store.undo(engine, 3)
    with pytest.raises(BadBoat, match=r"what act 2 .chose for a frame. made has been changed since; take the later"):
        store.undo(engine, number=2)
    store.undo(engine, number=3)
    with pytest.raises(BadBoat, match=r"act 3 .* was taken back already"):
        store.undo(engine, number=3)
    with pytest.raises(BadBoat, match="there is no act 99"):
        store.undo(engine, number=99)
    with pytest.raises(BadBoat, match=r"act 1 .made the boat. cannot be taken back; change by hand"):
        store.undo(engine, number=1)
    assert store.frames(engine) == {"14": {"sided_mm": 1.0}}
