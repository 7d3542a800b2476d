import numpy as np
import pytest

from scrieve.errors import BadLamination, NoSuchTimber
from scrieve.timber.cure import cure
from scrieve.timber.data_sheet import FIGURES, TIMES, data_sheet
from scrieve.timber.glue import glue_names


def test_every_default_says_where_it_comes_from():
    for name in glue_names():
        sheet = data_sheet(name)
        assert sheet.own == ()
        for figure in sheet.figures:
            assert figure.source
            assert figure.name in FIGURES
            low, high = FIGURES[figure.name][2:]
            assert low <= figure.value <= high
        for needed in ("open_min", "closed_min", "clamp_h", "least_c", "most_c", "mc_low", "mc_high", "dew_margin_k"):
            assert sheet.has(needed)
        assert sheet["least_c"] == sheet.family.least_temperature_c


def test_own_figures_stand_before_defaults_and_are_remembered():
    sheet = data_sheet("resorcinol", {"clamp_h": 10, "mc_high": 14}, "the tin")
    assert sheet.own == ("clamp_h", "mc_high")
    assert (sheet["clamp_h"], sheet["mc_high"]) == (10, 14)
    assert sheet.figure("clamp_h").source == "the tin"
    assert "clamp_h" not in sheet.defaults
    assert sheet["mc_low"] == data_sheet("resorcinol")["mc_low"]
    assert data_sheet("resorcinol", **sheet.to_mapping()) == sheet


def test_a_glue_of_one_part_has_no_pot_life():
    with pytest.raises(NoSuchTimber, match="polyurethane: the data sheet has no pot_life_min"):
        data_sheet("polyurethane").figure("pot_life_min")


@pytest.mark.parametrize("name", TIMES)
def test_ten_degrees_warmer_halves_every_time(name):
    sheet = data_sheet("epoxy")
    cold, warm = sheet.time(name, [12.0, 22.0])
    assert cold / warm == pytest.approx(2.0, rel=1e-12)
    quicker = data_sheet("epoxy", {"halving_k": 8}).time(name, [12.0, 20.0])
    assert quicker[0] / quicker[1] == pytest.approx(2.0, rel=1e-12)


def test_cold_hours_are_told_and_not_counted():
    sheet = data_sheet("epoxy", {"clamp_h": 24, "least_c": 10})
    found = cure(sheet, [(0, 20), (6, 20), (6.001, 5), (12, 5), (12.001, 20), (60, 20)])
    assert found.cold_h == pytest.approx(6.0, abs=0.01)
    assert found.release_h == pytest.approx(30.0, abs=0.02)
    assert found.coldest_c == 5
    assert not found.projected


def test_a_log_in_parts_adds_up():
    sheet = data_sheet("epoxy")
    whole = cure(sheet, [(0, 12), (8, 24), (20, 16)])
    cut = cure(sheet, [(0, 12), (4, 18), (8, 24), (14, 20), (20, 16)])  # the same log, with two more entries on it
    assert cut.share == pytest.approx(whole.share, rel=1e-9)
    warmer = cure(sheet, [(0, 13), (8, 25), (20, 17)])
    assert warmer.share / whole.share == pytest.approx(2**0.1, rel=1e-9)


@pytest.mark.parametrize(
    ("own", "said"),
    [
        ({"smell": 3}, r"'smell' is not known; the figures are spread_g_m2"),
        ({"clamp_h": "long"}, r"clamp_h \(time in the clamps\): found 'long'; give 0\.1 to 500 h"),
        ({"clamp_h": [[20, 8], [20, 9]]}, r"one time for each temperature"),
        ({"clamp_h": [[10, 8], [20, 9]]}, r"8 h at 10 °C but 9 at 20 °C; a warm glue is the quicker"),
        ({"clamp_h": [3, 4]}, r"found 3; give a number, or pairs of °C and h"),
        ({"least_c": 35}, r"least_c 35 is above most_c 30"),
        ({"mc_low": True}, r"found True; give 0 to 30 %"),
    ],
)
def test_what_a_data_sheet_cannot_say(own, said):
    with pytest.raises(BadLamination, match=said):
        data_sheet("epoxy", own)


@pytest.mark.parametrize(
    ("log", "said"),
    [
        ([], "log of temperatures is empty"),
        ([(3, 20), (1, 20)], "the hours must rise"),
        ([(-1, 20)], "the hours must rise"),
        ([(0, "warm")], "give pairs of hour and °C"),
        ([(0, 200)], "temperature: 200 °C; give -40 to 100"),
    ],
)
def test_what_a_log_cannot_be(log, said):
    with pytest.raises(BadLamination, match=said):
        cure(data_sheet("epoxy"), log)


def test_times_fall_as_it_warms_whatever_the_sheet_says():
    sheet = data_sheet("resorcinol", {"clamp_h": [[15, 24], [20, 10], [30, 4]]})
    times = sheet.time("clamp_h", np.linspace(-5, 50, 200))
    assert np.all(np.diff(times) < 0)
