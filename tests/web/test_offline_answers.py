"""What a device's outbox is answered: stored once, told where to go on, and refused for another boat."""

from datetime import UTC, datetime, timedelta
from urllib.parse import quote

from starlette.requests import Request

from scrieve import store
from scrieve.web.away.outbox import typed_at

ENTRY = {"kind": "note", "text": "scarf opened", "key": "k1"}


def sent(client, boat="Small", **fields):
    headers = {"Kept-On-Device": quote(boat), "Origin": str(client.base_url).rstrip("/")}
    return client.post("/log", data=ENTRY | {"back": "/log#top"} | fields, headers=headers)


def test_an_entry_is_stored_once_and_told_where_it_leads(small):
    with small() as client:
        engine = client.app.state.boat.engine
        for _ in range(2):
            reply = sent(client)
            assert (reply.status_code, reply.content) == (204, b"")
            assert reply.headers["kept-location"] == "/log#top"  # a redirect would lose what stands behind the #
        assert len(store.records(engine)) == 1
        assert sent(client, key="k2", temperature="seven").status_code == 422
        other = sent(client, boat="Teal", key="k3")
        assert other.status_code == 409
        assert "for the boat Teal" in other.json()["error"]
        assert len(store.records(engine)) == 1


def test_what_waited_is_dated_when_it_was_typed():
    def at(age):
        return typed_at(Request({"type": "http", "headers": [(b"kept-age", age)]}))

    now = datetime.now(UTC)
    assert abs(now - timedelta(hours=2) - at(b"7200")) < timedelta(seconds=5)
    for odd in (b"-5", b"x", b"", b"99999999999"):
        assert abs(now - at(odd)) < timedelta(seconds=5)
