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


def bends(patch: Patch, u: Array, w: Array) -> Bends:
    """Curvature of a strip at points (u, w), from the turn of its normal over 1/1000 of its run and width."""
    places = around(u, w)
    _, along, over = patch(*places)
    return bends_from(places, along, over)


def around(u: Array, w: Array) -> tuple[Array, Array]:
    """Points, and those a step beyond, before, above and below each as far as the strip goes: u and w, (5, ...)."""
    return (
        np.stack([u, np.minimum(u + _STEP, 1), np.maximum(u - _STEP, 0), u, u]),
        np.stack([w, w, w, np.minimum(w + _STEP, 1), np.maximum(w - _STEP, 0)]),
    )


def bends_from(places: tuple[Array, Array], along: Array, over: Array) -> Bends:
    """Curvature at the first of the places that `around` gave, from the strip's derivatives (5, ..., 3) at all."""
    u, w = places
    # inboard where u runs aft, w up and the hull lies out to the side (y > 0)
    normal, beyond, before, above, below = unit(np.cross(along, over))
    along, over = along[0], over[0]
    speed = np.linalg.norm(along, axis=-1)
    run = along / speed[..., None]
    square = np.cross(normal, run)
    by_u = (beyond - before) / (u[1] - u[2])[..., None]
    by_w = (above - below) / (w[3] - w[4])[..., None]
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
