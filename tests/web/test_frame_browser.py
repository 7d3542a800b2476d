"""One frame in a real browser: tabs that a reload keeps, and drawings that follow what is typed, the latest only."""

from __future__ import annotations

import math
import re

import pytest
from boats import TestClient
from test_browser import SMALL_TARGETS, WIDTHS, browser, served, visit  # noqa: F401

from scrieve import store
from scrieve.frames.choice import FrameChoice

pytestmark = pytest.mark.browser

TABS = ["shape", "bend", "bevel", "jig", "glue-up", "judged", "history"]


@pytest.fixture
def framed(small):
    client: TestClient = small()
    choice = FrameChoice("4", moulded_mm=30.0, lamination_mm=5.0, sided_mm=30.0)
    store.keep_frame(client.app.state.boat.engine, "4", {"choice": choice.to_mapping(), "station_mm": None})
    return client


def open_tabs(page) -> list[str]:
    return [name for name in TABS if page.locator(f"#{name} h2").first.is_visible()]


def test_one_tab_at_a_time_kept_by_a_reload_and_without_scripts(visit, framed):  # noqa: F811
    with served(framed.app) as address:
        page = visit(address + "/frames/4", 375)
        assert open_tabs(page) == ["shape"]
        page.get_by_role("link", name="Jig", exact=True).last.click()
        assert open_tabs(page) == ["jig"]
        page.reload()
        assert open_tabs(page) == ["jig"]
        for width, height in WIDTHS.items():
            page.set_viewport_size({"width": width, "height": height})
            for name in TABS:
                page.goto(f"{address}/frames/4#{name}")
                wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
                assert wide <= 0, f"{name} at {width} runs {wide} px out of the screen"
                assert page.evaluate(SMALL_TARGETS) == [], f"{name} at {width}"
        plain = visit(address + "/frames/4#history", 820, java_script_enabled=False)
        assert open_tabs(plain) == ["history"]


def test_the_drawing_follows_what_is_typed_and_nothing_is_stored(visit, framed):  # noqa: F811
    engine = framed.app.state.boat.engine
    before = store.frames(engine)
    with served(framed.app) as address:
        page = visit(address + "/frames/4#bend", 820)
        told = page.locator("#live .verdict-line")
        assert "laminations of 5.0 mm" in told.inner_text()
        drawn = page.locator("#live svg").first.inner_html()
        why = page.locator("#live .facts div:has(dt:text-is('springback')) details")
        why.locator("summary").click()
        lost = why.locator("summary").inner_text()
        page.get_by_label("Thickness of laminations").fill("4")
        page.wait_for_selector("#live .verdict-line:has-text('laminations of 4.0 mm')")
        assert why.locator("summary").inner_text() != lost
        assert why.get_attribute("open") is not None, "the working of a figure that changes stays open"
        assert page.locator("#live svg").first.inner_html() != drawn
        assert page.locator("#bend .trial").is_visible()
        bevels = page.locator("[data-also=bevel] table").first
        there = bevels.text_content()
        page.get_by_label("Sided", exact=True).fill("60")
        with page.expect_response("**/frames/try"):
            page.get_by_label("Moulded", exact=True).fill("70")
        page.wait_for_selector("#live:not(.old)")
        assert bevels.text_content() != there
        assert "as it is typed under Bend" in page.locator("#bevel .trial").text_content()
        assert not page.locator("#jig .trial").evaluate("note => note.hidden")
        page.wait_for_selector("#strength td:text-is('70.0')")
        met = page.locator("#live .verdict-line").inner_text()
        told_of = page.locator("[data-also=judged] section p").first.text_content()
        assert re.findall(r"\d+", told_of)[-1] in re.findall(r"\d+", met)
        assert f"{page.locator('#judged .checks tbody tr').count()}" in re.findall(r"\d+", told_of)
        assert "joints" in page.locator("[data-also=glue]").text_content()
        page.get_by_label("Moulded", exact=True).fill("thick")
        page.wait_for_selector("#live .said")
        assert "laminations of 4.0 mm" in told.inner_text(), "what was drawn last stays, and is said to be old"
        page.get_by_role("button", name="Back to what is stored").click()
        page.wait_for_selector("#live .verdict-line:has-text('laminations of 5.0 mm')")
        assert not page.locator("#bend .trial").is_visible()
        assert store.frames(engine) == before


def test_an_answer_that_comes_too_late_is_dropped(visit, framed):  # noqa: F811
    with served(framed.app) as address:
        page = visit(address + "/frames/4#bend", 1280)

        held = []

        def slow(route) -> None:
            held.append(route) if "lamination_mm=4&" in route.request.post_data else route.continue_()

        page.route("**/frames/try", slow)
        page.evaluate("AbortController.prototype.abort = () => {}")  # even where the request cannot be called back
        field = page.get_by_label("Thickness of laminations")
        field.fill("4")
        page.wait_for_timeout(400)
        field.fill("3")
        page.wait_for_selector("#live .verdict-line:has-text('laminations of 3.0 mm')")
        with page.expect_response("**/frames/try"):
            held[0].continue_()  # the answer to what was typed first comes last
        page.wait_for_timeout(150)
        assert "laminations of 3.0 mm" in page.locator("#live .verdict-line").inner_text()


def test_a_figure_pressed_in_a_table_opens_its_own_working_and_all_open_without_scripts(visit, framed):  # noqa: F811
    with served(framed.app) as address:
        page = visit(address + "/frames/4#bevel", 375)
        table = page.locator("#bevel .worked").first
        cell = table.locator("tbody tr").nth(1).locator("td").nth(4)
        cell.click()
        own = table.locator("tr.own")
        wood, sided, bevel = (float(x) for x in re.findall(r"-?[\d.]+(?= mm|°)", own.locator("li").inner_text())[:3])
        assert math.degrees(math.atan(wood / sided)) == pytest.approx(bevel, abs=0.11)
        assert cell.inner_text().lstrip("+") in own.locator("li").inner_text()
        assert page.evaluate("document.documentElement.scrollWidth") <= 375
        cell.click()
        assert own.count() == 0
        plain = visit(address + "/frames/4", 820, java_script_enabled=False)
        rows = plain.locator("#shape .why-rows").first
        rows.locator("summary").click()
        assert rows.locator("li").count() == 6 * 17, "every figure of the offsets"


def test_on_a_telephone_the_words_of_a_row_stand_below_its_figures(visit, framed):  # noqa: F811
    with served(framed.app) as address:
        for path in ("/frames/4#jig", "/jig?frame=4"):
            page = visit(address + path, 375)
            page.wait_for_selector(".under table")
            for table in page.locator(".under table:visible").all():
                right = table.locator("xpath=..").bounding_box()
                for row in table.locator("tbody tr").all():
                    first, last = row.locator("td").first.bounding_box(), row.locator("td").last.bounding_box()
                    assert last["y"] >= first["y"] + 10
                    assert last["x"] + last["width"] <= right["x"] + right["width"] + 1
            wide = visit(address + path, 1280).locator(".under table:visible").first
            row = wide.locator("tbody tr").first
            assert abs(row.locator("td").last.bounding_box()["y"] - row.locator("td").first.bounding_box()["y"]) < 3


def test_a_figure_opens_its_working_below_a_row_on_a_telephone(visit, framed):  # noqa: F811
    with served(framed.app) as address:
        page = visit(address + "/jig?frame=4", 375)
        cell = page.locator(".under table").first.locator("tbody tr").first.locator("td.fig").nth(1)
        cell.click()
        own = page.locator(".under tr.own")
        box = own.bounding_box()
        assert box["width"] > 250
        assert box["x"] + box["width"] <= 375
