"""The form of spiling marks of a section: arcs, blocks and written offsets from a mould of known place -> marks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from scrieve.errors import BadMarks
from scrieve.takeoff.arcs import set_off_block
from scrieve.takeoff.columns import Cells
from scrieve.takeoff.entries import Entry, Form, Sheet, called, error_of, gathered, one_sigma, pair, stated_sigma
from scrieve.takeoff.hands import advice, hand, lies
from scrieve.takeoff.tables import Given
from scrieve.takeoff.taken import Taken
from scrieve.takeoff.tape_form import place_by_distances

REQUIRED = ("frame", "station", "how", "at_height", "at_half_breadth", "opening")
OPTIONAL = ("mark", "edge", "lies", "side", "sigma", "at_sigma", "kind", "note")
LENGTHS = ("station", "at_height", "at_half_breadth", "opening", "sigma", "at_sigma")
FORM = Form(REQUIRED, OPTIONAL, LENGTHS)

HOW = ("arc", "block", "offset")
#: Half-breadth and height by which a written offset is set off.
_WAYS = {"out": (1.0, 0.0), "in": (-1.0, 0.0), "above": (0.0, 1.0), "below": (0.0, -1.0)}


class _Own(NamedTuple):
    how: str
    at: tuple[float, float]
    opening: float
    lies: str
    at_sigma: float
    edge: str


def read_arcs(
    data: Given, name: str, *, units: str = "mm", known: Mapping[str, float] | None = None, sigma_mm: float = 2.0
) -> Taken:
    """Read a file of spiling marks of sections.

    Arcs alike in frame, side and mark place one point; blocks alike in frame, side and edge stand along one edge, in
    the order given.

    Parameters
    ----------
    data : bytes or Table
        A CSV or XLSX file with the columns of docs/formats.md, "Arcs, blocks and written offsets".
    name, units, known
        As in `read_marks`.
    sigma_mm : float
        Error of an opening that does not state its own, one standard deviation [mm].

    Raises
    ------
    BadMarks
        The file is no table, has no rows, or lacks a required column.
    """
    sheet = Sheet.open(data, name, FORM, units)
    entries = sheet.entries(_own, "mark", known or {})
    for key, rows in gathered((one for one in entries if one.own.how == "arc"), lambda one: one.label).items():
        if sheet.whole(key, rows):
            _arc(sheet, rows, sigma_mm)
    blocks = gathered((one for one in entries if one.own.how == "block"), lambda one: one.own.edge)
    for (frame, side, edge), rows in blocks.items():
        if sheet.whole((frame, side, f"edge {edge}"), rows):
            _blocks(sheet, rows, sigma_mm)
    for one in entries:
        if one.own.how == "offset":
            _offset(sheet, one, sigma_mm)
    sheet.marks.sort(key=lambda mark: mark.line)
    return sheet.taken()


def _arc(sheet: Sheet, rows: Sequence[Entry[_Own]], sigma_mm: float) -> None:
    if len(rows) < 2:
        sheet.complain(rows, f"{called(rows[0])} has one arc; swing it from two or more centres to place the point.")
        return
    centres = np.array([one.own.at for one in rows])
    openings = np.array([one.own.opening for one in rows])
    sigma = np.hypot(one_sigma(rows, sigma_mm), [one.own.at_sigma for one in rows])
    read = {
        "how": "arc", "centres_mm": centres.tolist(), "openings_mm": openings.tolist(),
        "sigma_mm": stated_sigma(rows), "at_sigma_mm": [one.own.at_sigma for one in rows],
    }  # fmt: skip
    place_by_distances(sheet, rows, "arcs", centres, openings, sigma, [one.own.lies for one in rows], read)


def _blocks(sheet: Sheet, rows: Sequence[Entry[_Own]], sigma_mm: float) -> None:
    edge = np.array([one.own.at for one in rows])
    width = np.array([one.own.opening for one in rows])
    words = {one.own.lies for one in rows}
    if len(words) > 1 or np.ptp(width) > 1e-9:
        sheet.complain(
            rows, "blocks of different widths, or on both sides, of one edge; give each its own name of edge."
        )
        return
    (word,) = words
    sides = {hand(word, edge[max(i - 1, 0)], edge[min(i + 1, len(rows) - 1)]) for i in range(len(rows))} - {None}
    if len(rows) > 1 and len(sides) != 1:
        turn = "goes over from one hand to the other along this edge; write left or right" if sides else advice(word)
        sheet.complain(rows, f"'{word}' {turn}." if sides else f"{turn}.")
        return
    side = sides.pop() if sides else None
    sigma = np.hypot(one_sigma(rows, sigma_mm), [one.own.at_sigma for one in rows])
    try:
        found = set_off_block(edge, width, side=side or "left", sigma=sigma)
        other = set_off_block(edge, width, side="right" if side == "left" else "left")
    except BadMarks as error:
        sheet.complain(rows, str(error))
        return
    for i, one in enumerate(rows):
        read = {
            "how": "block", "edge_mm": edge.tolist(), "number": i + 1, "opening_mm": float(width[i]), "lies": word,
            "sigma_mm": one.sigma_mm, "at_sigma_mm": one.own.at_sigma,
        }  # fmt: skip
        besides = {"sigma_mm": float(sigma[i]), "other_mm": other.points_mm[i].tolist()}
        advised = "look at lies, and at the edge"
        sheet.place(one, "arcs", found.points_mm[i], found.covariance_mm2[i], read, besides, advised)


def _offset(sheet: Sheet, one: Entry[_Own], sigma_mm: float) -> None:
    own = one.own
    if own.lies not in _WAYS:
        sheet.complain([one], "a written offset goes level or plumb; write out, in, above or below into lies.")
        return
    way = np.array(_WAYS[own.lies])
    (sigma,) = one_sigma([one], sigma_mm)
    covariance = (sigma**2 + own.at_sigma**2) * np.eye(2)
    read = {
        "how": "offset", "at_mm": list(own.at), "opening_mm": own.opening, "lies": own.lies, "sigma_mm": one.sigma_mm,
        "at_sigma_mm": own.at_sigma,
    }  # fmt: skip
    found = {"sigma_mm": float(sigma), "other_mm": (np.array(own.at) - own.opening * way).tolist()}
    sheet.place(one, "arcs", np.array(own.at) + own.opening * way, covariance, read, found, "look at lies")


def _own(cells: Cells) -> _Own:
    how = cells.text("how").lower()
    if how not in HOW:
        cells.complain("how", f"one of {', '.join(HOW)}")
    at = pair(cells, "at_height", "at_half_breadth")
    if at is None and not cells.text("at_height") and not cells.text("at_half_breadth"):
        cells.complain("at_height", "the height of the centre or mark on the mould, and its half-breadth")
    opening = cells.length("opening")
    if opening is not None and not opening > 0:
        cells.complain("opening", "a length above zero")
    if how == "arc" and not cells.text("mark"):
        cells.complain("mark", "the mark's name, the same for each of its arcs")
    word = lies(cells, needed=how != "arc")
    error = error_of(cells, "at_sigma", "at_height")
    return _Own(how, at or (0.0, 0.0), opening or 0.0, word, error, cells.text("edge"))
