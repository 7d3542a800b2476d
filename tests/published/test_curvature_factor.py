"""Curvature factors, strain, stress and handbook limits of bent laminations.

Sources beside each check: NDS and AITC curvature factor as worked on a calculator page and in a formula book
(eq. 6.29); Eurocode 5, 6.4.3; a textbook on timber structures; DIN 1052 (1988, 2008).
"""

import pytest

from scrieve.errors import BadLamination
from scrieve.timber.bending import (
    LEAST_RATIO,
    bending_strain,
    bending_stress,
    curvature_factor,
    eurocode_curvature_factor,
    greatest_thickness_by_ratio,
    greatest_thickness_din,
    steam_minutes,
)

INCH = 25.4


@pytest.mark.parametrize(("t", "c"), [(0.9, 0.800), (0.5, 0.938), (0.7, 0.879), (1.0, 0.753), (1.4, 0.516)])
def test_curvature_factor_as_printed(t, c):  # R = 90; three decimals printed
    assert float(curvature_factor(t, 90)) == pytest.approx(c, abs=0.001)


def test_curvature_factor_at_the_limits():
    # the formula at the printed limits on t/R: 1/125 softwood, 1/100 hardwood and southern pine
    assert float(curvature_factor(1, LEAST_RATIO["softwood"])) == pytest.approx(0.872, abs=1e-9)
    assert float(curvature_factor(1, LEAST_RATIO["hardwood"])) == pytest.approx(0.8, abs=1e-9)
    assert LEAST_RATIO["southern pine"] == LEAST_RATIO["hardwood"]


@pytest.mark.parametrize(("ratio", "k"), [(150, 0.910), (200, 0.960), (240, 1.0), (1000, 1.0)])
def test_eurocode_factor(ratio, k):  # EN 1995-1-1, 6.4.3
    assert float(eurocode_curvature_factor(ratio, 1)) == pytest.approx(k, abs=1e-9)


def test_textbook_stress():  # t 33 mm, R 8 m, E 13 GPa: 26.8 N/mm² printed
    assert float(bending_stress(33, 8000, 13_000)) == pytest.approx(26.8, abs=0.05)


def test_strain_of_a_quarter_inch_ply():
    # arc of 60 in chord and 12 in camber: R = (30² + 12²)/24 = 43.5 in; 1/4 in ply: 0.25/87
    radius = (30**2 + 12**2) / 24
    assert float(bending_strain(0.25 * INCH, radius * INCH)) == pytest.approx(0.00287, abs=0.00001)


def test_limits_of_din():
    assert greatest_thickness_by_ratio(6600, 200) == pytest.approx(33)  # DIN 1052:1988, R >= 6.60 m for 33 mm
    assert greatest_thickness_din(230 * 45, service_class=1) == 45  # DIN 1052:2008: 45 mm from R = 230 t
    assert greatest_thickness_din(230 * 45 - 1, service_class=2) is None
    assert greatest_thickness_din(205 * 35, service_class=3) == 35
    assert greatest_thickness_din(205 * 35 - 1, service_class=3) is None


def test_steam_time():  # one hour per 25 mm: supplier's leaflet; 75 min for 1-1/4 in
    assert float(steam_minutes(25)) == 60
    assert float(steam_minutes(1.25 * 25)) == 75
    with pytest.raises(BadLamination, match=r"thickness: 0 mm; give a value above zero"):
        steam_minutes(0)
