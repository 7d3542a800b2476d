"""A boat carried between a file and a server arrives whole; copies are proved; damage is found."""

import contextlib
import itertools
import sqlite3
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from scrieve import store
from scrieve.boat import Boat
from scrieve.errors import BadBoat
from scrieve.store import copies, people
from scrieve.store.place import Place
from scrieve.takeoff.marks import Mark

MARK = Mark("14", 3600.0, 912.7375, 0.1 + 0.2, "P", "WL 3 ⅝ – étambot", 1.5, "knuckle", "thick paint", line=31)


def fill(engine):
    store.add_marks(engine, [replace(MARK, height_mm=1.0 * n) for n in range(2500)], key="k1", source="marks.csv")
    store.answer(engine, 2, "measured again", replacement=MARK, note="looked again")
    store.keep_frame(engine, "14", {"sided_mm": 0.1 + 0.2, "é": [1, None]})
    store.forget_frame(engine, "14")
    one = store.add_record(engine, "release", "14", {"mm": 1.5})
    store.add_record(engine, "release", "14", {"mm": 15.0}, corrects=one)
    store.keep_photograph(engine, b"\xff\xd8 a picture")
    store.keep_boat(engine, Boat("Merganser", thickness_mm=28.0))
    store.undo(engine)


def everything(engine):
    told = store.boat(engine), store.marks(engine), store.answers(engine), store.frames(engine), store.records(engine)
    return (*told, store.acts(engine)[:8])


_count = itertools.count(1)


@pytest.fixture
def other(where, yard, tmp_path):
    """A place in a store of the other kind."""
    return Place(str(tmp_path / "other.boat")) if where.is_server else Place(yard, f"other {next(_count)}")


def test_there_and_back_nothing_is_changed(engine, where, other, tmp_path):
    fill(engine)
    before = everything(engine)
    found = store.move(where, other).content
    assert {name: each.rows for name, each in found.items()} == {
        "boat": 1, "marks": 2501, "answers": 1, "choices": 2, "photographs": 1, "records": 2, "acts": 9, "deliveries": 1
    }  # fmt: skip
    arrived = store.open_boat(other)
    assert everything(arrived) == before
    assert store.acts(arrived)[-1].what == "moved here"
    assert store.add_marks(arrived, [replace(MARK, height_mm=1.0 * n) for n in range(2500)], key="k1")[0] == 1
    assert store.add_marks(arrived, [MARK]) == [2502]
    assert store.add_record(arrived, "release", "14", {}) == 3
    arrived.dispose()
    with pytest.raises(BadBoat, match=r"she was moved to .*; open her there. What is here was left as it was then"):
        store.open_boat(where)
    back = replace(where, boat="back") if where.is_server else Place(str(tmp_path / "back.boat"))
    store.move(other, back, copy=True)
    again, still = store.open_boat(back), store.open_boat(other)
    assert everything(again)[5] == before[5]
    assert store.marks(again) == store.marks(still)
    assert [each for each in store.check(back) if not each.ok] == []
    for each in (again, still):
        each.dispose()


def test_people_go_with_a_boat_where_that_is_wished(engine, where, other, tmp_path):
    """Passwords are known there without being told; who is there already is not changed; a server's copy has them."""
    names = [f"{name} {next(_count)}" for name in ("Ann", "Bo")]
    for name in names:
        people.add_person(engine, name, "keeper", f"larch and sapele {name}")
    people.change_person(engine, names[0], pin="4711")
    assert set(names) <= set(store.move(where, other, copy=True).left)
    again = Place(str(tmp_path / "again.boat"))
    opened = store.open_boat(other)
    assert not set(names) & {person.name for person in people.people(opened)}
    people.add_person(opened, names[1].upper(), "look", "quite another one")
    target = replace(other, boat=f"{other.boat or 'merganser'} ii")
    moved = store.move(where, target, copy=True, people=True)
    assert (names[0] in moved.came, names[1] in moved.known) == (True, True)
    assert people.known(opened, names[0], f"larch and sapele {names[0]}").role == "keeper"
    assert people.signs(opened, names[0], "4711")
    assert people.known(opened, names[1], "quite another one").role == "look"
    opened.dispose()
    copy = store.backup(where, again.file)
    opened = store.open_boat(copy.path)
    assert people.known(opened, names[1], f"larch and sapele {names[1]}").role == "keeper"
    opened.dispose()


def test_a_move_that_fails_leaves_both_as_they_were(engine, where, other, monkeypatch):
    fill(engine)
    kept = store.moving.compare
    monkeypatch.setattr(store.moving, "compare", lambda sent, arrived: kept(sent, {**arrived, "marks": None}))
    with pytest.raises(BadBoat, match=r"what arrived is not what was sent .marks.; nothing was kept"):
        store.move(where, other)
    monkeypatch.undo()
    if other.is_server:
        assert other.boat not in store.boats(other)
    else:
        assert not other.file.exists()
    store.open_boat(where).dispose()


def test_a_boat_is_not_moved_onto_another(engine, where, other):
    store.create(other, Boat("Merganser")).dispose()
    target = other if other.boat else Place(other.store, "merganser")
    source = where if where.boat else Place(where.store, "merganser")
    with pytest.raises(BadBoat, match=r"there is a boat .* in it already; give the one that is moved another name"):
        store.move(source, target)
    with pytest.raises(BadBoat, match="that is the store she lies in"):
        store.move(source, Place(source.store, "elsewhere"))


def test_boats_of_one_store_do_not_meet(where, engine):
    store.add_marks(engine, [MARK, MARK], key="k")
    name = "merganser" if not where.is_server else where.boat
    second = store.create(Place(where.store, f"{name} ii"), Boat("Widgeon"))
    assert store.add_marks(second, [MARK], key="k") == [1]
    assert (store.add_record(second, "release", "14", {}), store.add_record(engine, "release", "14", {})) == (1, 1)
    store.keep_frame(second, "14", {"sided_mm": 45.0})
    assert store.frames(engine) == {}
    assert [act.number for act in store.acts(second)] == [1, 2, 3, 4]
    assert store.boat(second).name == "Widgeon"
    with pytest.raises(BadBoat, match=r"there is no record 2 to correct"):
        store.add_record(second, "release", "14", {}, corrects=2)
    with pytest.raises(BadBoat, match=r"holds several boats: .*Name one, as"):
        store.open_boat(Place(where.store))
    with pytest.raises(BadBoat, match=r"there is no boat 'smew' in this (file|store); there are: "):
        store.open_boat(Place(where.store, "smew"))
    with pytest.raises(BadBoat, match=r"there is a boat .* in it already; choose another name, or open her"):
        store.create(Place(where.store, name), Boat("Merganser"))
    second.dispose()


def test_a_copy_is_made_while_others_write_and_proved(engine, where, tmp_path):
    fill(engine)
    (tmp_path / "kept").mkdir()
    copy = store.backup(where, tmp_path / "kept", now=datetime(2026, 3, 1, tzinfo=UTC))
    opened = store.open_boat(copy.path)
    assert everything(opened) == everything(engine)
    opened.dispose()
    beside = {path.name for path in copy.path.parent.iterdir()} - {f"{copy.path.name}-{end}" for end in ("wal", "shm")}
    assert beside == {copy.path.name}
    with pytest.raises(BadBoat, match="there is a file of that name already"):
        store.backup(where, copy.path)
    with engine.connect() as db:
        if where.is_server:
            there = db.execute(text("SELECT nspname FROM pg_namespace WHERE nspname LIKE 'scrieve%'")).all()
            assert there == []


def test_a_copy_that_does_not_come_back_whole_is_not_kept(engine, where, tmp_path, monkeypatch):
    fill(engine)
    prove = copies._prove

    def spoilt(copy, boats):
        with contextlib.closing(sqlite3.connect(copy)) as raw:
            raw.execute("UPDATE marks SET height_mm = height_mm + 1e-9 WHERE number = 1234")
            raw.commit()
        prove(copy, boats)

    monkeypatch.setattr(copies, "_prove", spoilt)
    with pytest.raises(BadBoat, match=r"not what was sent .marks."):
        store.backup(where, tmp_path / "copy.boat")
    assert not [path for path in tmp_path.iterdir() if "copy" in path.name]


def test_daily_copies_are_made_when_due_and_thinned_out(engine, where, tmp_path):
    folder, day = tmp_path / "copies", datetime(2026, 1, 1, 12, tzinfo=UTC)
    made = 0
    for n in range(12):  # the pages are served for twelve days, and something is done every other day
        if n % 2 == 0:
            store.add_record(engine, "note", "", {"day": n})
        for hour in (0, 9):
            made += copies.copy_if_due(where, folder, now=day + timedelta(days=n, hours=hour)) is not None
    assert made == 6
    kept = sorted(copies.stamped(path) for path in folder.glob("*.boat"))
    assert kept[-1] == day + timedelta(days=10)
    assert len(kept) == made


def test_which_copies_are_kept():
    """Of a copy a day for two years: the last 7 days, 5 weeks and 12 months, and nothing that is not a copy."""
    start = datetime(2025, 1, 1, 3, tzinfo=UTC)
    days = [start + timedelta(days=n) for n in range(730)]
    every = [Path(f"merganser-{day:%Y%m%dT%H%M%S}.boat") for day in days]
    gone = copies.outdated([*every, Path("merganser.boat"), Path("letter-20250101T000000.txt")])
    left = {copies.stamped(path) for path in every} - {copies.stamped(path) for path in gone}
    assert set(days[-7:]) <= left
    assert len({day.isocalendar()[:2] for day in left if day >= days[-35]}) >= 5
    assert len({(day.year, day.month) for day in left}) == 12
    assert len(left) <= 7 + 5 + 12
    assert Path("merganser.boat") not in gone


SPOILT = {
    "marks": "UPDATE marks SET height_mm = height_mm + 1 WHERE number = 5",
    "acts": "UPDATE acts SET who = 'nobody' WHERE number = 3",
    "choices": "UPDATE choices SET choice = '{\"sided_mm\": 99}' WHERE act = (SELECT max(act) FROM choices)",
    "records": "UPDATE records SET detail = '{\"mm\": 2}' WHERE number = 2",
    "settings": "UPDATE boat SET sigma_mm = 9",
}


@pytest.mark.parametrize("table", SPOILT)
def test_a_value_changed_behind_its_back_is_found(tmp_path, table):
    place = Place(str(tmp_path / "a.boat"))
    engine = store.create(place, Boat("Merganser"))
    fill(engine)
    store.keep_frame(engine, "15", {"sided_mm": 45.0})
    engine.dispose()
    assert [each for each in store.check(place) if not each.ok] == []
    with contextlib.closing(sqlite3.connect(place.file)) as raw:
        raw.execute(SPOILT[table])
        raw.commit()
    assert [each.what for each in store.check(place) if not each.ok] == [table]


def test_an_act_cut_out_is_found_on_a_server_too(engine, where):
    fill(engine)
    with engine.begin() as db:
        mine = "boat_id = (SELECT id FROM boat WHERE known_as = :name)"
        db.execute(text(f"DELETE FROM acts WHERE number = 4 AND {mine}"), {"name": where.boat or "merganser"})
    found = {each.what: each for each in store.check(where) if not each.ok}
    assert found["acts"].found == "act 4 is missing"


def test_a_page_of_the_file_that_was_overwritten_is_found(tmp_path):
    place = Place(str(tmp_path / "a.boat"))
    engine = store.create(place, Boat("Merganser"))
    fill(engine)
    engine.dispose()
    with contextlib.closing(sqlite3.connect(place.file)) as raw:
        (page,) = raw.execute("SELECT rootpage FROM sqlite_master WHERE name = 'ix_answers_boat_id_number'").fetchone()
    whole = bytearray(place.file.read_bytes())
    whole[(page - 1) * 4096 + 8 : page * 4096] = b"\xa5" * 4088
    place.file.write_bytes(whole)
    assert "the file's pages" in [each.what for each in store.check(place) if not each.ok]
