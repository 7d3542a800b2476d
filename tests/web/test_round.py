"""The boat in the round: every member with its state and page, picked in a real browser; drawings without WebGL."""

from __future__ import annotations

import shutil
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from boats import HOSTILE_FRAME, HOSTILE_PLANK, until
from playwright.sync_api import sync_playwright
from test_browser import FLAGS, address

from scrieve.athand import AtHand
from scrieve.frames.choice import FrameChoice
from scrieve.frames.shape.outline import far_station, settle_moulding_edge
from scrieve.solids import frame_solids, read_solids
from scrieve.web.boat import round_work as solid_work

__all__ = ["address"]

DRAWN = ["--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist"]
#: Where on the screen the middle of a body lies.
PLACE = """(key) => {
  const { scene, picture, canvas } = document.querySelector(".round").page;
  const { points: [first, count] } = scene.bodies.find((body) => body.key === key);
  const { right, up } = picture.axes;
  let [x, y] = [0, 0];
  for (let i = first; i < first + count; i += 1) for (let j = 0; j < 3; j += 1) {
    const off = scene.points[3 * i + j] - picture.middle[j];
    x += off * right[j] / count;
    y += off * up[j] / count;
  }
  const box = canvas.getBoundingClientRect();
  return [box.left + box.width / 2 + (x + picture.moved[0]) / picture.perPixel,
          box.top + box.height / 2 - (y + picture.moved[1]) / picture.perPixel];
}"""


def test_every_member_is_there_with_its_state_and_its_page(pages):
    told, points, faces, edges, coarse = read_solids(pages.get("/api/bodies").content)
    assert told["missing"] == []
    by_key = {entry["key"]: entry for entry in told["bodies"]}
    for label in ("14", "30", HOSTILE_FRAME):
        for hand in "PS":
            entry = by_key[f"frame {label} {hand}"]
            assert entry["state"] == "designed"
            assert pages.get(entry["page"]).status_code == 200
    assert by_key["line 25 P"]["state"] == "not designed"
    assert by_key["plank garboard P"]["hand"] == "P"
    assert "plank garboard S" not in by_key
    assert not any(HOSTILE_PLANK in key for key in by_key)  # spiled: its place on the hull is not known
    assert len(points) == told["points"]
    assert faces.max() < len(points)
    assert max(edges.max(), coarse.max()) < len(points)
    assert len(coarse) < len(faces) / 3
    start, count = by_key["hull S"]["points"]
    assert (points[start : start + count, 1] > -1).all()
    assert np.isfinite(points).all()


def test_a_frame_on_its_jig_has_its_laminations_and_brackets(pages, merganser):
    told = read_solids(pages.get("/api/bodies?frame=14").content)[0]
    kinds = [entry["kind"] for entry in told["bodies"]]
    design = merganser.state.boat.state().kept.frame("14")
    assert kinds.count("packet") == len(design.packet.laminations)
    assert kinds.count("jig") == len(design.jig.brackets) + 1


def test_a_frame_that_is_not_there_is_told(pages):
    assert pages.get("/api/bodies?frame=nowhere").status_code == 404
    assert pages.get("/round?frame=nowhere").status_code == 404


def test_the_page_begins_the_bodies_and_no_boat_is_made_twice(small, monkeypatch):
    begun, go_on, make = [], threading.Event(), solid_work._boat

    def slowly(view, hull):
        begun.append(threading.current_thread().name)
        go_on.wait(10)
        return make(view, hull)

    monkeypatch.setattr(solid_work, "_bytes", AtHand(6))
    monkeypatch.setattr(solid_work, "_boat", slowly)
    own = small()
    assert own.get("/round").status_code == 200
    until(lambda: begun)
    assert begun == ["study"]
    with ThreadPoolExecutor(3) as several:
        asked = [several.submit(own.get, "/api/bodies") for _ in range(3)]
        time.sleep(0.2)
        go_on.set()
        assert len({one.result().content for one in asked}) == 1
    assert begun == ["study"]


def test_a_body_needs_no_doubt_of_its_section(merganser):
    """The same corners as from the section with its ±, within a hundredth of a millimetre: these read the same fit."""
    kept = merganser.state.boat.state().kept
    hull, choice = kept.hull(), FrameChoice.from_mapping(kept.frames["14"]["choice"])

    def body(doubt: bool):
        section = hull.section("14", 96, doubt=doubt)
        far = hull.section(far_station(section, choice, settle_moulding_edge(section, "auto")), 96, doubt=doubt)
        return frame_solids(section, choice, "14", far)

    for plain, full in zip(body(False), body(True), strict=True):
        np.testing.assert_allclose(plain.points_mm, full.points_mm, atol=0.01)
        np.testing.assert_array_equal(plain.faces, full.faces)
    assert np.isnan(hull.section("14", 96, doubt=False).sd_mm).all()


def test_nothing_is_sent_twice(pages):
    first = pages.get("/api/bodies")
    assert pages.get("/api/bodies", headers={"If-None-Match": first.headers["etag"]}).status_code == 304


@pytest.mark.browser
def test_a_member_is_tapped_turned_hidden_and_opened(address):
    with sync_playwright() as play:
        own = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = play.chromium.launch(executable_path=own, args=[*FLAGS, *DRAWN])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        said: list[str] = []
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.goto(address + "/round")
        page.wait_for_selector("[data-ready]")
        assert page.locator(".board").count() == 0, "nobody waits for drawings that are not shown"
        page.click("[data-look=port]")
        page.mouse.click(*page.evaluate(PLACE, "plank garboard P"))
        assert page.inner_text(".picked h2") == "garboard, port"
        assert page.get_attribute(".picked a", "href") == "/planks/garboard"
        page.click(".picked [data-do=hide]")
        page.mouse.click(*page.evaluate(PLACE, "plank garboard P"))
        assert page.inner_text(".picked h2") != "garboard, port"
        page.locator(".stage canvas").focus()
        before = page.evaluate("document.querySelector('.round').page.picture.turned")
        page.keyboard.press("ArrowRight")
        assert page.evaluate("document.querySelector('.round').page.picture.turned") != before
        page.evaluate("() => { const i = document.querySelector('[data-cut=x]'); i.value = 500; "
                      "i.dispatchEvent(new Event('input')); }")  # fmt: skip
        assert page.evaluate("document.querySelector('.round').page.picture.cut.x") > 0
        page.click(".more summary")
        page.click(".members button:has-text('Frame 30, starboard')")
        assert page.inner_text(".picked h2") == "Frame 30, starboard"
        page.click(".picked a")
        page.wait_for_url("**/frames/30")
        browser.close()
        assert [text for text in said if "GPU stall" not in text] == []


@pytest.mark.browser
def test_without_webgl_the_drawings_stand_there(address):
    with sync_playwright() as play:
        own = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = play.chromium.launch(executable_path=own, args=[*FLAGS, "--disable-3d-apis"])
        page = browser.new_page()
        page.goto(address + "/")
        page.goto(address + "/round")
        page.wait_for_url("**/round?flat=yes")
        page.wait_for_selector(".instead figure")
        assert page.locator(".instead figure").count() == 3
        assert page.locator(".instead figure").first.is_visible()
        page.go_back()
        assert page.url == address + "/", "the way back does not lead here again"
        browser.close()
