"""Photographs of a boat, each known by the SHA-256 of its bytes: kept once, never changed."""

from __future__ import annotations

import base64
import hashlib

from sqlalchemy import Engine, insert, select

from scrieve.errors import ScrieveError
from scrieve.store import schema
from scrieve.store.connect import reading, the_boat, writing


def keep_photograph(engine: Engine, jpeg: bytes) -> str:
    """Keep a photograph; return its SHA-256. The same again is kept once.

    Raises
    ------
    BadBoat
        The store cannot be written.
    """
    digest = hashlib.sha256(jpeg).hexdigest()
    table = schema.photographs
    with writing(engine) as (db, boat_id):
        there = select(table.c.id).where(table.c.boat_id == boat_id, table.c.digest == digest)
        if db.execute(there).first() is None:
            content = base64.b64encode(jpeg).decode()
            db.execute(insert(table).values(boat_id=boat_id, digest=digest, content=content))
    return digest


def photograph(engine: Engine, digest: str) -> bytes:
    """Return a photograph.

    Raises
    ------
    ScrieveError
        There is none of that digest, or its bytes are no longer what was kept.
    """
    table = schema.photographs.c
    with reading(engine, at_once=True) as db:
        query = select(table.content).where(table.boat_id == the_boat(db), table.digest == digest)
        content = db.execute(query).scalar()
    if content is None:
        raise ScrieveError(f"there is no photograph {digest[:12]}… in this boat.")
    jpeg = base64.b64decode(content)
    if hashlib.sha256(jpeg).hexdigest() != digest:
        raise ScrieveError(
            f"photograph {digest[:12]}…: its bytes are not those that were kept; open a copy of the boat."
        )
    return jpeg
