"""A job as a page watches it: how far, the wish to stop, the end."""

from __future__ import annotations

import time
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from sqlalchemy import Engine

from scrieve.errors import ScrieveError
from scrieve.jobs.board import Job, look, wish_stop
from scrieve.jobs.plain import read

#: How often one who waits looks again [s].
_LOOK_S = 0.1


@dataclass(frozen=True)
class StopWish:
    """The wish that a job stop with the best so far."""

    engine: Engine
    job: Job

    def set(self) -> None:
        """Wish it."""
        wish_stop(self.engine, self.job.number)


@dataclass(frozen=True)
class End:
    """The end of a job."""

    engine: Engine
    job: Job

    def is_set(self) -> bool:
        """Whether it had ended when it was looked at."""
        return self.job.ended

    def __bool__(self) -> bool:
        return self.is_set()

    def wait(self, seconds: float) -> bool:
        """Wait for the end; tell whether it came."""
        until = time.monotonic() + seconds
        while True:
            now = look(self.engine, self.job.number)
            if now is None or now.ended:
                return True
            if time.monotonic() >= until:
                return False
            time.sleep(_LOOK_S)


class Watched:
    """One job as it stood when it was looked at."""

    def __init__(self, engine: Engine, job: Job) -> None:
        self.engine, self.job = engine, job
        self.stop, self.done = StopWish(engine, job), End(engine, job)

    @property
    def running(self) -> bool:
        """Whether it is under way, or waits for its turn."""
        return not self.job.ended

    @property
    def at(self) -> str:
        """What it is at."""
        if self.job.state == "waiting":
            return "waiting for its turn" if not self.job.tries else "taken up again"
        return self.job.at or "beginning"

    @property
    def error(self) -> ScrieveError | None:
        """Why it failed."""
        return ScrieveError(self.job.said) if self.job.state == "failed" else None

    @cached_property
    def given(self) -> Any:
        """What it was given."""
        return read(self.job.what)

    @cached_property
    def so_far(self) -> Any:
        """The best so far; None before there is any."""
        return read(self.job.best)

    @cached_property
    def result(self) -> Any:
        """What came of it; None before its end, and where nothing did."""
        return read(self.job.result) if self.job.ended else None
