"""A side lined off as the shell whose butts are planned: strakes with their true lengths, frames, joints there are."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_interp_spline

from scrieve.errors import BadPlank
from scrieve.planking.butts.joints import EndJoint, ShellLayout, StrakeRun
from scrieve.planking.lining.result import Lining

Array = NDArray[np.float64]

#: Points along a strake, to each space between frames.
_FINE = 8


def unmarked_frames(frames: Mapping[str, Mapping[str, Any]], stations: Mapping[str, float]) -> dict[str, float]:
    """Stations of the frames that are to be made and have no marks, from entries as a boat keeps them [mm].

    Examples
    --------
    >>> unmarked_frames({"14": {"station_mm": 4500}, "19": {"station_mm": 5700}, "20": {}}, {"14": 4500.0})
    {'19': 5700.0}
    """
    return {
        label: float(entry["station_mm"])
        for label, entry in frames.items()
        if entry.get("station_mm") is not None and label not in stations
    }


def frames_among(standing: Sequence[tuple[str, float]], more: Sequence[tuple[str, float]]) -> list[tuple[str, float]]:
    """Frames in order of their stations; of `more`, those that stand where no other does [mm]."""
    found = list(standing)
    for label, x in more:
        if all(abs(x - other) > 0.5 for _, other in found):
            found.append((label, float(x)))
    return sorted(found, key=lambda frame: frame[1])


def shell_layout(
    lining: Lining,
    joints: Sequence[EndJoint] = (),
    *,
    renew: Collection[int] | None = None,
    frames: Sequence[tuple[str, float]] = (),
    opposite_mm: Sequence[float] = (),
    keel_scarfs_mm: Sequence[float] = (),
) -> ShellLayout:
    """The shell of a lining, with true lengths along the middle of each strake.

    Parameters
    ----------
    lining : Lining
        The side lined off; places without a frame's label are no frames.
    joints : sequence of EndJoint
        Joints that are there and stay.
    renew : collection of int, optional
        Strakes to be planned, from 1; the others stay as they are. All, where it is not given.
    frames : sequence of (label, station), optional
        Frames that stand in the hull besides those of the lining, such as those without marks [mm]: a butt must not
        come on one of them, and spaces are counted by them too.
    opposite_mm, keel_scarfs_mm : sequence of float
        Stations of the other garboard's joints and of the keel's scarfs [mm].

    Raises
    ------
    BadPlank
        A strake to be renewed is not in the lining, a joint lies beyond its strake, or there are under two frames.

    Notes
    -----
    Lengths are summed along chords of a curve on the hull, eight to a frame space: of a plank that turns by φ between
    two frames they fall short by φ²/1536 of its length, under 0.03 mm in a metre where φ is 10°.
    """
    wanted = set(range(1, lining.strakes + 1)) if renew is None else set(renew)
    if strange := sorted(wanted - set(range(1, lining.strakes + 1))):
        raise BadPlank(f"strake {strange[0]} is to be renewed; the lining has strakes 1 to {lining.strakes}.")
    runs = []
    for number in range(1, lining.strakes + 1):
        x, along = _along(lining, number - 1)
        pairs = tuple((float(station), float(length)) for station, length in zip(x, along, strict=True))
        runs.append(
            StrakeRun(number, pairs[0][0], pairs[-1][0], f"strake {number}", along_mm=pairs, renew=number in wanted)
        )
    standing = [(frame.label, frame.x_mm) for frame in lining.frames if frame.label]
    low, high = lining.frames[0].x_mm, lining.frames[-1].x_mm
    standing = frames_among(standing, [(label, x) for label, x in frames if low < x < high])
    return ShellLayout(
        frames=tuple(standing),
        strakes=tuple(runs),
        joints=tuple(joints),
        opposite_mm=tuple(opposite_mm),
        keel_scarfs_mm=tuple(keel_scarfs_mm),
    )


def _along(lining: Lining, strake: int) -> tuple[Array, Array]:
    """Stations (m,) of the frames that a strake reaches, and the length along its middle to each from the first."""
    reached = np.flatnonzero(np.isfinite(lining.width_mm[strake]))
    stations = np.array([frame.x_mm for frame in lining.frames])
    share = np.array([np.clip(seam(stations), 0, 1) for seam in lining.seams])
    # past a nib the ended seam lies on the one that runs on
    for nib in lining.nibs:
        gone = ~lining.drawn[nib.ended]
        share[nib.ended, gone] = share[nib.runs_on, gone]
    middle = (share[strake] + share[strake + 1])[reached] / 2
    first, last = reached[0], reached[-1]
    there = stations[first : last + 1]
    fine = np.interp(np.arange((len(there) - 1) * _FINE + 1) / _FINE, np.arange(len(there)), there)
    line = lining.hull.point(fine, _through(there, middle, fine))
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=-1))])
    return there, run[::_FINE]


def wide_bays(layout: ShellLayout) -> tuple[str, ...]:
    """Bays over one and a half times the usual space, where a frame may stand that was not told of.

    Examples
    --------
    >>> run = StrakeRun(1, 0, 1500)
    >>> wide_bays(ShellLayout((("1", 0.0), ("2", 300.0), ("3", 600.0), ("5", 1200.0), ("6", 1500.0)), (run,)))
    ('3-5',)
    """
    spaces = [after - x for (_, x), (_, after) in pairwise(layout.frames)]
    usual = float(np.median(spaces))
    return tuple(
        f"{low}-{high}"
        for ((low, _), (high, _)), space in zip(pairwise(layout.frames), spaces, strict=True)
        if space > 1.5 * usual
    )


def _through(at: Array, share: Array, fine: Array) -> Array:
    return np.clip(np.asarray(make_interp_spline(at, share, k=min(3, len(at) - 1))(fine)), 0, 1)
