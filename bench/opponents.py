"""General-purpose opponents of the fair hull, given the same marks: smoothing splines, and Gaussian processes.

Neither can find blunders or order the marks of a frame. Both are given the marks in order, the knuckles by name, and
either the marks as they were before any blunder was planted, or the blundered ones less those that ours named. A frame
whose heel or head is thus missing has it put in from its neighbours, by a cubic, to count its girth from.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import warnings
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import sklearn
from scipy.interpolate import PchipInterpolator, make_smoothing_spline
from sklearn.exceptions import ConvergenceWarning
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import RBF, ConstantKernel, Matern, WhiteKernel

from scrieve.takeoff.marks import Mark

CACHE = Path(__file__).parents[1] / "build" / "bench-cache.json"
KERNELS = {"Matérn 5/2": lambda scales: Matern(scales, (1e-2, 1e2), nu=2.5), "sq. exp.": lambda s: RBF(s, (1e-2, 1e2))}
#: station -> points (n, 2) of the section there
Sections = dict[float, np.ndarray]


def _frames(marks: Sequence[Mark], ways: int) -> list[tuple[float, np.ndarray, list[int]]]:
    """Station, points heel to head, and the places of the corners among them, of every frame."""
    whole = []
    ends: dict[str, list[tuple[float, np.ndarray]]] = {"heel": [], "head": []}
    groups: dict[float, list[Mark]] = {}
    for mark in marks:
        groups.setdefault(mark.station_mm, []).append(mark)
        if mark.kind in ends:
            ends[mark.kind].append((mark.station_mm, np.array([mark.half_breadth_mm, mark.height_mm])))
    lines = {
        kind: PchipInterpolator([x for x, _ in found], np.array([p for _, p in found])) for kind, found in ends.items()
    }
    for x, here in groups.items():
        points = [np.array([mark.half_breadth_mm, mark.height_mm]) for mark in here]
        corners = [i for i, mark in enumerate(here) if mark.kind == "knuckle"]
        if here[0].kind != "heel":
            points.insert(0, lines["heel"](x))
            corners = [i + 1 for i in corners]
        if here[-1].kind != "head":
            points.append(lines["head"](x))
        if len(corners) == ways - 1:  # a frame that has lost a knuckle cannot be counted
            whole.append((x, np.array(points), [0, *corners, len(points) - 1]))
    return whole


def _shares(points: np.ndarray, cuts: list[int]) -> np.ndarray:
    """Share of the girth of each point by chords; each knuckle stands at one share on all frames."""
    length = np.r_[0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    return np.interp(length, length[cuts], np.linspace(0, 1, len(cuts)))


def equal_shares(marks: Sequence[Mark], at: Sequence[float], knuckles: int = 0, lines: int = 41) -> Sections:
    """make_smoothing_spline: each frame by its chords, then each of `lines` equal shares along the hull."""
    share = np.linspace(0, 1, lines)
    stations, shapes = [], []
    for x, points, cuts in _frames(marks, knuckles + 1):
        way = _shares(points, cuts)
        parts = []
        for (a, b), (low, high) in zip(
            itertools.pairwise(cuts), itertools.pairwise(np.linspace(0, 1, len(cuts))), strict=True
        ):
            inner = share[(share >= low - 1e-12) & ((share < high - 1e-12) | (high == 1))]
            own, piece = way[a : b + 1], points[a : b + 1]
            fits = [
                make_smoothing_spline(own, axis)(inner) if len(own) >= 5 else np.interp(inner, own, axis)
                for axis in piece.T
            ]
            parts.append(np.column_stack(fits))
        stations.append(x)
        shapes.append(np.vstack(parts))
    x, shape = np.array(stations), np.stack(shapes)
    gone = np.stack(
        [[make_smoothing_spline(x, shape[:, k, axis])(at) for axis in (0, 1)] for k in range(lines)], axis=1
    )  # (2, lines, wanted)
    return {float(station): gone[:, :, k].T for k, station in enumerate(at)}


def gaussian_process(marks: Sequence[Mark], at: Sequence[float], knuckles: int, kernel: str) -> Sections:
    """scikit-learn's Gaussian process on (station, share of girth, and distance of the share from each knuckle).

    Half-breadth and height have a process each, with a length scale in each direction, its size and the error of the
    marks; all of them by marginal likelihood from two beginnings, after a plane has been taken out.
    """
    frames = _frames(marks, knuckles + 1)
    x = np.concatenate([np.full(len(points), station) for station, points, _ in frames])
    v = np.concatenate([_shares(points, cuts) for _, points, cuts in frames])
    points = np.concatenate([points for _, points, _ in frames])
    middle, reach = float(np.mean(x)), float(np.ptp(x))
    corners = np.linspace(0, 1, knuckles + 2)[1:-1]

    def inputs(station: np.ndarray, share: np.ndarray) -> np.ndarray:
        return np.column_stack([(station - middle) / reach, share, *(np.abs(share - c) for c in corners)])

    given = inputs(x, v)
    plane = np.column_stack([np.ones(len(x)), given])
    share = np.linspace(0, 1, 201)
    fine = np.array([inputs(np.full(201, station), share) for station in at])
    fine = fine.reshape(-1, given.shape[1])
    found = []
    for axis in (0, 1):
        trend = np.linalg.lstsq(plane, points[:, axis], rcond=None)[0]
        left = points[:, axis] - plane @ trend
        size = float(np.std(left))
        best = None
        for scales in ((0.5, 0.5), (0.2, 0.25)):
            first = np.r_[scales, [scales[1]] * len(corners)]
            prior = ConstantKernel(4.0, (1e-2, 1e6)) * KERNELS[kernel](first) + WhiteKernel(1e-4, (1e-10, 1e-1))
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", ConvergenceWarning)
                process = GaussianProcessRegressor(prior, alpha=1e-10).fit(given, left / size)
            if best is None or process.log_marginal_likelihood_value_ > best.log_marginal_likelihood_value_:
                best = process
        found.append(best.predict(fine) * size + np.column_stack([np.ones(len(fine)), fine]) @ trend)
    whole = np.column_stack(found).reshape(len(at), 201, 2)
    return {float(station): part for station, part in zip(at, whole, strict=True)}


class Cache:
    """Results of slow references, kept between runs by what they were given."""

    def __init__(self) -> None:
        self.kept: dict[str, list] = {}
        if CACHE.exists():
            self.kept = json.loads(CACHE.read_text())

    def __call__(self, name: str, marks: Sequence[Mark], at: Sequence[float], knuckles: int) -> Sections:
        taken = [(m.station_mm, m.half_breadth_mm, m.height_mm, m.kind) for m in marks]
        told = repr((name, taken, [float(x) for x in at], knuckles, sklearn.__version__, 2))
        key = hashlib.sha256(told.encode()).hexdigest()[:24]
        if key not in self.kept:
            found = gaussian_process(marks, at, knuckles, name)
            self.kept[key] = [[x, points.round(4).tolist()] for x, points in found.items()]
            CACHE.parent.mkdir(exist_ok=True)
            others = json.loads(CACHE.read_text()) if CACHE.exists() else {}  # another worker may have written
            part = CACHE.with_suffix(f".{key}")
            part.write_text(json.dumps({**others, **self.kept}))
            part.replace(CACHE)
        return {x: np.array(points) for x, points in self.kept[key]}
