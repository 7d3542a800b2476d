"""What a form of a frame, jig, glue-up or release was refused for: told at its field, and what was typed stays."""

import re
from html import unescape

import pytest
from boats import HOME, client_of, make_small, ready

from scrieve import store
from scrieve.frames.choice import FrameChoice
from scrieve.web import create_app

DAY = "/glue-up?frame=3&air=20&rh=60"
#: Form, what is typed in it, the field at fault, and words of the message; the boat is in feet.
REFUSED = [
    ("/frames/design", {"on": "frame", "label": "3", "sided": "thick"}, "sided", "Sided: found 'thick'"),
    ("/frames/design", {"on": "frame", "label": "3", "sided": "14-0-0"}, "sided", "14-0-0'; give 0-0-1+ to 3-3-3"),
    ("/frames/design", {"on": "frame", "label": "3", "timber": "plastic"}, "timber", "'plastic' is not in the table"),
    ("/frames/design", {"on": "frame", "label": "3", "stack": "larch: 1/4\"; plastic: 1/4\""}, "stack", "'plastic'"),
    ("/frames/design", {"on": "frame", "label": "3", "notches": "limber: inner at 90-0-0, 0-1-4 x 0-0-4"}, "notches",
     "limber"),
    ("/frames/design", {"on": "frame", "label": "3", "ends": "99: 1-0-0 to 2-0-0"}, "ends", "lamination 99"),
    ("/frames/design", {"on": "frame", "label": "3", "kerf_mm": "wide"}, "kerf_mm", 'write it as 1/8"'),
    ("/jig/bed", {"rails": "many"}, "rails", "found 'many'"),
    ("/jig/bed", {"swivel_most_rad": "95"}, "swivel_most_rad", "found '95'; 80° at most"),
    ("/jig/bed", {"length_mm": "3-0-0"}, "rails", "of rails lie on 3-0-0 of bed"),
    ("/release/store", {"frame": "3", "o2": "crooked"}, "o2", "place 3"),
    ("/release/store", {"frame": "3", "o0": "0-0-1", "sigma": "x"}, "sigma", "error of a figure: found 'x'"),
    ("/release/shop", {"frame": "3", "fastening_n": "strong"}, "fastening_n", "found 'strong'"),
    ("/glue-up/plan", {"back": DAY, "people": "2.5"}, "people", "found '2.5'; give a whole number"),
    ("/glue-up/sheet", {"back": DAY, "clamp_h": "soon"}, "clamp_h", "time in the clamps: found 'soon'"),
]  # fmt: skip


@pytest.fixture(scope="module")
def boat(tmp_path_factory):
    path = tmp_path_factory.mktemp("faults") / "small.scrieve"
    client = client_of(ready(create_app(make_small(path, units="ft"))))
    choice = FrameChoice("3", "larch", count=4)
    engine = client.app.state.boat.engine
    store.keep_frame(engine, "3", {"choice": choice.to_mapping(), "station_mm": None})
    return client


@pytest.mark.parametrize(("path", "typed", "field", "words"), REFUSED)
def test_the_message_stands_at_its_field_and_what_was_typed_stays(boat, path, typed, field, words):
    shown = {"sided": "0-1-6", "moulded": "0-2-3", "timber": "larch"} if path == "/frames/design" else {}
    shown |= bed(boat) if path == "/jig/bed" else {}
    shown |= {"when": "off the jig", "face": "outside", "way": "offsets"} if path == "/release/store" else {}
    answer = boat.post(path, data={"key": "k"} | shown | typed, headers={"origin": HOME})
    assert answer.status_code == 422
    marked = re.findall(r"<(?:input|select|textarea)[^>]*aria-invalid=[^>]*>", answer.text)
    assert len(marked) == 1, marked
    assert f'name="{field}"' in marked[0]
    fault = re.search(rf'id="fault-{field}">(.*?)</small>', answer.text, re.DOTALL)
    assert words in unescape(fault[1])
    for name, text in typed.items():
        if name not in ("on", "label", "back", "frame"):
            assert f'name="{name}"' in answer.text
            assert f'value="{text}"' in unescape(answer.text), f"{name} is not kept"


def test_a_day_that_cannot_be_is_told_at_its_field(boat):
    answer = boat.get("/glue-up?frame=3&air=20&rh=140")
    assert answer.status_code == 422
    assert re.findall(r'name="(\w+)"[^>]*aria-invalid', answer.text) == ["rh"]


def bed(boat):
    page = boat.get("/jig").text
    form = page.split('action="/jig/bed"')[1].split("</form>")[0]
    found = {name: unescape(value) for name, value in re.findall(r'<input name="(\w+)"[^>]*? value="([^"]*)"', form)}
    return found | {"face": "flat", "bearing": "inside", "between": "yes"}
