"""Frames designed within a job: the boat as it is stored is what the job is given, the hull is faired where it runs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from sqlalchemy import Engine

from scrieve.chain import Kept
from scrieve.errors import ScrieveError
from scrieve.frames.design import FrameDesign
from scrieve.jobs.kinds import Tick
from scrieve.jobs.plain import plain
from scrieve.store.kept import kept

#: A frame's design and its revision, by its label.
Design = Callable[[str], tuple[FrameDesign, str]]


class Stopped(ScrieveError):
    """It was stopped while the hull was being faired."""


def boat_as_stored(engine: Engine) -> Any:
    """Return all that frames are designed from, as JSON."""
    return plain(kept(engine))


def designing(work: Kept, tick: Tick) -> Design:
    """Return what designs the frames of a boat; raises `Stopped` where the job is stopped before the hull is fair."""

    def faired(what: str, share: float) -> None:
        if not tick(f"the hull: {what}", 0.1 * share, None):
            raise Stopped("stopped before the frames were designed; nothing was worked out.")

    return lambda label: (work.frame(label, faired), work.frame_revision(label))
