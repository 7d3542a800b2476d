"""Planks and strakes on the drawings of the hull: where they lie, how they are hatched, and what a tap opens."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pytest
from boats import HOME
from starlette.requests import Request
from test_browser import address, browser, visit  # noqa: F401

from scrieve.sheets.drawing import Hatch, Polyline
from scrieve.web.boat.pages import hull_drawings
from scrieve.web.boat.planking import areas, with_planking
from scrieve.web.lining.work import Side
from scrieve.web.views import View

STRAKES = 6
LINED = {"form": "settings", "side": "starboard", "strakes": str(STRAKES), "rule": "equal", "widest": "900",
         "narrowest": "10", "end_narrowest": "5", "thickness": "25"}  # fmt: skip


@pytest.fixture
def lined(small):
    client = small()
    assert client.post("/planks/lining", data=LINED, headers={"Origin": HOME}).status_code == 303
    return client


def view_of(client):
    scope = {"type": "http", "method": "GET", "path": "/", "headers": [], "query_string": b"", "app": client.app}
    return View(Request(scope | {"scheme": "http", "server": ("127.0.0.1", 80)}))


def test_seams_are_drawn_where_the_table_of_marks_puts_them(lined):
    """Girths of the table, walked along the section from the heel; half a millimetre for chords between the frames."""
    view = view_of(lined)
    found, lining = areas(view), Side(view, "starboard").lining
    assert [area.name for area in found] == [f"strake {n}" for n in range(1, STRAKES + 1)]
    hull = view.ready()
    for number, area in enumerate(found, start=1):
        assert area.link == f"/planks/lining?side=starboard&strake={number}#strake"
        for k, frame in enumerate(lining.frames):
            section = hull.section(frame.label, 400)
            for edge, seam in zip(area.edges, (number - 1, number), strict=True):
                s = lining.girth_mm[seam, k]
                for axis, wanted in ((1, section.half_breadth_mm), (2, section.height_mm)):
                    drawn = np.interp(section.station_mm, edge[:, 0], edge[:, axis])
                    assert drawn == pytest.approx(np.interp(s, section.s_mm, wanted), abs=0.5)


def test_each_view_has_every_strake_and_body_plan_its_own_half(lined):
    view = view_of(lined)
    hull = view.ready()
    found = areas(view)
    for title, drawing in with_planking(hull_drawings(view.kept, hull), hull, found):
        strakes = [item for item in drawing.items if isinstance(item, Polyline) and "strake" in item.title]
        links = {item.link for item in strakes}
        assert links == {area.link for area in found}, title
        if title == "Body plan":
            assert min(item.points[:, 0].min() for item in strakes) < 0 < max(s.points[:, 0].max() for s in strakes)
    page = lined.get("/").text
    assert page.count("planking: starboard side") == 3, "nothing is known of port: said on each drawing"
    assert "Strakes and planks:" in page


def test_a_plank_is_hatched_where_it_lies_and_named_by_its_state(merganser):
    class Client:
        app = merganser

    view = view_of(Client)
    hull = view.ready()
    found = areas(view)
    known = {name for name, entry in view.kept.planks.items() if entry["kind"] == "strake"}
    assert known < set(view.kept.planks), "of a spiled plank only its shape is known, not its place"
    assert {area.name for area in found} == {f"plank {name}" for name in known}
    for title, drawing in with_planking(hull_drawings(view.kept, hull), hull, found):
        hatches = [item for item in drawing.items if isinstance(item, Hatch)]
        assert {hatch.style for hatch in hatches} == {"cross"}, title
        if title == "Profile":
            for hatch, area in zip(hatches, found, strict=True):
                assert hatch.polygon[:, 0].min() == pytest.approx(area.edges[..., 0].min())
                assert hatch.polygon[:, 1].max() == pytest.approx(area.edges[..., 2].max())


@pytest.mark.browser
def test_a_tap_within_a_plank_opens_it_and_on_a_frame_the_frame(visit, address):  # noqa: F811
    page = visit(address + "/", 820)
    page.locator(".board").nth(1).scroll_into_view_if_needed()
    at = "document.querySelectorAll('.board')[1].querySelectorAll('a.pick')"
    found = page.evaluate(
        f"""() => [...{at}].map((a) => [a.getAttribute('href'), a.querySelector('path.hit').getBoundingClientRect()])
        .map(([href, box]) => [href, box.left, box.right, box.top, box.bottom])"""
    )
    _, left, right, top, bottom = next(row for row in found if row[0] == "/planks/garboard")
    frames = sorted((row[1] + row[2]) / 2 for row in found if row[0].startswith("/frames/") and row[4] - row[3] > 40)
    gaps = [(b - a, a, b) for a, b in itertools.pairwise(frames) if left + 20 < a and b < right - 20]
    wide, one, other = max(gaps)
    assert wide > 21, "between two frames there is room for a finger's point that is close to neither"
    y = (top + bottom) / 2
    page.mouse.click((one + other) / 2, y)
    page.wait_for_url("**/planks/garboard")
    page.go_back()
    page.wait_for_selector(".board svg")
    page.locator(".board").nth(1).scroll_into_view_if_needed()
    page.mouse.click(one, y)
    page.wait_for_url(re.compile("/frames/"))
