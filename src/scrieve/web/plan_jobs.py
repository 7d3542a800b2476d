"""A plan being sought, or several side by side, in a thread of their own: how far, stop, and the result kept."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime
from threading import Event, Lock, Thread
from typing import Literal

from sqlalchemy import Engine

from scrieve.errors import ScrieveError
from scrieve.web.plan_work import FrameOf, Stand, keep_plan, setups
from scrieve.web.who import who
from scrieve.workplan.members import Job as Work
from scrieve.workplan.plan import Plan
from scrieve.workplan.search import Progress
from scrieve.workplan.solve import make_plan
from scrieve.workplan.whatif import Change, Outcome, compare

log = logging.getLogger("scrieve.web")
What = Literal["plan", "what-if"]


@dataclass
class Job:
    """One search under way. `best` and `bound` in days of the shop, or people; `plan` or `outcomes` once it is done."""

    what: What
    seconds: float
    begun: datetime
    at: str = "gathering what is to be done"
    best: float | None = None
    bound: float | None = None
    plan: Plan | None = None
    outcomes: tuple[Outcome, ...] = ()
    error: ScrieveError | None = None
    stop: Event = field(default_factory=Event)
    done: Event = field(default_factory=Event)

    @property
    def running(self) -> bool:
        """Whether it is under way."""
        return not self.done.is_set()

    @property
    def gap(self) -> float | None:
        """How much better it could at most be, as a share; None before that is known."""
        if not self.best or self.bound is None:
            return None
        return max(self.best - self.bound, 0.0) / self.best

    def tell(self, at: str) -> bool:
        """Note what is being done; False once it is to stop."""
        self.at = at
        return not self.stop.is_set()

    def tick(self, now: Progress) -> bool:
        """Note how the search stands; False once it is to stop."""
        self.at = now.what
        self.best = self.best if now.best is None else now.best
        self.bound = self.bound if now.bound is None else max(now.bound, 0.0)
        return not self.stop.is_set()


class Plans:
    """The searches of each boat file, one of each sort at a time. Safe to be asked by several requests at once."""

    def __init__(self) -> None:
        self._jobs: dict[tuple[str, What], Job] = {}
        self._lock = Lock()

    def latest(self, path: str, what: What) -> Job | None:
        """The search begun last, done or not."""
        return self._jobs.get((path, what))

    def begin(self, path: str, job: Job, work: Callable[[Job], None]) -> Job:
        """Begin a search unless one of its sort is under way; return that which is."""
        with self._lock:
            before = self._jobs.get((path, job.what))
            if before is not None and before.running:
                return before
            self._jobs[path, job.what] = job
            Thread(target=_guarded, args=(job, work), daemon=True, name=job.what).start()
            return job


PLANS = Plans()


def _guarded(job: Job, work: Callable[[Job], None]) -> None:
    try:
        work(job)
    except ScrieveError as error:
        job.error = error
    except Exception:
        log.exception("planning the work failed")
        job.error = ScrieveError("the work could not be planned: a fault of this program, told in its log.")
    finally:
        job.done.set()


def _with_setups(job: Job, engine: Engine, found: Stand, frame: FrameOf, units: str) -> Work:
    times = setups(engine, found, frame, units, job.tell)
    return replace(found.job, setups=times)


def plan_now(path: str, engine: Engine, found: Stand, frame: FrameOf, units: str, now: datetime, seconds: float,
             before: Plan | None) -> Job:  # fmt: skip
    """Seek a plan from `now` on, and keep it; `before` is the plan from which little is to be moved."""

    def work(job: Job) -> None:
        whole = _with_setups(job, engine, found, frame, units)
        job.plan = make_plan(found.yard, whole, now, before=before, seconds=seconds, tick=job.tick,
                             made_from=found.made_from)  # fmt: skip
        keep_plan(engine, job.plan, who=who())

    return PLANS.begin(path, Job("plan", seconds, now), work)


def compare_now(path: str, engine: Engine, found: Stand, frame: FrameOf, units: str, now: datetime, seconds: float,
                changes: tuple[Change, ...]) -> Job:  # fmt: skip
    """Plan the work under each change, side by side."""

    def work(job: Job) -> None:
        whole = _with_setups(job, engine, found, frame, units)

        def told(n: int, name: str) -> None:
            job.best = job.bound = None
            job.tell(f"{n + 1} of {len(changes)}: {name}")

        def tick(now_at: Progress) -> bool:
            return job.tick(replace(now_at, what=job.at))

        job.outcomes = compare(changes, whole, now, seconds=seconds, tick=tick, told=told)

    return PLANS.begin(path, Job("what-if", seconds * len(changes), now), work)
