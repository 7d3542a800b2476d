"""One part in hand on the timber page: where it lies or is tried, what it breaks there, as fields and as a drawing."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, get_args

from scrieve.errors import BadBoard, BadLength
from scrieve.sheets.board_drawings import board_drawing
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.figures import length
from scrieve.stock.board import Board
from scrieve.stock.by_hand import at_corner, breaches_of, corner, nearest, turned
from scrieve.stock.check import Breach
from scrieve.stock.laying import Laying, Placement
from scrieve.stock.layout import laying_from
from scrieve.stock.parts import Part
from scrieve.stock.poses import Lie
from scrieve.stock.standing import Standing
from scrieve.stock.usable import Up
from scrieve.units import MM_PER_INCH, Units, parse_length
from scrieve.wording import Length

#: A part is turned by so much at a step [°].
TURN_DEG = 0.1
#: What can be done with a part in hand, besides moving it.
MOVES = ("", "end", "face", "left", "right", "nearest", "firstward", "lastward", "lower", "higher")
#: A button moves it by so much [mm], and what it is called.
NUDGES: dict[Units, tuple[float, str]] = {"mm": (1.0, "1 mm"), "ft": (MM_PER_INCH / 16, "1/16 in")}
_WAYS = {"firstward": (-1, 0), "lastward": (1, 0), "lower": (0, -1), "higher": (0, 1)}


@dataclass(frozen=True)
class Hand:
    """A part in hand. `tried` tells that it does not lie so yet; `said` why what was typed was not taken."""

    part: Part
    one: Placement
    breaches: tuple[Breach, ...]
    tried: bool
    waiting: bool
    units: Units
    said: str = ""

    @property
    def sawable(self) -> bool:
        """Whether a saw could cut it so."""
        return all(breach.sawable for breach in self.breaches)

    @property
    def fields(self) -> dict[str, str]:
        """Its place as the form's fields have it."""
        first, lowest = corner(self.part, self.one)
        turn = math.degrees(math.remainder(self.one.lie.angle_rad, math.pi))
        return {
            "first": length(first, self.units, 1),
            "lowest": length(lowest, self.units, 1),
            "turned": f"{round(turn, 2) + 0.0:g}",
            "over": "yes" if math.cos(self.one.lie.angle_rad) < 0 else "",
            "up": self.one.lie.up,
        }

    @property
    def nudge(self) -> str:
        """By how much a button moves it, in words."""
        return NUDGES[self.units][1]

    @property
    def corner_mm(self) -> tuple[float, float]:
        """Where it begins and how low it reaches [mm]."""
        return corner(self.part, self.one)


def in_hand(found: Standing, asked: Mapping[str, str], units: Units) -> Hand | None:
    """Return the part asked for, where it lies or as it is tried; None where there is no such part or board.

    Parameters
    ----------
    found : Standing
    asked : mapping
        `part`; `board`, where it is to be tried; `first`, `lowest`, `turned`, `over`, `up` as the form has them;
        `at_x`, `at_y`, exactly what it shows as first and lowest [mm]; `by_x`, `by_y`, moved by so much from there;
        `move`, one of `MOVES`.
    units : {'mm', 'ft'}
    """
    laying = found.at_hand
    part = next((one for one in laying.parts if one.name == asked.get("part")), None)
    if part is None or not laying.boards:
        return None
    lies = next((one for one in laying.placements if one.part == part.name), None)
    start, said = _start(laying, part, lies, asked.get("board", "")), ""
    one = start
    try:
        one = _typed(part, start, asked, units)
        one = _moved(laying, part, _dragged(one, asked), asked.get("move", ""), NUDGES[units][0])
    except (BadBoard, BadLength) as error:
        said = str(error)
    tried = lies is None or one != lies
    return Hand(part, one, breaches_of(laying, one, units=units), tried, lies is None, units, said)


def _start(laying: Laying, part: Part, lies: Placement | None, board: str) -> Placement:
    """Return where it lies; on a board that it does not lie on, the clear place nearest to the board's first end."""
    wanted = next((one for one in laying.boards if one.name == board), None)
    if lies is not None and (wanted is None or wanted.name == lies.board):
        return lies
    on = wanted or _likely(laying, part)
    low, high = on.top.at([on.length_mm / 2])
    for up in get_args(Up):
        one = at_corner(part, Placement(part.name, on.name, Lie(up, 0.0), 0.0, 0.0), 0.0, float(low[0] + high[0]) / 2)
        one = turned(part, one, one.lie)
        if (clear := nearest(laying, one)) is not None:
            return clear
    return at_corner(part, Placement(part.name, on.name, Lie("inside", 0.0), 0.0, 0.0), 0.0, float(low[0]))


def _likely(laying: Laying, part: Part) -> Board:
    """Return the first board that is long and thick enough, or the longest."""
    need = part.stock_mm(laying.saw.kerf_mm)
    fits = [one for one in laying.boards if one.thickness_mm >= need and one.length_mm >= part.length_mm]
    return fits[0] if fits else max(laying.boards, key=lambda one: one.length_mm)


def _typed(part: Part, one: Placement, asked: Mapping[str, str], units: Units) -> Placement:
    if asked.get("turned", "").strip() or asked.get("up"):
        lie = Lie(_up(asked, one), _angle(asked, one))
        one = turned(part, one, lie) if lie != one.lie else one
    first, lowest = corner(part, one)
    ends = [_length(asked, *each, units) for each in (("first", "at_x", first), ("lowest", "at_y", lowest))]
    return one if ends == [first, lowest] else at_corner(part, one, *ends)


def _length(asked: Mapping[str, str], name: str, exactly: str, was: float, units: Units) -> float:
    """Return a length typed; exactly what the field shows rounded, where it has been left as it was."""
    text = asked.get(name, "").strip()
    try:
        exact = float(asked.get(exactly) or math.nan)
    except ValueError:
        exact = math.nan
    if not text:
        return was
    for shown in (was, exact):
        if math.isfinite(shown) and text == length(shown, units, 1):
            return shown
    try:
        value = parse_length(text, units)
    except BadLength as error:
        raise BadLength(f"{'from its first end' if name == 'first' else 'from the datum line'}: {error}") from error
    return was if abs(value - was) < 0.051 else value


def _dragged(one: Placement, asked: Mapping[str, str]) -> Placement:
    """Return a place moved by `by_x`, `by_y` [mm], as a finger or a key moves it."""
    try:
        along, across = (float(asked.get(name) or "0") for name in ("by_x", "by_y"))
    except ValueError:
        along = across = math.nan
    if not (math.isfinite(along) and math.isfinite(across)):
        raise BadBoard("by_x and by_y: give plain numbers, in mm.")
    return replace(one, x_mm=one.x_mm + along, y_mm=one.y_mm + across)


def _up(asked: Mapping[str, str], one: Placement) -> Up:
    return next((up for up in get_args(Up) if up == asked.get("up")), one.lie.up)


def _angle(asked: Mapping[str, str], one: Placement) -> float:
    """Return the angle typed; as it was, to the last digit, where the field shows it as it was."""
    try:
        degrees = float(asked.get("turned", "").strip() or "0")
    except ValueError:
        degrees = math.nan
    if not (math.isfinite(degrees) and abs(degrees) <= 90):
        raise BadBoard(f"turned: found {asked.get('turned')!r}; give degrees from -90 to 90.")
    angle = math.radians(degrees) + (math.pi if asked.get("over") == "yes" else 0.0)
    return one.lie.angle_rad if abs(math.remainder(angle - one.lie.angle_rad, 2 * math.pi)) < 9e-5 else angle


def _moved(laying: Laying, part: Part, one: Placement, move: str, nudge_mm: float) -> Placement:
    lie = one.lie
    if move == "end":
        return turned(part, one, Lie(lie.up, lie.angle_rad + math.pi))
    if move == "face":
        return turned(part, one, Lie("outside" if lie.up == "inside" else "inside", lie.angle_rad))
    if move in ("left", "right"):
        step = math.radians(TURN_DEG) * (1 if move == "left" else -1)
        return turned(part, one, Lie(lie.up, lie.angle_rad + step))
    if move in _WAYS:
        along, across = _WAYS[move]
        return replace(one, x_mm=one.x_mm + along * nudge_mm, y_mm=one.y_mm + across * nudge_mm)
    if move == "nearest":
        if (clear := nearest(laying, one)) is None:
            raise BadBoard(f"board {one.board!r} has no clear place for {one.part}, turned as it is; turn it, or try "
                           "another board.")  # fmt: skip
        return clear
    return one


def hand_drawing(found: Standing, hand: Hand, links: Mapping[str, str]) -> Drawing:
    """Return the board with the part in hand where it is tried, and what it breaks there."""
    laying = found.at_hand
    rest = tuple(one for one in laying.placements if one.part != hand.part.name)
    shown = replace(laying, placements=(*rest, hand.one))
    broken = [ring for breach in hand.breaches for ring in breach.where]
    return board_drawing(laying.board(hand.one.board), shown, units=hand.units, links=dict(links), broken=broken,
                         room=True)  # fmt: skip


def told_places(found: Standing, kept: Mapping[str, Any] | None, units: Units) -> dict[str, str]:
    """Return where each part to be cut lies by a laying as it is kept, in words; without those that lie nowhere."""
    if kept is None:
        return {}
    laying = laying_from(kept, found.boards, found.parts, found.shop)
    return {one.part: told_place(laying.part(one.part), one, units) for one in laying.placements}


def told_place(part: Part, one: Placement, units: Units) -> str:
    """Return where a part lies, in words."""
    first, lowest = (Length(value, 1).told(units) for value in corner(part, one))
    turn = math.degrees(math.remainder(one.lie.angle_rad, 2 * math.pi))
    held = ", held" if one.held else ""
    return f"board {one.board}, {one.lie.up} up, {first} from its first end, lowest {lowest}, turned {turn:.2f}°{held}"


def standing_breaches(laying: Laying, board: str, units: Units) -> Sequence[tuple[str, Breach]]:
    """Return what the parts that the builder holds on a board break, with their names."""
    return [(one.part, breach) for one in laying.on(board) if one.held
            for breach in breaches_of(laying, one, units=units)]  # fmt: skip
