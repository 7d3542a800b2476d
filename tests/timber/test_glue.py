import pytest

from scrieve.errors import BadLamination, NoSuchTimber
from scrieve.timber.glue import glue, glue_mass, glue_names


def test_figures_are_shown_as_shop_defaults():
    for name in glue_names():
        family = glue(name)
        low, high = family.spread_range_g_m2
        assert low <= family.spread_g_m2 <= high
        assert "from memory" in family.source
        assert "maker's data sheet" in family.source
        assert family.caution


def test_aliases_and_unknown_families():
    assert glue("PUR").name == "polyurethane"
    with pytest.raises(NoSuchTimber, match=r"glue 'porridge' is not in the table; there are epoxy, "):
        glue("porridge")


def test_mass_is_area_times_spread():  # closed form: 7 joints of 0.3 m² at 350 g/m², a fifth wasted
    net, gross = glue_mass(7, 0.3e6, 350, 0.2)
    assert net == pytest.approx(7 * 0.3 * 350)
    assert gross * 0.8 == pytest.approx(net)


def test_what_cannot_be_is_refused():
    with pytest.raises(BadLamination, match="0 joints"):
        glue_mass(0, 1e6, 350)
    with pytest.raises(BadLamination, match="spread: 0 g/m²"):
        glue_mass(3, 1e6, 0)
