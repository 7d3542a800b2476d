"""The cure of a glue at the temperature it really had: how far it is, and when the clamps may come off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadLamination
from scrieve.timber.data_sheet import DataSheet

#: Cure is summed in steps no longer than this [h].
_STEP_H = 0.05

#: Nobody waits longer than this [h]; cure is not projected past it.
LONGEST_H = 2000.0


@dataclass(frozen=True, slots=True, eq=False)
class Cure:
    """How far a glue has cured by a log of temperatures.

    Attributes
    ----------
    share : float
        At the end of the log, 1 being the sheet's time; may be above 1.
    release_h : float or None
        Hours from the start at which it reaches 1; None where it never does at the last temperature.
    projected : bool
        Whether that lies past the end of the log, the last temperature held.
    equivalent_h : float
        Hours at 20 °C that the log amounts to.
    coldest_c : float
        Lowest temperature of the log.
    cold_h : float
        Hours below the sheet's least temperature; they are not counted.
    hours, shares : ndarray (n,)
        The curve.
    """

    share: float
    release_h: float | None
    projected: bool
    equivalent_h: float
    coldest_c: float
    cold_h: float
    hours: NDArray[np.float64]
    shares: NDArray[np.float64]


def cure(sheet: DataSheet, log: Sequence[tuple[float, float]], what: str = "clamp_h") -> Cure:
    """Sum the cure of a glue over a log of temperatures.

    Parameters
    ----------
    sheet : DataSheet
    log : sequence of (hour, temperature)
        Hours since the joint was closed and temperature at the glue line [°C], straight between entries; a single
        entry is a constant temperature, and the first holds back to hour 0.
    what : 'clamp_h' or 'full_cure_h'
        Which time of the sheet is 1.

    Returns
    -------
    Cure
        Share = ∫ dt / t(T): time is used up at the rate of the temperature it had. Hours below the sheet's least
        temperature count for nothing.

    Raises
    ------
    BadLamination
        The log is empty, its hours do not rise or are below 0, or a temperature is outside -40 to 100 °C.

    References
    ----------
    .. [1] docs/glue-up.md, "Cure": equivalent age by Arrhenius' law.

    Examples
    --------
    >>> from scrieve.timber.data_sheet import data_sheet
    >>> sheet = data_sheet("epoxy", {"clamp_h": 24})
    >>> cure(sheet, [(0, 15)]).release_h, cure(sheet, [(0, 5)]).release_h  # 24 h at 20 °C; nothing below 10 °C
    (33.94, None)
    """
    hours, temperatures = _checked(log)
    least = sheet["least_c"]
    grid = _grid(hours, temperatures, least)
    at = np.interp(grid, hours, temperatures)
    rate = 1 / sheet.time(what, at)
    used = _between(rate, at, least) * np.diff(grid)
    shares = np.concatenate([[0.0], np.cumsum(used)])
    cold = float(np.diff(grid)[(at[1:] + at[:-1]) / 2 < least].sum())
    last_rate = float(rate[-1]) if temperatures[-1] >= least else 0.0
    share = float(shares[-1])
    projected = share < 1
    release: float | None
    if not projected:
        first = int(np.searchsorted(shares, 1.0))
        release = float(np.interp(1.0, shares[first - 1 : first + 1], grid[first - 1 : first + 1]))
    else:
        release = float(grid[-1] + (1 - share) / last_rate) if last_rate > 0 else None
        if release is not None and release > LONGEST_H:
            release = None
    reference = float(sheet.time(what, 20.0))
    return Cure(
        share=share,
        release_h=None if release is None else round(release, 2),
        projected=projected,
        equivalent_h=share * reference,
        coldest_c=float(temperatures.min()),
        cold_h=cold,
        hours=grid,
        shares=shares,
    )


def _checked(log: Sequence[tuple[float, float]]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    if not log:
        raise BadLamination("the log of temperatures is empty; give at least one temperature.")
    try:
        table = np.array([(float(hour), float(at)) for hour, at in log])
    except (TypeError, ValueError) as error:
        raise BadLamination(f"log of temperatures: found {list(log)!r}; give pairs of hour and °C.") from error
    hours, at = table[:, 0], table[:, 1]
    if not np.isfinite(table).all() or hours[0] < 0 or np.any(np.diff(hours) <= 0):
        raise BadLamination("log of temperatures: the hours must rise from 0; put the entries in order.")
    if hours[-1] > LONGEST_H:
        raise BadLamination(f"log of temperatures: it runs to {hours[-1]:g} h; give {LONGEST_H:g} h at most.")
    return hours, at


def _grid(hours: NDArray[np.float64], at: NDArray[np.float64], least: float) -> NDArray[np.float64]:
    """Fine hours from 0 to the log's end, with every entry and every crossing of the least temperature among them."""
    end = float(hours[-1])
    points = [np.arange(0, end, _STEP_H), hours, np.zeros(1)]
    below = at < least
    cross = np.flatnonzero(below[1:] != below[:-1])
    points.append(hours[cross] + (least - at[cross]) / (at[cross + 1] - at[cross]) * (hours[cross + 1] - hours[cross]))
    return np.unique(np.concatenate(points))


def _between(rate: NDArray[np.float64], at: NDArray[np.float64], least: float) -> NDArray[np.float64]:
    """Mean rate over each step: exact where log rate runs straight (the logarithmic mean), nought where too cold."""
    first, last = rate[:-1], rate[1:]
    ratio = np.log(last / first)
    small = np.abs(ratio) < 1e-9
    mean = np.where(small, (first + last) / 2, (last - first) / np.where(small, 1.0, ratio))
    return np.asarray(np.where((at[1:] + at[:-1]) / 2 < least, 0.0, mean))
