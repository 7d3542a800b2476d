"""Fastenings of the planking: which screw, how many at each crossing, holes, and the count to order."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scrieve.errors import BadPlank, above_zero
from scrieve.planking.lining.choice import known
from scrieve.planking.lining.result import Lining
from scrieve.timber.fastenings import (
    PILOT_SOURCE,
    CountRule,
    PlankingScrew,
    count_rule,
    pilot_hole,
    planking_screw,
    withdrawal_ultimate_n,
)
from scrieve.timber.species import species
from scrieve.wording import by_itself, small, tell
from scrieve.working import Check, Working

COMMON = "common practice, no source"
#: Threaded part of a wood screw's length.
THREAD_SHARE = 2 / 3
#: Deepest counterbore, as a share of the plank's thickness.
COUNTERBORE_SHARE = 1 / 3
#: A screw stays this far inside the frame's inner face [mm].
_INSIDE_MM = 3.0

CAUTION = (
    "Withdrawal is the average of tests on sound, dry, seasoned wood, a figure for comparison only: no design value. "
    "Wet or old frames hold less. Fastenings no smaller nor fewer than the rest of the hull has (TB 55-1900-201-45/1, "
    "paragraph 2-12); agree them with a surveyor or naval architect, and the metal with the rest of the hull's."
)


@dataclass(frozen=True, slots=True)
class FasteningChoice:
    """How the planking is to be fastened; plain values that can be kept as JSON, lengths in mm.

    `frame_timber` is a species of the table (blank: not known, no withdrawal given) and `frame_group` its group where
    no species is named. `counterbore_mm` 0 takes a third of the thickness. `frame_moulded_mm` 0: not known. At a butt
    `butt_each_side` fastenings hold each plank, at a hood end `hood_end`. `spares` is a share added to the total.
    """

    thickness_mm: float
    rule: str = "two, three in wide planks"
    frame_timber: str = ""
    frame_group: str = "hardwood"
    counterbore_mm: float = 0.0
    frame_moulded_mm: float = 0.0
    butt_each_side: int = 5
    hood_end: int = 3
    spares: float = 0.1

    def __post_init__(self) -> None:
        above_zero("fastenings, thickness of planking", self.thickness_mm, "mm", BadPlank)
        for name in ("counterbore_mm", "frame_moulded_mm", "butt_each_side", "hood_end", "spares"):
            value = getattr(self, name)
            if not (isinstance(value, (int, float)) and math.isfinite(value) and value >= 0):
                raise BadPlank(f"fastenings, {name.removesuffix('_mm').replace('_', ' ')}: {value}; give 0 or more.")

    @classmethod
    def from_mapping(cls, given: Mapping[str, object]) -> FasteningChoice:
        """Read a choice from plain values; raise BadPlank for what is not one."""
        return cls(**known(cls, given))


@dataclass(frozen=True, slots=True)
class StrakeFastenings:
    """Fastenings of one strake: at each frame crossed (label, width, count), at butts and at hood ends."""

    strake: int
    crossings: tuple[tuple[str, float, int], ...]
    butts: int
    hood_ends: int

    @property
    def total(self) -> int:
        """All fastenings of the strake."""
        return sum(count for _, _, count in self.crossings) + self.butts + self.hood_ends


@dataclass(frozen=True, slots=True)
class FasteningSchedule:
    """The fastenings of one side: screw, holes, counts and what to order; lengths in mm.

    `hold_mm` is what of the screw stands in the frame, `thread_mm` the threaded part of that, `withdrawal_n` the
    average ultimate withdrawal of one screw (None: timber of the frame not known).
    """

    choice: FasteningChoice
    screw: PlankingScrew
    counterbore_mm: float
    pilot_mm: float
    hold_mm: float
    thread_mm: float
    withdrawal_n: float | None
    strakes: tuple[StrakeFastenings, ...]
    total: int
    order: int
    checks: tuple[Check, ...]
    workings: tuple[Working, ...]
    cautions: tuple[str, ...]


def crossings_of(lining: Lining) -> dict[int, tuple[tuple[str, float], ...]]:
    """Where each strake (from 1) of a lining crosses frames: label and width there [mm]."""
    return {
        j + 1: tuple(
            (frame.label, float(width))
            for frame, width in zip(lining.frames, row, strict=True)
            if frame.label and np.isfinite(width)
        )
        for j, row in enumerate(lining.width_mm)
    }


def fastening_schedule(
    crossings: Mapping[int, Sequence[tuple[str, float]]],
    choice: FasteningChoice,
    *,
    butts: Mapping[int, int] | None = None,
    hood_ends: Mapping[int, int] | None = None,
) -> FasteningSchedule:
    """Count the fastenings of a side.

    Parameters
    ----------
    crossings : mapping of strake -> (frame label, width in mm) in order
        As `crossings_of` gives them.
    choice : FasteningChoice
        Thickness, rule, timber, allowances.
    butts : mapping of strake -> number of butts, optional
    hood_ends : mapping of strake -> number of hood ends, optional
        Two for each strake not named; a stealer has one.

    Raises
    ------
    BadPlank
        The screw table does not reach this thickness, the rule is not known, or a width is not above zero.
    NoSuchTimber
        The frames' timber is not in the table of species.
    """
    screw = planking_screw(choice.thickness_mm)
    rule = count_rule(choice.rule)
    strakes = []
    for strake, places in sorted(crossings.items()):
        counted = tuple((label, width, rule.at(width)[i % 2]) for i, (label, width) in enumerate(places))
        least = max((count for _, _, count in counted), default=0)
        at_butts = 2 * max(choice.butt_each_side, least) * (butts or {}).get(strake, 0)
        at_hoods = max(choice.hood_end, least) * (hood_ends or {}).get(strake, 2)
        strakes.append(StrakeFastenings(strake, counted, at_butts, at_hoods))
    total = sum(strake.total for strake in strakes)
    bore = choice.counterbore_mm or choice.thickness_mm * COUNTERBORE_SHARE
    hold = screw.length_mm - (choice.thickness_mm - bore)
    thread = min(THREAD_SHARE * screw.length_mm, hold)
    timber = species(choice.frame_timber) if choice.frame_timber.strip() else None
    group = choice.frame_group if timber is None else ("hardwood" if timber.group == "hardwood" else "softwood")
    withdrawal = None
    if timber is not None and thread > 0:
        withdrawal = withdrawal_ultimate_n("screw", screw.body_hole_mm, timber.gravity_12, thread)
    order = math.ceil(total * (1 + choice.spares) - 1e-9)
    pilot = pilot_hole(screw, group)
    told = _workings(choice, screw, rule, pilot, bore, thread, total, order, group)
    if withdrawal is not None and timber is not None:
        told = (*told, _withdrawal(screw, timber.name, timber.gravity_12, thread, withdrawal))
    return FasteningSchedule(
        choice=choice, screw=screw, counterbore_mm=bore, pilot_mm=pilot, hold_mm=hold, thread_mm=thread,
        withdrawal_n=withdrawal, strakes=tuple(strakes), total=total, order=order,
        checks=_checks(choice, screw, bore, hold), workings=told,
        cautions=tuple(said for said in (CAUTION, rule.caution) if said),
    )  # fmt: skip


def clinker_nails(land_mm: float, thickness_mm: float) -> int:
    """Nails along one land of clinker planking: one every six thicknesses, and one at its end.

    References
    ----------
    .. [1] Rule of thumb for clinker boats: spacing 6 × t, ribs at every second or third nail, lap 2 × t.

    Examples
    --------
    >>> clinker_nails(4000, 10)
    67
    """
    land, t = above_zero("land and thickness", [land_mm, thickness_mm], "mm", BadPlank)
    return math.floor(float(land) / (6 * float(t)) + 1e-9) + 1


def _small(mm: float, digits: int | None = 1) -> str:
    return by_itself(small(mm, digits))


def _checks(choice: FasteningChoice, screw: PlankingScrew, bore: float, hold: float) -> tuple[Check, ...]:
    deepest = choice.thickness_mm * COUNTERBORE_SHARE
    found = [
        Check("Counterbore", _small(bore), tell("{d}, a third of the thickness", d=small(deepest)),
              bore <= deepest + 1e-9,
              COMMON, "Too little wood is left under the head: bore shallower."),
        Check("Nearest thickness of the table", _small(choice.thickness_mm),
              tell("{t} ± {near}", t=small(screw.thickness_mm), near=small(1.6)),
              abs(choice.thickness_mm - screw.thickness_mm) <= 1.6, screw.source,
              "Between two rows of the table: look at the next screw too."),
    ]  # fmt: skip
    if choice.frame_moulded_mm:
        found.append(Check("Screw inside the frame", tell("{it} in the frame", it=small(hold)),
                           tell("{most}, {short} short of its inner face",
                                most=small(choice.frame_moulded_mm - _INSIDE_MM), short=small(_INSIDE_MM, None)),
                           hold <= choice.frame_moulded_mm - _INSIDE_MM, "shop default, no source; change to suit",
                           "A shorter screw, or a shallower counterbore; or rivet through."))  # fmt: skip
    return tuple(found)


def _workings(
    choice: FasteningChoice, screw: PlankingScrew, rule: CountRule, pilot: float, bore: float, thread: float,
    total: int, order: int, group: str,
) -> tuple[Working, ...]:  # fmt: skip
    t = ("thickness", _small(choice.thickness_mm, None))
    return (
        Working("Screw", tell("no. {no} × {it}, bung {bung} in", no=screw.number, it=small(screw.length_mm, 0),
                              bung=screw.bung_in), "row of the table",
                (t, ("row", _small(screw.thickness_mm)), ("body hole", _small(screw.body_hole_mm))),
                screw.source),
        Working("Pilot hole in the frame", _small(pilot), "body hole × 2/3 × share",
                (("body hole", _small(screw.body_hole_mm)), ("frame", group)), PILOT_SOURCE),
        Working("Counterbore", tell("{bore} deep", bore=small(bore)),
                "thickness / 3" if not choice.counterbore_mm else "as chosen",
                (t,), COMMON),
        Working("Thread in the frame", _small(thread), "least of 2/3 × length and what stands in the frame",
                (("length", _small(screw.length_mm)), ("counterbore", _small(bore)), t), COMMON),
        Working("At each crossing", rule.name, "by the width of the plank at the frame", (), rule.source, rule.caution),
        Working("At butts and hood ends", f"{choice.butt_each_side} each side; {choice.hood_end}",
                "never fewer than at a crossing", (), f"{COMMON}: light boats five each side of a butt, in two rows"),
        Working("Screws to order", f"{order}", "total × (1 + spares)",
                (("total", f"{total}"), ("spares", f"{choice.spares:.0%}")), COMMON),
    )  # fmt: skip


def _withdrawal(screw: PlankingScrew, timber: str, gravity: float, thread: float, newtons: float) -> Working:
    return Working(
        "Withdrawal, one screw", f"{newtons:.0f} N, ultimate, average", "15700 G² D L (lb, in)",
        (("G", f"{gravity:g}, {timber}"), ("D, the printed body hole", _small(screw.body_hole_mm, 2)),
         ("L, thread in the frame", _small(thread))),
        "Wood Handbook eq. 8-10", CAUTION,
    )  # fmt: skip
