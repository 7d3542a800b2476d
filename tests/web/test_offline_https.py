"""Over HTTPS with the shop's own authority trusted: pages open with the server switched off, also in a browser newly
started, and what is entered on them is stored once when it is back.
"""

from __future__ import annotations

import asyncio
import base64
import hashlib
import json
import re
import shutil
import ssl
import threading

import httpx
import pytest
import uvicorn
from boats import PATIENCE_S, cut_off, make_small, ready
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from PIL import Image
from playwright.sync_api import expect, sync_playwright
from test_browser import FLAGS

from scrieve import store
from scrieve.web import create_app
from scrieve.web.server.certificates import shop_certificates
from scrieve.web.server.serving import bind

pytestmark = pytest.mark.browser


class Served:
    """A boat served by HTTPS on one port, that can be switched off and on."""

    def __init__(self, path, shop):
        self.path, self.shop, self.port = path, shop, 0

    def on(self):
        app = ready(create_app(self.path))
        app.state.shop = self.shop

        async def between(scope, receive, send):
            self.loop = asyncio.get_running_loop()
            await app(scope, receive, send)

        listening = bind("127.0.0.1", self.port)
        self.port = listening.getsockname()[1]
        config = uvicorn.Config(
            between, log_level="critical", lifespan="off", ssl_certfile=self.shop.certificate, ssl_keyfile=self.shop.key
        )
        self.server, self.listening = uvicorn.Server(config), listening
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [listening]})
        self.thread.start()

    def off(self):
        cut_off(self.server, self.loop, self.thread)
        self.listening.close()

    def texts(self):
        engine = store.open_boat(self.path)
        found = [record.detail["text"] for record in store.records(engine) if "text" in record.detail]
        engine.dispose()
        return found


@pytest.fixture
def served(tmp_path):
    found = Served(make_small(tmp_path / "small.scrieve", frames=4), shop_certificates(tmp_path / "https"))
    found.on()
    yield found
    found.off()


def spki(shop):
    """SHA-256 of the machine's public key: told to the browser, it checks this machine as if the shop were trusted."""
    (own, *_) = x509.load_pem_x509_certificates(shop.certificate.read_bytes())
    form = serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    return base64.b64encode(hashlib.sha256(own.public_key().public_bytes(*form)).digest()).decode()


def test_pages_open_with_the_server_switched_off(served, tmp_path):
    own = shutil.which("chromium") or shutil.which("chromium-browser")
    args = [*FLAGS, f"--ignore-certificate-errors-spki-list={spki(served.shop)}"]
    url = f"https://127.0.0.1:{served.port}"
    with sync_playwright() as play:

        def device():
            found = play.chromium.launch_persistent_context(tmp_path / "device", executable_path=own, args=args)
            found.set_default_timeout(1000 * PATIENCE_S)
            return found, found.pages[0] if found.pages else found.new_page()

        context, page = device()
        page.goto(url + "/")
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        page.wait_for_function("navigator.serviceWorker.controller")
        for path in ("/", "/marks", "/log"):
            page.goto(url + path)
        manifest = page.evaluate("document.querySelector('link[rel=manifest]').href")
        assert manifest == url + "/manifest.webmanifest"
        served.off()
        page.reload()
        expect(page.locator("h1")).to_have_text("Logbook")
        expect(page.locator(".waiting-line")).to_contain_text("This page as it stood at")
        for text in ("in the hull", "in the hull"):
            page.evaluate("document.querySelector('details.writing').open = true")
            page.fill("textarea[name=text]", text)
            page.click("form[data-kept] button.main")
            expect(page.locator("textarea[name=text]")).to_have_value("")
            page.reload()  # the page held has its old key: it is another entry all the same
        context.close()

        context, page = device()
        page.goto(url + "/marks")
        expect(page.locator("h1")).to_contain_text("Take-off")
        expect(page.locator(".waiting-line")).to_contain_text("2 entries wait on this device")
        page.get_by_role("link", name="Timber").click()
        expect(page.locator("h1")).to_have_text("Not on this device")
        page.go_back()
        served.on()
        page.reload()
        # together, or the first by the page before and the second by this one
        expect(page.locator(".waiting-line")).to_contain_text(re.compile("[Ss]ent and stored"))
        assert served.texts() == ["in the hull", "in the hull"]
        context.close()


def test_what_a_device_needs_is_there_and_the_keys_are_not(served):
    trusting = ssl.create_default_context(cafile=served.shop.authority)
    with httpx.Client(base_url=f"https://127.0.0.1:{served.port}", verify=trusting) as client:
        page = client.get("/trust").text
        assert served.shop.fingerprint in page
        loaded = client.get("/trust/authority.crt")
        assert loaded.headers["content-type"] == "application/x-x509-ca-cert"
        (authority,) = x509.load_pem_x509_certificates(loaded.content)
        assert authority.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
        assert b"PRIVATE" not in loaded.content
        manifest = json.loads(client.get("/manifest.webmanifest").text)
        # W3C Web Application Manifest: name, icons and where it starts; browsers ask for PNGs of 192 and 512
        assert {"name", "start_url", "display", "icons"} <= manifest.keys()
        for each in manifest["icons"]:
            reply = client.get(each["src"])
            assert reply.headers["content-type"].startswith(each["type"])
            if each["type"] == "image/png":
                size = Image.open(reply).size
                assert "x".join(map(str, size)) == each["sizes"]
