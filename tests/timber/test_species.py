import pytest

from scrieve.errors import NoSuchTimber
from scrieve.timber.species import species, species_names


@pytest.mark.parametrize(
    ("said", "meant"),
    [("larch", "larch, European"), ("  SAPELE ", "sapele"), ("oak", "oak, European"), ("Douglas Fir", "Douglas-fir")],
)
def test_common_names(said, meant):
    assert species(said).name == meant


def test_an_unknown_timber_lists_near_ones():
    with pytest.raises(NoSuchTimber, match=r"timber 'sapelle' is not in the table of species; there are .*sapele"):
        species("sapelle")
    with pytest.raises(NoSuchTimber, match=r"'red cedar'.*cedar, Alaska yellow.*cedar, western red"):
        species("red cedar")
    with pytest.raises(NoSuchTimber, match="balau"):  # nothing near: the whole table
        species("qqqq")


def test_memory_is_flagged():
    assert species("Scots pine").unverified
    assert "unverified" in str(species("Scots pine").strength)
    assert not species("larch").unverified


def test_every_figure_names_its_source():
    for name in species_names():
        timber = species(name)
        assert timber.strength.status in ("S", "S2", "D", "M")
        assert len(timber.strength.source) > 10 or timber.strength.unverified
        for across in (timber.shrinkage, timber.movement):
            assert across is None or (across.standing.source and 0 < across.radial < across.tangential)


def test_pure_bending_modulus_is_a_tenth_more():  # Wood Handbook table 5-3, footnote c
    assert species("sapele").bending_modulus_mpa == pytest.approx(13_750)
    assert species("sapele").breaking_strain == pytest.approx(105.5 / 13_750)
