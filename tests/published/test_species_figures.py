"""The table of species against its printed sources: psi columns of the Wood Handbook, and ratios that must hold."""

import pytest

from scrieve.timber.species import density_at_12, gravity_at_12, species, species_names

MPA_PER_PSI = 0.006894757


@pytest.mark.parametrize(
    ("name", "mor_psi", "moe_mpsi"),
    [  # Wood Handbook (FPL-GTR-282) tables 5-3b and 5-5b, 12 %
        ("white oak", 15_200, 1.78),
        ("american beech", 14_900, 1.72),
        ("iroko", 12_400, 1.46),
        ("sapele", 15_300, 1.82),
        ("khaya", 10_700, 1.40),
        ("mahogany", 11_500, 1.50),
        ("teak", 14_600, 1.55),
        ("opepe", 17_400, 1.94),
        ("balau", 18_800, 2.61),
        ("angelique", 17_400, 2.19),
        ("douglas-fir", 12_400, 1.95),
        ("western larch", 13_000, 1.87),
        ("southern pine", 14_500, 1.98),
        ("pitch pine", 10_800, 1.43),
        ("western red cedar", 7_500, 1.11),
        ("yellow cedar", 11_100, 1.42),
        ("atlantic white cedar", 6_800, 0.93),
        ("northern white cedar", 6_500, 0.80),
    ],
)
def test_psi_columns(name, mor_psi, moe_mpsi):
    timber = species(name)
    assert timber.mor_mpa == pytest.approx(mor_psi * MPA_PER_PSI, rel=0.005)  # SI table rounds to 3 figures
    assert timber.moe_mpa == pytest.approx(moe_mpsi * 1e6 * MPA_PER_PSI, rel=0.006)


def test_sitka_spruce_row():  # FPL-GTR-190 table 5-3a
    sitka = species("Sitka spruce")
    assert (sitka.mor_mpa, sitka.moe_mpa, sitka.gravity_12) == (70.0, 10_800.0, 0.40)


def test_gravity_at_twelve_percent():  # Wood Handbook ch. 4, worked values
    assert gravity_at_12(0.42) == pytest.approx(0.4501, abs=1e-4)
    assert gravity_at_12(0.67) == pytest.approx(0.7499, abs=1e-4)
    assert density_at_12(gravity_at_12(0.42)) == pytest.approx(504.1, abs=0.1)
    assert density_at_12(gravity_at_12(0.67)) == pytest.approx(839.9, abs=0.1)


def test_density_follows_gravity():
    # density at 12 % = 1120 G, where the table prints both from one source (oak and utile print their own)
    for name in species_names():
        timber = species(name)
        if timber.name not in ("oak, European", "utile"):
            assert timber.density_kg_m3 == pytest.approx(1120 * timber.gravity_12, rel=0.003), name


def test_dry_elastic_radius():
    # R ≈ E t / 2 f_b with Wood Handbook figures: white ash 56 to 58 t, white oak 59 t, Sitka 77 t, Douglas-fir 79 t
    for name, low, high in (
        ("white ash", 56, 58.5),
        ("white oak", 58, 59),
        ("spruce", 77, 77.5),
        ("douglas fir", 78, 79),
    ):
        timber = species(name)
        assert low <= timber.moe_mpa / (2 * timber.mor_mpa) <= high, name


def test_durability_classes():  # guidance mirroring ISO 12215-3
    assert (species("teak").durability, species("larch").durability, species("spruce").durability) == (1, 3, 4)
