"""Boats to be shown: the demo boat with two hostile names, a small one, and what a browser on this machine sees."""

from __future__ import annotations

import csv
import time
import warnings
from dataclasses import asdict
from pathlib import Path

from fastapi import FastAPI

from scrieve import store
from scrieve.boat import Boat
from scrieve.frames.design import FrameChoice
from scrieve.planking import SpilingChoice, StrakeChoice, read_seams, read_spiling
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.offsets import read_marks

with warnings.catch_warnings():  # it asks for another client that is not among our tools
    warnings.simplefilter("ignore")
    from fastapi.testclient import TestClient

MERGANSER = Path(__file__).parents[2] / "examples" / "merganser"
#: Label of a frame pair without marks, and name of a plank, that try every way of being misread.
HOSTILE_FRAME = '14/A %2e <b onclick="x()">&amp; ½ 木 ?#'
HOSTILE_PLANK = "../up & <script>alert(1)</script> 100%"
HOME = "http://127.0.0.1:8777"

#: A busy machine waits so long for what a quiet one has in a moment [s].
PATIENCE_S = 60.0


def cut_off(server, loop, thread):
    """End a served application as a fallen one ends: no connection is closed in good order."""

    def cut():
        for each in list(server.server_state.connections):
            each.transport.abort()

    def fall():
        for each in server.servers:
            each.close()  # nobody is let in while it falls
        cut()
        loop.call_later(0.05, cut)  # who was let in just before
        loop.call_later(0.1, end)

    def end():
        server.force_exit = server.should_exit = True

    loop.call_soon_threadsafe(fall)
    thread.join(20)


def make_merganser(path: Path) -> Path:
    """Make the demo boat's file from her own CSVs, with one frame and one plank of hostile names."""
    engine = store.create(path, Boat("Merganser", thickness_mm=25.0, sigma_mm=1.5))
    store.add_marks(engine, read_marks((MERGANSER / "marks.csv").read_bytes(), "marks.csv").marks)
    lines = [line for line in (MERGANSER / "frames.csv").read_text().splitlines() if not line.startswith("#")]
    for row in csv.DictReader(lines):
        choice = FrameChoice(row["frame"], row["timber"], sided_mm=float(row["sided_mm"]))
        station = float(row["station_mm"]) if row["frame"] == "19" else None
        store.keep_frame(engine, row["frame"], {"choice": choice.to_mapping(), "station_mm": station})
    hostile = FrameChoice(HOSTILE_FRAME, "larch").to_mapping()
    store.keep_frame(engine, HOSTILE_FRAME, {"choice": hostile, "station_mm": 8850.0})
    for name in ("garboard", "topside_11_port", "topside_12_port"):
        seams = read_seams((MERGANSER / f"{name}.csv").read_bytes(), name)
        strake = StrakeChoice(name.replace("_", " "), seams.lower, seams.upper, 25.0, side="P")
        store.keep_plank(engine, strake.name, {"kind": "strake", "choice": asdict(strake)})
    batten = read_spiling((MERGANSER / "spiling.csv").read_bytes(), "spiling.csv").batten
    marks = [asdict(mark) for mark in batten.marks]
    for name in ("strake 9", HOSTILE_PLANK):
        spiled = asdict(SpilingChoice(name, 25.0, side="P"))
        store.keep_plank(engine, name, {"kind": "spiled", "choice": spiled, "marks": marks})
    engine.dispose()
    return path


def make_small(path: Path, frames: int = 7, units: str = "mm", slip_mm: float = 0.0) -> Path:
    """Make a boat of few marks: a Wigley hull, 6 m long, both sides alike; `slip_mm` puts mark 18 out."""
    engine = store.create(path, Boat("Small", units=units, sigma_mm=1.0))  # type: ignore[arg-type]
    marks = []
    for i in range(frames):
        x = 600.0 + 800.0 * i
        along = 1 - (2 * x / 6000 - 1) ** 2
        for j in range(7):
            z = 100.0 * j
            half = 750.0 * along * (1 - ((600 - z) / 700) ** 2)
            marks.append(Mark(str(i + 1), x, z, half + (slip_mm if len(marks) == 17 else 0.0)))
    store.add_marks(engine, marks)
    engine.dispose()
    return path


def ready(app: FastAPI) -> FastAPI:
    """Return the application once its hull is faired."""
    boat = app.state.boat
    boat.fairing(boat.state(), patience_s=120)
    return app


def client_of(app: FastAPI) -> TestClient:
    """Return a client that sees what a browser on this machine would."""
    return TestClient(app, base_url=HOME, raise_server_exceptions=False, follow_redirects=False)


def until(found, words="what was waited for never came"):
    """Ask again and again, as one who waits does, until what is asked gives something; give that."""
    end = time.monotonic() + PATIENCE_S
    while not (what := found()):
        assert time.monotonic() < end, words
        time.sleep(0.05)
    return what


def settled(client, path):
    """The page once everything that is worked out aside has come."""

    def page():
        found = client.get(path)
        return found if found.status_code != 202 and "data-pending" not in found.text else None

    return until(page, f"{path} never settled")


def with_words(client, path, words):
    """The text of a page once it says these words."""
    return until(lambda: words in (text := client.get(path).text) and text, f"{path} never said {words!r}")


def all_routes(router):
    """Every route of a router, those of the routers within it too."""
    for route in router.routes:
        if hasattr(route, "methods"):
            yield route
        else:
            yield from all_routes(route.original_router)
