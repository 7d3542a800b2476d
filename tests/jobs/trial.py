"""A kind of job for tests: counts to a number, slowly, and notes in a file who counts from when to when."""

import os
import time
from pathlib import Path
from threading import Event

from scrieve import store
from scrieve.errors import ScrieveError
from scrieve.jobs import board, doing, kinds
from scrieve.jobs.kinds import Kind


def count(given, tick):
    note(given, "begins")
    for n in range(given["to"]):
        if given.get("dies_at") == n and not Path(given["notes"] + ".died").exists():
            Path(given["notes"] + ".died").touch()
            os._exit(9)
        if given.get("fails"):
            raise ScrieveError("there is no such number.")
        if not tick(f"at {n}", n / given["to"], {"n": n}):
            note(given, "ends")
            return {"n": n, "process": os.getpid()}
        time.sleep(given.get("pause_s", 0.01))
    note(given, "ends")
    return {"n": given["to"], "process": os.getpid()}


def note(given, what):
    with Path(given["notes"]).open("a") as file:
        file.write(f"{given['name']} {what} {os.getpid()} {time.monotonic()}\n")


def keep(engine, what, result, key, who):
    store.add_record(engine, "counted", what["name"], {"n": result["n"]}, key=key, who=who)


KIND = Kind(f"{__name__}:count", keep=keep)


def worker(place, name):
    """A worker in a process of its own, which takes others for dead soon."""
    kinds.KINDS["counting"] = "trial"
    doing.BEAT_S = doing.LOOK_S = 0.05
    doing.work_on(store.open_boat(place), name, Event(), idle_s=3.0, watch=board.Watch(after_s=1.5))
