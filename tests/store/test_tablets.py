"""Tablets at once against the served pages: none lost, none doubled. bench/store.py sends thirty for a minute."""

import sys
import uuid
import warnings
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from sqlalchemy import event
from tablets import serve_and_post

from scrieve import store
from scrieve.boat import Boat
from scrieve.store.place import Place
from scrieve.web import create_app

with warnings.catch_warnings():  # it asks for another client that is not among our tools
    warnings.simplefilter("ignore")
    from fastapi.testclient import TestClient


def test_what_many_tablets_post_at_once_is_there_once(where):
    assert "none lost, none doubled" in serve_and_post(where, 6, seconds=0.6, pause=0.1, inside=True)
    assert [each for each in store.check(where) if not each.ok] == []


def test_a_mark_posted_to_a_server_asks_it_few_questions(yard):
    """Each question is a way there and back, on which thirty tablets wait for one another: the state before it, seven
    in the transaction that stores it, and two for the state after it.
    """
    place = Place(yard, f"boat {uuid.uuid4()}")
    store.create(place, Boat("Merganser")).dispose()
    app = create_app(place)
    engine, asked = app.state.boat.engine, []
    event.listen(engine, "before_cursor_execute", lambda db, cursor, said, *more: asked.append(said))
    event.listen(engine, "commit", lambda db: asked.append("commit"))
    home = "http://127.0.0.1"
    pages = TestClient(app, base_url=home, follow_redirects=False, headers={"Origin": home})
    for n in range(3):
        asked.clear()
        row = {"r1.mark": str(n), "r1.height": f"{100 * n + 100}", "r1.half_breadth": "500"}
        sent = {"way": "offsets", "frame": "1", "station": "0", "side": "P", "do": "anyway", "key": str(n), **row}
        assert pages.post("/marks/new", data=sent).status_code == 303
    assert asked.count("commit") == 1
    assert len(asked) <= 11, asked
    engine.dispose()
