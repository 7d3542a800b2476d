"""The tick-strip: every offset stands on it at full size, in the drawing and in the lengths that are printed."""

import io
from dataclasses import replace

import ezdxf
import numpy as np
import pytest

from scrieve.sheets.drawing import Line, Text
from scrieve.sheets.dxf import to_dxf
from scrieve.sheets.plank_sheet import plank_pattern
from scrieve.sheets.tick_strip import HIGH_MM, _length, tick_strip, tick_strip_pdf

from .members import plank


def test_every_offset_is_a_line_as_long_as_it_is_from_where_it_stands():
    design = plank()
    strip = tick_strip(design)
    level = [line for line in strip.on_layer("SEAM EDGE") if isinstance(line, Line) and line.start[1] == line.end[1]]
    runs = {(round(line.start[0], 6), round(line.end[0] - line.start[0], 6)) for line in level}
    for frame in design.frames:
        for x, y in (frame.lower_mm, frame.upper_mm):
            assert (round(x, 6), round(abs(y), 6)) in runs
    assert len(runs) == 2 * (len(design.frames) + 2)  # and both ends
    words = {item.text for item in strip.items if isinstance(item, Text)}
    assert "12 lower, 1300 mm" in words
    assert sum(text.endswith(" down") for text in words) == len(design.frames) + 2


def test_the_printed_lengths_are_full_size_and_overlap(lines_of):
    whole = plank()
    design = replace(whole, lower_mm=whole.lower_mm[:80], upper_mm=whole.upper_mm[:80], frames=whole.frames[:4])
    pages = lines_of(tick_strip_pdf(design))
    strip = tick_strip(design)
    left, _, right, _ = strip.bounds
    count = int(np.ceil((right - left - 16) / 178))
    assert len(pages) == -(-count // 4)
    # a page holds the whole image, clipped to its own window: the drawn offsets keep their lengths
    for size, paths in pages:
        assert size == pytest.approx((210, 297), abs=0.05)
        squares = [p for p, closed in paths if closed and len(p) == 4 and abs(np.ptp(p, axis=0) - 100).max() < 0.01]
        assert squares
    flat = [p for p, closed in pages[0][1] if not closed and len(p) == 2 and abs(p[0, 1] - p[1, 1]) < 1e-3]
    drawn = {round(float(np.ptp(p[:, 0])), 2) for p in flat}
    shown_whole = [abs(frame.lower_mm[1]) for frame in design.frames
                   if (frame.lower_mm[0] - left) % 178 + abs(frame.lower_mm[1]) < 178]  # fmt: skip
    assert len(shown_whole) > 1
    for offset in shown_whole:
        assert min(abs(offset - length) for length in drawn) < 0.011
    boxes = [p for p, closed in pages[0][1] if closed and abs(np.ptp(p[:, 1]) - HIGH_MM) < 0.01]
    assert len(boxes) == count
    assert {round(float(np.ptp(p[:, 0])), 2) for p in boxes} == {194.0}


def test_bevels_stand_as_text_on_a_layer_of_their_own_in_the_dxf():
    design = plank()
    doc = ezdxf.read(io.StringIO(to_dxf(plank_pattern(design)).decode()))
    texts = [entity.dxf.text for entity in doc.modelspace() if entity.dxf.layer == "BEVELS"]
    assert sorted(texts) == sorted(["+1.1°", "-0.6°"] * len(design.frames))  # 0.02 and -0.01 rad
    (outline,) = [entity for entity in doc.modelspace() if entity.dxf.layer == "SEAM EDGE"]
    assert outline.closed
    np.testing.assert_allclose(np.array(outline.get_points("xy")), design.outline_mm, atol=1e-9)


def test_what_a_line_says_at_the_end_of_the_paper_does_not_lie_on_the_line():
    design = plank()
    strip = tick_strip(design)
    left, _, right, _ = strip.bounds
    turned = 0
    for k in range(int(np.ceil((right - left - 16) / 178))):
        items = _length(strip, left + 178 * k, 194.0, 0.0, k, 99)
        lines = [i for i in items if isinstance(i, Line) and i.layer == "SEAM EDGE" and i.start[1] == i.end[1]]
        for text in (i for i in items if isinstance(i, Text) and i.text.endswith((" up", " down"))):
            (x0, y0), (x1, y1) = text.corners().min(axis=0), text.corners().max(axis=0)
            turned += text.align == "right"
            assert not [i for i in lines if y0 < i.start[1] < y1 and i.start[0] < x1 and i.end[0] > x0]
    assert turned
