"""Scarfs of laminations longer than the boards: how many pieces, where the scarfs lie, and how they are staggered."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadLamination, above_zero
from scrieve.frames.parts import Array, Lamination
from scrieve.frames.shape.line import Line
from scrieve.wording import length, tell
from scrieve.working import Check

Rule = Literal["clear", "butts"]

#: Places tried for a scarf, so far apart [mm].
_GRID_MM = 10.0


@dataclass(frozen=True, slots=True)
class StaggerRule:
    """How scarfs are kept apart: between the scarfs' middles in neighbouring laminations, and how many laminations lie
    between two scarfs in one place."""

    name: str
    source: str
    neighbour_mm: float
    neighbour_lengths: float
    between: int


RULES: dict[Rule, StaggerRule] = {
    "clear": StaggerRule(
        "one scarf's length clear between scarfs of neighbouring laminations, two laminations between in one place",
        "common practice, no source",
        0.0,
        2.0,
        2,
    ),
    "butts": StaggerRule(
        "shift of butts: 5 ft between neighbours, three between in one place",
        "TB 2-13, unusual spacing: a rule for butts of planking, stricter than glued laminations are usually held to",
        5 * 304.8,
        0.0,
        3,
    ),
}

#: Wood Handbook ch. 10: solid wood scarfs are strongest at 1 in 12 or flatter.
STRONGEST_SLOPE = 12.0


@dataclass(frozen=True, slots=True)
class Scarf:
    """One scarf: the lamination's number, its middle along the moulded line and its length along the lamination."""

    lamination: int
    s_mm: float
    length_mm: float


@dataclass(frozen=True, slots=True)
class ScarfPlan:
    """All scarfs of a packet; `pieces` pairs each lamination's number with the lengths to be got out, heel to head,
    scarfs on them. `apart_mm` is the least distance between middles of scarfs in neighbouring laminations (inf: none).
    """

    scarfs: tuple[Scarf, ...]
    pieces: tuple[tuple[int, tuple[float, ...]], ...]
    rule: StaggerRule
    slope: float
    apart_mm: float
    kept: bool


def scarf_count(length_mm: float, board_mm: float, scarf_mm: float) -> int:
    """Scarfs in one lamination: the fewest pieces n with n boards less (n - 1) scarfs as long as it is.

    Raises
    ------
    BadLamination
        A size is not above zero, or a scarf takes up half a board.

    Examples
    --------
    >>> scarf_count(4000, 2500, 96), scarf_count(2500, 2500, 96), scarf_count(5000, 2500, 96)
    (1, 0, 2)
    """
    above_zero("length or board", [length_mm, board_mm, scarf_mm], "mm")
    if scarf_mm > board_mm / 2:
        raise BadLamination(f"a scarf of {scarf_mm:.0f} mm in boards of {board_mm:.0f} mm; find longer boards.")
    if length_mm <= board_mm:
        return 0
    return math.ceil((length_mm - scarf_mm) / (board_mm - scarf_mm) - 1e-9) - 1


def plan_scarfs(
    line: Line,
    laminations: Sequence[Lamination],
    board_mm: float,
    slope: float,
    rule: Rule = "clear",
) -> ScarfPlan:
    """Place the scarfs of a packet: where the frame is straightest, kept apart by the rule.

    Parameters
    ----------
    line : Line
        The moulded line.
    laminations : sequence of Lamination
        From the inside outwards.
    board_mm, slope : float
        Longest clear board; length of a scarf over thickness.
    rule : 'clear' or 'butts'
        See `RULES`. Where no placing keeps it, the one that comes nearest is given and `kept` is False.

    Notes
    -----
    Laminations are placed one after another from the inside, each with the least sum of |curvature| at its scarfs
    (bent least, a scarf is least likely to open: common practice, no source), by dynamic programming over places 10 mm
    apart.
    """
    named = RULES[rule]
    scarfs: list[Scarf] = []
    pieces: list[tuple[int, tuple[float, ...]]] = []
    kept = True
    for each in laminations:
        length = slope * each.thickness_mm
        count = scarf_count(each.length_mm, board_mm, length)
        ahead = (each.length_mm - each.developed_mm) / 2
        if count == 0:
            pieces.append((each.number, (each.length_mm,)))
            continue
        whole = board_mm - length / 2 + np.arange(count) * (board_mm - length)  # full boards from either end
        ends = np.concatenate([whole, each.length_mm - whole])
        grid = np.union1d(np.arange(length, each.length_mm - length, _GRID_MM), ends)
        cost = np.abs(np.interp(grid - ahead, line.s_mm, line.curvature_per_mm)) * 1000
        near = _nearness(grid - ahead, each.number, length, scarfs, named)
        middles = _best(grid, cost + 1e6 * near, count, each.length_mm, board_mm, length)
        where = np.searchsorted(grid, middles)
        kept = kept and not bool(np.any(near[where] > 0))
        scarfs += [Scarf(each.number, float(at - ahead), length) for at in middles]
        first = [0.0, *(float(at - length / 2) for at in middles)]
        last = [*(float(at + length / 2) for at in middles), each.length_mm]
        pieces.append((each.number, tuple(b - a for a, b in zip(first, last, strict=True))))
    return ScarfPlan(tuple(scarfs), tuple(pieces), named, slope, _least_apart(scarfs), kept)


def _nearness(places: Array, number: int, length: float, scarfs: Sequence[Scarf], rule: StaggerRule) -> Array:
    """How far each place falls short of the rule against the scarfs already placed; 0 where it keeps it."""
    short = np.zeros(len(places))
    for scarf in scarfs:
        away = number - scarf.lamination
        longer = max(length, scarf.length_mm)
        if away == 1:
            need = max(rule.neighbour_mm, rule.neighbour_lengths * longer)
        elif away <= rule.between:
            need = longer
        else:
            continue
        short += np.maximum(1 - np.abs(places - scarf.s_mm) / need, 0.0)
    return short


def _best(grid: Array, cost: Array, count: int, length: float, board: float, scarf: float) -> Array:
    """Places of `count` scarfs of least cost, such that no piece is longer than a board and no two scarfs overlap.

    Full boards laid from one end are among the places, so there always is one.
    """
    reach = board - scarf  # middle to middle at most
    total = np.where(grid + scarf / 2 <= board + 1e-9, cost, np.inf)
    back: list[NDArray[np.intp]] = []
    for _ in range(count - 1):
        gap = grid[:, None] - grid[None, :]
        step = np.where((gap >= scarf) & (gap <= reach + 1e-9), total[None, :], np.inf)
        best = step.argmin(axis=1)
        back.append(best)
        total = cost + step[np.arange(len(grid)), best]
    total = np.where(length - grid + scarf / 2 <= board + 1e-9, total, np.inf)
    found = [int(np.argmin(total))]
    for step_back in reversed(back):
        found.append(int(step_back[found[-1]]))
    return np.asarray(grid[found[::-1]])


def _least_apart(scarfs: Sequence[Scarf]) -> float:
    apart = [abs(one.s_mm - two.s_mm) for one in scarfs for two in scarfs if two.lamination - one.lamination == 1]
    return min(apart, default=math.inf)


def scarf_checks(plan: ScarfPlan) -> tuple[Check, ...]:
    """Slope and stagger, each with the rule it is held to."""
    if not plan.scarfs:
        return ()
    need = max(plan.rule.neighbour_mm, plan.rule.neighbour_lengths * max(scarf.length_mm for scarf in plan.scarfs))
    apart = (
        tell("{l} middle to middle", l=length(plan.apart_mm)) if math.isfinite(plan.apart_mm) else "none in neighbours"
    )
    return (
        Check(
            "Slope of scarfs",
            f"1 in {plan.slope:g}",
            f"1 in {STRONGEST_SLOPE:g} or flatter",
            plan.slope >= STRONGEST_SLOPE,
            "Wood Handbook ch. 10: strongest at 1 in 12 or flatter; joint area 10 × the section at least",
            "" if plan.slope >= STRONGEST_SLOPE else "to be agreed with a surveyor or naval architect",
        ),
        Check(
            "Stagger of scarfs",
            tell("{apart}, {n} scarfs", apart=apart, n=len(plan.scarfs)),
            tell("{l}: {rule}", l=length(need), rule=plan.rule.name),
            plan.kept,
            plan.rule.source,
            "" if plan.kept else "find longer boards for some laminations, or agree it with a surveyor",
        ),
    )
