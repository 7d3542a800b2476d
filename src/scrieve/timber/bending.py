"""Bending: strain and stress of a lamination laid to a radius, handbook limits, and time in the steam box."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadLamination, above_zero
from scrieve.timber.species import Group

Array = NDArray[np.float64]

#: Least R/t of a lamination: NDS, 100 for hardwoods and southern pine, 125 for other softwoods.
LEAST_RATIO: dict[Group, float] = {"hardwood": 100.0, "southern pine": 100.0, "softwood": 125.0}

#: Least R/t of a strip steamed and bent without a strap (C. Whinney, Wood & Steam: above 20 easy, below 10 a strap).
LEAST_STEAMED_RATIO = 10.0

#: DIN 1052:2008 / EN 14080:2005: greatest thickness [mm] and the R/t from which it may be used, by service class.
_DIN = {1: (45.0, 230.0), 2: (45.0, 230.0), 3: (35.0, 205.0)}

#: Steam at 100 °C: minutes per 25 mm of thickness, any width.
STEAM_MINUTES_PER_25_MM = 60.0


def bending_strain(thickness_mm: ArrayLike, radius_mm: ArrayLike) -> Array:
    """Strain of the outer fibre of a lamination bent to a radius at its middle: t / 2R [-].

    Raises
    ------
    BadLamination
        A thickness or radius is not above zero (a straight lamination has radius inf).

    References
    ----------
    .. [1] Beam theory.

    Examples
    --------
    >>> float(bending_strain(10, 1000))
    0.005
    """
    return np.asarray(above_zero("thickness", thickness_mm, "mm") / (2 * _radius(radius_mm)))


def bending_stress(thickness_mm: ArrayLike, radius_mm: ArrayLike, modulus_mpa: ArrayLike) -> Array:
    """Elastic stress of the outer fibre of a lamination bent to a radius: E t / 2R [N/mm²].

    Examples
    --------
    >>> round(float(bending_stress(33, 8000, 13000)), 1)
    26.8
    """
    return np.asarray(above_zero("modulus", modulus_mpa, "N/mm²") * bending_strain(thickness_mm, radius_mm))


def curvature_factor(thickness_mm: ArrayLike, radius_mm: ArrayLike) -> Array:
    """Share of bending strength left to a curved laminated member: 1 - 2000 (t/R)² [-].

    Raises
    ------
    BadLamination
        A thickness or radius is not above zero.

    Notes
    -----
    Meant for t/R up to 1/100 (hardwoods, southern pine) or 1/125 (other softwoods), in the curved part only; beyond
    that it says only that the lamination is too thick, and it is not let fall below zero. Tests on thin clear
    laminations found it cautious (Woodson and Wangaard 1969).

    References
    ----------
    .. [1] NDS and AITC, from Wilson 1939, as printed in a civil engineer's formula book (eq. 6.29).

    Examples
    --------
    >>> round(float(curvature_factor(0.9, 90)), 3)
    0.8
    """
    ratio = above_zero("thickness", thickness_mm, "mm") / _radius(radius_mm)
    return np.asarray(np.maximum(1 - 2000 * ratio**2, 0.0))


def eurocode_curvature_factor(inner_radius_mm: ArrayLike, thickness_mm: ArrayLike) -> Array:
    """Factor k_r of Eurocode 5, 6.4.3: 1 from r_in/t = 240, below that 0.76 + 0.001 r_in/t [-].

    Examples
    --------
    >>> eurocode_curvature_factor([150, 200, 240], 1).round(3).tolist()
    [0.91, 0.96, 1.0]
    """
    ratio = _radius(inner_radius_mm) / above_zero("thickness", thickness_mm, "mm")
    return np.asarray(np.where(ratio >= 240, 1.0, 0.76 + 0.001 * ratio))


def greatest_thickness_by_ratio(radius_mm: float, ratio: float) -> float:
    """Greatest thickness for a radius by a limit on R/t [mm].

    Examples
    --------
    >>> greatest_thickness_by_ratio(6600, 200)
    33.0
    """
    return float(_radius(radius_mm) / above_zero("ratio", ratio, "(R/t)"))


def greatest_thickness_din(radius_mm: float, service_class: int = 3) -> float | None:
    """Greatest thickness by DIN 1052:2008 / EN 14080:2005 [mm]; None where R is below the printed ratio for it.

    Service class 3 is the weather: 35 mm from R = 205 t; classes 1 and 2: 45 mm from R = 230 t. At smaller ratios
    the standard asks for thinner laminations by a clause that is not at hand; look it up.

    Raises
    ------
    BadLamination
        The service class is not 1, 2 or 3.

    Examples
    --------
    >>> greatest_thickness_din(8000), greatest_thickness_din(4000)
    (35.0, None)
    """
    if service_class not in _DIN:
        raise BadLamination(f"service class {service_class!r} is not known; give 1, 2 or 3.")
    thickness, ratio = _DIN[service_class]
    return thickness if float(_radius(radius_mm)) >= ratio * thickness else None


def steam_minutes(thickness_mm: ArrayLike) -> Array:
    """Time in the steam box at 100 °C: one hour for each 25 mm of thickness, any width [min].

    Over-steaming wrinkles the inside of the bend. Vent the box: never seal it.

    References
    ----------
    .. [1] Supplier's leaflet and a frame maker's account, agreeing.

    Examples
    --------
    >>> float(steam_minutes(25))
    60.0
    """
    return np.asarray(STEAM_MINUTES_PER_25_MM / 25 * above_zero("thickness", thickness_mm, "mm"))


def _radius(given: ArrayLike) -> Array:
    values = np.asarray(given, dtype=float)
    if not np.all(values > 0):
        raise BadLamination(f"radius: {values.min():g} mm; give a value above zero, inf where straight.")
    return values
