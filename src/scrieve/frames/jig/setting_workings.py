"""How the figures of a jig's setting came about: travel, departure between brackets, minutes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol

from scrieve.frames.jig.bed import ERROR_LIMIT_MM, HELD_MM, TRAVEL_STEP_MM, JigBed
from scrieve.frames.jig.setting import SWIVEL_STEP_RAD, ChangeList
from scrieve.frames.packet.lying import Lie
from scrieve.frames.parts import Bracket, Jig
from scrieve.wording import by_itself, joined, length, small, tell
from scrieve.working import Check, Working

_TIMES = "the jig's own times as described, else shop defaults without a source; docs/jig.md"


class _Turn(Protocol):
    @property
    def moved(self) -> tuple[int, ...]: ...
    @property
    def travel_mm(self) -> float: ...


def travel_minutes(bed: JigBed) -> str:
    """The minutes that the travel of brackets takes, as told."""
    return tell("{m} min for each {hundred}", m=f"{100 * bed.mm_min:g}", hundred=small(100.0, 0))


def setting_workings(jig: Jig, lie: Lie, change: ChangeList, bed: JigBed) -> tuple[Working, ...]:
    """Workings of one frame's setting: greatest travel, worst departure, minutes of the change."""
    far = max(jig.brackets, key=lambda each: each.travel_mm)
    worst = lie.worst
    moved, travel = change.moved, change.travel_mm
    turns = sum(abs(each.swivel_by_rad) >= SWIVEL_STEP_RAD for each in change.changes)
    return (
        Working(
            "Greatest travel",
            tell("{t}, bracket {n}", t=small(far.travel_mm), n=far.number),
            "height of the bearing face over the datum line at the bracket's place, with the stand-off w² κ / 8 of a "
            "flat face, rounded; or where it stood before, if a kept plan leaves it",
            (
                ("computed height", by_itself(small(far.exact_travel_mm, 2))),
                ("rounded to", by_itself(small(TRAVEL_STEP_MM))),
                ("width of a bracket's face", tell("{t}, {face}", t=length(bed.face_width_mm), face=bed.face)),
                ("place along the datum line", tell("{t} from rail 1", t=length(far.along_mm))),
            ),
            "geometry of the posed packet; sagitta of a chord w on curvature κ",
        ),
        Working(
            "Departure between brackets",
            tell("{d} at most", d=small(lie.error_mm, 2, HELD_MM)),
            "line of least ∫κ² ds through the brackets as they are set, against the curve wanted",
            (
                ("in the bay", f"{worst.first or 'end'} to {worst.last or 'end'}"),
                ("limit", by_itself(small(ERROR_LIMIT_MM))),
                ("widest pitch that holds it", by_itself(length(jig.pitch_for_1mm)) if jig.pitch_for_1mm else "–"),
            ),
            "Love, Mathematical Theory of Elasticity, art. 262-263; limit: shop default, no source; docs/jig.md",
            "Friction under clamps can hold the packet off this line: sight along it and check with a thin batten.",
        ),
        Working(
            "Setting time",
            f"{change.minutes:.0f} min",
            "per frame + brackets moved × per bracket + travel × its minutes + swivels × per swivel",
            (
                ("per frame", f"{bed.frame_min:g} min"),
                ("brackets moved", f"{moved} × {bed.move_min:g} min"),
                ("travel of those whose place is known", by_itself(length(travel))),
                ("minutes of travel", travel_minutes(bed)),
                ("swivels", f"{turns} × {bed.swivel_min:g} min"),
            ),
            _TIMES,
        ),
    )


def plan_workings(
    turns: Sequence[_Turn], minutes: float, naive_minutes: float, bound_minutes: float | None, bed: JigBed
) -> tuple[Working, ...]:
    """How the setting time of a plan came about, and what it saves."""
    moved = sum(len(each.moved) for each in turns)
    travel = sum(each.travel_mm for each in turns)
    saving = 1 - minutes / naive_minutes if naive_minutes else 0.0
    found = [
        Working(
            "Setting time",
            f"{minutes:.0f} min",
            "frames × per frame + brackets moved × per bracket + travel × its minutes",
            (
                ("frames", f"{len(turns)} × {bed.frame_min:g} min"),
                ("brackets moved", f"{moved} × {bed.move_min:g} min"),
                ("travel", tell("{t}, {m}", t=length(travel), m=travel_minutes(bed))),
                ("as numbered, same datum", f"{naive_minutes:.0f} min"),
            ),
            _TIMES,
            "A bracket that stays put is checked all the same: chord and sagitta before the glue is mixed.",
        ),
        Working(
            "Saving",
            f"{saving:.0%}",
            "1 - setting time / setting time of the same frames as numbered, each with its chord on one datum",
            (("setting time", f"{minutes:.0f} min"), ("as numbered", f"{naive_minutes:.0f} min")),
            'computed; docs/jig.md, "Pose and order"',
        ),
    ]
    if bound_minutes is not None and math.isfinite(bound_minutes) and bound_minutes > 0:
        found.append(
            Working(
                "Gap to the bound",
                f"{minutes / bound_minutes - 1:.0%}",
                "setting time / bound - 1; the bound: the best order if each change cost the least found for its pair",
                (("bound", f"{bound_minutes:.0f} min"),),
                "Held & Karp 1962 over the pairs; found by search, not proven",
            )
        )
    return tuple(found)


def block_words(blocks: Sequence[Bracket], held_mm: float | None, bed: JigBed) -> str:
    """Where blocks screwed to the bed would hold a packet that its brackets do not; '' without blocks."""
    if not blocks or held_mm is None:
        return ""
    first = "column 1" if bed.row_mm else "rail 1"
    places = [
        tell("{a} from {r}, face {t} out", a=length(each.along_mm), r=first, t=small(each.travel_mm)) for each in blocks
    ]
    what = "a block" if len(blocks) == 1 else f"{len(blocks)} blocks"
    held = small(held_mm, 2)
    return tell("screw {w} to the bed: {l}. The packet then lies within {h}", w=what, l=joined(places, "; "), h=held)


def setting_limits(jig: Jig, lie: Lie, bed: JigBed, remedy: str = "") -> tuple[Check, ...]:
    """What the setting takes of the jig, held against what the jig has, and the packet's departure on it.

    `remedy` is what to do where the brackets do not hold it.
    """
    swivel = max(jig.brackets, key=lambda each: abs(each.swivel_rad))
    travels = [each.travel_mm for each in jig.brackets]
    count = len(jig.brackets)
    described = "the jig as described"
    good = lie.error_mm <= HELD_MM
    return (
        Check(
            "Packet on these brackets",
            tell("{d} off the wanted curve", d=small(lie.error_mm, 2, HELD_MM)),
            by_itself(small(ERROR_LIMIT_MM)),
            good,
            "least bending energy between brackets (docs/jig.md); limit: shop default, no source",
            "" if good else remedy or "rails closer together, or another pose",
        ),
        Check("Brackets", f"{count}", f"{bed.brackets} or fewer", count <= bed.brackets, described),
        Check(
            "Swivel",
            f"{math.degrees(abs(swivel.swivel_rad)):.1f}°, bracket {swivel.number}",
            f"{math.degrees(bed.swivel_most_rad):.0f}°",
            abs(swivel.swivel_rad) <= bed.swivel_most_rad + 1e-9,
            described,
        ),
        Check(
            "Travel",
            tell("{a} to {b}", a=length(min(travels)), b=length(max(travels))),
            tell("{a} to {b}", a=length(bed.travel_least_mm), b=length(bed.travel_most_mm))
            if bed.row_mm is None
            else tell("{r} of holes and {b}", r=length(bed.depth_mm), b=length(bed.travel_most_mm)),
            all(bed.reach(each) is not None for each in travels),
            described,
        ),
    )
