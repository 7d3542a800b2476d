"""What was done and measured at the bench: records only ever added to, a correction naming what it corrects."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Engine, func, insert, select

from scrieve.errors import BadBoat
from scrieve.store import schema
from scrieve.store.acting import act
from scrieve.store.connect import reading, the_boat, writing
from scrieve.store.delivery import once, plain_json

#: Kind of a record that takes another one back, and says nothing else.
TAKEN_BACK = "taken back"


@dataclass(frozen=True, slots=True)
class Record:
    """One record: its number, kind and member, when (UTC, ISO 8601), who, what, and which one it corrects."""

    number: int
    kind: str
    member: str
    at: str
    who: str
    detail: Mapping[str, Any]
    corrects: int | None = None


def add_record(
    engine: Engine,
    kind: str,
    member: str,
    detail: Mapping[str, Any],
    *,
    corrects: int | None = None,
    key: str | None = None,
    who: str = "builder",
) -> int:
    """Add a record and return its number.

    Parameters
    ----------
    engine : Engine
        As `open_boat` gives it.
    kind : str
        What was done: 'release', 'glue-up', 'signature'…
    member : str
        The frame or plank it was done to; empty for the whole boat.
    detail : mapping
        What was done or measured, in plain values with a JSON form.
    corrects : int, optional
        The record that this one puts right; both stay.
    key : str, optional
        The same key again stores nothing and returns the first number.

    Raises
    ------
    BadBoat
        No kind, a number that is not finite, a record to correct that there is not or that has been corrected already,
        or the store cannot be written.
    """
    if not kind.strip():
        raise BadBoat("a record needs to say what was done.")
    plain = json.loads(plain_json(dict(detail)))
    plain_json([key, member, who])

    def do() -> int:
        if corrects is not None and (corrects not in standing_in(db, boat_id, corrects)):
            _no_such(db, boat_id, corrects)
        return put_record(db, boat_id, kind, member, plain, corrects, who)

    with writing(engine) as (db, boat_id):
        return once(db, boat_id, key, f"record {kind}", [member, plain, corrects], do)


def put_record(
    db: Connection,
    boat_id: int,
    kind: str,
    member: str,
    detail: Mapping[str, Any],
    corrects: int | None,
    who: str,
    undoes: int | None = None,
) -> int:
    """Write a record and its act; return the record's number."""
    table = schema.records.c
    number = 1 + (db.execute(select(func.max(table.number)).where(table.boat_id == boat_id)).scalar() or 0)
    at = datetime.now(UTC).isoformat(timespec="seconds")
    found = Record(number, kind, member, at, who, detail, corrects)
    row = {name: getattr(found, name) for name in Record.__slots__}
    db.execute(insert(schema.records).values(row | {"boat_id": boat_id}))
    told = {"number": number, "member": member, "corrects": corrects}
    now = {"record": number, "digest": record_digest(found)}
    act(db, boat_id, who, f"recorded: {kind}", told, was={"record": corrects}, now=now, undoes=undoes)
    return number


def record_digest(record: Record) -> str:
    """Return the SHA-256 of a record, every field of it."""
    return hashlib.sha256(plain_json([getattr(record, name) for name in Record.__slots__]).encode()).hexdigest()


def records(engine: Engine, kind: str | None = None, member: str | None = None) -> tuple[Record, ...]:
    """Return the records that stand (none that has been corrected), oldest first, of one kind or member where given."""
    with reading(engine, at_once=True) as db:
        found = records_in(db, the_boat(db))
    gone = {record.corrects for record in found}
    return tuple(
        record
        for record in found
        if record.number not in gone
        and record.kind != TAKEN_BACK
        and kind in (None, record.kind)
        and member in (None, record.member)
    )


def every_record(engine: Engine) -> tuple[Record, ...]:
    """Return every record, oldest first, those that were corrected too."""
    with reading(engine, at_once=True) as db:
        return records_in(db, the_boat(db))


def records_in(db: Connection, boat_id: int) -> tuple[Record, ...]:
    """Return every record of a boat, those that were corrected too."""
    table = schema.records.c
    query = select(*(table[name] for name in Record.__slots__)).where(table.boat_id == boat_id)
    return tuple(Record(*row) for row in db.execute(query.order_by(table.number)))


def standing_in(db: Connection, boat_id: int, number: int) -> dict[int, Record]:
    """Return the record of a number, where there is one and nothing has corrected it."""
    table = schema.records.c
    if db.execute(select(table.id).where(table.boat_id == boat_id, table.corrects == number)).first():
        return {}
    query = select(*(table[name] for name in Record.__slots__)).where(table.boat_id == boat_id, table.number == number)
    return {row.number: Record(*row) for row in db.execute(query)}


def _no_such(db: Connection, boat_id: int, number: int) -> None:
    table = schema.records.c
    mine = select(table.number).where(table.boat_id == boat_id)
    if db.execute(mine.where(table.number == number)).first() is None:
        raise BadBoat(f"there is no record {number} to correct; look its number up in the list.")
    by = db.execute(mine.where(table.corrects == number)).scalars().first()
    raise BadBoat(f"record {number} was corrected already, by record {by}; look at that one, and correct it.")
