"""`scrieve sides`, `next`, `fairness` and `lines`, held against the Wigley hull (published/wigley.py)."""

import csv
import io
import json

import numpy as np
import pytest

HEAD = ["line", "run", "frame", "station_mm", "half_breadth_mm", "height_mm", "ordinate_mm", "sd_mm", "direction_deg",
        "curvature_per_m"]  # fmt: skip


def lines(done, boat, *words):
    rows = list(csv.DictReader(io.StringIO(done("lines", boat, *words, "--csv"))))
    assert list(rows[0]) == HEAD
    return rows


def figures(rows, name):
    return np.array([float(row[name]) for row in rows])


def test_a_waterline_is_the_closed_forms(boat, done, wigley):
    rows = lines(done, boat, "--waterline", "400")
    x = figures(rows, "station_mm")
    assert {row["line"] for row in rows} == {"waterline 400"}
    assert figures(rows, "height_mm") == pytest.approx(400, abs=1e-3)
    assert figures(rows, "half_breadth_mm") == pytest.approx(wigley.half_breadth(x - 3000, -400.0), abs=1.5)
    assert figures(rows, "ordinate_mm") == pytest.approx(figures(rows, "half_breadth_mm"))
    slope, _ = wigley.slopes(x - 3000, np.full(len(x), -400.0))
    assert figures(rows, "direction_deg") == pytest.approx(np.degrees(np.arctan(slope)), abs=0.5)
    assert [row["frame"] for row in rows if row["frame"]] == [str(n) for n in range(1, 10)]


def test_buttock_and_diagonal(boat, done, wigley):
    """On a buttock the half-breadth is given; the ordinate of a diagonal is its length out from the centreline."""
    rows = lines(done, boat, "--buttock", "300mm", "--diagonal", "800mm@40")
    buttock = [row for row in rows if row["line"] == "buttock 300"]
    sloped = [row for row in rows if row["line"] == "diagonal 800@40"]
    assert len(buttock) + len(sloped) == len(rows)
    x, z = figures(buttock, "station_mm"), figures(buttock, "ordinate_mm")
    assert wigley.half_breadth(x - 3000, z - 800) == pytest.approx(300, abs=2.0)
    out, down = figures(sloped, "half_breadth_mm"), 800 - figures(sloped, "height_mm")
    assert down == pytest.approx(out * np.tan(np.radians(40)), abs=1e-2)
    assert figures(sloped, "ordinate_mm") == pytest.approx(np.hypot(out, down), abs=1e-2)


def test_lines_in_words_and_as_json(boat, done):
    text = done("lines", boat, "--waterline", "400", "--waterline", "0-8-0")
    assert text.splitlines()[1].split() == ["frame", "station", "waterline", "400", "waterline", "203"]
    assert len(text.splitlines()) == 11
    (line,) = json.loads(done("lines", boat, "--buttock", "700mm", "--json"))
    (run,) = line["runs"]
    assert (line["kind"], line["half_breadth_mm"], line["slope_deg"]) == ("buttock", 700.0, None)
    assert (run["starts"], run["ends"]) == ("head", "head")  # the sheer is within 700 mm at both ends
    proposed = json.loads(done("lines", boat, "--json"))
    assert {one["kind"] for one in proposed} == {"diagonal"}


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--waterline", "900mm"), "waterline 900: the hull does not reach it"),
        (("--buttock", "wide"), "--buttock: found 'wide'"),
        (("--diagonal", "800"), "--diagonal: found '800'; expected its height and slope in degrees, such as 1250mm@40"),
        (("--diagonal", "800mm@89"), "give 85° or less"),
    ],
)
def test_lines_that_cannot_be_cut(boat, run, words, told):
    said = run("lines", boat, *words)
    assert (said.code, said.out) == (1, "")
    assert told in said.err


def test_fairness_names_the_kink_of_a_bad_mark(empty, done, written, rows, as_csv):
    rows[40][3] = f"{float(rows[40][3]) + 100:.4f}"
    done("marks", empty, "add", written("marks.csv", as_csv(rows)), "--slips", "store")
    said = json.loads(done("fairness", empty, "--json"))
    worst = max(said["lines"], key=lambda line: line["kink_before_mm"])
    assert worst["kink_before_at"] == "5"
    assert said["worst_before_mm"] == worst["kink_before_mm"] > 20
    assert said["worst_after_mm"] < 10
    assert json.loads(done("fairness", empty, "--counted", "--json"))["worst_before_mm"] < 10
    text = done("fairness", empty)
    assert f"Largest kink {said['worst_before_mm']:.1f} mm by the marks" in text


def test_next_goes_to_the_frame_that_is_wanted(boat, done):
    places = json.loads(done("next", boat, "--frame", "2700mm", "--count", "3", "--json"))
    assert len(places) == 3
    assert all(abs(place["station_mm"] - 2700) < 301 for place in places)  # there, or on a frame next to it
    sds = [places[0]["sd_before_mm"], *(place["sd_after_mm"] for place in places)]
    assert (np.diff(sds) < 0).all()
    text = done("next", boat, "--count", "1")
    assert "For all frames, whose lines are now good to ±" in text


def test_next_takes_the_frames_to_be_made(boat, done):
    done("frame", boat, "3a", "--station", "2100mm", "--sided", "45", "--moulded", "60")
    text = done("next", boat, "--count", "1")
    assert "For the 1 frame pairs to be made" not in text
    assert "For the frame pair to be made" in text


@pytest.fixture
def two_sided(empty, done, written, rows, as_csv):
    """Port taken 6 mm further out than starboard, heel and all but the keel's own marks."""
    both = [
        [*row[:3], f"{float(row[3]) + out:.4f}", side, row[5]]
        for row in rows
        for side, out in (("P", 6.0 if float(row[3]) > 50 else 0.0), ("S", 0.0))
    ]
    done("marks", empty, "add", written("marks.csv", as_csv(both)))
    return empty


def test_sides_differ_by_what_was_planted(two_sided, done, wigley):
    """6 mm level, square to the line: 6·dz/ds, whose mean along the line is 6·depth/girth (less the keel's mark)."""
    said = json.loads(done("sides", two_sided, "--json"))
    middle = [frame for frame in said["frames"] if frame["frame"] in "34567"]
    planted = [6.0 * 800 / float(wigley.girth(frame["station_mm"] - 3000)) for frame in middle]
    assert [frame["mean_mm"] for frame in middle] == pytest.approx(planted, abs=0.6)
    assert all(frame["real"] for frame in middle)
    assert said["port_moved"]["out_mm"] == pytest.approx(6.0, abs=1.5)
    text = done("sides", two_sided)
    assert "of 9 frames differ by more than measuring error explains." in text
    assert "a centreline set off" in text


def test_sides_need_both(boat, run):
    said = run("sides", boat)
    assert (said.code, said.out) == (1, "")
    assert "no mark is given for port; write P or S in the column 'side'" in said.err
