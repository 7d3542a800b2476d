"""What lies round the damage of a file is saved: which rows, is counted from the published form of its pages."""

import contextlib
import sqlite3
from dataclasses import replace

import pytest

from scrieve import store
from scrieve.boat import Boat
from scrieve.errors import BadBoat
from scrieve.store.place import Place
from scrieve.takeoff.marks import Mark

PAGE = 4096
MARK = Mark("14", 3600.0, 912.7375, 0.3, "P", "WL 3 ⅝ – étambot", 1.5, "knuckle", "thick paint", line=31)


@pytest.fixture
def place(tmp_path):
    place = Place(str(tmp_path / "a.boat"))
    engine = store.create(place, Boat("Merganser"))
    store.add_marks(engine, [replace(MARK, height_mm=1.0 * n) for n in range(2500)], key="k1", source="marks.csv")
    store.answer(engine, 2, "measured again", replacement=MARK)
    for frame, sided in (("14", 40.0), ("15", 40.0), ("15", 45.0), ("15", 50.0)):
        store.keep_frame(engine, frame, {"sided_mm": sided})
    store.forget_frame(engine, "14")
    store.keep_boat(engine, Boat("Merganser", thickness_mm=28.0))
    engine.dispose()
    return place


def spoil(place, *pages):
    """Overwrite pages of a file, counted from 1, the first of them its head."""
    whole = bytearray(place.file.read_bytes())
    for page in pages:
        whole[(page - 1) * PAGE : page * PAGE] = b"\xa5" * PAGE
    place.file.write_bytes(whole)


def root_of(place, name):
    with contextlib.closing(sqlite3.connect(place.file)) as raw:
        return raw.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", [name]).fetchone()[0]


def children(place, page):
    """Pages of a table's tree under its root, read from the file by the published form of an interior page: type 5,
    cells counted at byte 3, the rightmost child at 8, an array of cell offsets at 12, each cell a page number first."""
    raw = place.file.read_bytes()[(page - 1) * PAGE : page * PAGE]
    assert raw[0] == 5
    at = [int.from_bytes(raw[12 + 2 * n : 14 + 2 * n], "big") for n in range(int.from_bytes(raw[3:5], "big"))]
    return [int.from_bytes(raw[one : one + 4], "big") for one in at] + [int.from_bytes(raw[8:12], "big")]


def rows_of(place, page):
    """How many rows a leaf of a table's tree holds: type 13, cells counted at byte 3."""
    raw = place.file.read_bytes()[(page - 1) * PAGE : page * PAGE]
    assert raw[0] == 13
    return int.from_bytes(raw[3:5], "big")


def test_marks_round_a_destroyed_page_are_saved(place, tmp_path):
    """Source of the count: the file format that SQLite's documentation publishes, read here by hand."""
    leaf = children(place, root_of(place, "marks"))[7]
    lost = rows_of(place, leaf)
    engine = store.open_boat(place)
    before = {mark.number: mark for mark in store.marks(engine)}
    engine.dispose()
    spoil(place, leaf)
    found = store.salvage(place, tmp_path / "saved.boat")
    assert found["marks"].rows == len(before) - lost > 2400
    opened = store.open_boat(tmp_path / "saved.boat")
    saved = {mark.number: mark for mark in store.marks(opened)}
    assert saved.items() <= before.items()
    gone = sorted(before.keys() - saved.keys())
    assert found["marks"].missing == f"numbers {gone[0]} to {gone[-1]}; and perhaps the last of them"
    assert store.acts(opened)[-1].what == "saved from a damaged file"
    assert store.add_marks(opened, [replace(MARK, frame="15")]) == [2502]
    opened.dispose()
    assert [each.what for each in store.check(tmp_path / "saved.boat") if not each.ok] == ["marks"]


def test_choices_settings_and_answers_come_back_from_the_acts(place, tmp_path):
    opened = store.open_boat(place)
    before = store.frames(opened), store.boat(opened), store.answers(opened)
    opened.dispose()
    spoil(place, root_of(place, "choices"), root_of(place, "boat"), root_of(place, "answers"))
    found = store.salvage(place, tmp_path / "saved.boat")
    assert (found["choices"].rows, found["choices"].made_good, found["answers"].made_good) == (0, 5, 1)
    opened = store.open_boat(tmp_path / "saved.boat")
    assert (store.frames(opened), store.boat(opened), store.answers(opened)) == before
    opened.dispose()


def test_what_gives_nothing_is_refused_and_nothing_is_left_behind(place, tmp_path):
    whole = bytearray(place.file.read_bytes())
    whole[100:PAGE] = b"\xa5" * (PAGE - 100)
    place.file.write_bytes(whole)
    with pytest.raises(BadBoat, match=r"not even the list of its tables can be read .* Open your latest copy"):
        store.salvage(place, tmp_path / "saved.boat")
    (tmp_path / "letter.boat").write_text("Dear sir")
    with pytest.raises(BadBoat, match="not a Scrieve boat file"):
        store.salvage(tmp_path / "letter.boat", tmp_path / "saved.boat")
    with pytest.raises(BadBoat, match="there is a file of that name already"):
        store.salvage(place, place)
    assert not [path for path in tmp_path.iterdir() if "saved" in path.name]
