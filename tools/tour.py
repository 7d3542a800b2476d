"""Make the pictures of docs/tour.md: `python tools/tour.py build/demo docs/pictures`.

The demo boat is copied, one of her frames is set on the jig, glued and measured as a script would (docs/api.md), and
the pages are taken as they then stand.
"""

from __future__ import annotations

import json
import math
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pictures import FLAGS, save

FRAME = "14"
WIDE, TALL = (1280, 860), (375, 812)
#: Marks of a frame as typed; of the fourth two figures are changed about.
TYPED = ((420, 634), (600, 954), (800, 1134), (1000, 1320), (1200, 1288))
SLIP = tuple((f"r{n}.{name}", str(value)) for n, row in enumerate(TYPED, 1)
             for name, value in zip(("height", "half_breadth"), row, strict=True))  # fmt: skip


@dataclass(frozen=True)
class Shot:
    """One picture: its name, the page, its size, what is brought to the top of it, and what is typed first."""

    name: str
    path: str
    size: tuple[int, int] = WIDE
    top: str = ""
    typed: tuple[tuple[str, str], ...] = ()


SHOTS = (
    Shot("tour-steps", "/tour"),
    Shot("tour-marks", "/marks/new?way=offsets&frame=20&side=P", WIDE, "#typed", SLIP),
    Shot("tour-fairing", "/fairing?times=20", WIDE, "figure"),
    Shot("tour-suspect", "/fairing?show=frame&frame={suspect}", WIDE, "figure"),
    Shot("tour-frame", f"/frames/{FRAME}#bend"),
    Shot("tour-jig", f"/jig/bench?frame={FRAME}", TALL),
    Shot("tour-glue-up", f"/glue-up?frame={FRAME}&air=18&rh=60"),
    Shot("tour-release", f"/release?frame={FRAME}", WIDE, "#seen"),
    Shot("tour-plank", "/planks/topside%2011"),
    Shot("tour-board", "/timber", WIDE, "#rack"),
    Shot("tour-steps-phone", "/tour", TALL, "#step-6"),
)


@contextmanager
def served(boat: Path) -> Iterator[str]:
    """Serve a boat to this machine while the block runs; gives its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    program = Path(sys.executable).parent / "scrieve"
    server = subprocess.Popen([program, "serve", boat, "--port", str(port)], stdout=subprocess.DEVNULL)
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait()


def ask(base: str, path: str, body: dict[str, Any] | None = None) -> dict[str, Any]:
    """Ask for JSON, or send it; wait while the hull is being faired or the program is starting."""
    data = None if body is None else json.dumps(body).encode()
    for _ in range(240):
        request = urllib.request.Request(base + path, data, {"Content-Type": "application/json", "Origin": base})
        try:
            found: dict[str, Any] = json.load(urllib.request.urlopen(request))
            return found
        except urllib.error.HTTPError as error:
            if error.code != 503:
                raise SystemExit(f"{path}: {error.read().decode()}") from error
        except OSError:
            pass
        time.sleep(0.5)
    raise SystemExit(f"{path}: no answer")


def work(base: str) -> str:
    """Do the steps that the demo leaves undone, with one frame; return the frame of a suspect."""
    suspect = next((row["frame"] for row in ask(base, "/api/hull")["marks"] if row["suspect"]), FRAME)
    done = {row["kind"] for row in ask(base, f"/api/records?member={FRAME}")["records"]}
    if "glue-up" not in done:
        day = {"frame": FRAME, "air_c": 18, "humidity_pct": 60, "hour": "8:30", "name": "first hand"}
        ask(base, "/api/glue-up/done", day)
    if "release" not in done:
        girth = ask(base, f"/api/section?at={FRAME}")["girth_mm"]
        # about as it stands until it is cleaned off, and a little out
        turns = [math.pi * k / 24 for k in range(25)]
        rows = [[round(girth * t / math.pi, 1), round(0.8 * math.cos(2 * t) + 0.3 * math.sin(t), 1)] for t in turns]
        ask(base, "/api/release", {"frame": FRAME, "when": "off the jig", "face": "outside", "rows": rows})
    # the next setting, once this frame has taught
    brackets = ask(base, f"/api/jig?frame={FRAME}")["brackets"]
    for bracket in brackets[:3]:
        ask(base, "/api/jig/setting", {"frame": FRAME, "what": "bracket", "bracket": bracket["number"]})
    for name, long, wide in (("L1", 5200.0, 320.0), ("L2", 4800.0, 290.0), ("L3", 5000.0, 340.0)):
        edges = {"x_mm": [0.0, long], "lower_mm": [0.0, 0.0], "upper_mm": [wide, wide]}
        board = {"length_mm": long, "thickness_mm": 42.0, "top": edges, "timber": "larch"}
        ask(base, "/api/choices", {"part": "board", "name": name, "choice": board})
    found = ask(base, "/api/jobs", {"what": "laying", "do": "begin"})
    while found["state"] in ("waiting", "running"):
        found = ask(base, "/api/jobs?what=laying&wait_s=20")
    return suspect


def main(demo: Path, to: Path) -> None:
    """Copy the boat, work on her, take the pages."""
    from playwright.sync_api import sync_playwright

    to.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        boat = Path(folder) / "merganser.boat"
        shutil.copy(demo / "merganser.boat", boat)
        with served(boat) as base, sync_playwright() as play:
            suspect = work(base)
            browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
            for shot in SHOTS:
                page = browser.new_page(viewport={"width": shot.size[0], "height": shot.size[1]})
                page.set_default_timeout(120_000)
                page.goto(base + shot.path.format(suspect=suspect), wait_until="load")
                for _ in range(120):  # what is worked out aside comes by itself
                    if not page.locator("[data-pending]").count():
                        break
                    page.wait_for_timeout(500)
                for name, text in shot.typed:
                    page.fill(f"[name='{name}']", text)
                if shot.typed:
                    page.locator(".verdict[data-state=slip]").first.wait_for()
                if shot.top:
                    page.locator(shot.top).evaluate("e => e.scrollIntoView()")
                page.wait_for_timeout(300)
                save(page.screenshot(), to / f"{shot.name}.png")
                page.close()
            browser.close()


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:3]))
