"""A boat of every schema that was ever released is copied, brought up to date, and loses nothing; on both stores.

The tables are made here by the migrations up to that schema alone, and filled in plain SQL, as they
were filled then.
"""

import contextlib
import hashlib
import json
import sqlite3
import struct
from importlib import resources

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, text

from scrieve import store
from scrieve.errors import BadBoat
from scrieve.store import schema
from scrieve.store.connect import engine_of
from scrieve.store.place import Place
from scrieve.takeoff.marks import Mark

MARK = {
    "frame": "14", "station_mm": 3600.0, "height_mm": 912.7375, "half_breadth_mm": 0.1 + 0.2, "side": "P",
    "label": "WL 3 ⅝", "sigma_mm": 1.5, "kind": "knuckle", "note": "thick paint", "number": 0, "line": 31,
}  # fmt: skip
CHOICE = {"choice": {"timber": "sapele/larch", "sided_mm": 0.1 + 0.2}}


def config_for(db):
    config = Config()
    config.set_main_option("script_location", str(resources.files("scrieve.store") / "migrations"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = db
    return config


@pytest.fixture(params=["file", "server"])
def blank(request, tmp_path):
    """A store of its own with nothing in it, not even tables."""
    if request.param == "server":
        return Place(request.getfixturevalue("server").fresh())
    place = tmp_path / "old.boat"
    with contextlib.closing(sqlite3.connect(place)) as raw:
        raw.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
    return Place(str(place))


@pytest.fixture
def old(blank):
    """Make a boat of an older schema."""

    def make(number):
        engine = engine_of(blank) if blank.is_server else create_engine(f"sqlite:///{blank.file}")
        row = MARK | {"boat_id": 1, "number": 1, "source": "marks.csv"}
        said = json.dumps([MARK], sort_keys=True, ensure_ascii=False)  # what the first version knew a delivery by
        digest = hashlib.sha256(said.encode()).hexdigest()
        with engine.begin() as db:
            command.upgrade(config_for(db), f"{number:04}")
            db.execute(text("INSERT INTO boat VALUES (1, 'Merganser  II', 'inside', 0, 'mm', 2, NULL, '')"))
            db.execute(text(f"INSERT INTO marks ({', '.join(row)}) VALUES (:{', :'.join(row)})"), row)
            db.execute(text("INSERT INTO answers VALUES (1, 1, 1, 'keep', NULL, 'looked again')"))
            db.execute(text("INSERT INTO choices VALUES (1, 1, 'frame', '14', :c)"), {"c": json.dumps(CHOICE)})
            for i, what in enumerate(("made the boat", "added marks", "answered: keep"), start=1):
                act = {"n": i, "what": what, "detail": json.dumps({"numbers": [1, 1], "é": 0.1 + 0.2})}
                db.execute(text("INSERT INTO acts VALUES (:n, 1, '2026-01-01', 'builder', :what, :detail)"), act)
            db.execute(text("INSERT INTO deliveries VALUES (1, 1, 'tablet-1', 'marks', :d, '[1]')"), {"d": digest})
            if number >= 3:
                for n, corrects in ((4, None), (7, 4)):  # records were numbered by the whole store then
                    kept = {"n": n, "c": corrects, "d": json.dumps({"mm": n})}
                    db.execute(
                        text("INSERT INTO records VALUES (:n, 1, 'release', '14', '2026-01-02', 'builder', :d, :c)"),
                        kept,
                    )
            if not blank.is_server:
                db.execute(text(f"PRAGMA user_version = {number}"))
            else:
                for table in ("boat", "marks", "answers", "choices", "acts", "deliveries", *["records"] * (number > 2)):
                    db.execute(text(f"SELECT setval('{table}_id_seq', (SELECT max(id) FROM {table}))"))
        engine.dispose()
        return blank

    return make


RELEASED = range(1, schema.SCHEMA)


@pytest.mark.parametrize("number", RELEASED)
def test_nothing_is_lost_and_it_can_be_worked_on(old, blank, number):
    engine = store.open_boat(old(number))
    (mark,) = store.marks(engine)
    assert mark == Mark(**MARK | {"number": 1})
    assert struct.pack("<d", mark.half_breadth_mm) == struct.pack("<d", 0.1 + 0.2)
    assert (mark.way, mark.readings, mark.cov_mm2) == ("offsets", {}, None)
    assert store.answers(engine) == {1: "keep"}
    assert store.frames(engine) == {"14": CHOICE}
    assert [act.number for act in store.acts(engine)] == [1, 2, 3]
    assert [act.detail for act in store.acts(engine)] == [{"numbers": [1, 1], "é": 0.1 + 0.2}] * 3
    assert [(record.number, record.corrects) for record in store.records(engine)] == [(7, 4)] * (number >= 3)
    # a delivery of that version sent again is still known, and new ones are numbered on
    assert store.add_marks(engine, [Mark(**MARK)], key="tablet-1") == [1]
    assert store.add_marks(engine, [Mark(**MARK)]) == [2]
    assert store.add_record(engine, "release", "14", {}) == (8 if number >= 3 else 1)
    assert store.choices(engine, "frame") == {"14": CHOICE}
    engine.dispose()
    found = {each.what: each.ok for each in store.check(blank)}
    assert found.pop("settings") is False  # what is here in the acts was never that of a boat
    assert set(found.values()) == {True}


@pytest.mark.parametrize("number", [0, *RELEASED])
def test_the_migrations_make_the_tables_of_the_schema(blank, old, number):
    if number:
        old(number)
    assert store.boats(blank) == (("merganser ii",) if number else ())
    engine = engine_of(blank)
    with engine.connect() as db:
        context = MigrationContext.configure(db, opts={"compare_type": True})
        assert compare_metadata(context, schema.metadata) == []
        head = context.get_current_revision()
    engine.dispose()
    scripts = ScriptDirectory(str(resources.files("scrieve.store") / "migrations"))
    assert scripts.get_current_head() == head
    assert len(list(scripts.walk_revisions())) == schema.SCHEMA  # the number in the file's head counts them


@pytest.mark.parametrize("number", RELEASED)
def test_what_was_there_is_copied_first(old, number):
    place = old(number)
    before = dump(place)
    store.open_boat(place).dispose()
    store.open_boat(place).dispose()  # brought up to date once, so copied once
    if place.is_server:
        engine = engine_of(place)
        with engine.connect() as db:
            (aside,) = db.execute(text("SELECT nspname FROM pg_namespace WHERE nspname LIKE 'before_%'")).scalars()
            assert aside.startswith(f"before_{number:04}_")
            assert db.execute(text(f'SELECT count(*) FROM "{aside}".acts')).scalar() == 3
            assert db.execute(text(f'SELECT half_breadth_mm FROM "{aside}".marks')).scalar() == 0.1 + 0.2
        engine.dispose()
        return
    (copy,) = (each for each in place.file.parent.iterdir() if each.name.startswith(f"old.schema{number}-"))
    assert dump(Place(str(copy))) == before
    with contextlib.closing(sqlite3.connect(copy)) as raw:
        assert raw.execute("PRAGMA user_version").fetchone() == (number,)


def dump(place):
    if place.is_server:
        return None
    with contextlib.closing(sqlite3.connect(place.file)) as raw:
        return list(raw.iterdump())


@pytest.mark.parametrize("blank", ["file"], indirect=True)  # a server never lets such a row in
def test_rows_that_do_not_hold_together_are_not_brought_up_to_date(old):
    place = old(3)
    with contextlib.closing(sqlite3.connect(place.file)) as raw:
        raw.execute("INSERT INTO answers VALUES (2, 1, 99, 'keep', NULL, '')")
        raw.commit()
    before = dump(place)
    with pytest.raises(BadBoat, match=r"do not hold together .*open your latest copy of it. The file was not changed"):
        store.open_boat(place)
    assert dump(place) == before
