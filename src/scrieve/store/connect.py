"""Connections to a store: SQLite or PostgreSQL, one way to read and one to write, and their faults in words."""

from __future__ import annotations

import contextlib
import math
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path
from threading import Lock
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, select
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import DBAPIError, InvalidatePoolError, NoSuchModuleError, TimeoutError

from scrieve.errors import BadBoat, DiskFull, StoreAway
from scrieve.store import schema
from scrieve.store.delivery import kept_out
from scrieve.store.place import Place

_WAIT_MS = 15_000
#: As many as the server of the pages has threads.
_POOL = {"pool_size": 16, "max_overflow": 32, "pool_timeout": 30, "pool_use_lifo": True}
#: A connection to a server that has rested longer is tried before it is used: the server may be a new one since [s].
_RESTED_S = 0.2
#: Words and states by which a database tells that there is no room, and that a text has none in its column.
_FULL = ("disk is full", "no space left", "disk i/o error", "53100")
_TOO_LONG = ("value too long", "22001")


def engine_of(place: Place) -> Engine:
    """Return an engine for the store of a place, not yet bound to a boat."""
    engine = _server(place.store) if place.is_server else _file(place.file)
    return engine.execution_options(shown=str(place), lock=Lock())


def _server(address: str) -> Engine:
    url = make_url(address).set(drivername="postgresql+psycopg")
    engine = create_engine(url, connect_args={"connect_timeout": _WAIT_MS // 1000}, **_POOL)

    @event.listens_for(engine, "checkin")
    def _(_raw: Any, record: Any) -> None:
        record.info["used"] = time.monotonic()

    @event.listens_for(engine, "checkout")
    def _(raw: Any, record: Any, _proxy: Any) -> None:
        if time.monotonic() - record.info.get("used", math.inf) > _RESTED_S:
            try:
                engine.dialect.do_ping(raw)
            except engine.dialect.loaded_dbapi.Error as error:
                raise InvalidatePoolError("the server has let this connection go") from error

    return engine


def _file(place: Path) -> Engine:
    engine = create_engine(URL.create("sqlite", database=str(place)), **_POOL)

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


def on_server(engine: Engine | Connection) -> bool:
    """Whether this is PostgreSQL."""
    return engine.dialect.name == "postgresql"


def shown(engine: Engine) -> str:
    """Return the place that an engine is for, as it is shown."""
    return str(engine.get_execution_options().get("shown", engine.url.database))


@contextlib.contextmanager
def reading(engine: Engine, *, at_once: bool = False) -> Iterator[Connection]:
    """Give a connection that reads one state of the store; `at_once` where that is one question, which needs no
    transaction about it: a server is then asked once, not three times."""
    options: dict[str, Any] = {"writes": False}
    if on_server(engine):
        options = {"isolation_level": "AUTOCOMMIT" if at_once else "REPEATABLE READ"}
    with clear(shown(engine)), engine.connect().execution_options(**options) as db:
        yield db


@contextlib.contextmanager
def writing(engine: Engine) -> Iterator[tuple[Connection, int]]:
    """Give a connection in a transaction that alone may write to the boat, and the boat's id."""
    lock = engine.get_execution_options().get("lock") if not on_server(engine) else None
    with clear(shown(engine)), lock or contextlib.nullcontext(), engine.begin() as db:
        boat_id = the_boat(db)
        if on_server(db):  # until the end of the transaction
            db.execute(select(schema.boat.c.id).where(schema.boat.c.id == boat_id).with_for_update())
        yield db, boat_id


def the_boat(db: Connection) -> int:
    """Return the id of the boat that the engine was opened for."""
    return int(db.get_execution_options().get("boat", 0))


@contextlib.contextmanager
def clear(place: object) -> Iterator[None]:
    """Turn what a database says into words with a way out."""
    try:
        yield
    except (DBAPIError, sqlite3.Error, TimeoutError, NoSuchModuleError) as error:
        text = said(error)
        way, kind = _way(text.lower(), getattr(getattr(error, "orig", None), "sqlstate", None) or "")
        if not way:
            raise
        told = kind(f"{place}: {way} ({text}).")
        if isinstance(told, StoreAway):
            kept_out(told)
        raise told from error


def _way(said: str, state: str) -> tuple[str, type[BadBoat]]:
    """What there is to do, and what sort of fault it is; '' where it is none that is known."""
    ways = (
        (("locked", "busy", "queuepool limit"),
         "another program holds it; close that one, or wait a little, and try again"),
        (("readonly", "unable to open"),
         "the file or its folder is write-protected; copy it to a folder you may write to, and open the copy"),
        (("read-only transaction",), "the store takes no writes now; ask whoever keeps its server. Nothing was stored"),
        (_FULL,
         "the disk is full or fails; make room and try again. What was stored before is safe, this was not stored"),
        (("malformed", "not a database", "no such table", "42p01", "invalid page"),
         "it is damaged; open your latest copy of it ('scrieve check' tells more)"),
        (("password", "28p01", "28000", "permission denied", "42501"),
         "the server does not let you in, or not do this; look at name, password and rights"),
        (("57p01", "57p02", "57p03", "server closed", "terminating connection", "connection is lost", "is closed",
          "consuming input failed", "broken pipe"),
         "the connection to the server was lost; try again: what was sent with a key is stored once"),
        (("3d000",), "the server has no such database; make it first, as docs/storing.md tells"),
        (("connection failed", "connection refused", "could not translate", "failed to resolve", "connection timeout",
          "no such file or directory", "no route"),
         "the server cannot be reached; see that it runs and that the address is right"),
        (_TOO_LONG, "a text is too long to be stored; shorten it. Nothing was stored"),
    )  # fmt: skip
    for words, way in ways:
        if any(word in said or word == state.lower() for word in words):
            return way, {_FULL: DiskFull, _TOO_LONG: BadBoat}.get(words, StoreAway)
    return "", BadBoat


def said(error: BaseException) -> str:
    """Return what the database or the system said of a fault, without what SQLAlchemy adds."""
    cause = error.orig if isinstance(error, DBAPIError) and error.orig else error
    text = getattr(cause, "strerror", None) or str(cause)
    return " ".join(str(text).split())
