"""With the network gone: what is entered waits on the device and is stored once, in order, when the server is back.

Pages are asked for by plain http under the machine's own name, as a tablet in the shed asks: no secure context, hence
no service worker and no locks of the browser.
"""

from __future__ import annotations

import shutil
import socket
import threading
from collections.abc import Callable, Iterator

import pytest
import uvicorn
from boats import make_small, ready
from playwright.sync_api import BrowserContext, Page, expect, sync_playwright
from test_browser import FLAGS

from scrieve import store
from scrieve.store import people
from scrieve.web import create_app
from scrieve.web.serving import bind

pytestmark = pytest.mark.browser

HOST = socket.gethostname().lower().split(".")[0] + ".local"
WORDS = "larch knee bevel"


class Shop:
    """A boat served under one address, that can be stopped in the middle of an answer and started again."""

    def __init__(self, path):
        self.path, self.port = path, 0
        self.hold = ""  # a POST is stored and not answered ("stored"), or not even read ("unread")
        self.held = threading.Event()
        self.sent = 0

    def start(self):
        app = ready(create_app(self.path, host="0.0.0.0"))

        async def between(scope, receive, send):
            if scope["type"] == "http" and scope["method"] == "POST":
                self.sent += 1
                if self.hold == "unread":
                    self.held.set()
                    return
                if self.hold == "stored":

                    async def silent(message):
                        self.held.set()

                    await app(scope, receive, silent)
                    return
            await app(scope, receive, send)

        self.listening = bind("127.0.0.1", self.port)
        self.port = self.listening.getsockname()[1]
        config = uvicorn.Config(between, log_level="critical", lifespan="off")
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [self.listening]})
        self.thread.start()
        return self

    def stop(self):
        self.server.force_exit = self.server.should_exit = True
        self.thread.join(20)
        self.listening.close()

    @property
    def url(self):
        return f"http://{HOST}:{self.port}"

    def texts(self):
        engine = store.open_boat(self.path)
        found = [record.detail["text"] for record in store.records(engine) if "text" in record.detail]
        engine.dispose()
        return found


@pytest.fixture
def shop(tmp_path) -> Iterator[Shop]:
    path = make_small(tmp_path / "small.scrieve")
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
        found.set_default_timeout(10_000)
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


def test_what_is_typed_without_network_waits_and_is_stored_once_in_order(shop, device):
    page = signed_in(device(), shop)
    assert page.evaluate("[isSecureContext, 'locks' in navigator, 'serviceWorker' in navigator]") == [False] * 3
    page.context.set_offline(True)
    for text in ("first", "second", "third"):
        write(page, text)
        expect(page.locator("textarea[name=text]")).to_have_value("")
    expect(waiting(page)).to_contain_text("3 entries wait on this device")
    assert shop.texts() == []
    # a link leads nowhere now: the page stays, and says so
    page.wait_for_timeout(5100)
    page.click("nav >> text=Timber")
    expect(waiting(page)).to_contain_text("“Timber” is not on this device")
    assert page.url == shop.url + "/log"
    page.context.set_offline(False)
    expect(waiting(page)).to_contain_text("stored")
    expect(waiting(page)).not_to_contain_text("wait on this device")
    assert shop.texts() == ["first", "second", "third"]
