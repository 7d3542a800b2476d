"""The people of a store: who may sign in, in which role, and who is signed in. No password is kept, only its hash."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Literal, get_args

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import Connection, Engine, Row, delete, func, insert, select, update

from scrieve.errors import BadBoat, ScrieveError
from scrieve.store import schema
from scrieve.store.connect import reading, writing

Role = Literal["look", "bench", "lead hand", "keeper"]
#: From the least to the most: each may do what those before it may.
ROLES: tuple[Role, ...] = get_args(Role)

#: 48 ms a check on two small cores: the second of the two sets of figures that OWASP's password cheat sheet gives for
#: Argon2id (19 MiB, two passes, one lane).
_HASHER = PasswordHasher(time_cost=2, memory_cost=19_456, parallelism=1)
#: Compared where nobody is so called, so that an unknown name takes as long as a wrong password.
_NOBODY = _HASHER.hash(secrets.token_hex(16))

#: Everything that is kept of the people, without what belongs to one store.
_WHOLE = select(*(column for column in schema.people.c if column.name != "id")).order_by(schema.people.c.name)

LEAST_PASSWORD = 10
MOST_PASSWORD = 200
PIN_DIGITS = (4, 12)
#: How long somebody stays signed in: since signing in, and since last seen.
LONGEST = timedelta(days=30)
IDLE = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who may sign in; `active` is False of one who has left, whose name stays on what he did."""

    id: int
    name: str
    role: Role
    active: bool
    has_pin: bool

    def may(self, role: Role) -> bool:
        """Whether this person's role holds another."""
        return self.active and ROLES.index(self.role) >= ROLES.index(role)


def add_person(engine: Engine, name: str, role: str, password: str) -> Person:
    """Let somebody sign in.

    Raises
    ------
    ScrieveError
        The name is taken or unfit, the role unknown, or the password too short.
    """
    called = " ".join(name.split())
    if not called or len(called) > 60 or not called.isprintable():
        raise ScrieveError(f"name {name!r}: give a name of 1 to 60 letters.")
    row = {"name": called, "role": _role(role), "password": hashed(password), "pin": "", "active": True}
    with writing(engine) as (db, _):
        table = schema.people
        if db.execute(select(table.c.id).where(func.lower(table.c.name) == called.lower())).first():
            raise ScrieveError(f"somebody is called {called!r} already; choose another name, or give a new password.")
        number = int(db.execute(insert(table).values(row).returning(table.c.id)).scalar_one())
    return Person(number, called, row["role"], True, False)  # type: ignore[arg-type]


def change_person(
    engine: Engine,
    name: str,
    *,
    role: str | None = None,
    password: str | None = None,
    pin: str | None = None,
    active: bool | None = None,
    seen: str | None = None,
) -> None:
    """Change what is given of a person; a new password, role or leave ends every sitting of theirs.

    Parameters
    ----------
    seen : str, optional
        The role that whoever changes it has seen.

    Raises
    ------
    ScrieveError
        Nobody is so called, a value is unfit, no keeper would be left, or the role has become another than was seen.
    """
    values: dict[str, object] = {}
    if role is not None:
        values["role"] = _role(role)
    if password is not None:
        values["password"] = hashed(password)
    if pin is not None:
        low, high = PIN_DIGITS
        if pin and not (pin.isascii() and pin.isdigit() and low <= len(pin) <= high):
            raise ScrieveError(f"PIN: give {low} to {high} figures.")
        values["pin"] = _HASHER.hash(pin) if pin else ""
    if active is not None:
        values["active"] = active
    with writing(engine) as (db, _):
        table = schema.people
        row = db.execute(select(table.c.id, table.c.role).where(func.lower(table.c.name) == name.lower())).first()
        if row is None:
            raise ScrieveError(f"nobody is called {name!r}; {_listed(db)}.")
        if role is not None and seen is not None and row.role not in (seen, role):
            raise ScrieveError(
                f"{name} was {seen} when this was opened, and somebody has made {row.role} of that since; {role} was "
                "not stored. Look at it as it stands now, and choose again."
            )
        if values:
            db.execute(update(table).where(table.c.id == row.id).values(values))
        if {"role", "password", "active"} & set(values):
            db.execute(delete(schema.sittings).where(schema.sittings.c.person_id == row.id))
        keepers = select(func.count()).select_from(table).where(table.c.role == "keeper", table.c.active)
        if ("role" in values or "active" in values) and not db.execute(keepers).scalar_one():
            raise ScrieveError("the yard would have no keeper; make somebody else keeper first.")


def people(engine: Engine) -> tuple[Person, ...]:
    """Return everybody, those who have left too, by name."""
    with reading(engine, at_once=True) as db:
        rows = db.execute(select(schema.people).order_by(schema.people.c.name)).all()
    return tuple(_person(row) for row in rows)


def carry_people(source: Connection, target: Connection) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Copy people, with their passwords and PINs, into another store; return who came, and who was there already.

    Nobody who is there already is changed. Sittings stay behind: everybody signs in anew.

    Raises
    ------
    BadBoat
        What arrived is not what was sent; the caller's transaction is to be rolled back.
    """
    there = {name.casefold() for name in target.execute(select(schema.people.c.name)).scalars()}
    rows = [dict(row) for row in source.execute(_WHOLE).mappings()]
    new = [row for row in rows if row["name"].casefold() not in there]
    if new:
        target.execute(insert(schema.people), new)
    arrived = [dict(row) for row in target.execute(_WHOLE).mappings()]
    if any(row not in arrived for row in new):
        raise BadBoat("the people that arrived are not those that were sent; nothing was kept of it.")
    came = tuple(row["name"] for row in new)
    return came, tuple(row["name"] for row in rows if row not in new)


def known(engine: Engine, name: str, password: str) -> Person | None:
    """Return the person of that name and password; None where there is none. Takes as long either way."""
    with reading(engine, at_once=True) as db:
        table = schema.people
        row = db.execute(select(table).where(func.lower(table.c.name) == " ".join(name.split()).lower())).first()
    right = _matches(row.password if row else _NOBODY, password[:MOST_PASSWORD])
    return _person(row) if row and right and row.active else None


def signs(engine: Engine, name: str, pin: str) -> bool:
    """Whether that is the PIN with which this person signs."""
    with reading(engine, at_once=True) as db:
        table = schema.people
        row = db.execute(select(table.c.pin, table.c.active).where(table.c.name == name)).first()
    return bool(row and row.active and row.pin and _matches(row.pin, pin[: PIN_DIGITS[1]]))


def sit_down(engine: Engine, person: Person, device: str = "") -> str:
    """Begin a sitting; return its token, of which the store keeps only the digest."""
    token = secrets.token_urlsafe(32)
    now = datetime.now(UTC)
    row = {
        "person_id": person.id,
        "digest": _digest(token),
        "begun": _at(now),
        "seen": _at(now),
        "device": device[:120],
    }
    with writing(engine) as (db, _):
        table = schema.sittings
        db.execute(delete(table).where((table.c.begun < _at(now - LONGEST)) | (table.c.seen < _at(now - IDLE))))
        db.execute(insert(table).values(row))
    return token


def sitting(engine: Engine, token: str) -> Person | None:
    """Return who sits behind a token; None where it is unknown, ended or too old."""
    now = datetime.now(UTC)
    with reading(engine, at_once=True) as db:
        seat, table = schema.sittings.c, schema.people
        query = select(table, seat.begun, seat.seen).join_from(schema.sittings, table, seat.person_id == table.c.id)
        row = db.execute(query.where(seat.digest == _digest(token))).first()
    if row is None or not row.active or row.begun < _at(now - LONGEST) or row.seen < _at(now - IDLE):
        return None
    if row.seen < _at(now - timedelta(hours=1)):  # not at every request
        with writing(engine) as (db, _):
            db.execute(update(schema.sittings).where(seat.digest == _digest(token)).values(seen=_at(now)))
    return _person(row)


def get_up(engine: Engine, token: str) -> None:
    """End a sitting."""
    with writing(engine) as (db, _):
        db.execute(delete(schema.sittings).where(schema.sittings.c.digest == _digest(token)))


def signing_key(engine: Engine) -> bytes:
    """Return the store's own key, with which cookies are signed; made the first time."""
    with reading(engine, at_once=True) as db:
        found = db.execute(select(schema.keys.c.key).where(schema.keys.c.name == "cookies")).scalar()
    if found is None:
        with writing(engine) as (db, _):
            found = db.execute(select(schema.keys.c.key).where(schema.keys.c.name == "cookies")).scalar()
            if found is None:
                found = secrets.token_hex(32)
                db.execute(insert(schema.keys).values(name="cookies", key=found))
    return bytes.fromhex(found)


def hashed(password: str) -> str:
    """Return the hash of a password.

    Raises
    ------
    ScrieveError
        It is too short, too long, or one sign over and over.
    """
    if not LEAST_PASSWORD <= len(password) <= MOST_PASSWORD:
        raise ScrieveError(f"password: give {LEAST_PASSWORD} to {MOST_PASSWORD} signs; three words do well.")
    if len(set(password)) < 4:
        raise ScrieveError("password: too plain; three words do well.")
    return _HASHER.hash(password)


def _matches(kept: str, given: str) -> bool:
    try:
        return _HASHER.verify(kept, given)
    except (VerificationError, InvalidHashError):
        return False


def _role(given: str) -> Role:
    found = next((role for role in ROLES if role == given), None)
    if found is None:
        raise ScrieveError(f"role {given!r}: one of {', '.join(ROLES)}.")
    return found


def _person(row: Row[Any]) -> Person:
    return Person(row.id, row.name, row.role, bool(row.active), bool(row.pin))


def _listed(db: Connection) -> str:
    names = [row.name for row in db.execute(select(schema.people.c.name))]
    return f"there are {', '.join(names)}" if names else "there is nobody yet"


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _at(when: datetime) -> str:
    return when.isoformat(timespec="seconds")
