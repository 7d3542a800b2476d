"""Full-size patterns: exact to 0.01 mm in the PDF's own content, whatever the paper."""

import math
import shutil
import subprocess
from collections import defaultdict
from itertools import pairwise

import numpy as np
import pytest

from scrieve.errors import BadGeometry
from scrieve.sheets.drawing import Drawing, Line, polyline
from scrieve.sheets.pdf import pattern_pdf

from .conftest import NASTY

PAPERS = [{"roll_width_mm": 1300.0}, {"roll_width_mm": 610.0}, {"paper": "A4"}, {"paper": "A3"}]


def squares(paths):
    return [p for p, closed in paths if closed and len(p) == 4 and abs(np.ptp(p, axis=0) - 100).max() < 1]


def distances(points):
    """All mutual distances: they do not change when the drawing is turned or moved."""
    return np.hypot(*(points[:, None] - points[None, :]).transpose(2, 0, 1))


def bars(paths):
    """Level and upright lines of 100 mm on a page that has no check-square."""
    lines = [p for p, _ in paths if len(p) == 2 and np.hypot(*(p[1] - p[0])) == pytest.approx(100.0, abs=0.01)]
    level = [p for p in lines if abs(p[1, 1] - p[0, 1]) < 0.001]
    return level, [p for p in lines if abs(p[1, 0] - p[0, 0]) < 0.001]


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_is_proved_each_way_by_100_mm(hand, lines_of, paper):
    pages = lines_of(pattern_pdf(hand, **paper))
    found = [squares(paths) for _, paths in pages]
    assert [] not in found or "paper" in paper  # a roll has room for a square
    for (_, paths), square in zip(pages, found, strict=True):
        if square:
            sides = np.hypot(*(np.roll(square[0], -1, axis=0) - square[0]).T)
            assert sides == pytest.approx([100.0] * 4, abs=0.01)
            assert math.hypot(*(square[0][2] - square[0][0])) == pytest.approx(100 * math.sqrt(2), abs=0.01)
        else:
            level, upright = bars(paths)
            assert len(level) == len(upright) == 1
            assert (level[0][:, 1] < 34).all()  # below the drawing: margin and strip
            assert (upright[0][:, 1] > 34).all()


@pytest.mark.parametrize("paper", PAPERS)
def test_the_outline_has_its_own_size_on_every_page(hand, lines_of, paper):
    wanted = distances(hand.items[0].points)
    for _, paths in lines_of(pattern_pdf(hand, **paper)):
        moulded = next(p for p, _ in paths if len(p) == 40 and abs(distances(p) - wanted).max() < 1)
        assert distances(moulded) == pytest.approx(wanted, abs=0.01)
        a, b = np.diff(moulded, axis=0)[:-1], np.diff(moulded, axis=0)[1:]
        assert (
            a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] > 0
        ).all()  # turned, never mirrored: the bilge still turns to the left


@pytest.mark.parametrize(("paper", "size"), [("A4", (210, 297)), ("A3", (297, 420))])
def test_pages_have_the_size_of_their_paper(hand, lines_of, paper, size):  # ISO 216
    assert all(found == pytest.approx(size, abs=0.05) for found, _ in lines_of(pattern_pdf(hand, paper=paper)))


def test_a_roll_is_cut_before_5_m(lines_of):
    pages = lines_of(pattern_pdf(Drawing((Line((0, 0), (11_000, 300), "SEAM EDGE"),), "long"), roll_width_mm=610))
    assert len(pages) == 3
    for (width, height), _ in pages:
        assert width == pytest.approx(610, abs=0.01)
        assert height <= 5000.01


@pytest.mark.parametrize(("length", "count"), [(4950, 1), (4970, 2)])  # margins and strip take 42 mm of the 5 m
def test_the_cut_comes_where_the_page_with_its_margins_would_pass_5_m(lines_of, length, count):
    drawing = Drawing((Line((0, 0), (0, length), "SEAM EDGE"), Line((500, 0), (500, length), "SEAM EDGE")), "strip")
    assert len(lines_of(pattern_pdf(drawing, roll_width_mm=530))) == count


@pytest.mark.parametrize("paper", PAPERS[1:])
def test_register_crosses_meet_on_neighbours(hand, lines_of, paper):
    pages = lines_of(pattern_pdf(hand, **paper))
    assert len(pages) > 1
    wanted = distances(hand.items[0].points)
    seen = defaultdict(set)
    for n, (_, paths) in enumerate(pages):
        moulded = next(p for p, _ in paths if len(p) == 40 and abs(distances(p) - wanted).max() < 1)
        bars = [p for p, _ in paths if len(p) == 2 and abs(np.hypot(*(p[1] - p[0])) - 12) < 0.01]
        middles = [tuple(np.round(p.mean(axis=0) - moulded[0], 1)) for p in bars]
        crosses = {m for m in middles if middles.count(m) == 2}
        assert len(crosses) == 4
        for cross in crosses:
            seen[cross].add(n)
    shared = [pages_of for pages_of in seen.values() if len(pages_of) > 1]
    groups = [set(group) for group in shared]
    together = {0}
    for _ in pages:  # every page hangs together with the others by crosses
        together |= {n for group in groups if group & together for n in group}
    assert together == set(range(len(pages)))


def test_all_ink_is_on_some_page(hand, lines_of):
    wanted = distances(hand.items[0].points)
    covered = np.zeros(40, dtype=bool)
    for (width, height), paths in lines_of(pattern_pdf(hand, paper="A4")):
        p = next(p for p, _ in paths if len(p) == 40 and abs(distances(p) - wanted).max() < 1)
        covered |= ((p > (8, 34)) & (p < (width - 8, height - 8))).all(axis=1)
    assert covered.all()


def test_the_drawing_is_turned_to_save_paper(lines_of):
    slanted = Drawing((Line((0, 0), (2000, 2000), "SEAM EDGE"), Line((0, 60), (2000, 2060), "SEAM EDGE")), "slant")
    (size, _), *more = lines_of(pattern_pdf(slanted, roll_width_mm=610))
    assert not more
    assert size[1] < 3000  # 2828 mm long when laid along the roll, 2000 mm and four widths when not


def test_the_same_drawing_gives_the_same_bytes(hand):
    assert pattern_pdf(hand, paper="A3") == pattern_pdf(hand, paper="A3")


def test_any_title_is_printed_as_text(hand):
    assert pattern_pdf(Drawing(hand.items, NASTY), paper="A3", detail=NASTY).startswith(b"%PDF")


def test_wrong_paper_is_named(hand):
    for given, words in (
        ({"paper": "A9"}, "'A9'; use A4 or A3"),
        ({"roll_width_mm": 90.0}, "90 mm wide; give 128"),
        ({"roll_width_mm": float("nan")}, "nan mm"),
        ({}, "either the width"),
    ):
        with pytest.raises(BadGeometry, match=words):
            pattern_pdf(hand, **given)


@pytest.mark.skipif(not shutil.which("pdftoppm"), reason="no pdftoppm (poppler-utils) on this machine")
def test_a_raster_agrees(tmp_path):
    # 254 dpi = 10 pixels for 1 mm; a line 0.5 mm wide is 5 pixels, so its middle is known to half a pixel
    drawing = Drawing((polyline([(0, 0), (500, 0), (500, 200), (0, 200)], "SEAM EDGE", closed=True),), "box")
    (tmp_path / "box.pdf").write_bytes(pattern_pdf(drawing, roll_width_mm=610))
    subprocess.run(
        ["pdftoppm", "-r", "254", "-gray", "-singlefile", "box.pdf", "box"], cwd=tmp_path, check=True, timeout=60
    )
    kind, size, depth, body = (tmp_path / "box.pgm").read_bytes().split(b"\n", 3)
    assert (kind, depth) == (b"P5", b"255")
    width, height = (int(v) for v in size.split())
    dark = np.frombuffer(body, np.uint8).reshape(height, width) < 128
    long_rows = np.flatnonzero(dark.sum(axis=1) > 4900)
    groups = np.split(long_rows, np.flatnonzero(np.diff(long_rows) > 1) + 1)
    assert len(groups) == 2
    assert (groups[1].mean() - groups[0].mean()) / 10 == pytest.approx(200, abs=0.1)


def test_pairs_of_pages_follow_one_another(hand, lines_of):  # sheets are numbered row by row from the top left
    wanted = distances(hand.items[0].points)
    starts = []
    for _, paths in lines_of(pattern_pdf(hand, paper="A3")):
        p = next(p for p, _ in paths if len(p) == 40 and abs(distances(p) - wanted).max() < 1)
        starts.append(np.round(p[0], 1))
    for a, b in pairwise(starts):  # the drawing's start moves left along a row and up from row to row
        assert b[1] > a[1] or (b[1] == a[1] and b[0] < a[0])
