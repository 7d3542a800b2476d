"""What a surface must offer to be sectioned, bevelled or expanded."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


class Surface(Protocol):
    """A smooth surface over the station x [mm] and the share v of the girth, 0 at the heel to 1 at the head."""

    def point(self, x: ArrayLike, v: ArrayLike) -> Array:
        """Points (..., 3): x aft, y out to the side, z up [mm]; `x` and `v` broadcast."""
        ...

    def partials(self, x: ArrayLike, v: ArrayLike) -> tuple[Array, Array]:
        """First derivatives of the point by x and by v, each (..., 3)."""
        ...
