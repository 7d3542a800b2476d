"""Pages given again as they were: quickly while nothing changes, never once something has."""

from __future__ import annotations

import gzip

import pytest
from boats import HOME, settled
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.testclient import TestClient

from scrieve import store
from scrieve.store.people import add_person
from scrieve.web import views
from scrieve.web.server.remembered import Remembered, remembered


@pytest.fixture
def rendered(monkeypatch):
    """Templates put into words, by name."""
    found: list[str] = []
    get = views.ENVIRONMENT.get_template

    def counted(name, *rest, **how):
        found.append(name)
        return get(name, *rest, **how)

    monkeypatch.setattr(views.ENVIRONMENT, "get_template", counted)
    return found


def test_a_second_reader_gets_the_page_that_was_made(pages, rendered):
    first = pages.get("/frames/14?second-reader")
    made = len(rendered)
    plain = pages.get("/frames/14?second-reader", headers={"Accept-Encoding": "identity"})
    again = pages.get("/frames/14?second-reader")
    assert len(rendered) == made > 0
    assert first.text == again.text == plain.text
    assert first.headers["content-encoding"] == again.headers["content-encoding"] == "gzip"
    assert "content-encoding" not in plain.headers
    assert again.headers["etag"] == first.headers["etag"]
    assert "Accept-Encoding" in again.headers["vary"]
    # pressed with Ctrl or Shift, a browser's 'reload' asks for what is really there (RFC 9111, section 5.2.1.4)
    pages.get("/frames/14?second-reader", headers={"Cache-Control": "no-cache"})
    assert len(rendered) > made


def test_a_mark_answered_on_the_page_or_by_another_program_shows_at_once(small):
    client = small()
    first, second = client.app.state.boat.state().every_mark[:2]
    page = f"/marks?frame={first.frame}"
    assert "dropped" not in client.get(page).text
    client.get(page)
    sent = {"number": first.number, "what": "drop", "back": "/"}
    assert client.post("/marks/answer", data=sent, headers={"Origin": HOME}).status_code == 303
    once = settled(client, page).text.count("dropped")
    assert once > 0
    store.answer(client.app.state.boat.engine, second.number, "drop")
    assert settled(client, page).text.count("dropped") > once


def test_a_person_added_elsewhere_changes_pages_that_ask_for_a_pin(small):
    client = small()
    first = client.get("/settings").headers["etag"]
    assert client.get("/settings").headers["etag"] == first
    add_person(client.app.state.boat.engine, "Ansa", "bench", "a long password")
    assert client.get("/settings").headers["etag"] != first


def test_only_what_is_named_is_kept_and_the_oldest_goes_first():
    made: list[str] = []

    def page(request: Request) -> Response:
        path = request.url.path
        if path != "/clock" and (found := remembered(request, path)):
            return found
        made.append(path)
        return Response(bytes(60_000), headers={} if path == "/clock" else {"ETag": path})

    client = TestClient(Starlette(routes=[Route("/{any}", page)], middleware=[Middleware(Remembered, 100_000)]))
    for path in ("/a", "/b", "/clock", "/clock", "/b", "/a"):
        client.get(path)
    assert made == ["/a", "/b", "/clock", "/clock", "/a"]


def test_a_packed_page_is_unpacked_for_one_who_cannot():
    def page(request: Request) -> Response:
        body = gzip.compress(b"words")
        return remembered(request, "W/1") or Response(body, headers={"ETag": "W/1", "Content-Encoding": "gzip"})

    client = TestClient(Starlette(routes=[Route("/", page)], middleware=[Middleware(Remembered)]))
    client.get("/")
    plain = client.get("/", headers={"Accept-Encoding": "identity"})
    assert (plain.content, plain.headers.get("content-encoding")) == (b"words", None)
