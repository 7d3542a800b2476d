"""How quickly the pages come: `python bench/pages.py DEMO` (a folder made by `make demo`); prints each bar, met or not.

Server and browser run on this machine together. First content and interactive are what a browser tells of a page opened
with an empty cache of its own, after the hull has been faired and every page asked for once ("after first load");
interactive: its scripts have run and a press would be answered. The picture in the round is drawn by software. Wall
times are of the machine as loaded as it is, so that the processor's seconds are told beside them.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx
import numpy as np
from playwright.sync_api import Browser, sync_playwright

from scrieve import store
from scrieve.frames.choice import FrameChoice

#: A browser as it starts by itself where there is no graphics card; and one that draws WebGL all the same, by software.
#: The pages are opened with the first: the second paints plain pages that way too, slowly.
FLAGS = ["--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip
WEBGL = ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist"]
PAGES = ("/", "/settings", "/marks", "/marks/new", "/fairing", "/fairing?show=diagonals",
         "/fairing?show=frame&frame=14", "/frames", "/frames/14", "/stations/3610", "/jig",
         "/jig?frame=14", "/jig/bench?frame=14", "/jig/order",
         "/glue-up?frame=14", "/release?frame=14", "/planks", "/planks/garboard", "/planks/lining?side=port",
         "/planks/skin?side=port", "/timber", "/plan", "/plan/today", "/plan/waits", "/plan/costs", "/plan/yard",
         "/log", "/undo", "/sheets", "/tour", "/words", "/round")  # fmt: skip
FIRST_S, INTERACTIVE_S, WEIGHT_KB, P95_MS, READERS, ROUND_S = 0.5, 1.0, 400.0, 150.0, 50, 2.0
#: Fewer frames a second than this is not smooth: common practice, no source.
SMOOTH_PER_S = 20.0
MOST_FRAMES, MOST_STRAKES = 60, 20

TIMES = """async () => {
  for (let n = 0; n < 200 && !performance.getEntriesByName('first-contentful-paint').length; n += 1)
    await new Promise((done) => setTimeout(done, 10));
  const loaded = performance.getEntriesByType('navigation')[0];
  const all = [loaded, ...performance.getEntriesByType('resource')];
  return [performance.getEntriesByName('first-contentful-paint')[0].startTime,
    Math.max(loaded.domContentLoadedEventEnd, performance.getEntriesByName('first-contentful-paint')[0].startTime),
    all.filter((one) => !one.name.includes('/api/bodies')).reduce((sum, one) => sum + one.transferSize, 0)];
}"""
TURN = """async (turns) => {
  const { picture } = document.querySelector('.round').page;
  const canvas = document.querySelector('.stage canvas');
  const start = performance.now();
  const pixel = new Uint8Array(4);
  const gl = canvas.getContext('webgl') ?? canvas.getContext('webgl2');
  for (let n = 0; n < turns; n += 1) {
    canvas.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight', bubbles: true }));
    await new Promise(requestAnimationFrame);
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, pixel); // waits until it is drawn
  }
  return 1000 * turns / (performance.now() - start);
}"""


@dataclass
class Told:
    """Bars met and not, printed as they come."""

    missed: int = 0

    def bar(self, what: str, found: float, limit: float, unit: str, *, least: bool = False) -> None:
        met = found >= limit if least else found <= limit
        self.missed += not met
        wanted = f"{'at least' if least else 'at most'} {limit:g} {unit}"
        print(f"{'met    ' if met else 'NOT MET'}  {what}: {found:.3g} {unit}, {wanted}", flush=True)


def processor_s(pid: int) -> float:
    """Seconds that a process has had the processor, user and system."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@contextmanager
def served(boat: Path) -> Iterator[tuple[str, int]]:
    """Serve a boat in a process of its own; gives its address and process, once the hull is faired."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    program = Path(sys.executable).parent / "scrieve"
    server = subprocess.Popen([program, "serve", boat, "--port", str(port)], stdout=subprocess.DEVNULL)
    base = f"http://127.0.0.1:{port}"
    try:
        for _ in range(600):
            try:
                if httpx.get(base + "/fairing", timeout=60).status_code == 200:
                    break
            except httpx.HTTPError:
                pass
            time.sleep(0.2)
        yield base, server.pid
    finally:
        server.terminate()
        server.wait()


def first_load(base: str, pid: int) -> None:
    """Ask for every page once; what comes later is waited for. Tells what that cost."""
    before, start = processor_s(pid), time.perf_counter()
    slowest = ("", 0.0)
    for path in PAGES:
        had = processor_s(pid)
        for _ in range(300):
            reply = httpx.get(base + path, timeout=120)
            if reply.status_code == 200 and "data-pending" not in reply.text:
                break
            time.sleep(0.1)
        if (cost := processor_s(pid) - had) > slowest[1]:
            slowest = (path, cost)
    httpx.get(base + "/api/bodies", timeout=120)
    print(f"         first load of {len(PAGES)} pages: {time.perf_counter() - start:.1f} s, processor "
          f"{processor_s(pid) - before:.1f} s; the dearest {slowest[0]}, {slowest[1]:.2f} s")  # fmt: skip


def one_by_one(base: str, pid: int, browser: Browser, told: Told) -> None:
    """Each page as a browser opens it with nothing in its cache."""
    rows = []
    for path in PAGES:
        runs = []
        before = processor_s(pid)
        for _ in range(3):
            with browser.new_context(viewport={"width": 1280, "height": 900}) as context:
                page = context.new_page()
                page.goto(base + path, wait_until="load")
                runs.append(page.evaluate(TIMES))
        first, ready, size = np.median(np.array(runs, dtype=float), axis=0)
        rows.append((path, first / 1000, ready / 1000, size / 1000, (processor_s(pid) - before) / 3))
    print("         page, first content s, interactive s, kB, processor of the server s")
    for path, first, ready, size, cost in rows:
        print(f"         {path:36}{first:7.2f}{ready:7.2f}{size:7.0f}{cost:7.2f}")
    for column, what, limit, unit in ((1, "first content", FIRST_S, "s"), (2, "interactive", INTERACTIVE_S, "s"),
                                      (3, "weight", WEIGHT_KB, "kB")):  # fmt: skip
        worst = max(rows, key=lambda row: row[column])
        told.bar(f"{what}, worst page ({worst[0]})", worst[column], limit, unit)


def at_once(base: str, pid: int, told: Told, think_s: float, rounds: int) -> None:
    """Readers who browse: each opens a page, looks at it for a while, opens the next; each has a cache."""
    seconds: list[float] = []

    async def reader(client: httpx.AsyncClient, number: int) -> None:
        draw = np.random.default_rng(number)
        known: dict[str, str] = {}
        await asyncio.sleep(draw.uniform(0, think_s))
        for _ in range(rounds):
            path = PAGES[draw.integers(len(PAGES))]
            headers = {"If-None-Match": known[path]} if path in known else {}
            start = time.perf_counter()
            reply = await client.get(base + path, headers=headers)
            seconds.append(time.perf_counter() - start)
            assert reply.status_code in (200, 304), (path, reply.status_code)
            known[path] = reply.headers.get("etag", "")
            await asyncio.sleep(draw.exponential(think_s))

    async def everybody() -> None:
        limits = httpx.Limits(max_connections=READERS)
        async with httpx.AsyncClient(timeout=120, limits=limits) as client:
            await asyncio.gather(*(reader(client, number) for number in range(READERS)))

    before = processor_s(pid)
    start = time.perf_counter()
    with ThreadPoolExecutor(1) as aside:  # this thread belongs to the browser's driver
        aside.submit(lambda: asyncio.run(everybody())).result()
    took = time.perf_counter() - start
    cost = (processor_s(pid) - before) / len(seconds)
    print(f"         {READERS} readers, a page each {think_s:g} s: {len(seconds)} pages in {took:.0f} s, "
          f"processor of the server {1000 * cost:.0f} ms a page")  # fmt: skip
    told.bar(
        f"{READERS} readers at once, 95 of 100 pages within", 1000 * float(np.quantile(seconds, 0.95)), P95_MS, "ms"
    )


def large(demo: Path, to: Path) -> Path:
    """The demo boat with 60 frames designed and both sides lined off in 20 strakes: 40."""
    shutil.copy(demo / "merganser.boat", to)
    engine = store.open_boat(to)
    there = store.frames(engine)
    for entry in list(there.values())[:1]:
        timber = entry["choice"]["timber"]
    stations = np.linspace(700.0, 12900.0, MOST_FRAMES + 2 - len(there))
    for number, at in enumerate(stations[: MOST_FRAMES - len(there)]):
        choice = FrameChoice(f"between {number + 1}", timber)
        entry = {"choice": choice.to_mapping(), "station_mm": float(at) + 3.0}
        store.keep_frame(engine, choice.frame, entry)
    engine.dispose()
    return to


def in_the_round(base: str, pid: int, browser: Browser, told: Told) -> None:
    """Load the picture of many members, and turn it."""
    form = {"form": "settings", "strakes": str(MOST_STRAKES), "rule": "equal", "widest": "400", "narrowest": "20",
            "end_narrowest": "10", "thickness": "25", "side": "pair"}  # fmt: skip
    httpx.post(base + "/planks/lining", data=form, headers={"Origin": base}, timeout=120)
    for when in ("first", "again"):
        before = processor_s(pid)
        with browser.new_context(viewport={"width": 1280, "height": 900}) as context:
            page = context.new_page()
            start = time.perf_counter()
            page.goto(base + "/round")
            page.wait_for_selector("[data-ready]", timeout=120_000)
            took = time.perf_counter() - start
            bodies = page.evaluate("document.querySelector('.round').page.scene.bodies.map((b) => b.key)")
            if when == "first":
                frames = len({key.rsplit(" ", 1)[0] for key in bodies if key.startswith("frame ")})
                strakes = sum(key.startswith(("strake ", "plank ")) for key in bodies)
                made = processor_s(pid) - before
                print(f"         made for the first time: processor of the server {made:.2f} s")
                told.bar(f"in the round, {frames} pairs and {strakes} strakes, made and loaded", took, ROUND_S, "s")
                continue
            told.bar(f"in the round, {frames} pairs and {strakes} strakes, loaded again", took, ROUND_S, "s")
            per_s = page.evaluate(TURN, 60)
            told.bar("turning it", per_s, SMOOTH_PER_S, "pictures a second", least=True)


def main() -> None:
    """Run all of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("demo", type=Path, help="folder with merganser.boat, as `make demo` writes it")
    parser.add_argument("--think", type=float, default=5.0, help="seconds a reader looks at a page")
    parser.add_argument("--rounds", type=int, default=8, help="pages that each reader opens")
    parser.add_argument("--only", default="pages,readers,round", help="parts to run")
    given = parser.parse_args()
    parts, told = given.only.split(","), Told()
    print(f"         load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        own = shutil.which("chromium") or shutil.which("chromium-browser")
        if {"pages", "readers"} & set(parts):
            boat = Path(folder) / "merganser.boat"
            shutil.copy(given.demo / "merganser.boat", boat)
            with served(boat) as (base, pid):
                first_load(base, pid)
                if "pages" in parts:
                    browser = play.chromium.launch(executable_path=own, args=FLAGS)
                    one_by_one(base, pid, browser, told)
                    browser.close()
                if "readers" in parts:
                    at_once(base, pid, told, given.think, given.rounds)
        if "round" in parts:
            with served(large(given.demo, Path(folder) / "large.boat")) as (base, pid):
                browser = play.chromium.launch(executable_path=own, args=FLAGS + WEBGL)
                in_the_round(base, pid, browser, told)
                browser.close()
    sys.exit(f"{told.missed} bars not met" if told.missed else None)


if __name__ == "__main__":
    main()
