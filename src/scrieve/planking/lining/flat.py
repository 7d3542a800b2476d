"""The shell drawn out flat: girths laid straight up from a base line at every frame, seams, strakes, butts, nibs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scrieve.planking.lining.girth import FrameAt, Girths
from scrieve.planking.lining.result import Lining

Array = NDArray[np.float64]

#: Points along each seam of the drawing, to each space between frames.
_FINE = 6


@dataclass(frozen=True, slots=True, eq=False)
class FlatLine:
    """A line of the drawing, (n, 2): station and girth [mm]; `number` is the seam's or strake's."""

    name: str
    number: int
    points_mm: Array


@dataclass(frozen=True, slots=True)
class FlatName:
    """A name and where it stands [mm]."""

    text: str
    x_mm: float
    girth_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class ShellFlat:
    """The shell drawn out flat; all points are (station, girth from the heel) in mm.

    Girths are true, lengths along the seams are not (they are drawn at the stations); widths of strakes read true
    along the frames. `frames` run from the region's lower edge to its upper; `strakes` are closed outlines, to be
    hatched by state; `butts` and `nibs` are short lines across their strake; `parts` closed outlines of the
    lengths of strakes asked for.
    """

    frames: tuple[FlatLine, ...]
    seams: tuple[FlatLine, ...]
    strakes: tuple[FlatLine, ...]
    butts: tuple[FlatLine, ...]
    nibs: tuple[FlatLine, ...]
    names: tuple[FlatName, ...]
    parts: tuple[FlatLine, ...] = ()


def drawn_flat(
    lining: Lining, butts: Sequence[tuple[int, float]] = (), parts: Sequence[tuple[int, float, float]] = ()
) -> ShellFlat:
    """Draw a lining out flat.

    Parameters
    ----------
    lining : Lining
        The side lined off.
    butts : sequence of (strake from 1, station in mm)
        Joints to draw; those beyond their strake are left out.
    parts : sequence of (strake from 1, first station, last station in mm)
        Lengths of strakes to draw, as far as the strake reaches.
    """
    net = _Net.of(lining)
    frames = tuple(
        FlatLine(frame.label, k, np.array([[frame.x_mm, lining.girth_mm[0, k]], [frame.x_mm, lining.girth_mm[-1, k]]]))
        for k, frame in enumerate(lining.frames)
        if frame.label
    )
    names = {0: "lower edge", lining.strakes: "upper edge"}
    seams = tuple(
        FlatLine(names.get(j, f"seam {j}"), j, net.line(j, np.isfinite(net.girth[j])))
        for j in range(lining.strakes + 1)
    )
    strakes, told = [], []
    for j in range(lining.strakes):
        low, high = net.edge(j, j), net.edge(j, j + 1)
        strakes.append(FlatLine(f"strake {j + 1}", j + 1, np.concatenate([low, high[::-1], low[:1]])))
        there = np.flatnonzero(np.isfinite(lining.width_mm[j]))
        there = there[len(there) // 10 : len(there) - len(there) // 10]  # a name on the end stands half outside
        widest = int(there[np.argmax(lining.width_mm[j, there])])
        middle = float(lining.girth_mm[j : j + 2, widest].mean())
        told.append(FlatName(str(j + 1), lining.frames[widest].x_mm, middle))
    nibs = tuple(
        FlatLine(
            f"nib of {nib.stealer.strake}",
            nib.stealer.strake,
            net.across(nib.stealer.strake - 1, lining.frames[nib.frame].x_mm),
        )
        for nib in lining.nibs
    )
    drawn = tuple(
        FlatLine(f"butt in {strake}", strake, net.across(strake - 1, at))
        for strake, at in butts
        if 1 <= strake <= lining.strakes and net.reaches(strake - 1, at)
    )
    lengths = tuple(FlatLine(f"strake {strake}", strake, net.part(strake - 1, *ends)) for strake, *ends in parts)
    return ShellFlat(frames, seams, tuple(strakes), drawn, nibs, tuple(told), lengths)


@dataclass(frozen=True, slots=True, eq=False)
class _Net:
    """Girths (n + 1, p) of the seams at fine stations x (p,); nan where a seam has ended."""

    lining: Lining
    x: Array
    girth: Array

    @classmethod
    def of(cls, lining: Lining) -> _Net:
        marked = np.array([frame.x_mm for frame in lining.frames])
        x = np.interp(np.arange((len(marked) - 1) * _FINE + 1) / _FINE, np.arange(len(marked)), marked)
        there = Girths.of(lining.hull, [FrameAt("", float(at)) for at in x])
        girth = np.full((len(lining.seams), len(x)), np.nan)
        for j, seam in enumerate(lining.seams):
            own = (x >= seam.first_mm - 1e-6) & (x <= seam.last_mm + 1e-6)
            girth[j, own] = there.girth_at(np.clip(seam(x), 0, 1))[own]
        girth[:, ::_FINE] = np.where(np.isnan(girth[:, ::_FINE]), np.nan, lining.girth_mm)
        return cls(lining, x, girth)

    def line(self, seam: int, where: NDArray[np.bool_]) -> Array:
        return np.column_stack([self.x[where], self.girth[seam, where]])

    def edge(self, strake: int, seam: int) -> Array:
        """An edge of a strake as far as it reaches, along the seams that bound it there, with the step at a nib."""
        first, last = self._reach(strake)
        inside = (self.x >= first - 1e-6) & (self.x <= last + 1e-6)
        points = self.line(seam, inside & np.isfinite(self.girth[seam]))
        for nib in (nib for nib in self.lining.nibs if nib.ended == seam and nib.receiver == strake + 1):
            at = self.lining.frames[nib.frame].x_mm
            forward = nib.stealer.end == "first"
            beyond = inside & (self.x <= at + 1e-6 if forward else self.x >= at - 1e-6)
            more = self.line(nib.runs_on, beyond)
            points = np.concatenate([more, points] if forward else [points, more])
        return points

    def across(self, strake: int, at: float) -> Array:
        edges = [self.edge(strake, seam) for seam in (strake, strake + 1)]
        return np.array([[at, float(np.interp(at, line[:, 0], line[:, 1]))] for line in edges])

    def part(self, strake: int, first: float, last: float) -> Array:
        """Closed outline of a strake from one station to another."""
        least, most = self._reach(strake)
        low, high = max(first, least), min(last, most)
        edges = []
        for edge in (self.edge(strake, strake), self.edge(strake, strake + 1)):
            inside = edge[(edge[:, 0] > low) & (edge[:, 0] < high)]
            ends = [[x, float(np.interp(x, edge[:, 0], edge[:, 1]))] for x in (low, high)]
            edges.append(np.concatenate([ends[:1], inside, ends[1:]]))
        return np.concatenate([edges[0], edges[1][::-1], edges[0][:1]])

    def reaches(self, strake: int, at: float) -> bool:
        first, last = self._reach(strake)
        return first - 0.5 <= at <= last + 0.5

    def _reach(self, strake: int) -> tuple[float, float]:
        here = np.flatnonzero(np.isfinite(self.lining.width_mm[strake]))
        return self.lining.frames[here[0]].x_mm, self.lining.frames[here[-1]].x_mm
