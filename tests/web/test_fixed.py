"""Style sheets and scripts from memory: packed, named, and read again once they have changed."""

from __future__ import annotations

import os

import pytest
from starlette.responses import PlainTextResponse
from starlette.testclient import TestClient

from scrieve.web.fixed import Fixed
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
