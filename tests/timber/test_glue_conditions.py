import pytest

from scrieve.errors import BadLamination
from scrieve.timber.conditions import Conditions, the_day, unsigned
from scrieve.timber.data_sheet import data_sheet

EPOXY = data_sheet("epoxy")
GOOD = Conditions(20, 55, moisture=((1, 10.0), (2, 10.5), (3, 11.0)))


def ids(conditions, sheet=EPOXY, laminations=(1, 2, 3)):
    return [stop.id for stop in the_day(sheet, conditions, laminations).stops]


def test_a_good_day_has_no_stops():
    assert ids(GOOD) == []
    day = the_day(EPOXY, GOOD, (1, 2, 3))
    assert (day.moisture_least, day.moisture_most) == (10.0, 11.0)
    assert len(day.workings) == 2


@pytest.mark.parametrize(
    ("change", "stop"),
    [
        ({"air_c": 8.0}, "temperature.low"),
        ({"timber_c": 9.0, "humidity": 40}, "temperature.low"),
        ({"glue_c": 31.0}, "temperature.high"),
        ({"log": ((0.0, 20.0), (6.0, 7.0))}, "temperature.log"),
        ({"timber_c": 13.0, "humidity": 60}, "dew"),  # dew point 12.0 °C
        ({"moisture": ((1, 10.0), (2, 10.0))}, "moisture.missing"),
        ({"moisture": ((1, 5.0), (2, 6.0), (3, 7.0))}, "moisture.low"),
        ({"moisture": ((1, 11.0), (2, 11.0), (3, 12.5))}, "moisture.high"),
        ({"moisture": ((1, 8.0), (2, 9.0), (3, 11.5))}, "moisture.spread"),
    ],
)
def test_each_rule_stops_by_itself(change, stop):
    given = {"air_c": 20, "humidity": 55, "moisture": GOOD.moisture} | change
    assert ids(Conditions(**given)) == [stop]


def test_on_the_limit_is_not_past_it():
    on = Conditions(10, 40, moisture=((1, 9.0), (2, 12.0), (3, 10.0)))
    assert ids(on) == []


def test_own_figures_move_the_limits():
    damp = data_sheet("epoxy", {"mc_high": 18, "mc_spread": 8}, "the tin")
    wet = Conditions(20, 55, moisture=((1, 10.0), (2, 14.0), (3, 17.0)))
    assert ids(wet, damp) == []
    assert ids(wet) == ["moisture.high", "moisture.spread"]


@pytest.mark.parametrize(
    ("measured", "told"),
    [
        ((), "all 14 laminations"),
        (((5, 10.0),), "laminations 1 to 4 and 6 to 14"),
        (tuple((n, 10.0) for n in range(1, 14)), "lamination 14"),
    ],
)
def test_laminations_that_were_not_measured_are_told_by_runs(measured, told):
    stops = the_day(EPOXY, Conditions(20, 55, moisture=measured), range(1, 15)).stops
    assert next(stop.value for stop in stops if stop.id == "moisture.missing") == told


def test_laminations_too_wet_are_told_together_where_the_meter_said_the_same():
    wet = tuple((n, 16.0 if n < 4 else 17.0 if n == 6 else 15.0) for n in range(1, 7))
    (high,) = [
        stop for stop in the_day(EPOXY, Conditions(20, 55, moisture=wet), range(1, 7)).stops if "high" in stop.id
    ]
    assert high.value == "laminations 1 to 3: 16 %; laminations 4 and 5: 15 %; lamination 6: 17 %"


def test_a_glue_that_is_not_for_boats():
    assert ids(GOOD, data_sheet("urea-formaldehyde")) == ["glue.outside"]


def test_a_stop_says_what_where_and_from_whom():
    (stop,) = the_day(EPOXY, Conditions(8, 40, moisture=GOOD.moisture), (1, 2, 3)).stops
    assert (stop.limit, stop.value) == ("10 °C at least", "8 °C")
    assert "maker's data sheet" in stop.source
    assert stop.why


def test_a_signature_holds_only_for_what_was_signed():
    (first,) = the_day(EPOXY, Conditions(8, 40, moisture=GOOD.moisture), (1, 2, 3)).stops
    (again,) = the_day(EPOXY, Conditions(8, 41, moisture=GOOD.moisture), (1, 2, 3)).stops
    (colder,) = the_day(EPOXY, Conditions(4, 40, moisture=GOOD.moisture), (1, 2, 3)).stops
    assert unsigned([first, again], [first.key]) == ()
    assert unsigned([colder], [first.key]) == (colder,)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"air_c": 20, "humidity": 0}, "relative humidity: 0 %"),
        ({"air_c": 20, "humidity": 50, "timber_c": 99}, "temperature of the timber: 99 °C"),
        ({"air_c": 20, "humidity": 50, "moisture": ((4, 80),)}, "moisture of lamination 4: 80 %"),
    ],
)
def test_what_cannot_be(given, said):
    with pytest.raises(BadLamination, match=said):
        Conditions(**given)


def test_air_near_saturation():
    day = the_day(EPOXY, Conditions(12, 100, moisture=GOOD.moisture), (1, 2, 3))
    assert day.settles_to is None
    assert "dew" in [stop.id for stop in day.stops]
