"""Ends of planks cut to scarfs and nibs."""

import numpy as np
import pytest

from scrieve.planking.butts.end_cuts import cut_ends, nib_checks
from scrieve.planking.butts.scarfs import SCARF_RULES, scarf
from scrieve.planking.choice import PlankEnds

R, WIDE = 30_000.0, 150.0


def edges(first_deg=-4.0, last_deg=4.0, n=241):
    """Both edges of a plank cut from a ring: circles about one centre, the plank's run clockwise over the top."""
    angle = np.radians(np.linspace(first_deg, last_deg, n))
    return [np.column_stack([r * np.sin(angle), r * np.cos(angle) - R]) for r in (R, R + WIDE)]


@pytest.mark.parametrize("slope", [8.0, 12.0])
def test_past_the_joint_the_edges_run_on_as_they_curve(slope):
    """Closed form: circles stay circles; the bound is told in the docstring of `cut_ends`."""
    lower, upper, cuts = cut_ends(PlankEnds("scarf", "scarf", slope), 28.0, *edges())
    for edge, radius in ((lower, R), (upper, R + WIDE)):
        assert np.hypot(edge[:, 0], edge[:, 1] + R) == pytest.approx(radius, abs=0.002)
        run = np.sum(np.hypot(*np.diff(edge, axis=0).T))
        assert run == pytest.approx(radius * np.radians(8) + slope * 28, abs=0.02)  # half at each end
    assert [cut.end for cut in cuts] == ["first", "last"]
    for cut, at in zip(cuts, (0, -1), strict=True):
        assert cut.length_mm == slope * 28
        assert cut.ends_mm == (tuple(lower[at]), tuple(upper[at]))
        for a, b in zip(cut.begins_mm, cut.ends_mm, strict=True):  # it begins as far in as it ends past the joint
            assert np.hypot(*np.subtract(a, b)) == pytest.approx(cut.length_mm, abs=0.01)


def test_a_nib_is_that_of_the_rule_and_shortens_the_scarf():
    """Source: rule of thumb for clinker boats: 6 : 1, nib 1/16 in on 3/8 in; (6/16 - 2/16) in x 6 = 1 1/2 in."""
    rule, thick = SCARF_RULES["clinker, with nib"], 3 / 8 * 25.4
    _, _, (cut,) = cut_ends(PlankEnds("butt", "scarf", rule.slope, rule.nib * thick), thick, *edges())
    assert (cut.length_mm, cut.nib_mm) == pytest.approx((1.5 * 25.4, 25.4 / 16))
    assert cut.length_mm == pytest.approx(scarf(thick, rule).length_mm)


def test_a_nib_of_a_stealer_is_held_against_the_thickness():
    x = np.linspace(0.0, 3000.0, 61)
    lower, upper = np.column_stack([x, 0 * x]), np.column_stack([x, np.linspace(150.0, 20.0, 61)])
    same_lower, same_upper, (cut,) = cut_ends(PlankEnds("butt", "nib"), 28.0, lower, upper)
    np.testing.assert_array_equal(np.stack([same_lower, same_upper]), np.stack([lower, upper]))
    assert cut.nib_mm == pytest.approx(20)
    (thick,), (thin,) = nib_checks((cut,), 28.0), nib_checks((cut,), 18.0)
    assert (thick.ok, thin.ok) == (False, True)
    assert thick.name == "Nib at the last end"
