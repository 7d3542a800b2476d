"""Sent twice, stored once: a delivery with a key is answered the second time as it was the first."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Callable, Iterator
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any, TypeVar

from sqlalchemy import Connection, insert, select

from scrieve.errors import BadBoat, StoreAway
from scrieve.store.schema import deliveries

T = TypeVar("T")


@dataclass
class Delivery:
    """What arrived under one key, however many things are stored of it, and the acts that were made of it.

    Without a key nothing is known again. A `strict` key must come with the same content each time; of any other, the
    content that was sent is part already. `called`: what its sender calls it by. `away`: why the store could not be had
    for it, where it could not.
    """

    key: str
    strict: bool = False
    called: str = ""
    stored: int = 0
    acts: list[int] = field(default_factory=list)
    away: StoreAway | None = None


_DELIVERY: ContextVar[Delivery | None] = ContextVar("delivery", default=None)


@contextlib.contextmanager
def delivered(key: str, *, strict: bool = False, called: str = "") -> Iterator[Delivery]:
    """Whatever is stored within, without a key of its own, belongs to one delivery: sent again, it is stored once."""
    delivery = Delivery(key, strict, called)
    token = _DELIVERY.set(delivery)
    try:
        yield delivery
    finally:
        _DELIVERY.reset(token)


def made(act: int) -> None:
    """Take note of an act, for the delivery that it belongs to."""
    if delivery := _DELIVERY.get():
        delivery.acts.append(act)


def kept_out(error: StoreAway) -> None:
    """Take note that the store could not be had, for the delivery that it belongs to."""
    if delivery := _DELIVERY.get():
        delivery.away = error


def own_acts() -> tuple[int, ...]:
    """Return the acts made of the delivery now at work."""
    delivery = _DELIVERY.get()
    return tuple(delivery.acts) if delivery else ()


def once(db: Connection, boat_id: int, key: str | None, what: str, content: Any, do: Callable[[], T]) -> T:
    """Do what was asked, unless it was delivered under `key` before; return the answer, then or now.

    Without a key, that of the delivery at work counts (`delivered`), with the place of this in it.

    Raises
    ------
    BadBoat
        The key was used for something else; nothing is stored.
    """
    delivery, called, same = _DELIVERY.get(), key, True
    if key is None and delivery is not None:
        delivery.stored += 1
        # what is computed of the same delivery may differ once it has been stored
        key, same = (f"{delivery.key}/{delivery.stored}" if delivery.key else None), delivery.strict
        called = delivery.called or delivery.key
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
    if seen.what != what or (same and seen.digest != digest):
        raise BadBoat(
            f"the key {called!r} was used before for other content ({seen.what}), which is stored; this is not. Look "
            "at what is stored, and send what is new under a new key."
        )
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
    if r"\u0000" in text and r"\u0000" in text.replace(r"\\", ""):
        raise BadBoat("cannot be stored (a text holds the character 0); give finite numbers and whole characters.")
    return text
