"""The pages in a real browser, as a phone, a tablet and a desktop show them, and as fingers and mice use them."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
import uvicorn
from boats import PATIENCE_S, TestClient, until
from fastapi import FastAPI
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

from scrieve import store
from scrieve.fairing.next_mark import next_marks
from scrieve.web.fairing import pages as fairing_pages
from scrieve.web.server.serving import bind

pytestmark = pytest.mark.browser

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
FLAGS += ["--disable-component-update", "--disable-sync"]
WIDTHS = {375: 812, 820: 1180, 1280: 900}
#: Every page of docs/pages.md that the demo boat has, one of each kind.
PAGES = ["/", "/settings", "/marks", "/marks?frame=17", "/marks/bevels", "/marks/stored?numbers=101-114",
         *(f"/marks/new?way={way}&frame=17&side=P"
           for way in ("offsets", "ordinates", "tapes", "templates", "arcs", "bevels")),
         "/fairing", "/fairing?times=20&combs=1", "/fairing?mark=5", "/fairing?show=diagonals",
         "/fairing?show=frame&frame=17", "/frames", "/frames/14", "/frames/17", "/stations/3610",
         "/jig", "/jig?frame=14", "/jig/bench?frame=14", "/jig/order", "/glue-up", "/glue-up?frame=14&air=18&rh=60",
         "/release", "/release?frame=14", "/planks", "/planks/garboard", "/planks/lining?side=port",
         "/planks/skin?side=port", "/timber", "/timber?part=garboard", "/plan", "/plan/today", "/plan/waits",
         "/plan/what-if", "/plan/costs", "/plan/yard", "/log", "/log?member=frame+14", "/sheets", "/undo",
         "/undo?act=1", "/forget?of=frame&label=14", "/find?what=zzz", "/tour", "/words", "/people", "/me", "/trust",
         "/away", "/sign-in"]  # fmt: skip


#: Addresses of the servers that run now.
ANSWERING: set[str] = set()


@contextmanager
def served(app: FastAPI) -> Iterator[str]:
    """Serve an application on a free port of this machine while the block runs; gives its address."""
    listening = bind("127.0.0.1", 0)
    server = uvicorn.Server(uvicorn.Config(app, log_level="error"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    address = f"http://127.0.0.1:{listening.getsockname()[1]}"
    ANSWERING.add(address)
    try:
        yield address
    finally:
        ANSWERING.remove(address)
        server.should_exit = True
        thread.join(20)
        listening.close()


@pytest.fixture(scope="module")
def address(merganser: FastAPI) -> Iterator[str]:
    with served(merganser) as found:
        yield found


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as play:
        own = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = play.chromium.launch(executable_path=own, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def visit(browser: Browser) -> Iterator[Callable[..., Page]]:
    """Open a page at a width; in the end nothing may have been said on the console or fetched from elsewhere."""
    said: list[str] = []
    contexts = []

    def hear(message: ConsoleMessage) -> None:
        asked = message.location.get("url", "")  # a page may ask once more while the test ends, and its server with it
        if "ERR_CONNECTION_REFUSED" not in message.text or asked.startswith(tuple(ANSWERING)):
            said.append(f"{message.type}: {message.text}")

    def open_page(url: str, width: int = 1280, **how: object) -> Page:
        size = {"width": width, "height": WIDTHS[width]}
        context = browser.new_context(viewport=size, has_touch=width < 1280, reduced_motion="reduce", **how)  # type: ignore[arg-type]
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(1000 * PATIENCE_S)
        page.on("console", hear)
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda r: None if r.url.startswith("http://127.0.0.1:") else said.append(r.url))
        page.goto(url)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert said == []


#: What a finger is to hit and what is smaller than 48 px: links within words too, boxes with the label that ticks them.
SMALL_TARGETS = """() => [...document.querySelectorAll(
  'a[href], button, input:not([type=hidden]), select, textarea, summary, [role=button]')]
  .filter((each) => !each.closest('svg') && each.checkVisibility({ visibilityProperty: true }))
  .map((each) => [each.outerHTML.slice(0, 90),
    ((each.matches('[type=checkbox], [type=radio]') && each.closest('label')) || each).getBoundingClientRect()])
  .filter(([_, box]) => Math.min(box.width, box.height) < 47.5 && box.width > 2) // less is the way past the head
  .map(([html, box]) => `${html} ${box.width} x ${box.height}`)"""

# Contrast of every text against the nearest opaque ground behind it: WCAG 2.2, "relative luminance", "contrast ratio".
PALE_TEXTS = """() => {
  const rgb = (text) => text.match(/[\\d.]+/g).map(Number);
  const light = (c) => c.slice(0, 3).map((v) => v / 255)
    .map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4))
    .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = (node) => {
    for (let each = node; each; each = each.parentElement) {
      const c = rgb(getComputedStyle(each).backgroundColor);
      if (c.length < 4 || c[3] === 1) return c;
    }
    return [255, 255, 255];
  };
  const pale = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode.parentElement;
    if (!walker.currentNode.data.trim() || node.closest('svg, script') || !node.offsetParent) continue;
    const [a, b] = [light(rgb(getComputedStyle(node).color)), light(ground(node))].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05);
    if (ratio < 4.5) pale.push(`${node.tagName} ${node.className} ${walker.currentNode.data.trim()} ${ratio}`);
  }
  return pale;
}"""


OPENED = "document.querySelectorAll('details').forEach((each) => { each.open = true; })"


def test_every_page_fits_every_screen(visit, address):
    """Each page with all that unfolds: nothing beyond the screen, no small target, nothing on the console."""
    page = visit(address + PAGES[0], 375)
    found = {}
    for path in PAGES:
        page.goto(address + path)
        page.evaluate(OPENED)
        for width, height in WIDTHS.items():
            page.set_viewport_size({"width": width, "height": height})
            wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            said = [f"runs {wide} px out of the screen"] if wide > 0 else []
            if said := said + page.evaluate(SMALL_TARGETS) + page.evaluate(PALE_TEXTS):
                found[path, width] = said
    assert found == {}, "\n".join(f"{k} {v}" for k, v in found.items())


LETTER_SIZES = """() => [...document.querySelectorAll('.view svg text')]
  .map((t) => [+t.getAttribute('font-size'), t.ownerSVGElement.getScreenCTM().a]).map(([em, scale]) => em * scale)"""


def test_lettering_of_drawings_can_be_read_on_a_phone(visit, address):
    page = visit(address + "/", 375)
    for path in ("/", "/frames/14", "/planks/garboard"):
        page.goto(address + path)
        for drawing in page.locator("[data-drawing]").all():  # each is made ready when it comes near the screen
            drawing.scroll_into_view_if_needed()
        page.wait_for_timeout(200)
        sizes = page.evaluate(LETTER_SIZES)
        assert min(sizes) > 8, f"{path}: letters of {min(sizes):.1f} px"


ON_SECTION = """([figure, href, share]) => {
  const svg = document.querySelectorAll('[data-drawing] .view svg')[figure];
  const lines = [...svg.querySelectorAll('a.pick')].filter((a) => !a.querySelector('text'));
  const link = lines.find((a) => a.getAttribute('href') === href);
  const path = link.querySelector('path.hit');
  link.scrollIntoView({ block: 'center', inline: 'center' });
  const at = path.getPointAtLength(path.getTotalLength() * share).matrixTransform(svg.getScreenCTM());
  return [at.x, at.y];
}"""


@pytest.mark.parametrize(("label", "figure"), [("7", 2), ("19", 2), ("36", 2), ("20", 0), ("33", 1)])
def test_touching_a_frame_opens_its_page(visit, address, label, figure):
    """Lines lie closer together than a finger is wide: the nearest is meant, not the one drawn last."""
    page = visit(address + "/", 820)
    x, y = page.evaluate(ON_SECTION, [figure, f"/frames/{label}", 0.8])
    page.touchscreen.tap(x, y)
    page.wait_for_url(f"**/frames/{label}")
    assert page.locator("h1").inner_text() == f"Frame {label}"


def _width(page: Page, n: int = 2) -> float:
    box = page.locator(".view svg").nth(n).bounding_box()
    assert box is not None
    return box["width"]


def test_a_drawing_is_enlarged_by_button_key_and_wheel_and_fits_again(visit, address):
    page = visit(address + "/")
    before = _width(page)
    page.get_by_role("button", name="Larger: Body plan").click()
    assert _width(page) == pytest.approx(1.5 * before, rel=0.01)
    page.get_by_role("button", name="Fit: Body plan").click()
    assert _width(page) == pytest.approx(before, rel=0.01)
    view = page.locator(".view").nth(2)
    view.focus()
    page.keyboard.press("+")
    assert _width(page) == pytest.approx(1.5 * before, rel=0.01)
    page.keyboard.press("0")
    box = view.bounding_box()
    at = box["x"] + 0.7 * box["width"], box["y"] + 0.4 * box["height"]
    page.mouse.move(*at)
    page.locator("h1").evaluate("document.activeElement.blur()")
    page.mouse.wheel(0, -1)  # without Ctrl the wheel is the page's
    assert _width(page) == pytest.approx(before, rel=0.01)
    page.keyboard.down("Control")
    page.mouse.wheel(0, -120)
    page.keyboard.up("Control")
    page.wait_for_function(f"document.querySelectorAll('.view svg')[2].getBoundingClientRect().width > {1.2 * before}")


def test_the_place_under_the_pointer_stays_and_a_drag_moves_the_drawing(visit, address):
    page = visit(address + "/")
    view = page.locator(".view").nth(2)
    view.scroll_into_view_if_needed()
    box = view.bounding_box()
    at = {"x": box["x"] + 0.6 * box["width"], "y": box["y"] + 0.5 * box["height"]}
    place = """(at) => { const s = document.querySelectorAll('.view svg')[2];
      const p = new DOMPoint(at.x, at.y).matrixTransform(s.getScreenCTM().inverse()); return [p.x, p.y]; }"""
    before = page.evaluate(place, at)
    page.mouse.move(at["x"], at["y"])
    page.keyboard.down("Control")
    for _ in range(4):
        page.mouse.wheel(0, -120)
    page.keyboard.up("Control")
    page.wait_for_function("document.querySelectorAll('.view')[2].classList.contains('zoomed')")
    after = page.evaluate(place, at)
    size = page.evaluate("+document.querySelectorAll('.view svg')[2].viewBox.baseVal.width")
    assert after == pytest.approx(before, abs=0.01 * size)
    left = view.evaluate("(v) => v.scrollLeft")
    page.mouse.down()
    page.mouse.move(at["x"] - 80, at["y"], steps=4)
    page.mouse.up()
    assert view.evaluate("(v) => v.scrollLeft") == pytest.approx(left + 80, abs=2)
    assert page.url == address + "/", "a drag opens nothing"


def test_two_fingers_enlarge(visit, address):
    page = visit(address + "/", 375)
    page.locator(".view").nth(2).scroll_into_view_if_needed()
    before = _width(page)
    box = page.locator(".view").nth(2).bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    touch = page.context.new_cdp_session(page)

    def fingers(kind: str, apart: float) -> None:
        points = [] if kind == "touchEnd" else [{"x": x - apart, "y": y, "id": 0}, {"x": x + apart, "y": y, "id": 1}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    fingers("touchStart", 30)
    for apart in (40, 50, 60):
        fingers("touchMove", apart)
    fingers("touchEnd", 0)
    assert _width(page) == pytest.approx(2 * before, rel=0.03)


def test_the_frame_under_the_pointer_is_named(visit, address):
    page = visit(address + "/")
    x, y = page.evaluate(ON_SECTION, [2, "/frames/7", 0.8])
    page.mouse.move(x, y)
    assert page.locator("output.near").nth(2).inner_text() == "frame 7"


def test_a_sheet_is_downloaded(visit, address):
    page = visit(address + "/frames/14")
    with page.expect_download() as coming:
        page.get_by_role("link", name="Bench sheet").click()
    assert coming.value.suggested_filename == "frame-14-bench.pdf"
    assert coming.value.path().read_bytes().startswith(b"%PDF-")


def test_the_keyboard_reaches_frames_by_their_list_alone(visit, address):
    page = visit(address + "/")
    assert page.evaluate("[...document.querySelectorAll('a.pick')].every((a) => a.tabIndex === -1)")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.locator(".tile", has_text="17").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/frames/17")


def test_workings_open(visit, address):
    page = visit(address + "/frames/14#strength", 820)
    first = page.locator("#strength .workings details").first
    assert not first.locator(".formula").is_visible()
    first.locator("summary").click()
    assert first.locator(".formula").is_visible()


def test_without_scripts_frames_can_still_be_touched(visit, address):
    page = visit(address + "/", 820, java_script_enabled=False)
    assert not page.locator(".tools").first.is_visible()
    page.locator(".tile", has_text="17").first.click()
    page.wait_for_url("**/frames/17")


def test_a_suspect_is_answered_from_a_phone(visit, small):
    client: TestClient = small(slip_mm=150.0)
    engine = client.app.state.boat.engine
    with served(client.app) as address:
        page = visit(address + "/", 375)
        page.get_by_role("button", name="drop mark 18").click()
        page.wait_for_selector("strong:text-is('dropped')")  # once the hull is faired anew
        assert store.answers(engine) == {18: "drop"}
        page.get_by_role("button", name="keep mark 18").click()
        until(lambda: store.answers(engine) == {18: "keep"})
        page.wait_for_selector("strong:text-is('kept')")  # no page is left half asked for


def test_a_suspect_is_measured_again_from_a_phone_while_more_is_worked_out(visit, small, monkeypatch):
    """What comes into the page later leaves alone what is being typed."""
    go = threading.Event()

    def slow(*args: object) -> object:
        go.wait(PATIENCE_S)
        return next_marks(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(fairing_pages, "next_marks", slow)
    client: TestClient = small(slip_mm=150.0)
    engine = client.app.state.boat.engine
    with served(client.app) as address:
        page = visit(address + "/fairing", 375)
        page.locator("#mark-18 summary").click()
        page.locator("#mark-18 input[name=height]").fill("300")
        go.set()
        page.wait_for_selector("text=All 8 together")
        page.wait_for_selector("[data-live=picture] .tools:not([hidden])")  # the drawing that came later has its tools
        assert page.locator("#mark-18 input[name=height]").input_value() == "300"
        page.locator("#mark-18 input[name=half_breadth]").fill("600")
        page.get_by_role("button", name="Store the new mark").click()
        page.wait_for_selector("text=Answered marks")
    assert store.answers(engine) == {18: "measured again"}
    assert (store.marks(engine)[-1].height_mm, store.marks(engine)[-1].half_breadth_mm) == (300.0, 600.0)
