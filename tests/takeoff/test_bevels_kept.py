"""The bevel board kept in the boat: what is written comes back, and of a place read twice the later stands."""

import json
from dataclasses import replace
from pathlib import Path

from scrieve.takeoff.bevels import is_bevel_board, read_bevels
from scrieve.takeoff.bevels_kept import board_detail, new_bevels, standing_bevels
from scrieve.takeoff.reading import FORMS

EXAMPLES = Path(__file__).parents[2] / "examples" / "formats"
READ = read_bevels((EXAMPLES / "bevels.csv").read_bytes(), "bevels.csv").bevels


def stored(*sendings):
    return standing_bevels(json.loads(json.dumps(board_detail(each, "b.csv"))) for each in sendings)


def test_what_was_read_comes_back_from_the_store():
    assert stored(READ) == tuple(replace(one, line=0) for one in READ)
    assert board_detail(READ, "b.csv")["text"] == "6 bevels on 2 frames: b.csv"


def test_the_later_reading_of_a_place_stands():
    again = replace(READ[1], bevel_rad=0.05, note="read again")
    assert stored(READ, [again]) == (replace(READ[0], line=0), replace(again, line=0), *stored(READ)[2:])
    other = replace(READ[1], bevel_rad=0.05, face="aft")  # of the other face it is another bevel
    assert len(stored(READ, [other])) == 7


def test_only_what_is_new_is_kept():
    again = replace(READ[5], bevel_rad=0.05)
    assert new_bevels([*READ[:5], again], stored(READ)) == (again,)


def test_a_bevel_board_is_told_from_every_form_of_marks():
    assert is_bevel_board((EXAMPLES / "bevels.xlsx").read_bytes(), "b")
    assert not any(is_bevel_board((EXAMPLES / f"{way}.csv").read_bytes(), way) for way in FORMS)
