"""Caulking: lengths of seam against closed forms, quantities against sums by hand."""

from dataclasses import asdict, replace

import numpy as np
import pytest
from hulls import ConeHull

from scrieve.errors import BadPlank
from scrieve.planking.caulking import CaulkingChoice, caulking, seam_lengths
from scrieve.planking.lining.choice import LiningChoice, Stealer
from scrieve.planking.lining.line_off import line_off

SIDE = LiningChoice("side", strakes=10, narrowest_mm=60, widest_mm=300)


def test_seams_of_a_cone():
    # Closed form: seams are straight lines of the cone, each √(6000² + 400²) long; hood ends are its end quarters
    found = seam_lengths(line_off(ConeHull(), SIDE), butts={3: 180.0})
    slant = float(np.hypot(6000, 400))
    assert found["garboard seam"] == pytest.approx(slant, abs=1e-3)
    assert found["seams between strakes"] == pytest.approx(9 * slant, abs=1e-2)
    assert found["hood ends"] == pytest.approx(np.pi / 2 * 2000, abs=1e-2)
    assert found["butts"] == 180


def test_a_stealer_seam_ends_at_its_nib():
    found = seam_lengths(line_off(ConeHull(), replace(SIDE, stealers=(Stealer(4, "last", "8", 30),))))
    assert 8.6 * 6013 < found["seams between strakes"] < 8.7 * 6013  # one seam ends after 8 of 12 spaces
    assert found["nibs"] == 30


def test_quantities_by_hand():
    # 30 mm plank open 3 mm: 15 mm² of cotton, 25 mm² of stopping; 100 m of seam: 1.5 and 2.5 litres; a tenth of waste
    choice = CaulkingChoice(30, opening_mm=3, packed_kg_m3=400, stopping_kg_m3=1500, waste=0.1)
    found = caulking({"seams": 60_000.0, "rabbet": 40_000.0}, choice)
    assert found.total_mm == 100_000
    assert found.cotton_kg == pytest.approx(1.5 * 0.4 * 1.1)
    assert found.stopping_litres == pytest.approx(2.75)
    assert found.stopping_kg == pytest.approx(2.75 * 1.5)
    weighed = caulking({"seams": 100_000.0}, replace(choice, cotton_g_per_m=8))
    assert weighed.cotton_kg == pytest.approx(0.88)
    assert {working.figure: working.source for working in weighed.workings}["Cotton"] == "weighed on trial"
    assert "no source" in {working.figure: working.source for working in found.workings}["Cotton"]


def test_rules_of_opening_differ_and_say_so():
    metric, inch = (caulking({"s": 1000.0}, CaulkingChoice(25.4, rule=rule)) for rule in ("metric", "inch"))
    assert metric.stopping_litres > 2 * inch.stopping_litres
    assert all("disputed" in found.workings[0].source for found in (metric, inch))


def test_what_cannot_be():
    with pytest.raises(BadPlank, match=r"caulking, length of seam no\. 2: 0 mm"):
        caulking({"a": 10.0, "b": 0.0}, CaulkingChoice(25))
    with pytest.raises(BadPlank, match="caulking, opening: -1; give 0 or more"):
        CaulkingChoice(25, opening_mm=-1)
    with pytest.raises(BadPlank, match="seam rule: found 'cubit'"):
        CaulkingChoice(25, rule="cubit")
    choice = CaulkingChoice(25, opening_mm=2.0)
    assert CaulkingChoice.from_mapping(asdict(choice)) == choice
