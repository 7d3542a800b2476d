"""Hands and eyes in a real browser: the keypad, taking back by one tap, and every page looked through by axe-core."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from test_browser import OPENED, PAGES, PALE_TEXTS, browser, served, visit  # noqa: F401

from scrieve import store
from scrieve.units import format_length, parse_length

pytestmark = pytest.mark.browser

#: These are made of the same parts as another that is looked through.
ALIKE = {"/marks", "/fairing?times=20&combs=1", "/fairing?mark=5", "/frames/17", "/log?member=frame+14", "/release",
         "/undo?act=1", "/marks/new?way=ordinates&frame=17&side=P", "/marks/new?way=tapes&frame=17&side=P",
         "/marks/new?way=templates&frame=17&side=P", "/away"}  # fmt: skip
LOOKED_THROUGH = [path for path in PAGES if path not in ALIKE] + ["/round"]
#: axe-core runs its own tests of the Web Content Accessibility Guidelines, levels A and AA.
AXE = """async () => (await axe.run({exclude: ['svg']}, {resultTypes: ['violations'],
  runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']})).violations
  .filter((v) => ['serious', 'critical'].includes(v.impact))
  .flatMap((v) => v.nodes.slice(0, 3).map((n) => [v.id, n.html.slice(0, 160), n.failureSummary.slice(0, 200)].join()))
"""


def test_no_page_bars_anybody(browser, merganser):  # noqa: F811
    """axe-core at a phone's width in one theme, contrast at a desk's in the other; pages take turns."""
    found = {}
    with served(merganser) as address, browser.new_context(reduced_motion="reduce") as context:
        page = context.new_page()
        for number, path in enumerate(LOOKED_THROUGH):
            themes = ("night", "paper") if number % 2 else ("paper", "night")
            page.goto(address + path)
            page.evaluate(OPENED)
            page.evaluate(Axe().axe_script)
            for (width, height), theme in zip(((375, 812), (1280, 900)), themes, strict=True):
                page.set_viewport_size({"width": width, "height": height})
                page.evaluate("(theme) => { document.documentElement.dataset.theme = theme; }", theme)
                if said := page.evaluate(AXE) if width == 375 else page.evaluate(PALE_TEXTS):
                    found[path, width, theme] = said
    assert found == {}, "\n".join(f"{k} {v}" for k, v in found.items())


def _press(page, *keys: str) -> None:
    for key in keys:
        page.locator(f".keypad [data-key='{key}']").tap()


def test_feet_inches_and_eighths_are_tapped(visit, small):  # noqa: F811
    """What is tapped is what units.py writes: 3 ft 4 in and 5/8, a sixteenth more, below its datum."""
    with served(small(units="ft").app) as address:
        page = visit(address + "/marks/new?way=offsets&frame=4&side=P", 375)
        height = page.locator("input[name='r1.height']")
        height.tap()
        assert height.get_attribute("inputmode") == "none"
        boxes = page.locator(".keypad button").evaluate_all("all => all.map((e) => e.getBoundingClientRect().toJSON())")
        assert len(boxes) > 20
        assert min(min(box["width"], box["height"]) for box in boxes) >= 48
        assert max(box["right"] for box in boxes) <= 375
        _press(page, "3", "part", "4", "e5", "+")
        assert height.input_value() == "3-4-5+" == format_length(parse_length("3-4-5+"), "ft")
        _press(page, "below")
        assert height.input_value() == format_length(-parse_length("3-4-5+"), "ft")
        assert (
            page.locator(".keypad [role=status]")
            .inner_text()
            .startswith("below its datum, 3 feet, 4 inches, 5 eighths")
        )
        _press(page, "-")
        assert height.input_value() == "(3-4-5-)"
        _press(page, "erase", "erase", "erase", "erase", "erase")
        assert height.input_value() == ""
        _press(page, "2", "part", "1", "9")
        assert "0 to 11" in page.locator(".keypad output").inner_text()
        assert height.input_value() == "2-1-0"
        _press(page, "next")
        assert page.evaluate("document.activeElement.name") == "r1.half_breadth"
        assert height.get_attribute("inputmode") != "none", "the device's own keyboard is given back"
        page.keyboard.type("1-2-3")
        _press(page, "e7", "done")
        assert page.locator("input[name='r1.half_breadth']").input_value() == "1-2-7"
        assert not page.locator(".keypad").is_visible()


def test_millimetres_write_over_what_stood_there_and_letters_let_it_be_typed(visit, small):  # noqa: F811
    client = small()
    with served(client.app) as address:
        page = visit(address + "/settings", 375)
        field = page.locator("input[name=thickness]")
        page.keyboard.press("Tab")
        field.focus()
        assert not page.locator(".keypad").is_visible(), "it opens for fingers, not for keys"
        field.tap()
        _press(page, "2", "8", ".", ".", "5")
        assert field.input_value() == "28.5"
        _press(page, "letters")
        assert not page.locator(".keypad").is_visible()
        page.keyboard.press("End")
        page.keyboard.type(" mm")
        page.get_by_role("button", name="Keep the settings").click()
        page.wait_for_url(address + "/")
        engine = client.app.state.boat.engine
        assert store.boat(engine).thickness_mm == 28.5
        page.wait_for_selector("form.undo")
        page.get_by_role("button", name="Take back").tap()
        page.wait_for_selector("text=Taken back.")
        assert store.boat(engine).thickness_mm == 0.0


def test_with_a_mouse_the_keypad_comes_by_its_button(visit, small):  # noqa: F811
    with served(small().app) as address:
        page = visit(address + "/settings", 1280)
        page.locator("input[name=thickness]").click()
        assert not page.locator(".keypad").is_visible()
        page.get_by_role("button", name="Keypad for lengths").click()
        assert page.locator(".keypad").is_visible()
        assert page.locator(".keypad").get_attribute("aria-label") == "Keypad: Thickness of the planking"
        page.keyboard.press("Escape")
        assert not page.locator(".keypad").is_visible()
        assert page.evaluate("document.activeElement.name") == "thickness", "the field has the focus again"
