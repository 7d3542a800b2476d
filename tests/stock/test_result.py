"""What a laying comes to: closed cases, and a balance of areas held by shapely."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from racks import board_of, plank
from shapely import Polygon

from scrieve.stock import Defect, Keep, Lie, Part, Placement, Rules, Saw, lay_parts, rectangular
from scrieve.stock.offcuts import cropped, off_cuts
from scrieve.stock.result import OWN_YIELD_FROM, result_of

SAW = Saw(4, 0)


def square(name="s", length=1000, width=100, **more):
    return Part(name, ((0, 0), (length, 0), (length, width), (0, width)), 20, rules=Rules(edge_margin_mm=0), **more)


def held(part, board, x, y):
    return Placement(part, board, Lie("inside", 0.0), x, y, held=True)


def test_yield_cost_and_off_cuts_of_one_board():
    """1000 of 4000 × 200 at one end: 2996 are left past the kerf, and 200 - 100 - 4 = 96 beside, too narrow for 100."""
    boards = [rectangular("B", 4000, 200, 25, cost=80.0), rectangular("C", 4000, 200, 25, cost=80.0)]
    laying = lay_parts(boards, [square()], held=[held("s", "B", 0, 0)], saw=SAW)
    result = result_of(laying)
    assert result.share == pytest.approx(100_000 / 800_000)
    assert result.share_kept == pytest.approx(100_000 / (800_000 - 2996 * 200))
    (left,) = result.off_cuts
    assert (left.board.name, left.how, left.board.length_mm) == ("B a", "across", pytest.approx(2996))
    assert left.board.cost == pytest.approx(80 * 2996 / 4000, abs=0.005)
    assert result.cost == pytest.approx(80 * 1004 / 4000)
    assert [use.board.name for use in result.uses] == ["B"], "what is not cut into is no off-cut and costs nothing"
    (cut,) = result.cuts
    assert (cut.first_mm, cut.last_mm, cut.lower_mm, cut.upper_mm) == pytest.approx((0, 1000, 0, 100))
    assert not cut.end_for_end


@pytest.mark.parametrize(("thick", "left"), [(25, 0), (33.9, 0), (34, 10), (60, 36)])
def test_what_comes_off_a_thick_board_is_told(thick, left):
    """20 of 25 are planed; past a kerf of 4, 10 and more are worth resawing. 0.1 m² × 20 of 0.1 m² × 60 is a third."""
    boards = [rectangular("B", 1000, 100, thick)]
    result = result_of(lay_parts(boards, [square()], held=[held("s", "B", 0, 0)], saw=SAW))
    (cut,) = result.cuts
    assert (cut.thickness_mm, cut.over_mm, cut.left_mm) == pytest.approx((20, thick - 20, left))
    assert result.share_volume == pytest.approx(20 / thick)


def test_what_a_part_is_resawn_from_goes_to_the_rack_in_its_outline():
    """Of 60 thick 20 go to the part and 4 to the kerf: 36 are left under 1000 × 200 of it, but for 1 at each end."""
    near, far = Defect("knot", ((520, 190),), 30, face="top"), Defect("knot", ((2500, 60),), 30)
    board = rectangular("B", 4000, 300, 60, cost=144.0, defects=(near, far), heart=None, grain=((0, 0), (4000, 40)))
    knots = Rules(edge_margin_mm=0, sound_knot_mm=40)
    part = Part("s", ((0, 0), (1000, 40), (1000, 240), (0, 200)), 20, rules=knots)
    laying = lay_parts([board], [part], held=[held("s", "B", 100, 0)], saw=SAW, keep=Keep(width_mm=210))
    (across,) = [one for one in result_of(laying).off_cuts if one.how == "across"]
    assert [one for one in result_of(laying).off_cuts if one.how == "resawn"] == []  # 210 wide is not left
    laying = lay_parts([board], [part], held=[held("s", "B", 100, 0)], saw=SAW)
    result = result_of(laying)
    (slab,) = [one.board for one in result.off_cuts if one.how == "resawn"]
    assert (slab.length_mm, slab.thickness_mm) == pytest.approx((998, 36))
    assert slab.area_mm2 == pytest.approx(200 * 998)
    low, high = slab.top.at([0, 499, 998])
    assert list(low) == pytest.approx([0.04, 20, 39.96])
    assert list(high - low) == pytest.approx([200] * 3)
    (knot,) = slab.defects
    assert (knot.points[0], knot.face) == (pytest.approx((419, 190)), "through")
    # the straight line of the grain has come along: one in a hundred, 1.01 up where the slab begins
    (x0, y0), (x1, y1) = slab.grain
    assert (y0 + (y1 - y0) * (0 - x0) / (x1 - x0), (y1 - y0) / (x1 - x0)) == pytest.approx((1.01, 0.01))
    assert slab.cost == pytest.approx(144 * 998 * 200 * 36 / (4000 * 300 * 60), abs=0.005)
    assert result.share_kept == pytest.approx(200_000 / (1_200_000 - across.board.area_mm2))  # by area: not twice
    volume = slab.volume_m3 + across.board.volume_m3
    assert result.cost == pytest.approx(144 * (1 - volume / board.volume_m3))


def test_a_missing_part_that_a_slab_gives_is_not_ordered_but_told():
    """Of 60 thick 20 and a kerf go to 's': 36 are left under its 1000 × 200, room for 900 × 100 of 20 and not of 40."""
    board = rectangular("B", 1000, 200, 60)
    thin, thick = (Part(name, ((0, 0), (900, 0), (900, 100), (0, 100)), t) for name, t in (("thin", 20), ("thick", 40)))
    laying = lay_parts([board], [square(width=200), thin, thick], held=[held("s", "B", 0, 0)], saw=SAW)
    assert set(laying.missing) == {"thin", "thick"}
    result = result_of(laying)
    why = {one.part: one.why for one in result.missing}
    assert why["thin"].startswith("it can come off B a, which is left when B is cut: cut that first")
    assert "come off" not in why["thick"]
    assert [one.parts for one in result.orders] == [("thick",)]
    # off 43 past the kerf 19 are left: too thin for either
    laying = lay_parts(
        [rectangular("B", 1000, 200, 43)], [square(width=200), thin], held=[held("s", "B", 0, 0)], saw=SAW
    )
    assert [one.parts for one in result_of(laying).orders] == [("thin",)]


def test_a_missing_fellow_of_a_part_on_a_thick_board_is_told_of_the_pair():
    """A slab under a plank has the plank's own outline, so that its fellow has no margin there; as a pair it has."""
    hands = [replace(square(f"s {hand}", width=200), rules=Rules(edge_margin_mm=5)) for hand in "PS"]
    for thick, told in ((60, True), (43, False)):
        board = rectangular("B", 1010, 210, thick)
        laying = lay_parts([board], hands, held=[held("s P", "B", 5, 5)], saw=SAW)
        (missing,) = result_of(laying).missing
        assert missing.part == "s S"
        assert ("Its fellow s P lies on B, which is thick enough for both" in missing.why) is told
        assert [one.parts for one in result_of(laying).orders] == [("s S",)]


def test_width_decides_what_is_kept_beside():
    """Along 3000 of 3000 × 300 a part 100 wide: 300 - 100 - 4 = 196 are left beside it, to a cell of the search."""
    laying = lay_parts([rectangular("B", 3000, 300, 25)], [square(length=3000)], held=[held("s", "B", 0, 0)], saw=SAW)
    (beside,) = result_of(laying).off_cuts
    assert (beside.how, beside.board.length_mm) == ("beside", 3000)
    assert beside.board.area_mm2 / 3000 == pytest.approx(196, abs=0.2)
    few = lay_parts([rectangular("B", 3000, 300, 25)], [square(length=3000)], held=[held("s", "B", 0, 0)], saw=SAW,
                    keep=Keep(width_mm=200))  # fmt: skip
    assert result_of(few).off_cuts == ()


def test_a_board_cut_across_keeps_what_lies_on_it():
    knot, far = Defect("knot", ((2500, 60),), 30), Defect("knot", ((500, 60),), 30)
    board = rectangular("B", 4000, 200, 25, defects=(knot, far), grain=((0, 0), (2000, 50), (4000, 0)))
    piece = cropped(board, 2000, 3800, "B a")
    assert (piece.length_mm, piece.area_mm2) == pytest.approx((1800, 360_000))
    assert [one.points for one in piece.defects] == [((500, 60),)]
    assert piece.grain == ((-2000, 0), (0, 50), (2000, 0))


def test_names_of_off_cuts_are_new():
    board = rectangular("B", 6000, 200, 25)
    middle = Polygon([(2500, 0), (3500, 0), (3500, 200), (2500, 200)])
    found = off_cuts(board, [middle], saw=SAW, keep=Keep(), names={"B a"})
    assert [one.board.name for one in found] == ["B b", "B c"]


@settings(max_examples=4)
@given(st.integers(0, 10_000))
def test_off_cuts_lie_clear_of_the_parts_and_of_each_other(seed):
    """Areas balance: nothing is counted twice, and what is kept lies on its board."""
    boards = [board_of(seed + n, f"B{n}", under=bool(n % 2)) for n in range(2)]
    laying = lay_parts(boards, [plank(f"p{n}", 700 + 200 * n, 90, 10) for n in range(3)], seed=seed, rounds=2,
                       keep=Keep(300, 60))  # fmt: skip
    for use in result_of(laying).uses:
        parts = [Polygon(laying.outline(one)) for one in laying.on(use.board.name)]
        pieces = [Polygon(one.outline) for one in use.off_cuts]
        for at, piece in enumerate(pieces):
            assert use.board.face().buffer(1e-3).contains(piece)
            assert piece.area == pytest.approx(use.off_cuts[at].board.area_mm2, rel=1e-6)
            assert all(piece.distance(part) >= laying.saw.apart_mm - 1e-2 for part in parts)
            assert all(piece.intersection(other).area < 1 for other in pieces[:at])
            if use.off_cuts[at].how == "beside":
                assert not any(one.region().intersects(piece) for one in use.board.defects)


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (square(timber="oak"), "no board is oak."),
        (square(book_matched=True), "needs 44 mm of thickness; the thickest board has 25 mm"),
        (square(length=2500), "needs 2500 mm of length; the longest board thick enough has 2000 mm"),
        (square(width=400), "needs 400 mm of width; the widest board long and thick enough has 300 mm"),
        (square(width=290), "on the 1 board large enough no clear place is left"),
    ],
)
def test_why_a_part_is_missing(part, said):
    board = rectangular("B", 2000, 300, 25, timber="larch", defects=(Defect("rot", ((1000, 150),), 40),))
    (missing,) = result_of(lay_parts([board], [part], saw=SAW, rounds=2)).missing
    assert said in missing.why


def test_what_to_order():
    """Two missing of 2500 × 100 and 2310 × 130, half of the wood becoming planks: (0.25 + 0.3003) / 0.5 m²."""
    parts = [square("a", 2500, 100), square("b", 2310, 130)]
    result = result_of(lay_parts([rectangular("B", 2000, 300, 25)], parts, rounds=1))
    (order,) = result.orders
    assert (order.length_mm, order.width_mm, order.parts) == (2500, 130, ("a", "b"))
    assert order.area_m2 == pytest.approx((0.25 + 0.3003) / 0.5)
    assert order.volume_m3 == pytest.approx(order.area_m2 * 0.020)
    assert any(one.figure == "To order, 20 mm thick" for one in result.workings)


def test_orders_are_by_the_racks_own_yield_once_enough_is_cut():
    """Boards of 1200 × 200 with one part of 1000 × 100 each, nothing kept: 100 000 / 240 000."""
    boards = [rectangular(f"B{n}", 1200, 200, 25) for n in range(OWN_YIELD_FROM)]
    parts = [square(f"p{n}") for n in range(OWN_YIELD_FROM)]
    places = [held(f"p{n}", f"B{n}", 0, 50) for n in range(OWN_YIELD_FROM)]
    laying = lay_parts(boards, [*parts, square("long", 3000)], held=places, rounds=1)
    assert result_of(laying).orders[0].share == pytest.approx(100 / 240)


def test_a_board_without_a_cost_leaves_the_cost_open():
    laying = lay_parts([rectangular("B", 4000, 200, 25)], [square()], held=[held("s", "B", 0, 0)])
    assert result_of(laying).cost is None
