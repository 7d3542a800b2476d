"""Cutting to length and ripping, against instances whose least number of boards is known."""

import json
from collections import Counter
from itertools import pairwise

import numpy as np
import pytest
from shapely import Point, box

from scrieve.frames.parts import StripOrder
from scrieve.stock import BadBoard, Board, Defect, Edges, Rules, rectangular
from scrieve.stock.cutting import Piece, Stock, cut
from scrieve.stock.layout import Shop
from scrieve.stock.rip_kept import FrameStrips, kept_ripping, rip, rip_revision, ripping_from
from scrieve.stock.rip_orders import rip_orders
from scrieve.stock.ripping import clear_pieces, rip_laminations, scarf_plan


def pieces_of(lengths):
    return [Piece(float(length), count) for length, count in Counter(lengths).items()]


def whole_boards_cut_up(seed, boards, grid, length=4200):
    """Whole boards cut without waste into 3 to 6 pieces each: the least number of boards is their number."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(boards):
        cuts = rng.choice(np.arange(1, length // grid), int(rng.integers(2, 6)), replace=False)
        found += (np.diff([0, *sorted(cuts), length // grid]) * grid).tolist()
    return found


def prove(plan, pieces, stock, kerf):
    """Every piece once, every strip within its board, every board within the rack."""
    made = Counter(at for board in plan.boards for strip in board.strips for at in strip.pieces)
    short = Counter(dict(plan.short))
    for at, piece in enumerate(pieces):
        assert made[at] + short[at] == piece.count
    for number, count in Counter(board.stock for board in plan.boards).items():
        assert count <= stock[number].count
    for board in plan.boards:
        of = stock[board.stock]
        assert sum(strip.width_mm + kerf for strip in board.strips) <= of.width_mm + kerf + 1e-6
        for strip in board.strips:
            assert all(pieces[at].width_mm == strip.width_mm for at in strip.pieces)
            assert sum(pieces[at].length_mm + kerf for at in strip.pieces) <= of.length_mm + kerf + 1e-6


@pytest.mark.parametrize(
    ("length", "lengths", "least"),
    [  # found by exhaustive search over every order
        (100, [45, 45, 34, 34, 34, 33, 33, 21, 21], 3),
        (100, [60, 50, 40, 40, 30, 25, 20, 20, 15], 3),
        (3000, [2000, 1600, 1500, 1500, 1400, 1200, 1000, 1000, 800], 4),
    ],
)
def test_first_fit_is_beaten(length, lengths, least):
    pieces, stock = pieces_of(lengths), [Stock(length, 20)]
    plan = cut(pieces, stock)
    prove(plan, pieces, stock, 0)
    assert (len(plan.boards), plan.proved) == (least, True)


@pytest.mark.parametrize(("seed", "boards"), [(0, 10), (1, 20), (3, 40)])
def test_boards_cut_up_are_put_together_again(seed, boards):
    pieces, stock = pieces_of(whole_boards_cut_up(seed, boards, 50)), [Stock(4200, 60)]
    plan = cut(pieces, stock, seconds=60)
    prove(plan, pieces, stock, 0)
    assert (len(plan.boards), plan.proved) == (boards, True)


def test_the_kerf_is_counted_between_pieces_only():
    """3 × 1396 and two kerfs of 4 are 4196; 3 × 1398 and two are 4202, too long for 4200."""
    for length, least in ((1396, 2), (1397, 2), (1398, 3)):
        pieces, stock = [Piece(length, 6)], [Stock(4200, 9)]
        plan = cut(pieces, stock, kerf_mm=4, grid_mm=1)
        prove(plan, pieces, stock, 4)
        assert len(plan.boards) == least


def test_the_cheaper_lengths_are_bought():
    """Six of 1000: three boards of 2000 at 2 cost 6, two of 3000 at 3.5 cost 7."""
    stock = [Stock(2000, 9, cost=2.0), Stock(3000, 9, cost=3.5)]
    plan = cut([Piece(1000, 6)], stock)
    assert plan.cost == pytest.approx(6)
    # With one of 2000 left, two of 3000 alone are the cheapest.
    assert cut([Piece(1000, 6)], [Stock(2000, 1, cost=2.0), Stock(3000, 9, cost=3.5)]).cost == pytest.approx(7)


def test_strips_of_two_widths_share_boards():
    """A board 100 wide with kerf 4 gives 60 + 36, or two of 48: four of each 60 and 36 take four."""
    pieces = [Piece(2000, 4, 60.0), Piece(2000, 4, 36.0), Piece(1000, 4, 48.0)]
    stock = [Stock(2000, 20, 100.0)]
    plan = cut(pieces, stock, kerf_mm=4)
    prove(plan, pieces, stock, 4)
    # Two 48s side by side, but 1000 + 4 + 1000 is over 2000: one piece to a strip, two strips to a board.
    assert (len(plan.boards), plan.proved) == (4 + 2, True)


def test_what_cannot_be_cut_is_told():
    pieces, stock = [Piece(3000, 1), Piece(1500, 3)], [Stock(2000, 2)]
    plan = cut(pieces, stock)
    prove(plan, pieces, stock, 0)
    assert dict(plan.short) == {0: 1, 1: 1}
    with pytest.raises(BadBoard, match="length 0 mm"):
        cut([Piece(0.0)], stock)


def test_clear_pieces_keep_off_a_knot():
    """3000 × 200 with a knot of 40 near one end: the long clear piece ends at it, by the margin of 5."""
    board = rectangular("B", 3000, 200, 60, defects=(Defect("knot", ((2400, 100),), 40),))
    rules = Rules(grain_limit_rad=None, edge_margin_mm=0)
    found = clear_pieces(board, 50, rules=rules, least_length_mm=400, least_width_mm=30)
    first = found[0]
    assert (first.first_mm, first.last_mm, first.width_mm) == pytest.approx((0, 2375, 200), abs=25.1)
    shapes = [box(one.first_mm, one.lower_mm, one.last_mm, one.upper_mm) for one in found]
    knot = Point(2400, 100).buffer(25)
    assert all(shape.intersection(knot).area < 1 for shape in shapes)
    assert all(a.intersection(b).area < 1 for at, a in enumerate(shapes) for b in shapes[:at])


def test_scarfs_of_neighbours_stand_apart():
    """Seven laminations of 10 and 5000 long from pieces of 3000: scarfs of 120, neighbours 240 apart."""
    plans = scarf_plan(5000, [10] * 7, 3000, slope=12, stagger=24)
    for one in plans:
        assert sum(one.pieces_mm) == pytest.approx(5000 + 120 * len(one.scarfs_mm))
        assert max(one.pieces_mm) <= 3000 + 1e-6
        assert len(one.scarfs_mm) == 1
    for one, other in pairwise(plans):
        assert min(abs(a - b) for a in one.scarfs_mm for b in other.scarfs_mm) >= 240 - 1e-6
    with pytest.raises(BadBoard, match="use longer boards"):
        scarf_plan(5000, [10] * 2, 2600, slope=12, stagger=200)


def test_laminations_out_of_wany_boards():
    edges = Edges((0.0, 3600.0), (-90.0, -80.0), (95.0, 85.0))
    boards = [
        Board(f"B{n}", 3600, 80, edges, defects=(Defect("knot", ((900.0 + 100 * n, 0.0),), 30),)) for n in range(3)
    ]
    orders = [
        StripOrder("larch", 8, 8.0, 10.0, 75.0, 2200.0, 0.0),
        StripOrder("larch", 3, 8.0, 10.0, 75.0, 3900.0, 0.0),
    ]
    ripped = rip_laminations(orders, boards, kerf_mm=3)
    assert not ripped.plan.short
    for cut_board in ripped.plan.boards:
        clear = ripped.clear[cut_board.stock]
        assert sum(strip.width_mm + 3 for strip in cut_board.strips) <= clear.width_mm + 3 + 1e-6
        for strip in cut_board.strips:
            assert sum(ripped.pieces[at].length_mm + 3 for at in strip.pieces) <= clear.length_mm - 100 + 3 + 1e-6
    assert [len(one.scarfs_mm) for one in ripped.scarfed[0]] == [0] * 8
    assert all(one.scarfs_mm for one in ripped.scarfed[1])
    none = rip_laminations([StripOrder("larch", 1, 8.0, 10.0, 120.0, 2000.0, 0.0)], boards)  # no board is so thick
    assert [count for _, count in none.plan.short] == [1]
    assert not none.plan.boards


def test_laminations_come_out_of_their_own_timber():
    """Two kinds wanted; of sapele there is no board thick enough: all of it is short, none of it is cut from larch."""
    boards = [rectangular("L", 3000, 200, 90, timber="larch"), rectangular("S", 3000, 200, 40, timber="sapele")]
    orders = [
        StripOrder("sapele", 2, 8.0, 10.0, 80.0, 2000.0, 0.0),
        StripOrder("larch", 3, 8.0, 10.0, 80.0, 2000.0, 0.0),
    ]
    ripped = rip_laminations(orders, boards, kerf_mm=3)
    short = {ripped.pieces[at].name: count for at, count in ripped.plan.short}
    assert short == {"order 1, sapele": 2}
    got = [ripped.pieces[at].name for one in ripped.plan.boards for strip in one.strips for at in strip.pieces]
    assert got == ["order 2, larch"] * 3
    assert [len(one) for one in ripped.scarfed] == [2, 3]


def test_a_plan_of_ripping_is_kept_and_found_again():
    boards = [rectangular("L", 2600, 200, 90, timber="larch")]
    wanted = [FrameStrips("14", "A1", (StripOrder("larch", 3, 8.0, 10.0, 80.0, 3500.0, 0.0),))]
    ripped = rip(boards, wanted, Shop(), seconds=5)
    assert ripped.plan.scarfed[0][0].scarfs_mm
    assert ripping_from(json.loads(json.dumps(kept_ripping(ripped)))) == ripped
    assert rip_revision(boards, {"14": "A1"}, Shop()) == ripped.made_from != rip_revision(boards, {"14": "A2"}, Shop())
    # 3 scarfed laminations of 3500 + 96, 10 wide, out of 2600 × 190 clear of wane and ends by 5
    assert ripped.share == pytest.approx(3 * 3596 * 10 / (2575 * 190), rel=0.02)


def test_nothing_is_called_proved_where_ways_of_ripping_were_left_out(monkeypatch):
    """Four ways of ripping 100 into 60, 48 and 36: with two of them looked at, no plan is called the least."""
    from scrieve.stock import cutting

    pieces = [Piece(2000, 4, 60.0), Piece(2000, 4, 36.0), Piece(2000, 4, 48.0)]
    stock = [Stock(2000, 20, 100.0)]
    assert cut(pieces, stock, kerf_mm=4).proved
    monkeypatch.setattr(cutting, "MOST_RIPS", 2)
    plan = cut(pieces, stock, kerf_mm=4)
    prove(plan, pieces, stock, 4)
    assert not plan.proved


def test_the_time_given_is_for_the_whole(monkeypatch):
    """Where the first question has no answer the second gets what is left, not as much again."""
    from scrieve.stock import cutting

    given, solve = [], cutting.solved

    def slow(*args, everything):
        given.append(args[-1])
        return None if everything else solve(*args, everything=everything)

    monkeypatch.setattr(cutting, "solved", slow)
    moments = iter([0.0, 7.0])
    monkeypatch.setattr(cutting.time, "monotonic", lambda: next(moments))
    cut([Piece(1000, 3)], [Stock(2000, 1)], seconds=10.0)
    assert given == [7.0, 3.0]


def test_what_no_board_gives_is_ordered():
    # six pieces 3000 long, sawn 12: in 200 mm clear stand 12 strips of 12 and a kerf of 4 (12 × 16 = 192), so one board
    # 3100 long; 80 mm thick. With 50 % yield 6 × 3000 × 12 × 2 is less than that board, 0.62 m²: 0.0496 m³.
    rack = [rectangular("L", 2000, 100, 80, timber="larch", cost=32.0)]  # 0.016 m³: 2000 the m³
    wanted = [FrameStrips("14", "A1", (StripOrder("sapele", 6, 8.0, 12.0, 80.0, 3000.0, 0.0),)),
              FrameStrips("15", "A2", (StripOrder("larch", 20, 8.0, 12.0, 80.0, 1700.0, 0.0),))]  # fmt: skip
    ripped = rip(rack, wanted, Shop(), seconds=5)
    larch, sapele = rip_orders(ripped, rack)
    assert (sapele.timber, sapele.thickness_mm, sapele.length_mm, sapele.width_mm, sapele.count) == (
        "sapele", 80.0, 3100.0, 200.0, 1,
    )  # fmt: skip
    assert sapele.parts == ("frame 14: 6 pieces",)
    assert sapele.area_m2 == pytest.approx(0.62)
    assert sapele.cost is None  # no board of sapele has a cost
    laid = sum(len(strip.pieces) for one in ripped.plan.plan.boards for strip in one.strips)
    assert larch.parts == (f"frame 15: {20 - laid} pieces",)
    assert larch.cost == pytest.approx(2000 * larch.volume_m3)
    assert larch.volume_m3 == pytest.approx(larch.count * 1800 * 200 * 80 * 1e-9)
