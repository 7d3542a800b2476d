"""The store of a boat: made, opened, judged, and brought up to date. A file that is not ours is never changed."""

from __future__ import annotations

import contextlib
import functools
import os
import sqlite3
import tempfile
from collections.abc import Iterator
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, insert, inspect, select, text
from sqlalchemy.exc import ArgumentError, DBAPIError

from scrieve.boat import Boat
from scrieve.errors import BadBoat
from scrieve.store import schema
from scrieve.store.acting import act
from scrieve.store.connect import clear, engine_of, on_server, reading, said, shown
from scrieve.store.place import Place, known_as

_SQLITE = b"SQLite format 3\x00"
#: Held in a PostgreSQL database while its tables are made or changed.
_LOCK = int.from_bytes(b"SCRV", "big")


def create(where: str | os.PathLike[str] | Place, boat: Boat, *, who: str = "builder") -> Engine:
    """Make a new boat, in a file of her own or in a store that holds others, and open her.

    A file is made beside its place under another name and moved there when it is whole.

    Raises
    ------
    BadBoat
        There is a file, or in that store a boat, of that name already; or the place cannot be written.
    """
    place = Place.of(where)
    if place.is_server or (place.boat and place.file.exists()):
        engine = open_store(place)
        try:
            add_boat(engine, boat, place.boat, who)
        finally:
            engine.dispose()
    else:
        _make_file(place.file, boat, place.boat, who)
    return open_boat(place if place.boat or not place.is_server else Place(place.store, _name_for(boat)))


def add_boat(engine: Engine, boat: Boat, name: str = "", who: str = "builder") -> int:
    """Add a boat to a store that is open; return her id there."""
    name = name or _name_for(boat)
    with clear(shown(engine)), engine.begin() as db:
        alone(db)
        if name in names(db):
            raise BadBoat(f"{shown(engine)}: there is a boat {name!r} in it already; choose another name, or open her.")
        row = asdict(boat) | {"known_as": name}
        boat_id = int(db.execute(insert(schema.boat).values(row).returning(schema.boat.c.id)).scalar_one())
        act(db, boat_id, who, "made the boat", asdict(boat))
    return boat_id


def alone(db: Connection) -> None:
    """Let nobody else make a boat or change tables in a PostgreSQL store until this transaction ends."""
    if on_server(db):
        db.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": _LOCK})


def _name_for(boat: Boat) -> str:
    return known_as("".join(sign if sign.isprintable() else " " for sign in boat.name.replace("#", " "))[:80])


def _make_file(place: Path, boat: Boat, name: str, who: str) -> None:
    if place.exists():
        raise BadBoat(f"{place}: there is a file of that name already; choose another name, or open that one.")
    if not place.parent.is_dir():
        raise BadBoat(f"{place}: the folder {place.parent} does not exist; make it first.")
    half = place.with_name(f".{place.name}.{os.getpid()}.half")
    try:
        place.touch(exist_ok=False)  # claims the name: of two that make the same boat at once, one is told
        try:
            blank_file(half)
            engine = engine_of(Place(str(half)))
            try:
                add_boat(engine, boat, name, who)
            finally:
                engine.dispose()
            half.replace(place)
        except BaseException:
            place.unlink(missing_ok=True)
            raise
        finally:
            for end in ("", "-wal", "-shm"):
                half.with_name(half.name + end).unlink(missing_ok=True)
    except FileExistsError as error:
        raise BadBoat(f"{place}: there is a file of that name already; choose another name.") from error
    except (OSError, DBAPIError, sqlite3.Error) as error:
        raise BadBoat(f"{place}: cannot be made here ({said(error)}); choose a folder you may write to.") from error


def blank_file(path: Path) -> None:
    """Make a file with every table and no boat."""
    path.write_bytes(_blank())


@functools.cache
def _blank() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "blank")
        with contextlib.closing(sqlite3.connect(path)) as raw:
            raw.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
        engine = engine_of(Place(str(path)))
        try:
            _migrate(engine)
        finally:
            engine.dispose()
        return path.read_bytes()


def open_boat(where: str | os.PathLike[str] | Place) -> Engine:
    """Open a boat; a store of an older Scrieve is copied and brought up to date first.

    Parameters
    ----------
    where : str, path or Place
        FILE, FILE#NAME, postgresql://…#NAME. The name may be left out where the store holds one boat.

    Raises
    ------
    BadBoat
        The store is missing, damaged, not ours, of a newer Scrieve, locked, or cannot be written; or there is no such
        boat in it, or several and none is named, or she was moved elsewhere.
    """
    place = Place.of(where)
    engine = open_store(place)
    try:
        with reading(engine) as db:
            boat_id = _the_one(db, place)
    except BadBoat:
        engine.dispose()
        raise
    return engine.execution_options(boat=boat_id)


def open_store(where: str | os.PathLike[str] | Place) -> Engine:
    """Open a store without choosing a boat in it; raises as `open_boat`."""
    place = Place.of(where)
    if not place.is_server:
        check_head(place.file)
        if not (os.access(place.file, os.W_OK) and os.access(place.file.parent, os.W_OK)):
            raise BadBoat(
                f"{place}: the file or its folder is write-protected; copy the file to a folder you may write to, and "
                "open the copy."
            )
    try:
        engine = engine_of(place)
    except ArgumentError as error:
        raise BadBoat(f"the address of the store cannot be read ({error}); docs/storing.md shows one.") from error
    try:
        with reading(engine) as db:
            found = schema_of(db, place)
        if found > schema.SCHEMA:
            raise BadBoat(
                f"{place}: written by a newer Scrieve (schema {found}; this one knows {schema.SCHEMA}). Open it with "
                f"that one, or bring this one up to date. The {'store' if place.is_server else 'file'} was not changed."
            )
        if found < schema.SCHEMA:
            if not place.is_server:
                _copy_aside(place.file, found)
            with clear(place):
                _migrate(engine)
    except BadBoat:
        engine.dispose()
        raise
    return engine


def schema_of(db: Connection, place: Place) -> int:
    """Return the number of the store's schema, 0 before it has tables.

    Raises
    ------
    BadBoat
        A PostgreSQL database holds tables that are not ours.
    """
    if not on_server(db):
        return int(db.exec_driver_sql("PRAGMA user_version").scalar_one())
    tables = set(inspect(db).get_table_names())
    if not tables:
        return 0
    found = db.execute(text("SELECT version_num FROM alembic_version")).scalar() if "alembic_version" in tables else ""
    if not (found and len(found) == 4 and found.isdigit() and {"boat", "marks", "acts", "deliveries"} <= tables):
        raise BadBoat(f"{place}: a database that holds other tables; give Scrieve one of its own. It was not changed.")
    return int(found)


def names(db: Connection) -> dict[str, int]:
    """Return the boats of a store: the name each is known by -> her id."""
    table = schema.boat.c
    return {row.known_as: row.id for row in db.execute(select(table.known_as, table.id).order_by(table.id))}


def boats(where: str | os.PathLike[str] | Place) -> tuple[str, ...]:
    """Return the names by which the boats of a store are known."""
    engine = open_store(where)
    try:
        with reading(engine) as db:
            return tuple(names(db))
    finally:
        engine.dispose()


def _the_one(db: Connection, place: Place) -> int:
    there = names(db)
    what = "store" if place.is_server else "file"
    if not there:
        raise BadBoat(f"{place}: holds no boat; make one with 'scrieve new', under another name.")
    listed = ", ".join(there)
    if place.boat and place.boat not in there:
        raise BadBoat(f"{place}: there is no boat {place.boat!r} in this {what}; there are: {listed}.")
    if not place.boat and len(there) > 1:
        raise BadBoat(f"{place}: holds several boats: {listed}. Name one, as {place}#{next(iter(there))}.")
    boat_id = there[place.boat] if place.boat else next(iter(there.values()))
    moved = db.execute(select(schema.boat.c.moved_to).where(schema.boat.c.id == boat_id)).scalar_one()
    if moved:
        raise BadBoat(f"{place}: she was moved to {moved}; open her there. What is here was left as it was then.")
    return boat_id


def check_head(place: Path) -> None:
    """Judge the file by its head: a file that is not ours stays untouched.

    A database is opened through SQLite, as one that never changes. Opened and closed by hand, on most systems a file
    loses every lock that this program has on it, and the next program that is done with it takes away what was
    written but is not in it yet.
    """
    if place.is_dir():
        raise BadBoat(f"{place}: a folder; give the boat's file.")
    try:
        with contextlib.closing(sqlite3.connect(f"{place.absolute().as_uri()}?mode=ro&immutable=1", uri=True)) as raw:
            marked = raw.execute("PRAGMA application_id").fetchone()[0] if place.stat().st_size >= 100 else 0
    except (sqlite3.Error, OSError):
        marked = 0
    if marked == schema.APPLICATION_ID:
        return
    try:
        with place.open("rb") as file:  # no database of ours is at work here, or it is damaged
            head = file.read(100)
    except FileNotFoundError as error:
        raise BadBoat(f"{place}: there is no such file; make a boat with 'scrieve new {place}'.") from error
    except OSError as error:
        raise BadBoat(f"{place}: cannot be read ({said(error)}); check who may read it.") from error
    if not head:
        raise BadBoat(f"{place}: the file is empty, so it holds no boat; delete it and make the boat anew.")
    if not head.startswith(_SQLITE) or len(head) < 100:
        raise BadBoat(f"{place}: not a Scrieve boat file. The file was not changed.")
    if int.from_bytes(head[68:72], "big") != schema.APPLICATION_ID:
        raise BadBoat(f"{place}: a database, but not a Scrieve boat file. The file was not changed.")


def _migrate(engine: Engine) -> None:
    from alembic import command  # a quarter of a second, spent only where the schema changes
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    with _unbound(engine) as db, db.begin():
        alone(db)
        if on_server(db):
            _tables_aside(db)
        config.attributes["connection"] = db
        command.upgrade(config, "head")
        if not on_server(db):
            if broken := db.exec_driver_sql("PRAGMA foreign_key_check").all():
                raise BadBoat(f"{shown(engine)}: its rows do not hold together ({len(broken)}, first {broken[0]}); "
                              "open your latest copy of it. The file was not changed.")  # fmt: skip
            db.exec_driver_sql(f"PRAGMA user_version = {schema.SCHEMA}")


@contextlib.contextmanager
def _unbound(engine: Engine) -> Iterator[Connection]:
    """Give a connection on which SQLite lets tables be built anew although others refer to them."""
    with engine.connect() as db:
        if on_server(db):
            yield db
            return
        raw: Any = db.connection.driver_connection
        raw.execute("PRAGMA foreign_keys=OFF")  # does nothing within a transaction
        try:
            yield db
        finally:
            raw.execute("PRAGMA foreign_keys=ON")


def _stamp() -> str:
    return datetime.now(UTC).strftime("%Y%m%dT%H%M%S")


def _tables_aside(db: Connection) -> None:
    """Copy the tables of an older schema into a schema of their own, in the transaction that changes them."""
    tables = inspect(db).get_table_names()
    if not tables:
        return
    found = db.execute(text("SELECT version_num FROM alembic_version")).scalar_one()
    if int(found) >= schema.SCHEMA:  # another program was quicker
        return
    aside = f"before_{found}_{_stamp().lower()}"
    db.execute(text(f'CREATE SCHEMA "{aside}"'))
    for name in tables:
        db.execute(text(f'CREATE TABLE "{aside}"."{name}" AS TABLE "{name}"'))


def _copy_aside(place: Path, found: int) -> Path:
    copy = place.with_name(f"{place.stem}.schema{found}-{_stamp()}{place.suffix}")
    try:
        with contextlib.closing(sqlite3.connect(place)) as old:
            old.execute("VACUUM INTO ?", (str(copy),))
    except (OSError, sqlite3.Error) as error:
        raise BadBoat(
            f"{place}: written by an older Scrieve, and no copy of it could be made first ({said(error)}); make room "
            "in its folder. The file was not changed."
        ) from error
    return copy
