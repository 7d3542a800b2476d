"""What is stored of a boat, as the chain of computation takes it; apart from the rest of the store, so that commands
that compute nothing start quickly.
"""

from __future__ import annotations

from sqlalchemy import Engine

from scrieve.chain import Kept
from scrieve.frames.release.kept import learnt_springs
from scrieve.store.keeping import answers, boat, frames, marks, planks
from scrieve.store.recording import records


def kept(engine: Engine) -> Kept:
    """Return all that the hull, the frames and the planks are computed from."""
    return Kept(
        boat(engine),
        marks(engine, standing=True),
        answers(engine),
        frames(engine),
        planks(engine),
        learnt(engine),
    )


def learnt(engine: Engine) -> dict[tuple[str, str], tuple[float, float]]:
    """Return what the frames measured off the jig have taught of springback."""
    return learnt_springs(record.detail for record in records(engine, "release"))
