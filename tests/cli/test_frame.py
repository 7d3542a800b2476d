"""`scrieve frame`: one pair, a list of pairs, and what is kept of them."""

import json
import math
import re
from fractions import Fraction

import pytest

from scrieve import store


def strict(text):
    """Read JSON that has no NaN or Infinity in it."""

    def refuse(word):
        raise AssertionError(word)

    return json.loads(text, parse_constant=refuse)


def kept(boat):
    engine = store.open_boat(boat)
    try:
        return store.frames(engine)
    finally:
        engine.dispose()


def test_a_pair_in_words(boat, done):
    said = done("frame", boat, "5", "--timber", "sapele/larch", "--sided", "45", "--moulded", "60")
    assert said.startswith("Frame 5, port and starboard: sided 45 mm, moulded 60 mm, station 3000 mm, revision ")
    for part in ("Laminations: ", "Springback: ", "Blank: ", "Glue (epoxy): ", "Jig: rails 250 mm", "Bevels, "):
        assert part in said
    assert "surveyor or naval architect" in said


def test_a_pair_as_json(boat, done):
    said = strict(
        done("frame", boat, "5", "--timber", "larch", "--sided", "45", "--moulded", "60", "--lamination", "5", "--json")
    )
    packet = said["packet"]["laminations"]
    assert {ply["thickness_mm"] for ply in packet} == {5.0}
    n = len(packet)
    # n equal laminations of one timber give up 1/n² (epoxy maker's rule, see tests/published/test_springback.py)
    assert said["packet"]["springback"] == pytest.approx(1 / n**2, rel=1e-9)
    blank, choice = said["blank"], said["choice"]
    least = 2 * 45 + choice["kerf_mm"]
    assert blank["siding_mm"] > least
    assert said["jig"]["pitch_mm"] == 250.0
    assert len(said["revision"]) == 8


def test_feet_inches_eighths_in_and_out(tmp_path, done, written, rows, as_csv):
    boat = tmp_path / "b"
    done("new", boat, "--name", "B", "--planking", "inside", "--units", "ft")
    done("marks", boat, "add", written("m.csv", as_csv(rows)))
    said = done("frame", boat, "5", "--sided", "0-1-4", "--moulded", '2 1/4"', "--pitch", "0-9-0")
    assert "sided 0-1-4, moulded 0-2-2, station 9-10-1" in said
    assert "rails 0-9-0 apart" in said
    assert re.search(r"\d mm\b", said) is None
    assert kept(boat)["5"]["choice"]["pitch_mm"] == pytest.approx(228.6)


def test_laminations_of_a_boat_in_feet_and_inches_are_set_by_32nds(tmp_path, boat, done, written, rows, as_csv):
    inches = tmp_path / "b"
    done("new", inches, "--name", "B", "--planking", "inside", "--units", "ft")
    done("marks", inches, "add", written("m.csv", as_csv(rows)))
    laid = strict(done("frame", inches, "5", "--moulded", '2 3/8"', "--json"))["packet"]["laminations"]
    (part,) = {ply["thickness_mm"] / 25.4 * 32 for ply in laid}
    assert part == pytest.approx(round(part))
    assert re.search(r"Laminations: \d+ of \d+/(4|8|16|32)\b", done("frame", inches, "5"))
    first = kept(inches)["5"]["choice"]  # what is not said starts as it stands on a rule
    assert (first["sided_mm"], first["kerf_mm"], first["cleaning_mm"]) == pytest.approx((44.45, 3.175, 1.5875))
    assert "ripped in two (kerf 1/8 in)" in done("frame", inches, "5")
    # the builder's own step: 64ths of an inch, and millimetres by halves
    laid = strict(done("frame", inches, "5", "--set", 'step=1/64"', "--count", "15", "--json"))["packet"]["laminations"]
    part = laid[0]["thickness_mm"] / 25.4 * 64
    assert part == pytest.approx(round(part))
    assert round(part) % 2
    laid = strict(done("frame", boat, "5", "--moulded", "60", "--json"))["packet"]["laminations"]
    assert {ply["thickness_mm"] % 0.5 for ply in laid} == {0.0}


def test_what_was_settled_is_remembered(boat, done):
    done("frame", boat, "5", "--sided", "38", "--moulded", "50", "--timber", "larch")
    first = strict(done("frame", boat, "5", "--json"))
    assert (first["choice"]["sided_mm"], first["choice"]["moulded_mm"]) == (38.0, 50.0)
    second = strict(done("frame", boat, "5", "--moulded", "55", "--waterline", "300", "--waterline", "600", "--json"))
    assert (second["choice"]["sided_mm"], second["choice"]["moulded_mm"]) == (38.0, 55.0)
    assert second["choice"]["waterlines_mm"] == [300.0, 600.0]
    assert second["revision"] != first["revision"]
    assert strict(done("frame", boat, "5", "--moulded", "50", "--json"))["choice"]["waterlines_mm"] == [300.0, 600.0]


def test_a_frame_without_marks_needs_its_station(boat, run, done):
    said = run("frame", boat, "5a")
    assert (said.code, said.out) == (1, "")
    assert "frame 5a has no marks; say where it stands with --station" in said.err
    assert kept(boat) == {}
    assert "station 3250 mm" in done("frame", boat, "5a", "--station", "3250mm")
    assert "station 3250 mm" in done("frame", boat, "5a", "--sided", "40")  # the station too is remembered
    said = run("frame", boat, "stem", "--station", "100")
    assert said.code == 1
    assert "station 100 mm lies outside the marks" in said.err
    assert list(kept(boat)) == ["5a"]


def test_a_station_given_for_a_frame_with_marks_is_not_used_and_told(boat, run):
    said = run("frame", boat, "5", "--station", "3300")
    assert said.code == 0
    assert "station 3000 mm" in said.out
    assert "frame 5 has marks at station 3000 mm; the station 3300 is not used" in said.err


def test_a_list_of_frames(boat, done, written):
    file = written("frames.csv", "frame,station_mm,timber,sided,moulded\n5,,larch,45,60\n5a,3300,sapele/larch,45,60\n")
    said = strict(done("frame", boat, "--from", file, "--json"))
    assert [(frame["frame"], frame["station_mm"]) for frame in said] == [("5", 3000.0), ("5a", 3300.0)]
    assert [frame["choice"]["timber"] for frame in said] == ["larch", "sapele/larch"]
    text = done("frame", boat, "--from", file, "--pitch", "200")
    assert text.count("rails 200 mm apart") == 2


def test_bad_cells_of_a_list_are_told_at_once(boat, run, written):
    text = (
        "frame,timber,sided,moulded,lamination,count\n5,larch,thick,60,,\n,larch,45,60,,\n6,larch,45,60,900,1\n5,,,,,\n"
    )
    said = run("frame", boat, "--from", written("f.csv", text))
    assert (said.code, said.out) == (1, "")
    first, *rest = said.err.splitlines()
    assert first == "scrieve: 4 cells or rows of f.csv cannot be read, so nothing was stored:"
    assert len(rest) == 4
    assert 'f.csv line 2, sided: found "thick"; expected' in said.err
    assert "f.csv line 3, frame: found nothing; expected" in said.err
    assert 'f.csv line 4, lamination: found "900"; expected a size of 0.5 to 150 mm' in said.err
    assert 'f.csv line 4, count: found "1"; expected a whole number of laminations, 2 to' in said.err
    assert kept(boat) == {}


def test_frames_of_a_list_that_cannot_be_made_are_told_at_once(boat, run, written):
    text = "frame,station,timber\n5,,larch\n6,,unobtainium\nstem,10,larch\n"
    said = run("frame", boat, "--from", written("f.csv", text))
    assert (said.code, said.out) == (1, "")
    first, *rest = said.err.splitlines()
    assert first == "scrieve: 2 of 3 frames cannot be made so; no choice was stored:"
    assert rest[0].startswith("frame 6: timber 'unobtainium' is not in the table")
    assert rest[1].startswith("frame stem: station 10 mm lies outside the marks")
    assert kept(boat) == {}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "which frame? Give its label, or a list with --from FILE"),
        (("5", "--timber", "unobtainium"), "timber 'unobtainium' is not in the table of species"),
        (("5", "--glue", "spittle"), "glue 'spittle' is not in the table"),
        (("5", "--sided", "4-5"), "--sided: found '4-5'; expected mm or feet-inches-eighths"),
        (("5", "--pitch", "1mm"), "--pitch: 1 mm; give 50 to 5000 mm"),
        (("5", "--lamination", "0.01"), "--lamination: 0.01 mm; give 0.5 to 150 mm"),
        (("5", "--margin", "2"), "margin: found 2.0; give a share up to 1"),
        (("5", "--moulded", "700"), "take a smaller moulded depth"),
        (("5", "--from", "frames.csv"), "leave out the label and --station, or the list"),
    ],
)
def test_what_cannot_be_is_told_and_not_kept(boat, run, words, told):
    said = run("frame", boat, *words)
    assert (said.code, said.out) == (1, "")
    assert told in said.err
    assert kept(boat) == {}


def test_forgetting(boat, done, run):
    done("frame", boat, "5")
    assert done("frame", boat, "5", "--forget").startswith("frame 5: no longer to be made")
    assert kept(boat) == {}
    said = run("frame", boat, "5", "--forget")
    assert (said.code, said.out) == (1, "")
    assert "frame '5' is not among those to be made: there are none" in said.err


def test_any_setting_can_be_set_and_taken_back(boat, run, done):
    first = strict(done("frame", boat, "5", "--set", "heel_cut=plumb at 20", "--set", "old_sided=38", "--json"))
    assert first["choice"]["heel_cut"] == ["plumb", 20.0, 0.0]
    assert first["choice"]["old_sided_mm"] == 38.0
    second = strict(done("frame", boat, "5", "--set", "heel_cut=", "--json"))
    assert second["choice"]["heel_cut"] == ["square", 0.0, 0.0]
    assert "write it as plumb at 20" in run("frame", boat, "5", "--set", "heel_cut=plumb 1 2").err
    assert "'nonsense' is not known" in run("frame", boat, "5", "--set", "nonsense=1").err
    assert "give a setting" in run("frame", boat, "5", "--set", "heel_cut").err


def test_timbers_listed_and_a_depth_by_table_stand_at_the_head_of_what_is_printed(boat, done):
    rows = ("stack=oak: 6; larch: 6; oak: 6; larch: 6; oak: 6", "moulded_table=0: 25; 5000: 20")
    head = done("frame", boat, "5", "--timber", "sapele", "--set", rows[0], "--set", rows[1]).splitlines()
    assert "moulded 25 mm at the heel" in head[0]
    assert "oak/larch, inside first" in head[1]


def test_a_new_frame_allows_for_cleaning_off_and_an_older_choice_stays(boat, done):
    said = strict(done("frame", boat, "5", "--json"))
    assert said["choice"]["allow_for_cleaning"] is True
    assert (
        strict(done("frame", boat, "5", "--set", "allow_for_cleaning=no", "--json"))["choice"]["allow_for_cleaning"]
        is False
    )
    assert strict(done("frame", boat, "5", "--json"))["choice"]["allow_for_cleaning"] is False
    assert "does not allow for cleaning off" in done("frame", boat, "5")


def test_the_terminal_tells_sections_scarfs_cuts_and_the_inner_bevel(boat, done):
    said = done("frame", boat, "5", "--moulded-head", "30", "--set", "board=800", "--set", "strength_at=450",
                "--set", "notches=limber: outer at 300, 30 x 12")  # fmt: skip
    for part in ("\nScarfs:\n", "\nEnd cuts and notches:\n", "\nStrength of the section:\n", " (1 sd): cleaning off"):
        assert part in said
    assert re.search(r"^place 1 +450 ", said, re.M)
    json_ = strict(done("frame", boat, "5", "--json"))
    (asked,) = [each for each in json_["strength"]["new"] if each["name"] == "place 1"]
    assert f"{asked['ei_nmm2'] / 1e9:.2f}" in re.search(r"^place 1 .*", said, re.M)[0]
    assert len(json_["scarfs"]["scarfs"]) == len(re.findall(r"^\d+ +\d+ +\d+$", said.split("Scarfs:")[1], re.M))
    # the inner edge leans off the outer by the taper, atan((60 - 30) / girth): tan β' = tan β cos τ
    for mark in json_["bevels"]:
        girth = json_["bevels"][-1]["s_mm"]
        cos = math.cos(math.atan((json_["choice"]["moulded_mm"] - 30) / girth))
        assert math.tan(mark["inner_bevel_rad"]) == pytest.approx(math.tan(mark["bevel_rad"]) * cos, rel=2e-3)
    assert "outer edge  inner edge" in said


def test_travels_in_feet_and_inches_are_told_to_32nds(tmp_path, done, written, rows, as_csv):
    boat = tmp_path / "b"
    done("new", boat, "--name", "B", "--planking", "inside", "--units", "ft")
    done("marks", boat, "add", written("m.csv", as_csv(rows)))
    said = done("frame", boat, "5")
    travels = [each["travel_mm"] for each in strict(done("frame", boat, "5", "--json"))["jig"]["brackets"]]
    told = re.findall(r"^\d+ +(?:\d+|extra) +[\d+-]+ +((?:\d+ )?\d+/\d+|\d+) +-?[\d.]+°$", said, re.M)
    assert len(told) == len(travels)
    for text, travel in zip(told, travels, strict=True):
        assert sum(Fraction(part) for part in text.split()) * 25.4 == pytest.approx(travel, abs=25.4 / 64 + 1e-9)
