"""A writer that is killed at a random moment, again and again: what it was told of as stored must be there.

Used by the tests, a few times, and by bench/store.py, three hundred times.
"""

import contextlib
import multiprocessing
import os
import random
import resource
import signal
import sqlite3
import time
from pathlib import Path

from scrieve import store
from scrieve.errors import BadBoat
from scrieve.takeoff.marks import Mark

#: Started once with the modules loaded; each writer is then forked from it, in a few milliseconds.
PROCESSES = multiprocessing.get_context("forkserver")
PROCESSES.set_forkserver_preload(["scrieve.store", "scrieve.takeoff.marks", "psycopg"])


def write(place, first, told):
    """Store marks, choices and records one after another, and tell of each once it is stored."""
    engine = store.open_boat(place)
    with contextlib.suppress(BadBoat):  # the server was killed
        _write(engine, first, told)


def _write(engine, first, told):
    for n in range(first, first + 10**6):
        key = f"k{n}"
        if n % 3 == 0:
            marks = [Mark("14", 3600.0, float(n), float(i)) for i in range(1 + n % 7)]
            answer = store.add_marks(engine, marks, key=key)
        elif n % 3 == 1:
            answer = store.keep_frame(engine, str(n % 5), {"n": n}, key=key)
        else:
            answer = store.add_record(engine, "release", str(n % 5), {"n": n}, key=key)
        told.send((n, answer))


def again(engine, n):
    """Send once more what may not have been stored; return the answer."""
    if n % 3 == 0:
        marks = [Mark("14", 3600.0, float(n), float(i)) for i in range(1 + n % 7)]
        return store.add_marks(engine, marks, key=f"k{n}")
    if n % 3 == 1:
        return store.keep_frame(engine, str(n % 5), {"n": n}, key=f"k{n}")
    return store.add_record(engine, "release", str(n % 5), {"n": n}, key=f"k{n}")


def kill_writers(place, times, seed, crash=None, look=lambda number: None):
    """Kill a writer `times` times at random moments; return how many acts were acknowledged.

    `crash`, where given, kills the server every tenth time. Every time, what was acknowledged must be there once, under
    its number; what was not is sent again, and stored once.
    """
    rng, first, acknowledged = random.Random(seed), 0, 0
    for number in range(times):
        here, there = PROCESSES.Pipe(duplex=False)
        writer = PROCESSES.Process(target=write, args=(place, first, there), daemon=True)
        writer.start()
        there.close()
        told = [here.recv()]
        wait = time.monotonic() + rng.uniform(0, 0.12)
        while (left := wait - time.monotonic()) > 0:
            if here.poll(left):
                told.append(here.recv())
        if crash and number % 10 == 9:
            crash()
        with contextlib.suppress(ProcessLookupError):  # it ends by itself where the server was killed under it
            os.kill(writer.pid, signal.SIGKILL)
        with contextlib.suppress(EOFError):
            while True:
                told.append(here.recv())
        writer.join()
        here.close()
        verify(place, told)
        first = told[-1][0] + 1
        acknowledged += len(told)
        look(number)
    return acknowledged


def verify(place, told):
    """Hold what was acknowledged against what is there."""
    if not place.is_server:
        with contextlib.closing(sqlite3.connect(place.file)) as raw:
            assert raw.execute("PRAGMA quick_check").fetchone() == ("ok",)
    engine = store.open_boat(place)
    try:
        last = told[-1][0] + 1  # on its way when the writer was killed: a server may store it even now
        answer = again(engine, last)
        assert again(engine, last) == answer  # stored or not, sent again it is there once
        told.append((last, answer))
        acts = {act.number: act for act in store.acts(engine)}
        marks = {mark.number: mark for mark in store.marks(engine)}
        records = {record.number: record for record in store.records(engine)}
        for n, answer in told:
            if n % 3 == 0:
                assert [marks[each].height_mm for each in answer] == [float(n)] * (1 + n % 7), n
            elif n % 3 == 1:
                assert acts[answer].detail == {"name": str(n % 5), "choice": {"n": n}}, n
            else:
                assert records[answer].detail == {"n": n}, n
            assert again(engine, n) == answer  # sent again, it is answered as the first time
        assert list(acts) == list(range(1, last + 3))  # that she was made, and one act of each that was ever sent
        assert store.last_act(engine) == len(acts)
    finally:
        engine.dispose()


def crash_of(server):
    """Return a way to kill a PostgreSQL server outright, with all that it has begun, and to start it again."""

    def crash():
        pid = int((Path(server.folder) / "data" / "postmaster.pid").read_text().split()[0])
        with open(f"/proc/{pid}/task/{pid}/children") as children:
            every = [pid, *map(int, children.read().split())]
        for each in every:
            with contextlib.suppress(ProcessLookupError):
                os.kill(each, signal.SIGKILL)
        while Path(f"/proc/{pid}").exists():
            time.sleep(0.01)
        server.again()

    return crash


def fill(place, told, limited):
    """Store marks until no more go in; tell how many went in, and what was said then."""
    if limited:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (1_500_000, 1_500_000))
    engine, stored = store.open_boat(place), 0
    marks = [Mark("14", 3600.0, float(n), 2.0, note="x" * 200) for n in range(300)]
    try:
        while stored < 10**6:
            stored = store.add_marks(engine, marks)[-1]
    except BadBoat as error:
        told.send((stored, str(error)))


def in_a_process(what, *given):
    """Run something in a process of its own; return what it tells."""
    here, there = PROCESSES.Pipe(duplex=False)
    process = PROCESSES.Process(target=what, args=(given[0], there, *given[1:]))
    process.start()
    there.close()
    told = here.recv()
    process.join()
    here.close()
    return told


def open_as_nobody(place, told):
    """Open a boat as somebody who may only read it; tell what was said."""
    if os.getuid() == 0:  # to root nothing is write-protected
        store.open_boat(place).dispose()  # loads all that nobody may not load
        os.setgid(65534)
        os.setuid(65534)
    try:
        store.open_boat(place)
    except (BadBoat, OSError) as error:
        told.send(repr(error))
