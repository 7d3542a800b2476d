"""Settings as a builder writes them: what is written reads back as the same value, in mm and in feet."""

from dataclasses import fields

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scrieve.errors import BadLamination
from scrieve.frames.choice import FrameChoice
from scrieve.frames.written import SETTINGS, read_setting, write_setting, written_as

size = st.floats(6, 140, allow_nan=False).map(lambda x: round(x, 3))
place = st.floats(0, 9000).map(lambda x: round(x, 2))
share = st.integers(0, 99).map(lambda x: x / 100)
number = st.integers(1, 30)
word = st.sampled_from(["larch", "oak, white", "Douglas-fir"])
VALUES = {
    "moulded_table": st.lists(st.tuples(place, size), max_size=4).map(tuple),
    "heel_cut": st.tuples(st.sampled_from(["square", "level", "plumb", "angle"]), place, st.sampled_from([0.0, -12.5])),
    "notches": st.lists(st.tuples(word, place, st.sampled_from(["outer", "inner"]), size, size), max_size=3).map(tuple),
    "stack": st.lists(st.tuples(word, size), min_size=2, max_size=5).map(tuple),
    "ends": st.lists(st.tuples(number, st.none() | place, st.none() | place), max_size=3).map(tuple),
    "steamed_share": share,
    "prebent": st.lists(st.tuples(number, share), max_size=3).map(tuple),
    "prebent_radius": st.lists(st.tuples(number, size | size.map(lambda x: -x)), max_size=3).map(tuple),
    "waterlines_mm": st.lists(place, max_size=3).map(tuple),
    "allow_for_cleaning": st.booleans(),
    "bearing": st.sampled_from(["inside", "outside"]),
    "old_sided_mm": st.none() | size,
    "count": st.none() | number,
    "clamp_n": st.floats(1, 9999).map(lambda x: round(x, 1)),
}


@settings(max_examples=60, deadline=None)
@given(st.data(), st.sampled_from(sorted(VALUES)), st.sampled_from(["mm", "ft"]))
def test_what_is_written_reads_as_the_same(data, key, units):
    value = data.draw(VALUES[key])
    again = read_setting(key, write_setting(key, value, units), units)
    assert repr(again) == repr(value) or flat(again) == pytest.approx(flat(value), abs=1e-5)


def flat(value):
    if isinstance(value, tuple):
        return [one for each in value for one in flat(each)]
    return [float(hash(value) % 10**9) if isinstance(value, str) or value is None else float(value)]


def test_every_example_on_the_page_reads():
    for key, setting in SETTINGS.items():
        value = read_setting(key, setting.example)
        assert FrameChoice.from_mapping({key: value})
        assert read_setting(key, "") == getattr(FrameChoice(), key)
        feet = read_setting(key, written_as(key, "ft"), "ft")  # of about the same size, were it read as mm it were not
        assert flat(feet) == pytest.approx(flat(value), rel=0.25)


def test_every_default_of_a_frame_writes_as_itself():
    plain = FrameChoice()
    for key in SETTINGS:
        assert read_setting(key, write_setting(key, getattr(plain, key))) == getattr(plain, key)
    assert {field.name for field in fields(FrameChoice)} >= set(SETTINGS)


def test_lengths_take_the_builders_units():
    ((name, *place, long, deep),) = read_setting("notches", 'limber: outer at 0-10-0, 1 1/4" x 12mm', "ft")
    assert (name, place, long, deep) == ("limber", [254.0, "outer"], 31.75, 12.0)
    assert write_setting("heel_cut", ("plumb", 25.4, 0.0), "ft") == "plumb at 0-1-0"


@pytest.mark.parametrize(
    ("key", "text", "said"),
    [
        ("heel_cut", "plumb 20 30", "write it as plumb at 20"),
        ("ends", "2", "2: 300 to 1800"),
        ("notches", "limber 300", "outer at 300, 30 x 12"),
        ("bearing", "above", "say inside or outside"),
        ("old_sided_mm", "wide", "Old frame, sided"),
        ("count", "many", "Number of laminations"),
        ("nonsense", "1", "not known"),
    ],
)
def test_what_cannot_be_read_is_said_with_how_it_is_written(key, text, said):
    with pytest.raises(BadLamination, match=said):
        read_setting(key, text)
