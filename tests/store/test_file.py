"""The boat file: made, opened, judged; a file that is not ours is never changed."""

import contextlib
import os
import sqlite3
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from scrieve import store
from scrieve.boat import Boat
from scrieve.errors import BadBoat
from scrieve.store import connect, file, schema

BOAT = Boat("Merganser", planking="outside", thickness_mm=28.0, half_beam_mm=1500.0, note="invented")


@pytest.fixture
def path(tmp_path):
    place = tmp_path / "merganser.boat"
    store.create(place, BOAT).dispose()
    return place


def refused(place, match):
    """Open `place`, which must be refused, and be left as it was, byte for byte, with nothing beside it."""
    before, beside = place.read_bytes(), sorted(place.parent.iterdir())
    with pytest.raises(BadBoat, match=match):
        store.open_boat(place)
    assert place.read_bytes() == before
    assert sorted(place.parent.iterdir()) == beside


def pragma(place, text):
    with contextlib.closing(sqlite3.connect(place)) as raw:
        return raw.execute(f"PRAGMA {text}").fetchone()


def test_a_boat_comes_back(path):
    engine = store.open_boat(path)
    assert store.boat(engine) == BOAT
    engine.dispose()
    assert [entry.name for entry in path.parent.iterdir()] == ["merganser.boat"]


def test_a_boat_is_not_made_over_a_file(tmp_path):
    place = tmp_path / "letter.txt"
    place.write_text("keep me")
    with pytest.raises(BadBoat, match=r"letter\.txt: there is a file of that name already; choose another"):
        store.create(place, BOAT)
    assert place.read_text() == "keep me"


def test_a_boat_in_no_folder(tmp_path):
    with pytest.raises(BadBoat, match=r"the folder .*nowhere does not exist; make it first"):
        store.create(tmp_path / "nowhere" / "a.boat", BOAT)


def test_a_failed_making_leaves_nothing(tmp_path, monkeypatch):
    monkeypatch.setattr(file, "add_boat", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))
    with pytest.raises(BadBoat, match=r"cannot be made here .No space left on device.; choose a folder"):
        store.create(tmp_path / "a.boat", BOAT)
    assert list(tmp_path.iterdir()) == []


def test_a_missing_file(tmp_path):
    with pytest.raises(BadBoat, match=r"there is no such file; make a boat with 'scrieve new"):
        store.open_boat(tmp_path / "gone.boat")
    assert list(tmp_path.iterdir()) == []


def test_a_folder(tmp_path):
    with pytest.raises(BadBoat, match="a folder; give the boat's file"):
        store.open_boat(tmp_path)


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (b"", "the file is empty"),
        (b"frame,station\n", "not a Scrieve boat file"),
        (b"SQLite format 3\x00", "not a Scrieve boat file"),
        (bytes(range(256)) * 40, "not a Scrieve boat file"),
    ],
)
def test_a_foreign_file(tmp_path, content, match):
    place = tmp_path / "other.boat"
    place.write_bytes(content)
    refused(place, match)


def test_a_foreign_database_even_in_the_middle_of_its_work(tmp_path):
    place = tmp_path / "ledger.db"
    with contextlib.closing(sqlite3.connect(place)) as raw:
        raw.execute("PRAGMA journal_mode=WAL")
        raw.execute("CREATE TABLE boat (id INTEGER PRIMARY KEY, name TEXT)")
        raw.commit()
        refused(place, "a database, but not a Scrieve boat file. The file was not changed")


def test_a_boat_opened_twice_is_not_cut_off_by_another_program(path):
    # POSIX: a program that closes any handle of a file gives up all its locks on it; sqlite.org, How to corrupt, 2.2
    engine = store.open_boat(path)
    store.add_record(engine, "note", "hull", {"text": "before"})
    store.open_boat(path).dispose()
    other = "import sqlite3, sys; db = sqlite3.connect(sys.argv[1]); db.execute('SELECT 1 FROM acts'); db.close()"
    subprocess.run([sys.executable, "-c", other, str(path)], check=True)
    store.add_record(engine, "note", "hull", {"text": "after"})
    with contextlib.closing(sqlite3.connect(path)) as raw:
        assert raw.execute("SELECT count(*) FROM records").fetchone() == (2,)
    engine.dispose()


def test_a_damaged_file(path):
    whole = path.read_bytes()
    path.write_bytes(whole[:100] + b"\xff" * (len(whole) - 100))
    with pytest.raises(BadBoat, match="is damaged; open your latest copy of it"):
        store.open_boat(path)


def test_a_file_cut_short(path):
    path.write_bytes(path.read_bytes()[:5000])
    with pytest.raises(BadBoat, match="is damaged; open your latest copy of it"):
        store.open_boat(path)


def test_a_file_of_a_newer_scrieve(path):
    pragma(path, f"user_version = {schema.SCHEMA + 1}")
    refused(path, rf"written by a newer Scrieve \(schema {schema.SCHEMA + 1}; this one knows {schema.SCHEMA}\)")


def test_a_write_protected_file(path, monkeypatch):
    monkeypatch.setattr(os, "access", lambda place, mode: False)
    refused(path, "write-protected; copy the file to a folder you may write to, and open the copy")


def test_a_file_that_sqlite_finds_write_protected(path):
    engine = store.open_boat(path)
    with engine.connect() as db:
        db.exec_driver_sql("PRAGMA query_only = ON")
    with pytest.raises(BadBoat, match="write-protected; copy it"):
        store.keep_boat(engine, BOAT)
    engine.dispose()


def test_a_file_that_another_program_holds(path, monkeypatch):
    monkeypatch.setattr(connect, "_WAIT_MS", 50)
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("PRAGMA locking_mode=EXCLUSIVE")
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(BadBoat, match="another program holds it; close that one, or wait a little"):
            store.open_boat(path)
    store.open_boat(path).dispose()


def test_a_write_that_cannot_wait_any_longer(path, monkeypatch):
    monkeypatch.setattr(connect, "_WAIT_MS", 50)
    engine = store.open_boat(path)
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert store.boat(engine) == BOAT  # reading goes on
        with pytest.raises(BadBoat, match="another program holds it"):
            store.keep_boat(engine, BOAT)
    engine.dispose()


def test_an_older_file_is_copied_and_then_migrated_from_zero(tmp_path):
    place = tmp_path / "old.boat"
    pragma(place, f"application_id = {schema.APPLICATION_ID}")
    with contextlib.closing(sqlite3.connect(place)) as raw:
        raw.execute("CREATE TABLE kept (word TEXT)")
        raw.execute("INSERT INTO kept VALUES ('ribband')")
        raw.commit()
    with pytest.raises(BadBoat, match="holds no boat"):  # the tables are there now, and no boat in them
        store.open_boat(place)
    assert pragma(place, "user_version") == (schema.SCHEMA,)
    (copy,) = (entry for entry in tmp_path.iterdir() if entry.name.startswith("old.schema0-"))
    assert pragma(copy, "user_version") == (0,)
    for each in (place, copy):
        with contextlib.closing(sqlite3.connect(each)) as raw:
            assert raw.execute("SELECT word FROM kept").fetchall() == [("ribband",)]


def test_how_the_file_is_kept(path):
    engine = store.open_boat(path)
    with engine.connect() as db:
        kept = {name: db.exec_driver_sql(f"PRAGMA {name}").scalar() for name in ("journal_mode", "synchronous")}
        assert db.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
    engine.dispose()
    assert kept == {"journal_mode": "wal", "synchronous": 2}  # 2: FULL, so that a stored mark outlives a power cut


def test_a_name_with_signs_that_mean_something_to_a_url(tmp_path):
    place = tmp_path / "No 3 ?mode=ro#x% å.boat"
    store.create(place, BOAT).dispose()
    assert place.exists()
    engine = store.open_boat(Path(place))
    assert store.boat(engine).name == "Merganser"
    engine.dispose()


def test_what_was_acknowledged_outlives_a_killed_program(path):
    """The program is killed in the middle of its writing; every mark it was told of as stored is there."""
    program = textwrap.dedent("""
        import sys
        from scrieve import store
        from scrieve.takeoff.marks import Mark

        engine = store.open_boat(sys.argv[1])
        while True:
            print(store.add_marks(engine, [Mark("14", 3600.0, 1.0, 2.0)])[0], flush=True)
    """)
    with subprocess.Popen([sys.executable, "-c", program, str(path)], stdout=subprocess.PIPE, text=True) as writer:
        told = [int(writer.stdout.readline()) for _ in range(30)]
        writer.kill()
    engine = store.open_boat(path)
    kept = [mark.number for mark in store.marks(engine)]
    with engine.connect() as db:
        assert db.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
    engine.dispose()
    assert kept[:30] == told == list(range(1, 31))
