"""The hull as lining off sees it: at each frame the girth, and at any girth its point, direction and turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadPlank
from scrieve.planking.seams import Hull, girths, place, station_of

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FrameAt:
    """A frame or station at which seams are marked; `label` is empty where no frame stands there."""

    label: str
    x_mm: float


def frames_between(hull: Hull, first_mm: float, last_mm: float, chosen: Sequence[str] = ()) -> tuple[FrameAt, ...]:
    """The frames at which to mark seams, in order: those chosen or all there are, and both ends of the region.

    Raises
    ------
    BadPlank
        Fewer than three places, or a chosen one lies outside the region.
    NoSuchFrame
        A chosen frame is neither a frame nor a number.
    """
    names = {float(x): label for label, x in hull.stations.items()}
    if chosen:
        at = [station_of(hull, frame) for frame in chosen]
        for x in at:
            if not first_mm - 0.5 <= x <= last_mm + 0.5:
                raise BadPlank(
                    f"{place(hull, x)} lies outside the region to line off, which runs from {place(hull, first_mm)} to "
                    f"{place(hull, last_mm)}; leave it out."
                )
    else:
        at = [x for x in names if first_mm - 0.5 <= x <= last_mm + 0.5]
    for end in (first_mm, last_mm):
        if all(abs(x - end) >= 0.5 for x in at):
            at.append(end)
    at = sorted(set(at))
    if len(at) < 3:
        raise BadPlank(f"lining off needs three frames or more; between {place(hull, first_mm)} and "
                       f"{place(hull, last_mm)} there are {len(at)}.")  # fmt: skip
    near = [i for i in range(len(at) - 1) if at[i + 1] - at[i] < 1.0]
    if near:
        raise BadPlank(f"two marks at {place(hull, at[near[0]])}; keep one.")
    return tuple(FrameAt(names.get(x, ""), x) for x in at)


@dataclass(frozen=True, slots=True, eq=False)
class Girths:
    """Girths of a hull at its frames: `v` (p,) shares, `girth` and `speed` (k, p) girth and its derivative by v."""

    hull: Hull
    frames: tuple[FrameAt, ...]
    x: Array
    v: Array
    girth: Array
    speed: Array
    turn: Array

    @classmethod
    def of(cls, hull: Hull, frames: Sequence[FrameAt]) -> Girths:
        """Measure the hull at these frames."""
        x = np.array([frame.x_mm for frame in frames])
        v, girth = girths(hull, x)
        _, by_v = hull.partials(x[:, None], v)
        turn = np.unwrap(np.arctan2(by_v[..., 2], by_v[..., 1]), axis=-1)
        return cls(hull, tuple(frames), x, v, girth, np.linalg.norm(by_v, axis=-1), turn)

    @property
    def whole(self) -> Array:
        """Girth from heel to head at each frame (k,) [mm]."""
        return np.asarray(self.girth[:, -1])

    def share(self, at: ArrayLike) -> Array:
        """Share v at girths `at` (..., k) [mm], the last axis going over the frames."""
        g = np.asarray(at, dtype=float)
        k = np.arange(len(self.x))
        i = np.clip(np.sum(g[..., None] >= self.girth[:, 1:-1], axis=-1), 0, len(self.v) - 2)
        low, high = self.girth[k, i], self.girth[k, i + 1]
        s = (g - low) / (high - low)
        slopes = [(high - low) / self.speed[k, j] for j in (i, i + 1)]
        return np.asarray(
            self.v[i] * (1 + 2 * s) * (1 - s) ** 2
            + self.v[i + 1] * s**2 * (3 - 2 * s)
            + slopes[0] * s * (1 - s) ** 2
            - slopes[1] * s**2 * (1 - s)
        )

    def girth_at(self, share: ArrayLike) -> Array:
        """Girth [mm] at shares (..., k) of it, the last axis going over the frames."""
        v = np.asarray(share, dtype=float)
        k = np.arange(len(self.x))
        step = self.v[1]
        i = np.clip((v / step).astype(int), 0, len(self.v) - 2)
        s = v / step - i
        low, high = self.girth[k, i], self.girth[k, i + 1]
        slopes = [self.speed[k, j] * step for j in (i, i + 1)]
        return np.asarray(
            low * (1 + 2 * s) * (1 - s) ** 2
            + high * s**2 * (3 - 2 * s)
            + slopes[0] * s * (1 - s) ** 2
            - slopes[1] * s**2 * (1 - s)
        )

    def turned(self, at: ArrayLike) -> tuple[Array, Array]:
        """Angle [rad] to which the frame has turned at girths (..., k), and its derivative by the girth [1/mm]."""
        v = self.share(at)
        k = np.arange(len(self.x))
        step = self.v[1]
        i = np.clip((v / step).astype(int), 0, len(self.v) - 2)
        s = v / step - i
        low, high = self.turn[k, i], self.turn[k, i + 1]
        along = self.girth[k, i + 1] - self.girth[k, i]
        return np.asarray(low + s * (high - low)), np.asarray((high - low) / along)
