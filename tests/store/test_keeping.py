"""What is kept of a boat: values in, the same values out; sent twice, stored once."""

import json
import math
import struct
import threading
from dataclasses import asdict, replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scrieve import store
from scrieve.boat import Boat
from scrieve.errors import BadBoat, BadMarks, ScrieveError
from scrieve.store.place import Place
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.tape_form import read_tapes

MARK = Mark("14", 3600.0, 912.7375, 1180.0, "P", "WL 3 ⅝ – étambot", 1.5, "knuckle", "thick paint", line=31)


@pytest.fixture(scope="module", params=["file", "server"])
def shared(request, tmp_path_factory):
    if request.param == "file":
        place = Place(str(tmp_path_factory.mktemp("shared") / "a.boat"))
    else:
        place = Place(request.getfixturevalue("yard"), "shared")
    engine = store.create(place, Boat("Merganser"))
    yield engine
    engine.dispose()


def bits(mark):
    lengths = (mark.station_mm, mark.height_mm, mark.half_breadth_mm)
    spread = (mark.var_height_mm2, mark.var_half_breadth_mm2, mark.cov_mm2)
    return [value if value is None else struct.pack("<d", value) for value in (*lengths, *spread)]


lengths = st.floats(-1e6, 1e6).map(lambda x: x + 0.0)  # a zero has no sign in the file
texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20)
spreads = st.none() | st.tuples(st.floats(1e-3, 1e3), st.floats(1e-3, 1e3), st.floats(-0.99, 0.99))


def with_spread(mark, spread):
    if spread is None:
        return mark
    up, out, lean = spread
    both = lean * math.sqrt(up * out) + 0.0
    return replace(mark, var_height_mm2=up, var_half_breadth_mm2=out, cov_mm2=both)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.builds(
        Mark,
        frame=texts.filter(str.strip),
        station_mm=lengths,
        height_mm=lengths,
        half_breadth_mm=lengths.map(abs),
        side=st.sampled_from(["P", "S", ""]),
        label=texts,
        sigma_mm=st.none() | st.floats(1e-3, 100),
        kind=st.sampled_from(["", "heel", "head", "knuckle"]),
        note=texts,
        line=st.integers(0, 200_000),
        way=st.sampled_from(["offsets", "ordinates", "tapes", "templates", "arcs"]),
        raw=st.dictionaries(texts, lengths | texts | st.lists(lengths, max_size=3), max_size=3).map(
            lambda read: json.dumps({"read": read})
        ),
    ),
    spreads,
)
def test_a_mark_comes_back_bit_for_bit(shared, mark, spread):
    mark = with_spread(mark, spread)
    (number,) = store.add_marks(shared, [mark])
    back = store.marks(shared)[-1]
    assert back == replace(mark, number=number)
    assert bits(back) == bits(mark)
    assert back.readings == json.loads(mark.raw)["read"]
    assert np.array_equal(back.covariance_mm2(2.0), mark.covariance_mm2(2.0))


def test_readings_in_plain_words_come_back_too(engine):
    for raw in ("tape A 1200, tape B 1600", "[1, 2]", ""):
        store.add_marks(engine, [replace(MARK, way="tapes", raw=raw)])
        back = store.marks(engine)[-1]
        assert (back.raw, back.readings) == (raw, {"text": raw} if raw else {})


def test_a_file_sent_again_after_the_boats_error_was_changed_is_still_known(engine):
    text = b"frame,station,mark,nail,nail_height,nail_half_breadth,tape,lies\n"
    text += b"14,3600,m1,A,-250,1050,1033.5,in\n14,,m1,B,1250,2100,2237,\n"
    for sigma in (2.0, 3.0):
        assert store.add_marks(engine, read_tapes(text, "t.csv", sigma_mm=sigma).marks, key="t") == [1]
    other = read_tapes(text.replace(b"2237", b"2238"), "t.csv").marks
    with pytest.raises(BadBoat, match="the key 't' was used before for other content"):
        store.add_marks(engine, other, key="t")


def test_marks_are_numbered_on(engine):
    assert store.add_marks(engine, [MARK, MARK]) == [1, 2]
    assert store.add_marks(engine, []) == []
    assert store.add_marks(engine, [replace(MARK, number=77)]) == [3]
    assert [mark.number for mark in store.marks(engine)] == [1, 2, 3]


def test_the_same_key_stores_once(engine):
    assert store.add_marks(engine, [MARK, MARK], key="tablet-1") == [1, 2]
    assert store.add_marks(engine, [MARK, MARK], key="tablet-1") == [1, 2]
    assert len(store.marks(engine)) == 2
    assert [act.what for act in store.acts(engine)] == ["made the boat", "added marks"]


def test_the_same_key_for_other_marks_is_refused(engine):
    store.add_marks(engine, [MARK], key="tablet-1")
    with pytest.raises(BadBoat, match=r"the key 'tablet-1' was used before for other content .marks., which is stored"):
        store.add_marks(engine, [replace(MARK, height_mm=1.0)], key="tablet-1")
    with pytest.raises(BadBoat, match="the key 'tablet-1' was used before"):
        store.keep_frame(engine, "14", {}, key="tablet-1")
    assert len(store.marks(engine)) == 1


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"height_mm": math.nan}, "frame 14, line 31, height: nan; give a length"),
        ({"station_mm": math.inf}, "station: inf"),
        ({"half_breadth_mm": -1.0}, "half-breadth -1 mm; give it above zero, the side as P or S"),
        ({"sigma_mm": 0.0}, "measuring error 0 mm; give a value above zero, or none"),
        ({"side": "port"}, "side 'port'; give P, S or nothing"),
        ({"frame": " "}, "no frame; give the frame's number"),
        ({"way": "guess"}, "way 'guess'; say one of offsets, ordinates, tapes, templates, arcs"),
        ({"var_height_mm2": 1.0}, "its covariance is not whole; give var_height_mm2, var_half_breadth_mm2, cov_mm2"),
        ({"var_height_mm2": 1.0, "var_half_breadth_mm2": math.nan, "cov_mm2": 0.0}, "its covariance is not whole"),
        ({"var_height_mm2": 1.0, "var_half_breadth_mm2": 0.0, "cov_mm2": 0.0}, "covariance 1, 0, 0 mm² cannot be"),
        ({"var_height_mm2": 1.0, "var_half_breadth_mm2": 4.0, "cov_mm2": -2.1}, "covariance 1, 4, -2.1 mm² cannot be"),
    ],
)
def test_a_mark_that_cannot_be_keeps_all_out(engine, change, match):
    with pytest.raises(BadMarks, match=match):
        store.add_marks(engine, [MARK, replace(MARK, **change)])
    assert store.marks(engine) == ()


def test_a_broken_character_is_refused(engine):
    with pytest.raises(BadBoat, match=r"cannot be stored .*give finite numbers and whole characters"):
        store.add_marks(engine, [replace(MARK, note="\ud800")])
    with pytest.raises(BadBoat, match="cannot be stored"):
        store.add_marks(engine, [MARK], source="\udcff.csv")
    with pytest.raises(BadBoat, match="a text holds the character 0"):  # which a server's texts cannot hold
        store.add_marks(engine, [replace(MARK, note="a\0b")])
    assert store.marks(engine) == ()


def test_numbers_of_numpy_are_stored_as_plain_ones(engine):
    store.add_marks(engine, [Mark("1", np.float64(1.5), np.int64(2), np.float32(0.1), line=np.int64(3))])
    (mark,) = store.marks(engine)
    assert asdict(mark) == asdict(Mark("1", 1.5, 2.0, float(np.float32(0.1)), number=1, line=3))


def test_answers_the_latest_stands(engine):
    store.add_marks(engine, [MARK, MARK, MARK])
    store.answer(engine, 2, "drop")
    store.answer(engine, [1, 3], "keep")
    assert store.answers(engine) == {1: "keep", 2: "drop", 3: "keep"}
    assert [mark.number for mark in store.marks(engine)] == [1, 2, 3]
    assert [mark.number for mark in store.marks(engine, standing=True)] == [1, 3]
    store.answer(engine, 2, "keep", note="looked again: the frame does bulge there")
    assert [mark.number for mark in store.marks(engine, standing=True)] == [1, 2, 3]
    assert [act.what for act in store.acts(engine)][-3:] == ["answered: drop", "answered: keep", "answered: keep"]


def test_measured_again_stores_the_new_mark_with_the_answer(engine):
    store.add_marks(engine, [MARK, MARK])
    again = replace(MARK, height_mm=921.0)
    for _ in range(2):  # sent twice
        assert store.answer(engine, 1, "measured again", replacement=again, key="k") == 3
    assert [mark.number for mark in store.marks(engine, standing=True)] == [2, 3]
    assert store.marks(engine)[-1].height_mm == 921.0


def test_answers_that_cannot_be(engine):
    store.add_marks(engine, [MARK])
    with pytest.raises(BadMarks, match="no mark 2, 9 in this boat; look the number up"):
        store.answer(engine, [1, 2, 9], "drop")
    with pytest.raises(BadMarks, match="answer 'delete': say one of measured again, keep, drop"):
        store.answer(engine, 1, "delete")
    with pytest.raises(BadMarks, match="'measured again' and the new mark go together"):
        store.answer(engine, 1, "measured again")
    assert store.answers(engine) == {}


@pytest.mark.parametrize(
    ("keep", "forget", "read"),
    [
        (store.keep_frame, store.forget_frame, store.frames),
        (store.keep_plank, store.forget_plank, store.planks),
    ],
)
def test_choices(engine, keep, forget, read):
    first = {"timber": ["sapele", "larch"], "sided_mm": 0.1 + 0.2, "heel": None, "é": {"n": 7}}
    assert read(engine) == {}
    one = keep(engine, "14", first, key="a")
    assert keep(engine, "14", first, key="a") == one
    keep(engine, "15 P", {"sided_mm": 40})
    assert read(engine) == {"14": first, "15 P": {"sided_mm": 40}}
    keep(engine, "14", {"sided_mm": 45})
    assert list(read(engine).items()) == [("14", {"sided_mm": 45}), ("15 P", {"sided_mm": 40})]
    forget(engine, "14")
    assert read(engine) == {"15 P": {"sided_mm": 40}}
    keep(engine, "14", first)
    assert read(engine)["14"] == first
    assert len(store.acts(engine)) == 6


def test_frames_and_planks_of_one_name_do_not_meet(engine):
    store.keep_frame(engine, "A", {"x": 1})
    store.keep_plank(engine, "A", {"x": 2})
    assert (store.frames(engine), store.planks(engine)) == ({"A": {"x": 1}}, {"A": {"x": 2}})


def test_choices_that_cannot_be(engine):
    with pytest.raises(BadBoat, match=r"cannot be stored .*give finite numbers"):
        store.keep_frame(engine, "14", {"sided_mm": math.nan})
    with pytest.raises(BadBoat, match="the plank has no name; give the one that stands on it"):
        store.keep_plank(engine, "  ", {})
    assert (store.frames(engine), store.planks(engine)) == ({}, {})


def test_the_boat_is_changed_and_the_record_says_so(engine):
    changed = Boat("Merganser", "outside", 28.0, "ft", 1.5, 1480.0, "her second survey")
    store.keep_boat(engine, changed, who="apprentice")
    assert store.boat(engine) == changed
    made, change = store.acts(engine)
    assert (change.who, change.what, change.detail["thickness_mm"]) == ("apprentice", "changed the boat", 28.0)
    assert made.detail["thickness_mm"] == 0.0
    assert change.at >= made.at
    assert change.at.endswith("+00:00")


def test_two_tablets_at_once_lose_nothing(engine):
    failed = []

    def send(tablet):
        try:
            for i in range(50):
                store.add_marks(engine, [replace(MARK, label=f"{tablet}-{i}")], key=f"{tablet}-{i}")
        except ScrieveError as error:
            failed.append(error)

    threads = [threading.Thread(target=send, args=(name,)) for name in ("a", "b")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failed
    kept = store.marks(engine)
    assert [mark.number for mark in kept] == list(range(1, 101))
    assert {mark.label for mark in kept} == {f"{tablet}-{i}" for tablet in "ab" for i in range(50)}


def test_an_act_and_its_deed_stand_or_fall_together(engine, monkeypatch):
    def broken(*args, **named):
        raise RuntimeError("the power went")

    monkeypatch.setattr("scrieve.store.keeping.act", broken)
    with pytest.raises(RuntimeError):
        store.add_marks(engine, [MARK], key="a")
    assert store.marks(engine) == ()
    monkeypatch.undo()
    assert store.add_marks(engine, [MARK], key="a") == [1]  # the key was not used up
