"""The store cannot be had: told as what it is (507, 503), the typed form beside it, nothing stored, the rest there."""

import pytest
from boats import HOME, client_of, make_small, ready
from sqlalchemy import event

from scrieve import store
from scrieve.errors import BadBoat, DiskFull, StoreAway
from scrieve.web import create_app

ENTRY = {"kind": "note", "member": "frame 3", "text": 300 * "a shake. "}
MARK = {"frame": "3", "station_mm": 2000.0, "height_mm": 100.0, "half_breadth_mm": 500.0}


@pytest.fixture
def client(tmp_path):
    with client_of(ready(create_app(make_small(tmp_path / "small.scrieve")))) as client:
        client.headers["Origin"] = HOME
        yield client
        client.app.state.boat.engine.dispose()


def every_connection(client, pragma):
    """Say a pragma on each connection as it is taken from the pool."""
    event.listen(client.app.state.boat.engine, "checkout", lambda raw, *_: raw.execute(f"PRAGMA {pragma}"))


@pytest.mark.parametrize(
    ("pragma", "status", "said"),
    [("max_page_count=1", 507, "the disk is full or fails; make room"), ("query_only=1", 503, "write-protected")],
)
def test_a_form_and_a_program_are_told_what_ails_the_store(client, pragma, status, said):
    every_connection(client, pragma)
    form = client.post("/log", data=ENTRY, follow_redirects=False)
    while form.status_code == 303:  # the last page of the file has room for a few
        form = client.post("/log", data=ENTRY, follow_redirects=False)
    assert form.status_code == status
    assert said in form.text
    assert ENTRY["text"].strip() in form.text, "what was typed stands there"
    engine = client.app.state.boat.engine
    before = len(store.acts(engine))
    many = [MARK | {"height_mm": 100.0 + n, "note": "x" * 200} for n in range(200)]
    program = client.post("/api/marks", json={"marks": many})
    assert (program.status_code, said in program.json()["error"]) == (status, True)
    assert len(store.acts(engine)) == before
    assert client.get("/marks").status_code == 200, "what was stored can be read"


def test_a_fault_of_the_form_stays_one_of_the_form(client):
    assert client.post("/log", data={"kind": "note", "text": ""}).status_code == 422


def test_what_is_wrong_is_sorted(tmp_path):
    assert issubclass(DiskFull, StoreAway)
    assert issubclass(StoreAway, BadBoat)
    (tmp_path / "a.boat").write_bytes(b"no boat at all" * 100)
    with pytest.raises(BadBoat):
        store.open_boat(tmp_path / "a.boat")
