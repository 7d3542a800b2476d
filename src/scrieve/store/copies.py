"""Copies of a store while it is in use, each proved by restoring it; and one every day while the pages are served."""

from __future__ import annotations

import contextlib
import logging
import os
import re
import shutil
import sqlite3
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Event, Thread

from sqlalchemy import Connection, select, text

from scrieve.errors import BadBoat, ScrieveError
from scrieve.store import schema
from scrieve.store.connect import clear, engine_of, reading
from scrieve.store.file import blank_file, names, open_store
from scrieve.store.moving import Content, carry, compare, content
from scrieve.store.people import carry_people
from scrieve.store.place import Place

log = logging.getLogger("scrieve.store")

_STAMP = re.compile(r"-(\d{8}T\d{6})\.boat$")
_FORM = "%Y%m%dT%H%M%S"
#: Of the copies made by themselves: the newest of so many days, weeks and months are kept.
DAYS, WEEKS, MONTHS = 7, 5, 12
_LOOK_S = 600.0
_EVERY = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Copy:
    """A copy that was made and proved: where, how large, and what it holds of each boat."""

    path: Path
    size: int
    boats: dict[str, dict[str, Content]]


def copies_folder(place: Place) -> Path | None:
    """Return the folder of the daily copies of a file, beside it; None where the store is a server."""
    return None if place.is_server else place.file.with_name(f"{place.file.stem}.copies")


def backup(where: str | os.PathLike[str] | Place, to: Path | None = None, *, now: datetime | None = None) -> Copy:
    """Copy a store to a new boat file while others go on writing, and prove the copy by restoring it.

    Of a file everything is copied; of a PostgreSQL store the boat that is named, or all boats where none is.

    Parameters
    ----------
    to : Path, optional
        The new file, or a folder for it; by default a folder beside the boat file.

    Raises
    ------
    BadBoat
        The store cannot be read, the copy cannot be written, or what was restored from it is not what was copied.
    """
    place = Place.of(where)
    stamp = (now or datetime.now(UTC)).astimezone(UTC).strftime(_FORM)
    name = f"{place.boat or 'boats' if place.is_server else place.file.stem}-{stamp}.boat".replace("/", "-")
    folder = to or copies_folder(place)
    if folder is None:
        raise BadBoat(f"{place}: say where the copy is to go; a server has no folder beside it.")
    if to is None or to.is_dir():
        to = folder / name
    if to.exists():
        raise BadBoat(f"{to}: there is a file of that name already; choose another name.")
    half = to.with_name(f".{to.name}.{os.getpid()}.half")
    try:
        to.parent.mkdir(parents=True, exist_ok=True)
        with clear(to):
            boats = _copy_server(place, half) if place.is_server else _copy_file(place, half)
            _prove(half, boats)
        size = half.stat().st_size
        half.replace(to)
    except OSError as error:
        raise BadBoat(f"{to}: the copy cannot be written ({error.strerror}); choose another folder.") from error
    finally:
        for end in ("", "-wal", "-shm", "-journal"):
            half.with_name(half.name + end).unlink(missing_ok=True)
    return Copy(to, size, boats)


def _contents(db: Connection, only: str = "") -> dict[str, dict[str, Content]]:
    return {name: content(db, boat_id) for name, boat_id in names(db).items() if only in ("", name)}


def _copy_file(place: Place, half: Path) -> dict[str, dict[str, Content]]:
    engine = open_store(place)
    try:
        with reading(engine) as db:
            boats = _contents(db)  # this begins the reading, so that the copy is of this state
            raw = db.connection.driver_connection
            assert isinstance(raw, sqlite3.Connection)
            with contextlib.closing(sqlite3.connect(half)) as copy:
                raw.backup(copy)
                copy.execute("PRAGMA journal_mode=DELETE")  # one file, with nothing beside it
    finally:
        engine.dispose()
    return boats


def _copy_server(place: Place, half: Path) -> dict[str, dict[str, Content]]:
    engine = open_store(place)
    blank_file(half)
    copy = engine_of(Place(str(half)))
    try:
        with reading(engine) as db, copy.begin() as there:
            chosen = {name: boat_id for name, boat_id in names(db).items() if place.boat in ("", name)}
            if not chosen:
                raise BadBoat(f"{place}: holds no such boat; there is nothing to copy.")
            for name, boat_id in chosen.items():
                carry(db, boat_id, there, name)
            carry_people(db, there)
            boats = _contents(there)
        with engine.connect() as db, db.begin() as restoring, copy.connect() as there:
            _restore_aside(db, there)
            restoring.rollback()
    finally:
        copy.dispose()
        engine.dispose()
    with contextlib.closing(sqlite3.connect(half)) as raw:
        raw.execute("PRAGMA journal_mode=DELETE")
    return boats


def _restore_aside(db: Connection, copy: Connection) -> None:
    """Restore a copy into a schema of its own on the server and compare; the caller takes it all back."""
    db.execute(text("CREATE SCHEMA scrieve_restored"))
    db.execute(text("SET LOCAL search_path TO scrieve_restored"))
    schema.metadata.create_all(db, checkfirst=False)
    for name, boat_id in names(copy).items():
        carry(copy, boat_id, db, name)
    carry_people(copy, db)


def _prove(copy: Path, boats: dict[str, dict[str, Content]]) -> None:
    """Restore a copy into a temporary folder, open it there as any boat file is opened, and compare."""
    with tempfile.TemporaryDirectory(prefix="scrieve-restore-") as folder:
        restored = Path(shutil.copy(copy, Path(folder) / "restored.boat"))
        engine = open_store(Place(str(restored)))
        try:
            with reading(engine) as db:
                if (verdict := db.exec_driver_sql("PRAGMA integrity_check").scalar()) != "ok":
                    raise BadBoat(f"the copy cannot be restored ({verdict}); the store it was made of may be damaged.")
                found = _contents(db)
        finally:
            engine.dispose()
    if found.keys() != boats.keys():
        raise BadBoat("the copy does not hold the boats it was made of; it was not kept.")
    for name, sent in boats.items():
        compare(sent, found[name])


def outdated(copies: Iterable[Path]) -> list[Path]:
    """Return the copies that need not be kept, of those that carry a day and hour in their name.

    The newest copy of each of the last 7 days, 5 weeks and 12 months that have one is kept.
    """
    dated = sorted(((stamp, path) for path in copies if (stamp := stamped(path))), reverse=True)
    kept: set[Path] = set()
    for form, most in (("%Y-%j", DAYS), ("%G-%V", WEEKS), ("%Y-%m", MONTHS)):
        newest: dict[str, Path] = {}
        for stamp, path in dated:
            newest.setdefault(stamp.strftime(form), path)
        kept |= set(list(newest.values())[:most])
    return [path for _, path in dated if path not in kept]


def stamped(copy: Path) -> datetime | None:
    """Return when a copy was made, as its name tells; None where it tells nothing."""
    found = _STAMP.search(copy.name)
    try:
        return datetime.strptime(found[1], _FORM).replace(tzinfo=UTC) if found else None
    except ValueError:
        return None


def latest_copy(folder: Path, stem: str = "") -> Path | None:
    """Return the newest copy in a folder; None where there is none."""
    found = [path for path in folder.glob(f"{stem}*.boat") if stamped(path)] if folder.is_dir() else []
    return max(found, key=lambda path: stamped(path) or datetime.min.replace(tzinfo=UTC), default=None)


def copy_if_due(place: Place, folder: Path, *, now: datetime | None = None) -> Copy | None:
    """Make today's copy and remove those outdated, unless one is younger than a day or holds all there is."""
    now = now or datetime.now(UTC)
    last = latest_copy(folder)
    made = stamped(last) if last else None
    if last and made and (now - made < _EVERY or _chains_of(last) == _chains(place)):
        return None
    folder.mkdir(parents=True, exist_ok=True)
    copy = backup(place, folder, now=now)
    for path in outdated(folder.glob("*.boat")):
        path.unlink(missing_ok=True)
    return copy


def _chains(place: Place) -> dict[str, str]:
    engine = open_store(place)
    try:
        with reading(engine) as db:
            return _last_chains(db, place.boat if place.is_server else "")
    finally:
        engine.dispose()


def _chains_of(copy: Path) -> dict[str, str]:
    try:
        return _chains(Place(str(copy)))
    except ScrieveError:
        return {}


def _last_chains(db: Connection, only: str) -> dict[str, str]:
    boat, acts = schema.boat.c, schema.acts.c
    rows = db.execute(
        select(boat.known_as, acts.chain).join_from(schema.boat, schema.acts, acts.boat_id == boat.id).order_by(
            acts.number
        )
    ).all()  # fmt: skip
    return {name: chain for name, chain in rows if only in ("", name)}


@contextlib.contextmanager
def daily_copies(place: Place, folder: Path | None) -> Iterator[None]:
    """Make a copy a day in `folder` for as long as this lasts; what goes wrong is told in the log, and tried again."""
    if folder is None:
        yield
        return
    ended = Event()

    def run() -> None:
        while True:
            try:
                if copy := copy_if_due(place, folder):
                    log.info("copied %s to %s and restored it to prove it", place, copy.path)
            except ScrieveError as error:
                log.warning("today's copy could not be made: %s", error)
            except Exception:
                log.exception("today's copy could not be made")
            if ended.wait(_LOOK_S):
                return

    thread = Thread(target=run, daemon=True, name="copies")
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join(timeout=30)
