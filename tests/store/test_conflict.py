"""Two people change the same thing: the second is told what the first made of it; nothing is lost silently."""

import threading
from dataclasses import asdict, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scrieve import store
from scrieve.boat import Boat
from scrieve.errors import BadBoat
from scrieve.store.conflict import Conflict, merged
from scrieve.takeoff.marks import Mark


def test_the_second_of_two_is_shown_all_three_values(engine):
    store.keep_frame(engine, "14", {"sided_mm": 45.0, "timber": "larch", "more": {"count": 7}})
    opened = store.last_act(engine)
    store.keep_frame(engine, "14", {"sided_mm": 48.0, "timber": "larch", "more": {"count": 7}}, seen=opened, who="Ask")
    mine = {"sided_mm": 45.0, "timber": "larch", "more": {"count": 8}}
    with pytest.raises(Conflict, match="frame 14 was changed by Ask after this was opened; nothing was stored") as told:
        store.keep_frame(engine, "14", mine, seen=opened)
    said = told.value
    assert store.frames(engine)["14"]["sided_mm"] == 48.0
    assert (said.seen["sided_mm"], said.now["sided_mm"], said.sent) == (45.0, 48.0, mine)
    assert [(each.path, each.seen, each.now, each.sent) for each in said.differences] == [
        (("more", "count"), 7, 7, 8),
        (("sided_mm",), 45.0, 48.0, 45.0),
    ]
    assert said.both == {"sided_mm": 48.0, "timber": "larch", "more": {"count": 8}}
    store.keep_frame(engine, "14", said.both, seen=said.act)  # having seen it, he decides
    assert store.frames(engine)["14"] == said.both


def test_where_both_changed_one_value_there_is_no_both(engine):
    for sided in (45.0, 48.0):
        store.keep_frame(engine, "14", {"sided_mm": sided})
    with pytest.raises(Conflict) as told:
        store.keep_frame(engine, "14", {"sided_mm": 50.0}, seen=2)
    assert told.value.both is None
    with pytest.raises(Conflict) as told:  # the first has forgotten it, the second has never seen it
        store.keep_frame(engine, "14", {"sided_mm": 50.0}, seen=1)
    assert told.value.seen is None


def test_the_same_change_made_by_both_is_none(engine):
    store.keep_frame(engine, "14", {"sided_mm": 45.0})
    store.keep_frame(engine, "14", {"sided_mm": 48.0})
    store.keep_frame(engine, "14", {"sided_mm": 48.0}, seen=2)
    store.keep_frame(engine, "15", {"sided_mm": 40.0}, seen=2)  # another frame is another thing
    store.keep_frame(engine, "14", {"sided_mm": 45.0})
    store.keep_frame(engine, "14", {"sided_mm": 50.0}, seen=2)  # changed, and changed back: he sees what he saw


def test_the_boats_settings(engine):
    first = store.boat(engine)
    opened = store.last_act(engine)
    store.keep_boat(engine, replace(first, sigma_mm=3.0), who="Ask")
    with pytest.raises(Conflict, match="the boat was changed by Ask") as told:
        store.keep_boat(engine, replace(first, thickness_mm=28.0), seen=opened)
    assert told.value.seen == asdict(first)
    both = Boat(**told.value.both)
    assert (both.sigma_mm, both.thickness_mm) == (3.0, 28.0)
    store.keep_boat(engine, both, seen=told.value.act)
    assert store.boat(engine) == both


def test_answers_to_a_mark(engine):
    store.add_marks(engine, [Mark("14", 0.0, 1.0, 2.0)])
    opened = store.last_act(engine)
    store.answer(engine, 1, "drop", seen=opened)
    with pytest.raises(Conflict, match="mark 1 was changed") as told:
        store.answer(engine, 1, "keep", seen=opened)
    assert (told.value.seen, told.value.now) == ({"answer": ""}, {"answer": "drop"})
    store.answer(engine, 1, "drop", seen=opened)  # both say the same
    store.answer(engine, 1, "keep", seen=told.value.act + 1)
    assert store.answers(engine) == {1: "keep"}


def test_of_many_at_once_one_is_stored_and_the_others_are_told(engine):
    opened, told = store.last_act(engine), []

    def change(n):
        try:
            store.keep_choice(engine, "jig", "bed", {"length_mm": float(n)}, seen=opened)
        except Conflict:
            told.append(n)

    threads = [threading.Thread(target=change, args=(n,)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(told) == 7
    assert len(store.acts(engine)) == 2


plain = st.recursive(st.integers(0, 3), lambda inner: st.dictionaries(st.sampled_from("abc"), inner), max_leaves=6)
mappings = st.dictionaries(st.sampled_from("abc"), plain)


@given(mappings, mappings)
def test_merging_laws(seen, other):
    """What one alone has changed stands; what nobody has changed stays."""
    assert merged(seen, other, seen) == other
    assert merged(seen, seen, other) == other
    assert merged(seen, other, other) == other
    assert Conflict("x", seen, other, seen).both == other


def test_what_is_stored_of_one_delivery_is_stored_once_whatever_was_changed_since(engine):
    for _ in range(2):
        with store.delivered("tablet-1/abc") as delivery:
            number = store.add_marks(engine, [Mark("14", 0.0, 1.0, 2.0)])
            store.keep_choice(engine, "jig", "setting", {"n": len(store.acts(engine))})  # differs the second time
            store.add_record(engine, "release", "14", {})
        assert number == [1]
        assert delivery.stored == 3
    assert [act.what for act in store.acts(engine)] == [
        "made the boat", "added marks", "chose for a jig", "recorded: release"
    ]  # fmt: skip
    with store.delivered("tablet-1/abc"), pytest.raises(BadBoat, match=r"was used before for other content .marks."):
        store.add_record(engine, "release", "14", {})


def test_a_delivery_is_not_in_conflict_with_itself(engine):
    opened = store.last_act(engine)
    with store.delivered("a"):
        store.keep_choice(engine, "jig", "bed", {"n": 1}, seen=opened)
        store.keep_choice(engine, "jig", "bed", {"n": 2}, seen=opened)
    assert store.choices(engine, "jig") == {"bed": {"n": 2}}
