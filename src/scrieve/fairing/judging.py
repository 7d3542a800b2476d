"""Judging a mark while the rule is still in the hand: against the fair line so far, or its own frame's marks alone.

Pure: hull and marks in, frozen judgements out; the reading of what was typed is that of takeoff, the naming of slips
that of takeoff and fairing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scrieve.boat import Boat
from scrieve.fairing.batten_suspects import LEAST_MARKS, find_suspects
from scrieve.fairing.placing import SUSPECT_SD, SUSPECT_SD_PINNED
from scrieve.fairing.result import FairHull, distance, guess
from scrieve.fairing.tracks import heel_to_head
from scrieve.takeoff.doubt import Doubt
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.slips import slip_to_line
from scrieve.takeoff.traps import traps
from scrieve.wording import by_itself, small, tell
from scrieve.working import Working

Array = NDArray[np.float64]
State = Literal["good", "far", "slip", "unjudged"]
By = Literal["hull", "table", "marks", ""]

#: Points of the fair line on which a mark is looked for.
_POINTS = 401
#: Beyond so many standard deviations, once in twenty times by chance, a mark is called far off.
FAR_SD = 2.0
#: A hypothesis brings the mark this many times nearer to the line, and within so many standard deviations of it.
_NEARER, _WITHIN_SD = 4.0, 3.0
#: Of figures written down wrongly there are many: named within fewer, and where no slip of the tape is.
_MISREAD_SD = 2.0
_SOURCE = "docs/taking-off.md, 'Judged while typing'"


@dataclass(frozen=True, slots=True)
class Judged:
    """How one mark lies before it is stored.

    `off_mm` is mark less line, square to it, above zero outside; `beyond_mm` how far past the line's end, or along it
    from where an end or knuckle should be. `sd_mm` is what is expected there, one standard deviation: of the mark's own
    error `mark_sd_mm` and the line's `line_sd_mm`. `out_by_sd` weighs the two. `guesses` name likely slips, `doubts`
    what the traps say. `by` says what judged it.
    """

    line: int
    state: State
    by: By
    off_mm: float = 0.0
    beyond_mm: float = 0.0
    sd_mm: float = 0.0
    mark_sd_mm: float = 0.0
    line_sd_mm: float = 0.0
    out_by_sd: float = 0.0
    guesses: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()

    @property
    def working(self) -> Working:
        """How the figure came about."""
        inputs: tuple[tuple[str, str], ...] = (
            ("mark's own error", by_itself(small(self.mark_sd_mm, 2))),
            ("error of the line there", by_itself(small(self.line_sd_mm, 2))),
            (
                "off by",
                tell("{mm} {way}", mm=small(abs(self.off_mm), 2), way="outside" if self.off_mm > 0 else "inside"),
            ),
        )
        formula = "off / √(σ_mark² + σ_line²), both square to the line, one standard deviation"
        if self.beyond_mm:
            inputs += (("along the line", by_itself(small(abs(self.beyond_mm), 2))),)
            formula = "√(mᵀ(C_mark + C_line)⁻¹m), m square to the line and along it, brought to the same scale"
        if self.by == "table":
            formula = "how far off it lies of what all other marks say, in standard deviations, as fairing doubts marks"
        if self.by == "marks":
            formula = "how far off it lies of a batten through the frame's other marks, in standard deviations"
        limits = f"over {FAR_SD:g}: look again; over {SUSPECT_SD:g}: likely a slip"
        return Working("off the line", f"{self.out_by_sd:.1f} sd", formula, inputs, _SOURCE, limits)


#: Marks that the same readings would give with a slip taken back, each with the words for it.
Retold = Callable[[Mark], Iterator[tuple[str, Mark]]]


class Line:
    """The fair line at one station, as a mark to that boat's side of planking should lie on it."""

    def __init__(self, hull: FairHull, station_mm: float, points: int = _POINTS) -> None:
        self.hull, self.x = hull, station_mm
        self.v = np.linspace(0.0, 1.0, points)

    @cached_property
    def points(self) -> Array:
        """Points (n, 2) of the line at `v`, heel to head."""
        return self.at(self.v)

    def at(self, v: Array) -> Array:
        """Points (n, 2) of the line; to the outside of planking, t / cos β further out."""
        x = np.full(len(v), self.x)
        points = self.hull.fit.value(x, v)
        if self.hull.boat.planking == "outside":
            normal, bevel = self.hull.normal(x, v)
            points = points + normal * (self.hull.boat.thickness_mm / np.cos(bevel))[:, None]
        return np.asarray(points)

    def foot(self, point: Array, kind: str) -> float:
        """Share of the girth at which a mark should lie: square below it, or that of its end or knuckle."""
        if kind == "heel":
            return 0.0
        if kind == "head":
            return 1.0
        inner = self.hull.knuckles_at(self.x)
        if kind == "knuckle" and inner:
            corners = self.at(np.array(inner))
            return float(inner[int(np.argmin(np.hypot(*(corners - point).T)))])
        a, d = self.points[:-1], np.diff(self.points, axis=0)
        t = np.clip(np.sum((point - a) * d, axis=1) / np.maximum(np.sum(d * d, axis=1), 1e-12), 0, 1)
        near = int(np.argmin(np.sum((a + t[:, None] * d - point) ** 2, axis=1)))
        return float(self.v[near] + t[near] * (self.v[1] - self.v[0]))


def judge_by_hull(mark: Mark, line: Line, retold: Retold | None = None) -> Judged:
    """Judge a mark that is not stored yet by the fair line at its station.

    Parameters
    ----------
    mark : Mark
        As its form would store it.
    line : Line
        The fair line of its station; the frame may have no other marks.
    retold : callable, optional
        Gives what the mark's own readings would be without a slip, where it was found from readings.

    Returns
    -------
    Judged
        The miss square to the line is held against √(σ_mark² + σ_line²), the mark's own covariance scaled as the hull
        has learnt the error, and the posterior of the surface. At an end, a knuckle, or past the line's end both
        directions count: √(mᵀ(C_mark + C_line)⁻¹m). A mark is called a likely slip at the bound of `fairing`, 4.0 and
        4.4 of these.
    """
    hull = line.hull
    point = np.array([mark.half_breadth_mm, mark.height_mm])
    v = line.foot(point, mark.kind)
    here = line.at(np.array([v]))[0]
    normal = hull.normal(line.x, v)[0][0]
    tangent = np.array([-normal[1], normal[0]])
    turn = np.array([normal, tangent])
    index, value = zip(
        *(hull.fit.grid.rows(np.array([line.x]), np.array([v]), way[None]) for way in turn), strict=True
    )  # fmt: skip
    spread = hull.fit.row_covariance(np.stack(index, axis=1), np.stack(value, axis=1))[0]
    own = turn @ mark.covariance_mm2(hull.boat.sigma_mm) @ turn.T * hull.fit.error_scale**2
    miss = turn @ (point - here)
    whole = own + spread
    sd = float(np.sqrt(whole[0, 0]))
    both = mark.kind in ("heel", "head") or (mark.kind == "knuckle" and bool(hull.knuckles_at(line.x)))
    past = not both and v in (0.0, 1.0)
    if both or past:
        by_sd = float(np.sqrt(max(miss @ np.linalg.solve(whole, miss), 0.0))) * SUSPECT_SD / SUSPECT_SD_PINNED
    else:
        by_sd = abs(float(miss[0])) / sd
    state: State = "slip" if by_sd > SUSPECT_SD else "far" if by_sd > FAR_SD else "good"
    guesses: tuple[str, ...] = ()
    if state == "slip":
        where = here[None] if both else line.points
        guesses = guesses_of(mark, point, where, sd, retold)
        if both and not guesses and float(distance(point[None], line.points)[0]) < _WITHIN_SD * sd:
            guesses = (f"not the {mark.kind}? As a plain mark it lies on the line.",)
    return Judged(
        mark.line, state, "hull", float(miss[0]), float(miss[1]) if both or past else 0.0, sd,
        float(np.sqrt(own[0, 0])), float(np.sqrt(spread[0, 0])), by_sd, guesses,
    )  # fmt: skip


def guesses_of(mark: Mark, point: Array, where: Array, sd: float, retold: Retold | None) -> tuple[str, ...]:
    """Name what would explain a miss: columns changed over, a slip of a reading, or of height or half-breadth.

    Parameters
    ----------
    mark : Mark
    point : ndarray (2,)
        Its half-breadth and height [mm].
    where : ndarray (n, 2)
        Where it may lie: the fair line, or the one point of its end [mm].
    sd : float
        Standard deviation of the distance between a good mark and the line [mm].
    retold : callable, optional
        As in `judge_by_hull`.
    """
    was = float(distance(point[None], where)[0])
    limit = min(_WITHIN_SD * sd, was / _NEARER)
    said = []
    if mark.way == "offsets":
        if float(distance(point[None, ::-1], where)[0]) < limit:
            said.append("height and half-breadth changed over?")
        found = guess(point, where, sd)
        if not found and len(where) > 1 and (slipped := slip_to_line(point, where, sd)):
            found = slipped.text
        said += [found] if found else []
        if retold is not None and not said:
            said += _misread(retold(mark), where, min(_MISREAD_SD * sd, limit))
        return tuple(said)
    other = mark.found.get("other_mm")
    if isinstance(other, list) and len(other) == 2 and float(distance(np.array([other]), where)[0]) < limit:
        said.append("set off to the wrong side? Look at 'lies'.")
    if retold is not None:
        tried = [
            (float(distance(np.array([[new.half_breadth_mm, new.height_mm]]), where)[0]), words)
            for words, new in retold(mark)
        ]
        fits = sorted(one for one in tried if one[0] < limit)
        if fits:
            said.append(" or ".join(dict.fromkeys(words for _, words in fits[:2])) + "?")
    return tuple(said)


def _misread(tried: Iterator[tuple[str, Mark]], where: Array, limit: float) -> list[str]:
    """Name what figures written down wrongly would bring nearest to the line, where that is near enough."""
    found = list(tried)
    if not found:
        return []
    off = distance(np.array([[new.half_breadth_mm, new.height_mm] for _, new in found]), where)
    nearest = int(off.argmin())
    return [f"{found[nearest][0]}?"] if off[nearest] < limit else []


def judge(
    typed: Sequence[Mark],
    standing: Sequence[Mark],
    boat: Boat,
    hull: FairHull | None,
    retold: Retold | None = None,
    *,
    alone: bool = True,
) -> list[Judged]:
    """Judge marks that are typed and not stored, in the order given.

    Parameters
    ----------
    typed : sequence of Mark
        Their `line` is the row of the form.
    standing : sequence of Mark
        The boat's marks that stand.
    boat : Boat
        The boat.
    hull : FairHull, optional
        The fair hull so far; None where there is none yet, or where it is still being made.
    retold : callable, optional
        As in `judge_by_hull`.
    alone : bool
        Whether a frame that the hull does not reach is judged by its own marks.

    Returns
    -------
    list of Judged
        By the hull where it reaches the frame's station, else by the frame's own marks, where there are six or more of
        its hand, and in either case by the traps.
    """
    numbered = [replace(mark, number=-1 - i) for i, mark in enumerate(typed)]
    doubts = _doubts(numbered, standing, boat, hull is not None)
    lines: dict[float, Line] = {}
    groups: dict[tuple[str, str], dict[int, Judged]] = {}
    found = []
    for mark in numbered:
        said = tuple(one.text for one in doubts if mark.number in one.numbers)
        station = hull.stations.get(mark.frame, mark.station_mm) if hull else mark.station_mm
        if reached(hull, station):
            assert hull is not None
            line = lines.get(station) or lines.setdefault(station, Line(hull, station))
            judged = judge_by_hull(mark, line, retold)
        else:
            if alone and (mark.frame, mark.side) not in groups:
                groups[mark.frame, mark.side] = _by_marks(mark, numbered, standing, boat)
            judged = groups.get((mark.frame, mark.side), {}).get(mark.number, Judged(mark.line, "unjudged", ""))
        if judged.state in ("good", "unjudged") and said:
            judged = replace(judged, state="far")
        found.append(replace(judged, doubts=said))
    return found


def reached(hull: FairHull | None, station_mm: float) -> bool:
    """Whether a hull says anything of a station."""
    return hull is not None and hull.x_range[0] <= station_mm <= hull.x_range[1]


def _doubts(typed: Sequence[Mark], standing: Sequence[Mark], boat: Boat, has_hull: bool) -> list[Doubt]:
    """Return what the traps say of typed marks; with a hull at hand, of the frame alone: it knows the others better."""
    frames = {mark.frame for mark in typed}
    those = [mark for mark in standing if not has_hull or mark.frame in frames]
    new = {mark.number for mark in typed}
    # whether columns are changed over or both hands written as one is seen of a whole frame, not while it grows
    return [
        one
        for one in traps([*those, *typed], boat, new)
        if one.kind not in ("wrong hand", "order") and not (has_hull and one.kind == "swapped")
    ]


def _by_marks(mark: Mark, typed: Sequence[Mark], standing: Sequence[Mark], boat: Boat) -> dict[int, Judged]:
    """Judge the typed marks of one frame and hand by all its marks; none where these are too few."""
    group = [one for one in (*standing, *typed) if (one.frame, one.side) == (mark.frame, mark.side)]
    points = np.array([[one.half_breadth_mm, one.height_mm] for one in group])
    points, first = np.unique(points, axis=0, return_index=True)
    if len(points) < LEAST_MARKS:
        return {}
    order = heel_to_head(points)
    placed, those = points[order], [group[i] for i in first[order]]
    sigma = np.array([np.sqrt(np.trace(one.covariance_mm2(boat.sigma_mm)) / 2) for one in those])
    knuckles = [i for i, one in enumerate(those) if one.kind == "knuckle" and 0 < i < len(those) - 1]
    found = {one.number: Judged(one.line, "good", "marks", mark_sd_mm=float(s))
             for one, s in zip(those, sigma, strict=True) if one.number < 0}  # fmt: skip
    for out in find_suspects(placed, sigma, knuckles=knuckles):
        one, sd = those[out.mark], float(sigma[out.mark])
        if one.number in found:
            point, others = placed[out.mark], np.delete(placed, out.mark, axis=0)
            found[one.number] = Judged(
                one.line, "slip", "marks", out.out_mm, 0.0, out.sd_mm, sd,
                float(np.sqrt(max(out.sd_mm**2 - sd**2, 0.0))), out.out_by_sd,
                guesses_of(one, point, others, max(out.sd_mm, sd), None),
            )  # fmt: skip
    return found
