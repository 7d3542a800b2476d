"""A boat carried from one store to another, row by row, and compared there: counts and digests of every table."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Engine, Table, insert, select, update

from scrieve.errors import BadBoat
from scrieve.store import schema
from scrieve.store.acting import act
from scrieve.store.connect import clear, reading, shown, the_boat, writing
from scrieve.store.delivery import plain_json
from scrieve.store.file import alone, blank_file, names, open_boat, open_store
from scrieve.store.people import carry_people
from scrieve.store.place import Place

#: What belongs to a store and not to the boat.
_OF_STORE = {"id", "boat_id", "known_as", "moved_to"}
_AT_ONCE = 1000


@dataclass(frozen=True, slots=True)
class Content:
    """What one table holds of a boat: how many rows, and the SHA-256 of them all."""

    rows: int
    digest: str


@dataclass(frozen=True, slots=True)
class Moved:
    """What arrived of each table; the people that came with her, those who were there before, and those left behind."""

    content: dict[str, Content]
    came: tuple[str, ...] = ()
    known: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


def content(db: Connection, boat_id: int) -> dict[str, Content]:
    """Return what each table holds of a boat; the same in whichever store she lies."""
    found = {}
    for table in (schema.boat, *schema.CARRIED):
        digest, count = hashlib.sha256(), 0
        for row in _rows(db, table, boat_id):
            digest.update(plain_json([row[name] for name in sorted(row)]).encode() + b"\n")
            count += 1
        found[table.name] = Content(count, digest.hexdigest())
    return found


def _rows(db: Connection, table: Table, boat_id: int) -> Iterator[dict[str, Any]]:
    """Give the rows of a boat in the order in which they were stored, without what belongs to the store."""
    mine = table.c.id if table is schema.boat else table.c.boat_id
    columns = [column for column in table.c if column.name not in _OF_STORE]
    # as they were stored: by their own numbers where they have them, since the ids of a store may have gaps
    query = select(*columns).where(mine == boat_id).order_by(table.c.id)
    for row in db.execute(query, execution_options={"yield_per": _AT_ONCE}).mappings():
        yield dict(row)


def carry(source: Connection, boat_id: int, target: Connection, known_as: str) -> int:
    """Copy every row of a boat into another store and compare; return her id there.

    Raises
    ------
    BadBoat
        What arrived is not what was sent; the caller's transaction is to be rolled back.
    """
    (boat,) = _rows(source, schema.boat, boat_id)
    own = insert(schema.boat).values(boat | {"known_as": known_as})
    new = int(target.execute(own.returning(schema.boat.c.id)).scalar_one())
    for table in schema.CARRIED:
        batch: list[dict[str, Any]] = []
        for row in _rows(source, table, boat_id):
            batch.append(row | {"boat_id": new})
            if len(batch) == _AT_ONCE:
                target.execute(insert(table), batch)
                batch = []
        if batch:
            target.execute(insert(table), batch)
    compare(content(source, boat_id), content(target, new))
    return new


def compare(sent: Mapping[str, Content], arrived: Mapping[str, Content]) -> None:
    """Raise BadBoat where two contents differ; the message names the tables."""
    if wrong := [name for name, found in sent.items() if arrived.get(name) != found]:
        raise BadBoat(
            f"what arrived is not what was sent ({', '.join(wrong)}); nothing was kept of it. Run 'scrieve check' on "
            "the store it came from."
        )


def move(
    source: str | os.PathLike[str] | Place,
    target: str | os.PathLike[str] | Place,
    *,
    copy: bool = False,
    people: bool = False,
    who: str = "builder",
) -> Moved:
    """Carry a boat to another store; return what arrived, which is what was sent.

    The boat that was left behind stays as she was, and says where she went; with `copy` she may be worked on further.
    With `people` those who may sign in come too, with their passwords; who is there already stays as he is.

    Raises
    ------
    BadBoat
        Either store cannot be used, there is such a boat in the target already, or what arrived is not what was sent.
        Nothing is changed then.
    """
    goes_from, goes_to = Place.of(source), Place.of(target)
    same_file = not goes_to.is_server and goes_to.file.exists() and goes_to.file.resolve() == goes_from.file.resolve()
    if goes_from.store == goes_to.store or same_file:
        raise BadBoat(f"{goes_to}: that is the store she lies in; name another.")
    engine = open_boat(goes_from)
    try:
        with reading(engine) as db:
            query = select(schema.boat.c.known_as).where(schema.boat.c.id == the_boat(db))
            name = goes_to.boat or str(db.execute(query).scalar_one())
        made = not goes_to.is_server and not goes_to.file.exists()
        if made:
            _room_for(goes_to)
        try:
            return _move(engine, goes_from, goes_to, name, copy, people, who)
        except BaseException:
            if made:
                for end in ("", "-wal", "-shm"):
                    goes_to.file.with_name(goes_to.file.name + end).unlink(missing_ok=True)
            raise
    finally:
        engine.dispose()


def _room_for(place: Place) -> None:
    try:
        with clear(place):
            blank_file(place.file)
    except OSError as error:
        raise BadBoat(f"{place}: cannot be made here ({error.strerror}); choose a folder you may write to.") from error


def _move(engine: Engine, goes_from: Place, goes_to: Place, name: str, copy: bool, people: bool, who: str) -> Moved:
    other = open_store(goes_to)
    try:
        with writing(engine) as (db, boat_id):  # nobody writes to her meanwhile
            with clear(shown(other)), other.begin() as there:
                alone(there)
                if name in names(there):
                    raise BadBoat(
                        f"{goes_to}: there is a boat {name!r} in it already; give the one that is moved another name, "
                        f"as {Place(goes_to.store, f'{name}-2')}."
                    )
                new = carry(db, boat_id, there, name)
                found = content(there, new)
                came, known = carry_people(db, there) if people else ((), ())
                may = select(schema.people.c.name).where(schema.people.c.active)
                left = set(db.execute(may).scalars()) - set(there.execute(may).scalars())
                act(there, new, who, f"{'copied' if copy else 'moved'} here", {"from": str(goes_from)})
            if not copy:
                to = str(Place(goes_to.store, name))
                db.execute(update(schema.boat).where(schema.boat.c.id == boat_id).values(moved_to=to))
    finally:
        other.dispose()
    return Moved(found, came, known, tuple(sorted(left)))
