"""The demo boat's files: what the script writes, to the byte, and true to the form but for noise and two blunders."""

import csv
import subprocess
import sys
from itertools import groupby

import numpy as np
import pytest

from scrieve.planking.butts.joints import EndJoint, ShellLayout, StrakeRun, breaches
from scrieve.planking.butts.rules import BUTT_RULES, DEFAULT_RULES
from scrieve.planking.forms import read_seams, read_spiling
from scrieve.planking.spiling import spiled_edges
from scrieve.takeoff.offsets import read_marks


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def by_side(marks):
    """The marks of each side of each frame."""
    return [list(own) for _, own in groupby(marks, key=lambda row: (row["frame"], row["side"]))]


@pytest.fixture(scope="module")
def marks(folder):
    return rows(folder / "marks.csv")


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
    for own in by_side(marks):
        assert 12 <= len(own) <= 15
        assert [row["kind"] for row in own] == ["heel", *[""] * (len(own) - 2), "sheer"]
        assert len({row["mark"] for row in own}) == len(own)


def test_noise_is_as_stated_and_only_two_marks_are_wrong(marks, form, script):
    off, wrong = [], set()
    for own in by_side(marks):
        points = [[float(row["half_breadth_mm"]), float(row["height_mm"])] for row in own]
        off.append(form.off_the_line(points, float(own[0]["station_mm"]), own[0]["side"]))
        wrong |= {(int(own[i]["frame"]), own[i]["side"], own[i]["mark"]) for i in np.flatnonzero(np.abs(off[-1]) > 8)}
    off = np.concatenate(off)
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
    shared = {frame for strake, frame in lower if strake == second and (first, frame) in lower}
    assert len(shared) > 5
    for (strake, frame), height in lower.items():
        assert 100 < upper[strake, frame] - height < 200
        sheer = form.section(script.station_mm(frame), side="P").height_mm[-1]
        assert upper[strake, frame] < sheer
        if strake == second and frame in shared:
            assert height == upper[first, frame]  # neighbours share their seam
    seams = rows(folder / "garboard.csv")
    assert {row["girth_mm"] for row in seams if row["edge"] == "lower"} == {"0"}
    assert all(120 < float(row["girth_mm"]) < 200 for row in seams if row["edge"] == "upper")


def test_the_demos_planks_end_as_the_rules_ask(demo, script):
    """Source: TB 55-1900-201-45/1, 2-12: butts of adjacent strakes three frame spaces apart."""
    ends = {}
    for strake in script.TOPSIDES:
        options = demo.PLANKS[f"topside {strake}"]
        ends[strake] = [float(options[options.index(end) + 1].removesuffix("mm")) for end in ("--first", "--last")]
    frames = tuple((str(frame), float(script.station_mm(frame))) for frame in script.FRAMES)
    runs = tuple(StrakeRun(strake, frames[0][1], frames[-1][1]) for strake in ends)
    joints = tuple(EndJoint(strake, x) for strake, both in ends.items() for x in both)
    layout = ShellLayout(frames, runs, joints)
    assert breaches(layout, BUTT_RULES[demo.BUTT_RULES]) == ()
    assert demo.BUTT_RULES == DEFAULT_RULES


def test_they_are_read_as_a_users_files(folder, script):
    """By the readers that take a user's files: nothing bad, nothing to remark."""
    seams = ["garboard.csv", *(f"topside_{strake}_port.csv" for strake in script.TOPSIDES)]
    readers = {"marks.csv": read_marks, "spiling.csv": read_spiling, **dict.fromkeys(seams, read_seams)}
    for name, reader in readers.items():
        reading = reader((folder / name).read_bytes(), name)
        assert (reading.bad, reading.warnings) == ((), ()), name


@pytest.fixture(scope="module")
def laid_flat(batten, script):
    frames = [frame for frame in script.marked_frames("P") if frame in script.SPILED_FRAMES]
    stations = [script.station_mm(frame) for frame in frames]
    shares = (script.SPILED - 1) / script.STRAKES, script.SPILED / script.STRAKES
    return stations, shares, batten.laid_flat(stations, shares, "P")


def test_triangles_keep_widths_and_lengths(laid_flat, form):
    """A plank laid flat keeps its width at each frame and the length of each seam, summed here over fine chords."""
    stations, shares, flat = laid_flat
    lines = [form.section_at(x, shares, "P") for x in stations]
    widths = [np.hypot(*np.diff([line.half_breadth_mm, line.height_mm])[:, 0]) for line in lines]
    assert np.hypot(*(flat[1] - flat[0]).T) == pytest.approx(widths, rel=1e-9)
    assert (flat[0] + flat[1])[[0, -1], 1] == pytest.approx([0, 0], abs=1e-9)  # the datum line: middle to middle
    for seam, share in zip(flat, shares, strict=True):
        x = np.linspace(stations[0], stations[-1], 200)
        line = np.array([(at, *np.ravel(form.section_at(at, [share], "P")[1:3])) for at in x])
        true = np.sum(np.linalg.norm(np.diff(line, axis=0), axis=-1))
        sagged = np.sum(np.linalg.norm(np.diff(seam, axis=0), axis=-1))  # chords from frame to frame: a little short
        assert sagged == pytest.approx(true, rel=3e-4)
        assert sagged < true


def test_the_spiling_leads_back_to_the_seams(laid_flat, folder):
    """Marks are read to half a mm, so no edge point may lie further than that from the seam that was spiled."""
    edges = spiled_edges(read_spiling((folder / "spiling.csv").read_bytes(), "spiling.csv").batten)
    for points, seam in zip((edges.lower_points, edges.upper_points), laid_flat[2], strict=True):
        found = np.array([(point.x_mm, point.y_mm) for point in points])
        assert found == pytest.approx(seam, abs=0.5)
