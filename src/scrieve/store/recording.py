"""What was done and measured at the bench: records only ever added to, a correction naming what it corrects."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Engine, insert, select

from scrieve.errors import BadBoat
from scrieve.store import schema
from scrieve.store.delivery import once, plain_json
from scrieve.store.file import act, reading, writing


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
        No kind, a number that is not finite, a record to correct that there is not, or the file cannot be written.
    """
    if not kind.strip():
        raise BadBoat("a record needs to say what was done.")
    plain = json.loads(plain_json(dict(detail)))
    plain_json([key, member, who])

    def do() -> int:
        if corrects is not None:
            table = schema.records.c
            old = db.execute(select(table.id).where(table.id == corrects, table.boat_id == boat_id)).first()
            if old is None:
                raise BadBoat(f"there is no record {corrects} to correct; look its number up in the list.")
        at = datetime.now(UTC).isoformat(timespec="seconds")
        row = {
            "boat_id": boat_id,
            "kind": kind,
            "member": member,
            "at": at,
            "who": who,
            "detail": plain,
            "corrects": corrects,
        }
        number = int(db.execute(insert(schema.records).values(row).returning(schema.records.c.id)).scalar_one())
        act(db, boat_id, who, f"recorded: {kind}", {"number": number, "member": member, "corrects": corrects})
        return number

    with writing(engine) as (db, boat_id):
        return once(db, boat_id, key, f"record {kind}", [member, plain, corrects], do)


def records(engine: Engine, kind: str | None = None, member: str | None = None) -> tuple[Record, ...]:
    """Return the records that stand (none that has been corrected), oldest first, of one kind or member where given."""
    table = schema.records.c
    with reading(engine) as db:
        rows = db.execute(
            select(table.id, table.kind, table.member, table.at, table.who, table.detail, table.corrects).order_by(
                table.id
            )
        ).all()
    found = [Record(*row) for row in rows]
    gone = {record.corrects for record in found}
    return tuple(
        record
        for record in found
        if record.number not in gone and kind in (None, record.kind) and member in (None, record.member)
    )
