"""A part moved by hand: what it breaks and where, by areas worked out here; put, taken off, turned, the nearest place.

And the rack as it stands when boards are cut: one record, and back again."""

import math

import pytest
from shapely import Polygon

from scrieve.errors import BadBoard
from scrieve.stock import Defect, Edges, Lie, Part, Placement, Rules, Saw, breaches, lay_parts, rectangular
from scrieve.stock.board import Board
from scrieve.stock.by_hand import at_corner, breaches_of, corner, nearest, put, taken_off, turned
from scrieve.stock.poses import laid

FREE = Rules(grain_limit_rad=None, edge_margin_mm=0, defect_margin_mm=5)
PART = Part("p", ((0, 0), (1000, 0), (1000, 100), (0, 100)), 20, rules=FREE)
OTHER = Part("q", ((0, 0), (500, 0), (500, 50), (0, 50)), 20, rules=FREE)
FLAT = Lie("inside", 0.0)
BOARD = rectangular("B", 2000, 200, 25, defects=(Defect("knot", ((1500.0, 150.0),), 40.0),))
SAW = Saw(4, 3)


def at(x, y, part="p", lie=FLAT, **more):
    return Placement(part, "B", lie, x, y, **more)


def laying(*places):
    return lay_parts([BOARD], [PART, OTHER], saw=SAW, held=places, rounds=1) if len(places) == 2 else put(
        taken_off(lay_parts([BOARD], [PART, OTHER], saw=SAW, held=(at(0, 0), at(0, 140, "q")), rounds=1), "p"),
        *places)  # fmt: skip


def area(breach):
    return sum(Polygon(ring).area for ring in breach.where)


@pytest.mark.parametrize(
    ("place", "what", "where_mm2", "sawable"),
    [
        (at(0, -10), "wood", 10 * 1000, False),  # 10 over the lower edge, 1000 long
        (at(1100, 0), "wood", 100 * 100, False),  # 100 past the end, 100 wide
        (at(600, 50), "defect", math.pi * 25**2 / 2, True),  # half of a knot of 40 with 5 round it
        (at(0, 45), "neighbour", 510 * 15, False),  # up to 145; q begins at 140, 10 to be left below it and past it
    ],
)
def test_what_is_broken_and_where(place, what, where_mm2, sawable):
    found = breaches_of(laying(at(0, 0), at(0, 140, "q")), place)
    assert [(breach.what, breach.sawable) for breach in found] == [(what, sawable)]
    # A round is held as a many-sided figure about it.
    assert area(found[0]) == pytest.approx(where_mm2, rel=0.01 if what == "defect" else 1e-4)


def test_grain_is_told_where_it_runs_off():
    """Grain level to 1000 along, then 1 in 5; the part may stand 1 in 8, so from 1000 on it is told."""
    bent = rectangular("B", 2000, 200, 25, grain=((0, 50), (1000, 50), (2000, 250)))
    rules = Rules(grain_limit_rad=math.atan(1 / 8), edge_margin_mm=0)
    limited = Part("p", PART.outline, 20, run=((0, 50), (500, 50), (1000, 50)), rules=rules)
    (found,) = breaches(bent, limited, FLAT, 501, 20)
    assert found.what == "grain"
    assert [round(x) for x in Polygon(found.where[0]).bounds] == [1000, 20, 1501, 120]
    assert breaches(bent, limited, FLAT, 0, 20)[0].what == "grain"  # its end lies at the bend
    assert not breaches(rectangular("B", 2000, 200, 25), limited, FLAT, 0, 20)


def test_no_saw_can_cut_over_a_neighbour_but_the_builder_may_overrule_the_wood():
    start = laying(at(0, 0), at(0, 140, "q"))
    with pytest.raises(BadBoard, match="p cannot be cut there: q: lies over it"):
        put(start, at(0, 60))
    knotty = put(start, at(600, 50))
    assert [one.held for one in knotty.placements if one.part == "p"] == [True]
    assert [breach.what for breach in breaches_of(knotty, knotty.placements[-1])] == ["defect"]


def test_taken_off_it_waits_and_nothing_else_moves():
    start = laying(at(0, 0), at(0, 140, "q"))
    less = taken_off(start, "p")
    assert (less.missing, [one.part for one in less.placements]) == (("p",), ["q"])
    with pytest.raises(BadBoard, match="'p' lies on no board"):
        taken_off(less, "p")
    assert put(less, at(0, 0)).missing == ()


def test_turning_keeps_the_middle_and_the_corner_is_that_of_the_cutting_list():
    one = turned(PART, at(100, 20), Lie("outside", math.pi))
    outline = laid(PART.outline, one.lie, one.x_mm, one.y_mm)
    assert outline.min(axis=0) == pytest.approx([100, 20])
    assert outline.max(axis=0) == pytest.approx([1100, 120])
    aslant = turned(PART, at(100, 20), Lie("inside", 0.1))
    both = laid(PART.outline, aslant.lie, aslant.x_mm, aslant.y_mm)
    assert (both.min(axis=0) + both.max(axis=0)) / 2 == pytest.approx([600, 70])
    assert corner(PART, at_corner(PART, aslant, 7, 9)) == pytest.approx((7, 9))


def test_the_nearest_clear_place_is_clear_and_near():
    """Below q, which reaches down to 140 with 10 left for the saw, a part 100 wide may reach up to 130: lowest 30."""
    start = laying(at(0, 0), at(0, 140, "q"))
    found = nearest(start, at(0, 60))
    assert not breaches_of(start, found)
    assert (found.x_mm, found.y_mm) == (pytest.approx(0, abs=10), pytest.approx(30, abs=0.1))
    clear = nearest(start, at(203, 17.5))  # clear as it lies: only set to the cells along the board
    assert (clear.x_mm, clear.y_mm) == (pytest.approx(203, abs=5.1), pytest.approx(17.5, abs=1e-3))


def test_a_wany_edge_is_wood_that_a_saw_can_reach():
    """On the under face the edge lies 40 in: a part there is in the wane, yet on the board."""
    wany = Board("B", 2000, 25, Edges((0, 2000), (0, 0), (200, 200)), under=Edges((0, 2000), (40, 40), (160, 160)))
    (found,) = breaches(wany, PART, FLAT, 0, 0)
    assert (found.what, found.sawable) == ("wood", True)
