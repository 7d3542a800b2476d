"""The order of a set of frames, worked out in a thread of its own, with progress, and stopped when asked."""

from __future__ import annotations

import logging
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from threading import Event, Lock, Thread

from scrieve.errors import BadJig, ScrieveError
from scrieve.frames.bed import JigBed
from scrieve.frames.design import FrameDesign
from scrieve.frames.packet_designed import bent_of
from scrieve.frames.poses import FrameToSet, Plan, plan_settings
from scrieve.frames.setting import JigSetting
from scrieve.frames.setting_kept import PlanKept

log = logging.getLogger("scrieve.web")

#: A frame's design and its revision, by its label.
Design = Callable[[str], tuple[FrameDesign, str]]


@dataclass
class Job:
    """One set of frames being planned; `plan` or `error` once it is `done`."""

    frames: tuple[str, ...]
    what: str = "designing the frames"
    share: float = 0.0
    best_min: float = math.nan
    plan: Plan | None = None
    kept: PlanKept | None = None
    error: ScrieveError | None = None
    stop: Event = field(default_factory=Event)
    done: Event = field(default_factory=Event)


class Planning:
    """The one job of a boat. Safe to be asked by several requests at once."""

    def __init__(self) -> None:
        self.job: Job | None = None
        self._lock = Lock()

    def start(
        self,
        labels: Sequence[str],
        design: Design,
        bed: JigBed,
        present: JigSetting | None,
        after: dict[str, tuple[str, ...]],
        keep_order: bool,
    ) -> Job:
        """Begin a job; the one before it must be done.

        Raises
        ------
        BadJig
            One is still under way, or there are no frames.
        """
        if not labels:
            raise BadJig("no frames to plan; design the frames that are to be made, or leave fewer out.")
        with self._lock:
            if self.job is not None and not self.job.done.is_set():
                raise BadJig("an order is still being worked out; stop it first, or wait for it.")
            self.job = job = Job(tuple(labels))
        Thread(target=_work, args=(job, design, bed, present, after, keep_order), daemon=True, name="order").start()
        return job


def _work(
    job: Job,
    design: Design,
    bed: JigBed,
    present: JigSetting | None,
    after: dict[str, tuple[str, ...]],
    keep_order: bool,
) -> None:
    def progress(done: int, total: int, best: float) -> None:
        job.what, job.share, job.best_min = "trying poses and orders", 0.2 + 0.8 * done / max(total, 1), best

    try:
        frames, revisions = [], {}
        for n, label in enumerate(job.frames):
            if job.stop.is_set():
                raise BadJig("stopped before the frames were designed; nothing was worked out.")
            found, revisions[label] = design(label)
            frames.append(FrameToSet(bent_of(found), found.choice, after=after.get(label, ())))
            job.share = 0.2 * (n + 1) / len(job.frames)
        plan = plan_settings(frames, bed, present, keep_order=keep_order, progress=progress, stop=job.stop.is_set)
        job.kept, job.plan = PlanKept.of(plan, revisions), plan
    except ScrieveError as error:
        job.error = error
    except Exception:
        log.exception("the order could not be worked out")
        job.error = ScrieveError(
            "the order could not be worked out: a fault of this program, told in its log. What is stored is safe."
        )
    finally:
        job.done.set()
