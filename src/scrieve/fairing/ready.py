"""Marks made ready for the surface: in order along their frames, and counted between heel, knuckles and head."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scrieve.boat import Boat
from scrieve.errors import CannotFair
from scrieve.fairing.features import (
    LEAST_MARKS,
    Features,
    fair_knuckles,
    find_features,
    guides,
    shares,
    smooth_beyond,
    surface_grid,
)
from scrieve.fairing.lines import start_shape
from scrieve.fairing.smoother import Grid, Rows
from scrieve.fairing.tracks import Track, tracks
from scrieve.takeoff.marks import Mark

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Ready:
    """Marks made ready for fairing: in order along their frames, with the feature lines that they are counted between.

    `v` (n,) is the first guess of each mark's share of the girth; `pinned`, `held` and `dropped` (n,) say which marks
    are an end or a knuckle, which always count, and which never.
    """

    x: Array
    points: Array
    covariance: Array
    held: Flags
    dropped: Flags
    ways: tuple[Track, ...]
    features: Features
    girth: float
    v: Array
    pinned: Flags

    @classmethod
    def of(cls, marks: Sequence[Mark], points: Array, boat: Boat, answers: Mapping[int, str]) -> Ready:
        """Sort the marks, fair the feature lines, and count each mark's share between them."""
        x = np.array([mark.station_mm for mark in marks])
        covariance = np.array([mark.covariance_mm2(boat.sigma_mm) for mark in marks])
        held, dropped = (np.array([answers.get(mark.number) == said for mark in marks]) for said in ("keep", "drop"))
        whole = [track for track in tracks(marks) if not dropped[track.index].all()]
        ways = tuple(replace(track, index=track.index[~dropped[track.index]]) for track in whole)
        girth = _usual_girth(ways, points)
        features = find_features(ways, marks, x, points, covariance, held, girth, whole)
        v, pinned = shares(ways, features, points)
        v[dropped], pinned[dropped] = 0.5, False
        # off its own line a named end stays out whatever the surface says: the surface knows less
        dropped = dropped | np.isin(np.arange(len(x)), list(features.doubted))
        return cls(x, points, covariance, held, dropped, ways, features, girth, v, pinned)

    def grid(self, *, coarse: bool) -> tuple[Grid, Array, tuple[Rows, ...], tuple[Rows, ...]]:
        """A grid for the surface, the plain shape to begin from, what guides it, and what keeps its knuckles fair."""
        grid = surface_grid(self.ways, self.features, self.girth, coarse=coarse)
        counts = ~self.dropped
        start = start_shape(grid, self.x[counts], self.v[counts], self.points[counts])
        usual_sd = float(np.sqrt(np.median(np.trace(self.covariance, axis1=1, axis2=2)) / 2))
        ends = guides(grid, self.ways, self.features, self.dropped, usual_sd)
        beyond = smooth_beyond(grid, self.ways, self.features, self.girth)
        return grid, start, (*ends, *beyond), fair_knuckles(grid, self.features)

    @property
    def knuckles(self) -> dict[float, tuple[float, float]]:
        """From where to where each knuckle runs, by its share of the girth [mm]."""
        runs = zip(self.features.v.tolist(), self.features.span.tolist(), strict=True)
        return {at: (low, high) for at, (low, high) in runs if 0 < at < 1}


def _usual_girth(ways: Sequence[Track], points: Array) -> float:
    """Length of a usual frame along its marks [mm]."""
    whole = [
        float(np.hypot(*np.diff(points[track.index], axis=0).T).sum())
        for track in ways
        if track.index.size >= LEAST_MARKS
    ]
    if not whole:
        raise CannotFair(
            f"no side of any frame has {LEAST_MARKS} marks; leave the side empty where a mark stands for both."
        )
    return max(float(np.median(whole)), 1.0)
