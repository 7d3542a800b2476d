"""Planks taken in on the pages from files: spiling marks pasted, a trace as a drawing or as points, seams, refusals."""

import io
import re
from pathlib import Path

import ezdxf
import pytest
from boats import HOME, client_of, make_merganser, ready

from scrieve import store
from scrieve.web import create_app

FROM_HERE = {"Origin": HOME}
EXAMPLES = Path(__file__).parents[2] / "examples" / "merganser"


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return make_merganser(tmp_path_factory.mktemp("files") / "merganser.scrieve")


@pytest.fixture(scope="module")
def pages(path):
    with client_of(ready(create_app(path))) as client:
        yield client


def send(pages, file=None, **typed):
    files = {"file": file} if file else {"file": ("", b"")}
    return pages.post("/planks/file", data=typed, files=files, headers=FROM_HERE)


def kept(path):
    engine = store.open_boat(path)
    found = store.planks(engine)
    engine.dispose()
    return found


def drawing(unit=4):
    """A plank 2 m long and 140 wide, drawn as one closed line."""
    doc = ezdxf.new(units=unit)
    doc.modelspace().add_lwpolyline([(0, 0), (2000, 0), (2000, 140), (0, 140)], close=True)
    text = io.StringIO()
    doc.write(text)
    return text.getvalue().encode()


def test_spiling_marks_as_a_file_and_pasted_draw_the_same_plank(pages, path):
    data = (EXAMPLES / "spiling.csv").read_bytes()
    answer = send(pages, ("marks.csv", data), name="from file", says="spiling", side="P", thickness="28")
    assert answer.headers.get("location") == "/planks/from%20file", answer.text
    assert send(pages, name="pasted", says="spiling", side="P", table=data.decode()).status_code == 303
    one, other = (kept(path)[name] for name in ("from file", "pasted"))
    assert one["kind"] == "spiled"
    assert one["marks"] == other["marks"] == kept(path)["strake 9"]["marks"]
    assert other["choice"]["thickness_mm"] == 25  # the boat's own


def test_a_traced_drawing_and_traced_points_give_planks_of_the_size_traced(pages, path):
    assert send(pages, ("old.dxf", drawing()), name="old", says="traced", thickness="20").status_code == 303
    points = "edge,x,y\n" + "".join(f"lower,{x},0\nupper,{x},140\n" for x in range(0, 2001, 200))
    assert send(pages, name="points", says="traced", thickness="20", table=points).status_code == 303
    for name in ("old", "points"):
        assert kept(path)[name]["choice"]["source"] == "trace"
        text = pages.get(f"/planks/{name}").text
        assert "traced; <strong>" in text
        assert "2000 mm" in text


def test_what_cannot_be_read_is_told_with_what_was_typed_and_nothing_is_stored(pages, path):
    before = kept(path)
    refusals = (
        (send(pages, name="new", says="spiling", table="edge,x,y\nlower,<i>12</i>,3"), "&lt;i&gt;12"),
        (send(pages, ("old.dxf", drawing(unit=0)), name="new", says="traced"), "unit"),
        (send(pages, name="garboard", says="spiling", table="edge,x,y\nlower,12,3"), "is there already"),
        (send(pages, name="", says="spiling", table="x"), "has no name"),
        (send(pages, name="new", says="spiling"), "nothing was pasted"),
        (send(pages, name="new", says="letters", table="x"), "say seams, spiling, traced"),
    )  # fmt: skip
    for answer, said in refusals:
        assert answer.status_code == 422
        assert said in answer.text
    assert 'value="new"' in refusals[0][0].text
    assert kept(path) == before


def test_a_plank_is_drawn_anew_from_another_file_with_its_settings_kept(pages, path):
    pages.post("/planks/settings", data={"name": "points", "trim_mm": "75"}, headers=FROM_HERE)
    answer = send(pages, ("old.dxf", drawing()), name="points", says="traced", anew="yes", layer="0")
    assert answer.status_code == 303
    assert kept(path)["points"]["choice"]["trim_mm"] == 75
    assert kept(path)["points"]["marks"] == kept(path)["old"]["marks"]


def test_a_plank_replaced_by_somebody_else_meanwhile_is_shown_first_and_the_file_goes_on_with_the_answer(pages, path):
    marks = "edge,x,y\n" + "".join(f"lower,{x},0\nupper,{x},150\n" for x in range(0, 2001, 200))
    assert send(pages, name="both", says="traced", thickness="20", table=marks).status_code == 303
    seen = str(pages.app.state.boat.state().acts)
    assert send(pages, name="both", says="traced", anew="yes", thickness="22", table=marks).status_code == 303
    theirs = kept(path)["both"]
    mine = {"name": "both", "says": "traced", "anew": "yes", "thickness": "20", "layer": "0"}
    told = send(pages, ("old.dxf", drawing()), **mine, seen=seen, key="as opened")
    assert told.status_code == 409
    assert "<td>20.0 mm</td><td><strong>22.0 mm</strong></td><td>20.0 mm</td>" in told.text
    assert kept(path)["both"] == theirs
    forms = re.findall(r'<form[^>]*action="/planks/file".*?</form>', told.text, re.DOTALL)
    made = [dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form)) for form in forms]
    (settled,) = (fields for fields in made if fields["settle"] == "both")
    assert pages.post("/planks/file", data=settled, headers=FROM_HERE).status_code == 303
    both = kept(path)["both"]
    assert (both["choice"]["thickness_mm"], both["marks"]) == (22.0, kept(path)["old"]["marks"])


def test_what_to_look_at_in_a_file_is_told_with_the_plank(pages, path):
    made = ezdxf.new(units=4)  # with a frame line that has no label beside it
    space = made.modelspace()
    space.add_lwpolyline([(0, 0), (2000, 0), (2000, 140), (0, 140)], close=True)
    space.add_line((700, -20), (700, 160), dxfattribs={"layer": "FRAMES"})
    text = io.StringIO()
    made.write(text)
    answer = send(pages, ("old.dxf", text.getvalue().encode()), name="warned", says="traced", thickness="20")
    assert answer.status_code == 200
    assert "frames are left out" in answer.text
    assert "warned" in kept(path)
