"""The store under stress: writers killed at random moments, and thirty tablets at once.

    python bench/store.py kill --times 300          on a file and on a server: what was acknowledged is there
    python bench/store.py tablets --seconds 60      thirty tablets post marks and log entries to the served pages

Needs what the tests need (sh tools/needed). Prints a line for each store.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "tests" / "store"), str(ROOT / "tests" / "web")]

from scrieve import store  # noqa: E402
from scrieve.boat import Boat  # noqa: E402
from scrieve.store.place import Place  # noqa: E402


class Server:
    """A PostgreSQL server of its own."""

    def __init__(self) -> None:
        said = subprocess.run(["sh", ROOT / "tools" / "postgres", "start"], capture_output=True, text=True, check=True)
        self.folder, self.url = said.stdout.split()

    def again(self) -> None:
        subprocess.run(["sh", ROOT / "tools" / "postgres", "again", self.folder], check=True)

    def stop(self) -> None:
        subprocess.run(["sh", ROOT / "tools" / "postgres", "stop", self.folder], check=True)


def machine() -> str:
    return f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}"


def sound(place: Place) -> None:
    wrong = [each for each in store.check(place) if not each.ok]
    assert not wrong, wrong


def kill(times: int, seed: int, which: str) -> None:
    from killing import crash_of, kill_writers

    for kind in ("file", "server") if which == "both" else (which,):
        server = Server() if kind == "server" else None
        with tempfile.TemporaryDirectory(prefix="scrieve-kill-") as folder:
            place = Place(server.url, "merganser") if server else Place(str(Path(folder) / "a.boat"))
            store.create(place, Boat("Merganser")).dispose()
            began = time.monotonic()
            crash = crash_of(server) if server else None
            try:
                # the whole store is looked through every twentieth time: what grows would take longer and longer
                look = lambda n, place=place: sound(place) if n % 20 == 19 else None  # noqa: E731
                acknowledged = kill_writers(place, times, seed, crash, look)
                sound(place)
            finally:
                if server:
                    server.stop()
        crashed = f", the server itself {times // 10} times of them" if server else ""
        print(
            f"{kind}: killed {times} times{crashed}; {acknowledged} acts acknowledged, every one there once, store "
            f"sound; {time.monotonic() - began:.0f} s ({machine()}, seed {seed})",
            flush=True,
        )


def tablets(count: int, seconds: float, pause: float, which: str) -> None:
    from tablets import serve_and_post

    for kind in ("file", "server") if which == "both" else (which,):
        server = Server() if kind == "server" else None
        with tempfile.TemporaryDirectory(prefix="scrieve-tablets-") as folder:
            place = Place(server.url, "merganser") if server else Place(str(Path(folder) / "a.boat"))
            try:
                found = serve_and_post(place, count, seconds, pause)
                sound(place)
            finally:
                if server:
                    server.stop()
        print(f"{kind}: {found} ({machine()})", flush=True)


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("what", choices=["kill", "tablets"])
    words.add_argument("--times", type=int, default=300)
    words.add_argument("--seed", type=int, default=1924)
    words.add_argument("--store", default="both", choices=["both", "file", "server"])
    words.add_argument("--tablets", type=int, default=30)
    words.add_argument("--seconds", type=float, default=60.0)
    words.add_argument("--pause", type=float, default=1.0, help="Between two posts of a tablet, on average [s].")
    given = words.parse_args()
    if given.what == "kill":
        kill(given.times, given.seed, given.store)
    else:
        tablets(given.tablets, given.seconds, given.pause, given.store)


if __name__ == "__main__":
    main()
