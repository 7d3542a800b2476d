"""Make the pictures of the README and of docs/fairing.md: `python tools/pictures.py build/demo docs/pictures`.

`--drawings` makes those of docs/fairing.md alone.
"""

from __future__ import annotations

import io
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from PIL import Image
from shapely import LineString

from scrieve import store
from scrieve.cli.work import kept
from scrieve.fairing import FairHull, Section, default_diagonals, fair, fairness, lay_batten, line_in
from scrieve.sheets.drawing import Drawing, Item, Polyline
from scrieve.sheets.fair_line import fair_line_drawing
from scrieve.sheets.fairing_drawings import diagonals_drawing, fairing_body_plan
from scrieve.sheets.svg import page_svg
from scrieve.takeoff.marks import Mark

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip
#: name: (address, width of the picture, the part that it ends with)
PAGES = {"boat-page": ("/", 800, "figure:has-text('Body plan')")}


#: The frame that is left out for the picture of the ±, and the one through whose marks the batten is laid.
LEFT_OUT, BATTEN_AT = "14", "14"
#: Every so many frames are shown on the body plan.
SHOWN = 4
#: No picture of the docs is larger than this [bytes].
MOST_BYTES = 100_000


@dataclass(frozen=True)
class Off:
    """How a mark lies to a line."""

    number: int
    residual_mm: float
    suspect: bool


def missing_frame(marks: tuple[Mark, ...], hull: FairHull) -> Drawing:
    """Fair without one frame's marks; draw its line and ± as the others tell it, and its marks, which had no say."""
    left, out = [m for m in marks if m.frame != LEFT_OUT], [m for m in marks if m.frame == LEFT_OUT]
    section = fair(left, hull.boat).section(hull.stations[LEFT_OUT])
    line, way = section.points_mm, section.direction_rad
    offs = []
    for mark in out:
        away = np.array([mark.half_breadth_mm, mark.height_mm]) - line
        near = int(np.hypot(*away.T).argmin())
        offs.append(Off(mark.number, float(away[near] @ (np.sin(way[near]), -np.cos(way[near]))), False))
    return fair_line_drawing(replace(section, frame=LEFT_OUT), out, offs)


def batten_with_a_slip(marks: tuple[Mark, ...], hull: FairHull) -> Drawing:
    """Lay a batten along one side's marks of one frame, one of which is read an inch out; it is named."""
    side = "S"
    where = {off.number: off.v for off in hull.offs}
    here = sorted((m for m in marks if m.frame == BATTEN_AT and m.side in ("", side)), key=lambda m: where[m.number])
    slip = len(here) // 2
    here[slip] = replace(here[slip], half_breadth_mm=here[slip].half_breadth_mm + 25.4)
    line = lay_batten([(m.half_breadth_mm, m.height_mm) for m in here], hull.boat.sigma_mm)
    named = {suspect.mark for suspect in line.suspects}
    section = Section(
        BATTEN_AT,
        hull.stations[BATTEN_AT],
        line.s_mm,
        *line.points_mm.T,
        line.sd_mm,
        np.zeros(len(line.s_mm)),
        line.curvature_per_mm,
    )
    offs = [Off(m.number, float(line.residual_mm[i]), i in named) for i, m in enumerate(here)]
    return fair_line_drawing(section, here, offs)


def lighter(drawing: Drawing) -> Drawing:
    """Leave out points that move no line by a thirtieth of a millimetre on paper, and the names under the pointer."""

    def less(item: Item) -> Item:
        if isinstance(item, Polyline) and len(item.points) > 2:
            kept = np.array(LineString(item.points).simplify(0.03 * drawing.one_to).coords)
            return replace(item, points=kept, title="")
        return replace(item, title="") if hasattr(item, "title") else item

    return replace(drawing, items=tuple(less(item) for item in drawing.items))


def drawings(demo: Path, to: Path) -> None:
    """Write the pictures of docs/fairing.md as SVG; the body plan shows some frames only, or it would be too large."""
    to.mkdir(parents=True, exist_ok=True)
    engine = store.open_boat(demo / "merganser.boat")
    work = kept(engine)
    engine.dispose()
    hull = work.hull()
    some = list(hull.stations)[1::SHOWN]
    few = replace(
        hull, stations={f: hull.stations[f] for f in some}, offs=tuple(o for o in hull.offs if o.frame in some)
    )
    planes = default_diagonals(hull)
    made = {
        "fairing-body-plan": fairing_body_plan(few),
        "fairing-missing-frame": missing_frame(work.marks, hull),
        "fairing-diagonals": diagonals_drawing(
            hull, [line_in(hull, plane) for plane in planes], fairness(hull, planes), combs=False
        ),
        "fairing-batten": batten_with_a_slip(work.marks, hull),
    }
    for name, drawing in made.items():
        text = page_svg(lighter(drawing), ground=True)
        if len(text.encode()) > MOST_BYTES:
            raise SystemExit(f"{name}: {len(text.encode())} bytes; leave something out.")
        (to / f"{name}.svg").write_text(text, encoding="utf-8")


def save(picture: bytes, to: Path) -> None:
    """Keep a picture of a page in as few colours as it needs; the limit holds."""
    Image.open(io.BytesIO(picture)).convert("RGB").quantize(64, method=Image.Quantize.FASTOCTREE).save(
        to, optimize=True
    )
    if (size := to.stat().st_size) > MOST_BYTES:
        raise SystemExit(f"{to.name}: {size} bytes; take less of the page.")


def main(demo: Path, to: Path) -> None:
    """Serve the demo boat, take its pages, and turn the first bench sheet into a picture."""
    from playwright.sync_api import sync_playwright

    to.mkdir(parents=True, exist_ok=True)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    program = Path(sys.executable).parent / "scrieve"
    server = subprocess.Popen(
        [program, "serve", demo / "merganser.boat", "--port", str(port)], stdout=subprocess.DEVNULL
    )
    base = f"http://127.0.0.1:{port}"
    try:
        for _ in range(120):
            try:
                if urllib.request.urlopen(base).status == 200:
                    break
            except OSError:
                pass
            time.sleep(0.5)
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
            page = browser.new_page(device_scale_factor=1)
            page.set_default_timeout(120_000)
            for name, (address, width, last) in PAGES.items():
                page.set_viewport_size({"width": width, "height": 820})
                page.goto(base + address)
                page.locator("[data-pending]").first.wait_for(state="detached", timeout=60_000)
                page.wait_for_timeout(500)
                end = page.locator(last).first.evaluate("e => e.getBoundingClientRect().bottom + scrollY")
                page.set_viewport_size({"width": width, "height": int(end) + 20})
                page.wait_for_timeout(500)
                save(page.screenshot(), to / f"{name}.png")
            browser.close()
    finally:
        server.terminate()
        server.wait()
    sheet = demo / "sheets" / "frame-14-bench.pdf"
    made = to / "frame-sheet"
    subprocess.run(["pdftoppm", "-r", "72", "-f", "1", "-l", "1", "-singlefile", "-png", sheet, made], check=True)
    save(made.with_suffix(".png").read_bytes(), made.with_suffix(".png"))


if __name__ == "__main__":
    places = [Path(word) for word in sys.argv[1:] if not word.startswith("--")]
    drawings(*places)
    if "--drawings" not in sys.argv:
        main(*places)
