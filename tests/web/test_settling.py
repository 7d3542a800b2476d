"""Two people at one form: the second is shown the difference; and every form is stored once, however often sent."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from boats import HOME, client_of, make_small, ready, settled

from scrieve import store
from scrieve.web import create_app
from scrieve.web.server.once import keyed

FRAME = {"on": "frame", "label": "3", "timber": "larch", "sided": "45", "moulded": "60"}


@pytest.fixture
def path(tmp_path):
    return make_small(tmp_path / "small.scrieve")


@pytest.fixture
def client(path):
    with client_of(ready(create_app(path))) as client:
        client.headers["Origin"] = HOME
        yield client
        client.app.state.boat.engine.dispose()


def hidden(page, action):
    """The hidden fields of the first form of a page that is sent to an address."""
    (form, *_) = re.findall(rf'<form[^>]*action="{action}"[^>]*>(.*?)</form>', page, re.DOTALL)
    return dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', form))


def engine_of(client):
    return client.app.state.boat.engine


def choice(client):
    return store.frames(engine_of(client))["3"]["choice"]


def designed(client, **change):
    opened = hidden(client.get("/frames/3").text, "/frames/design")
    return client.post("/frames/design", data={**FRAME, **opened, **change}), opened


def test_the_second_at_a_frame_is_shown_the_difference_and_stores_both(client):
    assert designed(client)[0].status_code == 303
    opened = hidden(client.get("/frames/3").text, "/frames/design")
    assert client.post("/frames/design", data={**FRAME, **opened, "sided": "48"}).status_code == 303
    reply = client.post("/frames/design", data={**FRAME, **opened, "moulded": "64"})
    assert reply.status_code == 409
    rows = re.findall(r'<th scope="row">(.*?)</th><td>(.*?)</td><td>(.*?)</td><td>(.*?)</td>', reply.text)
    assert ("sided", "45.0 mm", "<strong>48.0 mm</strong>", "45.0 mm") in rows
    assert ("moulded", "60.0 mm", "60.0 mm", "<strong>64.0 mm</strong>") in rows
    assert (choice(client)["sided_mm"], choice(client)["moulded_mm"]) == (48.0, 60.0)
    both = hidden(reply.text, "/frames/design")
    assert both["settle"] == "both"
    assert client.post("/frames/design", data=both).status_code == 303
    assert (choice(client)["sided_mm"], choice(client)["moulded_mm"]) == (48.0, 64.0)


def test_where_both_changed_one_value_there_is_mine_or_theirs(client):
    designed(client)
    opened = hidden(client.get("/frames/3").text, "/frames/design")
    client.post("/frames/design", data={**FRAME, **opened, "sided": "48"})
    reply = client.post("/frames/design", data={**FRAME, **opened, "sided": "50"})
    assert "Store both" not in reply.text
    mine = hidden(reply.text, "/frames/design")
    # a third changes it while the second reads: he is shown again, never written over
    client.post(
        "/frames/design", data={**FRAME, **hidden(client.get("/frames/3").text, "/frames/design"), "sided": "52"}
    )
    again = client.post("/frames/design", data=mine)
    assert again.status_code == 409
    assert client.post("/frames/design", data=hidden(again.text, "/frames/design")).status_code == 303
    assert choice(client)["sided_mm"] == 50.0


def test_the_boats_settings(client):
    page = client.get("/settings").text
    opened = hidden(page, "/settings")
    first = store.boat(engine_of(client))
    form = {"name": first.name, "planking": "inside", "units": "mm", "thickness": "0", "sigma": "1", "note": ""}
    assert client.post("/settings", data={**form, **opened, "note": "hauled out"}).status_code == 303
    reply = client.post("/settings", data={**form, **opened, "thickness": "28mm"})
    assert reply.status_code == 409
    assert "<strong>hauled out</strong>" in reply.text
    assert client.post("/settings", data=hidden(reply.text, "/settings")).status_code == 303
    kept = store.boat(engine_of(client))
    assert (kept.note, kept.thickness_mm, kept.sigma_mm) == ("hauled out", 28.0, first.sigma_mm)
    wrong = client.post("/settings", data={**form, "sigma": "wide"})
    assert wrong.status_code == 422
    assert 'value="wide"' in wrong.text


def test_an_answer_given_meanwhile_is_told(client):
    opened = {"number": "1", "back": "/", "seen": str(store.last_act(engine_of(client)))}
    assert client.post("/marks/answer", data={**opened, "what": "drop", "key": "a"}).status_code == 303
    assert client.post("/marks/answer", data={**opened, "what": "keep", "key": "b"}).status_code == 409
    assert store.answers(engine_of(client)) == {1: "drop"}


class Forms(HTMLParser):
    """The forms of a page: action, and every field as a browser would send it."""

    def __init__(self, page):
        super().__init__()
        self.forms, self.text, self.select, self.option = [], None, None, False
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        name = found.get("name")
        if tag == "form":
            self.forms.append((found.get("action"), {}))
        elif not self.forms or (not name and tag != "option"):
            return
        elif tag == "input" and (found.get("type") not in ("checkbox", "radio") or "checked" in found):
            self.forms[-1][1][name] = found.get("value", "on" if found.get("type") == "checkbox" else "")
        elif tag in ("select", "textarea"):
            self.forms[-1][1].setdefault(name, "")
            self.select, self.text = (name, None) if tag == "select" else (None, name)
        elif tag == "option" and self.select and ("selected" in found or not self.forms[-1][1][self.select]):
            self.forms[-1][1][self.select] = found.get("value", "")
            self.option = "value" not in found

    def handle_data(self, data):
        if self.text:
            self.forms[-1][1][self.text] += data
        elif self.option and self.select:
            self.forms[-1][1][self.select], self.option = data, False

    def handle_endtag(self, tag):
        self.text = None if tag == "textarea" else self.text
        self.select = None if tag == "select" else self.select


def form_at(client, page, action, which, *asks):
    """The fields of a page's form that is sent to an address, holds these values, and asks for these."""
    for to, fields in Forms(settled(client, page).text).forms:
        if (
            to.split("#")[0] == action
            and which.items() <= fields.items()
            and set(asks) <= fields.keys()
            and not fields.get("was")
        ):
            return fields
    raise AssertionError(f"{page} has no form to {action} with {which} that asks for {asks}")


def stored(client, part, name):
    return store.choice_at(engine_of(client), part, name)


LINED = {"form": "settings", "side": "pair", "strakes": "8", "widest": "300", "narrowest": "20", "end_narrowest": "10"}
#: Two changes of one form that do not meet: page, address, which form, one person's change, the other's, and where it
#: is stored.
TWO = {
    "jig bed": ("/jig", "/jig/bed", {}, {"depth_mm": "2100"}, {"frame_min": "9"}, ("jig", "bed")),
    "data sheet": ("/glue-up?frame=3", "/glue-up/sheet", {}, {"pot_life_min": "31"}, {"source": "tin"},
                   ("glue", "epoxy")),
    "glue-up": ("/glue-up?frame=3", "/glue-up/plan", {}, {"people": "3"}, {"mixing_min": "4"}, ("yard", "glue-up")),
    "release": ("/release?frame=3", "/release/shop", {}, {"tolerance_mm": "2.5 mm"}, {"sigma_mm": "0.7 mm"},
                ("yard", "release")),
    "timber shop": ("/timber", "/timber", {}, {"kerf_mm": "4.5"}, {"seconds": "44"}, ("layout", "shop")),
    "yard": ("/plan/yard", "/plan/yard", {"do": "hull"}, {"frames_out": "5"}, {"planks_off": "3"},
             ("yard", "work yard")),
    "person": ("/plan/yard", "/plan/yard", {"do": "person"}, {"name": "Dunnock", "bench": "on"}, {"name": "Siskin"},
               ("yard", "work yard")),
    "prices": ("/plan/costs", "/plan/costs", {"do": "prices"}, {"glue": "21"}, {"cotton": "9"},
               ("yard", "work prices")),
    "seams": ("/planks/lining?side=pair", "/planks/lining", {"form": "settings"}, {"strakes": "9"}, {"thickness": "21"},
              ("lining", "pair")),
    "butts": ("/planks/lining?side=pair", "/planks/lining", {"form": "butts"}, {"renew": "2"}, {"seconds": "40"},
              ("lining", "pair")),
}  # fmt: skip


@pytest.mark.parametrize("case", TWO)
def test_of_every_form_the_second_is_shown_the_difference(client, case):
    page, action, which, one, other, (part, name) = TWO[case]
    at = page, action, which, *({*one, *other} - {"bench"})
    do = {"do": {"timber shop": "shop", "butts": "check"}.get(case, which.get("do", ""))}
    if case not in ("jig bed", "timber shop"):
        designed(client)
    if action == "/planks/lining":
        first = form_at(client, page, action, {"form": "settings"}, "strakes") | LINED
        reply = client.post(action, data=first)
        assert reply.status_code == 303, reply.text
    if case not in ("jig bed", "timber shop", "yard", "prices"):  # of these what is usual stands until one is kept
        opened = {**form_at(client, *at), **do}
        reply = client.post(action, data={**opened, **({"name": "Wren", "bench": "on"} if case == "person" else {})})
        assert reply.status_code == 303, re.search(r'role="alert">(.*?)<', reply.text)
    opened = {**form_at(client, *at), **do}
    reply = client.post(action, data={**opened, **one})
    assert reply.status_code == 303, reply.text
    theirs = stored(client, part, name)
    reply = client.post(action, data={**opened, **other})
    assert reply.status_code == 409, reply.text
    assert stored(client, part, name) == theirs
    assert client.post(action, data=hidden(reply.text, action)).status_code == 303
    if case == "person":
        assert {"Wren", "Dunnock", "Siskin"} <= {each["name"] for each in stored(client, part, name)["people"]}
    else:
        now = form_at(client, *at)
        assert {name: now[name] for name in (*one, *other)} == {**one, **other}


def test_a_plank_made_of_a_strake_again_asks_where_it_was_changed_meanwhile(client):
    first = form_at(client, "/planks/lining?side=pair", "/planks/lining", {"form": "settings"}, "strakes") | LINED
    assert client.post("/planks/lining", data=first).status_code == 303
    plank = {"form": "plank", "side": "pair", "strake": "4", "which": "1"}
    assert client.post("/planks/lining", data=plank).headers["location"] == "/planks/strake%204"
    opened = str(store.last_act(engine_of(client)))
    client.post("/planks/settings", data={"name": "strake 4", "trim_mm": "75"})
    reply = client.post("/planks/lining", data={**plank, "seen": opened, "key": "as opened"})
    assert reply.status_code == 409
    assert "<td>50.0 mm</td><td><strong>75.0 mm</strong></td><td>50.0 mm</td>" in reply.text
    assert store.planks(engine_of(client))["strake 4"]["choice"]["trim_mm"] == 75
    assert client.post("/planks/lining", data=hidden(reply.text, "/planks/lining")).status_code == 303
    assert store.planks(engine_of(client))["strake 4"]["choice"]["trim_mm"] == 75


#: Forms that store something, with what they must carry besides their key.
STORING = {
    "/marks/answer": {"number": "2", "what": "drop", "back": "/"},
    "/frames/design": FRAME,
    "/settings": {"name": "Small", "planking": "outside", "thickness": "20", "units": "mm", "sigma": "1", "note": ""},
    "/jig/setting": {"what": "forget"},
    "/timber": {"do": "add", "name": "A1", "timber": "larch", "length": "4000", "width": "300", "thickness": "32"},
}


@pytest.mark.parametrize("address", STORING)
def test_sent_twice_it_is_stored_once_also_after_a_new_start(path, address):
    """The first answer was lost on its way, and the program was started anew before the tablet sent it again."""
    acts = []
    fields = None
    for _ in range(2):
        app = ready(create_app(path))
        with client_of(app) as client:
            client.headers["Origin"] = HOME
            fields = fields or {**STORING[address], "key": "tablet-1", "seen": str(app.state.boat.state().acts)}
            for _ in range(2):
                assert client.post(address, data=fields).status_code in (303, 422)
                acts.append(store.last_act(app.state.boat.engine))
        app.state.boat.engine.dispose()
    assert acts[0] > 2
    assert set(acts) == {acts[0]}


def test_every_form_that_stores_carries_a_key_and_what_its_page_has_seen(client):
    designed(client)
    for address in (
        "/",
        "/frames/3",
        "/jig",
        "/jig?frame=3",
        "/timber",
        "/settings",
        "/marks/new",
        "/planks/lining?side=pair",
    ):
        page = client.get(address).text
        for form in re.findall(r'<form[^>]*method="post".*?</form>', page, re.DOTALL):
            assert form.count('name="key"') == 1, (address, form[:200])
            assert form.count('name="seen"') == 1, (address, form[:200])


def test_templates_write_their_forms_so_that_a_key_can_be_put_in():
    folder = Path(store.__file__).parents[1] / "web" / "templates"
    forms = [tag for path in folder.glob("*.html") for tag in re.findall(r"<form[^>]*>", path.read_text("utf-8"))]
    posting = [tag for tag in forms if "post" in tag.lower()]
    assert len(posting) > 20
    assert all('method="post"' in keyed(tag + "</form>", lambda *what: "k", 1) for tag in posting)
    assert all('name="key"' in keyed(tag + "</form>", lambda *what: "k", 1) for tag in posting)


def test_another_program_names_its_key_in_the_head(client):
    head = {"Idempotency-Key": "abc"}
    body = {"number": "3", "what": "drop", "back": "/"}
    for _ in range(2):
        assert client.post("/marks/answer", data=body, headers=head).status_code == 303
    assert len(store.acts(engine_of(client))) == 3
    reply = client.post("/marks/answer", data={**body, "number": "4"}, headers=head)
    assert reply.status_code == 422
    assert "the key &#39;abc&#39; was used before for other content (answer), which is stored" in reply.text
