"""The main job by the keyboard alone: Tab, Enter, arrows and typing; what has the keys is seen, and nothing holds them.

Nothing here clicks, and no page is opened by its address but the first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest
from boats import PATIENCE_S
from click.testing import CliRunner
from playwright.sync_api import Page, expect
from test_browser import browser, served  # noqa: F401  fixtures
from test_journey_browser import HEIGHTS, STATIONS, half_breadth

from scrieve import store
from scrieve.cli.program import scrieve
from scrieve.takeoff.marks import Mark
from scrieve.web import create_app

pytestmark = pytest.mark.browser

#: What has the keys: its role, what it is called, and whether it is seen to have them: an outline, on the screen.
HELD = """() => {
  const e = document.activeElement;
  if (!e || e === document.body) return null;
  const label = e.getAttribute('aria-label') || [...(e.labels || [])].map((l) => l.textContent).join(' ')
    || e.textContent || e.name || '';
  const box = e.getBoundingClientRect(), style = getComputedStyle(e);
  const outlined = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
  const there = box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth;
  return { tag: e.tagName.toLowerCase(), name: label.trim().replace(/\\s+/g, ' '), seen: outlined && there };
}"""

#: Two pictures of the page have been drawn.
DRAWN = "() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))"


@dataclass
class Keys:
    """Somebody with a keyboard and no mouse."""

    page: Page

    def tab_to(self, name: str, tag: str = "", most: int = 160) -> None:
        """Press Tab until what is called so has the keys; each stop on the way is seen.

        Nobody presses a key before the page is to be seen: one asked for with a ``#part`` goes there when it is first
        drawn, on a slow machine some time after it has loaded, and would take from sight what the keys had met.
        """
        expect(self.page.locator("h1")).not_to_have_text("Fairing…")  # that one goes by itself
        self.page.wait_for_function(DRAWN)
        for _ in range(most):
            self.page.keyboard.press("Tab")
            held = self.page.evaluate(HELD)
            if held is None:  # past the last, before the first
                continue
            assert held["seen"], f"{held} has the keys, and nobody sees it, at {self.page.url}"
            if held["name"].startswith(name) and tag in ("", held["tag"]):
                return
        raise AssertionError(f"{most} times Tab, and {name!r} was not met at {self.page.url}")

    def enter(self) -> None:
        """Press Enter on a link or a button, or in a field, which sends its form; wait for the page that answers."""
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")

    def press(self, name: str, tag: str = "") -> None:
        """Go to a link or a button, and press it."""
        self.tab_to(name, tag)
        self.enter()

    def put(self, name: str, text: str) -> None:
        """Go to a field and type over what stood there."""
        self.tab_to(name, "input")
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(text)

    def choose(self, name: str, starts: str) -> None:
        """Go to a list and type how the choice begins."""
        self.tab_to(name, "select")
        self.page.keyboard.type(starts)

    def heading(self, text: str) -> None:
        expect(self.page.locator("h1")).to_contain_text(text)

    def type_marks(self, frame: int, wrong: dict[int, float] | None = None) -> None:
        """Type a frame's marks with Enter from figure to figure."""
        self.put("Frame", str(frame))
        self.put("Station", str(STATIONS[frame]))
        self.choose("Hand", "both")
        self.tab_to("Height", "input")
        for height in HEIGHTS:
            self.page.keyboard.type(str(height))
            self.page.keyboard.press("Enter")
            self.page.keyboard.type(f"{half_breadth(frame, height) + (wrong or {}).get(height, 0):.0f}")
            self.page.keyboard.press("Enter")


@pytest.fixture
def keys(browser, tmp_path):  # noqa: F811
    path = tmp_path / "teal.boat"
    new = ["new", str(path), "--name", "Teal", "--planking", "inside", "--units", "mm", "--beam", "1800"]
    made = CliRunner().invoke(scrieve, new)
    assert made.exit_code == 0, made.output
    engine = store.open_boat(path)
    rows = [
        Mark(str(frame), STATIONS[frame], float(height), round(half_breadth(frame, height)))
        for frame in (1, 2, 3, 5, 6, 7)
        for height in HEIGHTS
    ]
    store.add_marks(engine, rows)
    engine.dispose()
    with (
        served(create_app(path)) as address,
        browser.new_context(reduced_motion="reduce", viewport={"width": 1280, "height": 900}) as context,
    ):
        page = context.new_page()
        page.set_default_timeout(1000 * PATIENCE_S)
        page.goto(address)
        yield Keys(page)


def test_from_marks_to_a_measured_frame_with_the_keyboard_alone(keys):
    page = keys.page
    keys.press("Take-off", "a")
    keys.press("Offsets")
    keys.heading("Take marks off")
    keys.type_marks(4, {1000: 25.4})
    expect(page.locator("[data-row='5'] .verdict")).to_contain_text("Likely a slip")
    keys.press("Store", "button")
    expect(page.locator("#doubted")).to_be_visible()
    keys.tab_to("leave it out", "input")
    page.keyboard.press("ArrowDown")
    assert page.evaluate("document.activeElement.closest('label').textContent").strip() == "store it, to be doubted"
    keys.press("Store with these answers")
    keys.heading("6 marks on 1 frame stored")

    keys.press("Fairing", "a")
    page.wait_for_selector("text=All 8 together")
    keys.press("drop", "button")
    expect(page.locator("strong", has_text="dropped")).to_be_visible()

    keys.press("Frames", "a")
    keys.press("Frame 4", "a")
    for name, text in {"Timber": "larch", "Sided": "40", "Moulded": "50"}.items():
        keys.put(name, text)
    keys.enter()
    expect(page.locator(".lead")).to_contain_text("designed")

    keys.press("Set the jig", "a")
    keys.press("To the bench", "a")
    for bracket in ("1", "2"):
        expect(page.locator("h1 .no")).to_have_text(bracket)
        keys.enter()
    expect(page.locator("h1 .no")).to_have_text("3")

    keys.press("Frame 4", "a")
    keys.press("4", "a")
    keys.press("Off the jig", "a")
    keys.heading("after release")
    keys.tab_to("1", "input")
    places = page.locator(".marks-typed input").count()
    for k in range(places):
        page.keyboard.type(f"{4 * math.cos(2 * math.pi * k / (places - 1)):.1f}")
        page.keyboard.press("Tab")
    keys.press("Store what was measured")
    expect(page.locator("#seen h2")).to_contain_text("Off the jig")
