"""The demo boat's files: what the script writes, to the byte, and true to the form but for noise and two blunders."""

import csv
import subprocess
import sys

import numpy as np
import pytest


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


@pytest.fixture(scope="module")
def marks(folder):
    return rows(folder / "marks.csv")


def off_by(form, row):
    point = [[float(row["half_breadth_mm"]), float(row["height_mm"])]]
    return form.off_the_line(point, float(row["station_mm"]), row["side"])[0]


def test_the_files_are_what_the_script_writes(folder, script, tmp_path):
    program = [sys.executable, str(folder / "make_merganser.py"), "--to", str(tmp_path)]
    subprocess.run(program, check=True, capture_output=True)
    assert {path.name for path in tmp_path.iterdir()} == {path.name for path in folder.glob("*.csv")}
    for made in tmp_path.iterdir():
        assert made.read_bytes() == (folder / made.name).read_bytes(), made.name


def test_every_file_says_that_it_is_invented(folder, script):
    for path in folder.glob("*.csv"):
        first = path.read_text(encoding="utf-8").splitlines()[0]
        assert first == f"# Invented data: made by make_merganser.py, seed {script.SEED}.", path.name


def test_frames_and_sides(marks, script):
    seen = {(int(row["frame"]), row["side"]) for row in marks}
    frames = {frame for frame, _ in seen}
    assert len(script.ROTTEN) == 14
    assert len(script.NOT_MEASURED) == 4
    assert set(script.NOT_MEASURED) <= set(script.ROTTEN)
    assert set(script.FRAMES) - frames == set(script.NOT_MEASURED)
    assert {frame for frame in frames if len({(frame, "P"), (frame, "S")} & seen) == 1} == set(script.ONE_SIDE_ONLY)
    assert all(int(row["station_mm"]) == script.station_mm(int(row["frame"])) for row in marks)


def test_each_side_of_a_frame_runs_from_rabbet_to_sheer(marks):
    for key in {(row["frame"], row["side"]) for row in marks}:
        own = [row for row in marks if (row["frame"], row["side"]) == key]
        assert 12 <= len(own) <= 15
        assert [row["kind"] for row in own] == ["heel", *[""] * (len(own) - 2), "sheer"]
        assert len({row["mark"] for row in own}) == len(own)


def test_noise_is_as_stated_and_only_two_marks_are_wrong(marks, form, script):
    off = np.array([off_by(form, row) for row in marks])
    wrong = {(int(r["frame"]), r["side"], r["mark"]) for r, d in zip(marks, off, strict=True) if abs(d) > 8}
    assert wrong == set(script.BLUNDERS)
    sound = off[np.abs(off) <= 8]
    stated = np.hypot(script.SIGMA_MM, 1 / np.sqrt(12))  # noise, and reading to the whole mm
    assert np.sqrt(np.mean(sound**2)) == pytest.approx(stated, rel=3 / np.sqrt(2 * len(sound)))  # 3 standard errors
    assert abs(np.mean(sound)) < 3 * stated / np.sqrt(len(sound))


def test_new_frames_include_one_that_was_not_measured(folder, script):
    new = rows(folder / "frames.csv")
    assert {int(row["frame"]) for row in new} <= set(script.ROTTEN)
    assert sum(int(row["frame"]) in script.NOT_MEASURED for row in new) == 1
    assert all(int(row["station_mm"]) == script.station_mm(int(row["frame"])) for row in new)


def test_seams_lie_on_the_hull_in_order(folder, form, script):
    lower, upper = ({}, {})
    for strake in script.TOPSIDES:
        for row in rows(folder / f"topside_{strake}_port.csv"):
            (lower if row["edge"] == "lower" else upper)[strake, int(row["frame"])] = float(row["height_mm"])
    assert lower.keys() == upper.keys()
    first, second = script.TOPSIDES
    for (strake, frame), height in lower.items():
        assert 100 < upper[strake, frame] - height < 200
        sheer = form.section(script.station_mm(frame), side="P").height_mm[-1]
        assert upper[strake, frame] < sheer
        if strake == second:
            assert height == upper[first, frame]  # neighbours share their seam
    seams = rows(folder / "garboard.csv")
    assert {row["girth_mm"] for row in seams if row["edge"] == "lower"} == {"0"}
    assert all(120 < float(row["girth_mm"]) < 200 for row in seams if row["edge"] == "upper")
