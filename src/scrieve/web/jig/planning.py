"""The order of a set of frames, worked out as a job, with progress, and stopped when asked."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cached_property

from sqlalchemy import Engine

from scrieve import jobs
from scrieve.errors import BadJig
from scrieve.frames.jig.bed import JigBed
from scrieve.frames.jig.setting import JigSetting
from scrieve.frames.jig.setting_kept import PlanKept
from scrieve.jobs import jig_order
from scrieve.web.people.who import who

_LANE = "jig order"


class Job(jobs.Watched):
    """One set of frames being planned; `kept` or `error` once it is `done`."""

    @property
    def frames(self) -> tuple[str, ...]:
        """Their labels, as numbered."""
        return tuple(self.given["frames"])

    @property
    def what(self) -> str:
        """What it is at."""
        return self.at

    @property
    def share(self) -> float:
        """How much of it is done."""
        return self.job.share

    @property
    def best_min(self) -> float:
        """Minutes of the best order so far; NaN before there is one."""
        return math.nan if self.so_far is None else float(self.so_far)

    @cached_property
    def kept(self) -> PlanKept | None:
        """The order found, as it is kept."""
        return None if self.result is None else PlanKept.from_mapping(self.result)


class Planning:
    """The one job of a boat. Safe to be asked by several requests at once."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine

    @property
    def job(self) -> Job | None:
        """The job begun last, done or not."""
        found = jobs.latest(self.engine, _LANE)
        return None if found is None else Job(self.engine, found)

    def start(
        self,
        frames: Mapping[str, str],
        bed: JigBed,
        present: JigSetting | None,
        after: Mapping[str, tuple[str, ...]],
        keep_order: bool,
    ) -> Job:
        """Begin a job; the one before it must be done.

        Parameters
        ----------
        frames : mapping
            Label -> revision of the frame's design.

        Raises
        ------
        BadJig
            One is still under way, or there are no frames.
        """
        if not frames:
            raise BadJig("no frames to plan; design the frames that are to be made, or leave fewer out.")
        before = self.job
        if before is not None and before.running:
            raise BadJig("an order is still being worked out; stop it first, or wait for it.")
        what = jig_order.asked(frames, bed, present, after, keep_order)
        return Job(self.engine, jobs.begin(self.engine, "order of the jig", _LANE, what, who()))
