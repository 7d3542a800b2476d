"""The acts: who did what, when, with what was before and what is now, each chained to the one before it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Engine, insert, select

from scrieve.store import schema
from scrieve.store.connect import reading, the_boat
from scrieve.store.delivery import made, plain_json

_COLUMNS = ("at", "who", "what", "detail", "number", "was", "now", "undoes")


@dataclass(frozen=True, slots=True)
class Act:
    """One line of the record: when (UTC, ISO 8601), who, what, and the particulars.

    `was` and `now` are what it changed; None of an act older than the fourth schema. `undoes` is the act that it takes
    back.
    """

    at: str
    who: str
    what: str
    detail: Mapping[str, Any]
    number: int = 0
    was: Mapping[str, Any] | None = None
    now: Mapping[str, Any] | None = None
    undoes: int | None = None


def act(
    db: Connection,
    boat_id: int,
    who: str,
    what: str,
    detail: Any,
    *,
    was: Any = None,
    now: Any = None,
    undoes: int | None = None,
) -> int:
    """Write down an act, in the transaction of what it does; return its number in the boat."""
    detail, was, now = json.loads(plain_json([detail, was, now]))
    plain_json([who, what])
    number, before = last(db, boat_id)
    found = Act(datetime.now(UTC).isoformat(timespec="milliseconds"), who, what, detail, number + 1, was, now, undoes)
    row = {name: getattr(found, name) for name in _COLUMNS}
    db.execute(insert(schema.acts).values(boat_id=boat_id, chain=chained(before, found), **row))
    made(found.number)
    return found.number


def last(db: Connection, boat_id: int) -> tuple[int, str]:
    """Return the number and the chain of the boat's last act; 0 and '' before the first."""
    table = schema.acts.c
    query = select(table.number, table.chain).where(table.boat_id == boat_id).order_by(table.number.desc()).limit(1)
    row = db.execute(query).first()
    return (row.number, row.chain) if row else (0, "")


def chained(before: str, act: Act) -> str:
    """Return the digest of an act and of all before it: SHA-256 of the digest before and its own content."""
    content = [act.number, act.at, act.who, act.what, act.detail, act.was, act.now, act.undoes]
    return hashlib.sha256(f"{before}\n{plain_json(content)}".encode()).hexdigest()


def acts(engine: Engine, *, after: int = 0) -> tuple[Act, ...]:
    """Return the record of what was done, in order; with `after`, only what came after that act."""
    with reading(engine, at_once=True) as db:
        return acts_in(db, the_boat(db), after)


def acts_in(db: Connection, boat_id: int, after: int = 0) -> tuple[Act, ...]:
    """Return the acts of a boat, as `acts`."""
    table = schema.acts.c
    query = select(*(table[name] for name in _COLUMNS)).where(table.boat_id == boat_id, table.number > after)
    return tuple(Act(*row) for row in db.execute(query.order_by(table.number)))


def answers_told(acts: Iterable[Act]) -> dict[int, str]:
    """Return what acts say of marks, the latest of each: an answer, or '' where it was taken back."""
    said: dict[int, str] = {}
    for each in acts:
        for first, last, what in (each.now or {}).get("answers", ()):
            said |= dict.fromkeys(range(first, last + 1), what)
    return said


def last_act(engine: Engine) -> int:
    """Return the number of the last act: it names the state that a page was made from."""
    with reading(engine, at_once=True) as db:
        return last(db, the_boat(db))[0]
