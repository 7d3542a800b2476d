"""Offsets: a table of heights and half-breadths -> marks, with every cell that cannot be read named at once."""

from __future__ import annotations

import unicodedata
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace

from scrieve.boat import Side
from scrieve.errors import BadMarks
from scrieve.takeoff.columns import DATE_ADVICE, Cells, Columns, read_head
from scrieve.takeoff.marks import KINDS, Mark
from scrieve.takeoff.tables import A_DATE, Row, read_table

REQUIRED = ("frame", "station", "height", "half_breadth")
OPTIONAL = ("side", "mark", "sigma", "kind", "note")
LENGTHS = ("station", "height", "half_breadth", "sigma")

_SAME = {"halfbreadth": "half_breadth", "label": "mark"}
_SIDES: dict[str, Side] = {
    "": "", "both": "", "p": "P", "port": "P", "s": "S", "starboard": "S", "stbd": "S",
}  # fmt: skip

#: Two stations given for one frame are the same when no further apart [mm]: mm and eighths round differently.
SAME_STATION_MM = 1.0


@dataclass(frozen=True, slots=True)
class Reading:
    """What a file of marks holds: the marks of its good rows, one text per bad cell, and what to look at besides."""

    marks: tuple[Mark, ...]
    bad: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Draft:
    mark: Mark
    cells: Cells
    has_station: bool


def read_marks(data: bytes, name: str, *, units: str = "mm", known: Mapping[str, float] | None = None) -> Reading:
    """Read a file of marks; nothing is stored here: the caller decides by `bad`.

    Parameters
    ----------
    data : bytes
        A CSV or XLSX file with the columns of docs/formats.md, "The marks file".
    name : str
        The file's name, for the messages.
    units : {'mm', 'cm', 'm', 'in', 'ft'}
        Unit of bare numbers under a head without a unit.
    known : mapping of str to float, optional
        Station [mm] of each frame that the boat has already.

    Raises
    ------
    BadMarks
        The file is no table, has no rows, or lacks a required column.
    """
    table = read_table(data, name)
    said = list(table.warnings)
    rows = [row for row in table.rows if not row.is_remark]
    if not rows:
        raise BadMarks(f"{name}: no rows; expected a first row with the columns {', '.join(REQUIRED)}.")
    columns = read_head(rows[0], name, required=REQUIRED, lengths=LENGTHS, others=OPTIONAL, same=_SAME, units=units)
    said += columns.warnings
    said += _remarks_like_marks(table.rows, columns, rows[0].line)
    bad: list[tuple[int, str]] = []
    drafts: list[_Draft] = []
    for row in rows[1:]:
        cells = Cells(columns, row)
        draft, doubt = _draft(cells)
        said += [doubt] if doubt else []
        bad += [(row.line, text) for text in cells.bad]
        if draft is not None:
            drafts.append(draft)
    stations = _stations(drafts, known or {})
    marks: list[Mark] = []
    for draft in drafts:
        if wrong := _wrong_station(draft, stations, known or {}):
            bad.append((draft.cells.row.line, wrong))
        else:
            marks.append(replace(draft.mark, station_mm=stations[draft.mark.frame]))
    if not marks and not bad:
        said.append(f"{name}: the columns are there, but no rows of marks under them.")
    bad.sort(key=lambda found: found[0])
    return Reading(tuple(marks), tuple(text for _, text in bad), tuple(said))


def _draft(cells: Cells) -> tuple[_Draft | None, str]:
    """Return the mark of one row, its station still to be settled, and a warning if one is due."""
    if cells.bad:
        return None, ""
    frame = unicodedata.normalize("NFC", cells.text("frame"))
    if frame.endswith(A_DATE):
        cells.complain("frame", f"the frame's number or name ({DATE_ADVICE})")
    elif not frame:
        cells.complain("frame", "the frame's number or name")
    station = cells.length("station") if cells.text("station") else None
    height = cells.length("height")
    half_breadth = cells.length("half_breadth")
    if half_breadth is not None and half_breadth < 0:
        cells.complain("half_breadth", "a length out from the centreplane: give it above zero and the side as P or S")
    side = _SIDES.get(cells.text("side").lower())
    if side is None:
        cells.complain("side", "P, S, or nothing where the mark stands for both")
    sigma = cells.length("sigma") if cells.text("sigma") else None
    if sigma is not None and not sigma > 0:
        cells.complain("sigma", "the measuring error, above zero; leave it empty for the boat's own")
    if cells.bad or height is None or half_breadth is None or side is None:
        return None, ""
    word, note, remark = cells.text("kind"), cells.text("note").removesuffix(A_DATE), ""
    kind = KINDS.get(word.lower())
    if kind is None:
        remark = (
            f'{cells.columns.file} line {cells.row.line}, kind: found "{word}", which is not known; kept as a plain '
            f"mark with the word in its note. Known: {', '.join(filter(None, KINDS))}."
        )
        note = "; ".join(filter(None, (word, note)))
    mark = Mark(
        frame, station or 0.0, height, half_breadth, side,
        label=cells.text("mark").removesuffix(A_DATE), sigma_mm=sigma, kind=kind or "", note=note, line=cells.row.line,
    )  # fmt: skip
    return _Draft(mark, cells, station is not None), remark


def _stations(drafts: list[_Draft], known: Mapping[str, float]) -> dict[str, float]:
    """Return the station of each frame: the one known, or else the one that most rows give (the first of equals)."""
    given: dict[str, Counter[float]] = defaultdict(Counter)
    for draft in drafts:
        if draft.has_station:
            given[draft.mark.frame][draft.mark.station_mm] += 1
    return {frame: counts.most_common(1)[0][0] for frame, counts in given.items()} | dict(known)


def _wrong_station(draft: _Draft, stations: Mapping[str, float], known: Mapping[str, float]) -> str:
    frame, cells = draft.mark.frame, draft.cells
    if frame not in stations:
        cells.complain("station", f"the station of frame {frame}, at least once")
        return cells.bad[-1]
    if draft.has_station and abs(draft.mark.station_mm - stations[frame]) > SAME_STATION_MM:
        who = "the boat has" if frame in known else "other rows give"
        mm = f"{stations[frame]:.1f}".removesuffix(".0")
        cells.complain("station", f"{mm} mm, which {who} for frame {frame}; one frame has one station")
        return cells.bad[-1]
    return ""


def _remarks_like_marks(rows: tuple[Row, ...], columns: Columns, head_line: int) -> list[str]:
    """Name the rows that begin with # and yet read like marks: # may be part of a frame's name."""
    alike = []
    for row in rows:
        if row.is_remark and row.line > head_line:
            cells = Cells(columns, row)
            if all(cells.length(column) is not None for column in ("station", "height", "half_breadth")):
                alike.append(str(row.line))
    if not alike:
        return []
    return [
        f"{columns.file} line {', '.join(alike[:20])}: begins with # and was passed over as a remark, though it reads "
        "like a mark; take the # away if it is one."
    ]
