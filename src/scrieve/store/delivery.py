"""Sent twice, stored once: a delivery with a key is answered the second time as it was the first."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from typing import Any, TypeVar

from sqlalchemy import Connection, insert, select

from scrieve.errors import BadBoat
from scrieve.store.schema import deliveries

T = TypeVar("T")


def once(db: Connection, boat_id: int, key: str | None, what: str, content: Any, do: Callable[[], T]) -> T:
    """Do what was asked, unless it was delivered under `key` before; return the answer, then or now.

    Raises
    ------
    BadBoat
        The key was used for something else; nothing is stored.
    """
    if key is None:
        return do()
    digest = hashlib.sha256(plain_json(content).encode()).hexdigest()
    table = deliveries.c
    seen = db.execute(
        select(table.what, table.digest, table.answer).where(table.boat_id == boat_id, table.key == key)
    ).first()
    if seen is None:
        answer = do()
        row = {"boat_id": boat_id, "key": key, "what": what, "digest": digest, "answer": answer}
        db.execute(insert(deliveries).values(row))
        return answer
    if (seen.what, seen.digest) != (what, digest):
        raise BadBoat(f"the key {key!r} was used before for other content ({seen.what}); send this under a new key.")
    stored: T = seen.answer
    return stored


def plain_json(content: Any) -> str:
    """Return `content` as JSON, its keys in order.

    Raises
    ------
    BadBoat
        A number in it is not finite, or a text holds a broken character.
    TypeError
        It holds something that JSON has no form for.
    """
    try:
        text = json.dumps(content, sort_keys=True, allow_nan=False, ensure_ascii=False)
        text.encode()
    except ValueError as error:
        raise BadBoat(f"cannot be stored ({error}); give finite numbers and whole characters.") from error
    return text
