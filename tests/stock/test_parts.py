"""Parts out of planks: which face is up, allowances; boards out of traced outlines."""

from dataclasses import replace

import numpy as np
import pytest
from hulls import ConeHull
from shapely import LineString, Point, Polygon, box

from scrieve.errors import BadBoard
from scrieve.planking import LiningChoice, SeamMark, StrakeChoice, design_plank, line_off, propose_stealers
from scrieve.planking.board import least_strip
from scrieve.stock import Rules, from_outline, parts_of_plank
from scrieve.stock.parts import parts_past_nib
from scrieve.stock.standing import standing


def cone(side, **settings):
    """A strake across the rulings of a cone, its seams at one girth: flat it is bowed."""
    hull = ConeHull()
    edges = [
        tuple(SeamMark(girth + x**2 / 2e5, "girth", label) for label, x in hull.stations.items())
        for girth in (500.0, 640.0)
    ]
    return design_plank(hull, StrakeChoice("cone", *edges, 30.0, side=side, **settings))


PAIR = cone("")


def test_a_pair_is_one_part_for_each_hand_the_starboard_one_as_drawn():
    """The pattern of a pair is the starboard plank seen from inboard (its inside face up); port is turned over."""
    port, starboard = parts_of_plank(PAIR)
    assert (port.name, starboard.name) == ("cone P", "cone S")
    drawn = Polygon(PAIR.outline_mm)
    turned = Polygon(PAIR.outline_mm * [1, -1])
    assert starboard.polygon.buffer(1e-6).contains(drawn)
    assert port.polygon.buffer(1e-6).contains(turned)
    assert not starboard.polygon.buffer(1e-6).contains(turned), "the two hands of a bowed plank differ"


@pytest.mark.parametrize(("side", "kind", "as_drawn"), [("S", "strake", True), ("P", "strake", False),
                                                        ("S", "spiled", False), ("P", "spiled", False)])  # fmt: skip
def test_one_hand_is_seen_with_its_inside_face_up(side, kind, as_drawn):
    """DRAWN of planking: S from inboard; P through the plank from outboard; a batten with its marked face outwards."""
    (part,) = parts_of_plank(replace(PAIR, side=side, kind=kind))
    assert part.name == "cone"
    assert part.polygon.buffer(1e-6).contains(Polygon(PAIR.outline_mm * [1, 1 if as_drawn else -1]))


def test_no_wood_of_the_drawn_plank_is_cut_off_and_little_is_added():
    """The part holds the plank; past it lie the ends asked for, and the standing wood."""
    for part in parts_of_plank(PAIR)[1:]:
        assert part.polygon.buffer(1e-6).contains(Polygon(PAIR.outline_mm))
        asked = PAIR.board.length_mm - PAIR.board.plank_length_mm
        x = np.array(part.outline)[:, 0]
        assert np.ptp(x) == pytest.approx(np.ptp(PAIR.outline_mm[:, 0]) + asked, abs=3.0)
        standing = PAIR.board.width_mm - 2 * PAIR.choice.wany_margin_mm - (PAIR.board.plank_width_mm)
        assert part.area_mm2 <= Polygon(PAIR.outline_mm).area + (standing + 3) * np.ptp(x) + asked * 200


def test_without_standing_wood_a_full_edge_is_not_cut_off_by_chords():
    """A part takes every fourth point of the edges; the plank bowed 25 times over shows what chords would cut off."""
    bowed = [np.column_stack([e[:, 0], e[:, 1] + 300 * np.sin(np.pi * e[:, 0] / 6000)]) for e in
             (PAIR.lower_mm, PAIR.upper_mm)]  # fmt: skip
    plank = replace(PAIR, lower_mm=bowed[0], upper_mm=bowed[1], side="S")
    bare = least_strip(plank.outline_mm)[0] + 2 * plank.choice.wany_margin_mm
    (part,) = parts_of_plank(replace(plank, board=replace(plank.board, width_mm=bare)))
    assert part.polygon.buffer(1e-6).contains(Polygon(plank.outline_mm))


def test_book_matched_is_one_part_of_twice_the_thickness():
    (part,) = parts_of_plank(PAIR, book_matched=True)
    assert part.stock_mm(4.0) == pytest.approx(2 * PAIR.stock_thickness_mm + 4.0)


def test_the_run_lies_midway_between_the_edges():
    part = parts_of_plank(PAIR)[1]
    middle = LineString((PAIR.lower_mm + PAIR.upper_mm) / 2)
    assert max(middle.distance(Point(point)) for point in part.run[1:-1]) < 0.5


def test_a_traced_rectangle_lies_straight_whichever_way_it_was_drawn():
    """A rectangle 3000 × 220 turned by 30° and shifted: the same board, its datum line along the middle."""
    corners = np.array([(0, 0), (3000, 0), (3000, 220), (0, 220)], dtype=float)
    turn = np.array([[np.cos(0.5236), np.sin(0.5236)], [-np.sin(0.5236), np.cos(0.5236)]])
    board = from_outline("T", corners @ turn + [700, -400], 40, timber="larch")
    assert (board.length_mm, board.area_mm2) == pytest.approx((3000, 660_000))
    assert board.top.lower_mm[0] == pytest.approx(-110)
    assert (board.timber, board.defects) == ("larch", ())


def test_a_bay_in_the_outline_and_a_hole_are_kept_clear_of():
    """A slit cut in from one end cannot be told by an upper and a lower edge: it is a bite; so is a hole."""
    shape = Polygon([(0, 0), (2000, 0), (2000, 100), (1600, 100), (1600, 120), (2000, 120), (2000, 220), (0, 220)])
    board = from_outline("T", np.array(shape.exterior.coords)[:-1], 40,
                         holes=[[(500, 100), (560, 100), (560, 130), (500, 130)]])  # fmt: skip
    assert sorted(round(one.region().area) for one in board.defects) == [60 * 30, 400 * 20]
    lost = board.face().difference(board.defects[0].region().union(board.defects[1].region()))
    assert lost.area == pytest.approx(shape.area - 1800, rel=1e-6)


def test_the_under_face_traced_in_the_same_axes():
    """Wane of 20 along one edge of the under face."""
    board = from_outline("T", [(0, 0), (2000, 0), (2000, 200), (0, 200)], 40,
                         under=[(0, 20), (2000, 20), (2000, 200), (0, 200)])  # fmt: skip
    low, high = board.under.at(1000.0)
    top_low, top_high = board.top.at(1000.0)
    wane = sorted([abs(float(low - top_low)), abs(float(high - top_high))])
    assert wane == pytest.approx([0, 20], abs=1e-6)


@pytest.mark.parametrize("points", [[(0, 0), (10, 10)], [(0, 0), (100, 100), (100, 0), (0, 100)]])
def test_an_outline_that_is_none_is_refused(points):
    with pytest.raises(BadBoard, match="outline"):
        from_outline("T", points, 40)


def test_usable_wood_of_a_traced_board_keeps_off_its_bay():
    from scrieve.stock.usable import usable_wood

    shape = [(0, 0), (2000, 0), (2000, 90), (1200, 90), (1200, 110), (2000, 110), (2000, 220), (0, 220)]
    wood = usable_wood(from_outline("T", shape, 40), 30, Rules(edge_margin_mm=0))
    assert any(region.intersects(box(1300, -15, 1900, 15)) for region in wood.avoid)


def past_a_nib():
    """The strake of a cone that takes a stealer's nib, up to it and from it."""
    hull = ConeHull()
    choice = LiningChoice("side", strakes=17, narrowest_mm=82, end_narrowest_mm=77, widest_mm=125, nib_mm=30)
    lining = line_off(hull, replace(choice, stealers=propose_stealers(hull, choice)))
    (nib,) = lining.nibs
    before = lining.strake(nib.receiver, last=nib.stealer.frame, name="before")
    past = lining.strake(nib.receiver, first=nib.stealer.frame, name="past")
    return design_plank(hull, replace(before, side="S")), design_plank(hull, replace(past, side="S"))


def test_a_plank_that_takes_a_nib_is_laid_as_one():
    """A cone lies flat without strain: the seam that does not step there runs on without a corner."""
    before, past = past_a_nib()
    (part,) = parts_past_nib(before, past)
    assert part.name == "before + past"
    assert part.polygon.buffer(1e-6).contains(Polygon(before.outline_mm))
    both = sum(Polygon(one.outline_mm).area for one in (before, past))
    assert both < part.area_mm2 < 1.03 * both
    whole = before.lower_mm[-1, 0] - before.lower_mm[0, 0] + past.lower_mm[-1, 0] - past.lower_mm[0, 0]
    inside = part.polygon.bounds
    assert inside[2] - inside[0] == pytest.approx(whole + 100, rel=0.01), "50 at each end, none at the nib"
    # the lower seam runs on; the upper steps out by the nib, 30, and at once
    across = (before.upper_mm[-1] - before.lower_mm[-1]) / np.hypot(*(before.upper_mm[-1] - before.lower_mm[-1]))
    ways = []
    for along in (-10, 10):
        foot = before.lower_mm[-1] + along * np.array([across[1], -across[0]])
        cut = part.polygon.intersection(LineString([foot - 300 * across, foot + 300 * across]))
        ways.append(sorted((np.array(cut.coords) - before.lower_mm[-1]) @ across))
    (low, high), (low_past, high_past) = ways
    assert low_past - low == pytest.approx(0, abs=2)
    assert high_past - high == pytest.approx(30, abs=3)


def test_the_rack_is_asked_for_both_parts_as_one_and_for_half_a_plank_not_at_all():
    before, past = past_a_nib()
    planks = [("past", "1", lambda: past), ("before", "2", lambda: before)]
    whole, half = (standing({}, [], {}, given) for given in (planks, planks[:1]))
    assert [part.name for part in whole.parts] == ["before + past"]
    assert whole.said == ()
    assert half.parts == ()
    assert "draw its other part too" in half.said[0][1]
