"""A laying kept as plain values comes back as it was; the shop's settings refuse what cannot be."""

import json
import math

import pytest
from racks import board_of, plank

from scrieve.errors import BadBoard
from scrieve.stock import lay_parts
from scrieve.stock.layout import Shop, kept_laying, laying_from, laying_revision

BOARDS = [board_of(3, "B1", under=True), board_of(4, "B2")]
PARTS = [plank(f"p{n}", 1000 + 100 * n, 100, 20) for n in range(3)]


def test_a_laying_is_kept_and_found_again():
    shop = Shop()
    laying = lay_parts(BOARDS, PARTS, rounds=2)
    kept = json.loads(json.dumps(kept_laying(laying, laying_revision(BOARDS, PARTS, shop))))
    assert laying_from(kept, BOARDS, PARTS, shop) == laying
    less = laying_from(kept, BOARDS[:1], PARTS[:1], shop)
    assert all((one.board, one.part) == ("B1", "p0") for one in less.placements)
    assert len(less.placements) + len(less.missing) == 1


def test_its_revision_tells_boards_parts_and_rules_but_not_the_time_given():
    made = laying_revision(BOARDS, PARTS, Shop())
    assert laying_revision(BOARDS, PARTS, Shop(seconds=5, seed=9)) == made
    others = [(BOARDS[:1], PARTS, Shop()), (BOARDS, PARTS[:2], Shop()), (BOARDS, PARTS, Shop(kerf_mm=3))]
    assert all(laying_revision(*other) != made for other in others)


def test_a_plank_counts_by_its_revision_where_that_is_known():
    """Its outline computed anew may differ in the last digit; a plank drawn anew has another revision."""
    shop, moved = Shop(), [plank(f"p{n}", 1000 + 1e-9 + 100 * n, 100, 20) for n in range(3)]
    made = laying_revision(BOARDS, PARTS, shop, {"p": "A1"})
    assert laying_revision(BOARDS, moved, shop, {"p": "A1"}) == made
    assert laying_revision(BOARDS, PARTS, shop, {"p": "A2"}) != made
    assert laying_revision(BOARDS, PARTS[:2], shop, {"p": "A1"}) != made


def test_the_shop_is_kept_and_gives_the_rules():
    """A slope of 1 in 10 is an angle of atan 0.1; a run of 0 asks for none."""
    shop = Shop.from_mapping(json.loads(json.dumps(Shop(grain_run=10, kerf_mm=3, margin_mm=2).to_mapping())))
    assert shop.rules.grain_limit_rad == pytest.approx(math.atan(0.1))
    assert shop.saw.apart_mm == 3 + 2 * 2
    assert Shop(grain_run=0).rules.grain_limit_rad is None


@pytest.mark.parametrize(
    ("given", "said"),
    [({"kerf_mm": -1}, "kerf: -1; give"), ({"seconds": 0}, "seconds: 0; give 1 to 600"),
     ({"sapwood": "some"}, "sapwood: 'some'; say never or allowed"), ({"grain_run": math.nan}, "grain run: nan")],
)  # fmt: skip
def test_settings_that_cannot_be(given, said):
    with pytest.raises(BadBoard, match=said):
        Shop(**given)
