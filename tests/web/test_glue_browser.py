"""Glue-up and release as two people do them with a telephone in the shed: day, stops, clamps, cure, measuring."""

from __future__ import annotations

import pytest
from boats import HOME, TestClient
from test_browser import SMALL_TARGETS, WIDTHS, browser, served, visit  # noqa: F401

from scrieve import store
from scrieve.frames.choice import FrameChoice

pytestmark = pytest.mark.browser


@pytest.fixture
def framed(small):
    client: TestClient = small()
    choice = FrameChoice("4", "larch", moulded_mm=30.0, count=5, sided_mm=30.0)
    store.keep_frame(client.app.state.boat.engine, "4", {"choice": choice.to_mapping(), "station_mm": None})
    return client


def fits(page, where: str) -> None:
    for width, height in WIDTHS.items():
        page.set_viewport_size({"width": width, "height": height})
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0, f"{where} at {width} runs {wide} px out of the screen"
        assert page.evaluate(SMALL_TARGETS) == [], f"{where} at {width}"
    page.set_viewport_size({"width": 375, "height": 812})


def send(client, path, **fields) -> None:
    assert client.post(path, data=fields, headers={"origin": HOME}).status_code == 303


def test_the_card_follows_while_the_day_is_typed(visit, framed):  # noqa: F811
    with served(framed.app) as address:
        page = visit(address + "/glue-up?frame=4", 820)
        page.get_by_label("Air (°C)", exact=True).press_sequentially("7")
        page.get_by_label("Humidity (%)", exact=True).press_sequentially("60")
        cold = page.locator("#stops li", has_text="Too cold for the glue")
        cold.wait_for()
        cold.get_by_label("Name").fill("A. Wright")
        page.get_by_label("People", exact=True).fill("3")
        page.wait_for_url("**people=3**")
        assert cold.get_by_label("Name").input_value() == "A. Wright"
        cold.get_by_role("button", name="Sign").click()
        page.wait_for_selector("#stops .signed >> text=A. Wright")
        assert "air=7" in page.url
        page.get_by_label("Air (°C)", exact=True).fill("soon")
        page.wait_for_selector("#day [role=alert]:has-text('soon')")
        assert page.locator("[data-live=card].old").count() == 1
        page.get_by_label("Air (°C)", exact=True).fill("18")
        page.wait_for_selector("[data-live=card]:not(.old)")
        assert cold.count() == 0
        assert page.locator("#day [role=alert]").count() == 0


def test_a_cold_morning_is_signed_for_and_the_frame_goes_into_the_clamps(visit, framed):  # noqa: F811
    engine = framed.app.state.boat.engine
    with served(framed.app) as address:
        page = visit(address + "/frames/4#glue-up", 375)
        page.get_by_role("link", name="The card").click()
        page.get_by_label("Air (°C)", exact=True).fill("7")
        page.get_by_label("Humidity (%)", exact=True).fill("60")
        page.get_by_role("button", name="Reckon the card").click()
        stop = page.locator("#stops li", has_text="Too cold for the glue")
        stop.get_by_label("Name").fill("A. Wright")
        stop.get_by_role("button", name="Sign").click()
        page.wait_for_selector("#stops .signed >> text=A. Wright")
        (signed,) = store.records(engine, "signature", "4")
        assert signed.detail["value"] == "7 °C"
        page.reload()
        assert page.get_by_label("Air (°C)", exact=True).input_value() == "7"
        page.locator("#done").get_by_label("By").fill("A. Wright")
        page.get_by_role("button", name="It is in the clamps").click()
        page.wait_for_selector("#cure >> text=never cures: warm it")
        page.get_by_label("At the glue line (°C)").fill("20")
        with page.expect_navigation():
            page.get_by_role("button", name="Keep this look").click()
        page.wait_for_selector("#cure >> text=Clamps off, at the earliest")
        assert len(store.records(engine, "curing", "4")) == 1
        fits(page, "glue-up")


def test_off_the_jig_it_is_measured_corrected_and_fitted(visit, framed):  # noqa: F811
    engine = framed.app.state.boat.engine
    send(framed, "/glue-up/done", back="/glue-up?frame=4&air=20&rh=60", name="A. Wright")
    with served(framed.app) as address:
        page = visit(address + "/release?frame=4", 375)
        fields = page.locator(".marks-typed input")
        for n in range(fields.count()):
            fields.nth(n).fill("0.5" if n % 2 else "-0.5")
        page.get_by_label("Measured by").fill("A. Wright")
        page.get_by_role("button", name="Store what was measured").click()
        page.wait_for_selector("#seen >> text=Off the jig")
        assert "from 1 frame" in page.locator("#learnt").inner_text()
        (kept,) = store.records(engine, "release", "4")
        assert len(kept.detail["rows_mm"]) == fields.count()
        page.get_by_label("Fastenings, along the moulded line").fill("50; 200; 350")
        page.get_by_role("button", name="Pull it in with these").click()
        page.wait_for_url("**#seen")
        assert page.get_by_label("Fastenings, along the moulded line").input_value() == "50; 200; 350"
        page.get_by_role("link", name="correct measuring").click()
        assert "Correct measuring" in page.locator("#measure h2").inner_text()
        page.get_by_role("button", name="Store the correction").click()
        page.wait_for_selector("#seen >> text=Corrects no.")
        assert len(store.records(engine, "release", "4")) == 1
        fits(page, "release")
        page.get_by_role("button", name="It is fitted").click()
        page.wait_for_selector("#fitted li")
        page.goto(address + "/frames/4#history")
        history = page.locator("#history").inner_text()
        assert all(said in history for said in ("fitted in the hull", "measured off the jig", "glued up", "A. Wright"))
