"""The take-off forms as they stand on the page: what is asked of each way, and the table that the answers make.

What is typed becomes the same table as a file would hold, and goes through the same reader.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from scrieve.errors import BadMarks
from scrieve.takeoff.arc_form import HOW
from scrieve.takeoff.tables import Row, Table

TypedWay = Literal["offsets", "ordinates", "tapes", "templates", "arcs", "bevels"]

#: Rows shown to begin with, and the most that one form takes.
FIRST_ROWS, MOST_ROWS = 4, 200
#: Positions that come before the rows: nails, reference marks. Their lines in the table begin here.
KNOWN = 4
_KNOWN_LINE = 100_000
#: What a form that was typed is called in the reader's messages, before they are put into the page's words.
TYPED = "typed"

KIND_CHOICES = (("", "plain"), ("heel", "heel"), ("knuckle", "knuckle"), ("head", "head"))
#: What has to be said is not said beforehand.
_CHOOSE = ("", "choose…")
LIES_CHOICES = (_CHOOSE, *((word, word) for word in ("out", "in", "above", "below")))


@dataclass(frozen=True, slots=True)
class Asked:
    """One thing that is asked: its column in the table, its words, whether it is a length, and what may be chosen."""

    column: str
    words: str
    length: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    needed: bool = False


def _lengths(**named: str) -> tuple[Asked, ...]:
    return tuple(Asked(column, words, length=True, needed=True) for column, words in named.items())


@dataclass(frozen=True, slots=True)
class Form:
    """What the page asks for one way of taking off: once, of known positions, and of each mark."""

    way: TypedWay
    name: str
    how: str
    once: tuple[Asked, ...]
    row: tuple[Asked, ...]
    known: tuple[Asked, ...] = ()
    known_name: str = ""
    known_least: int = 0


_MARK = Asked("mark", "Mark")
_KIND = Asked("kind", "Kind", choices=KIND_CHOICES)
_LIES = Asked("lies", "The hull lies", choices=LIES_CHOICES)

FORMS: dict[str, Form] = {
    form.way: form
    for form in (
        Form(
            "offsets", "Offsets", "Height above the baseline, half-breadth out from the centreplane.",
            (), (_MARK, *_lengths(height="Height", half_breadth="Half-breadth"), _KIND),
        ),
        Form(
            "ordinates", "Straight-edge",
            "So far along a straight-edge of known ends, so far off it, square. Each straight-edge has its own form.",
            (
                *_lengths(
                    from_height="Height of the first end", from_half_breadth="Half-breadth of the first end",
                    to_height="Height of the other end", to_half_breadth="Half-breadth of the other end",
                ),
                replace(_LIES, needed=True), Asked("edge", "Its name"),
                Asked("end_sigma", "Error of the ends", length=True),
            ),
            (_MARK, *_lengths(along="Along", off="Off"), _KIND),
        ),
        Form(
            "tapes", "Tapes from nails", "Two tapes or more from nails of known place to each mark.",
            (_LIES, Asked("nail_sigma", "Error of the nails", length=True)),
            (_MARK, *(Asked(f"tape{n}", f"Tape {n}", length=True) for n in (1, 2, 3)), _KIND),
            (Asked("nail", "Nail"), *_lengths(nail_height="Height", nail_half_breadth="Half-breadth")), "Nail", 2,
        ),
        Form(
            "templates", "Template", "Points read on a template that is laid by its reference marks.",
            (
                Asked("turned", "Turned over", choices=(("", "marks tell it"), ("no", "no"), ("yes", "yes"))),
                Asked("template", "Its name"),
            ),
            (_MARK, *_lengths(x="Across, to the right", y="Up"), _KIND),
            (
                Asked("mark", "Reference mark"),
                *_lengths(x="Across", y="Up", height="Height on the hull", half_breadth="Half-breadth on the hull"),
            ),
            "Reference mark", 2,
        ),
        Form(
            "arcs", "Arcs, blocks, written offsets",
            "From a mould of known place: two compass arcs to a mark (two rows of its name), a block along its edge, "
            "or an offset as written.",
            (
                Asked("how", "How", choices=(_CHOOSE, *((how, how) for how in HOW)), needed=True),
                _LIES, Asked("edge", "The edge's name"), Asked("at_sigma", "Error of the feet", length=True),
            ),
            (
                _MARK, *_lengths(at_height="Foot: height", at_half_breadth="Foot: half-breadth", opening="Opening"),
                _KIND,
            ),
        ),
        Form(
            "bevels", "Bevel board",
            "Degrees from square, standing above zero, under below; its place by height, girth or a mark's name. Kept, "
            "and held against the fair hull's own bevels.",
            (Asked("face", "From which face", choices=(_CHOOSE, ("fore", "fore"), ("aft", "aft")), needed=True),),
            (_MARK, Asked("height", "Height", length=True), Asked("girth", "or girth", length=True),
             Asked("bevel", "Bevel (°)", needed=True)),
        ),
    )
}  # fmt: skip
_NAMED = re.compile(r"([kr])([1-9]\d{0,2})\.([a-z_0-9]+)")


@dataclass(frozen=True)
class Typed:
    """A form as typed: `once` by column, `known` and `rows` by number and column; all of it text."""

    form: Form
    frame: str = ""
    station: str = ""
    side: str = ""
    once: Mapping[str, str] = field(default_factory=dict)
    known: Mapping[int, Mapping[str, str]] = field(default_factory=dict)
    rows: Mapping[int, Mapping[str, str]] = field(default_factory=dict)

    @classmethod
    def read(cls, fields: Mapping[str, str]) -> Typed:
        """Read the fields of a form as sent; what is not asked is passed over.

        Raises
        ------
        BadMarks
            The way is not known.
        """
        way = fields.get("way", "offsets")
        if way not in FORMS:
            raise BadMarks(f"way {way!r}; say one of {', '.join(FORMS)}.")
        form = FORMS[way]
        parts: dict[str, dict[int, dict[str, str]]] = {"k": {}, "r": {}}
        asked = {"k": {one.column for one in form.known}, "r": {one.column for one in form.row}}
        for name, text in fields.items():
            found = _NAMED.fullmatch(name)
            if found and found[3] in asked[found[1]]:
                parts[found[1]].setdefault(int(found[2]), {})[found[3]] = text.strip()
        once = {one.column: fields.get(one.column, "").strip() for one in form.once}
        return cls(
            form, fields.get("frame", "").strip(), fields.get("station", "").strip(), fields.get("side", "").strip(),
            once, parts["k"], {number: row for number, row in sorted(parts["r"].items()) if number <= MOST_ROWS},
        )  # fmt: skip

    @property
    def filled(self) -> dict[int, Mapping[str, str]]:
        """The rows in which anything but a choice is typed."""
        free = {one.column for one in self.form.row if not one.choices}
        return {n: row for n, row in self.rows.items() if any(row.get(column) for column in free)}

    def table(self) -> Table:
        """Return the table that a file would hold."""
        rows = list(self._rows())
        heads = sorted({column for _, row in rows for column in row} | {"frame", "station", "side"} | self._columns())
        made = [Row(0, tuple(heads), ruled=True)]
        made += [Row(line, tuple(row.get(head, "") for head in heads), ruled=True) for line, row in rows]
        return Table(tuple(made))

    def _columns(self) -> set[str]:
        if self.form.way == "tapes":
            return {"mark", "nail", "tape", "nail_height", "nail_half_breadth"}
        return {one.column for one in (*self.form.once, *self.form.row, *self.form.known)}

    def _rows(self) -> Iterator[tuple[int, dict[str, str]]]:
        own = {"frame": self.frame, "station": self.station, "side": self.side}
        if self.form.way == "templates":
            for number, place in sorted(self.known.items()):
                if any(place.values()):
                    yield _KNOWN_LINE + number, {**own, **self.once, **place}
        for number, row in self.filled.items():
            if self.form.way == "tapes":
                yield from ((number, {**own, **cells}) for cells in self._tapes(number, row))
            else:
                once = dict(self.once)
                if self.form.way == "arcs" and once.get("how") == "arc":
                    row = {"mark": "", **row}
                yield number, {**own, **once, **row}

    def _tapes(self, number: int, row: Mapping[str, str]) -> Iterator[dict[str, str]]:
        label = row.get("mark") or f"row {number}"
        count = 0
        for n, nail in sorted(self.known.items()):
            tape = row.get(f"tape{n}", "")
            if tape:
                count += 1
                name = nail.get("nail") or "ABCDEFGH"[n - 1]
                cells = {**nail, "nail": name, "tape": tape, "mark": label, "kind": row.get("kind", "")}
                cells["lies"] = self.once.get("lies", "") if count == 1 else ""
                has_place = bool(nail.get("nail_height") or nail.get("nail_half_breadth"))
                cells["nail_sigma"] = self.once.get("nail_sigma", "") if has_place else ""
                yield cells
        if not count:
            yield {"mark": label, "nail": "A", "tape": "", "kind": row.get("kind", "")}


def _column_words(column: str) -> str:
    """Say a column of the table as the page says it.

    Examples
    --------
    >>> _column_words("from_half_breadth")
    'from half-breadth'
    """
    return column.replace("half_breadth", "half-breadth").replace("_", " ")


#: What the reader says of the column `lies`, and how the form's field is called.
_FIELD_WORDS = (
    ("Write it into the column lies: out, in, above, below.", "Say it under 'The hull lies'."),
    ("look at lies", "look at 'The hull lies'"),
    ("write out, in, above or below into lies", "say out, in, above or below under 'The hull lies'"),
    ("the side goes into lies", "the side goes under 'The hull lies'"),
)


def in_page_words(texts: Sequence[str]) -> list[tuple[int, str]]:
    """Return the reader's messages on a typed form as (row, words); one that several rows share is told once.

    Examples
    --------
    >>> in_page_words(['typed line 3, height: found "x".', 'typed line 100002, x: found nothing.'])
    [(3, 'row 3, height: found "x".'), (0, 'position 2, x: found nothing.')]
    >>> in_page_words(["typed line 3: 12 mm past the centreplane; look at lies."])
    [(3, "row 3: 12 mm past the centreplane; look at 'The hull lies'.")]
    """
    shared: dict[str, list[tuple[int, str]]] = {}
    for text in texts:
        found = re.match(rf"{TYPED}(?: line (\d+(?:, \d+)*(?:, …)?))?(.*)", text, re.DOTALL)
        numbers = [int(n) for n in re.findall(r"\d+", found[1] or "")] if found else []
        rest = (found[2] if numbers else f"the form{found[2]}") if found else text
        rest = re.sub(r"^, (\w+)(?=: )", lambda head: f", {_column_words(head[1])}", rest)
        for column, here in _FIELD_WORDS:
            rest = rest.replace(column, here)
        row = numbers[0] if numbers and numbers[0] < _KNOWN_LINE else 0
        said = list(dict.fromkeys(f"position {n - _KNOWN_LINE}" if n >= _KNOWN_LINE else f"row {n}" for n in numbers))
        shared.setdefault(rest, []).append((row, ", ".join(said).replace(", row", ",")))
    told = []
    for rest, where in shared.items():
        (row, first), more = where[0], len({one for _, one in where}) - 1
        also = f" (and {more} more row{'s' if more > 1 else ''})" if more else ""
        told.append((row, f"{first}{also}{rest}" if first else rest))
    return told
