"""Boards traced in a drawing: a DXF file written here by a general-purpose library, read back as it was drawn."""

import io
import math

import ezdxf
import numpy as np
import pytest

from scrieve.sheets.board_dxf import read_boards_dxf

OUTLINE = [(0, 0), (4000, 0), (4000, 300), (2000, 320), (0, 300)]


def drawing(*, name="B2; 40 mm; Larch; cost 92.50; best face top", closed=True, turn=0.0, insunits=4, more=()):
    doc = ezdxf.new("R2010", units=insunits)
    space = doc.modelspace()
    cos, sin = math.cos(turn), math.sin(turn)

    def at(points):
        return [(cos * x - sin * y + 500, sin * x + cos * y - 70) for x, y in points]

    space.add_lwpolyline(at(OUTLINE), close=closed, dxfattribs={"layer": "BOARD"})
    if name:
        space.add_text(name, dxfattribs={"layer": "BOARD"}).set_placement(at([(1000, 150)])[0])
    space.add_circle(at([(2950, 140)])[0], 11, dxfattribs={"layer": "Sound_Knot top"})
    space.add_lwpolyline(at([(3700, 100), (4000, 130)]), dxfattribs={"layer": "SHAKE"})
    space.add_lwpolyline(at([(0, 250), (200, 300), (0, 300)]), close=True, dxfattribs={"layer": "ROT"})
    space.add_lwpolyline(at([(0, 40), (4000, 60)]), dxfattribs={"layer": "HEARTWOOD"})
    space.add_lwpolyline(at([(0, 150), (2000, 190), (4000, 150)]), dxfattribs={"layer": "GRAIN"})
    space.add_lwpolyline(at([(0, 15), (4000, 15), (4000, 285), (0, 285)]), close=True,
                         dxfattribs={"layer": "UNDER FACE"})  # fmt: skip
    for add in more:
        add(space)
    out = io.StringIO()
    doc.write(out)
    return out.getvalue().encode()


@pytest.mark.parametrize("turn", [0.0, 0.3, -1.2])
def test_a_board_is_read_as_it_was_drawn_however_it_lies(turn):
    """Offsets are from the middle of the outline's room, 0 to 320: 160; the last corner of the top edge is at 300."""
    reading = read_boards_dxf(drawing(turn=turn), "b.dxf")
    (board,) = reading.boards
    assert (board.name, board.timber, board.cost, board.best_face) == ("B2", "larch", 92.5, "top")
    assert (board.thickness_mm, board.length_mm) == (40, pytest.approx(4000, abs=1e-6))
    assert board.area_mm2 == pytest.approx(4000 * 310, rel=1e-9)
    assert np.ravel(board.under.at([1000.0])) == pytest.approx([15 - 160, 285 - 160], abs=1e-5)
    lower, upper = board.heart.at([2000.0])
    assert (lower[0], upper[0]) == (pytest.approx(50 - 160, abs=1e-5), pytest.approx(160, abs=1e-5))
    assert np.ravel(board.grain) == pytest.approx([0, -10, 2000, 30, 4000, -10], abs=1e-5)
    knot = next(one for one in board.defects if one.kind == "knot")
    assert (knot.sound, knot.face) == (True, "top")
    assert knot.across_mm == pytest.approx(22, rel=2e-3)
    assert np.array(knot.region().centroid.coords)[0] == pytest.approx([2950, 140 - 160], abs=0.1)
    shake = next(one for one in board.defects if one.kind == "shake")
    assert np.ravel(shake.points) == pytest.approx([3700, -60, 4000, -30], abs=1e-5)
    assert (reading.bad, reading.warnings) == ((), ())


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"name": ""}, "outline 1: letter one name inside it, as in 'B2; 40 mm; larch'; found none"),
        ({"name": "B2; larch"}, "'B2; larch' gives no thickness"),
        ({"closed": False}, "outline 1: it is not closed; its ends lie 300.0 mm apart"),
        ({"more": [lambda s: s.add_point((1500, 80), dxfattribs={"layer": "KNOT"})]}, "a knot is drawn closed"),
        ({"more": [lambda s: s.add_line((600, 0), (900, 0), dxfattribs={"layer": "GRAIN"})]}, "2 lines on layer GRAIN"),
        ({"name": "B2; 4x; larch"}, "outline 1: found '4x'"),
    ],
)
def test_what_is_drawn_amiss_is_told(given, said):
    reading = read_boards_dxf(drawing(**given), "b.dxf")
    assert not reading.boards
    assert any(said in text for text in reading.bad), reading.bad


def test_what_lies_off_the_boards_or_on_other_layers_is_named():
    more = [lambda s: s.add_circle((9000, 0), 20, dxfattribs={"layer": "KNOT"}),
            lambda s: s.add_line((0, 0), (9, 9), dxfattribs={"layer": "NOTES"})]  # fmt: skip
    reading = read_boards_dxf(drawing(more=more), "b.dxf")
    assert len(reading.boards) == 1
    assert any("layer 'KNOT' not read: they lie on no board" in text for text in reading.warnings)
    assert any("layer 'NOTES' not read: no layer that is read" in text for text in reading.warnings)


def test_a_drawing_without_a_board_and_one_without_a_unit_are_refused():
    from scrieve.errors import BadMarks

    doc = ezdxf.new("R2010", units=4)
    doc.modelspace().add_line((0, 0), (9, 9), dxfattribs={"layer": "PLANK"})
    out = io.StringIO()
    doc.write(out)
    assert (
        "no outline on layer BOARD; layers with lines are: PLANK"
        in read_boards_dxf(out.getvalue().encode(), "b").bad[0]
    )
    with pytest.raises(BadMarks, match="does not say its unit"):
        read_boards_dxf(drawing(insunits=0), "b.dxf")
