"""Marks typed at the hull in a real browser: a slip is caught before it is stored, put right, and stored."""

from __future__ import annotations

import pytest
from boats import TestClient
from test_browser import browser, served, visit  # noqa: F401  fixtures
from test_takeoff import half_breadth, marks_of

from scrieve import store

pytestmark = pytest.mark.browser


def _type(page, name, text):
    """Type as fingers do, into one field."""
    page.locator(f"[name='{name}']").click()
    page.keyboard.type(str(text))


def test_a_slip_is_caught_while_typing_put_right_and_stored(visit, small):  # noqa: F811
    client: TestClient = small()
    before = len(marks_of(client))
    with served(client.app) as address:
        page = visit(address + "/marks/new?way=offsets", 820)
        _type(page, "frame", "9")
        _type(page, "station", "3400")
        for n, z in enumerate((100, 250, 400, 500, 560), start=1):  # four rows stand there, the fifth comes by itself
            out = half_breadth(3400.0, z) + (304.8 if n == 3 else 0)
            _type(page, f"r{n}.height", z)
            _type(page, f"r{n}.half_breadth", f"{out:.1f}")
        third = page.locator("[data-row='3'] .verdict")
        third.get_by_text("Likely a slip.").wait_for()
        assert "Half-breadth a foot too great?" in third.inner_text()
        assert page.locator("[data-row='1'] .verdict").inner_text().startswith("Good.")
        assert page.locator("[data-row]").count() == 6
        assert len(marks_of(client)) == before, "judged, and nothing stored"
        page.locator("[name='r3.half_breadth']").fill(f"{half_breadth(3400.0, 400):.1f}")
        third.get_by_text("Good.").wait_for()
        page.get_by_role("button", name="Store", exact=True).click()
        page.wait_for_url("**/marks/stored**")
        assert page.locator("h1").inner_text() == "5 marks on 1 frame stored."
    assert [mark.height_mm for mark in marks_of(client)[before:]] == [100, 250, 400, 500, 560]


def test_what_is_typed_stays_on_the_device_until_it_is_stored(visit, small):  # noqa: F811
    client: TestClient = small()
    with served(client.app) as address:
        page = visit(address + "/marks/new", 375)
        _type(page, "frame", "9")
        for n in range(1, 6):
            _type(page, f"r{n}.height", 100 * n)
        page.reload()
        page.wait_for_function("document.querySelector(\"[name='r5.height']\")?.value === '500'")
        assert page.locator("[name=frame]").input_value() == "9"
        page.keyboard.press("Enter")
        assert page.url.endswith("/marks/new"), "Enter sends nothing"


def test_fingers_have_room_and_nothing_hangs_over(visit, small):  # noqa: F811
    client: TestClient = small(units="ft")
    with served(client.app) as address:
        for width in (375, 820, 1280):
            for way in ("offsets", "templates"):
                page = visit(f"{address}/marks/new?way={way}", width)
                assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
                low = page.evaluate(
                    "[...document.querySelectorAll('main input:not([type=hidden]):not([type=checkbox]), main select,"
                    " main button, main .button')].filter((e) => e.getBoundingClientRect().height < 48).length"
                )
                assert low == 0, (width, way)
                assert page.locator("[name='frame']").get_attribute("list") == "frames"


def test_feet_inches_eighths_from_a_keypad_without_a_hyphen(visit, small):  # noqa: F811
    client: TestClient = small(units="ft")
    with served(client.app) as address:
        page = visit(address + "/marks/new", 820)
        _type(page, "r1.height", "1.3.4+")
        page.keyboard.press("Tab")
        assert page.locator("[name='r1.height']").input_value() == "1-3-4+"
        assert page.locator("[name='r1.height']").get_attribute("inputmode") == "tel"
    assert store.boat(client.app.state.boat.engine).units == "ft"


def test_a_figure_pressed_among_the_marks_of_many_frames_opens_its_own_working(visit, merganser):  # noqa: F811
    """They stand on the page of the frame, and come from there."""
    with served(merganser) as address:
        page = visit(address + "/marks", 375)
        frame = page.locator("details.folded", has_text="Frame 17:")
        frame.locator("summary").first.click()
        row = frame.locator("tbody tr.suspect")
        number = row.locator("td").nth(6).inner_text()
        row.locator("td.fig", has_text="-203.2").click()
        own = frame.locator("tr.own")
        own.wait_for()
        assert f"mark {number} -203.2 mm" in own.inner_text().replace("\u00a0", " ")
        assert row.locator("xpath=following-sibling::tr[1]").get_attribute("class") == "own"
        frame.locator("tbody td", has_text="+4.8").click()
        assert own.count() == 1
        assert "mark 405" in own.inner_text()
        assert frame.locator(".why-rows").count() == 1, "asked for once"
