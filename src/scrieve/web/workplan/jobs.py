"""A plan being sought, or several side by side, as jobs: how far, stop, and the result kept."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from sqlalchemy import Engine

from scrieve import jobs
from scrieve.jobs import what_if, work_plan
from scrieve.web.people.who import who
from scrieve.web.workplan.work import Stand
from scrieve.workplan.plan import Plan
from scrieve.workplan.whatif import Change, Outcome

#: The lanes of these jobs: one search of each sort at a time.
What = Literal["plan", "what-if"]


class Job(jobs.Watched):
    """One search. `best` and `bound` in days of the shop, or people; `outcomes` once changes have been compared."""

    @property
    def seconds(self) -> float:
        """How long it may search in all."""
        each = float(self.given["seconds"])
        return each * len(self.given["changes"]) if "changes" in self.given else each

    @property
    def best(self) -> float | None:
        """The best so far."""
        found: float | None = (self.so_far or {}).get("best")
        return found

    @property
    def bound(self) -> float | None:
        """The least proved possible."""
        found: float | None = (self.so_far or {}).get("bound")
        return None if found is None else max(found, 0.0)

    @property
    def gap(self) -> float | None:
        """How much better it could at most be, as a share; None before that is known."""
        if not self.best or self.bound is None:
            return None
        return max(self.best - self.bound, 0.0) / self.best

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """What comes of each change."""
        found: tuple[Outcome, ...] = self.result or () if self.job.lane == "what-if" else ()
        return found


def latest(engine: Engine, what: What) -> Job | None:
    """The search begun last, done or not."""
    found = jobs.latest(engine, what)
    return None if found is None else Job(engine, found)


def plan_now(engine: Engine, found: Stand, now: datetime, seconds: float, before: Plan | None) -> Job:
    """Seek a plan from `now` on, and keep it; `before` is the plan from which little is to be moved."""
    what = work_plan.asked(found.yard, found.job, now, seconds, before, found.made_from)
    return Job(engine, jobs.begin(engine, "plan of the work", "plan", what, who()))


def compare_now(engine: Engine, found: Stand, now: datetime, seconds: float, changes: tuple[Change, ...]) -> Job:
    """Plan the work under each change, side by side."""
    what = what_if.asked(changes, found.job, now, seconds)
    return Job(engine, jobs.begin(engine, "what if", "what-if", what, who()))
