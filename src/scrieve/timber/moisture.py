"""Moisture: what timber settles to in the air of the shed, the dew point, and movement across the grain."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from scrieve.errors import BadLamination

#: Range in which the movement coefficients hold [% moisture content], Wood Handbook table 13-5.
MOVEMENT_RANGE = (6.0, 14.0)

_MAGNUS_A, _MAGNUS_B = 17.625, 243.04


def equilibrium_moisture(temperature_c: ArrayLike, humidity: ArrayLike) -> NDArray[np.float64]:
    """Moisture content that timber settles to.

    Parameters
    ----------
    temperature_c : array_like
        Air temperature [°C], -1.1 to 54 as tabulated.
    humidity : array_like, broadcast with `temperature_c`
        Relative humidity [%], above 0, below 100.

    Returns
    -------
    ndarray
        Equilibrium moisture content [% of ovendry mass]; an average of all species, moved by sorption history.

    Raises
    ------
    BadLamination
        A humidity is not above 0 and below 100 %, or a temperature is outside -20 to 70 °C.

    References
    ----------
    .. [1] Wood Handbook eq. 4-5 (Hailwood and Horrobin, fitted by Simpson), °C form; within 0.06 % of table 4-2.

    Examples
    --------
    >>> round(float(equilibrium_moisture(20, 65)), 3)
    11.996
    """
    t = _within("temperature", temperature_c, -20, 70, "°C")
    h = _humidity(humidity) / 100
    w = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    upper, lower = k1 * kh + 2 * k1 * k2 * kh**2, 1 + k1 * kh + k1 * k2 * kh**2
    return np.asarray(1800 / w * (kh / (1 - kh) + upper / lower))


def dew_point(temperature_c: ArrayLike, humidity: ArrayLike) -> NDArray[np.float64]:
    """Temperature at which the air of the shed begins to wet cold timber [°C].

    Parameters
    ----------
    temperature_c, humidity : array_like
        Air temperature [°C], -40 to 60; relative humidity [%].

    Raises
    ------
    BadLamination
        A humidity is not above 0, up to 100 %, or a temperature is outside the range.

    References
    ----------
    .. [1] Magnus form with a = 17.625, b = 243.04 °C (Alduchov and Eskridge 1996), 0.35 °C.

    Examples
    --------
    >>> round(float(dew_point(20, 50)), 3)
    9.261
    """
    t = _within("temperature", temperature_c, -40, 60, "°C")
    gamma = np.log(_humidity(humidity, top=100.0) / 100) + _MAGNUS_A * t / (_MAGNUS_B + t)
    return np.asarray(_MAGNUS_B * gamma / (_MAGNUS_A - gamma))


def change_across(
    size_mm: ArrayLike, coefficient: ArrayLike, before: ArrayLike, after: ArrayLike
) -> NDArray[np.float64]:
    """Change of a size across the grain [mm], above zero where it swells.

    Parameters
    ----------
    size_mm, coefficient, before, after : array_like
        Size at the moisture content `before` [mm]; movement per 1 % (tangential for a flat-sawn face, radial for a
        quarter-sawn one); moisture contents [%]. Outside 6 to 14 % the figure is indicative only.

    Raises
    ------
    BadLamination
        A moisture content is below 0 or above 30 %.

    References
    ----------
    .. [1] Wood Handbook eq. 13-2: ΔD = D C ΔM.

    Examples
    --------
    >>> round(float(change_across(200, 0.00365, 12, 8)), 2)
    -2.92
    """
    first = _within("moisture content before", before, 0, 30, "%")
    last = _within("moisture content after", after, 0, 30, "%")
    return np.asarray(np.asarray(size_mm, dtype=float) * np.asarray(coefficient, dtype=float) * (last - first))


def bend_by_drying(coefficient: ArrayLike, before: ArrayLike, after: ArrayLike) -> NDArray[np.float64]:
    """Share by which a bent member's curvature grows as it dries: it gets thinner, its length stays [-].

    Parameters
    ----------
    coefficient, before, after : array_like
        Movement per 1 % through the depth (radial for flat-sawn laminations); moisture contents [%].

    Returns
    -------
    ndarray
        1/(1 + C ΔM) - 1, above zero where it dries: both faces keep their lengths L, so (L_out - L_in) = θ h and the
        angle turned grows as the depth h shrinks.

    Raises
    ------
    BadLamination
        A moisture content is below 0 or above 30 %.

    Examples
    --------
    >>> round(float(bend_by_drying(0.00169, 14, 10)), 5)  # white ash, 4 % drier: 0.7 % more bend
    0.00681
    """
    return np.asarray(1 / (1 + change_across(1.0, coefficient, before, after)) - 1)


def humidity_for(moisture: float, temperature_c: float) -> float:
    """Relative humidity in which timber settles to a moisture content [%]: `equilibrium_moisture` turned round.

    Raises
    ------
    BadLamination
        The moisture content is not one to which timber settles between 1 and 99 % humidity at this temperature.

    Examples
    --------
    >>> round(humidity_for(11.996, 20), 1)
    65.0
    """
    low, high = (float(equilibrium_moisture(temperature_c, humidity)) for humidity in (1.0, 99.0))
    if not low <= moisture <= high:
        raise BadLamination(
            f"moisture content: {moisture:g} %; at {temperature_c:g} °C timber settles to {low:.1f} to {high:.1f} %."
        )
    return float(brentq(lambda humidity: float(equilibrium_moisture(temperature_c, humidity)) - moisture, 1.0, 99.0))


def _humidity(given: ArrayLike, top: float = 99.9) -> NDArray[np.float64]:
    return _within("relative humidity", given, 0.1, top, "%")


def _within(name: str, given: ArrayLike, low: float, high: float, unit: str) -> NDArray[np.float64]:
    values = np.asarray(given, dtype=float)
    bad = np.flatnonzero(~((values >= low) & (values <= high)))
    if bad.size:
        raise BadLamination(f"{name}: {values.flat[bad[0]]:g} {unit}; give {low:g} to {high:g} {unit}.")
    return values
