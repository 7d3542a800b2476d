"""Doing jobs: one is claimed, done with a sign of life now and then, kept, and ended; then the next."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from threading import Event, Thread
from types import TracebackType
from typing import Any

from sqlalchemy import Engine

from scrieve.errors import ScrieveError
from scrieve.jobs.board import Job, Lost, Watch, claim, end, give_back, hand_in, look, put_back, report
from scrieve.jobs.kinds import Tick, do_work, kind_of

log = logging.getLogger("scrieve.jobs")
#: How often a worker tells how far it is, and hears whether it is to stop [s]; without news, every few beats.
BEAT_S = 0.5
_QUIET_BEATS = 6
#: How often a worker looks for jobs [s].
LOOK_S = 0.5
#: Does the computation named 'module:function'; `do_work`, or another that has it done elsewhere.
Do = Callable[[str, Any, Tick], Any]


class _SentHome(Exception):
    """The worker is to end before its job has."""


class Gone(Exception):
    """Whoever did the computation elsewhere died over it; it can be taken up again."""


class Hand:
    """Holds a job for its worker: tells the store from time to time how far it is, in a thread of its own, so that
    work that says nothing for long is not taken for dead."""

    def __init__(self, engine: Engine, job: Job, home: Event) -> None:
        self.engine, self.job, self.home = engine, job, home
        self.lost, self.stop = False, job.stop
        self._told: tuple[str, float, Any] = (job.at, job.share, job.best)
        self._over = Event()
        self._thread = Thread(target=self._beat, daemon=True, name=f"beats of job {job.number}")

    def __enter__(self) -> Hand:
        self._thread.start()
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _at: TracebackType | None
    ) -> None:
        self._over.set()
        self._thread.join()

    def tick(self, at: str, share: float, best: Any = None) -> bool:
        """Take note of how far the job is; the tick of its computation."""
        if self.lost:
            raise Lost(self.job.key)
        if self.home.is_set():
            raise _SentHome
        self._told = at, share, best
        return not self.stop

    def _beat(self) -> None:
        said, quiet = self._told, 0
        while not self._over.wait(BEAT_S):
            now, quiet = self._told, quiet + 1
            if now is said and quiet < _QUIET_BEATS and not self.stop:
                self._hear()
                continue
            try:
                self.stop = report(self.engine, self.job, *now)
                said, quiet = now, 0
            except Lost:
                self.lost = True
                return
            except Exception:
                log.exception("job %s cannot tell how far it is; it goes on", self.job.number)

    def _hear(self) -> None:
        try:
            found = look(self.engine, self.job.number)
        except Exception:
            log.exception("job %s cannot hear whether it is to stop; it goes on", self.job.number)
            return
        self.lost = found is None or (found.worker, found.tries) != (self.job.worker, self.job.tries)
        self.stop = bool(found and found.stop)


def do(engine: Engine, job: Job, home: Event, work: Do = do_work) -> None:
    """Do a job that was claimed, keep its result with the boat, and end it.

    A result that a worker before this one has handed in is not worked out again. What fails is told in the job.
    """
    boat = engine.execution_options(boat=job.boat)
    try:
        with Hand(engine, job, home) as hand:
            kind = kind_of(job.kind)
            result = job.result
            if result is None:
                result = work(kind.work, kind.gather(boat, job.what), hand.tick)
                hand_in(engine, job, result)
            kind.keep(boat, job.what, result, job.key, job.who)
            end(engine, job, "stopped" if hand.stop else "done")
    except Lost:
        log.warning("job %s was taken up by another worker meanwhile; what %s found is dropped", job.number, job.worker)
    except _SentHome:
        put_back(engine, job)
    except Gone as gone:
        log.warning("job %s is to be taken up again: %s", job.number, gone)
        give_back(engine, job.worker)
    except ScrieveError as error:
        _failed(engine, job, str(error))
    except Exception:
        log.exception("job %s (%s) failed", job.number, job.kind)
        _failed(engine, job, "this could not be worked out: a fault of this program, told in its log. "
                "What is stored is safe.")  # fmt: skip


def _failed(engine: Engine, job: Job, said: str) -> None:
    try:
        end(engine, job, "failed", said)
    except Lost:
        log.warning("job %s failed at %s, and was taken up by another meanwhile", job.number, job.worker)


def work_on(engine: Engine, worker: str, home: Event, work: Do = do_work, idle_s: float = 300.0,
            watch: Watch | None = None) -> None:  # fmt: skip
    """Do jobs of a store, of all its boats, one after another, until sent home or for a while without any.

    Parameters
    ----------
    engine : Engine
        Of the store.
    worker : str
        A name that no other worker has.
    home : Event
        Sends it home.
    idle_s : float
        It goes home by itself after so long without a job [s].
    """
    eyes = watch or Watch()
    since = time.monotonic()
    while not home.is_set():
        try:
            job = claim(engine, worker, eyes)
            if job is not None:
                do(engine, job, home, work)
                since = time.monotonic()
                continue
        except Exception:  # the store may be away for a while
            log.exception("%s cannot reach the store", worker)
        if time.monotonic() - since >= idle_s:
            return
        home.wait(LOOK_S)
