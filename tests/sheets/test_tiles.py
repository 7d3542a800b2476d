"""Check marks of full-size pages: never on a line of the drawing, a lap line or a cross; and found where there is room.

Held against shapely's distances, on bands as frames and planks are: curved, of every width, lying any way.
"""

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from scrieve.sheets.drawing import Drawing, Hatch, Line, Text, polyline
from scrieve.sheets.pdf import PAPERS
from scrieve.sheets.tiles import BAR_MM, CHECK_MM, OVERLAP_MM, check_marks, paper_layout, roll_layout

SIZE = {"square": (CHECK_MM, CHECK_MM), "bars": BAR_MM}


def band(length, width, turn, start):
    """Both edges of a band of `width` along an arc that turns by `turn`, with a mark across it and words in it."""
    s = np.linspace(0.0, length, 120)
    way = start + turn * s / length
    step = length / 119
    line = np.cumsum(np.column_stack([np.cos(way), np.sin(way)]) * step, axis=0)
    normal = np.column_stack([-np.sin(way), np.cos(way)])
    middle = line[60] + normal[60] * width / 2
    return Drawing(
        (
            polyline(line, "MOULDED LINE"),
            polyline(line + width * normal, "INNER FACE"),
            Line(tuple(line[30]), tuple(line[30] + width * normal[30]), "BEVEL MARKS"),
            Text(tuple(middle), "14 P+S", 8.0, angle_deg=float(np.degrees(way[60]))),
        ),
        "band",
    )


def lines_on(layout, tile):
    """Every line of the drawing on a page, its lap lines and crosses, from the lower left of its drawing area."""
    corner = np.array([tile.left, tile.top - layout.area_h])
    lines = []
    for item in layout.drawing.items:
        points = item.corners() if isinstance(item, Text) else getattr(item, "points", None)
        points = np.array([item.start, item.end]) if points is None else points
        lines.append(shapely.LineString(points - corner))
    half, w, h = OVERLAP_MM / 2, layout.area_w, layout.area_h
    if len(layout.tiles) > 1:
        for x in (half, w - half):
            for y in (half, h - half):
                lines += [shapely.LineString([(x - 6, y), (x + 6, y)]), shapely.LineString([(x, y - 6), (x, y + 6)])]
    laps = [(x, x, 0, h) for x, there in ((half, tile.column), (w - half, tile.column < layout.columns - 1)) if there]
    laps += [(0, w, y, y) for y, there in ((half, tile.row < layout.rows - 1), (h - half, tile.row)) if there]
    lines += [shapely.LineString([(x0, y0), (x1, y1)]) for x0, x1, y0, y1 in laps]
    return shapely.intersection(shapely.MultiLineString(lines), shapely.box(0, 0, w, h))


@settings(max_examples=40, deadline=None)
@given(
    st.floats(150, 3000),
    st.floats(8, 260),
    st.floats(-2.0, 2.0),
    st.floats(-3.1, 3.1),
    st.sampled_from(["A4", "A3"]),
)
@example(1900.0, 72.0, 0.9, 0.5, "A4")  # as frame 14 of the demo boat: no room for a square beside it on a column
def test_no_check_mark_lies_on_a_line_and_a_square_is_drawn_where_one_fits(length, width, turn, start, paper):
    layout = paper_layout(band(length, width, turn, start), PAPERS[paper])
    marks = check_marks(layout)
    for tile, mark in zip(layout.tiles, marks, strict=True):
        ink = lines_on(layout, tile)
        if mark.kind in SIZE:
            wide, high = SIZE[mark.kind]
            assert 0 <= mark.x <= layout.area_w - wide
            assert 0 <= mark.y <= layout.area_h - high
            assert ink.distance(shapely.box(mark.x, mark.y, mark.x + wide, mark.y + high)) >= 2.0 - 1e-9
        if mark.kind != "square":  # then none with 10 mm about it fits anywhere, 5 mm by 5 mm
            x, y = np.meshgrid(np.arange(10, layout.area_w - 110, 5.0), np.arange(10, layout.area_h - 110, 5.0))
            assert not (shapely.distance(ink, shapely.box(x - 10, y - 10, x + 110, y + 110)) > 0).any()


def test_two_bars_stand_where_a_square_would_lie_on_the_frame():
    layout = paper_layout(band(1000.0, 75.0, 0.0, np.pi / 2), PAPERS["A4"])
    kinds = [mark.kind for mark in check_marks(layout)]
    assert layout.columns == 1
    assert "bars" in kinds
    assert "foot" not in kinds


def hatched(width, height, spacing):
    return Hatch(np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]), "diagonal", spacing)


def test_a_page_without_room_names_the_page_that_has_it():
    solid = Drawing((hatched(600, 250, 6), Line((600, 0), (900, 0), "SEAM EDGE")), "hatched")
    layout = paper_layout(solid, PAPERS["A4"])
    marks = dict(zip([tile.name for tile in layout.tiles], check_marks(layout), strict=True))
    foot = [mark for mark in marks.values() if mark.kind == "foot"]
    assert foot
    assert len(foot) < len(marks)
    assert {marks[mark.other].kind for mark in foot} <= {"square", "bars"}


def test_where_no_page_has_room_one_has_both_bars_all_the_same():
    layout = paper_layout(Drawing((hatched(547, 730, 6),), "hatched"), PAPERS["A4"])
    first, *others = check_marks(layout)
    assert first.kind == "bars"
    assert {(mark.kind, mark.other) for mark in others} == {("foot", layout.tiles[0].name)}


@pytest.mark.parametrize("width", [112.0, 300.0, 610.0, 1300.0])
def test_a_strake_on_a_roll_has_its_mark_clear_of_its_lines(width):
    layout = roll_layout(band(4600.0, 100.0, 0.05, 0.3), width + 16)
    for tile, mark in zip(layout.tiles, check_marks(layout), strict=True):
        wide, high = SIZE[mark.kind]
        box = shapely.box(mark.x, mark.y, mark.x + wide, mark.y + high)
        assert lines_on(layout, tile).distance(box) >= 2.0 - 1e-9
