"""The invented hull of the Merganser: one closed formula for the whole of her moulded surface.

The surface is a polynomial of degree 5 in the station and in a girth parameter v, written in Bernstein's basis, so
that the numbers of `NET` can be read as a rough carving of her: six sections from stem to transom, six points each
from the rabbet to the sheer. Everything (slopes, curvature, bevel) follows by differentiating the polynomial.

As she lies she is no longer quite as built: her keel has hogged, taking the whole hull with it, and the port side
has sprung a little amidships. Both are smooth formulas too, so what the marks should lead back to is known exactly.

She is invented: no vessel, yard or person is meant. Axes: x aft from the fore side of the stem, half-breadth out from
the centreplane, height up from the baseline; mm.
"""

from __future__ import annotations

from math import comb
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

LENGTH_MM = 13600.0
HOG_MM = 8.0  # drop of the two ends against the middle
SPRUNG_MM = 5.0  # the port sheer amidships, out from where it was built

#: (section, point, (half-breadth, height)): six sections evenly spaced from x = 0 to 13600, rabbet to sheer.
NET = np.array(
    [
        [(40, 580), (40, 856), (40, 1132), (40, 1408), (42, 1684), (46, 1960)],
        [(52, 235), (120, 420), (210, 640), (330, 940), (540, 1300), (950, 1720)],
        [(62, 215), (540, 290), (1080, 340), (1400, 640), (1450, 1130), (1560, 1510)],
        [(66, 215), (700, 330), (1660, 370), (1750, 780), (1650, 1080), (1600, 1360)],
        [(60, 290), (660, 400), (1440, 440), (1580, 820), (1490, 1110), (1400, 1375)],
        [(48, 470), (540, 545), (1130, 570), (1240, 900), (1140, 1190), (1050, 1470)],
    ],
    dtype=float,
)


def _bernstein(t: Array, degree: int = 5) -> Array:
    """(..., degree + 1): Bernstein's polynomials at t."""
    i = np.arange(degree + 1)
    ways = np.array([comb(degree, int(k)) for k in i], dtype=float)
    return np.asarray(ways * t[..., None] ** i * (1 - t[..., None]) ** (degree - i))


def _net_at(u: Array, v: Array, du: int = 0, dv: int = 0) -> Array:
    """(..., 2): the built hull's half-breadth and height, or their du-th and dv-th derivatives by u and v."""
    net = NET
    for _ in range(du):
        net = (len(net) - 1) * np.diff(net, axis=0)
    for _ in range(dv):
        net = (net.shape[1] - 1) * np.diff(net, axis=1)
    along, across = _bernstein(u, len(net) - 1), _bernstein(v, net.shape[1] - 1)
    return np.asarray(np.einsum("...i,...j,ijk->...k", along, across, net))


def _moved(u: Array, v: Array, side: str, du: int = 0, dv: int = 0) -> Array:
    """(..., 2): how far the hull as she lies stands off the built one, or a derivative of that (du to 1, dv to 2)."""
    if side == "built":
        return np.zeros((*np.shape(u), 2))
    if side not in ("P", "S", ""):
        raise ValueError(f"side: found {side!r}; give 'P', 'S', '' (their mean) or 'built'.")
    sprung = {"P": SPRUNG_MM, "S": 0.0, "": SPRUNG_MM / 2}[side]
    along = np.sin(np.pi * u) ** 2 if du == 0 else np.pi * np.sin(2 * np.pi * u)
    across = [v**2, 2 * v, np.full_like(v, 2.0)][dv]
    hog = -((2 * u - 1) ** 2) if du == 0 else -4 * (2 * u - 1)
    return np.stack([sprung * along * across, HOG_MM * hog * (dv == 0)], axis=-1)


def _at(x: ArrayLike, v: ArrayLike, side: str, du: int = 0, dv: int = 0) -> Array:
    u, share = np.broadcast_arrays(np.asarray(x, dtype=float) / LENGTH_MM, np.asarray(v, dtype=float))
    return (_net_at(u, share, du, dv) + _moved(u, share, side, du, dv)) / LENGTH_MM**du


def surface(x: ArrayLike, v: ArrayLike, side: str = "") -> Array:
    """Points (..., 3) of the moulded surface: x, half-breadth, height [mm].

    `x` [mm] and `v` broadcast. `v` runs 0 at the rabbet to 1 at the sheer; it is the formula's own parameter, near to
    the share of the girth but not the same (`section` goes by arc length). `side` is 'P' or 'S' as she lies, '' for
    the mean of the two, 'built' for the hull as launched.
    """
    plane = _at(x, v, side)
    return np.concatenate([np.broadcast_to(np.asarray(x, dtype=float), plane.shape[:-1])[..., None], plane], axis=-1)


def partials(x: ArrayLike, v: ArrayLike, side: str = "") -> tuple[Array, Array]:
    """First derivatives of `surface` by x and by v, each (..., 3)."""
    by_x, by_v = _at(x, v, side, du=1), _at(x, v, side, dv=1)
    ones = np.ones((*by_x.shape[:-1], 1))
    return np.concatenate([ones, by_x], axis=-1), np.concatenate([0 * ones, by_v], axis=-1)


class Line(NamedTuple):
    """The true moulded line at one station, heel to head; arrays (n,)."""

    s_mm: Array
    half_breadth_mm: Array
    height_mm: Array
    bevel_rad: Array
    curvature_per_mm: Array


def section(x: float, n: int = 200, side: str = "") -> Line:
    """The true moulded line at station `x` [mm]: n points evenly spaced by arc length from rabbet to sheer.

    Bevel: atan of the slope fore and aft square to the line, above zero where she swells going aft. Curvature: above
    zero where the frame is hollow inboard, as at the bilge.
    """
    return section_at(x, np.linspace(0.0, 1.0, n), side)


def section_at(x: float, shares: ArrayLike, side: str = "") -> Line:
    """The true moulded line at station `x` [mm], at these shares (0 to 1) of its girth from rabbet to sheer."""
    fine = np.linspace(0.0, 1.0, 2001)
    by_v = _at(x, fine, side, dv=1)
    speed = np.hypot(by_v[:, 0], by_v[:, 1])
    middle = np.linalg.norm(_at(x, (fine[1:] + fine[:-1]) / 2, side, dv=1), axis=-1)
    arc = np.concatenate([[0.0], np.cumsum((speed[1:] + 4 * middle + speed[:-1]) / 6 * np.diff(fine))])  # Simpson
    s = np.asarray(shares, dtype=float) * arc[-1]
    v = np.interp(s, arc, fine)  # within 0.0002 mm of arc
    plane, by_x, by_v = _at(x, v, side), _at(x, v, side, du=1), _at(x, v, side, dv=1)
    by_vv = _at(x, v, side, dv=2)
    speed = np.hypot(by_v[:, 0], by_v[:, 1])
    outward = np.stack([by_v[:, 1], -by_v[:, 0]], axis=-1) / speed[:, None]
    curvature = (by_v[:, 0] * by_vv[:, 1] - by_v[:, 1] * by_vv[:, 0]) / speed**3
    return Line(s, plane[:, 0], plane[:, 1], np.arctan(np.sum(by_x * outward, axis=-1)), curvature)


def off_the_line(points: ArrayLike, x: float, side: str = "") -> Array:
    """How far each point (m, 2: half-breadth, height) stands outside the true line at `x`, square to it [mm]."""
    p = np.asarray(points, dtype=float)
    line = section(x, 2001, side)
    true = np.stack([line.half_breadth_mm, line.height_mm], axis=-1)
    nearest = np.argmin(np.sum((p[:, None] - true) ** 2, axis=-1), axis=1)
    along = np.gradient(true, line.s_mm, axis=0, edge_order=2)[nearest]
    off = p - true[nearest]
    return np.asarray(off[:, 0] * along[:, 1] - off[:, 1] * along[:, 0])
