"""Diagonal skins on their page: two layers laid and drawn crossing, a plank made of one, what cannot be laid."""

import re

import pytest
from boats import HOME, client_of, make_merganser, ready

from scrieve import store
from scrieve.web import create_app
from scrieve.web.planks.skin import skin_path

FROM_HERE = {"Origin": HOME}
LAYERS = {
    "form": "skin", "side": "port", "first": "12", "last": "18", "outer": "yes",
    "inner_thickness_mm": "10", "inner_width_mm": "200", "inner_angle_deg": "45",
    "outer_thickness_mm": "8", "outer_width_mm": "200", "outer_angle_deg": "135",
}  # fmt: skip


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return make_merganser(tmp_path_factory.mktemp("skin") / "merganser.scrieve")


@pytest.fixture(scope="module")
def pages(path):
    with client_of(ready(create_app(path))) as client:
        yield client


def send(pages, **typed):
    return pages.post("/planks/skin", data={**LAYERS, **typed}, headers=FROM_HERE)


def kept(path):
    engine = store.open_boat(path)
    found = store.choices(engine, "skin"), store.planks(engine)
    engine.dispose()
    return found


def test_before_anything_is_laid_the_form_stands_alone(pages):
    text = pages.get(skin_path("starboard")).text
    assert 'name="inner_angle_deg" value="45"' in text
    assert 'name="outer_angle_deg" value="135"' in text
    assert "drawn out flat" not in text


def test_two_layers_are_laid_kept_and_drawn_crossing_with_every_plank_selectable(pages, path):
    answer = send(pages)
    assert (answer.status_code, answer.headers["location"]) == (303, "/planks/skin?side=port#layer-1"), answer.text
    laid = kept(path)[0]["port"]
    assert (laid["inner"]["under_mm"], laid["outer"]["under_mm"]) == (0, 10)  # the outer lies on the inner
    text = pages.get(skin_path("port")).text
    assert text.count("<svg") == 2
    for layer in (1, 2):
        part = text.split(f'id="layer-{layer}"')[1].split("</section>")[0]
        planks = int(re.search(r"layer: (\d+) planks", part)[1])
        picked = {int(n) for n in re.findall(rf"layer={layer}&amp;plank=(\d+)#", part)}
        assert picked == set(range(1, planks + 1))
        assert "ly-other-face" in part  # the seams of the other layer


def test_a_plank_is_made_and_then_its_place_leads_to_its_page(pages, path):
    send(pages)
    answer = send(pages, form="plank", layer="2", plank="4")
    assert answer.headers.get("location") == "/planks/outer%204%20port", answer.text
    made = kept(path)[1]["outer 4 port"]
    assert (made["kind"], made["choice"]["plank"], made["choice"]["under_mm"], made["choice"]["side"]) == (
        "diagonal", 4, 10, "P")  # fmt: skip
    assert "of a diagonal skin" in pages.get("/planks/outer 4 port").text
    part = pages.get(skin_path("port")).text.split('id="layer-2"')[1]
    assert 'href="/planks/outer%204%20port"' in part.split("</svg>")[0]
    send(pages, outer_angle_deg="120")  # the plank is no longer one of this layer
    assert 'href="/planks/outer' not in pages.get(skin_path("port")).text
    send(pages)


def test_what_cannot_be_laid_is_told_beside_what_was_typed(pages, path):
    before = kept(path)
    for typed, said in (
        ({"inner_angle_deg": "5"}, "give 15 to 165"), ({"inner_angle_deg": "<b>"}, "give degrees"),
        ({"first": "no such"}, "no such"), ({"inner_width_mm": "wide"}, "wide"), ({"side": "both"}, "say pair"),
        ({"form": "plank", "plank": "140"}, "this layer has planks 1 to"),
        ({"form": "plank", "plank": "1", "name": "garboard"}, "made from something else"),
        ({"form": "plank", "plank": "1", "side": "starboard"}, "lay it first"),
    ):  # fmt: skip
        answer = send(pages, **typed)
        assert answer.status_code == 422, typed
        assert said in answer.text
        assert "<b>&" not in answer.text
    assert kept(path) == before
