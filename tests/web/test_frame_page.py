"""One frame's page: its sections, other ways to build it, the old frame, all settings, its history, in any units."""

import html
import re

import pytest
from boats import HOME, client_of, make_small, ready

from scrieve import store
from scrieve.frames.design import FrameChoice
from scrieve.frames.written import SETTINGS
from scrieve.web import create_app
from scrieve.web.addresses import frame_path

SAME = {"Origin": HOME}


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    path = make_small(tmp_path_factory.mktemp("frame") / "b.scrieve")
    return ready(create_app(path))


@pytest.fixture
def client(app):
    return client_of(app)


def fields(page, part):
    """The fields of the one form in `part` that holds it, as a browser would send them."""
    form = next(form for form in re.findall(r"<form.*?</form>", page, re.S) if part in form)
    found = dict(re.findall(r'<input [^>]*name="([^"]+)"[^>]*?value="([^"]*)"', form))
    for name, options in re.findall(r'<select name="([^"]+)">(.*?)</select>', form, re.S):
        found[name] = re.search(r"<option selected>([^<]*)", options)[1]
    return {name: html.unescape(text) for name, text in found.items()}


def design(client, label="3", **settings):
    engine = client.app.state.boat.engine
    store.keep_frame(engine, label, {"choice": FrameChoice(label, **settings).to_mapping(), "station_mm": None})
    return client.get(frame_path(label)).text


def choice(client, label="3"):
    return store.frames(client.app.state.boat.engine)[label]["choice"]


def test_the_tabs_stand_in_the_order_of_the_work(client):
    page = design(client)
    tabs = re.findall(r'<section id="([\w-]+)" class="tab[ "]', page)
    assert tabs == ["shape", "bend", "bevel", "jig", "glue-up", "judged", "history"]
    named = re.search(r'<nav class="tabs".*?</nav>', page, re.S)[0]
    assert re.findall(r'href="#([\w-]+)"', named) == [*tabs, "sheets"]
    ids = set(re.findall(r' id="([\w-]+)"', page))
    assert set(re.findall(r'<a href="#([\w-]+)"', page)) <= ids
    assert page.count('class="tab usual"') == 1


def test_every_working_stands_on_one_tab(client):
    page = design(client)
    shown = re.findall(r"<summary><span>(.*?)</span>", page)
    made = client.app.state.boat.state().kept.frame("3").workings
    assert sorted(map(html.unescape, shown)) == sorted(working.figure for working in made)


def test_what_is_typed_is_tried_and_nothing_stored(client):
    page = design(client)
    sent = fields(page, 'name="moulded_table"')
    before = choice(client)
    tried = client.post("/frames/try", data=sent | {"lamination_mm": "3", "moulded": "50"}, headers=SAME)
    assert tried.status_code == 200
    assert "<html" not in tried.text
    assert "laminations of 3.0 mm" in tried.text
    number = int(re.search(r"(\d+) laminations of", tried.text)[1])
    kept = client.app.state.boat.state().kept
    again = kept.design(FrameChoice.from_mapping(before | {"lamination_mm": 3.0, "moulded_mm": 50.0}))
    assert number == len(again.packet.laminations)
    wrong = client.post("/frames/try", data=sent | {"count": "many"}, headers=SAME)
    assert "data-refused" in wrong.text
    assert "Number of laminations" in wrong.text
    assert choice(client) == before
    assert client.post("/frames/try", data=sent).status_code == 403, "not from these pages"


def test_the_ways_are_ranked_and_one_is_taken(client):
    page = design(client)
    assert "take this one" not in page
    asked = fields(page, 'name="timbers"')
    found = client.get("/frames", params=asked | {"timbers": "larch; sapele/larch", "thicknesses": "4; 6"}).text
    offered = re.findall(r'<th scope="row">(\d+) × ([\d.]+) mm ([\w/]+)\s*<form', found)
    assert {(float(size), timber) for _, size, timber in offered} == {
        (4.0, "larch"), (6.0, "larch"), (4.0, "sapele/larch"), (6.0, "sapele/larch"),
    }  # fmt: skip
    for name in ("packet", "springback", "closing", "clamps", "waste", "margin"):  # each column opens its working
        shown = re.search(rf'<section data-column="\d">\s*<h4>{name}</h4>.*?</section>', found, re.S)[0]
        assert shown.count("data-row=") == len(offered)
        assert 'class="formula"' in shown
        assert "Source:" in shown
    take = fields(found, "take this one")
    for _ in range(2):  # pressed twice
        assert client.post("/frames/design", data=take, headers=SAME).status_code == 303
    assert (choice(client)["lamination_mm"], choice(client)["timber"]) == (float(offered[0][1]), offered[0][2])
    number = len(client.app.state.boat.state().kept.frame("3").packet.laminations)
    assert number == int(offered[0][0])


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"thicknesses": "thick"}, "Thicknesses: found &#39;thick&#39;; expected"),
        ({"thicknesses": "6; 0"}, "Thicknesses: found &#39;0&#39;; give 0.5 to 150 mm."),
        ({"steamed": "0; 130 %"}, "Steamed to hold: found &#39;130 %&#39;; give a share"),
        ({"thicknesses": "; ".join(["5"] * 30)}, "1 to 24"),
        ({"timbers": "cheese"}, "cheese"),
    ],
)
def test_ways_that_cannot_be_read_are_said(client, asked, said):
    design(client)
    usual = {"label": "3", "ways": "yes", "timbers": "larch", "thicknesses": "6", "steamed": "0"}
    reply = client.get("/frames", params=usual | asked)
    assert reply.status_code == 200
    assert said in re.search(r'role="alert">(.*?)</p>', reply.text, re.S)[1]


def test_the_old_frame_is_given_and_the_new_one_flagged_where_weaker(client):
    page = design(client)
    sent = fields(page, 'name="old_timber"') | {"old_sided_mm": "60", "old_moulded_mm": "90", "old_kind": "sawn"}
    assert client.post("/frames/design", data=sent, headers=SAME).status_code == 303
    assert choice(client)["old_moulded_mm"] == 90.0
    after = client.get("/frames/3").text
    assert "Stiffness against the old frame" in after
    assert "below the old" in after
    assert "agree with a surveyor or naval architect" in after


def test_every_setting_is_in_the_form_and_what_is_not_touched_stays(client):
    page = design(client, cleaning_mm=2.345, notches=(("limber", 300.0, "outer", 30.0, 8.0),), old_sided_mm=40.0)
    sent = fields(page, 'name="moulded_table"')
    assert sent["notches"] == "limber: outer at 300, 30 x 8"
    before = choice(client)
    assert client.post("/frames/design", data=sent, headers=SAME).status_code == 303
    assert choice(client) == before
    sent |= {"heel_cut": "angle 20 at 15", "ends": "1: 400 to", "notches": ""}
    assert client.post("/frames/design", data=sent, headers=SAME).status_code == 303
    after = choice(client)
    assert (after["heel_cut"], after["ends"], after["notches"]) == (["angle", 15.0, 20.0], [[1, 400.0, None]], [])
    assert after["old_sided_mm"] == 40.0
    wrong = client.post("/frames/design", data=sent | {"ends": "first one"}, headers=SAME)
    assert wrong.status_code == 422
    assert "write it as 2: 300 to 1800" in wrong.text
    assert 'value="first one"' in wrong.text


def test_the_history_says_what_changed_and_who(client):
    design(client, "4", sided_mm=40.0)
    page = design(client, "4", sided_mm=42.0, heel_cut=("plumb", 0.0, 0.0))
    history = page.split('id="history"')[1]
    assert "sided: 40 → 42; Heel cut: square → plumb" in history
    assert history.index("designed anew") < history.index("<td>designed: ")  # the latest first


def test_a_builder_in_feet_sees_no_millimetres(tmp_path):
    client = client_of(ready(create_app(make_small(tmp_path / "ft.scrieve", units="ft"))))
    page = design(client, old_sided_mm=38.1, board_mm=1500.0)
    main = page.split("<main")[1].split("</main>")[0]
    words = html.unescape(re.sub(r"<[^>]+>", " ", main.split("Design it anew")[0].replace("CSV, mm", "")))
    words = re.sub(r"(DXF|SVG), mm|100 mm check-square|N/mm²|mm × N|N mm²", "", words)
    assert re.findall(r".{30}\d mm\b.{0,20}", words) == []
    ways = client.get("/frames", params=fields(page, 'name="timbers"'))
    assert "take this one" in ways.text
    assert re.findall(r'<th scope="row">\d+ × (?:\d )?\d+/\d+ in ', ways.text)  # as on the rule, not 0.188 in
    assert not re.findall(r'<th scope="row">\d+ × [\d.]+ mm ', ways.text)


def test_the_list_says_how_far_each_is_and_what_is_out_of_date(tmp_path):
    client = client_of(ready(create_app(make_small(tmp_path / "b.scrieve"))))

    def going():
        part = client.get("/frames").text.split('id="going"')[1].split("</section>")[0]
        words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", part))
        return words, part.count('<li class="done"')

    design(client, count=4)
    assert going()[1] == 1
    assert "set the jig" in going()[0]
    done = {"back": "/glue-up?frame=3&air=20&rh=60", "name": "A. Wright"}
    assert client.post("/glue-up/done", data=done, headers=SAME).status_code == 303
    assert going()[1] == 3
    assert "measure it off the jig" in going()[0]
    figures = "\n".join(f"{at}; {0.5 if at % 200 else -0.5}" for at in range(50, 900, 100))
    sent = {"frame": "3", "when": "off the jig", "face": "outside", "way": "offsets", "hand": "", "text": figures}
    assert client.post("/release/store", data=sent, headers=SAME).status_code == 303
    assert client.app.state.boat.state().kept.springs, "it has taught, and so changed the design"
    assert "out of date" not in going()[0]
    assert going()[1] == 4
    design(client, count=5)
    assert "out of date" in going()[0]
    assert client.post("/release/fitted", data={"frame": "3", "hand": ""}, headers=SAME).status_code == 303
    assert going()[1] == 6


def test_what_a_setting_means_stands_at_its_field_where_no_pointer_can_be_held_on_it(client):
    form = next(each for each in re.findall(r"<form.*?</form>", design(client), re.S) if 'name="trim_mm"' in each)
    for name in ("trim_mm", "moulding_edge", "notches", "clamp_n"):
        label = next(each for each in re.findall(r"<label>.*?</label>", form, re.S) if f'name="{name}"' in each)
        assert f"<small>{html.escape(SETTINGS[name].says)}</small>" in label
    assert 'title="' not in form


def test_the_section_is_told_where_the_builder_asks(client):
    page = design(client)
    sent = fields(page, 'name="old_timber"') | {"strength_at_mm": "300; 9000"}
    refused = client.post("/frames/design", data=sent, headers=SAME)
    assert refused.status_code == 422
    assert "Told also at: found &#39;300; 9000&#39;; give places from the heel along the moulded line" in refused.text
    sent["strength_at_mm"] = "300; 700"
    client.post("/frames/design", data=sent, headers=SAME)
    assert choice(client)["strength_at_mm"] == [300.0, 700.0]
    page = client.get(frame_path("3")).text
    for number, place in (("1", "300"), ("2", "700")):
        assert re.search(rf"place {number}<.*?>{place}<", page, re.S)
