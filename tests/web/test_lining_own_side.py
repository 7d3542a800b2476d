"""A side lined off from its own side's marks: set on the page and at a terminal, stored, and part of the revision."""

import csv
import io
from dataclasses import replace

import pytest
from boats import HOME, client_of, make_merganser, ready
from click.testing import CliRunner

from scrieve import store
from scrieve.cli.program import scrieve
from scrieve.web import create_app
from scrieve.web.lining.work import Side
from scrieve.web.views import View

HERE = {"Origin": HOME}
FORM = {"form": "settings", "side": "port", "strakes": "13", "widest": "180", "thickness": "28", "rule": "equal"}


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    with client_of(ready(create_app(make_merganser(tmp_path_factory.mktemp("own") / "m.scrieve")))) as found:
        yield found


def lined(client, **more):
    reply = client.post("/planks/lining", data=FORM | more, headers=HERE)
    assert reply.status_code == 303, reply.text
    return client.get("/planks/lining?side=port").text


def girths(client):
    rows = list(csv.reader(io.StringIO(client.get("/planks/lining.csv?side=port&what=girth").text)))
    return {row[0]: float(row[-1]) for row in rows[1:]}


def stored(client):
    return store.choices(client.app.state.boat.engine, "lining")["port"]


def test_a_side_is_lined_off_on_its_own_hull_and_so_are_its_strakes(client):
    text = lined(client)
    assert 'name="hull"' in text
    assert "port by itself</strong>" not in text
    both = girths(client)
    text = lined(client, hull="port")
    assert "made from <strong>port by itself</strong>" in text
    assert '<option value="starboard"' not in text  # of the other side there is no question here
    assert stored(client)["choice"]["hull"] == "port"
    own = girths(client)
    hull = client.app.state.boat.state().kept.hull(made_from="port")
    for frame in ("6", "14", "22"):  # the last seam is the sheer: the girth there is that of port's own section
        assert own[frame] == pytest.approx(hull.section(frame).girth_mm, abs=1.5)
    assert any(abs(own[frame] - both[frame]) >= 2 for frame in own)  # her port sheer has sprung 5 mm
    made = {"form": "plank", "side": "port", "strake": "5", "which": "1", "name": "fifth"}
    assert client.post("/planks/lining", data=made, headers=HERE).status_code == 303
    assert store.planks(client.app.state.boat.engine)["fifth"]["choice"]["hull"] == "port"


def test_marks_of_the_other_side_have_no_bearing_on_it(client):
    view = View.__new__(View)
    view.file = client.app.state.boat
    view.state = view.file.state()

    def content(made_from):
        here = Side(view, "port")
        here.choice = replace(here.choice, hull=made_from)
        return here.content

    before = {made_from: content(made_from) for made_from in ("both", "port")}
    moved = [replace(mark, height_mm=mark.height_mm + (mark.side == "S")) for mark in view.kept.marks]
    view.state = replace(view.state, kept=replace(view.kept, marks=tuple(moved)))
    assert content("both") != before["both"]
    assert content("port") == before["port"]


def test_a_side_is_not_made_from_the_other(client):
    reply = client.post("/planks/lining", data=FORM | {"hull": "starboard"}, headers=HERE)
    assert reply.status_code == 422
    assert "port is not lined off on starboard&#39;s own marks; say both or port." in reply.text
    assert client.post("/planks/lining", data=FORM | {"hull": "mine"}, headers=HERE).status_code == 422


def test_at_a_terminal(client, tmp_path):
    store.backup(client.app.state.boat.path, tmp_path / "copy.scrieve")
    given = ["lining", str(tmp_path / "copy.scrieve"), "off", "--side", "starboard", "--strakes", "13", "--hull"]
    done = CliRunner().invoke(scrieve, [*given, "starboard", "--keep"])
    assert "13 strakes, starboard, from starboard's own marks." in done.output
    engine = store.open_boat(tmp_path / "copy.scrieve")
    assert store.choices(engine, "lining")["starboard"]["choice"]["hull"] == "starboard"
    engine.dispose()
    assert CliRunner().invoke(scrieve, [*given, "port"]).exit_code == 1
