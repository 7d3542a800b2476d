"""What the page says of each row that is typed: cannot be read, good, far off, or likely a slip, in words."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Literal

from scrieve.boat import Boat
from scrieve.chain import Kept
from scrieve.errors import ScrieveError
from scrieve.fairing.bevel_board import compare_bevels
from scrieve.fairing.judging import Judged, judge
from scrieve.fairing.judging_sent import judge_table, words_of
from scrieve.fairing.result import FairHull
from scrieve.sheets.figures import length
from scrieve.takeoff.bevels import read_bevels
from scrieve.takeoff.doubt import mark_name
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.reading import read_taken
from scrieve.takeoff.retold import Retold
from scrieve.takeoff.sending import Sending
from scrieve.takeoff.tables import Given, Table
from scrieve.units import format_angle
from scrieve.web.takeoff.forms import TYPED, Typed, in_page_words
from scrieve.wording import in_units
from scrieve.working import Working

RowState = Literal["good", "far", "slip", "unjudged", "bad", "differs"]

#: The state of a row in words: they stand before all else that is said of it.
STATE_WORDS: Mapping[RowState, str] = {
    "good": "Good", "far": "Look again", "slip": "Likely a slip", "unjudged": "Not judged", "bad": "Cannot be read",
    "differs": "Differs",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class RowSaid:
    """What is said of one row."""

    state: RowState
    words: str
    judged: Judged | None = None
    workings: tuple[Working, ...] = ()

    @property
    def title(self) -> str:
        """The state in words."""
        return STATE_WORDS[self.state]


@dataclass(frozen=True, slots=True)
class Doubted:
    """A row of a table that is likely a slip: its row, whose it is, what is said of it, and how the figure came."""

    row: int
    name: str
    words: str
    workings: tuple[Working, ...]


def doubted(
    sending: Sending, data: Given, name: str, kept: Kept, every_mark: Sequence[Mark], hull: FairHull | None
) -> tuple[list[Doubted], str]:
    """Return the rows of a table that are likely slips, judged as if each had been typed; and why each frame was judged
    by its own marks alone, where that is so.
    """
    boat = kept.boat
    stations = {mark.frame: mark.station_mm for mark in every_mark}
    retold = Retold(data, name, sending.way, units=boat.units, known=stations, sigma_mm=boat.sigma_mm)
    why: list[str] = []
    judged = judge_table(sending.marks, kept.marks, boat, hull, retold, answers=kept.answers, why_alone=why.append)
    found = [
        Doubted(
            one.line,
            mark_name(replace(mark, line=0, number=0), boat.units),
            in_units(words_of(one), boat.units),
            in_units((one.working,), boat.units),
        )
        for mark, one in zip(sending.marks, judged, strict=True)
        if one.state == "slip"
    ]
    return found, in_units("".join(why), boat.units)


@dataclass(frozen=True)
class Assessment:
    """What is said of a form before it is stored: of each row, of the form as a whole, and what judged it."""

    rows: Mapping[int, RowSaid] = field(default_factory=dict)
    others: tuple[str, ...] = ()
    note: str = ""

    @property
    def slips(self) -> list[int]:
        """Rows that are likely slips."""
        return [row for row, said in self.rows.items() if said.state == "slip"]

    def to_json(self) -> dict[str, Any]:
        """Return it plainly, for a program; lengths in mm."""
        rows: dict[str, dict[str, Any]] = {}
        for number, said in self.rows.items():
            rows[str(number)] = {"state": said.state, "title": said.title, "words": said.words}
            rows[str(number)]["workings"] = [asdict(working) for working in said.workings]
            if (found := said.judged) is not None and found.by:
                rows[str(number)] |= {
                    "by": found.by, "off_mm": found.off_mm, "beyond_mm": found.beyond_mm, "expected_sd_mm": found.sd_mm,
                    "mark_sd_mm": found.mark_sd_mm, "line_sd_mm": found.line_sd_mm, "out_by_sd": found.out_by_sd,
                    "guesses": list(found.guesses), "doubts": list(found.doubts),
                }  # fmt: skip
        return {"note": self.note, "others": list(self.others), "rows": rows}


def assess(
    typed: Typed, kept: Kept, every_mark: Sequence[Mark], hull: FairHull | None, why_none: str = ""
) -> Assessment:
    """Judge the rows of a form that are whole; those still being typed are passed over.

    Parameters
    ----------
    typed : Typed
        The form.
    kept, every_mark
        What is stored; all marks of the boat, those that stand aside too.
    hull : FairHull, optional
        The fair hull so far.
    why_none : str
        Why there is none, for the page.
    """
    needed = [one.column for one in typed.form.row if one.needed]
    whole = {n: row for n, row in typed.filled.items() if all(row.get(column) for column in needed)}
    typed = replace(typed, rows=whole)
    if not whole:
        return Assessment()
    if not typed.frame or typed.side == "?":
        return Assessment(note=f"Which {'hand' if typed.frame else 'frame'}? Marks are judged once it is given.")
    if typed.form.way == "bevels":
        return _bevels(typed, kept, hull)
    stations = {mark.frame: mark.station_mm for mark in every_mark}
    boat = kept.boat
    try:
        _, taken = read_taken(
            typed.table(), TYPED, way=typed.form.way, units=boat.units, known=stations, sigma_mm=boat.sigma_mm
        )  # fmt: skip
    except ScrieveError as error:
        return Assessment(others=(str(error),))
    rows: dict[int, RowSaid] = {}
    others: list[str] = []
    for number, words in in_page_words(taken.bad):
        if number:
            before = f"{rows[number].words} " if number in rows else ""
            rows[number] = RowSaid("bad", before + _own(words))
        else:
            others.append(words)
    warned = dict(in_page_words(taken.warnings))
    others += [words for number, words in warned.items() if not number]
    retold = Retold(
        typed.table(), TYPED, typed.form.way, units=boat.units, known=stations, sigma_mm=boat.sigma_mm
    )  # fmt: skip
    judged = judge(taken.marks, kept.marks, boat, hull, retold)
    for one in judged:
        words = in_units(words_of(one), boat.units)
        state: RowState = one.state
        if text := warned.get(one.line):
            words = f"{words} {_own(text)}".strip()
            state = "far" if state in ("good", "unjudged") else state
        workings = (one.working,) if one.out_by_sd else ()
        rows[one.line] = RowSaid(state, words, one, in_units(workings, boat.units))
    return Assessment(dict(sorted(rows.items())), tuple(others), _note(judged, hull, why_none))


def _own(words: str) -> str:
    """Leave out which row it is: it stands beside it."""
    own = re.sub(r"^row \d+[,:] ", "", words)
    return own[:1].upper() + own[1:]


def _note(judged: Sequence[Judged], hull: FairHull | None, why_none: str) -> str:
    ways = {one.by for one in judged}
    if "hull" in ways:
        return "Judged against the fair hull as it stands."
    why = why_none if hull is None else "this frame stands outside the frames measured so far"
    return (
        f"Judged by the frame's own marks and the traps alone{f', since {why}' if why else ''}. The fair hull judges "
        "more sharply once it reaches this frame."
    )


def _bevels(typed: Typed, kept: Kept, hull: FairHull | None) -> Assessment:
    """Hold the bevels typed against the hull's own."""
    boat: Boat = kept.boat
    try:
        taken = read_bevels(typed.table(), TYPED, units=boat.units)
        rows = {number: RowSaid("bad", _own(words)) for number, words in in_page_words(taken.bad)}
        if hull is None:
            return Assessment(rows, note="Bevels are held against the fair hull, and there is none yet.")
        board = compare_bevels(taken.bevels, hull, marks=kept.marks)
    except ScrieveError as error:
        return Assessment(others=(str(error),))
    for off in board.offs:
        found = (
            f"Read {format_angle(off.reading.bevel_rad)}, the hull has {format_angle(off.hull_rad)} ± "
            f"{format_angle(2 * off.hull_sd_rad)} (2 sd) at "
            f"{length(off.s_mm, boat.units)} of girth: {format_angle(abs(off.residual_rad))} "
            f"{'more' if off.residual_rad > 0 else 'less'}."
        )
        rows[off.reading.line] = RowSaid("differs" if off.differs else "good", found)
    lost = in_page_words([f"{TYPED} {text}" if not text.startswith(TYPED) else text for text in board.lost])
    others = (*(words for _, words in lost), *board.hints)
    many = f"{math.degrees(board.tolerance_rad):g}°"
    return Assessment(dict(sorted(rows.items())), others, f"Held against the fair hull; told where over {many} apart.")


def table_text(table: Table) -> str:
    """Return a table as CSV text, so that a file that was refused can be put right on the page."""

    def cell(text: str) -> str:
        quoted = text.replace('"', '""')
        return f'"{quoted}"' if re.search(r'[",\n;]', text) else text

    return "\n".join(",".join(cell(text) for text in row.cells) for row in table.rows) + "\n"
