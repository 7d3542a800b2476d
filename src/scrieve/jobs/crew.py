"""The crew of a store: its workers, taken on with the first job and sent home when there is nothing to do.

A worker is a process of its own (`scrieve serve`), a thread of this one (tests, and pages served otherwise), or a
thread that has the computation done on a yard's cluster. If a worker dies, its job is taken up again; if this process
dies, its workers go with it, and their jobs are taken up by the next.
"""

from __future__ import annotations

import contextlib
import logging
import multiprocessing
import os
import secrets
import signal
import socket
from collections.abc import Iterator
from itertools import count
from multiprocessing.connection import wait
from multiprocessing.process import BaseProcess
from threading import Event, Lock, Thread
from typing import Any, Protocol

from sqlalchemy import Engine

from scrieve.jobs.board import give_back, under_way
from scrieve.jobs.doing import Do, work_on
from scrieve.jobs.kinds import do_work
from scrieve.store import Place
from scrieve.store.connect import on_server
from scrieve.store.file import open_store

log = logging.getLogger("scrieve.jobs")
#: How often the foreman looks after workers and jobs [s].
_ROUND_S = 1.0
#: How long a worker stays without a job [s]: a process is dear to start, a thread is not.
_STAY_S = {"process": 300.0, "thread": 1.0}
#: How long a worker has for going home by itself [s].
_HOME_S = 3.0
_spawn = multiprocessing.get_context("spawn")


class Helm(Protocol):
    """Has computations done elsewhere."""

    def do(self, name: str, given: Any, tick: Any) -> Any:
        """Do one; as `do_work`."""

    def most(self) -> int:
        """How many at once."""

    def close(self) -> None:
        """Take leave."""


class Crew:
    """The workers that this process keeps for one store.

    Parameters
    ----------
    engine : Engine
        Of the store, or of a boat in it.
    processes : bool
        Whether workers are processes of their own; else they are threads.
    helm : Helm, optional
        A cluster; workers are then threads that have the work done there.
    """

    def __init__(self, engine: Engine, *, processes: bool = False, helm: Helm | None = None) -> None:
        self.engine, self.processes, self.helm = engine, processes, helm
        self.workers: list[BaseProcess | Thread] = []
        self._home = Event()
        self._far_home: Any = None  # made with the first process, for it is itself one more
        self._lock, self._woken = Lock(), Event()
        self._foreman: Thread | None = None
        self._name, self._count = f"{socket.gethostname()} {os.getpid()} {secrets.token_hex(3)}", count(1)

    @property
    def most(self) -> int:
        """How many workers there may be: one per core but one, and at least one."""
        if self.helm is not None:
            return max(self.helm.most(), 1)
        cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
        return max(cores - 1, 1 if self.processes else 2)

    def wake(self) -> None:
        """See to it that there are workers for the jobs that wait."""
        with self._lock:
            self._woken.set()
            if self._foreman is None and not self._home.is_set():
                self._foreman = Thread(target=self._lead, daemon=True, name="foreman")
                self._foreman.start()

    def close(self) -> None:
        """Send all workers home; what they were at waits for the next crew."""
        self._home.set()
        if self._far_home is not None:
            self._far_home.set()
        self._woken.set()
        if self._foreman is not None:
            self._foreman.join()
        for worker in self.workers:
            worker.join(_HOME_S)
            if isinstance(worker, BaseProcess) and worker.is_alive():
                worker.kill()
                worker.join()
            give_back(self.engine, worker.name, died=False)
        self.workers.clear()

    def _lead(self) -> None:
        while not self._home.is_set():
            self._woken.clear()
            try:
                if self._round():
                    with self._lock:
                        if not self._woken.is_set():
                            self._foreman = None
                            return
            except Exception:  # the store may be away for a while
                log.exception("the workers cannot be looked after")
            self._woken.wait(_ROUND_S)

    def _round(self) -> bool:
        """Look after workers and jobs once; tell whether there is nothing to do any more."""
        for worker in [one for one in self.workers if not one.is_alive()]:
            self.workers.remove(worker)
            if isinstance(worker, BaseProcess) and worker.exitcode:
                log.warning("worker %s died (%s); its job is taken up again", worker.name, worker.exitcode)
            give_back(self.engine, worker.name)
        jobs = sum(under_way(self.engine))
        while len(self.workers) < min(jobs, self.most):
            self.workers.append(self._hire())
        return not jobs and not self.workers

    def _hire(self) -> BaseProcess | Thread:
        name = f"{self._name} {next(self._count)}"
        worker: BaseProcess | Thread
        if self.processes:
            self._far_home = self._far_home or _spawn.Event()
            worker = _spawn.Process(
                target=_work, args=(place_of(self.engine), name, self._far_home), daemon=True, name=name
            )
        else:
            do: Do = do_work if self.helm is None else self.helm.do
            worker = Thread(target=work_on, args=(self.engine, name, self._home, do, _STAY_S["thread"]), daemon=True,
                            name=name)  # fmt: skip
        worker.start()
        return worker


def place_of(engine: Engine) -> str:
    """The store of an engine, with its password: not to be shown."""
    if on_server(engine):
        return engine.url.render_as_string(hide_password=False)
    return str(engine.url.database)


def _work(store: str, name: str, home: Any) -> None:
    """Work in a process of its own: behind the pages, until sent home or orphaned."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the server, which sends its workers home
    if hasattr(os, "nice"):
        os.nice(5)
    logging.basicConfig(level=logging.WARNING)
    Thread(target=_until_orphaned, daemon=True, name="until orphaned").start()
    engine = open_store(Place(store))
    try:
        work_on(engine, name, home, idle_s=_STAY_S["process"])
    finally:
        engine.dispose()


def _until_orphaned() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


_crews: dict[str, Crew] = {}
_taking_on = Lock()


def wake(engine: Engine) -> None:
    """See to it that somebody works on the jobs of a store: its crew, or threads of this process if it has none."""
    with _taking_on:
        crew = _crews.get(place_of(engine))
        if crew is None:
            crew = _crews[place_of(engine)] = Crew(engine)
    crew.wake()


@contextlib.contextmanager
def at_work(engine: Engine, helm: Helm | None = None) -> Iterator[Crew]:
    """Have the jobs of a store done by processes of their own, or by a cluster; those that were left are taken up."""
    crew = Crew(engine, processes=helm is None, helm=helm)
    with _taking_on:
        _crews[place_of(engine)] = crew
    try:
        if sum(under_way(engine)):
            crew.wake()
        yield crew
    finally:
        with _taking_on:
            del _crews[place_of(engine)]
        crew.close()
        if helm is not None:
            helm.close()
