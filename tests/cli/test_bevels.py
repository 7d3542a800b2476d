"""`scrieve marks BOAT bevels`: the Wigley hull's own bevels agree; one that is out is told.

Source: tan(bevel) = (∂y/∂x)/√(1 + (∂y/∂z)²), by differences of the closed form of the hull.
"""

import json
import math

import pytest


@pytest.fixture
def bevel(wigley):
    """True bevel [°] at a frame and height, worked from the fore face: standing where she swells going aft."""

    def at(frame, height):
        x, z, h = frame * 600 - 3000, height - 800, 1e-3
        by_x = (wigley.half_breadth(x + h, z) - wigley.half_breadth(x - h, z)) / (2 * h)
        by_z = (wigley.half_breadth(x, z + h) - wigley.half_breadth(x, z - h)) / (2 * h)
        return math.degrees(math.atan(by_x / math.sqrt(1 + by_z**2)))

    return at


def board(bevel, out=0.0):
    rows = [
        f"{frame},{sign * bevel(frame, height) + (out if (frame, height) == (7, 400) else 0):.3f},{face},{height}"
        for frame in (3, 7)
        for height, face, sign in ((250, "fore", 1), (400, "aft", -1), (600, "fore", 1))
    ]
    return "frame,bevel,face,height_mm\n" + "\n".join(rows) + "\n"


def test_the_hulls_own_bevels_agree(boat, run, written, bevel):
    said = run("marks", boat, "bevels", written("b.csv", board(bevel)))
    assert (said.code, said.err) == (0, "")
    assert "6 bevels" in said.out
    assert "none differs by more than 3.0°" in said.out


def test_one_that_is_out_is_told(boat, done, written, bevel):
    file = written("b.csv", board(bevel, out=5.0))
    shown = done("marks", boat, "bevels", file)
    assert "1 differs by more than 3.0°" in shown
    assert [line.split()[0] for line in shown.splitlines() if "look again" in line] == ["7"]
    told = json.loads(done("marks", boat, "bevels", file, "--json", "--tolerance", "6"))
    assert [one["differs"] for one in told["bevels"]] == [False] * 6
    assert told["bevels"][4]["residual_deg"] == pytest.approx(5, abs=0.3)
    assert told["bevels"][4]["line"] == 6


def test_all_bad_cells_at_once_and_places_off_the_hull(boat, run, written, bevel):
    said = run("marks", boat, "bevels", written("b.csv", "frame,bevel,face,height\n3,95,fore,400\n3,4,up,400\n"))
    assert (said.code, said.out) == (1, "")
    assert "2 cells or rows of b.csv cannot be read" in said.err
    said = run("marks", boat, "bevels", written("c.csv", board(bevel) + "1200,1,fore,400\n"))
    assert "look at this: line 8: bevel of frame 1200: no frame of that name has marks here" in said.err
    said = run("marks", boat, "bevels", written("d.csv", board(bevel)), "--tolerance", "0")
    assert "tolerance of bevels: 0°; give a value above zero" in said.err


def test_a_board_is_kept_once_and_held_against_the_hull_without_its_file(boat, run, written, bevel):
    none = run("marks", boat, "bevels")
    assert (none.code, "no bevels are kept yet" in none.err) == (1, True)
    assert run("marks", boat, "bevels", "--keep").code == 1
    file = written("b.csv", board(bevel, 8))
    assert "6 bevels kept." in run("marks", boat, "bevels", file, "--keep").err
    assert "nothing new was kept" in run("marks", boat, "bevels", file, "--keep").err
    assert "1 differs by more than 3.0°" in run("marks", boat, "bevels").out
    again = run("marks", boat, "bevels", written("c.csv", board(bevel)), "--keep", "--json")
    assert json.loads(again.out)["kept"] == 1  # the one that was out is read again, and stands in place of the first
    assert "none differs by more than 3.0°" in run("marks", boat, "bevels").out
