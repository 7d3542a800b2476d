"""Simulated tablets that post marks and log entries to the served pages, all at once: none lost, none doubled.

Used by a test for a moment, and by bench/store.py for a minute.
"""

import contextlib
import http.client
import os
import random
import resource
import subprocess
import sys
import threading
import time
from dataclasses import dataclass, field
from urllib.parse import urlencode, urlsplit

import uvicorn

from scrieve import store
from scrieve.boat import Boat
from scrieve.takeoff.marks import Mark
from scrieve.web import create_app
from scrieve.web.server.serving import bind

#: Frames of the hull that is measured, 200 mm apart.
FRAMES = 29


@dataclass
class Tablet:
    """What one tablet has sent and was told of as stored, and how long each answer took [s]."""

    number: int
    marks: set = field(default_factory=set)
    entries: set = field(default_factory=set)
    took: list = field(default_factory=list)
    wrong: list = field(default_factory=list)

    def post(self, address, path, fields, stored, name):
        """Send a form; every fifth is sent again at once, as after an answer that was lost on its way."""
        body = urlencode(fields)
        head = {"Content-Type": "application/x-www-form-urlencoded", "Origin": f"http://{address}"}
        for _ in range(2 if len(self.took) % 5 == 0 else 1):
            began = time.monotonic()
            try:
                line = http.client.HTTPConnection(address, timeout=120)
                line.request("POST", path, body, head)
                reply = line.getresponse()
                text = reply.read()
                line.close()
            except OSError as error:
                self.wrong.append(repr(error))
                continue
            self.took.append(time.monotonic() - began)
            if reply.status == 303:
                stored.add(name)
            else:
                self.wrong.append(f"{path}: {reply.status} {text[:2000]!r}")

    def work(self, address, until, pause):
        """Post a mark and a log entry by turns until the time is up."""
        rng, n = random.Random(self.number), 0
        time.sleep(rng.uniform(0, pause))
        while time.monotonic() < until:
            name, n = f"t{self.number}-{n}", n + 1
            if n % 2:
                frame, height = 1 + self.number % FRAMES, rng.uniform(100, 500)
                half = half_breadth(200 * frame, height) + rng.gauss(0, 1)
                mark = {"way": "offsets", "frame": str(frame), "side": "P", "do": "anyway", "key": name,
                        "r1.mark": name, "r1.height": f"{height:.1f}", "r1.half_breadth": f"{half:.1f}"}  # fmt: skip
                self.post(address, "/marks/new", mark, self.marks, name)
            else:
                entry = {"do": "used", "what": "glue", "amount": "0.5", "note": name, "key": name}
                self.post(address, "/plan/costs", entry, self.entries, name)
            time.sleep(rng.expovariate(1 / pause) if pause else 0)


def half_breadth(x_mm, height_mm):
    """Of the hull that the tablets measure: a Wigley form."""
    return 750.0 * (1 - (2 * x_mm / 6000 - 1) ** 2) * (1 - ((600 - height_mm) / 700) ** 2)


@contextlib.contextmanager
def served_beside(place):
    """Serve a boat by a program of its own; give the address."""
    env = {**os.environ, "SCRIEVE_STORE": place.store if place.boat else ""}
    words = [sys.executable, "-c", "from scrieve.cli import main; main()", "serve", place.boat or place.store]
    served = subprocess.Popen([*words, "--port", "0"], stdout=subprocess.PIPE, text=True, env=env)
    try:
        yield urlsplit(served.stdout.readline().split()[-1]).netloc
    finally:
        served.terminate()
        served.wait(120)
        served.stdout.close()


@contextlib.contextmanager
def served_inside(place):
    """Serve a boat by a thread of this program; give the address."""
    app = create_app(place)
    listening = bind("127.0.0.1", 0)
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", access_log=False))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    try:
        yield f"127.0.0.1:{listening.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join()
        listening.close()
        app.state.boat.engine.dispose()


def serve_and_post(place, count, seconds, pause, inside=False):
    """Serve a boat, let the tablets post, and hold what they were told against what is there; return it in words."""
    engine = store.create(place, Boat("Merganser", sigma_mm=1.0))
    half = [(x, z, half_breadth(x, z)) for x in range(200, 200 * FRAMES + 1, 200) for z in range(0, 700, 100)]
    store.add_marks(engine, [Mark(str(x // 200), x, z, y) for x, z, y in half])
    before = sum(resource.getrusage(resource.RUSAGE_CHILDREN)[:2])
    with served_inside(place) if inside else served_beside(place) as address:
        line = http.client.HTTPConnection(address, timeout=240)
        line.request("GET", "/")  # faired once, as it is before the day's work
        line.getresponse().read()
        line.close()
        tablets = [Tablet(n) for n in range(count)]
        until = time.monotonic() + seconds
        threads = [threading.Thread(target=one.work, args=(address, until, pause)) for one in tablets]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    wrong = [text for one in tablets for text in one.wrong]
    assert not wrong, (len(wrong), wrong[0])
    sent_marks = [name for one in tablets for name in one.marks]
    sent_entries = [name for one in tablets for name in one.entries]
    kept_marks = [mark.label for mark in store.marks(engine) if mark.label.startswith("t")]
    kept_entries = [record.detail["note"] for record in store.records(engine)]
    engine.dispose()
    assert sorted(kept_marks) == sorted(sent_marks)  # each once
    assert sorted(kept_entries) == sorted(sent_entries)
    took = sorted(each for one in tablets for each in one.took)
    cpu = 1000 * (sum(resource.getrusage(resource.RUSAGE_CHILDREN)[:2]) - before) / len(took)
    p50, p95 = (1000 * took[int(share * (len(took) - 1))] for share in (0.5, 0.95))
    return (
        f"{count} tablets, {seconds:g} s: {len(sent_marks)} marks and {len(sent_entries)} log entries stored, "
        f"none lost, none doubled; {len(took) / seconds:.1f} posts a second, p50 {p50:.0f} ms, p95 {p95:.0f} ms, "
        f"longest {1000 * took[-1]:.0f} ms; {cpu:.0f} ms of processor time a post, the start in it"
    )
