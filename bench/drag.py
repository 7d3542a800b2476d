"""How quickly the line follows a mark: `python bench/drag.py DEMO` (a folder made by `make demo`); met or not.

A browser on this machine opens one frame enlarged on the Fairing page and moves a mark with its own mouse. Timed in the
page, by the browser's clock: from the moment at which the pointer moved (or a figure was typed) to the first picture
painted after the line was drawn anew. Beside it the processor's seconds of server and browser for each answer. Run it
on an idle machine: the driver, the browser and the server share it.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
from pathlib import Path

import numpy as np
from pages import FLAGS, Told, processor_s, served
from playwright.sync_api import Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "web"))

from dots import DOT

FRAME = "17"
ROUND_TRIP_MS = 150.0
MOVES = 40
#: Notes when the pointer or the keys did something, when the line was next drawn, and when that had been painted.
WATCH = """() => {
  const svg = document.querySelector('[data-trial] svg');
  const line = () => svg.querySelector('.ly-moulded-line path').getAttribute('d');
  window.timed = [];
  let since = null, last = line();
  const begin = (event) => { if (since === null) since = event.timeStamp; };
  document.addEventListener('pointermove', (event) => { if (event.buttons) begin(event); }, { capture: true });
  document.addEventListener('input', begin, { capture: true });
  new MutationObserver(() => {
    if (line() === last) return;
    last = line();
    const began = since;
    since = null;
    if (began === null) return;
    requestAnimationFrame(() => { // after this picture has been made: the next task comes once it is painted
      const channel = new MessageChannel();
      channel.port1.onmessage = () => window.timed.push(performance.now() - began);
      channel.port2.postMessage(0);
    });
  }).observe(svg, { childList: true });
}"""


def waited(page: Page, many: int) -> None:
    """Wait until so many answers have been painted."""
    for _ in range(4000):  # the pages allow no script of elsewhere that waits
        if page.evaluate("window.timed.length") >= many:
            return
        page.wait_for_timeout(5)
    raise TimeoutError(f"answer {many} was not painted within 20 s.")


def told_times(told: Told, what: str, times: list[float]) -> None:
    """The bar on 19 of 20, and the middle and the slowest beside it."""
    print(f"         {what}: {len(times)} answers, half of them within {np.median(times):.0f} ms, "
          f"the slowest {max(times):.0f} ms")  # fmt: skip
    told.bar(f"{what}, 19 of 20 within", float(np.quantile(times, 0.95)), ROUND_TRIP_MS, "ms")


def one_by_one(page: Page, told: Told) -> None:
    """A mark in hand is moved a little, and the line waited for, again and again."""
    number = page.locator("tr[data-mark]:not(.suspect)").nth(4).get_attribute("data-mark")
    x, y = page.evaluate(DOT, number)
    page.wait_for_timeout(800)
    x, y = page.evaluate(DOT, number)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 8, y)  # takes hold of it
    waited(page, 1)
    for n in range(1, MOVES + 1):
        page.mouse.move(x + 8 + 6 * np.sin(n), y + 6 * np.cos(n))
        waited(page, n + 1)
    page.mouse.up()
    told_times(told, "a mark dragged, pointer to painted line", page.evaluate("window.timed")[1:])


def swept(page: Page, pid: int, seconds: float = 3.0) -> None:
    """A mark is drawn along without a stop, as a hand does it: how many lines a second are seen."""
    number = page.locator("tr[data-mark]:not(.suspect)").nth(5).get_attribute("data-mark")
    x, y = page.evaluate(DOT, number)
    page.wait_for_timeout(800)
    x, y = page.evaluate(DOT, number)
    before, done = processor_s(pid), page.evaluate("window.timed.length")
    page.mouse.move(x, y)
    page.mouse.down()
    start = page.evaluate("performance.now()")
    n = 0
    while page.evaluate("performance.now()") < start + 1000 * seconds:
        n += 1
        page.mouse.move(x + 20 * np.sin(n / 15), y)
    page.mouse.up()
    page.wait_for_timeout(400)
    seen = page.evaluate("window.timed.length") - done
    cost = processor_s(pid) - before
    print(f"         drawn along without a stop: {seen / seconds:.0f} lines a second, processor of the server "
          f"{1000 * cost / max(seen, 1):.0f} ms a line")  # fmt: skip


def typed(page: Page, told: Told) -> None:
    """A figure of the chosen mark is typed anew, a digit at its end at a time."""
    field = page.locator("#try [name=half_breadth]")
    value = float(field.input_value())
    page.evaluate("window.timed.length = 0")
    for n in range(1, 13):
        field.fill(f"{value + n / 2:.1f}")
        waited(page, n)
    told_times(told, "a mark retyped, last key to painted line", page.evaluate("window.timed"))


def main() -> None:
    """Run all of it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("demo", type=Path, help="folder with merganser.boat, as `make demo` writes it")
    given, told = parser.parse_args(), Told()
    print(f"         load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    own = shutil.which("chromium") or shutil.which("chromium-browser")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        boat = Path(folder) / "merganser.boat"
        shutil.copy(given.demo / "merganser.boat", boat)
        with served(boat) as (base, pid):
            browser = play.chromium.launch(executable_path=own, args=FLAGS)
            for width, height in ((1280, 900), (820, 1180)):
                print(f"         a screen of {width} × {height}")
                page = browser.new_page(viewport={"width": width, "height": height})
                page.goto(f"{base}/fairing?show=frame&frame={FRAME}", wait_until="networkidle")
                page.evaluate(WATCH)
                one_by_one(page, told)
                typed(page, told)
                swept(page, pid)
                page.close()
            browser.close()
    sys.exit(f"{told.missed} bars not met" if told.missed else None)


if __name__ == "__main__":
    main()
