"""B-splines: the values, derivatives and energies that smoothing asks for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import factorial, perm

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import BSpline

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Basis:
    """A B-spline basis of one variable.

    Attributes
    ----------
    breaks : ndarray (m,)
        Rising places where the polynomial pieces meet, ends included; a place given `degree` times makes a knuckle.
    degree : int
        Polynomial degree (3: cubic).
    """

    breaks: Array
    degree: int = 3

    @cached_property
    def knots(self) -> Array:
        """Breaks with the ends repeated to full multiplicity."""
        first, last = self.breaks[0], self.breaks[-1]
        return np.concatenate([np.full(self.degree, first), self.breaks, np.full(self.degree, last)])

    @property
    def size(self) -> int:
        """Number of basis functions."""
        return len(self.breaks) + self.degree - 1

    @cached_property
    def _pieces(self) -> tuple[Array, NDArray[np.intp], Array]:
        """Starts of the polynomial pieces, the first basis function of each, and their local Taylor coefficients."""
        first = np.flatnonzero(np.diff(self.knots) > 0)
        start = self.knots[first]
        whole = BSpline(self.knots, np.eye(self.size), self.degree)
        local = (first - self.degree)[:, None] + np.arange(self.degree + 1)
        taylor = [
            np.take_along_axis(whole(start, nu=order), local, axis=1) / factorial(order)
            for order in range(self.degree + 1)
        ]
        return start, first - self.degree, np.stack(taylor)

    def row(self, x: ArrayLike, order: int = 0) -> tuple[NDArray[np.intp], Array]:
        """The `degree` + 1 functions that are not zero at each x: the first one's index (n,) and values (n, degree+1).

        Beyond the ends the first or last piece goes on. `order` is the order of the derivative.
        """
        at = np.atleast_1d(np.asarray(x, dtype=float))
        start, first, taylor = self._pieces
        piece = np.clip(np.searchsorted(start, at, side="right") - 1, 0, len(start) - 1)
        step = (at - start[piece])[:, None]
        value = np.zeros((len(at), self.degree + 1))
        for power in range(self.degree, order - 1, -1):
            value = value * step + taylor[power][piece] * perm(power, order)
        return first[piece], value

    def dense(self, x: ArrayLike, order: int = 0) -> Array:
        """All functions at each x, (n, size)."""
        first, value = self.row(x, order)
        full = np.zeros((len(first), self.size))
        np.put_along_axis(full, first[:, None] + np.arange(self.degree + 1), value, axis=1)
        return full

    def energy(self, order: int, weight: Callable[[Array], Array] | None = None) -> Array:
        """Matrix (size, size) of ∫ Bᵢ⁽ᵒʳᵈᵉʳ⁾ Bⱼ⁽ᵒʳᵈᵉʳ⁾ over the range by Gauss quadrature, exact where all weighs 1.

        `weight` gives what each place along the range counts.
        """
        node, share = np.polynomial.legendre.leggauss(self.degree + 1)
        breaks = np.unique(self.breaks)
        half = np.diff(breaks)[:, None] / 2
        at = (breaks[:-1, None] + half + half * node).ravel()
        values = self.dense(at, order)
        count = (half * share).ravel() * (weight(at) if weight else 1.0)
        return np.asarray(values.T @ (values * count[:, None]))
