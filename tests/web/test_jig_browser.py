"""The bench view in a real browser: ticked by finger and by key, reloaded, without scripts, read from two metres."""

from __future__ import annotations

import pytest
from boats import TestClient
from test_browser import SMALL_TARGETS, WIDTHS, browser, served, visit  # noqa: F401

from scrieve import store
from scrieve.frames.choice import FrameChoice
from scrieve.frames.jig.setting_kept import JigKept

pytestmark = pytest.mark.browser


@pytest.fixture
def framed(small):
    client: TestClient = small()
    choice = FrameChoice("4", moulded_mm=30.0, lamination_mm=4.0, sided_mm=30.0, pitch_mm=160.0, trim_mm=50.0)
    entry = {"choice": choice.to_mapping(), "station_mm": None}
    store.keep_frame(client.app.state.boat.engine, "4", entry)
    return client


def _ticked(client: TestClient) -> tuple[int, ...]:
    return JigKept.of(store.choices(client.app.state.boat.engine, "jig")).bench.ticked


def _number(page) -> str:
    return page.locator("h1 .no").inner_text()


def test_brackets_are_ticked_and_a_reload_goes_on_where_it_was(visit, framed):  # noqa: F811
    with served(framed.app) as address:
        page = visit(address + "/jig/bench?frame=4", 375)
        assert _number(page) == "1"
        page.get_by_role("button", name="done, next").click()
        page.wait_for_selector(".no:text-is('2')")
        page.reload()
        assert _number(page) == "2"
        page.keyboard.press("Enter")
        page.wait_for_selector(".no:text-is('3')")
        assert _ticked(framed) == (1, 2)
        page.keyboard.press("ArrowLeft")
        page.wait_for_selector(".no:text-is('2')")
        page.get_by_role("button", name="Not so").click()
        page.wait_for_selector("text=where it stands now is not known")
        assert _ticked(framed) == (1,)
        page.keyboard.press("ArrowRight")
        page.wait_for_selector(".no:text-is('3')")
        assert _ticked(framed) == (1,), "an arrow ticks nothing"
        plain = visit(address + "/jig/bench?frame=4", 820, java_script_enabled=False)
        assert _number(plain) == "2"
        plain.get_by_role("button", name="done, next").click()
        plain.wait_for_selector(".no:text-is('3')")
        assert _ticked(framed) == (1, 2)


DIGITS = """() => {
  const p = document.querySelector('.digits'), s = getComputedStyle(p), box = p.getBoundingClientRect();
  const inside = box.right <= innerWidth && p.scrollWidth <= box.width + 1;
  return [parseFloat(s.fontSize), s.fontVariantNumeric, s.color, inside];
}"""


#: Figures that their table's own frame cuts off.
HIDDEN = """cells => cells.filter(cell =>
    cell.getBoundingClientRect().right > cell.closest(".scroll").getBoundingClientRect().right + 1
).map(cell => cell.textContent)"""


def test_the_figure_is_large_and_every_page_fits(visit, framed):  # noqa: F811
    """Figures a two-hundredth of the distance high (common practice, no source): 10 mm at two metres, 38 px of CSS."""
    with served(framed.app) as address:
        page = visit(address + "/jig", 375)
        for width, height in WIDTHS.items():
            page.set_viewport_size({"width": width, "height": height})
            for path in ("/jig/bench?frame=4", "/jig/bench?frame=4&prove=1", "/jig", "/jig?frame=4", "/jig/order"):
                page.goto(address + path)
                wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
                assert wide <= 0, f"{path} at {width} runs {wide} px out of the screen"
                assert page.evaluate(SMALL_TARGETS) == [], f"{path} at {width}"
                hidden = page.eval_on_selector_all(".proof td.fig", HIDDEN)
                assert hidden == [], f"{path} at {width}"
            page.goto(address + "/jig/bench?frame=4")
            size, figures, colour, inside = page.evaluate(DIGITS)
            assert size * 0.7 > 38 * 1.5, "cap height, with half as much again for a dusty screen"
            assert (figures, colour, inside) == ("tabular-nums", "rgb(0, 0, 0)", True)
