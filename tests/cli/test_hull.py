"""`scrieve fair` and `scrieve shape`, held against the Wigley hull in closed form (see tests/published/wigley.py)."""

import csv
import io
import json

import numpy as np
import pytest

HEAD = ["frame", "station_mm", "s_mm", "half_breadth_mm", "height_mm", "sd_mm", "bevel_deg", "curvature_per_m"]


def shape(done, boat, *words):
    rows = list(csv.reader(io.StringIO(done("shape", boat, *words, "--csv"))))
    assert rows[0] == HEAD
    return rows[1:]


def strict(text):
    """Read JSON that has no NaN or Infinity in it."""

    def refuse(word):
        raise AssertionError(word)

    return json.loads(text, parse_constant=refuse)


def test_fair_as_json(boat, done):
    said = strict(done("fair", boat, "--json"))
    assert said["rms_mm"] < 0.5
    assert [mark["id"] for mark in said["marks"]] == list(range(1, 82))
    for mark in said["marks"]:
        assert {"id", "frame", "side", "residual_mm", "suspect"} <= set(mark)
        assert isinstance(mark["residual_mm"], float)
        assert mark["suspect"] is False
    assert [frame["frame"] for frame in said["frames"]] == [str(n) for n in range(1, 10)]
    assert [frame["station_mm"] for frame in said["frames"]] == [600.0 * n for n in range(1, 10)]


def test_fair_in_words(boat, done):
    said = done("fair", boat)
    assert said.startswith("Wigley: 81 marks on 9 frames, revision ")
    assert said.endswith("No mark is suspect.\n")


def test_a_suspect_is_named_with_what_to_do(empty, done, written, rows, as_csv):
    rows[40][3] = f"{float(rows[40][3]) + 100:.4f}"
    done("marks", empty, "add", written("marks.csv", as_csv(rows)), "--slips", "store")
    said = strict(done("fair", empty, "--json"))
    (suspect,) = [mark for mark in said["marks"] if mark["suspect"]]
    assert (suspect["id"], suspect["frame"]) == (41, "5")
    text = done("fair", empty)
    assert "frame 5, mark 41 'WL 4'" in text
    assert f"scrieve marks {empty} drop 41" in text
    done("marks", empty, "drop", "41")
    assert "No mark is suspect." in done("fair", empty)


@pytest.mark.parametrize("frames", [0, 1, 3])
def test_too_few_frames_says_what_is_missing(empty, run, done, written, rows, as_csv, frames):
    if frames:
        done("marks", empty, "add", written("marks.csv", as_csv(rows[: 9 * frames])))
    said = run("fair", empty)
    assert (said.code, said.out) == (1, "")
    assert said.err.startswith("scrieve: ")
    assert "frames" in said.err
    assert "4" in said.err or "four" in said.err


def test_the_wigley_hull_within_half_a_millimetre(boat, done, wigley):
    """At a frame and halfway between two: half-breadth at the height, over the middle nine tenths of the girth."""
    for at, station in (("5", 3000.0), ("3", 1800.0), ("2700", 2700.0), ("3.9m", 3900.0)):
        rows = np.array([[float(cell) for cell in row[1:]] for row in shape(done, boat, "--at", at)])
        assert rows.shape == (200, 7)
        assert rows[0, 0] == station
        z = rows[:, 3] - wigley.draught_mm
        exact = wigley.half_breadth(station - 3000, z)
        _, slope = wigley.slopes(station - 3000, z)
        off = (rows[:, 2] - exact) / np.hypot(1, slope)
        assert np.abs(off).max() < 0.5
        assert rows[-1, 1] == pytest.approx(float(wigley.girth(station - 3000)), abs=1.0)
        assert np.diff(rows[:, 1]) == pytest.approx(np.full(199, rows[-1, 1] / 199), abs=1e-3)


def test_bevels_in_degrees_and_curvature_per_metre(boat, done, wigley):
    """By calculus on the Wigley hull, over the middle eight tenths of the girth; signs as docs/commands.md has them."""
    rows = np.array([[float(cell) for cell in row[1:]] for row in shape(done, boat, "--at", "4200")])[20:180]
    z = rows[:, 3] - wigley.draught_mm
    assert rows[:, 5] == pytest.approx(np.degrees(wigley.bevel(1200.0, z)), abs=0.3)
    assert (rows[:, 5] < 0).all()  # abaft the middle she narrows
    assert rows[:, 6] == pytest.approx(1000 * wigley.curvature(1200.0, z), rel=0.15)


def test_at_is_repeated_in_the_order_asked(boat, done):
    rows = shape(done, boat, "--at", "7", "--at", "3333", "--at", "2", "--points", "11")
    assert len(rows) == 33
    assert [row[0] for row in rows[::11]] == ["7", "", "2"]
    assert [float(row[1]) for row in rows[::11]] == [4200.0, 3333.0, 1200.0]


def test_without_at_every_frame_comes(boat, done):
    assert [row[0] for row in shape(done, boat, "--points", "3")[::3]] == [str(n) for n in range(1, 10)]


def test_feet_inches_eighths_is_a_station(boat, done):
    assert float(shape(done, boat, "--at", "9-10-1", "--points", "3")[0][1]) == pytest.approx(118.125 * 25.4, abs=1e-3)


@pytest.mark.parametrize(
    ("at", "told"),
    [
        ("599mm", "station 599 mm lies outside the marks, which run from 600 to 5400 mm"),
        ("599", "frame 599 has no marks here"),
        (
            "12",
            "frame 12 has no marks here, nor a station in the list of frames; give one of 1, 2, 3, 4, 5, 6, 7, 8, 9",
        ),
        ("12", "A station is written with its unit, such as 12mm; the marks run from 600 to 5400 mm"),
        ("nan", "lies outside the marks"),
        ("stem", "frame 'stem' has no marks here; give one of 1, 2, 3, 4, 5, 6, 7, 8, 9, or a station in mm"),
    ],
)
def test_what_cannot_be_shown_is_refused(boat, run, at, told):
    said = run("shape", boat, "--at", "5", "--at", at, "--csv")
    assert (said.code, said.out) == (1, "")
    assert told in said.err


def test_a_frame_that_is_gone_is_not_taken_for_a_station(empty, run, done, written, rows, as_csv):
    """Frames 1 to 9 less 5, from station 0: 5 is within the marks as a station in mm, and yet no station is meant."""
    moved = [[row[0], f"{float(row[1]) - 600:.4f}", *row[2:]] for row in rows if row[0] != "5"]
    done("marks", empty, "add", written("marks.csv", as_csv(moved)), "--slips", "store")
    said = run("shape", empty, "--at", "5")
    assert (said.code, said.out) == (1, "")
    assert "frame 5 has no marks here" in said.err
    assert "such as 5mm; the marks run from 0 to 4800 mm" in said.err
    for typed, station in (("5mm", 5.0), ("2400", 2400.0)):
        assert float(shape(done, empty, "--at", typed, "--points", "3")[0][1]) == station


def test_frames_named_by_their_stations_leave_bare_numbers_to_stations(empty, done, written, rows, as_csv):
    named = [[f"{float(row[1]):.0f}", *row[1:]] for row in rows]
    done("marks", empty, "add", written("marks.csv", as_csv(named)))
    assert float(shape(done, empty, "--at", "900", "--points", "3")[0][1]) == 900.0


def test_shape_as_json_and_in_words(boat, done):
    (section,) = strict(done("shape", boat, "--at", "5", "--points", "7", "--json"))
    assert list(section) == HEAD
    assert [len(section[name]) for name in HEAD[2:]] == [7] * 6
    text = done("shape", boat, "--at", "5")
    assert text.startswith("frame 5, station 3000, inside of planking\n")
    assert len(text.splitlines()) == 17


def test_a_pair_becomes_two_blanks_each_from_its_own_side_and_a_pair_again(empty, done, run, written, rows, as_csv):
    both = [
        [*row[:3], f"{float(row[3]) + out:.4f}", side, row[5]]
        for row in rows
        if float(row[3]) > 10
        for side, out in (("P", 4.0), ("S", -4.0))
    ]
    done("marks", empty, "add", written("m.csv", as_csv(both)), "--slips", "keep")
    done("frame", empty, "5", "--sided", "50")
    two = strict(done("frame", empty, "5", "--apart", "--json"))
    assert [(one["frame"], one["choice"]["hull"], one["choice"]["hands"]) for one in two] == [
        ("5 P", "port", "port"),
        ("5 S", "starboard", "starboard"),
    ]
    assert [one["blank"]["siding_mm"] for one in two] == [54.0, 54.0]
    assert two[0]["revision"] != two[1]["revision"]
    assert "Made from port's own marks" in done("frame", empty, "5 P")
    assert "Frame 5 S on the jig" in done("jig", empty, "5 S")
    pair = strict(done("frame", empty, "5", "--json"))
    assert (pair["choice"]["sided_mm"], pair["choice"]["hands"], pair["choice"]["hull"]) == (50.0, "pair", "both")
    assert "'5 P'" in run("frame", empty, "5 P", "--forget").err  # it went when the pair came back


def test_a_frame_out_of_place_is_told(empty, done, written, rows, as_csv):
    for row in rows:
        if row[0] == "5":
            row[3] = f"{float(row[3]) + 6:.4f}"
    done("marks", empty, "add", written("marks.csv", as_csv(rows)), "--slips", "store")
    (dent,) = strict(done("fair", empty, "--json"))["dents"]
    assert dent["frame"] == "5"
    assert 1 < dent["off_mm"] < 8
    assert "Frame 5: its marks " in done("fair", empty)


def test_a_mark_kept_though_all_others_say_otherwise_is_told(empty, done, written, rows, as_csv):
    rows[30][3] = f"{float(rows[30][3]) + 60:.4f}"
    done("marks", empty, "add", written("marks.csv", as_csv(rows)), "--slips", "store")
    (slip,) = [mark for mark in strict(done("fair", empty, "--json"))["marks"] if mark["suspect"]]
    assert "the fair hull goes by it" not in done("fair", empty)
    done("marks", empty, "keep", str(slip["id"]))
    told = f"Mark {slip['id']} on frame {slip['frame']} was kept, "
    assert told in done("fair", empty)
