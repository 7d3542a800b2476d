"""Planking screws and withdrawal of fastenings.

Sources: screw sizes after the Herreshoff and Nevins rules, as printed by a fastener merchant; NDS 2018 worked values
(12.2.1 to 12.2.3); Wood Handbook eq. 8-1, 8-10, 8-14, one ultimate load printed by a calculator page (1262 lb).
"""

from fractions import Fraction

import pytest

from scrieve.errors import BadPlank
from scrieve.timber.fastenings import N_PER_LBF, planking_screw, withdrawal_allowable_n, withdrawal_ultimate_n

INCH = 25.4


def allowable_lb(kind, d_in, g, length_in, **more):
    return withdrawal_allowable_n(kind, d_in * INCH, g, length_in * INCH, **more) / N_PER_LBF


@pytest.mark.parametrize(
    ("thickness", "number", "length"), [("3/4", 12, "3/2"), ("1", 16, "2"), ("2", 26, "7/2"), ("3/2", 22, "11/4")]
)
def test_planking_screw_as_printed(thickness, number, length):
    screw = planking_screw(float(Fraction(thickness)) * INCH)
    assert screw.number == number
    assert screw.length_mm == pytest.approx(float(Fraction(length)) * INCH)


def test_screw_is_twice_the_planking_up_to_an_inch_and_a_quarter():
    for sixteenths in (6, 7, 8, 9, 10, 12, 14, 16, 18, 20):
        assert planking_screw(sixteenths / 16 * INCH).length_mm == pytest.approx(2 * sixteenths / 16 * INCH)


def test_body_hole_follows_the_shank():
    # shank diameter 0.060 + 0.013 × number fits every printed hole within about 0.01 in (thickness column check)
    for thickness in (3 / 8, 1 / 2, 3 / 4, 1, 1.25, 1.5, 2):
        screw = planking_screw(thickness * INCH)
        assert screw.body_hole_mm / INCH == pytest.approx(0.060 + 0.013 * screw.number, abs=0.012)


def test_planking_outside_the_table():
    with pytest.raises(BadPlank, match=r"planking 80 mm thick: the screw table runs from 9\.5 to 50\.8 mm"):
        planking_screw(80)


@pytest.mark.parametrize(
    ("kind", "d", "g", "length", "printed", "within"),
    [
        ("screw", 0.190, 0.50, 1, 135.4, 0.5),
        ("screw", 0.190, 0.42, 1, 95.5, 0.5),
        ("screw", 0.190, 0.45, 1, 109.65, 1),
        ("lag", 0.5, 0.50, 1, 378, 1),
        ("lag", 0.5, 0.50, 4, 1514, 1),
        ("lag", 0.625, 0.50, 1, 447, 1),
        ("lag", 0.625, 0.50, 4, 1788, 3),
        ("nail", 0.162, 0.50, 1, 39.5, 0.1),
        ("nail", 0.162, 0.50, 1.5, 59, 0.5),
        ("nail", 0.203, 0.45, 1, 38, 0.1),
    ],
)
def test_nds_worked_values(kind, d, g, length, printed, within):
    assert allowable_lb(kind, d, g, length) == pytest.approx(printed, abs=within)


def test_nds_toe_nail_with_short_load():  # load duration 1.6: 64 lb printed (63.5)
    assert 1.6 * allowable_lb("nail", 0.162, 0.50, 1.5, toe_nailed=True) == pytest.approx(64, abs=0.6)
    with pytest.raises(BadPlank, match="toe-nailed: found a screw"):
        allowable_lb("screw", 0.19, 0.5, 1, toe_nailed=True)


def test_wood_handbook_screw_as_printed():  # D 0.164 in, G 0.70, 1 in: 1262 lb ultimate
    assert withdrawal_ultimate_n("screw", 0.164 * INCH, 0.70, INCH) / N_PER_LBF == pytest.approx(1262, abs=1)


def test_wood_handbook_si_and_inch_forms_agree():
    # printed SI coefficients: 54.12 G^2.5 D L, 108.25 G² D L, 125.4 G^1.5 D^0.75 L [N, mm]
    g, length = 0.68, 30.0
    for kind, coefficient, a, b in (("nail", 54.12, 2.5, 1), ("screw", 108.25, 2, 1), ("lag", 125.4, 1.5, 0.75)):
        assert withdrawal_ultimate_n(kind, 5.0, g, length) == pytest.approx(
            coefficient * g**a * 5.0**b * length, rel=5e-4
        )


def test_what_cannot_be_is_refused():
    with pytest.raises(BadPlank, match=r"fastener 'staple' is not known"):
        withdrawal_ultimate_n("staple", 4, 0.5, 30)
    with pytest.raises(BadPlank, match=r"diameter and length no\. 2"):
        withdrawal_ultimate_n("nail", 4, 0.5, 0)
