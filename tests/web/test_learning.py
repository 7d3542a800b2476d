"""The first run's ten steps follow the boat's own state; every word that a label leads to is explained."""

from __future__ import annotations

import re
from pathlib import Path

from boats import HOME, ready

from scrieve import store
from scrieve.web import views
from scrieve.web.learning.words import BY_NAME, WORDS

TEMPLATES = Path(views.__file__).parent / "templates"


def done_of(client):
    ready(client.app)
    page = client.get("/tour").text
    found = re.findall(r'<li id="step-(\d+)" class="(done)?( now)?">', page)
    assert len(found) == 10
    return {int(number) for number, done, _ in found if done}, {int(number) for number, _, now in found if now}


def test_a_step_is_done_when_the_boat_says_so(small):
    client = small(slip_mm=30.0)
    client.headers["origin"] = HOME
    assert done_of(client) == ({2, 3}, {1})
    said = {"marks": [18], "what": "drop"}
    for path, body in (
        ("/api/boat", {"thickness_mm": 22}),
        ("/api/answers", said),
        ("/api/frames", {"label": "3", "choice": {}}),
        ("/api/jig/setting", {"frame": "3", "what": "proved"}),
        ("/api/glue-up/done", {"frame": "3", "air_c": 18, "humidity_pct": 60}),
    ):
        ready(client.app)
        assert client.post(path, json=body).status_code == 200, path
    assert done_of(client) == ({1, 2, 3, 4, 5, 6, 7}, {8})
    page = client.get("/tour").text
    assert '<a class="button" href="/release?frame=3">Go there' in page  # the frame that was glued, and no other
    store.answer(client.app.state.boat.engine, 18, "keep")
    assert 4 in done_of(client)[0]  # kept, it is a suspect no more


def test_every_step_leads_to_a_page_that_answers(pages):
    paths = re.findall(r'<a class="button" href="([^"]+)">(?:Look|Go there)', pages.get("/tour").text)
    assert len(paths) == 10
    for path in paths:
        assert pages.get(path.replace("&amp;", "&")).status_code == 200, path


def test_every_word_that_a_label_leads_to_is_explained(pages):
    page = pages.get("/words").text
    anchors = set(re.findall(r'<div id="([^"]+)"', page))
    assert anchors == {word.anchor for word in BY_NAME.values()}
    assert len(BY_NAME) == sum(len(group) for group in WORDS.values()) > 60
    texts = [path.read_text(encoding="utf-8") for path in TEMPLATES.glob("*.html")]
    asked = [name for text in texts for name in re.findall(r"\bterm\('([^']+)'", text)]
    for text in texts:
        asked += [name for names in re.findall(r"glossary\(([^)]*)\)", text) for name in re.findall("'([^']+)'", names)]
    assert len(asked) > 60
    assert set(asked) <= set(BY_NAME)
    assert {other for word in BY_NAME.values() for other in word.see} <= set(BY_NAME)


#: Pages that are a head of the row of pages, or stand before it.
HEADS = {"/", "/marks", "/fairing", "/frames", "/jig", "/planks", "/timber", "/plan", "/log", "/sheets"}
WORKED_AT = [*HEADS, "/settings", "/marks/new", "/marks/bevels", "/frames/14", "/stations/3610", "/jig?frame=14",
             "/jig/bench?frame=14", "/jig/order", "/glue-up", "/glue-up?frame=14", "/release", "/release?frame=14",
             "/planks/garboard", "/planks/lining?side=port", "/planks/skin?side=port", "/plan/today", "/plan/waits",
             "/round", "/undo"]  # fmt: skip


def test_every_page_of_the_work_leads_to_words_and_says_where_it_stands(pages):
    ready(pages.app)
    for path in WORKED_AT:
        page = pages.get(path).text
        assert re.search(r'<a class="term" href="/words#[\w-]+">', page), f"{path}: no word of the trade"
        assert page.count('aria-current="page"') >= 1, f"{path}: not in the row of pages"
        assert path in HEADS or '<nav class="crumbs"' in page, f"{path}: no way back"


def test_an_empty_boat_is_led_to_the_first_run(tmp_path):
    from boats import client_of

    from scrieve.boat import Boat
    from scrieve.web import create_app

    store.create(tmp_path / "new.scrieve", Boat("New")).dispose()
    client = client_of(ready(create_app(tmp_path / "new.scrieve")))
    assert 'href="/tour"' in client.get("/").text
    assert done_of(client) == (set(), {1})
