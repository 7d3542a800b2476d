"""Style sheets and scripts from memory: packed, named, and read again once they have changed."""

from __future__ import annotations

import json
import os
import re

import pytest
from starlette.responses import PlainTextResponse
from starlette.testclient import TestClient

from scrieve.web.server.fixed import Fixed, begun
from scrieve.web.views import HERE


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "page.css").write_text("a { color: red }\n" * 100)
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "hidden.css").write_text("b {}")
    return tmp_path


@pytest.fixture
def client(folder):
    return TestClient(Fixed(PlainTextResponse("further", 404), folder))


def test_a_file_packed_plain_and_not_changed(client, folder):
    packed = client.get("/static/page.css")
    assert (packed.headers["content-encoding"], packed.text) == ("gzip", (folder / "page.css").read_text())
    assert int(packed.headers["content-length"]) < 200
    assert packed.headers["content-type"] == "text/css; charset=utf-8"
    plain = client.get("/static/page.css", headers={"Accept-Encoding": "identity"})
    assert (plain.headers.get("content-encoding"), plain.text) == (None, packed.text)
    again = client.get("/static/page.css", headers={"If-None-Match": packed.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_a_changed_file_is_sent_as_it_is_now(client, folder):
    first = client.get("/static/page.css")
    (folder / "page.css").write_text("a { color: tan }\n" * 100)  # as long as before
    os.utime(folder / "page.css", (1, 1))
    second = client.get("/static/page.css", headers={"If-None-Match": first.headers["etag"]})
    assert second.status_code == 200
    assert "tan" in second.text


@pytest.mark.parametrize(
    "path", ["/static/none.css", "/static/deep/hidden.css", "/static/../page.css", "/static/", "/"]
)
def test_only_the_files_of_the_folder(client, path):
    assert client.get(path).text == "further"


def test_every_script_and_style_sheet_is_answered_as_it_lies_there(pages):
    for path in sorted((HERE / "static").glob("*.*s")):
        reply = pages.get(f"/static/{path.name}")
        assert reply.content == path.read_bytes()
        assert (
            reply.headers["content-type"].split(";")[0] == {".js": "text/javascript", ".css": "text/css"}[path.suffix]
        )
        assert "default-src 'none'" in reply.headers["content-security-policy"]


def test_under_this_versions_address_a_file_is_kept_for_good_under_others_never(client, folder):
    """RFC 9111 (max-age, no-cache) and RFC 8246 (immutable)."""
    known = begun(folder)
    for_good = client.get(known.address("page.css"))
    assert for_good.headers["cache-control"] == "public, max-age=31536000, immutable"
    for address in ("/static/page.css", "/static/0123456789abcdef/page.css"):
        asked_again = client.get(address)
        assert (asked_again.headers["cache-control"], asked_again.text) == ("no-cache", for_good.text)
    assert client.get("/static/0123456789/page.css").text == "further"
    (folder / "page.css").write_text("a { color: tan }\n")  # changed while the program runs
    assert client.get(known.address("page.css")).headers["cache-control"] == "no-cache"


def test_another_content_is_another_address(folder, tmp_path_factory):
    other = tmp_path_factory.mktemp("other")
    for path in folder.glob("*.css"):
        (other / path.name).write_bytes(path.read_bytes())
    assert begun(other).version == begun(folder).version
    changed = tmp_path_factory.mktemp("changed")
    (changed / "page.css").write_text("a { color: tan }")
    assert begun(changed).version != begun(folder).version


def test_pages_scripts_and_worker_agree_on_the_addresses(pages):
    """Every page asks under one version; scripts name one another beside themselves; the worker holds the same."""
    known = begun(HERE / "static")
    head = pages.get("/worker.js").text.splitlines()[0]
    held = set(json.loads(re.search(r"FILES = (\[.*\]);", head)[1]))
    assert held == {known.address(name) for name in known.digests if name != "worker.js"}
    for path in ("/", "/fairing", "/frames/14", "/round", "/timber", "/away", "/trust"):
        asked = set(re.findall(r'(?:src|href)="(/static/[^"]+\.(?:js|css|svg))"', pages.get(path).text))
        assert asked, path
        assert asked <= held, path
    for name in known.digests:
        if name.endswith(".js"):
            text = pages.get(known.address(name)).text
            for beside in re.findall(r"""from "([^"]+)";""", text):
                assert known.address(beside.removeprefix("./")) in held, (name, beside)
    table = pages.get(known.address("table.js"))
    assert table.headers["cache-control"] == "no-cache"  # its words are those of the language, whatever the version
