"""The least strip: closed cases of squares and bows, and proof by shapely that nothing overlaps."""

import numpy as np
import pytest
from shapely import Polygon

from scrieve.errors import BadBoard
from scrieve.stock import Part, Rules, Saw, between_edges
from scrieve.stock.poses import laid
from scrieve.stock.strip import least_strip_width

FREE = Rules(grain_limit_rad=None, edge_margin_mm=0.0)


def rect(name, length, width):
    return Part(name, ((0, 0), (length, 0), (length, width), (0, width)), 20, rules=FREE)


def bow(name, length, width, crown):
    t = np.linspace(0, 1, 21)
    middle = 4 * crown * t * (1 - t)
    edges = [np.column_stack([length * t, middle + side * width / 2]) for side in (-1, 1)]
    outline, run = between_edges(*edges)
    return Part(name, outline, 20, run=run, rules=FREE)


def prove(found, parts, gap):
    shapes = [Polygon(laid(parts[one.part].outline, one.lie, one.x_mm, one.y_mm)) for one in found.places]
    assert sorted(one.part for one in found.places) == list(range(len(parts)))
    assert all(a.distance(b) >= gap - 1e-2 for at, a in enumerate(shapes) for b in shapes[:at])
    low = np.min([shape.bounds[:2] for shape in shapes], axis=0)
    high = np.max([shape.bounds[2:] for shape in shapes], axis=0)
    assert low == pytest.approx(np.maximum(low, 0), abs=1e-2)
    assert high[0] <= found.length_mm + 1e-2
    assert high[1] <= found.width_mm + 1e-2


def test_boards_side_by_side():
    """Four of 1000 × 100 in stock 2010 long, 4 between: two rows, 100 + 4 + 100 wide; share 400 000 / (2010 · 204)."""
    parts = [rect(f"r{n}", 1000, 100) for n in range(4)]
    found = least_strip_width(parts, 2050, saw=Saw(4, 0), rounds=60, angles_rad=(0.0,))
    prove(found, parts, 4)
    assert found.width_mm == pytest.approx(204, abs=0.1)
    assert found.share == pytest.approx(400_000 / (2050 * found.width_mm))


def test_bows_lie_one_in_the_other():
    """Three bows of 100, crowned 60: 60 + 3 · 100 + 2 · 4 and what their slope adds; 488 apart."""
    parts = [bow(f"b{n}", 2400, 100, 60) for n in range(3)]
    found = least_strip_width(parts, 2500, saw=Saw(4, 0), rounds=150)
    prove(found, parts, 4)
    assert 350 < found.width_mm < 390


def test_the_same_seed_and_rounds_give_the_same():
    parts = [bow(f"b{n}", 1500 + 100 * n, 90 + 10 * n, 30) for n in range(4)]
    first, second = (least_strip_width(parts, 3600, seed=3, rounds=20) for _ in range(2))
    assert first == second


def test_it_stops_when_told():
    parts = [bow(f"b{n}", 1500 + 100 * n, 90, 30) for n in range(3)]
    found = least_strip_width(parts, 2500, rounds=10_000, progress=lambda done, width: done < 40)
    prove(found, parts, 10)
    assert found.rounds == 40


def test_a_part_longer_than_the_stock_is_named():
    with pytest.raises(BadBoard, match="part 'r' does not lie on stock 900 mm long"):
        least_strip_width([rect("r", 1000, 100)], 900)
