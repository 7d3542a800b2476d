"""What is stored of a boat, for the commands that compute; apart from `common`, so that the others start quickly."""

from __future__ import annotations

from sqlalchemy import Engine

from scrieve import store
from scrieve.chain import Kept
from scrieve.frames.released import learnt_springs


def kept(engine: Engine) -> Kept:
    """All that is stored of the boat."""
    return Kept(
        store.boat(engine),
        store.marks(engine, standing=True),
        store.answers(engine),
        store.frames(engine),
        store.planks(engine),
        learnt_springs(record.detail for record in store.records(engine, "release")),
    )
