"""`scrieve batten`: marks of a circle, a straight line, and a knuckle, whose lines are known."""

import csv
import io
import json

import numpy as np
import pytest

RADIUS = 1500.0


def arc(count=11, out=None):
    """Marks round a quarter of a circle, heel to head; `out` moves marks outwards."""
    angle = np.linspace(-np.pi / 2, 0, count)
    rows = ["mark,half_breadth_mm,height_mm"]
    for i, a in enumerate(angle):
        r = RADIUS + (out or {}).get(i, 0.0)
        rows.append(f"WL {i},{r * np.cos(a):.4f},{RADIUS + r * np.sin(a):.4f}")
    return "\n".join(rows) + "\n"


def test_the_arc_of_a_circle(done, written):
    rows = list(csv.DictReader(io.StringIO(done("batten", written("m.csv", arc()), "--sigma", "1mm", "--csv"))))
    x, y = (np.array([float(row[name]) for row in rows]) for name in ("x_mm", "y_mm"))
    assert np.hypot(x, y - RADIUS) == pytest.approx(RADIUS, abs=2.5)  # free ends run out straight
    assert float(rows[-1]["s_mm"]) == pytest.approx(np.pi / 2 * RADIUS, abs=1.0)
    middle = [float(row["curvature_per_m"]) for row in rows[80:120]]
    assert middle == pytest.approx([1000 / RADIUS] * 40, rel=0.05)  # above zero: it turns left, hollow inboard


def test_a_slip_is_named_and_can_be_kept_or_dropped(done, written):
    file = written("m.csv", arc(out={4: 25.0}))
    said = json.loads(done("batten", file, "--sigma", "1mm", "--json"))
    assert [mark["id"] for mark in said["marks"] if mark["suspect"]] == [5]
    assert said["marks"][4]["residual_mm"] == pytest.approx(25, abs=2)  # outside, going from heel to head
    text = done("batten", file, "--sigma", "1mm")
    assert "5 WL 4" in text
    assert "suspect" in text
    assert "did not count. Measure it again, or --keep 5." in text
    kept = json.loads(done("batten", file, "--sigma", "1mm", "--keep", "5", "--json"))
    assert kept["marks"][4]["counts"]
    assert "dropped" in done("batten", file, "--sigma", "1mm", "--drop", "5")


def test_holds_by_file_and_by_option(done, written):
    """The wrong mark is held to 2 mm: the line must pass so near."""
    plain = arc(out={4: 8.0})
    held = json.loads(done("batten", written("a.csv", plain), "--sigma", "2mm", "--hold", "5=2mm", "--json"))
    assert abs(held["marks"][4]["residual_mm"]) <= 2.0 + 1e-6
    lines = plain.splitlines()
    rows = [f"{line},{'0' if i == 4 else ''}" for i, line in enumerate(lines[1:])]
    filed = written("b.csv", "\n".join([lines[0] + ",hold_mm", *rows]))
    assert json.loads(done("batten", filed, "--sigma", "2mm", "--json"))["marks"][4]["residual_mm"] == pytest.approx(
        0, abs=1e-6
    )


def test_a_knuckle_breaks_the_line(done, written):
    """Two straight legs at 40°: the turn at the knuckle is theirs, and both legs stay straight."""
    t, turn = np.linspace(0, 900, 7), np.radians(40)
    legs = [(s, 0.0) for s in t] + [(900 + s * np.cos(turn), s * np.sin(turn)) for s in t[1:]]
    rows = ["x,y,kind", *(f"{x:.4f},{y:.4f},{'knuckle' if i == 6 else ''}" for i, (x, y) in enumerate(legs))]
    said = json.loads(done("batten", written("k.csv", "\n".join(rows)), "--sigma", "1mm", "--json"))
    assert said["knuckles_deg"] == pytest.approx([40.0], abs=0.1)
    assert np.abs([mark["residual_mm"] for mark in said["marks"]]).max() < 0.1


def test_ends_and_all_marks(done, written):
    file = written("m.csv", arc())
    said = json.loads(done("batten", file, "--through", "--first", "0", "--last", "fixed", "--json"))
    assert np.abs([mark["residual_mm"] for mark in said["marks"]]).max() < 1e-6
    assert said["points"]["direction_deg"][0] == pytest.approx(0, abs=1e-6)
    assert said["chosen_by"] == "interpolating"


def test_one_frame_of_many(done, run, written, rows, as_csv):
    file = written("marks.csv", as_csv(rows))
    said = json.loads(done("batten", file, "--frame", "3", "--sigma", "1mm", "--json"))
    assert [mark["mark"] for mark in said["marks"]] == [f"WL {n}" for n in range(9)]
    assert "marks.csv holds 9 frames; name one with --frame" in run("batten", file).err
    assert "holds no frame 33; its frames are 1, 2" in run("batten", file, "--frame", "33").err


def test_one_side_of_two(done, run, written):
    """Both sides of a frame make no line: the batten would have to run from the head back to the heel."""
    head, *lines = arc().splitlines()
    both = [f"{line},{side}" for side in ("port", "S") for line in lines]
    file = written("m.csv", "\n".join([head + ",side", *both]))
    assert "m.csv holds marks of both sides; name one with --side P or S" in run("batten", file).err
    one = json.loads(done("batten", file, "--side", "P", "--sigma", "1mm", "--json"))
    assert len(one["marks"]) == len(lines)


@pytest.mark.parametrize(
    ("text", "words", "told"),
    [
        ("x,y\n1,2\n3,4\n", (), "needs at least three"),
        ("x,y\n1,2\n3,wet\n5,6\n", (), 'm.csv line 3, y: found "wet"'),
        ("x,y,sigma\n1,2,1\n30,4,\n50,6,1\n", (), "mark 2 has no sigma while others have"),
        ("x,y,sigma\n1,2,-1\n30,4,1\n50,6,1\n", (), "sigma: found \"-1\"; expected a length above zero"),
        ("x,y\n1,2\n30,4\n50,6\n", ("--hold", "4"), "--hold 4: there is no such mark; the marks are counted 1 to 3"),
        ("x,y\n1,2\n30,4\n50,6\n", ("--hold", "two"), "--hold: found 'two'; expected a mark and how near to pass"),
        ("x,y\n1,2\n30,4\n50,6\n", ("--first", "down"), "--first: found 'down'; expected fixed, or a direction"),
        ("x,y\n1,2\n30,4\n50,6\n", ("--through", "--smoothing", "3"), "--through and --smoothing: give one of them"),
        ("half_breadth\n1\n", (), "no column y"),
    ],
)  # fmt: skip
def test_what_cannot_be_laid_says_why(run, written, text, words, told):
    said = run("batten", written("m.csv", text), *words)
    assert (said.code, said.out) == (1, "")
    assert told in said.err
