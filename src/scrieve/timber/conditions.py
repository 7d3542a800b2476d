"""The air, the timber and the glue on the day: what is out of range comes as a stop to be signed, never silently."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scrieve.errors import BadLamination
from scrieve.revision import revision
from scrieve.timber.data_sheet import DataSheet
from scrieve.timber.moisture import dew_point, equilibrium_moisture
from scrieve.working import Working


@dataclass(frozen=True, slots=True)
class Stop:
    """Something out of range that a person must sign for before the work goes on; nothing is held up by it here.

    `id` says which rule, `what` was found, `why` it matters and what to do, `limit` and `value` with their units,
    `source` where the limit comes from. `key` changes with limit and value: what was signed for holds only for those.
    """

    id: str
    what: str
    why: str
    limit: str
    value: str
    source: str

    @property
    def key(self) -> str:
        """What a signature is kept by."""
        return f"{self.id}:{revision(self.id, self.limit, self.value)}"


def unsigned(stops: Iterable[Stop], signed: Iterable[str]) -> tuple[Stop, ...]:
    """Stops that nobody has signed for yet, `signed` being the keys of those that were."""
    have = set(signed)
    return tuple(stop for stop in stops if stop.key not in have)


@dataclass(frozen=True, slots=True)
class Conditions:
    """The day: air [°C], relative humidity [%], surface of the timber and glue [°C] (None: as the air).

    `moisture` is what the meter said: the lamination's number and its moisture content [%]. `log` is the temperature
    at the glue line by hours since closing, as `scrieve.timber.cure.cure` takes it; empty: the air's, constant.
    """

    air_c: float
    humidity: float
    timber_c: float | None = None
    glue_c: float | None = None
    moisture: tuple[tuple[int, float], ...] = ()
    log: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        dew_point(self.air_c, self.humidity)  # refuses what cannot be
        for name, value in (("timber", self.timber_c), ("glue", self.glue_c)):
            if value is not None and not -40 <= value <= 60:
                raise BadLamination(f"temperature of the {name}: {value:g} °C; give -40 to 60 °C.")
        for number, percent in self.moisture:
            if not 0 <= percent <= 60:
                raise BadLamination(f"moisture of lamination {number}: {percent:g} %; give 0 to 60 %.")

    @property
    def surface_c(self) -> float:
        """Temperature of the timber's surface [°C]."""
        return self.air_c if self.timber_c is None else self.timber_c

    @property
    def coldest_c(self) -> float:
        """Of air, timber and glue [°C]."""
        return min(self.air_c, self.surface_c, self.air_c if self.glue_c is None else self.glue_c)

    @property
    def warmest_c(self) -> float:
        """Of air, timber and glue [°C]: what the glue's time runs by."""
        return max(self.air_c, self.surface_c, self.air_c if self.glue_c is None else self.glue_c)


@dataclass(frozen=True, slots=True)
class Day:
    """What the conditions come to: `settles_to` the equilibrium moisture content of the shed's air [%] (None where the
    air is too near saturated to say), `dew_point_c`, the moisture measured (least, most), stops and workings.
    """

    settles_to: float | None
    dew_point_c: float
    moisture_least: float | None
    moisture_most: float | None
    stops: tuple[Stop, ...]
    workings: tuple[Working, ...]


def the_day(sheet: DataSheet, on: Conditions, laminations: Iterable[int] = ()) -> Day:
    """Hold the conditions against the glue's data sheet.

    Parameters
    ----------
    sheet : DataSheet
    on : Conditions
    laminations : iterable of int
        Numbers of the laminations to be glued: each is to have its moisture measured.

    Returns
    -------
    Day

    References
    ----------
    .. [1] Wood Handbook eq. 4-5 for the moisture content, Magnus' form for the dew point (scrieve.timber.moisture).
    """
    settles = float(equilibrium_moisture(on.air_c, on.humidity)) if on.humidity < 99.5 and on.air_c >= -20 else None
    dew = float(dew_point(on.air_c, on.humidity))
    measured = [percent for _, percent in on.moisture]
    least, most = (min(measured), max(measured)) if measured else (None, None)
    stops = [*_temperature(sheet, on), *_dew(sheet, on, dew), *_moisture(sheet, on, laminations), *_family(sheet)]
    workings = [
        Working(
            "Dew point",
            f"{dew:.1f} °C, {on.surface_c - dew:.1f} K below the timber",
            "g = ln(RH/100) + 17.625 T/(243.04 + T); 243.04 g/(17.625 − g)",
            (("air", f"{on.air_c:g} °C"), ("RH", f"{on.humidity:g} %"), ("timber", f"{on.surface_c:g} °C")),
            "Magnus form, Alduchov and Eskridge 1996 (0.35 °C)",
            "a film of water, or amine bloom, under the glue is not seen",
        )
    ]
    if settles is not None:
        heading = "not measured" if least is None else f"{least:g} to {most:g} % measured"
        workings.append(
            Working(
                "Moisture that timber settles to here",
                f"{settles:.1f} %",
                "1800/W × (Kh/(1−Kh) + (K₁Kh + 2K₁K₂K²h²)/(1 + K₁Kh + K₁K₂K²h²))",
                (("air", f"{on.air_c:g} °C"), ("RH", f"{on.humidity:g} %"), ("laminations", heading)),
                "Wood Handbook eq. 4-5; an average of all species",
                "timber far from it will move after gluing: let the laminations lie in stick in the shed",
            )
        )
    return Day(settles, dew, least, most, tuple(stops), tuple(workings))


def _temperature(sheet: DataSheet, on: Conditions) -> Iterable[Stop]:
    least, most = sheet.figure("least_c"), sheet.figure("most_c")
    if on.coldest_c < least.value:
        yield Stop(
            "temperature.low",
            "Too cold for the glue",
            "it may never cure to its strength; warm the shed, the timber and the glue, and keep them so until release",
            f"{least.value:g} °C at least",
            f"{on.coldest_c:g} °C",
            least.source,
        )
    if on.warmest_c > most.value:
        yield Stop(
            "temperature.high",
            "Too warm for the glue",
            "it sets before the packet is closed, and a full pot may run away; work early in the day, mix less",
            f"{most.value:g} °C at most",
            f"{on.warmest_c:g} °C",
            most.source,
        )
    logged = [at for _, at in on.log]
    if logged and min(logged) < least.value:
        yield Stop(
            "temperature.log",
            "It got too cold while curing",
            "hours below the least temperature are not counted towards release; warm it and wait",
            f"{least.value:g} °C at least",
            f"{min(logged):g} °C",
            least.source,
        )


def _dew(sheet: DataSheet, on: Conditions, dew: float) -> Iterable[Stop]:
    margin = sheet.figure("dew_margin_k")
    if on.surface_c - dew < margin.value:
        yield Stop(
            "dew",
            "The timber is near the dew point, or below it",
            "water settles on it unseen and the glue does not wet it; warm the timber or dry the air",
            f"{margin.value:g} K above the dew point at least",
            f"{on.surface_c - dew:.1f} K ({on.surface_c:g} °C against {dew:.1f} °C)",
            margin.source,
        )


def _moisture(sheet: DataSheet, on: Conditions, laminations: Iterable[int]) -> Iterable[Stop]:
    known = {number for number, _ in on.moisture}
    asked = list(laminations)
    missing = [number for number in asked if number not in known]
    if missing:
        yield Stop(
            "moisture.missing",
            "Moisture was not measured",
            "wet or unequal laminations open their joints as they dry; use the meter on every one",
            "every lamination",
            f"all {len(asked)} laminations" if 1 < len(asked) == len(missing) else _named(missing),
            "common practice, no source",
        )
    low, high, spread = sheet.figure("mc_low"), sheet.figure("mc_high"), sheet.figure("mc_spread")
    for name, out, limit in (
        ("moisture.low", [row for row in on.moisture if row[1] < low.value], low),
        ("moisture.high", [row for row in on.moisture if row[1] > high.value], high),
    ):
        if out:
            dry = name.endswith("low")
            yield Stop(
                name,
                "Timber too dry for the glue" if dry else "Timber too wet for the glue",
                "it drinks the glue and starves the joint; let it lie in the shed"
                if dry
                else "the glue is thinned and the joint opens as it dries; dry it in stick and measure again",
                f"{limit.value:g} % at {'least' if dry else 'most'}",
                "; ".join(
                    f"{_named([number for number, other in out if other == percent])}: {percent:g} %"
                    for percent in dict.fromkeys(percent for _, percent in out)
                ),
                limit.source,
            )
    measured = [percent for _, percent in on.moisture]
    if measured and max(measured) - min(measured) > spread.value:
        yield Stop(
            "moisture.spread",
            "The laminations differ in moisture",
            "they move unequally afterwards: the frame changes its curve and the joints are strained",
            f"{spread.value:g} % between any two at most",
            f"{max(measured) - min(measured):.1f} %",
            spread.source,
        )


def _named(numbers: Sequence[int]) -> str:
    """Laminations by their numbers, runs of three or more told by their ends.

    Examples
    --------
    >>> _named([4]), _named([1, 2, 3, 4, 7, 9, 10])
    ('lamination 4', 'laminations 1 to 4, 7, 9 and 10')
    """
    rising = sorted(numbers)
    runs: list[list[int]] = []
    for number in rising:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = [text for run in runs for text in ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else map(str, run))]
    if len(rising) == 1:
        return f"lamination {told[0]}"
    return "laminations " + (told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}")


def _family(sheet: DataSheet) -> Iterable[Stop]:
    if sheet.family.outside.startswith("no"):
        yield Stop(
            "glue.outside",
            f"{sheet.family.name.capitalize()} is not for a boat's frames",
            "it was not adequate outdoors in test (FPL R1486); take another glue",
            "a glue proved for outdoors and wet",
            sheet.family.outside,
            "FPL R1486 (Selbo); EN 301",
        )
