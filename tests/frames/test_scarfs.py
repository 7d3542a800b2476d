"""Scarfs: the fewest pieces, none longer than a board, staggered by the rule named; brute force where it is small."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sections import circle, s_shape, straight

from scrieve.errors import BadLamination
from scrieve.frames import FrameChoice, design_frame
from scrieve.frames.packet.scarfs import RULES, plan_scarfs, scarf_count
from scrieve.frames.shape.line import line_of


def design(board=1500.0, **more):
    return design_frame(s_shape(length=3000.0), FrameChoice(timber="larch", count=7, board_mm=board, **more))


def test_a_scarf_of_one_in_twelve():
    # Wood Handbook slope: 25 mm at 1:12 is 300 mm
    plan = design_frame(straight(2000.0), FrameChoice(stack=(("larch", 25.0),) * 3, board_mm=1600.0)).scarfs
    assert {scarf.length_mm for scarf in plan.scarfs} == {300.0}


@settings(max_examples=40, deadline=None)
@given(st.floats(900, 9000), st.floats(1000, 4000), st.floats(40, 300))
def test_the_fewest_pieces(length, board, scarf):
    count = scarf_count(length, board, scarf)
    assert (count + 1) * board - count * scarf >= length - 1e-6
    assert count == 0 or count * board - (count - 1) * scarf < length + 1e-6


def test_pieces_fit_the_boards_and_make_up_the_lamination():
    made = design()
    for (number, pieces), each in zip(made.scarfs.pieces, made.packet.laminations, strict=True):
        assert number == each.number
        assert max(pieces) <= 1500 + 1e-6
        overlap = (len(pieces) - 1) * 12 * each.thickness_mm
        assert sum(pieces) == pytest.approx(each.length_mm + overlap)


def test_neighbours_are_staggered():
    plan = design().scarfs
    assert plan.kept
    for one, two in combinations(plan.scarfs, 2):
        away, apart = two.lamination - one.lamination, abs(one.s_mm - two.s_mm)
        assert away != 1 or apart >= 2 * one.length_mm - 1e-6  # a scarf's length clear between them
        assert away != 2 or apart >= one.length_mm - 1e-6
    assert all(check.ok for check in design().checks if check.name.endswith("of scarfs"))


def test_scarfs_go_where_the_frame_is_straightest():
    # the S is straight in its middle (1500) and hardest at 750 and 2250
    first = [scarf for scarf in design(board=2200.0).scarfs.scarfs if scarf.lamination == 1]
    assert len(first) == 1
    assert first[0].s_mm == pytest.approx(1500, abs=60)


def test_a_rule_that_cannot_be_kept_is_flagged_and_named():
    made = design(scarf_rule="butts")
    check = next(check for check in made.checks if check.name == "Stagger of scarfs")
    assert not check.ok
    assert "TB 2-13" in check.source
    assert "1524 mm" in check.limit  # 5 ft
    steep = next(check for check in design(scarf_slope=8.0).checks if check.name == "Slope of scarfs")
    assert (steep.ok, steep.limit) == (False, "1 in 12 or flatter")


def test_long_boards_need_none():
    made = design(board=6000.0)
    assert made.scarfs.scarfs == ()
    assert not [check for check in made.checks if check.name.endswith("of scarfs")]
    assert design_frame(circle(), FrameChoice(timber="larch")).scarfs is None


def test_best_place_against_brute_force():
    line = line_of(s_shape(length=3000.0))
    made = design(board=1300.0)
    plan = plan_scarfs(line, made.packet.laminations[:1], 1300.0, 12.0)
    each = made.packet.laminations[0]
    length = 12 * each.thickness_mm
    grid = np.arange(length, each.length_mm - length, 10.0)
    bend = np.abs(np.interp(grid - 75, line.s_mm, line.curvature_per_mm))
    fits = (
        (bend[i] + bend[j], (grid[i], grid[j]))
        for i, j in combinations(range(len(grid)), 2)
        if grid[i] + length / 2 <= 1300
        and length <= grid[j] - grid[i] <= 1300 - length
        and each.length_mm - grid[j] + length / 2 <= 1300
    )
    best = min(fits)
    found = sum(float(np.interp(scarf.s_mm, line.s_mm, np.abs(line.curvature_per_mm))) for scarf in plan.scarfs)
    assert found == pytest.approx(best[0], rel=0.02)


def test_what_cannot_be_scarfed():
    with pytest.raises(BadLamination, match=r"a scarf of 300 mm in boards of 500 mm; find longer boards"):
        scarf_count(2000, 500, 300)
    assert set(RULES) == {"clear", "butts"}


@pytest.mark.parametrize("spare", [0.0, 0.5, 3.0])
def test_boards_that_only_just_do(spare):
    each = design_frame(straight(), FrameChoice(count=5)).packet.laminations[0]
    board = (each.length_mm + 12 * each.thickness_mm) / 2 + spare
    plan = plan_scarfs(line_of(straight()), [each], board, 12.0)
    assert max(plan.pieces[0][1]) <= board + 1e-6
    assert len(plan.scarfs) == 1
