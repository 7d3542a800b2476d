"""Limits of width that hold at a place: typed on the page, held by the lines, heeded by the number proposed."""

import csv
import io
import math
from dataclasses import replace

import pytest
from boats import HOME, client_of, make_small, ready

from scrieve import store
from scrieve.planking import LiningChoice
from scrieve.web import create_app
from scrieve.web.lining.forms import LiningForm

FORM = {
    "form": "settings",
    "side": "pair",
    "widest": "150",
    "narrowest": "40",
    "end_narrowest": "20",
    "thickness": "15",
}


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    with client_of(ready(create_app(make_small(tmp_path_factory.mktemp("limits") / "small.scrieve")))) as found:
        yield found


def lined(client, **more):
    reply = client.post("/planks/lining", data=FORM | more, headers={"Origin": HOME})
    assert reply.status_code == 303, reply.text
    rows = list(csv.reader(io.StringIO(client.get("/planks/lining.csv?side=pair&what=widths").text)))
    return {row[0]: [float(cell) for cell in row[1:]] for row in rows[1:]}


def test_a_limit_for_one_strake_is_held_where_it_stands(client):
    plain = lined(client, strakes="7")
    limited = lined(client, strakes="7", limits="3 to 5, strakes 1: 130 to")
    assert plain["4"][0] < 120
    assert all(limited[frame][0] >= 129.5 for frame in "345")
    kept = store.choices(client.app.state.boat.engine, "lining")["pair"]["choice"]["limits"]
    assert [(one["first"], one["last"], one["lowest"], one["narrowest_mm"]) for one in kept] == [("3", "5", 1, 130.0)]
    assert "3 to 5, strakes 1-1: 130 to" in client.get("/planks/lining?side=pair").text


def test_the_number_proposed_heeds_a_limit_for_all_strakes(client):
    plain = lined(client, strakes="")
    girth = sum(plain["4"])  # amidships, the greatest
    assert len(plain["4"]) == math.ceil(girth / 150 * 1.08)  # a twelfth in hand: docs/lining-off.md
    assert len(lined(client, strakes="", limits="3 to 5: to 100")["4"]) == math.ceil(girth / 100 * 1.08)


@pytest.mark.parametrize("typed", ["5: 90 to 140", "5 to 14", "5 to 14: ", "5 to 14: to", "5 to 14: 140 to 90"])
def test_limits_that_cannot_be_read(client, typed):
    reply = client.post("/planks/lining", data=FORM | {"limits": typed}, headers={"Origin": HOME})
    assert reply.status_code == 422
    assert "limits &#39;" in reply.text


@pytest.mark.parametrize("units", ["mm", "ft"])
def test_what_is_shown_reads_as_what_was_typed(units):
    typed = {"mm": "5 to 14, strakes 2-4: 90 to 140\n to 9: to 120", "ft": "5 to 14: 0-3-4 to 0-5-4"}[units]
    form = LiningForm.of(LiningChoice("x"), units)
    choice = LiningForm.typed({**{n: getattr(form, n) for n in form.__slots__}, "limits": typed}).choice(
        "", LiningChoice("x"), units
    )
    assert LiningForm.of(choice, units).choice("", choice, units) == choice
    assert len(choice.limits) == len(typed.splitlines())
    assert choice.limits[0].widest_mm == pytest.approx({"mm": 140, "ft": 5.5 * 25.4}[units])


def test_a_limit_that_cannot_be_kept_is_told_in_the_units_of_the_boat(tmp_path):
    """127 mm are 5 in, 152.4 mm 6 in."""
    boat = make_small(tmp_path / "small.scrieve")
    with client_of(ready(create_app(boat))) as client:
        wide = {"widest": "127mm", "narrowest": "152.4mm", "end_narrowest": "20mm", "thickness": "15mm"}
        in_mm = client.post("/planks/lining", data=FORM | wide, headers={"Origin": HOME}).text
        assert "narrowest 152.4 mm is not under widest 127 mm" in in_mm
        engine = client.app.state.boat.engine
        store.keep_boat(engine, replace(store.boat(engine), units="ft"))
        ready(client.app)
        in_feet = client.post("/planks/lining", data=FORM | wide, headers={"Origin": HOME}).text
        assert "narrowest 6 in is not under widest 0-5-0" in in_feet


@pytest.mark.parametrize(("path", "typed", "named"), [
    ("/planks/lining", FORM | {"stock": "thick"}, "Thickness of stock: found"),
    ("/planks/skin", {"side": "pair", "inner_thickness_mm": "thin"}, "Thickness of the inner layer: found"),
])  # fmt: skip
def test_a_length_that_cannot_be_read_is_told_by_its_field(client, path, typed, named):
    reply = client.post(path, data=typed, headers={"Origin": HOME})
    assert reply.status_code == 422
    assert named in reply.text
