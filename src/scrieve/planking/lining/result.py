"""A side lined off: the seams, their marks, the widths of the strakes, and what is to be said of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadPlank
from scrieve.planking.choice import Edge, Joint, SeamMark, Step, StrakeChoice
from scrieve.planking.lining.choice import LiningChoice, Stealer
from scrieve.planking.lining.fairness import SeamFairness
from scrieve.planking.lining.girth import FrameAt
from scrieve.planking.lining.limits import Limits, Proposal
from scrieve.planking.seams import Hull, Seam, place, station_of
from scrieve.working import Check, Working

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
MarkKind = Literal["girth", "height", "half_breadth"]


@dataclass(frozen=True, slots=True)
class Nib:
    """The end of a stealer: which of its seams ends there and which runs on, and the strake that takes the nib.

    `frame` is the place in the lining's frames; `receiver` counts strakes from 1, `ended` and `runs_on` seams from 0.
    """

    stealer: Stealer
    frame: int
    ended: int
    runs_on: int
    receiver: int


@dataclass(frozen=True, slots=True, eq=False)
class Lining:
    """A side lined off: seams (n + 1, the region's two edges first and last), strakes (n), frames (k); lengths in mm.

    Attributes
    ----------
    frames : tuple of FrameAt
        Where seams are marked.
    girth_mm, height_mm, half_breadth_mm : ndarray (n + 1, k)
        Marks of each seam; past the nib of a stealer its ended seam lies on the one that runs on.
    drawn : ndarray (n + 1, k) of bool
        Where each seam is a seam of its own.
    width_mm, hollow_mm : ndarray (n, k)
        Width along the frame of each strake and the depth it must be backed out; nan where it does not reach.
    limits : Limits
        Narrowest and widest that were asked, place by place.
    proposals : tuple of Proposal
        For each region between kept seams, lowest first.
    counts : tuple of int
        Strakes in each of those regions.
    nibs : tuple of Nib
        Where stealers end.
    fairness, equal : tuple of SeamFairness
        Of the seams, and of seams that share the girth equally, for comparison.
    remarks : tuple of str
        Limits that could not be kept, with the place.
    """

    hull: Hull
    choice: LiningChoice
    frames: tuple[FrameAt, ...]
    girth_mm: Array
    height_mm: Array
    half_breadth_mm: Array
    drawn: Mask
    width_mm: Array
    hollow_mm: Array
    limits: Limits
    proposals: tuple[Proposal, ...]
    counts: tuple[int, ...]
    nibs: tuple[Nib, ...]
    fairness: tuple[SeamFairness, ...]
    equal: tuple[SeamFairness, ...]
    energy: float
    remarks: tuple[str, ...]
    checks: tuple[Check, ...]
    workings: tuple[Working, ...]
    seams: tuple[Seam, ...]

    @property
    def strakes(self) -> int:
        """Number of strakes, stealers counted."""
        return len(self.width_mm)

    def marks(self, seam: int, kind: MarkKind = "girth") -> tuple[SeamMark, ...]:
        """Marks of a seam, 0 the lowest, as girths, heights or half-breadths at the frames where it is a seam.

        Raises
        ------
        BadPlank
            There is no such seam or kind.
        """
        table = {"girth": self.girth_mm, "height": self.height_mm, "half_breadth": self.half_breadth_mm}.get(kind)
        if table is None:
            raise BadPlank(f"marks: found {kind!r}; say girth, height or half_breadth.")
        if not 0 <= seam <= self.strakes:
            raise BadPlank(f"seam {seam}: the lining has seams 0 to {self.strakes}.")
        return self._marks(seam, table, kind, self.drawn[seam])

    def end_at(self, number: int, x: float) -> Joint:
        """How a plank of a strake ends at a station [mm]: in the rabbet where the whole side ends there, at a nib (its
        own, or one that is let into it), else in a butt."""
        for nib in self.nibs:
            if number in (nib.stealer.strake, nib.receiver) and abs(self.frames[nib.frame].x_mm - x) < 0.5:
                return "nib"
        ends = ((self.frames[0].x_mm, self.choice.first), (self.frames[-1].x_mm, self.choice.last))
        return "hood" if any(abs(at - x) < 0.5 and not cut_short for at, cut_short in ends) else "butt"

    def strake(self, number: int, name: str = "", **settings: Any) -> StrakeChoice:
        """A strake as a plank to be drawn: its two seams, and the frames as far as it reaches.

        Parameters
        ----------
        number : int
            From below, 1 the lowest.
        name : str
            What to call the plank; blank: 'strake 3'.
        settings
            Other values of `StrakeChoice`, such as `first`, `last`, `ends`.

        Raises
        ------
        BadPlank
            There is no such strake, or the plank would run past a nib let into its edge.
        """
        if not 1 <= number <= self.strakes:
            raise BadPlank(f"strake {number}: the lining has strakes 1 to {self.strakes}.")
        reaches = np.isfinite(self.width_mm[number - 1])
        x = np.array([frame.x_mm for frame in self.frames])
        first, last = sorted(
            station_of(self.hull, settings[end]) if settings.get(end) else other
            for end, other in (("first", float(x[reaches][0])), ("last", float(x[reaches][-1])))
        )
        edges = [number - 1, number]
        steps: list[Step] = []
        for nib in (nib for nib in self.nibs if nib.receiver == number):
            at = float(x[nib.frame])
            if first < at - 0.5 and last > at + 0.5:
                raise BadPlank(
                    f"strake {number} takes the nib of stealer {nib.stealer.strake} at {place(self.hull, at)}, where "
                    f"its edge steps by {nib.stealer.nib_mm:.0f} mm; draw it up to the nib and from it, as two parts "
                    "of one plank (first or last): the step is drawn on the wider."
                )
            beyond = last <= at + 0.5 if nib.stealer.end == "first" else first >= at - 0.5
            outer = x <= at + 0.5 if nib.stealer.end == "first" else x >= at - 0.5
            reaches &= outer if beyond else ~outer | (np.arange(len(x)) == nib.frame)
            if min(abs(at - first), abs(at - last)) < 0.5:
                deep = nib.stealer.nib_mm if beyond else -nib.stealer.nib_mm
                edge: Edge = "upper" if nib.ended == number else "lower"
                steps.append(Step("first" if abs(at - first) < 0.5 else "last", edge, deep))
            if beyond:
                edges = [nib.runs_on if seam == nib.ended else seam for seam in edges]
        lower, upper = (self._marks(seam, self.girth_mm, "girth", reaches) for seam in edges)
        given: dict[str, Any] = {"hull": self.choice.hull, "steps": tuple(steps)}
        given |= {"thickness_mm": self.choice.thickness_mm, "planing_mm": self.choice.planing_mm}
        if self.choice.build == "clinker":
            given |= {"build": "clinker", "lap_mm": self.choice.lap_mm}
        return StrakeChoice(
            name=name or f"strake {number}", side=self.choice.side, lower=lower, upper=upper, **{**given, **settings}
        )

    def _marks(self, seam: int, table: Array, kind: MarkKind, where: Mask) -> tuple[SeamMark, ...]:
        return tuple(
            SeamMark(float(table[seam, k]), kind, frame.label, None if frame.label else frame.x_mm)
            for k, frame in enumerate(self.frames)
            if where[k]
        )
