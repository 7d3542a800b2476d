"""The blank: how large it must be, whether the bevelled pair lies in it, the ripping, and what each half carries."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

import numpy as np

from scrieve.boat import Side
from scrieve.frames.choice import FrameChoice
from scrieve.frames.parts import Array, BevelMark, Blank, CarriedMark, Outline
from scrieve.frames.shape.line import Line
from scrieve.units import format_angle
from scrieve.wording import length, small, tell
from scrieve.working import Check

HANDS: tuple[tuple[Side, str], ...] = (("P", "port"), ("S", "starboard"))


def hands_of(choice: FrameChoice) -> tuple[tuple[Side, str], ...]:
    """What is got out of the blank: each hand with its word, P first."""
    return tuple(hand for hand in HANDS if choice.hands in ("pair", hand[1]))


def blank_siding(
    sided_mm: float, kerf_mm: float, cleaning_mm: float, edge_cleaning_mm: float, halves: int = 2
) -> float:
    """Siding of the blank for a pair: 2 × sided + kerf + cleaning of both sawn faces + of both edges [mm].

    With one half there is no saw cut: sided + cleaning of both edges.

    Examples
    --------
    >>> blank_siding(1.5, 1 / 8, 1 / 16, 1 / 16), blank_siding(1.5, 1 / 8, 1 / 16, 1 / 16, 1)  # inches for once
    (3.375, 1.625)
    """
    if halves == 1:
        return sided_mm + 2 * edge_cleaning_mm
    return 2 * sided_mm + kerf_mm + 2 * cleaning_mm + 2 * edge_cleaning_mm


def needed_depth(outline: Outline, cleaning_mm: float) -> tuple[float, float]:
    """Depth that the bevelled frame needs, and how far of it stands outside the moulded line [mm].

    The packet lies parallel to the moulded line; standing bevels want wood outside it, under bevels inside the inner
    edge, and each face is cleaned.
    """
    outside = max(0.0, float(outline.shift_mm.max())) + cleaning_mm
    inside = float((outline.moulded_mm - np.minimum(outline.shift_mm, 0.0)).max()) + cleaning_mm
    return outside + inside, outside


def make_blank(outline: Outline, choice: FrameChoice, depth_mm: Array, outside_mm: float, length_mm: float) -> Blank:
    """The blank, with the least wood left on it, found point by point on both faces of the frame and of the packet.

    `depth_mm` (n,) is the packet's depth along the outline: less where laminations are dropped.
    """
    needed, _ = needed_depth(outline, choice.cleaning_mm)
    inside = depth_mm - outside_mm
    zero = np.zeros_like(outline.shift_mm)
    left = {
        "outside, moulding face": zero + outside_mm - choice.cleaning_mm,
        "outside, far face": outside_mm - choice.cleaning_mm - outline.shift_mm,
        "inside, moulding face": inside - choice.cleaning_mm - outline.moulded_mm,
        "inside, far face": inside - choice.cleaning_mm - (outline.moulded_mm - outline.shift_mm),
    }
    face = min(left, key=lambda name: float(left[name].min()))
    at = int(np.argmin(left[face]))
    hands = hands_of(choice)
    siding = blank_siding(choice.sided_mm, choice.kerf_mm, choice.cleaning_mm, choice.edge_cleaning_mm, len(hands))
    steps: tuple[tuple[str, float], ...] = (
        ("moulding-edge face of half P (plane to here)", choice.edge_cleaning_mm),
        ("far face of half P (plane to here)", choice.edge_cleaning_mm + choice.sided_mm),
        ("saw cut, near side", siding / 2 - choice.kerf_mm / 2),
        ("saw cut, far side", siding / 2 + choice.kerf_mm / 2),
        ("far face of half S (plane to here)", siding - choice.edge_cleaning_mm - choice.sided_mm),
        ("moulding-edge face of half S (plane to here)", siding - choice.edge_cleaning_mm),
    )
    if len(hands) == 1:
        steps = (
            ("moulding-edge face (plane to here)", choice.edge_cleaning_mm),
            ("far face (plane to here)", choice.edge_cleaning_mm + choice.sided_mm),
        )
    return Blank(
        siding_mm=siding,
        depth_mm=float(depth_mm.max()),
        length_mm=length_mm,
        needed_mm=needed,
        outside_mm=outside_mm,
        inside_mm=float(inside.max()),
        spare_mm=float(left[face][at]),
        spare_s_mm=float(outline.s_mm[at]),
        spare_face=face,
        rips=steps,
    )


def blank_check(blank: Blank, cleaning_mm: float) -> Check:
    """Whether the bevelled frame lies within the packet on both faces, cleaning left on."""
    return Check(
        "Bevelled frame within the packet",
        tell(
            "{spare} to spare at the tightest ({face}, {s} along)",
            spare=small(blank.spare_mm),
            face=blank.spare_face,
            s=length(blank.spare_s_mm),
        ),
        tell("0 or more beyond {c} of cleaning", c=small(cleaning_mm, None)),
        blank.spare_mm >= -1e-9,
        "the finished outline on both faces against the packet's faces, point by point",
        "" if blank.spare_mm >= -1e-9 else "the blank is too thin: add a lamination, or clean off less",
    )


def marks_to_carry(
    line: Line,
    choice: FrameChoice,
    edge: Literal["fore", "aft"],
    bevels: Sequence[BevelMark],
) -> tuple[CarriedMark, ...]:
    """The marks of each half got out, made before the blank leaves the jig; the second half mirrors the first."""
    far = "aft" if edge == "fore" else "fore"
    marks: list[CarriedMark] = []
    for hand, word in hands_of(choice):
        label = choice.frame.removesuffix(f" {hand}") if choice.hands == word else choice.frame
        name = f"frame {label} {hand}".replace("  ", " ")
        marks.append(CarriedMark(hand, f"{name} ({word}): label on the moulding-edge face"))
        marks.append(
            CarriedMark(
                hand, f"moulding edge: {edge} face (an edge of the blank); the {_other_face(choice)} face is {far}"
            )
        )
        marks.append(_at(line, hand, "heel", float(line.s_mm[0])))
        for height in choice.waterlines_mm:
            marks += [_at(line, hand, f"waterline {height:g}", s) for s in crossings(line, height)]
        marks += [
            CarriedMark(hand, f"bevel {mark.number}: {_bevel(mark)}", mark.s_mm, mark.half_breadth_mm, mark.height_mm)
            for mark in bevels
        ]
        marks.append(_at(line, hand, "head", float(line.s_mm[-1])))
    return tuple(marks)


def _other_face(choice: FrameChoice) -> str:
    return "sawn" if choice.hands == "pair" else "other"


def crossings(line: Line, height_mm: float) -> list[float]:
    """Places along the line where it crosses a height [mm]."""
    above = line.points_mm[:, 1] - height_mm
    here = np.flatnonzero((above[:-1] < 0) != (above[1:] < 0))
    share = above[here] / (above[here] - above[here + 1])
    return [float(s) for s in line.s_mm[here] + share * (line.s_mm[here + 1] - line.s_mm[here])]


def missed_waterlines(line: Line, heights_mm: Iterable[float]) -> list[float]:
    """Heights asked for that the moulded line never crosses."""
    return [height for height in heights_mm if not crossings(line, height)]


def _bevel(mark: BevelMark) -> str:
    return mark.word if mark.word == "square" else f"{mark.word} {format_angle(abs(mark.bevel_rad))}"


def _at(line: Line, hand: Side, text: str, s: float) -> CarriedMark:
    across, up = (float(np.interp(s, line.s_mm, line.points_mm[:, axis])) for axis in (0, 1))
    return CarriedMark(hand, text, s, across, up)
