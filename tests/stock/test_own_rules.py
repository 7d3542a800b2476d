"""Rules of single planks: typed and written back, taken for that plank alone, refused where they cannot be read."""

from dataclasses import replace

import pytest

from scrieve.errors import BadBoard, ScrieveError
from scrieve.stock.layout import Shop
from scrieve.stock.own_rules import OwnRule, read_own, write_own

TYPED = "garboard: seen outside, knots 20 any face, pair\nstrake 9: aft: not seen, no sapwood, no pair"


def test_what_is_typed_comes_back_and_is_kept_as_plain_values():
    rules = read_own(TYPED, "mm")
    assert rules == (
        OwnRule("garboard", "outside", 20.0, "any", None, True),
        OwnRule("strake 9: aft", "", None, None, "never", False),
    )
    assert read_own(write_own(rules, lambda mm: f"{mm:g}"), "mm") == rules
    shop = Shop(own=rules)
    assert Shop.from_mapping(shop.to_mapping()) == shop


def test_they_hold_for_that_plank_alone():
    shop = Shop(sapwood="allowed", own=read_own(TYPED, "mm"))
    garboard, other = shop.of("garboard"), shop.of("strake 3")
    assert (garboard.show, garboard.book_matched, garboard.rules.sound_knot_mm, garboard.rules.knot_face) == (
        "outside", True, 20.0, "any")  # fmt: skip
    assert garboard.sapwood == "allowed"  # not told: as the shop's
    assert other == replace(shop, own=())


@pytest.mark.parametrize("line", ["garboard", ": pair", "garboard: tight", "garboard: knots many", "a: pair\na: pair"])
def test_what_cannot_be_read_is_refused(line):
    with pytest.raises(ScrieveError) as told:
        read_own(line, "mm")
    if "knots" not in line:
        assert isinstance(told.value, BadBoard)
        assert "rules of single planks" in str(told.value)
