"""The form of tapes: one row for each tape, from nails of known position to a mark -> marks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadMarks
from scrieve.takeoff.columns import Cells
from scrieve.takeoff.entries import (
    Entry,
    Form,
    Sheet,
    called,
    error_of,
    gathered,
    one_sigma,
    pair,
    same_places,
    stated_sigma,
)
from scrieve.takeoff.hands import advice, hand, lies
from scrieve.takeoff.marks import Way
from scrieve.takeoff.tables import Given
from scrieve.takeoff.taken import Taken
from scrieve.takeoff.tapes import fix_point

Array = NDArray[np.float64]
T = TypeVar("T")

REQUIRED = ("frame", "station", "mark", "nail", "tape")
OPTIONAL = ("nail_height", "nail_half_breadth", "lies", "side", "sigma", "nail_sigma", "kind", "note")
LENGTHS = ("station", "nail_height", "nail_half_breadth", "tape", "sigma", "nail_sigma")
FORM = Form(REQUIRED, OPTIONAL, LENGTHS)


class _Own(NamedTuple):
    nail: str
    place: tuple[float, float, float] | None
    tape: float
    lies: str


def read_tapes(
    data: Given, name: str, *, units: str = "mm", known: Mapping[str, float] | None = None, sigma_mm: float = 2.0
) -> Taken:
    """Read a file of tapes; the rows alike in frame, side and mark place one point.

    Parameters
    ----------
    data : bytes or Table
        A CSV or XLSX file with the columns of docs/formats.md, "Tapes".
    name, units, known
        As in `read_marks`.
    sigma_mm : float
        Error of a tape that does not state its own, one standard deviation [mm].

    Raises
    ------
    BadMarks
        The file is no table, has no rows, or lacks a required column.
    """
    sheet = Sheet.open(data, name, FORM, units)
    entries = sheet.entries(_own, "mark", known or {})
    nails = same_places(sheet, ((one, _nail(one), one.own.place) for one in entries), "the nail")
    for key, rows in gathered(entries, lambda one: one.label).items():
        if sheet.whole(key, rows):
            _place(sheet, rows, nails, sigma_mm)
    return sheet.taken()


def _nail(entry: Entry[_Own]) -> tuple[str, str, str]:
    return entry.frame, entry.side, entry.own.nail.casefold()


def _place(sheet: Sheet, rows: Sequence[Entry[_Own]], nails: Mapping[object, Array], sigma_mm: float) -> None:
    if lost := [one for one in rows if _nail(one) not in nails]:
        first = lost[0]
        if line := sheet.unread(first.frame, first.side, "nail", first.own.nail, "nail_height"):
            sheet.complain(lost, f"the place of nail {first.own.nail} stands in line {line}, which cannot be read.")
            return
        sheet.complain(
            lost,
            f"nail {lost[0].own.nail} has no position; give its nail_height and nail_half_breadth in one of the rows "
            "of this frame and side.",
        )
        return
    if len(rows) < 2:
        sheet.complain(rows, f"{called(rows[0])} has one tape; two or more place a point.")
        return
    given = np.array([nails[_nail(one)] for one in rows])
    places = given[:, :2]
    tapes = np.array([one.own.tape for one in rows])
    sigma = np.hypot(one_sigma(rows, sigma_mm), given[:, 2])
    read = {
        "nails": [one.own.nail for one in rows], "nails_mm": places.tolist(), "tapes_mm": tapes.tolist(),
        "sigma_mm": stated_sigma(rows), "nail_sigma_mm": given[:, 2].tolist(),
    }  # fmt: skip
    place_by_distances(sheet, rows, "tapes", places, tapes, sigma, [one.own.lies for one in rows], read)


def place_by_distances(
    sheet: Sheet,
    rows: Sequence[Entry[T]],
    way: Way,
    places: Array,
    lengths: Array,
    sigma: Array,
    words: Sequence[str],
    read: Mapping[str, object],
) -> None:
    """Keep the mark that distances from known points meet in, or say why there is none."""
    said = sorted(set(filter(None, words)))
    if len(said) > 1:
        sheet.complain(rows, f"{called(rows[0])} lies both {' and '.join(said)}; write one of them.")
        return
    side = hand(said[0], places[0], places[1]) if said else None
    if said and side is None:
        sheet.complain(rows, f"{advice(said[0])}.")
        return
    try:
        fix = fix_point(places, lengths, sigma=sigma, side=side)
    except BadMarks as error:
        where = (
            "" if said or "two points" not in str(error) else " Write it into the column lies: out, in, above, below."
        )
        sheet.complain(rows, f"{called(rows[0])}: {error}{where}")
        return
    lines = ", ".join(str(one.line) for one in rows)
    sheet.warnings += [f"{sheet.name} line {lines}: {called(rows[0])}: {text}" for text in fix.warnings]
    read = {**read, "lies": said[0] if said else ""}
    found = {
        "residuals_mm": fix.residuals_mm.tolist(), "crossing_rad": fix.crossing_rad, "sigma_mm": sigma.tolist(),
        "other_mm": None if fix.other_mm is None else fix.other_mm.tolist(),
    }  # fmt: skip
    advised = "look at lies, and at the positions"
    sheet.place(rows[0], way, fix.point_mm, fix.covariance_mm2, read, found, advised)


def _own(cells: Cells) -> _Own:
    nail = cells.text("nail")
    if not nail:
        cells.complain("nail", "the nail's name; the same nail has the same name in each row")
    if not cells.text("mark"):
        cells.complain("mark", "the mark's name, the same for each of its tapes")
    place = pair(cells, "nail_height", "nail_half_breadth")
    tape = cells.length("tape")
    if tape is not None and not tape > 0:
        cells.complain("tape", "the tape's reading, above zero")
    word = lies(cells, needed=False)
    error = error_of(cells, "nail_sigma", "nail_height")
    return _Own(nail, place and (*place, error), tape or 0.0, word)
