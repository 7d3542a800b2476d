"""The work plan in a real browser: nothing runs out of the screen, fingers find every button, work is ticked off."""

from __future__ import annotations

import pytest
from test_browser import SMALL_TARGETS, WIDTHS, browser, served, visit  # noqa: F401
from test_plan import planned, yard  # noqa: F401

from scrieve import store
from scrieve.web.workplan import work as plan_work

pytestmark = pytest.mark.browser
PAGES = ("/plan", "/plan/today", "/plan/waits?member=plank+strake+9", "/plan/what-if", "/plan/costs",
         "/plan/yard")  # fmt: skip


def test_every_page_fits_and_work_is_ticked_off(visit, planned):  # noqa: F811
    with served(planned.app) as address:
        page = visit(address + "/plan", 375)
        for width, height in WIDTHS.items():
            page.set_viewport_size({"width": width, "height": height})
            for path in PAGES:
                page.goto(address + path)
                wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
                assert wide <= 0, f"{path} at {width} runs {wide} px out of the screen"
                assert page.evaluate(SMALL_TARGETS) == [], f"{path} at {width}"
        page.goto(address + "/plan/today?who=lead+hand")
        first = page.locator("li.piece").first
        name = first.locator("strong").first.inner_text()
        first.get_by_role("button", name="Done").click()
        page.wait_for_selector("li.piece.done")
        assert name in page.locator("li.piece.done").inner_text()
        assert len(plan_work.done(store.records(planned.app.state.boat.engine))) == 1
