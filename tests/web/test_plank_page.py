"""One plank's page: on the hull, its settings, a spiled plank laid over one from the hull, a name that is a page's."""

from dataclasses import asdict

import pytest
from boats import HOME, client_of, make_merganser, ready

from scrieve import store
from scrieve.planking import SkinChoice, SpilingChoice, SpilingMark
from scrieve.web import create_app
from scrieve.web.addresses import plank_path

FROM_HERE = {"Origin": HOME}


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = make_merganser(tmp_path_factory.mktemp("plank") / "merganser.scrieve")
    engine = store.open_boat(path)
    store.keep_plank(engine, "lining", store.planks(engine)["strake 9"])
    skin = SkinChoice("inner 12", 10.0, first="10", last="20", plank=12)
    store.keep_plank(engine, "inner 12", {"kind": "diagonal", "choice": asdict(skin)})
    engine.dispose()
    return path


@pytest.fixture(scope="module")
def pages(path):
    with client_of(ready(create_app(path))) as client:
        yield client


def send(pages, name, **typed):
    return pages.post("/planks/settings", data={"name": name, **typed}, headers=FROM_HERE)


def test_a_plank_is_shown_on_the_hull_with_its_offsets_and_board(pages):
    text = pages.get("/planks/topside 11 port").text
    assert "plank topside 11 port on the hull, from the side" in text
    assert "plank garboard on the hull, from below" in pages.get("/planks/garboard").text
    for said in ("Setting out", "Edges and backing out", "clear wood", 'id="checks"'):
        assert said in text
    assert "Rabbet" in pages.get("/planks/garboard").text


def test_its_ends_are_held_against_the_planks_that_share_a_seam_with_it(pages):
    text = pages.get("/planks?label=topside 11 port&rules=small yacht").text
    butts = text.split('<section id="butts"')[1].split("</section>")[0]
    assert 'href="/planks/topside%2012%20port"' in butts
    assert "<option selected>small yacht</option>" in butts
    assert "frame 20: 0 mm; between frames" in butts  # both end on frames here: told, with the distance
    assert 'id="butts"' not in pages.get("/planks/strake 9").text  # spiled: where it lies on the hull is not known


def test_a_plank_of_a_skin_has_its_page(pages):
    text = pages.get("/planks/inner 12").text
    assert "of a diagonal skin" in text
    assert "offset, forward (mm)" in text
    assert "on the hull, from" in text


def test_a_plank_called_as_a_page_is_found(pages):
    assert plank_path("lining") in pages.get("/planks").text
    assert "<h1>Plank <bdi>lining</bdi></h1>" in pages.get(plank_path("lining")).text
    assert "Lining off" in pages.get("/planks/lining").text


def test_settings_are_kept_where_the_plank_can_be_drawn_with_them(pages, path):
    answer = send(pages, "topside 11 port", first="scarf", scarf_slope="10", build="clinker", thickness_mm="14")
    assert (answer.status_code, answer.headers["location"]) == (303, "/planks/topside%2011%20port")
    engine = store.open_boat(path)
    choice = store.planks(engine)["topside 11 port"]["choice"]
    assert choice["ends"] == {"first": "scarf", "last": "butt", "scarf_slope": 10.0, "nib_mm": 0.0}
    assert (choice["build"], choice["thickness_mm"]) == ("clinker", 14.0)
    assert "off at the edge" in pages.get("/planks/topside 11 port").text
    for typed, said in (
        ({"scarf_slope": "2"}, "give 4 to 40"),
        ({"thickness_mm": "thick"}, "thick"),
        ({"build": "steel"}, "choose carvel or clinker or panel"),
    ):
        answer = send(pages, "topside 11 port", **typed)
        assert answer.status_code == 422
        assert said in answer.text
        assert f'value="{next(iter(typed.values()))}"' in answer.text or "build" in typed
    assert store.planks(engine)["topside 11 port"]["choice"] == choice
    engine.dispose()


def test_a_spiled_plank_is_laid_over_one_from_the_hull(pages, path):
    drawn = pages.app.state.boat.state().kept.plank("topside 12 port")
    marks = [SpilingMark(frame.label, edge, "offset", *getattr(frame, f"{edge}_mm"))
             for frame in drawn.frames for edge in ("lower", "upper")]  # fmt: skip
    engine = store.open_boat(path)
    choice = asdict(SpilingChoice("by hand", 25.0))
    store.keep_plank(engine, "by hand", {"kind": "spiled", "choice": choice, "marks": [asdict(mark) for mark in marks]})
    engine.dispose()
    text = pages.get("/planks?label=by hand&against=topside 12 port").text
    assert "One over the other" in text
    assert "both drawn from one face" in text
    assert "not met" not in text[text.index("laid over") : text.index("One over the other")]
    # what is not there is told
    assert "no-such" in pages.get("/planks?label=by hand&against=no-such").text
