"""The boat file: made, opened, judged, and brought up to date. A file that is not ours is never changed."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, insert, select
from sqlalchemy.engine import URL
from sqlalchemy.exc import DBAPIError

from scrieve.boat import Boat
from scrieve.errors import BadBoat
from scrieve.store import schema
from scrieve.store.delivery import plain_json

_SQLITE = b"SQLite format 3\x00"
_WAIT_MS = 15_000


def create(path: str | os.PathLike[str], boat: Boat, *, who: str = "builder") -> Engine:
    """Make a new boat file and open it.

    The file is made beside its place under another name and moved there when it is whole.

    Raises
    ------
    BadBoat
        There is a file of that name already, or the place cannot be written.
    """
    place = Path(path)
    if place.exists():
        raise BadBoat(f"{place}: there is a file of that name already; choose another name, or open that one.")
    if not place.parent.is_dir():
        raise BadBoat(f"{place}: the folder {place.parent} does not exist; make it first.")
    half = place.with_name(f".{place.name}.{os.getpid()}.half")
    try:
        place.touch(exist_ok=False)  # claims the name: of two that make the same boat at once, one is told
        try:
            _make(half, boat, who)
            half.replace(place)
        except BaseException:
            place.unlink(missing_ok=True)
            raise
        finally:
            half.unlink(missing_ok=True)
    except FileExistsError as error:
        raise BadBoat(f"{place}: there is a file of that name already; choose another name.") from error
    except (OSError, DBAPIError, sqlite3.Error) as error:
        raise BadBoat(f"{place}: cannot be made here ({_said(error)}); choose a folder you may write to.") from error
    return open_boat(place)


def _make(half: Path, boat: Boat, who: str) -> None:
    raw = sqlite3.connect(half)
    raw.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")
    raw.close()
    engine = _engine(half)
    try:
        _migrate(engine)
        with engine.begin() as db:
            boat_id = db.execute(insert(schema.boat).values(asdict(boat)).returning(schema.boat.c.id)).scalar_one()
            act(db, boat_id, who, "made the boat", asdict(boat))
    finally:
        engine.dispose()


def open_boat(path: str | os.PathLike[str]) -> Engine:
    """Open a boat file; an older one is copied beside itself and brought up to date first.

    Raises
    ------
    BadBoat
        The file is missing, damaged, not ours, of a newer Scrieve, locked, or cannot be written.
    """
    place = Path(path)
    _check_head(place)
    if not (os.access(place, os.W_OK) and os.access(place.parent, os.W_OK)):
        raise BadBoat(
            f"{place}: the file or its folder is write-protected; copy the file to a folder you may write to, and "
            "open the copy."
        )
    engine = _engine(place)
    try:
        with reading(engine) as db:
            found = int(db.exec_driver_sql("PRAGMA user_version").scalar_one())
        if found > schema.SCHEMA:
            raise BadBoat(
                f"{place}: written by a newer Scrieve (schema {found}; this one knows {schema.SCHEMA}). Open it with "
                "that one, or bring this one up to date. The file was not changed."
            )
        if found < schema.SCHEMA:
            _copy_aside(place, found)
            with _clear(place):
                _migrate(engine)
        with reading(engine) as db:
            if db.execute(select(schema.boat.c.id)).first() is None:
                raise BadBoat(f"{place}: holds no boat; make one with 'scrieve new', under another name.")
    except BadBoat:
        engine.dispose()
        raise
    return engine


def _check_head(place: Path) -> None:
    """Judge the file by its first 100 bytes, without SQLite: a file that is not ours stays untouched."""
    if place.is_dir():
        raise BadBoat(f"{place}: a folder; give the boat's file.")
    try:
        with place.open("rb") as file:
            head = file.read(100)
    except FileNotFoundError as error:
        raise BadBoat(f"{place}: there is no such file; make a boat with 'scrieve new {place}'.") from error
    except OSError as error:
        raise BadBoat(f"{place}: cannot be read ({_said(error)}); check who may read it.") from error
    if not head:
        raise BadBoat(f"{place}: the file is empty, so it holds no boat; delete it and make the boat anew.")
    if not head.startswith(_SQLITE) or len(head) < 100:
        raise BadBoat(f"{place}: not a Scrieve boat file. The file was not changed.")
    if int.from_bytes(head[68:72], "big") != schema.APPLICATION_ID:
        raise BadBoat(f"{place}: a database, but not a Scrieve boat file. The file was not changed.")


def _engine(place: Path) -> Engine:
    engine = create_engine(URL.create("sqlite", database=str(place)))

    @event.listens_for(engine, "connect")
    def _(raw: Any, _record: Any) -> None:
        raw.isolation_level = None  # the driver must not begin by itself
        for pragma in (f"busy_timeout={_WAIT_MS}", "journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
            raw.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _(db: Connection) -> None:
        writes = db.get_execution_options().get("writes", True)
        db.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _migrate(engine: Engine) -> None:
    from alembic import command  # a quarter of a second, spent only where the schema changes
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    with engine.begin() as db:
        config.attributes["connection"] = db
        command.upgrade(config, "head")
        db.exec_driver_sql(f"PRAGMA user_version = {schema.SCHEMA}")


def _copy_aside(place: Path, found: int) -> Path:
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
    copy = place.with_name(f"{place.stem}.schema{found}-{stamp}{place.suffix}")
    try:
        with contextlib.closing(sqlite3.connect(place)) as old:
            old.execute("VACUUM INTO ?", (str(copy),))
    except (OSError, sqlite3.Error) as error:
        raise BadBoat(
            f"{place}: written by an older Scrieve, and no copy of it could be made first ({_said(error)}); make room "
            "in its folder. The file was not changed."
        ) from error
    return copy


@contextlib.contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """Give a connection that reads one state of the file."""
    with _clear(engine.url.database), engine.connect().execution_options(writes=False) as db:
        yield db


@contextlib.contextmanager
def writing(engine: Engine) -> Iterator[tuple[Connection, int]]:
    """Give a connection in a transaction that alone may write, and the boat's id."""
    with _clear(engine.url.database), engine.begin() as db:
        yield db, the_boat(db)


def the_boat(db: Connection) -> int:
    """Return the id of the boat in this file."""
    return db.execute(select(schema.boat.c.id).order_by(schema.boat.c.id)).scalars().first() or 0


def act(db: Connection, boat_id: int, who: str, what: str, detail: Any) -> None:
    """Write down an act, in the transaction of what it did."""
    plain_json([who, what, detail])
    at = datetime.now(UTC).isoformat(timespec="milliseconds")
    db.execute(insert(schema.acts).values(boat_id=boat_id, at=at, who=who, what=what, detail=detail))


@contextlib.contextmanager
def _clear(place: str | Path | None) -> Iterator[None]:
    """Turn what SQLite says of a file into words with a way out."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        said = _said(error)
        if "locked" in said or "busy" in said:
            way = "another program holds it; close that one, or wait a little, and try again"
        elif "readonly" in said or "unable to open" in said:
            way = "the file or its folder is write-protected; copy it to a folder you may write to, and open the copy"
        elif "full" in said:
            way = "the disk is full; make room and try again"
        elif "malformed" in said or "not a database" in said or "no such table" in said:
            way = "the file is damaged; open your latest copy of it"
        else:
            raise
        raise BadBoat(f"{place}: {way} ({said}).") from error


def _said(error: BaseException) -> str:
    cause = error.orig if isinstance(error, DBAPIError) and error.orig else error
    return getattr(cause, "strerror", None) or str(cause)
