"""`scrieve plank`: from seams, from spiling marks, and what is kept of them."""

import json
import re
from pathlib import Path

import pytest

from scrieve import store

SPILING = Path(__file__).parents[2] / "examples" / "formats" / "spiling.csv"


def strict(text):
    """Read JSON that has no NaN or Infinity in it."""

    def refuse(word):
        raise AssertionError(word)

    return json.loads(text, parse_constant=refuse)


def kept(boat):
    engine = store.open_boat(boat)
    try:
        return store.planks(engine)
    finally:
        engine.dispose()


@pytest.fixture
def seams(written):
    rows = "".join(f"{n},lower,400\n{n},upper,500\n" for n in range(3, 8))
    return written("seams.csv", "frame,edge,height_mm\n" + rows)


def test_from_seams(boat, done, seams):
    said = done("plank", boat, "topside 3", "--seams", seams)
    assert said.startswith("Plank topside 3: 20 mm thick, revision ")  # the boat's planking
    assert "Board: " in said
    plank = strict(done("plank", boat, "topside 3", "--json"))
    assert plank["kind"] == "strake"
    assert [frame["label"] for frame in plank["frames"]] == ["3", "4", "5", "6", "7"]
    assert all(width > 100 for width in (frame["width_mm"] for frame in plank["frames"]))  # 100 mm up is more along


def test_from_spiling(boat, done):
    said = done("plank", boat, "strake 9", "--spiling", SPILING, "--side", "P")
    assert said.startswith("Plank strake 9, port: 20 mm thick")
    assert "Spiled points against the fair edge" in said
    plank = strict(done("plank", boat, "strake 9", "--json"))
    assert (plank["kind"], plank["side"]) == ("spiled", "P")
    widths = {frame["label"]: frame["width_mm"] for frame in plank["frames"]}
    assert widths["11"] == pytest.approx(157.5, abs=1.0)  # a width that the file sets off


def test_nails_pricked_on_the_batten_are_printed(boat, done, written):
    file = written("nails.csv", SPILING.read_text(encoding="utf-8") + "8,lower,nail,1203.0,30.0,,,,\n")
    said = done("plank", boat, "strake 9", "--spiling", file).split("Nails that are there")[1]
    assert re.search(r"^8 +120\d ", said, re.MULTILINE), said


@pytest.mark.parametrize(
    ("build", "told"),
    [
        (("--build", "clinker"), "Land"),
        (("--build", "panel", "--thickness", "12"), "Sheets"),
        (("--first-end", "hood"), "Rabbet"),
    ],
)
def test_what_only_some_planks_have_is_told(boat, done, seams, build, told):
    plain = done("plank", boat, "x", "--seams", seams)
    assert f"\n{told}\n" not in plain
    assert f"\n{told}\n" in done("plank", boat, "x", *build)


def test_spiling_needs_no_marks_of_the_hull(empty, done):
    assert "Board: " in done("plank", empty, "strake 9", "--spiling", SPILING, "--thickness", "28mm")


def test_a_plank_of_unknown_thickness_is_asked_for(empty, run):
    said = run("plank", empty, "strake 9", "--spiling", SPILING)
    assert (said.code, said.out) == (1, "")
    assert "its thickness is not known; give --thickness" in said.err


def test_a_changed_choice_is_kept_and_the_rest_stays(boat, done, seams):
    first = strict(done("plank", boat, "x", "--seams", seams, "--side", "P", "--first", "1900mm", "--json"))
    second = strict(done("plank", boat, "x", "--thickness", "24", "--last-end", "scarf", "--json"))
    assert (first["thickness_mm"], second["thickness_mm"]) == (20.0, 24.0)
    assert first["revision"] != second["revision"]
    choice = kept(boat)["x"]["choice"]
    assert (choice["side"], choice["first"], choice["thickness_mm"]) == ("P", "1900.0", 24.0)
    assert choice["ends"] == {"first": "butt", "last": "scarf", "scarf_slope": 12.0, "nib_mm": 0.0}
    assert len(choice["lower"]) == 5
    done("plank", boat, "x", "--side", "pair", "--first", "4")
    choice = kept(boat)["x"]["choice"]
    assert (choice["side"], choice["first"], choice["ends"]["last"]) == ("", "4", "scarf")


def test_new_seams_leave_the_other_choices(boat, done, seams, written):
    done("plank", boat, "x", "--seams", seams, "--thickness", "24")
    wider = written("wider.csv", seams.read_text().replace("500", "520"))
    plank = strict(done("plank", boat, "x", "--seams", wider, "--json"))
    assert plank["thickness_mm"] == 24.0
    assert {mark["value_mm"] for mark in kept(boat)["x"]["choice"]["upper"]} == {520.0}


def test_asked_again_nothing_new_is_kept(boat, done, seams):
    first = strict(done("plank", boat, "x", "--seams", seams, "--json"))
    before = _acts(boat)
    assert strict(done("plank", boat, "x", "--json")) == first
    assert strict(done("plank", boat, "x", "--seams", seams, "--json")) == first
    assert _acts(boat) == before


def _acts(boat):
    engine = store.open_boat(boat)
    try:
        return len(store.acts(engine))
    finally:
        engine.dispose()


def test_the_rule_comes_back_in_place_of_an_opening(boat, done, seams):
    done("plank", boat, "x", "--seams", seams, "--seam-opening", "1")
    assert kept(boat)["x"]["choice"]["seam_opening_mm"] == 1.0
    plank = strict(done("plank", boat, "x", "--seam-rule", "inch", "--json"))
    assert plank["seam_opening_mm"] == pytest.approx(20 / 16)  # 1/16 in the inch


def test_only_a_point_that_was_spiled_can_be_kept_and_it_can_be_judged_again(boat, done, run, written):
    wild = written(
        "wild.csv", SPILING.read_text().replace("11,lower,offset,3000.0,-45.5", "11,lower,offset,3000.0,-60.5")
    )
    done("plank", boat, "x", "--spiling", wild)
    before = _acts(boat)
    said = run("plank", boat, "x", "--keep", "99 upper")
    assert said.code == 1
    assert "point '99 upper' is to be kept, but no such point was spiled" in said.err
    assert "11 lower" in said.err
    assert _acts(boat) == before
    suspect = strict(done("plank", boat, "x", "--json"))["checks"]
    done("plank", boat, "x", "--keep", "11 lower")
    assert kept(boat)["x"]["choice"]["keep"] == ["11 lower"]
    done("plank", boat, "x", "--keep", "none")
    assert kept(boat)["x"]["choice"]["keep"] == []
    assert strict(done("plank", boat, "x", "--json"))["checks"] == suspect
    done("plank", boat, "x", "--keep", "11 lower")
    done("plank", boat, "x", "--spiling", SPILING)  # new marks are judged anew
    assert kept(boat)["x"]["choice"]["keep"] == []


def test_radius_and_tolerance_of_a_spiled_plank(boat, done):
    flat = strict(done("plank", boat, "x", "--spiling", SPILING, "--tolerance", "2", "--json"))
    done("plank", boat, "x", "--radius", "6", "900", "--radius", "7", "950mm")
    hollow = strict(done("plank", boat, "x", "--json"))
    choice = kept(boat)["x"]["choice"]
    assert (choice["tolerance_mm"], choice["radius_mm"]) == (2.0, [["6", 900.0], ["7", 950.0]])
    assert hollow["frames"][0]["hollow_mm"] > 0
    assert flat["frames"][0]["hollow_mm"] is None
    assert flat["frames"][0]["width_mm"] == hollow["frames"][0]["width_mm"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "plank 'x': give its two seams with --seams FILE, its spiling marks with --spiling FILE"),
        (("--thickness", "25"), "give its two seams with --seams FILE"),
        (("--seams", SPILING, "--spiling", SPILING), "give one of the three files"),
        (("--seams", SPILING), "spiling.csv: no column height, half_breadth or girth"),
        (("--spiling", SPILING, "--first", "3"), "--first: this plank is drawn from spiling"),
        (("--spiling", SPILING, "--thickness", "-3"), "thickness: -3.0 mm; give a value above 0"),
        (("--spiling", SPILING, "--radius", "6", "0"), "radius at frame 6: 0 mm; give a value above zero"),
    ],
)
def test_what_cannot_be_is_told_and_not_kept(boat, run, words, told):
    said = run("plank", boat, "x", *words)
    assert (said.code, said.out) == (1, "")
    assert told in said.err
    assert kept(boat) == {}


def test_options_of_spiling_are_not_for_seams(boat, run, seams):
    said = run("plank", boat, "x", "--seams", seams, "--keep", "3 upper")
    assert said.code == 1
    assert "--keep: this plank is drawn from its seams" in said.err


def test_bad_cells_are_told_at_once(boat, run, written):
    text = "frame,edge,height_mm\n3,lower,40O\n3,top,500\n4,lower,400\n4,upper,500\n"
    said = run("plank", boat, "x", "--seams", written("s.csv", text))
    assert (said.code, said.out) == (1, "")
    assert 's.csv line 2, height: found "40O"' in said.err
    assert 's.csv line 3, edge: found "top"' in said.err


def test_forgetting(boat, done, run):
    done("plank", boat, "x", "--spiling", SPILING)
    assert done("plank", boat, "x", "--forget").startswith("plank x: no longer to be made")
    said = run("plank", boat, "x")
    assert said.code == 1
    assert "give its two seams" in said.err
