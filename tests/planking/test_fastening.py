"""The schedule of fastenings: counts add up, holes and withdrawal follow the tables, limits are told."""

from dataclasses import asdict, replace

import pytest
from hulls import ConeHull

from scrieve.errors import BadPlank, NoSuchTimber
from scrieve.planking.fastening import FasteningChoice, crossings_of, fastening_schedule
from scrieve.planking.lining.choice import LiningChoice, Stealer
from scrieve.planking.lining.line_off import line_off
from scrieve.timber.fastenings import withdrawal_ultimate_n
from scrieve.timber.species import species

INCH = 25.4
CHOICE = FasteningChoice(INCH, frame_timber="European oak")
CROSSINGS = {1: [("1", 150.0), ("2", 180.0), ("3", 195.0), ("4", 200.0)], 2: [("1", 120.0), ("2", 120.0)]}


def test_counts_by_hand():
    # strake 1: 2 + 2 + 3 + 3 (over 190.5 mm), one butt 5 each side, two hood ends of 3; strake 2: 2 + 2, one of 3
    found = fastening_schedule(CROSSINGS, CHOICE, butts={1: 1}, hood_ends={2: 1})
    assert [count for _, _, count in found.strakes[0].crossings] == [2, 2, 3, 3]
    assert [strake.total for strake in found.strakes] == [10 + 10 + 6, 4 + 3]
    assert found.total == 33
    assert found.order == 37  # 36.3, none cut in parts


def test_ends_never_fewer_than_crossings():
    found = fastening_schedule({1: [("1", 200.0)]}, replace(CHOICE, butt_each_side=2, hood_end=1), butts={1: 1})
    assert (found.strakes[0].butts, found.strakes[0].hood_ends) == (6, 6)


def test_double_and_single_changes_from_frame_to_frame():
    row = {1: [(str(i), 10 * INCH) for i in range(5)]}
    found = fastening_schedule(row, replace(CHOICE, rule="wooden ships, 1855"))
    assert [count for _, _, count in found.strakes[0].crossings] == [2, 1, 2, 1, 2]
    assert any("treenails" in said for said in found.cautions)


def test_holes_and_withdrawal():
    found = fastening_schedule(CROSSINGS, CHOICE)
    assert (found.screw.number, found.screw.length_mm) == (16, pytest.approx(2 * INCH))
    assert found.counterbore_mm == pytest.approx(INCH / 3)
    assert found.hold_mm == pytest.approx(2 * INCH - INCH * 2 / 3)
    assert found.thread_mm == pytest.approx(4 / 3 * INCH)
    oak = species("European oak").gravity_12
    assert found.withdrawal_n == pytest.approx(withdrawal_ultimate_n("screw", 17 / 64 * INCH, oak, 4 / 3 * INCH))
    assert any("no design value" in said for said in found.cautions)
    assert fastening_schedule(CROSSINGS, FasteningChoice(INCH)).withdrawal_n is None
    assert all(working.source for working in found.workings)


def test_limits_are_told():
    deep = fastening_schedule(CROSSINGS, replace(CHOICE, counterbore_mm=12, frame_moulded_mm=38))
    verdicts = {check.name: check.ok for check in deep.checks}
    assert verdicts == {"Counterbore": False, "Nearest thickness of the table": True, "Screw inside the frame": False}
    assert not fastening_schedule(CROSSINGS, replace(CHOICE, thickness_mm=41.5)).checks[1].ok


def test_a_lining_is_counted():
    choice = LiningChoice("side", strakes=12, narrowest_mm=60, widest_mm=300, stealers=(Stealer(4, "last", "9", 30),))
    rows = crossings_of(line_off(ConeHull(), choice))
    assert [len(rows[strake]) for strake in (3, 4, 5)] == [13, 10, 13]
    assert rows[4][-1] == ("9", pytest.approx(30))
    assert fastening_schedule(rows, CHOICE, hood_ends={4: 1}).total > 300


def test_what_cannot_be():
    with pytest.raises(BadPlank, match="fastenings: the rule 'many' is not known; known are two, three"):
        fastening_schedule(CROSSINGS, replace(CHOICE, rule="many"))
    with pytest.raises(NoSuchTimber):
        fastening_schedule(CROSSINGS, replace(CHOICE, frame_timber="balsawood of the moon"))
    with pytest.raises(BadPlank, match=r"fastenings, spares: -0\.1; give 0 or more"):
        replace(CHOICE, spares=-0.1)
    with pytest.raises(BadPlank, match="the screw table runs from"):
        fastening_schedule(CROSSINGS, replace(CHOICE, thickness_mm=80))
    assert FasteningChoice.from_mapping(asdict(CHOICE)) == CHOICE
