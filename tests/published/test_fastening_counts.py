"""How many fastenings, and what a caulked seam looks like, as printed.

Sources: classification rules for fastening as printed 1855 (over 12 in double, over 9 in double and single, else
single), for wooden ships 1891, section 46 (11 and 8 in), for composite ships 1891 (from 10 in double, 8-1/2 to 10
alternate, under 8-1/2 single); rule of thumb for clinker boats (nails 6 × t apart); British yards on the carvel seam
(thirds; open 3 to 4 mm in 25 mm); Wood Handbook chapter 8 (root of a screw about two thirds of its shank).
"""

import pytest

from scrieve.planking.caulking import CaulkingChoice, caulking, seam_shape
from scrieve.planking.fastening import clinker_nails
from scrieve.timber.fastenings import count_rule, pilot_hole, planking_screw

INCH = 25.4


@pytest.mark.parametrize(
    ("rule", "inches", "counts"),
    [
        ("wooden ships, 1855", 12.5, (2, 2)),
        ("wooden ships, 1855", 12, (2, 1)),
        ("wooden ships, 1855", 9.5, (2, 1)),
        ("wooden ships, 1855", 9, (1, 1)),
        ("wooden ships, 1891", 11.25, (2, 2)),
        ("wooden ships, 1891", 11, (2, 1)),
        ("wooden ships, 1891", 8, (1, 1)),
        ("composite ships, 1891", 10, (2, 2)),
        ("composite ships, 1891", 9.75, (2, 1)),
        ("composite ships, 1891", 8.5, (2, 1)),
        ("composite ships, 1891", 8.25, (1, 1)),
    ],
)
def test_fastenings_by_width(rule, inches, counts):
    assert count_rule(rule).at(inches * INCH) == counts


def test_nails_of_clinker_planking():  # 3/8 in plank: one every 2-1/4 in; 18 in of land holds nine
    assert clinker_nails(18 * INCH, 3 / 8 * INCH) == 9


def test_the_pilot_follows_the_root():  # 2/3 of the shank; what share of it is the builder's setting, not checked
    screw = planking_screw(INCH)  # body hole 17/64 in
    assert pilot_hole(screw, "softwood") / 0.70 == pytest.approx(17 / 64 * INCH * 2 / 3)


def test_seam_in_thirds():  # a seam open 3 to 4 mm in 25 mm plank: the middle third takes cotton, the outer stopping
    found = caulking({"seams": 1000.0}, CaulkingChoice(25.0))
    assert 3 <= found.seam.widths_mm[0] <= 4
    assert found.seam.widths_mm[3] == 0
    # closed form: a wedge a wide and t deep, cut in thirds, has 5/18, 3/18 and 1/18 of a·t in them
    shape = seam_shape(25, 3.6)
    assert shape.stopping_mm2 == pytest.approx(5 / 18 * 25 * 3.6)
    assert shape.cotton_mm2 == pytest.approx(3 / 18 * 25 * 3.6)
