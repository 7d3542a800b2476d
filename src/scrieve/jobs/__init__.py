"""Long computations, off the request path: asked for, done by workers, stopped, and not lost with any process."""

from sqlalchemy import Engine as _Engine

from scrieve.jobs.board import Job, look, wish_stop
from scrieve.jobs.board import ask as _ask
from scrieve.jobs.board import latest as _latest
from scrieve.jobs.crew import at_work, wake
from scrieve.jobs.plain import plain, read
from scrieve.jobs.watched import Watched

__all__ = ["Job", "Watched", "at_work", "begin", "latest", "look", "plain", "read", "wish_stop"]


def begin(engine: _Engine, kind: str, lane: str, what: dict[str, object], who: str = "builder") -> Job:
    """Ask for a computation and see to it that somebody does it; return the one of its lane that is under way.

    Parameters
    ----------
    engine : Engine
        Of the boat.
    kind : str
        One of `scrieve.jobs.kinds.KINDS`.
    lane : str
        Of one lane only one job at a time is under way.
    what : mapping
        What it is given, as JSON (`plain`).
    """
    job = _ask(engine, kind, lane, what, who)
    wake(engine)
    return job


def latest(engine: _Engine, lane: str) -> Job | None:
    """Return the job of a lane that was asked for last; if it is under way, somebody does it."""
    job = _latest(engine, lane)
    if job is not None and not job.ended:
        wake(engine)
    return job
