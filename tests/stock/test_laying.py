"""Parts laid on boards, held against every rule by shapely alone: none of the search's own arithmetic is used here."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from racks import board_of, plank
from shapely import LineString, Point, Polygon

from scrieve.stock import (
    BadBoard,
    Defect,
    Keep,
    Lie,
    Part,
    Placement,
    Rules,
    Saw,
    breaches,
    lay_parts,
    rectangular,
)  # fmt: skip

SQUARE = Rules(grain_limit_rad=None, edge_margin_mm=0, defect_margin_mm=0)


def lying(part, one):
    """Corners and run of a part on its board, by complex numbers."""

    def move(points):
        z = np.array([complex(x, -y if one.lie.up == "outside" else y) for x, y in points])
        z = z * np.exp(1j * one.lie.angle_rad) + complex(one.x_mm, one.y_mm)
        return np.column_stack([z.real, z.imag])

    return Polygon(move(part.outline)), move(part.run_line())


def grain_slope(board, x):
    if not board.grain:
        return 0.0
    points = np.array(board.grain)
    at = int(np.clip(np.searchsorted(points[:, 0], x) - 1, 0, len(points) - 2))
    step = points[at + 1] - points[at]
    return math.atan2(step[1], step[0])


def clear_of_wane(board, shape, rules, *depths):
    """Whether a shape keeps its margin from wane at both depths, and from sapwood."""
    x = np.linspace(0, board.length_mm, 800)
    under = board.under or board.top
    for depth in depths:
        share = depth / board.thickness_mm
        low, high = (
            (1 - share) * np.interp(x, board.top.x_mm, a) + share * np.interp(x, under.x_mm, b)
            for a, b in ((board.top.lower_mm, under.lower_mm), (board.top.upper_mm, under.upper_mm))
        )
        if board.heart is not None and rules.sapwood == "never":
            low = np.maximum(low, np.interp(x, board.heart.x_mm, board.heart.lower_mm))
            high = np.minimum(high, np.interp(x, board.heart.x_mm, board.heart.upper_mm))
        wood = Polygon([*zip(x, low, strict=True), *zip(x[::-1], high[::-1], strict=True)])
        # Edges sampled each 4 mm cut corners by a little.
        if not wood.buffer(0.05).contains(shape) or shape.distance(wood.exterior) < rules.edge_margin_mm - 0.1:
            return False
    return True


def prove(laying):
    """Hold a laying against the rules of its parts."""
    by_board = {}
    for one in laying.placements:
        part, board = laying.part(one.part), laying.board(one.board)
        shape, run = lying(part, one)
        rules = part.rules
        assert any(
            clear_of_wane(board, shape, rules, depth, depth + part.thickness_mm)
            for depth in np.linspace(0, board.thickness_mm - part.thickness_mm, 5)
        )
        for defect in board.defects:
            inside = "top" if one.lie.up == "inside" else "under"
            small = defect.kind == "knot" and defect.sound and defect.across_mm <= rules.sound_knot_mm
            if small and defect.face == inside:
                continue
            core = Point(defect.points[0]) if len(defect.points) == 1 else LineString(defect.points)
            assert shape.distance(core) >= defect.across_mm / 2 + rules.defect_margin_mm - 1e-2
        if rules.grain_limit_rad is not None:
            dense = np.linspace(0, 1, 400)
            s = np.linspace(0, 1, len(run))
            px, py = np.interp(dense, s, run[:, 0]), np.interp(dense, s, run[:, 1])
            slopes = np.arctan2(np.diff(py), np.diff(px))
            middle = (px[1:] + px[:-1]) / 2
            off = slopes - np.array([grain_slope(board, at) for at in middle])
            # The run is sampled between its corners: a step of slope at one of them may be halved, never overstated.
            assert np.max(np.abs((off + np.pi / 2) % np.pi - np.pi / 2)) <= rules.grain_limit_rad + 1e-4
        by_board.setdefault(one.board, []).append(shape)
    apart = laying.saw.kerf_mm + 2 * laying.saw.margin_mm
    for shapes in by_board.values():
        for at, shape in enumerate(shapes):
            assert all(shape.distance(other) >= apart - 1e-2 for other in shapes[:at])
    named = [one.part for one in laying.placements]
    assert sorted([*named, *laying.missing]) == sorted(part.name for part in laying.parts)


@settings(max_examples=8)
@given(st.integers(0, 10_000), st.integers(1, 5))
def test_nothing_overlaps_and_no_rule_is_broken(seed, count):
    rng = np.random.default_rng(seed)
    boards = [board_of(seed + n, f"B{n}", under=bool(n % 2)) for n in range(2)]
    rules = Rules(sound_knot_mm=float(rng.choice([0, 25])), grain_limit_rad=float(rng.choice([0.08, 0.2])),
                  sapwood=rng.choice(["never", "allowed"]).item())  # type: ignore[arg-type]  # fmt: skip
    parts = [
        plank(f"p{n}", rng.uniform(700, 2400), rng.uniform(60, 160), rng.uniform(-40, 40), rules=rules,
              thickness=float(rng.choice([20, 30])))
        for n in range(count)
    ]  # fmt: skip
    prove(lay_parts(boards, parts, seed=seed, rounds=3))


@pytest.mark.parametrize("fault", ["overlap", "kerf", "defect", "grain", "wane"])
def test_the_proof_fails_where_a_fault_is_planted(fault):
    board = rectangular("A", 2000, 400, 30, defects=(Defect("knot", ((1000.0, 350.0),), 30.0),),
                        grain=((0.0, 0.0), (2000.0, 0.0)))  # fmt: skip
    parts = [plank(name, 900, 80, 0, rules=Rules(grain_limit_rad=0.1), thickness=20) for name in ("a", "b")]
    laying = lay_parts([board], parts, seed=1, rounds=3)
    low = [min(y for _, y in part.outline) for part in laying.parts]
    left = [min(x for x, _ in part.outline) for part in laying.parts]
    at = [
        Placement(part.name, "A", Lie("inside", 0.0), 20 - x, 20 - y)
        for part, x, y in zip(laying.parts, left, low, strict=True)
    ]
    apart = laying.saw.kerf_mm + 2 * laying.saw.margin_mm
    good = replace(at[1], y_mm=at[1].y_mm + 80 + apart)
    prove(replace(laying, placements=(at[0], good), missing=()))
    bad = {
        "overlap": replace(good, y_mm=good.y_mm - apart - 5),
        "kerf": replace(good, y_mm=good.y_mm - 1),
        "defect": replace(good, x_mm=good.x_mm + 500, y_mm=good.y_mm + 150),
        "grain": replace(good, lie=Lie("inside", 0.12), x_mm=good.x_mm + 100),
        "wane": replace(good, x_mm=good.x_mm - 18),
    }[fault]
    with pytest.raises(AssertionError):
        prove(replace(laying, placements=(at[0], bad), missing=()))


def test_planks_of_one_curve_nest():
    """Three planks 100 wide bowed by 60 need 300 + 60 of width nested, 480 if each kept to its own strip."""
    saw = Saw(kerf_mm=4, margin_mm=0)
    rules = Rules(edge_margin_mm=0, grain_limit_rad=0.5)
    parts = [plank(f"p{n}", 2500, 100, 60, rules=rules) for n in range(3)]
    # Nested along their length they stand 100 / cos(slope) apart; the end slope 4 · 60 / 2500 adds under half a mm.
    laying = lay_parts([rectangular("B", 2600, 60 + 3 * 100 + 2 * 4 + 12, 30)], parts, saw=saw, rounds=30)
    prove(laying)
    assert not laying.missing


def test_a_part_too_many_is_missing_and_named():
    laying = lay_parts([rectangular("B", 1000, 105.1, 30)], [plank("p", 900, 95, 0, quantity=2)], rounds=5)
    assert (len(laying.placements), laying.missing) == (1, ("p no. 2",))


def test_exactly_filled():
    """Four squares of 200 with 4 between fill 404 × 404 and no less."""
    square = Part("s", ((0, 0), (200, 0), (200, 200), (0, 200)), 20, quantity=4, rules=SQUARE)
    saw = Saw(4, 0)
    assert not lay_parts([rectangular("B", 444.0, 404.1, 20)], [square], saw=saw, rounds=20).missing
    assert len(lay_parts([rectangular("B", 444.0, 403.9, 20)], [square], saw=saw, rounds=20).missing) == 2


def test_the_same_seed_and_rounds_give_the_same():
    boards = [board_of(5 + n, f"B{n}") for n in range(3)]
    parts = [plank(f"p{n}", 1500 + 60 * n, 110, 20) for n in range(6)]
    first, second = (lay_parts(boards, parts, seed=9, rounds=8) for _ in range(2))
    assert first == second
    assert lay_parts(boards, parts, seed=10, rounds=8).placements != first.placements


def test_stopped_by_the_caller_it_gives_what_it_has():
    boards = [board_of(n, f"B{n}") for n in range(4)]
    parts = [plank(f"p{n}", 1500 + 60 * n, 110, 20) for n in range(8)]
    seen = []

    def twice(so_far):
        seen.append(so_far)
        return len(seen) < 2

    laying = lay_parts(boards, parts, rounds=100_000, progress=twice)
    assert laying.stopped
    assert laying.rounds < 100_000
    prove(laying)
    again = lay_parts(boards, parts, rounds=laying.rounds)
    assert again.placements == laying.placements


def test_a_held_part_stays_and_the_others_keep_clear_of_it():
    held = Placement("a", "B", Lie("inside", 0.0), 500.0, 160.0, held=True)
    parts = [plank("a", 800, 90, 0), plank("b", 1700, 90, 0), plank("c", 1700, 90, 0)]
    laying = lay_parts([rectangular("B", 1800, 320, 30)], parts, held=[held], rounds=10)
    prove(laying)
    assert held in laying.placements
    assert not laying.missing


def test_the_best_face_is_kept():
    """An outside face that must be seen lies on the board's best face, top or under."""
    for face, up in (("top", "outside"), ("under", "inside")):
        board = rectangular("B", 1000, 200, 30, best_face=face)
        laying = lay_parts([board], [plank("p", 900, 100, 10, show="outside")], rounds=2)
        assert [one.lie.up for one in laying.placements] == [up]


def test_a_sound_knot_is_taken_on_the_inside_face_only():
    rules = Rules(sound_knot_mm=20)
    for face, up in (("top", {"inside"}), ("under", {"outside"}), ("through", set())):
        board = rectangular("B", 1000, 120, 30, defects=(Defect("knot", ((500, 60),), 15, sound=True, face=face),))
        found = {one.lie.up for one in lay_parts([board], [plank("p", 900, 90, 0, rules=rules)], rounds=2).placements}
        assert found == up


def test_a_pair_is_resawn_from_one_board_twice_as_thick():
    """2 × 25 and a kerf of 4: 54 mm."""
    parts = [plank("p", 900, 90, 0, book_matched=True)]
    assert lay_parts([rectangular("B", 1000, 120, 53)], parts, rounds=2).missing == ("p",)
    assert not lay_parts([rectangular("B", 1000, 120, 54)], parts, rounds=2).missing


def test_curved_grain_holds_a_plank_that_straight_grain_does_not():
    """End slope of a parabola of 100 on 1600: 4 · 100 / 1600 = 0.25; the grain bowed alike, next to none."""
    bowed = plank("p", 1600, 80, 100, rules=Rules(grain_limit_rad=0.1))
    straight = rectangular("B", 2000, 400, 30)
    t = np.linspace(-0.125, 1.125, 26)
    grain = tuple((200 + 1600 * s, 400 * s * (1 - s)) for s in t.tolist())
    curved = rectangular("B", 2000, 400, 30, grain=grain)
    assert lay_parts([straight], [bowed], rounds=2).missing == ("p",)
    laying = lay_parts([curved], [bowed], rounds=2)
    assert not laying.missing
    prove(laying)


def test_an_l_shaped_panel_takes_another_in_its_corner():
    """Two L's of 400 × 400 with arms of 150 fit 560 × 400 only one in the other's corner: 2 × 400 alone is 800."""
    ell = ((0, 0), (400, 0), (400, 150), (150, 150), (150, 400), (0, 400))
    part = Part("L", ell, 18, quantity=2, rules=SQUARE)
    laying = lay_parts([rectangular("B", 620, 400.5, 18)], [part], saw=Saw(2, 0), rounds=60, keep=Keep(), cell_mm=10)
    prove(laying)
    assert not laying.missing


def test_every_breach_is_told():
    board = rectangular("B", 1000, 120, 30, defects=(Defect("knot", ((500, 60),), 15),), best_face="top")
    part = plank("p", 900, 90, 0, show="inside", rules=Rules(grain_limit_rad=0.05))

    def what(up, angle, x, y, **more):
        return {breach.what for breach in breaches(board, part, Lie(up, angle), x, y, **more)}

    assert what("inside", 0.0, 50, 60) == {"defect"}
    assert what("outside", 0.0, 50, 60) == {"defect", "face"}
    assert what("inside", 0.0, 150, 60) == {"defect", "wood"}
    assert what("inside", 0.06, 50, 30) == {"defect", "wood", "grain"}
    beside = Polygon([(0, 107), (1000, 107), (1000, 119), (0, 119)])
    assert what("inside", 0.0, 50, 60, others=[("q", beside)]) == {"defect", "neighbour"}
    assert what("inside", 0.0, 50, 60, others=[("q", beside)], saw=Saw(1, 0.5)) == {"defect"}


def test_two_boards_of_one_name_are_refused():
    board = rectangular("B", 1000, 100, 30)
    with pytest.raises(BadBoard, match="'B' comes twice"):
        lay_parts([board, board], [plank("p", 900, 90, 0)], rounds=1)


@pytest.mark.parametrize("pair", [True, False])
def test_a_pair_counts_for_both_its_planks_where_there_is_room_for_one_part_alone(pair):
    """One board 60 thick takes one of two parts: a pair 0.9 times as large gives more plank than a single one."""
    boards = [rectangular("B", 1100, 260, 60)]
    single = Part("single", ((0, 0), (1000, 0), (1000, 200), (0, 200)), 20, rules=SQUARE)
    other = Part("other", ((0, 0), (1000, 0), (1000, 180), (0, 180)), 20, rules=SQUARE, book_matched=pair)
    laying = lay_parts(boards, [single, other], rounds=30)
    assert [one.part for one in laying.placements] == ["other" if pair else "single"]
