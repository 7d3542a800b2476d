"""The enlarged frame in a real browser: a mark is dragged, by mouse and by finger, typed and moved by keys."""

from __future__ import annotations

import time

import pytest
from boats import TestClient, until
from dots import DOT
from playwright.sync_api import Page
from test_browser import browser, served, visit  # noqa: F401  (fixtures)

from scrieve import chain, store

pytestmark = pytest.mark.browser

PAGE = "/fairing?show=frame&frame=3&times=20"
LINE = "() => document.querySelector('[data-trial] .ly-moulded-line path').getAttribute('d')"
SCALE = "() => document.querySelector('[data-trial] svg').getScreenCTM().a"
ANSWERS = "() => performance.getEntriesByName('trial').length"


@pytest.fixture
def client(small) -> TestClient:
    return small()


def answered(page: Page, more_than: int = 0) -> None:
    """Wait until an answer has come, and no other is on its way."""
    end, count = time.monotonic() + 60, more_than
    while time.monotonic() < end:
        page.wait_for_timeout(300)
        before, count = count, page.evaluate(ANSWERS)
        if count == before > more_than:
            return
    raise AssertionError("no answer came")


def half_breadth(page: Page) -> float:
    return float(page.locator("#try [name=half_breadth]").input_value())


def test_a_mark_is_dragged_the_line_follows_and_is_put_back_and_nothing_is_stored(visit, client):  # noqa: F811
    engine = client.app.state.boat.engine
    acts, mark = store.acts(engine), store.marks(engine)[17]
    with served(client.app) as address:
        page = visit(address + PAGE)
        x, y = page.evaluate(DOT, 18)
        before, scale = page.evaluate(LINE), page.evaluate(SCALE)
        page.mouse.move(x, y)
        page.mouse.down()
        for step in range(1, 9):
            page.mouse.move(x + 4 * step, y)
            page.wait_for_timeout(30)
        page.mouse.up()
        answered(page)
        # the drawing is stretched 20 times: 32 px to the right are so many mm of half-breadth
        assert half_breadth(page) == pytest.approx(mark.half_breadth_mm + 32 / scale / 20, abs=0.11)
        assert page.evaluate(LINE) != before
        assert "the line at this mark moves" in page.locator("[data-told]").inner_text()
        assert page.locator("[data-trial] .ly-other-face path").count() == 2  # as stored, dashed, on both hands
        assert page.locator(".moves .own dt").inner_text() == "frame 3"
        page.get_by_role("link", name="Put back").click()
        assert until(lambda: page.evaluate(LINE) == before)
        assert half_breadth(page) == pytest.approx(mark.half_breadth_mm, abs=0.051)
        assert page.locator("[data-told]").inner_text() == ""
        assert page.url.endswith(PAGE), "a drag opens nothing"
    assert store.acts(engine) == acts


def test_a_mark_dropped_on_another_stays_the_one_that_is_tried(visit, client):  # noqa: F811
    with served(client.app) as address:
        page = visit(address + PAGE)
        page.evaluate(DOT, 18)
        page.wait_for_timeout(600)  # the page scrolls there; where both lie is asked in one look, without more of it
        still = DOT.replace("link.scrollIntoView({ block: 'center', inline: 'center' });", "")
        here, there = (page.evaluate(still, number) for number in (18, 17))
        page.mouse.move(*here)
        page.mouse.down()
        page.mouse.move(*there)  # dropped before any answer has come: the other mark lies under the hand
        page.mouse.up()
        answered(page)
        assert page.locator("[data-which]").inner_text() == "18"
        assert "Mark 18 tried at" in page.locator("[data-told]").inner_text()


def test_arrow_keys_and_fields_move_the_chosen_mark(visit, client):  # noqa: F811
    mark = store.marks(client.app.state.boat.engine)[17]
    with served(client.app) as address:
        page = visit(address + PAGE, 820)
        before = page.evaluate(LINE)
        page.get_by_role("link", name="18 take hold of").click()
        for key, out, up in (("ArrowRight", 1, 0), ("Shift+ArrowRight", 11, 0), ("ArrowUp", 11, 1)):
            count = page.evaluate(ANSWERS)
            page.keyboard.press(key)
            answered(page, count)
            assert half_breadth(page) == pytest.approx(mark.half_breadth_mm + out, abs=0.051), key
            assert float(page.locator("#try [name=height]").input_value()) == mark.height_mm + up
        assert page.evaluate(LINE) != before
        page.keyboard.press("Escape")
        assert until(lambda: page.evaluate(LINE) == before)
        page.locator("#try [name=half_breadth]").fill("wide")
        page.locator("[data-error]:not([hidden])").wait_for()
        assert "half-breadth: found 'wide'" in page.locator("[data-error]").inner_text()
        count = page.evaluate(ANSWERS)
        page.locator("#try [name=half_breadth]").fill(f"{mark.half_breadth_mm + 2:.1f}")
        answered(page, count)
        assert page.locator("[data-error]").is_hidden()
        assert page.evaluate(LINE) != before


def test_a_finger_on_a_mark_moves_it_and_not_the_page(visit, client):  # noqa: F811
    engine = client.app.state.boat.engine
    acts, mark = store.acts(engine), store.marks(engine)[17]
    with served(client.app) as address:
        page = visit(address + PAGE, 375)
        x, y = page.evaluate(DOT, 18)
        scale, top = page.evaluate(SCALE), page.locator("[data-trial] svg").bounding_box()["y"]
        touch = page.context.new_cdp_session(page)
        for kind, up in (("touchStart", 0), ("touchMove", 10), ("touchMove", 20), ("touchMove", 30), ("touchEnd", 0)):
            points = [] if kind == "touchEnd" else [{"x": x, "y": y - up}]
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
        answered(page)
        assert page.locator("[data-trial] svg").bounding_box()["y"] == pytest.approx(top, abs=1)
        height = float(page.locator("#try [name=height]").input_value())
        assert height == pytest.approx(mark.height_mm + 30 / scale / 20, abs=0.2)
    assert store.acts(engine) == acts


@pytest.mark.parametrize("width", [375, 820, 1280])
def test_the_enlarged_frame_fits_its_screen_with_a_mark_in_hand(visit, client, width):  # noqa: F811
    from test_browser import PALE_TEXTS, SMALL_TARGETS

    with served(client.app) as address:
        page = visit(f"{address}{PAGE}&combs=1&mark=18&height=300&half_breadth=610", width)
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0
        assert page.evaluate(SMALL_TARGETS) == []
        assert page.evaluate(PALE_TEXTS) == []
        svg, view = (page.locator(f"[data-trial] {what}").bounding_box() for what in ("svg", ".view"))
        assert svg["width"] <= view["width"] + 1, "the whole frame is seen at first"


def test_the_waiting_page_comes_back_though_the_address_leads_to_a_place_on_it(visit, small, monkeypatch):  # noqa: F811
    """A refresh without an address is none where the address ends in a place on the page."""
    client = small(slip_mm=150.0)
    plain = chain.fair

    def slow(*args: object, **how: object) -> object:
        time.sleep(1.5)
        return plain(*args, **how)

    monkeypatch.setattr(chain, "fair", slow)
    with served(client.app) as address:
        page = visit(address + "/", 820)
        page.get_by_role("button", name="drop mark 18").click()
        page.locator("strong", has_text="dropped").wait_for()


def test_on_a_phone_the_words_of_the_drawing_stand_below_it_until_it_is_enlarged(visit, client):  # noqa: F811
    with served(client.app) as address:
        page = visit(address + PAGE, 375)
        page.locator("[data-trial]").scroll_into_view_if_needed()
        legend, words = page.locator(".board .legend"), page.locator(".board svg text", has_text="departures and")
        legend.wait_for()
        assert "departures and band (± 2 sd) from the stored line drawn 20 times" in legend.inner_text()
        assert words.evaluate("(each) => getComputedStyle(each).visibility") == "hidden"
        assert not page.locator("#try").is_visible(), "nothing is asked of a mark before one is chosen"
        for _ in range(4):
            page.get_by_role("button", name="Larger").click()
        assert not legend.is_visible()
        assert words.evaluate("(each) => getComputedStyle(each).visibility") == "visible"
