"""A boat file of the first version is copied, brought up to date, and loses nothing of what was in it.

The file is made here by the first migration alone and filled in plain SQL, as the first version filled it.
"""

import contextlib
import hashlib
import json
import sqlite3
import struct
from importlib import resources

import pytest
from alembic import command
from alembic.config import Config
from sqlalchemy import create_engine

from scrieve import store
from scrieve.store import schema
from scrieve.takeoff.marks import Mark

MARK = {
    "frame": "14", "station_mm": 3600.0, "height_mm": 912.7375, "half_breadth_mm": 0.1 + 0.2, "side": "P",
    "label": "WL 3 ⅝", "sigma_mm": 1.5, "kind": "knuckle", "note": "thick paint", "number": 0, "line": 31,
}  # fmt: skip


@pytest.fixture
def old(tmp_path):
    place = tmp_path / "old.boat"
    with contextlib.closing(sqlite3.connect(place)) as raw:
        raw.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
    config = Config()
    config.set_main_option("script_location", str(resources.files("scrieve.store") / "migrations"))
    config.set_main_option("path_separator", "os")
    engine = create_engine(f"sqlite:///{place}")
    with engine.begin() as db:
        config.attributes["connection"] = db
        command.upgrade(config, "0001")
    engine.dispose()
    row = MARK | {"boat_id": 1, "number": 1, "source": "marks.csv"}
    said = json.dumps([MARK], sort_keys=True, ensure_ascii=False)  # what the first version knew a delivery by
    with contextlib.closing(sqlite3.connect(place)) as raw:
        raw.execute("PRAGMA user_version = 1")
        raw.execute("INSERT INTO boat VALUES (1, 'Merganser', 'inside', 0, 'mm', 2, NULL, '')")
        raw.execute(f"INSERT INTO marks ({', '.join(row)}) VALUES (:{', :'.join(row)})", row)
        raw.execute("INSERT INTO answers VALUES (1, 1, 1, 'keep', NULL, 'looked again')")
        raw.execute("INSERT INTO acts VALUES (1, 1, '2026-01-01', 'builder', 'added marks', '{\"numbers\": [1, 1]}')")
        digest = hashlib.sha256(said.encode()).hexdigest()
        raw.execute("INSERT INTO deliveries VALUES (1, 1, 'tablet-1', 'marks', ?, '[1]')", (digest,))
        raw.commit()
    return place


def test_nothing_is_lost(old):
    engine = store.open_boat(old)
    (mark,) = store.marks(engine)
    assert mark == Mark(**MARK | {"number": 1})
    assert struct.pack("<d", mark.half_breadth_mm) == struct.pack("<d", 0.1 + 0.2)
    assert (mark.way, mark.readings, mark.cov_mm2) == ("offsets", {}, None)
    assert store.answers(engine) == {1: "keep"}
    assert [act.detail for act in store.acts(engine)] == [{"numbers": [1, 1]}]
    engine.dispose()


def test_the_old_file_stands_beside_it(old):
    before = old.read_bytes()
    store.open_boat(old).dispose()
    (copy,) = (entry for entry in old.parent.iterdir() if entry.name.startswith("old.schema1-"))
    with contextlib.closing(sqlite3.connect(copy)) as raw, contextlib.closing(sqlite3.connect(":memory:")) as was:
        was.deserialize(before)
        assert list(raw.iterdump()) == list(was.iterdump())
        assert raw.execute("PRAGMA user_version").fetchone() == (1,)


def test_a_delivery_of_the_first_version_sent_again_is_still_known(old):
    engine = store.open_boat(old)
    assert store.add_marks(engine, [Mark(**MARK)], key="tablet-1") == [1]
    assert len(store.marks(engine)) == 1
    assert store.add_marks(engine, [Mark(**MARK)]) == [2]
    engine.dispose()


def test_it_is_migrated_once(old):
    store.open_boat(old).dispose()
    store.open_boat(old).dispose()
    assert len([entry for entry in old.parent.iterdir() if "schema1" in entry.name]) == 1
