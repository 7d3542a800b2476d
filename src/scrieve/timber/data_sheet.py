"""The data sheet of a glue: defaults of its family, the figures of the builder's own tin laid over them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadLamination, NoSuchTimber
from scrieve.timber.glue import FROM_MEMORY, Glue, glue

#: What a data sheet may say: name -> what it is, its unit, and the least and greatest value believed.
FIGURES: dict[str, tuple[str, str, float, float]] = {
    "spread_g_m2": ("spread for one joint, both faces together", "g/m²", 20, 2000),
    "spread_faces": ("faces of a joint that are spread", "", 1, 2),
    "pot_life_min": ("pot life in the mass named", "min", 1, 2000),
    "pot_mass_g": ("most to be mixed at once", "g", 10, 20_000),
    "open_min": ("open assembly: spread, lying open", "min", 0.5, 1000),
    "closed_min": ("closed assembly: laid together, not yet pressed", "min", 0.5, 1000),
    "clamp_h": ("time in the clamps", "h", 0.1, 500),
    "full_cure_h": ("time to full strength", "h", 0.1, 5000),
    "least_c": ("least temperature of glue, timber and air", "°C", -20, 40),
    "most_c": ("most temperature of glue, timber and air", "°C", 5, 80),
    "mc_low": ("least moisture content of the timber", "%", 0, 30),
    "mc_high": ("most moisture content of the timber", "%", 1, 40),
    "mc_spread": ("most difference between laminations", "%", 0.1, 20),
    "pressure_low_mpa": ("least pressure on the joint", "N/mm²", 0, 5),
    "pressure_high_mpa": ("most pressure on the joint", "N/mm²", 0, 5),
    "line_mm": ("thickest glue line", "mm", 0.01, 10),
    "halving_k": ("warmer by so much, and every time halves", "K", 4, 30),
    "dew_margin_k": ("timber to be warmer than the dew point by", "K", 0, 15),
}

#: Figures that change with temperature; a data sheet may give them at several.
TIMES = ("pot_life_min", "open_min", "closed_min", "clamp_h", "full_cure_h")

#: Temperature at which the families' times are stated [°C].
REFERENCE_C = 20.0

_ZERO_C = 273.15
_OF_ALL = {"halving_k": 10.0, "dew_margin_k": 3.0}


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a data sheet and where it comes from.

    `value` is the figure; for a time it is that at `points[0]`. `points` are (temperature [°C], time), rising, for
    figures that change with temperature, and empty for the rest. `own` is True where the builder gave it.
    """

    name: str
    value: float
    unit: str
    own: bool
    source: str
    points: tuple[tuple[float, float], ...] = ()

    @property
    def text(self) -> str:
        """The figure as a person reads it: '25 min at 20 °C'."""
        if not self.points:
            return f"{self.value:g} {self.unit}".strip()
        return ", ".join(f"{time:g} {self.unit} at {at:g} °C" for at, time in self.points)


@dataclass(frozen=True, slots=True)
class DataSheet:
    """A glue as it is reckoned with: its family, and every figure with its source; own figures first."""

    family: Glue
    figures: tuple[Figure, ...]

    def figure(self, name: str) -> Figure:
        """Return one figure.

        Raises
        ------
        NoSuchTimber
            This glue has no such figure (one-part glue has no pot life).
        """
        for each in self.figures:
            if each.name == name:
                return each
        raise NoSuchTimber(f"{self.family.name}: the data sheet has no {name}; give it from the maker's sheet.")

    def has(self, name: str) -> bool:
        """Whether the sheet has this figure."""
        return any(each.name == name for each in self.figures)

    def __getitem__(self, name: str) -> float:
        return self.figure(name).value

    @property
    def own(self) -> tuple[str, ...]:
        """Names of the figures that the builder gave."""
        return tuple(each.name for each in self.figures if each.own)

    @property
    def defaults(self) -> tuple[str, ...]:
        """Names of the figures that are still the family's defaults."""
        return tuple(each.name for each in self.figures if not each.own)

    def time(self, name: str, temperature_c: ArrayLike) -> NDArray[np.float64]:
        """A time of the sheet at a temperature, in the figure's own unit.

        Parameters
        ----------
        name : str
            One of `TIMES`.
        temperature_c : array_like, any shape
            Temperature of the glue [°C], -40 to 100.

        Returns
        -------
        ndarray, same shape
            With one figure: t(T) = t₀ 2^((T₀ - T)/H), H the sheet's halving_k. With several: straight between them in
            log t against 1/T (Arrhenius), and beyond them by the halving rule from the end one.

        Raises
        ------
        BadLamination
            A temperature is not finite or outside the range.

        References
        ----------
        .. [1] docs/glue-up.md, "Time and temperature": Arrhenius' law between the maker's figures; halving for each
           10 K warmer is common practice, no source (an activation energy of about 51 kJ/mol at 25 °C).

        Examples
        --------
        >>> sheet = data_sheet("epoxy", {"pot_life_min": 20})
        >>> sheet.time("pot_life_min", [10, 20, 30]).round(9).tolist()
        [40.0, 20.0, 10.0]
        """
        at = np.asarray(temperature_c, dtype=float)
        bad = np.flatnonzero(~((at >= -40) & (at <= 100)))
        if bad.size:
            raise BadLamination(f"temperature: {at.flat[bad[0]]:g} °C; give -40 to 100 °C.")
        points = self.figure(name).points
        known = np.array([temperature for temperature, _ in points])
        logs = np.log([time for _, time in points])
        inside = np.clip(at, known[0], known[-1])
        between = np.interp(-1 / (inside + _ZERO_C), -1 / (known + _ZERO_C), logs)
        return np.asarray(np.exp(between) * 2.0 ** ((inside - at) / self["halving_k"]))

    def to_mapping(self) -> dict[str, Any]:
        """What the builder gave, as plain values fit for JSON; `data_sheet(family, **this)` reads it back."""
        own = {
            each.name: [list(point) for point in each.points] if each.points else each.value
            for each in self.figures
            if each.own
        }
        sources = {each.source for each in self.figures if each.own}
        return {"own": own, "source": sources.pop() if sources else ""}


def data_sheet(family: str | Glue, own: Mapping[str, Any] | None = None, source: str = "") -> DataSheet:
    """Lay the builder's own figures over the defaults of a family, and remember which is which.

    Parameters
    ----------
    family : str or Glue
        Family of glue.
    own : mapping, optional
        Figures of the maker's data sheet, by the names of `FIGURES`: a number each; for a time also [[°C, time], ...].
        A bare time is at 20 °C.
    source : str
        What they were read from: 'data sheet of the tin, 2024'.

    Raises
    ------
    NoSuchTimber
        The family is not in the table.
    BadLamination
        A figure is not known, cannot be read, or is past all belief; or a least is above its most.

    Examples
    --------
    >>> sheet = data_sheet("epoxy", {"pot_life_min": [[15, 50], [25, 22]]}, "the tin")
    >>> sheet.own, sheet.figure("pot_life_min").text
    (('pot_life_min',), '50 min at 15 °C, 22 min at 25 °C')
    """
    base = glue(family) if isinstance(family, str) else family
    given = dict(own or {})
    if strange := [name for name in given if name not in FIGURES]:
        raise BadLamination(f"data sheet: {strange[0]!r} is not known; the figures are {', '.join(FIGURES)}.")
    said = source.strip() or "the builder's own, from the maker's data sheet"
    defaults: dict[str, tuple[float, str]] = {"spread_g_m2": (base.spread_g_m2, FROM_MEMORY)}
    defaults |= {name: (value, where) for name, value, where in base.figures}
    defaults |= {name: (value, "common practice, no source") for name, value in _OF_ALL.items()}
    found = []
    for name in FIGURES:
        if name in given:
            found.append(_figure(name, given[name], own=True, source=said))
        elif name in defaults:
            found.append(_figure(name, *defaults[name][:1], own=False, source=defaults[name][1]))
    sheet = DataSheet(base, tuple(found))
    for low, high in (("least_c", "most_c"), ("mc_low", "mc_high"), ("pressure_low_mpa", "pressure_high_mpa")):
        if sheet.has(low) and sheet.has(high) and sheet[low] > sheet[high]:
            raise BadLamination(f"data sheet: {low} {sheet[low]:g} is above {high} {sheet[high]:g}; look at both.")
    return sheet


def _figure(name: str, given: object, *, own: bool, source: str) -> Figure:
    what, unit, low, high = FIGURES[name]
    if name not in TIMES:
        return Figure(name, _believed(name, given, low, high, unit, what), unit, own, source)
    pairs = given if isinstance(given, Sequence) and not isinstance(given, str) else [[REFERENCE_C, given]]
    points: dict[float, float] = {}
    for pair in pairs:
        if not isinstance(pair, Sequence) or isinstance(pair, str) or len(pair) != 2:
            raise BadLamination(f"data sheet, {name}: found {pair!r}; give a number, or pairs of °C and {unit}.")
        at = _believed(name, pair[0], -40, 100, "°C", "temperature")
        points[at] = _believed(name, pair[1], low, high, unit, what)
    if not points or len(points) < len(pairs):
        raise BadLamination(f"data sheet, {name}: found {given!r}; give one time for each temperature.")
    rising = tuple(sorted(points.items()))
    for (cold, slow), (warm, quick) in pairwise(rising):
        if quick > slow:
            raise BadLamination(
                f"data sheet, {name}: {slow:g} {unit} at {cold:g} °C but {quick:g} at {warm:g} °C; "
                "a warm glue is the quicker one."
            )
    return Figure(name, rising[0][1], unit, own, source, rising)


def _believed(name: str, given: object, low: float, high: float, unit: str, what: str) -> float:
    number = isinstance(given, (int, float)) and not isinstance(given, bool) and math.isfinite(given)
    if not number or not low <= float(given) <= high:  # type: ignore[arg-type]
        raise BadLamination(f"data sheet, {name} ({what}): found {given!r}; give {low:g} to {high:g} {unit}.".rstrip())
    return float(given)  # type: ignore[arg-type]
