"""The same computations on a yard's cluster (dask.distributed), whose scheduler's address the yard sets.

The server claims and keeps jobs as ever; only the computation itself goes to the cluster, by name and with plain
values, so that its machines need no way to the store. `distributed` comes with the extra `yard`, and is loaded here.
"""

from __future__ import annotations

import contextlib
import logging
import os
import secrets
import time
from collections.abc import Mapping
from threading import Lock
from typing import Any

from scrieve.errors import ScrieveError
from scrieve.jobs.doing import Gone
from scrieve.jobs.kinds import Tick, do_work

log = logging.getLogger("scrieve.jobs")
#: The setting that names the scheduler: 'tcp://…' or 'tls://…'.
SETTING = "SCRIEVE_SCHEDULER"
#: How long the scheduler has to answer at first [s].
_PATIENCE = "10s"
#: How often a computation tells how far it is, and hears whether it is to stop [s].
_TELL_S = 0.5


class Cluster:
    """A cluster of dask.distributed.

    Parameters
    ----------
    address : str
        Of its scheduler.

    Raises
    ------
    ScrieveError
        `distributed` is not installed, or nobody answers there.
    """

    def __init__(self, address: str) -> None:
        try:
            import distributed
        except ImportError:
            raise ScrieveError(
                f"{SETTING} asks for a cluster, and the package 'distributed' is not installed; install it with "
                "pip install 'scrieve[yard]', or unset that setting."
            ) from None
        self.address, self._lock = address, Lock()
        self._distributed: Any = distributed
        self._client = self._connected()

    def _connected(self) -> Any:
        try:
            return self._distributed.Client(self.address, timeout=_PATIENCE, set_as_default=False, name="scrieve")
        except (OSError, ValueError, TypeError) as error:
            raise ScrieveError(
                f"{SETTING}: no scheduler of dask.distributed answers at {self.address!r} ({error}); start it, put the "
                "address right, or unset that setting."
            ) from error

    @property
    def client(self) -> Any:
        """The client, connected anew where the connection was lost."""
        with self._lock:
            if self._client.status != "running":
                self._client = self._connected()
            return self._client

    def most(self) -> int:
        """How many computations at once: one per thread of the cluster."""
        try:
            return sum(self.client.nthreads().values())
        except (ScrieveError, OSError):
            return 1

    def close(self) -> None:
        """Take leave of the scheduler."""
        with contextlib.suppress(OSError, TimeoutError):
            self._client.close(timeout=2)

    def do(self, name: str, given: Mapping[str, Any], tick: Tick) -> Any:
        """Have a computation done; as `scrieve.jobs.kinds.do_work`.

        Raises
        ------
        Gone
            The machine that did it is gone, or the scheduler.
        """
        try:
            client = self.client
        except ScrieveError as error:
            raise Gone(str(error)) from error
        run = f"scrieve-{secrets.token_hex(8)}"
        told: list[tuple[str, float, Any]] = []
        stop = self._distributed.Event(f"{run}-stop", client=client)
        client.subscribe_topic(run, lambda event: told.append(tuple(event[1])))
        future = client.submit(_there, name, given, run, key=run, pure=False)
        try:
            now: tuple[str, float, Any] = ("sent to the cluster", 0.0, None)
            while not future.done():
                now = told[-1] if told else now
                if not tick(*now):
                    stop.set()
                time.sleep(_TELL_S / 5)
            if future.status == "error" and isinstance(future.exception(), self._distributed.scheduler.KilledWorker):
                raise Gone(str(future.exception()))
            if future.status in ("cancelled", "lost"):
                raise Gone(f"the scheduler at {self.address} has lost it")
            for last in told[-1:]:
                tick(*last)
            return future.result()
        except (TimeoutError, OSError) as error:
            raise Gone(f"the scheduler at {self.address} cannot be reached ({error})") from error
        finally:
            with contextlib.suppress(Exception):
                client.unsubscribe_topic(run)
                stop.set()  # whatever still runs of it ends
                future.release()


def _there(name: str, given: Mapping[str, Any], run: str) -> Any:
    """Do a computation on a machine of the cluster."""
    import distributed

    worker = distributed.get_worker()
    stop: Any = distributed.Event(f"{run}-stop", client=distributed.get_client())  # type: ignore[no-untyped-call]
    heard, stopped = 0.0, False

    def tick(at: str, share: float, best: Any) -> bool:
        nonlocal heard, stopped
        if time.monotonic() - heard >= _TELL_S:
            worker.log_event(run, [at, share, best])
            stopped, heard = stopped or stop.is_set(), time.monotonic()
        return not stopped

    return do_work(name, given, tick)


def cluster_set() -> Cluster | None:
    """Return the cluster that the setting names; None where it names none. Raises as `Cluster`."""
    address = os.environ.get(SETTING, "").strip()
    return Cluster(address) if address else None
