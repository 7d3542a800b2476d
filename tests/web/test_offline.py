"""With the network gone: what is entered waits on the device and is stored once, in order, when the server is back.

Pages are asked for by plain http under the machine's own name, as a tablet in the shed asks: no secure context, hence
no service worker and no locks of the browser.
"""

from __future__ import annotations

import asyncio
import shutil
import socket
import threading
from collections.abc import Callable, Iterator
from io import BytesIO

import pytest
import uvicorn
from boats import PATIENCE_S, cut_off, make_small, ready
from PIL import Image
from playwright.sync_api import BrowserContext, Page, expect, sync_playwright
from test_browser import FLAGS

from scrieve import store
from scrieve.store import people
from scrieve.web import create_app
from scrieve.web.server.serving import bind

pytestmark = pytest.mark.browser

HOST = socket.gethostname().lower().split(".")[0] + ".local"
WORDS = "larch knee bevel"


class Shop:
    """A boat served under one address, that can be stopped in the middle of an answer and started again."""

    def __init__(self, path):
        self.path, self.port = path, 0
        self.hold = False  # whether what is sent is stored, and no answer given
        self.held = threading.Event()
        self.sent = 0

    def start(self):
        app = ready(create_app(self.path, host="0.0.0.0"))

        async def between(scope, receive, send):
            self.loop = asyncio.get_running_loop()
            if scope["type"] == "http" and scope["method"] == "POST" and scope["path"] != "/api/judge":
                self.sent += 1
                if self.hold:

                    async def silent(message):
                        self.held.set()

                    await app(scope, receive, silent)
                    await asyncio.Event().wait()
            await app(scope, receive, send)

        self.listening = bind("127.0.0.1", self.port)
        self.port = self.listening.getsockname()[1]
        config = uvicorn.Config(between, log_level="critical", lifespan="off")
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [self.listening]})
        self.thread.start()
        return self

    def stop(self):
        cut_off(self.server, self.loop, self.thread)
        self.listening.close()

    @property
    def url(self):
        return f"http://{HOST}:{self.port}"

    def notes(self):
        engine = store.open_boat(self.path)
        found = [record for record in store.records(engine) if "text" in record.detail]
        engine.dispose()
        return found

    def texts(self):
        return [record.detail["text"] for record in self.notes()]

    def marks(self, frame):
        engine = store.open_boat(self.path)
        found = [mark for mark in store.marks(engine) if mark.frame == frame]
        engine.dispose()
        return found


@pytest.fixture
def shop(tmp_path) -> Iterator[Shop]:
    path = make_small(tmp_path / "small.scrieve", frames=4)
    engine = store.open_boat(path)
    people.add_person(engine, "Keeper", "keeper", WORDS)
    engine.dispose()
    found = Shop(path).start()
    yield found
    found.stop()


@pytest.fixture(scope="module")
def play():
    with sync_playwright() as found:
        yield found


@pytest.fixture
def device(play, tmp_path) -> Iterator[Callable[[], BrowserContext]]:
    """Start the browser of one device; started again it is the same device."""
    open_now: list[BrowserContext] = []

    def start() -> BrowserContext:
        for each in open_now:
            each.close()
        own = shutil.which("chromium") or shutil.which("chromium-browser")
        args = [*FLAGS, f"--host-resolver-rules=MAP {HOST} 127.0.0.1"]
        size = {"width": 820, "height": 1180}
        found = play.chromium.launch_persistent_context(
            tmp_path / "device", executable_path=own, args=args, viewport=size, has_touch=True
        )
        found.set_default_timeout(1000 * PATIENCE_S)
        open_now[:] = [found]
        return found

    yield start
    for each in open_now:
        each.close()


def signed_in(context: BrowserContext, shop: Shop, path: str = "/log") -> Page:
    page = context.pages[0] if context.pages else context.new_page()
    page.goto(shop.url + path)
    if "/sign-in" in page.url:
        page.fill("[name=name]", "Keeper")
        page.fill("[name=password]", WORDS)
        page.click("main button")
        page.wait_for_url("**/log")
    return page


def write(page: Page, text: str, **more: str) -> None:
    page.evaluate("document.querySelector('details.writing').open = true")
    page.fill("textarea[name=text]", text)
    for name, value in more.items():
        page.fill(f"form[data-kept] [name={name}]", value)
    page.click("form[data-kept] button.main")


def waiting(page: Page):
    return page.locator(".waiting")


def count(text: str, page: Page) -> None:
    expect(page.locator(".waiting-line")).to_contain_text(text)


def picture() -> dict[str, object]:
    made = BytesIO()
    Image.effect_noise((640, 480), 40).convert("RGB").save(made, "JPEG")
    return {"name": "scarf.jpg", "mimeType": "image/jpeg", "buffer": made.getvalue()}


def test_what_is_typed_without_network_waits_and_is_stored_once_in_order(shop, device):
    page = signed_in(device(), shop)
    assert page.evaluate("[isSecureContext, 'locks' in navigator, 'serviceWorker' in navigator]") == [False] * 3
    hull = page.context.new_page()
    hull.goto(shop.url + "/marks/new?frame=9&side=")
    page.context.set_offline(True)
    for text in ("first", "second", "second"):
        write(page, text)
        expect(page.locator("textarea[name=text]")).to_have_value("")
    hull.get_by_label("Station (mm), for a new frame").fill("3800")
    for name, value in {"r1.height": "300", "r1.half_breadth": "568"}.items():
        hull.fill(f"[name='{name}']", value)
    hull.click("button:text-is('Store')")
    count("4 entries wait on this device", hull)
    expect(hull.locator("[name='r1.height']")).to_have_value("")
    assert (shop.texts(), shop.marks("9")) == ([], [])
    page.get_by_role("link", name="Timber").click()  # it leads nowhere now: the page stays, and says so
    count("“Timber” is not on this device", page)
    assert page.url == shop.url + "/log"
    before = shop.sent
    page.context.set_offline(False)  # both pages hear of it, and one of them sends
    expect(hull.locator(".waiting li")).to_have_count(0)
    page.reload()
    assert shop.texts() == ["first", "second", "second"]
    assert len(shop.marks("9")) == 1
    assert shop.sent - before == 4


def test_the_server_killed_while_it_takes_an_entry_and_the_browser_closed(shop, device):
    page = signed_in(device(), shop)
    page.set_input_files("input[name=photograph]", picture())
    shop.hold = True
    write(page, "scarf opened")
    assert shop.held.wait(10)
    assert len(shop.notes()) == 1
    page.context.close()
    shop.stop()
    shop.hold = False
    shop.start()  # anew: nothing is known of that answer but what the boat file holds
    page = signed_in(device(), shop)
    count("Sent and stored: log: note", page)
    (note,) = shop.notes()
    assert note.detail["text"] == "scarf opened"
    assert len(note.detail["photographs"]) == 1
    page.reload()
    expect(page.locator(".photographs img")).to_have_count(1)
    expect(page.locator(".waiting")).to_be_hidden()


def test_what_is_refused_is_shown_and_put_right_before_the_rest_is_sent(shop, device):
    page = signed_in(device(), shop)
    shop.stop()
    write(page, "cold", temperature="seven")
    count("1 entry waits", page)
    write(page, "behind it")
    count("2 entries wait", page)
    shop.start()
    page.reload()
    count("One was not taken", page)
    assert shop.texts() == []
    assert "temperature" in page.locator(".waiting .message").inner_text()
    page.get_by_role("button", name="Remove log: note").last.click()
    expect(page.get_by_role("button", name="Leave it")).to_be_focused()
    page.keyboard.press("Escape")
    expect(page.get_by_role("button", name="Remove log: note").last).to_be_focused()
    count("2 entries wait", page)
    page.get_by_role("button", name="Open it again").click()
    expect(page.locator("textarea[name=text]")).to_have_value("cold")
    page.fill("[name=temperature]", "7")
    page.click("form[data-kept] button.main")
    count("Sent and stored", page)
    expect(page.locator(".waiting li")).to_have_count(0)
    assert shop.texts() == ["cold", "behind it"]
    assert shop.notes()[0].detail["temperature_c"] == 7


def test_an_entry_is_stored_as_who_typed_it_and_a_pin_stays_off_the_device(shop, device):
    page = signed_in(device(), shop)
    engine = store.open_boat(shop.path)
    people.add_person(engine, "Bo", "bench", WORDS)
    people.change_person(engine, "Keeper", pin="4711")
    engine.dispose()
    page.context.set_offline(True)
    write(page, "signed for", sign="Keeper", pin="4711")
    count("1 entry waits", page)
    kept = page.evaluate(
        """() => new Promise((done) => { const open = indexedDB.open("scrieve"); open.onsuccess = () => {
           const all = open.result.transaction("entries").objectStore("entries").getAll();
           all.onsuccess = () => done(JSON.stringify(all.result)); }; })"""
    )
    assert "signed for" in kept
    assert "4711" not in kept
    page.context.set_offline(False)
    count("A PIN is asked for", page)
    page.context.clear_cookies()
    page.goto(shop.url + "/sign-in")
    page.fill("main [name=name]", "Bo")
    page.fill("main [name=password]", WORDS)
    page.click("main form button")
    page.fill(".waiting input[type=password]", "4711")
    page.click(".waiting form button")
    count("Keeper typed it: Keeper signs in", page)
    assert shop.texts() == []
