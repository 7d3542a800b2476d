"""Rules of single planks, where they differ from those of the shop: the face seen, knots, sapwood, resawn in pairs."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any, Literal

from scrieve.errors import BadBoard
from scrieve.stock.parts import Sapwood, Show
from scrieve.units import Units, parse_length

KnotFace = Literal["inside", "any"]
_SEEN: Mapping[str, Show] = {"seen outside": "outside", "seen inside": "inside", "not seen": ""}
_PAIR = {"pair": True, "no pair": False}
_SAPWOOD: Mapping[str, Sapwood] = {"sapwood": "allowed", "no sapwood": "never"}
_KNOTS = re.compile(r"knots (?P<most>.+?)(?: (?P<face>any|inside) face)?")
_HOW = (
    "write a plank to a line, such as 'garboard: seen outside, knots 20 any face, pair' (or: seen inside, not seen, "
    "knots 20 inside face, sapwood, no sapwood, no pair)"
)


@dataclass(frozen=True, slots=True)
class OwnRule:
    """What one plank will stand, or which face of it is seen, in place of the shop's rule; None leaves that as it is.

    `sound_knot_mm` is the greatest sound knot allowed, `knot_face` where; `book_matched` whether port and starboard are
    resawn from one board.
    """

    plank: str
    show: Show | None = None
    sound_knot_mm: float | None = None
    knot_face: KnotFace | None = None
    sapwood: Sapwood | None = None
    book_matched: bool | None = None

    def changes(self) -> dict[str, Any]:
        """What it sets, by the names that the shop's rules have."""
        return {name: value for name, value in asdict(self).items() if name != "plank" and value is not None}


def read_own(text: str, units: Units) -> tuple[OwnRule, ...]:
    """Read the rules of single planks, one to a line.

    Raises
    ------
    BadBoard
        A line cannot be read, or a plank is there twice; the message shows how it is written.
    BadLength
        The size of a knot is no length.

    Examples
    --------
    >>> read_own("garboard: seen outside, no pair", "mm")[0].changes()
    {'show': 'outside', 'book_matched': False}
    """
    found: dict[str, OwnRule] = {}
    for line in filter(None, (line.strip() for line in text.splitlines())):
        name, parted, words = (part.strip() for part in line.rpartition(":"))
        given: dict[str, Any] = {}
        for word in (word.strip().lower() for word in re.split(r"[,;]", words)):
            if word in _SEEN:
                given["show"] = _SEEN[word]
            elif word in _PAIR:
                given["book_matched"] = _PAIR[word]
            elif word in _SAPWOOD:
                given["sapwood"] = _SAPWOOD[word]
            elif knots := _KNOTS.fullmatch(word):
                given["sound_knot_mm"] = parse_length(knots["most"], units)
                given |= {"knot_face": knots["face"]} if knots["face"] else {}
            else:
                raise BadBoard(f"rules of single planks, {line!r}: found {word!r}; {_HOW}.")
        if not parted or not name:
            raise BadBoard(f"rules of single planks, {line!r}: {_HOW}.")
        if name in found:
            raise BadBoard(f"rules of single planks: {name!r} is there twice; put its rules on one line.")
        if given.get("sound_knot_mm", 0.0) < 0:
            raise BadBoard(f"rules of single planks, {line!r}: a knot below zero; give its size.")
        found[name] = OwnRule(name, **given)
    return tuple(found.values())


def write_own(rules: tuple[OwnRule, ...], length: Callable[[float], str]) -> str:
    """Return the rules as they are typed; `length` writes one."""
    lines = []
    for rule in rules:
        words = [word for table, value in ((_SEEN, rule.show), (_PAIR, rule.book_matched), (_SAPWOOD, rule.sapwood))
                 for word, means in table.items() if value is not None and means == value]  # fmt: skip
        if rule.sound_knot_mm is not None:
            face = f" {rule.knot_face} face" if rule.knot_face else ""
            words.insert(1 if rule.show is not None else 0, f"knots {length(rule.sound_knot_mm)}{face}")
        lines.append(f"{rule.plank}: {', '.join(words)}")
    return "\n".join(lines)
