"""Curvature of a strip of the hull: along the plank's run, square to it, and the twist between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_STEP = 1e-3


class Patch(Protocol):
    """A strip of surface over [0, 1]²: u along the plank, w across it from the lower edge to the upper."""

    def __call__(self, u: Array, w: Array) -> tuple[Array, Array, Array]:
        """Points and first derivatives by u and by w, each (..., 3) [mm]; `u` and `w` have one shape."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Bends:
    """Curvature at points of a strip, each of the points' shape [1/mm]; above zero where hollow inboard.

    `along` is that of the line of equal w, `across` square to it; `twist` is the turn of the hull per mm along, above
    zero where the outside turns upwards going aft. `speed` is the length along per unit of u, `reach` the width square
    to the run per unit of w [mm].
    """

    along: Array
    across: Array
    twist: Array
    speed: Array
    reach: Array


def inboard_normal(patch: Patch, u: Array, w: Array) -> Array:
    """Unit normal (..., 3), inboard where u runs aft, w up and the hull lies out to the side (y > 0)."""
    _, along, over = patch(u, w)
    return unit(np.cross(along, over))


def bends(patch: Patch, u: Array, w: Array) -> Bends:
    """Curvature of a strip at points (u, w), from the turn of its normal over 1/1000 of its run and width."""
    _, along, over = patch(u, w)
    speed = np.linalg.norm(along, axis=-1)
    run = along / speed[..., None]
    square = np.cross(unit(np.cross(along, over)), run)
    u_low, u_high = np.maximum(u - _STEP, 0), np.minimum(u + _STEP, 1)
    w_low, w_high = np.maximum(w - _STEP, 0), np.minimum(w + _STEP, 1)
    by_u = (inboard_normal(patch, u_high, w) - inboard_normal(patch, u_low, w)) / (u_high - u_low)[..., None]
    by_w = (inboard_normal(patch, u, w_high) - inboard_normal(patch, u, w_low)) / (w_high - w_low)[..., None]
    reach = np.sum(over * square, axis=-1)
    lengthwise = np.sum(over * run, axis=-1)
    turn_along = by_u / speed[..., None]
    turn_across = (by_w - turn_along * lengthwise[..., None]) / reach[..., None]
    return Bends(
        along=-np.sum(turn_along * run, axis=-1),
        across=-np.sum(turn_across * square, axis=-1),
        twist=-np.sum(turn_along * square, axis=-1),
        speed=speed,
        reach=reach,
    )


def unit(vectors: Array) -> Array:
    """Vectors (..., 3) made of length one."""
    return np.asarray(vectors / np.linalg.norm(vectors, axis=-1, keepdims=True))
