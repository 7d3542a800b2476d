"""Pages open to a network: nobody passes unsigned, no role passes its rule, nobody guesses for long."""

from __future__ import annotations

from pathlib import Path

import pytest
from boats import TestClient, all_routes, make_small, ready

from scrieve import store
from scrieve.store import people
from scrieve.store.people import ROLES
from scrieve.web import create_app
from scrieve.web.app import PARTS
from scrieve.web.people import pages as sign_in_pages
from scrieve.web.people.rules import WRITES, rule
from scrieve.web.people.sign_in import COOKIE, Tries, signed

NET = "http://192.168.7.20:8777"
WORDS = "larch knee bevel"
NAMES = {role: f"of {role}" for role in ROLES}


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    path: Path = make_small(tmp_path_factory.mktemp("net") / "small.scrieve")
    engine = store.open_boat(path)
    for role in reversed(ROLES):
        people.add_person(engine, NAMES[role], role, WORDS)
    engine.dispose()
    return ready(create_app(path, host="0.0.0.0"))


@pytest.fixture
def client(app, monkeypatch):
    monkeypatch.setattr(sign_in_pages, "_tries", Tries())
    with TestClient(app, base_url=NET, raise_server_exceptions=False, follow_redirects=False) as found:
        found.headers["origin"] = NET
        yield found


def enter(client, role="keeper", password=WORDS, back="/"):
    return client.post("/sign-in", data={"name": NAMES.get(role, role), "password": password, "back": back})


def routes():
    return sorted({(method, route.path) for part in PARTS for route in all_routes(part.pages) for method in
                   route.methods - {"HEAD"}})  # fmt: skip


def filled(path):
    return path.replace("{label}", "3").replace("{name}", "x").replace("{station}", "1400")


def test_every_address_that_takes_something_has_a_rule_of_its_own():
    sent_to = [path for method, path in routes() if method != "GET"]
    assert len(sent_to) > 20
    for path in sent_to:
        assert any(path == each or path.startswith(each + "/") for each in WRITES), (
            f"{path}: no rule in web/people/rules.py"
        )
    for path in WRITES:
        assert any(each == path or each.startswith(path + "/") for each in sent_to), f"{path}: a rule for nothing"


@pytest.mark.parametrize(("method", "path"), routes())
def test_nobody_passes_unsigned(client, method, path):
    reply = client.request(method, filled(path))
    if rule(method, path) is None:
        assert reply.status_code in (200, 401, 415)
    elif path.startswith("/api/"):
        assert reply.status_code == 401
        assert reply.json()["error"] == "Nobody is signed in."
    else:
        assert reply.status_code == 303
        assert reply.headers["location"].startswith("/sign-in")


@pytest.mark.parametrize("role", ROLES)
def test_each_role_is_answered_what_it_holds_and_refused_the_rest(client, role):
    assert enter(client, role).status_code == 303
    for method, path in routes():
        least = rule(method, path)
        if least is None or path in ("/sign-out", "/me"):
            continue
        reply = client.request(method, filled(path))
        refused = reply.status_code == 403
        assert refused == (ROLES.index(role) < ROLES.index(least)), f"{method} {path}: {reply.status_code}"
        assert reply.status_code < 500, f"{method} {path}"


def test_the_way_back_is_kept_and_leads_nowhere_else(client):
    first = client.get("/frames?x=1")
    assert first.headers["location"] == "/sign-in?back=%2Fframes%3Fx%3D1"
    assert enter(client, back="/frames?x=1").headers["location"] == "/frames?x=1"
    assert enter(client, back="//elsewhere").headers["location"] == "/"


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(client):
    cookie = enter(client).headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    assert "Secure" not in cookie  # plain http on the shop's own network
    assert "Secure" in client.post(NET.replace("http", "https") + "/sign-in",
                                   headers={"origin": NET.replace("http", "https")},
                                   data={"name": NAMES["keeper"], "password": WORDS}).headers["set-cookie"]  # fmt: skip


def test_a_forged_cookie_or_one_signed_out_opens_nothing(client, app):
    enter(client)
    token = client.cookies[COOKIE]
    assert client.get("/").status_code == 200
    client.post("/sign-out", data={"x": "1"})
    client.cookies.clear()
    for forged in (token, signed("guess", b"k" * 32), token.split(".")[0], "x.y", ""):
        reply = client.get("/", headers={"cookie": f"{COOKIE}={forged}"})
        assert reply.status_code == 303


def test_a_form_from_another_site_is_not_taken(client):
    enter(client)
    reply = client.post("/people", data={"do": "add"}, headers={"origin": "http://elsewhere.test"})
    assert reply.status_code == 403


def test_guessing_is_slowed_and_told(client):
    for _ in range(5):
        assert enter(client, password="wrong words here").status_code == 401
    reply = enter(client)
    assert reply.status_code == 429
    assert int(reply.headers["retry-after"]) >= 1


def test_waits_double_up_to_a_quarter_of_an_hour_and_end_with_success():
    now = [0.0]
    tries = Tries(lambda: now[0])
    waits = []
    for _ in range(20):
        tries.failed("a")
        waits.append(tries.wait_s("a"))
    assert waits[:7] == [0, 0, 0, 0, 1, 2, 4]
    assert waits[-1] == 900
    now[0] = 900
    assert tries.wait_s("a") == 0
    tries.succeeded("a")
    tries.failed("a")
    assert tries.wait_s("a", "b") == 0


def test_an_act_bears_the_name_of_who_did_it(client, app):
    enter(client, "bench")
    assert client.post("/marks/answer", data={"number": "3", "what": "keep"}).status_code == 303
    assert store.acts(app.state.boat.engine)[-1].who == NAMES["bench"]


def test_a_script_acts_by_its_token(client, app):
    engine = app.state.boat.engine
    token = people.sit_down(engine, next(p for p in people.people(engine) if p.role == "look"), "script")
    bearer = {"authorization": f"Bearer {token}"}
    del client.headers["origin"]
    ready(app)
    assert client.get("/api/hull", headers=bearer).status_code == 200
    assert client.post("/marks/answer", data={"number": "3", "what": "keep"}, headers=bearer).status_code == 403
    assert client.get("/api/hull", headers={"authorization": "Bearer x"}).status_code == 401


def test_the_keeper_lets_people_in_and_sends_them_away(client):
    enter(client)
    given = {"do": "add", "name": "New <b>", "role": "bench", "password": "three plain words"}
    assert client.post("/people", data=given).status_code == 303
    assert "New &lt;b&gt;" in client.get("/people").text
    assert client.post("/people", data=given).status_code == 422
    assert client.post("/people", data={"do": "gone", "name": "New <b>"}).status_code == 303
    assert "may not sign in any more" in client.get("/people").text
    assert client.post("/people", data={"do": "gone", "name": NAMES["keeper"]}).status_code == 422


def test_a_new_password_ends_every_sitting(client):
    enter(client, "look")
    assert client.post("/me", data={"password": "wrong words", "new": "other three words"}).status_code == 422
    page = client.post("/me", data={"password": WORDS, "pin": "1234"})
    assert (page.status_code, "<dt>signs with a PIN</dt><dd>yes</dd>" in page.text) == (200, True)
    assert client.post("/me", data={"password": WORDS, "new": "other three words"}).status_code == 303
    assert client.get("/").status_code == 303
    assert enter(client, "look").status_code == 401


def test_at_ones_own_machine_nobody_signs_in(pages):
    assert pages.get("/").status_code == 200
    assert "nobody signs in" in pages.get("/me").text


def test_who_has_not_signed_in_is_shown_no_row_of_pages(client):
    assert 'aria-label="Pages"' not in client.get("/sign-in").text
    assert 'aria-label="Pages"' in client.get("/away").text, "kept on the device, for who signs in later"
    enter(client)
    assert 'aria-label="Pages"' in client.get("/frames").text
