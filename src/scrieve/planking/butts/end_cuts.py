"""How the ends of a plank are cut: the length a scarf runs on past the joint, where it begins, and nibs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scrieve.planking.board import scarf_length
from scrieve.planking.choice import PlankEnds, Step
from scrieve.wording import by_itself, length, small, tell
from scrieve.working import Check, Working

Array = NDArray[np.float64]
Point = tuple[float, float]

#: Along so much of each edge its run is taken on, as a parabola [mm].
_RUN_MM = 400.0
_POINTS = 9
NIB_SOURCE = "shop default, no source; change to suit"


@dataclass(frozen=True, slots=True)
class EndCut:
    """One end that is cut to a scarf or a nib, on the plank drawn flat; lengths in mm.

    Of a scarf `begins_mm` is the line where it begins, on the face that is cut back, and `ends_mm` the plank's very
    end, each from the lower edge to the upper; the joint stands midway. It is `length_mm` long with `nib_mm` squared
    off at both of its ends. Of a nib both lines are the plank's end, `nib_mm` wide. At a step the strake runs on: both
    lines are the notch for the stealer's nib, `nib_mm` deep, or on the narrower part (`nib_mm` below zero) its end.
    """

    end: Literal["first", "last"]
    kind: Literal["scarf", "nib", "step"]
    length_mm: float
    nib_mm: float
    slope: float
    begins_mm: tuple[Point, Point]
    ends_mm: tuple[Point, Point]


def cut_ends(
    ends: PlankEnds, thickness_mm: float, lower: Array, upper: Array, steps: Sequence[Step] = ()
) -> tuple[Array, Array, tuple[EndCut, ...]]:
    """Run both edges on past the joint where an end is scarfed, and say how the ends are cut.

    Parameters
    ----------
    ends : PlankEnds
    thickness_mm : float
    lower, upper : ndarray (n, 2)
        The edges drawn flat, from joint to joint, sampled alike [mm].
    steps : sequence of Step
        Ends at which the strake runs on past a stealer's nib.

    Returns
    -------
    lower, upper : ndarray (m, 2)
        Edges to the plank's very ends: half a scarf past the joint. Past it each runs on as the parabola of its last
        400 mm: 170 mm on, an edge of 30 m radius is 0.002 mm off its circle.
    cuts : tuple of EndCut
    """
    cuts: list[EndCut] = []
    new = [lower, upper]
    for end, joint in (("first", ends.first), ("last", ends.last)):
        at = 0 if end == "first" else -1
        step = next((one for one in steps if one.end == end), None)
        if step is not None:
            corner, other = (upper, lower) if step.edge == "upper" else (lower, upper)
            across = (other[at] - corner[at]) / np.hypot(*(other[at] - corner[at]))
            into = corner[at] + across * step.deep_mm if step.deep_mm > 0 else other[at]
            line = (_pt(corner[at]), _pt(into))
            cuts.append(EndCut(end, "step", 0.0, step.deep_mm, 0.0, line, line))  # type: ignore[arg-type]
        elif joint == "nib":
            line = (_pt(lower[at]), _pt(upper[at]))
            width = float(np.hypot(*(upper[at] - lower[at])))
            cuts.append(EndCut(end, "nib", 0.0, width, 0.0, line, line))  # type: ignore[arg-type]
        elif joint == "scarf":
            long = scarf_length(thickness_mm, ends.scarf_slope, ends.nib_mm)
            back = (_pt(_along(lower, at, long / 2)), _pt(_along(upper, at, long / 2)))
            new = [_run_on(edge, at, long / 2) for edge in new]
            out = (_pt(new[0][at]), _pt(new[1][at]))
            cuts.append(EndCut(end, "scarf", long, ends.nib_mm, ends.scarf_slope, back, out))  # type: ignore[arg-type]
    return new[0], new[1], tuple(cuts)


def nib_checks(cuts: tuple[EndCut, ...], thickness_mm: float) -> tuple[Check, ...]:
    """Hold nibs against the thickness of the plank: a feather end holds no fastening and no caulking."""
    return tuple(
        Check(
            f"Nib at the {cut.end} end", tell("{it} wide", it=length(cut.nib_mm)),
            tell("{t}, the thickness", t=small(thickness_mm, None)), cut.nib_mm >= thickness_mm - 0.5, NIB_SOURCE,
            "End it nearer, where it is wider, or let it deeper into its neighbour.",
        )
        for cut in cuts if cut.kind == "nib"
    )  # fmt: skip


def cut_workings(cuts: tuple[EndCut, ...], thickness_mm: float) -> tuple[Working, ...]:
    """How long a scarf is, and by how much the plank is longer."""
    scarfs = [cut for cut in cuts if cut.kind == "scarf"]
    if not scarfs:
        return ()
    one = scarfs[0]
    return (
        Working(
            "Scarf", tell("{it} long, half of it past the joint", it=length(one.length_mm)),
            "(thickness − 2 × nib) × slope",
            (("thickness", by_itself(small(thickness_mm, None))), ("nib", by_itself(small(one.nib_mm))),
             ("slope", f"{one.slope:g} : 1"), ("ends", ", ".join(cut.end for cut in scarfs))),
            "derived: docs/lining-off.md; the slope by the rule chosen",
            "The plank's end on the hull is the middle of the scarf. Slopes are disputed; agree those of structure "
            "with a surveyor or naval architect.",
        ),
    )  # fmt: skip


def _steps(edge: Array, at: int) -> tuple[Array, Array]:
    """Points from one end inwards, and how far along the edge each lies from it."""
    points = edge if at == 0 else edge[::-1]
    return points, np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def _along(edge: Array, at: int, back_mm: float) -> Array:
    """The point of an edge so far in from its end."""
    points, run = _steps(edge, at)
    return np.array([np.interp(back_mm, run, points[:, 0]), np.interp(back_mm, run, points[:, 1])])


def _run_on(edge: Array, at: int, on_mm: float) -> Array:
    """The edge with so much more of it at one end."""
    points, run = _steps(edge, at)
    near = max(int(np.searchsorted(run, _RUN_MM)), 3)
    fits = [np.polyfit(run[:near], points[:near, k] - points[0, k], 2) for k in (0, 1)]
    s = np.linspace(0.0, -on_mm, _POINTS)[1:]
    more = np.column_stack([fit[0] * s**2 + fit[1] * s for fit in fits]) + points[0]
    return np.concatenate([more[::-1], edge] if at == 0 else [edge, more])


def _pt(p: Array) -> Point:
    return (float(p[0]), float(p[1]))
