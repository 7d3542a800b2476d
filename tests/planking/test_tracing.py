"""Traced planks: the same outline, however it is drawn, gives the same edges; what cannot be read is told."""

import io

import ezdxf
import numpy as np
import pytest
from hulls import ConeHull

from scrieve.errors import BadMarks
from scrieve.planking import SeamMark, SpilingChoice, StrakeChoice, design_plank, design_spiled_plank
from scrieve.sheets.dxf import to_dxf
from scrieve.sheets.dxf_read import read_trace
from scrieve.sheets.plank_sheet import plank_pattern

X = np.linspace(0, 5000, 201)
LOWER = np.column_stack([X, 30 * np.sin(np.pi * X / 5000)])
UPPER = np.column_stack([X + 20, 130 + 45 * np.sin(np.pi * X / 5000)])
OUTLINE = np.vstack([LOWER, UPPER[::-1]])


def file(draw, unit=4):
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = unit
    draw(doc.modelspace())
    out = io.StringIO()
    doc.write(out)
    return out.getvalue().encode()


def edges(trace):
    return {edge: np.array([(m.x_mm, m.y_mm) for m in trace.batten.marks if m.edge == edge])
            for edge in ("lower", "upper")}  # fmt: skip


def turned(points, degrees):
    a = np.radians(degrees)
    return points @ [[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]] + [700, -300]


def polyline(space):
    space.add_lwpolyline(OUTLINE, close=True)


def askew(space):
    space.add_polyline2d(turned(OUTLINE, 37), close=True)


def lines(space):
    for a, b in zip(OUTLINE, np.roll(OUTLINE, -1, axis=0), strict=True):
        space.add_line(a, b)


def two_edges(space):
    space.add_lwpolyline(turned(UPPER[::-1], -20))
    space.add_lwpolyline(turned(LOWER, -20))


def splines(space):
    for edge in (LOWER, UPPER):
        space.add_spline([(x, y, 0) for x, y in edge[::20]])
    space.add_line(LOWER[0], UPPER[0])
    space.add_line(UPPER[-1], LOWER[-1])


def points(space):
    for layer, edge in (("LOWER", LOWER), ("Upper", UPPER)):
        for at in edge[::10]:
            space.add_point(at, dxfattribs={"layer": layer})


@pytest.mark.parametrize("draw", [polyline, askew, lines, two_edges, splines, points])
def test_however_it_is_drawn_the_edges_are_the_same(draw):
    found = edges(read_trace(file(draw), "old.dxf"))
    for edge, line in (("lower", LOWER), ("upper", UPPER)):
        at = found[edge]
        np.testing.assert_allclose(at[:, 1], np.interp(at[:, 0], *line.T), atol=0.1)  # chords, and a line of splines
        assert at[[0, -1], 0] == pytest.approx(line[[0, -1], 0], abs=0.05)


@pytest.mark.parametrize(("unit", "mm"), [(1, 25.4), (5, 10.0), (6, 1000.0)])
def test_the_unit_of_the_file_counts(unit, mm):
    found = edges(read_trace(file(lambda space: space.add_lwpolyline(OUTLINE / mm, close=True), unit), "old.dxf"))
    assert found["lower"][-1] == pytest.approx(LOWER[-1], abs=0.05)


def test_a_face_traced_from_outside_is_turned_over():
    found = edges(read_trace(file(polyline), "old.dxf", mirrored=True))
    assert found["upper"][0, 0] == pytest.approx(0, abs=0.05)
    assert found["lower"][0, 0] == pytest.approx(20, abs=0.05)


def test_our_own_pattern_comes_back_with_its_frames():
    hull = ConeHull()
    seams = [tuple(SeamMark(share * np.pi / 2 * hull.radius(x), "girth", label) for label, x in hull.stations.items())
             for share in (0.3, 0.37)]  # fmt: skip
    drawn = design_plank(hull, StrakeChoice("cone", *seams, 30.0))
    trace = read_trace(to_dxf(plank_pattern(drawn)), "pattern.dxf")
    back = design_spiled_plank(trace.batten, SpilingChoice("cone traced", 30.0, source="trace"))
    there = {frame.label: frame.width_mm for frame in back.frames}
    inner = {frame.label: frame.width_mm for frame in drawn.frames[1:-1]}
    assert set(inner) <= set(there)
    assert [there[label] for label in inner] == pytest.approx(list(inner.values()), abs=0.1)
    assert "traced" in back.drawn


def several(space):
    space.add_lwpolyline(OUTLINE, close=True, dxfattribs={"layer": "PLANK"})
    space.add_line((0, 0), (900, 0), dxfattribs={"layer": "NOTES"})


@pytest.mark.parametrize(
    ("data", "how", "said"),
    [
        (b"x,y\n1,2\n", {}, r"old\.dxf: this is no DXF file that can be read"),
        (b"", {}, r"the file is empty"),
        (file(lambda space: space.add_line((0, 0), (0, 900))), {}, r"found 1 open line"),
        (file(polyline, 0), {}, r"does not say its unit \(\$INSUNITS 0\); name it: mm, cm, m, in or ft"),
        (file(polyline, 6), {}, r"old\.dxf \(read in m\): the plank comes out 5\.02e\+06 mm long"),
        (file(lambda space: None), {}, r"no polyline, spline, line, arc or point in its model space"),
        (file(several), {}, r"lines on several layers: 'PLANK' \(1\); 'NOTES' \(1\); name the one"),
        (file(several), {"layer": "HULL"}, r"no line on layer 'HULL'; layers with lines are 'PLANK' \(1\)"),
        (file(lambda space: space.add_lwpolyline(LOWER)), {}, r"found 1 open line\(s\) and no closed outline"),
        (file(lambda space: space.add_point((0, 0))), {}, r"found points alone; put those of the two edges on layers"),
    ],
)
def test_what_cannot_be_read_is_told(data, how, said):
    with pytest.raises(BadMarks, match=said):
        read_trace(data, "old.dxf", **how)


def test_a_named_layer_a_given_unit_and_a_step_at_a_nib():
    assert len(read_trace(file(several), "old.dxf", layer="plank").batten.marks) == 50
    assert read_trace(file(polyline, 0), "old.dxf", units="mm").unit == "mm"
    near = int(np.argmin(np.abs(UPPER[:, 0] - 2520)))
    nib = np.vstack([LOWER, np.add(UPPER[near:][::-1], [0, 15]), UPPER[: near + 1][::-1]])
    trace = read_trace(file(lambda space: space.add_lwpolyline(nib, close=True)), "old.dxf")
    assert "upper edge: it steps 15 mm at 25" in trace.warnings[0]
