"""A builder who works in feet and inches reads no mm in what is said of a lining, its butts, screws and caulking."""

from dataclasses import replace

import pytest
from hulls import ConeHull
from texts_within import texts

from scrieve.planking import (
    CaulkingChoice,
    EndJoint,
    FasteningChoice,
    LiningChoice,
    breaches,
    butt_rules,
    caulking,
    crossings_of,
    fastening_schedule,
    line_off,
    seam_lengths,
    shell_layout,
)
from scrieve.planking.butts.scarfs import scarf
from scrieve.wording import in_units

CONE = LiningChoice("side", narrowest_mm=150, end_narrowest_mm=140, widest_mm=180, strakes=10, stock_mm=30)


@pytest.fixture(scope="module")
def lining():
    return line_off(ConeHull(), CONE)


def test_lining(lining):
    assert lining.remarks, "no limit is passed: the case proves nothing"
    assert " mm" in " ".join(texts((lining.remarks, lining.checks, lining.workings)))
    told = texts(in_units((lining.remarks, lining.checks, lining.workings), "ft"))
    assert [text for text in told if " mm" in text] == []
    assert any("narrower than 5 27/32 in" in text for text in told)  # frame 11: 140 mm and 5/6 of 10 more, 5.840 in


def test_fastenings_caulking_and_scarfs(lining):
    crossings = crossings_of(lining)
    schedule = fastening_schedule(crossings, FasteningChoice(25.4, frame_timber="oak", frame_moulded_mm=40))
    packed = caulking(seam_lengths(lining), CaulkingChoice(25.4))
    told = texts(in_units((schedule.checks, schedule.workings, packed.workings, scarf(25.4).working), "ft"))
    assert [text for text in told if " mm" in text and "mm²" not in text] == []
    assert "1-0-0" in told, "the scarf of an inch, 12 : 1"


def test_breaches(lining):
    layout = replace(shell_layout(lining), joints=(EndJoint(2, 750.0), EndJoint(3, 750.0), EndJoint(5, 1010.0)),
                     opposite_mm=(800.0,))  # fmt: skip
    found = breaches(layout, butt_rules("Great Lakes, 1866")) + breaches(
        layout, butt_rules("army, unusual frame spacing")
    )
    assert any("0 mm; adjacent strakes, 1524 mm" in breach.text for breach in found)
    told = in_units(found, "ft")
    assert any("0-0-0; adjacent strakes, 5-0-0" in breach.text for breach in told)
    assert [breach.text for breach in told if " mm" in breach.text + breach.found + breach.asked] == []
