"""Who is answered, what every answer carries, and what becomes of a fault."""

import asyncio
import contextlib
import logging
import re
import sqlite3
import subprocess
import sys
import urllib.request

import pytest
from boats import make_small

from scrieve.errors import BadBoat, ScrieveError
from scrieve.web import create_app
from scrieve.web.boat import pages as boat_pages
from scrieve.web.server.hosts import KnownHosts
from scrieve.web.server.serving import bind


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "", "127.0.0.1@evil.example", "10.0.0.7"])
def test_a_foreign_name_is_refused(pages, host):
    """DNS rebinding: a page of elsewhere turns its own name to 127.0.0.1; only the name gives it away."""
    reply = pages.get("/", headers={"Host": host})
    assert reply.status_code == 421
    assert "Merganser" not in reply.text


@pytest.mark.parametrize("host", ["127.0.0.1:8777", "localhost", "LOCALHOST:99", "[::1]:8777"])
def test_this_machines_names_are_answered(pages, host):
    assert pages.get("/", headers={"Host": host}).status_code == 200


def test_bound_to_a_network_addresses_are_answered_and_names_are_not():
    hosts = KnownHosts("0.0.0.0")
    assert hosts.accept("192.168.1.20:8777")
    assert hosts.accept("[fe80::1]:8777")
    assert hosts.accept("localhost:8777")
    assert not hosts.accept("evil.example")
    assert KnownHosts("shed.example").accept("shed.example:8777")


@pytest.mark.parametrize("path", ["/", "/nothing", "/static/pages.css", "/static/drawing.js", "/api/hull"])
def test_every_answer_carries_the_strict_headers(pages, path):
    headers = pages.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


@pytest.mark.parametrize(("method", "path"), [("POST", "/"), ("PUT", "/marks/answer"), ("DELETE", "/frames/14")])
def test_other_methods_are_refused(pages, method, path):
    assert pages.request(method, path).status_code == 405


def test_head_sends_no_text(merganser):
    """RFC 9110, 9.3.2: the answer to HEAD has the head of GET and no content (the test client would drop it itself)."""
    said = []

    async def ask():
        asked = [{"type": "http.request", "body": b"", "more_body": False}]

        async def receive():
            return asked.pop() if asked else await asyncio.sleep(3600)  # the browser stays

        async def send(message):
            said.append(message)

        scope = {"type": "http", "method": "HEAD", "path": "/static/pages.css", "query_string": b"", "root_path": ""}
        scope |= {"headers": [(b"host", b"127.0.0.1")], "scheme": "http", "http_version": "1.1", "server": None}
        await asyncio.wait_for(merganser(scope, receive, send), 60)

    asyncio.run(ask())
    assert said[0]["status"] == 200
    assert (b"content-type", b"text/css; charset=utf-8") in said[0]["headers"]
    assert b"".join(message.get("body", b"") for message in said[1:]) == b""


def test_a_fault_is_a_number_for_the_visitor_and_the_rest_for_the_log(pages, monkeypatch, caplog):
    def broken(*_):
        raise RuntimeError("secret in the works")

    monkeypatch.setattr(boat_pages, "hull_drawings", broken)
    with caplog.at_level(logging.ERROR, "scrieve.web"):
        reply = pages.get("/?broken")
    assert reply.status_code == 500
    assert "secret" not in reply.text
    number = re.search(r"number ([0-9A-F]{6})", reply.text)[1]
    assert number in caplog.text
    assert "secret in the works" in caplog.text
    assert reply.headers["x-content-type-options"] == "nosniff"


def test_a_file_that_is_no_boat_is_refused(tmp_path):
    with pytest.raises(BadBoat, match="there is no such file"):
        create_app(tmp_path / "none.scrieve")


def test_a_file_with_a_damaged_page_is_not_served(tmp_path):
    """A page that nothing reads at the start: the index of answers to marks."""
    path = make_small(tmp_path / "small.scrieve")
    with contextlib.closing(sqlite3.connect(path)) as raw:
        (page,) = raw.execute("SELECT rootpage FROM sqlite_master WHERE name = 'ix_answers_boat_id_number'").fetchone()
    whole = bytearray(path.read_bytes())
    whole[(page - 1) * 4096 : page * 4096] = b"\xa5" * 4096
    path.write_bytes(whole)
    with pytest.raises(BadBoat, match=r"it is damaged \(.+\)\. Stop working on it; .*'scrieve salvage'"):
        create_app(path)
    assert path.read_bytes() == whole


def test_a_taken_port_is_told_with_a_way_out():
    with bind("127.0.0.1", 0) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(ScrieveError, match=rf"port {port} is taken.*--port"):
            bind("127.0.0.1", port)
    with pytest.raises(ScrieveError, match="port 70000: give one"):
        bind("127.0.0.1", 70000)
    with pytest.raises(ScrieveError, match="is not known; give"):
        bind("a" * 80, 0)  # no name of a machine: a label has at most 63 letters (RFC 1035, 2.3.4)
    with pytest.raises(ScrieveError, match=r"192\.0\.2\.1"):  # TEST-NET-1, RFC 5737: no machine has it
        bind("192.0.2.1", 0)


def test_serve_prints_its_address_and_answers(tmp_path):
    path = make_small(tmp_path / "small.scrieve")
    code = f"from pathlib import Path; from scrieve.web import serve; serve(Path({str(path)!r}), port=0)"
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as server:
        try:
            address = re.search(r"http://127\.0\.0\.1:\d+/", server.stdout.readline())[0]
            with urllib.request.urlopen(address + "static/mark.svg", timeout=90) as reply:
                assert reply.headers["content-type"] == "image/svg+xml"
                assert "server" not in reply.headers
        finally:
            server.terminate()
