"""Drawings and the look of the pages in a real browser: measured between two taps, by night, on a narrow screen."""

from __future__ import annotations

import re

import pytest
from test_browser import address, browser, visit  # noqa: F401

pytestmark = pytest.mark.browser

#: Where on the screen a place of the first drawing lies, given in the drawing's own units.
PLACE = """([x, y]) => {
  const at = new DOMPoint(x, y).matrixTransform(document.querySelector(".board svg").getScreenCTM());
  return [at.x, at.y];
}"""


def test_two_taps_measure_what_lies_between_them(visit, address):  # noqa: F811
    page = visit(address + "/")
    figure = page.locator(".board").first
    figure.get_by_role("button", name="Measure").click()
    figure.evaluate("(one) => one.scrollIntoView({ block: 'center' })")
    labels = {
        text: page.evaluate(PLACE, at)
        for text, at in page.evaluate("""() =>
      [...document.querySelectorAll(".board svg")][0].querySelectorAll("a.pick")
        .values().map((a) => [a.getAttribute("href"), a.querySelector("path:not(.hit)")])
        .filter(([, path]) => path).map(([href, path]) =>
          [href, path.getAttribute("d").match(/-?[\\d.]+/g).slice(0, 2).map(Number)]).toArray()""")
    }
    page.mouse.click(*labels["/frames/2"])
    page.mouse.click(*labels["/frames/12"])
    told = figure.locator(".near").inner_text()
    found = re.search(r"(\d+) mm \((\d+) mm across, ([\d.]+) mm up\)", told)
    assert found, told
    straight, across, up = (float(each) for each in found.groups())
    assert across == pytest.approx(3000, abs=12)  # frames stand 300 mm apart; a tap snaps to the line
    assert straight == pytest.approx((across**2 + up**2) ** 0.5, abs=1.5)
    assert page.url == address + "/"  # a tap that measures opens no page
    figure.get_by_role("button", name="Measure").click()
    page.mouse.click(*labels["/frames/12"])
    page.wait_for_url("**/frames/12")


def test_on_a_phone_fingers_pinch_pan_tap_twice_and_measure(visit, address):  # noqa: F811
    page = visit(address + "/fairing?show=frame&frame=14", 375)
    view = page.locator(".board .view").first
    page.wait_for_selector(".board .view.made")
    view.scroll_into_view_if_needed()
    hand = page.context.new_cdp_session(page)

    def fingers(kind: str, *places: tuple[float, float]) -> None:
        points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(places)]
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    def wide() -> float:
        return view.locator("svg").bounding_box()["width"]

    box = view.bounding_box()
    x, y, before = box["x"] + box["width"] / 2, max(box["y"] + 20, 200), wide()
    fingers("touchStart", (x - 20, y), (x + 20, y))
    for n in range(1, 4):
        fingers("touchMove", (x - 20 - 10 * n, y), (x + 20 + 10 * n, y))
    fingers("touchEnd")
    assert wide() == pytest.approx(2.5 * before, rel=0.05), "the fingers end two and a half times as far apart"
    at = view.evaluate("(view) => view.scrollLeft")
    fingers("touchStart", (x, y))
    for n in range(1, 6):
        fingers("touchMove", (x - 15 * n, y))
    fingers("touchEnd")
    page.wait_for_function("([view, at]) => view.scrollLeft > at + 20", arg=[view.element_handle(), at])
    rests = """(view) => new Promise((done) => {
      const at = view.scrollLeft;
      setTimeout(() => done(view.scrollLeft === at), 400);
    })"""
    page.wait_for_function(rests, arg=view.element_handle())  # a tap while it still glides only stops it
    page.locator(".board [data-do=fit]").first.click()
    assert wide() == pytest.approx(before, rel=0.01), "the whole of it again"
    page.locator(".board [data-do=measure]").first.click()
    view.evaluate("(one) => one.scrollIntoView({ block: 'center', behavior: 'instant' })")
    mark = page.evaluate("""() => {
      const view = document.querySelector(".board .view").getBoundingClientRect();
      const [top, bottom] = [Math.max(view.top, 70) + 50, Math.min(view.bottom, 650) - 50];
      return [...document.querySelectorAll(".board svg a.pick path.hit")].map((hit) => hit.getBoundingClientRect())
        .map((box) => [box.left + box.width / 2, box.top + box.height / 2])
        .find(([x, y]) => x > view.left + 20 && x < view.right - 20 && y > top && y < bottom);
    }""")
    for up in (0, 40):  # on a mark: it is measured from, not moved
        page.touchscreen.tap(mark[0], mark[1] - up)
        page.wait_for_timeout(100)
    assert re.search(r"\d mm \(", page.locator(".board .near").first.inner_text())
    assert page.locator(".marks-of [aria-current]").count() == 0
    page.locator(".board [data-do=measure]").first.click()
    before = wide()
    blank = view.bounding_box()
    view.dblclick(position={"x": blank["width"] / 2, "y": 12})
    assert wide() != pytest.approx(before, rel=0.2)


def test_night_is_kept_on_the_device_and_print_stays_paper(visit, address):  # noqa: F811
    page = visit(address + "/")
    ground = "getComputedStyle(document.documentElement).backgroundColor"
    day = page.evaluate(ground)
    page.get_by_role("button", name="night pages").click()
    assert page.evaluate(ground) != day
    page.goto(address + "/frames")
    assert page.evaluate("document.documentElement.dataset.theme") == "night"
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.documentElement).getPropertyValue('--ink').trim()") == "#1f2328"


def test_on_a_narrow_screen_the_row_of_pages_is_one_line_with_the_open_one_in_sight(visit, address):  # noqa: F811
    page = visit(address + "/sheets", 375)
    box = page.locator(".head nav").bounding_box()
    here = page.locator(".head nav [aria-current]").bounding_box()
    assert box["height"] < 60
    assert here["x"] >= 0
    assert here["x"] + here["width"] <= 375.5
