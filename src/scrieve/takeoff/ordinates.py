"""Ordinates: points set off square from a straight-edge whose two ends are known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadMarks, above_zero
from scrieve.takeoff.columns import Cells
from scrieve.takeoff.entries import Entry, Form, Sheet, error_of, not_below_zero, one_sigma, pair, same_places
from scrieve.takeoff.hands import Hand, advice, hand, lies
from scrieve.takeoff.tables import Given
from scrieve.takeoff.taken import Taken

Array = NDArray[np.float64]

#: A straight-edge with ends nearer than this is none [mm].
LEAST_EDGE_MM = 50.0

REQUIRED = (
    "frame",
    "station",
    "from_height",
    "from_half_breadth",
    "to_height",
    "to_half_breadth",
    "along",
    "off",
    "lies",
)
OPTIONAL = ("edge", "side", "mark", "sigma", "end_sigma", "kind", "note")
LENGTHS = (
    "station", "from_height", "from_half_breadth", "to_height", "to_half_breadth", "along", "off", "sigma", "end_sigma",
)  # fmt: skip
FORM = Form(REQUIRED, OPTIONAL, LENGTHS)


@dataclass(frozen=True, slots=True, eq=False)
class SetOff:
    """Points (n, 2) set off from a line, in half-breadth and height [mm], and their covariance (n, 2, 2) [mm²]."""

    points_mm: Array
    covariance_mm2: Array


def set_off(
    one: ArrayLike,
    two: ArrayLike,
    along: ArrayLike,
    off: ArrayLike,
    *,
    side: Hand,
    sigma: ArrayLike = 1.0,
    end_sigma: ArrayLike = 0.0,
) -> SetOff:
    """Set points off square from the line between two known points.

    Parameters
    ----------
    one, two : array_like (2,)
        The ends of the straight-edge: half-breadth and height [mm].
    along : array_like (n,)
        From the first end, along the straight-edge [mm].
    off : array_like (n,)
        Square off it [mm].
    side : {'left', 'right'}
        On which side of the line from `one` to `two`, half-breadth to the right and height up.
    sigma, end_sigma : array_like, broadcast with `along`
        Standard deviation of `along` and `off`, and of each end in each direction [mm].

    Returns
    -------
    SetOff
        P = A + along·u + off·n. Its error, to the first order, with t = along/L: that of the readings both ways; of the
        end A by [1, off/L] along u and 1 − t along n; of the end B by −off/L along u and t along n. Errors of the ends
        are common to all points of one straight-edge; the covariance is of each point by itself.

    Raises
    ------
    BadMarks
        The ends are nearer than 50 mm, or a value is not finite.

    Examples
    --------
    >>> set_off((0, 100), (0, 1100), [400], [250], side="right").points_mm.tolist()
    [[250.0, 500.0]]
    """
    start, end = np.asarray(one, dtype=float), np.asarray(two, dtype=float)
    a, o = np.broadcast_arrays(np.atleast_1d(np.asarray(along, float)), np.atleast_1d(np.asarray(off, float)))
    if not all(np.all(np.isfinite(values)) for values in (start, end, a, o)):
        raise BadMarks("straight-edge: a position or a reading is not finite; give lengths in mm.")
    length = float(np.hypot(*(end - start)))
    if length < LEAST_EDGE_MM:
        raise BadMarks(
            f"the ends of the straight-edge are {length:.1f} mm apart; give its two ends, at least "
            f"{LEAST_EDGE_MM:g} mm apart."
        )
    error = np.broadcast_to(above_zero("error of a reading", sigma, "mm", BadMarks), a.shape)
    ends = np.broadcast_to(np.asarray(end_sigma, dtype=float), a.shape)
    u = (end - start) / length
    n = np.array([-u[1], u[0]]) if side == "left" else np.array([u[1], -u[0]])
    points = start + a[:, None] * u + o[:, None] * n
    t, turn = a / length, o / length
    rows = np.zeros((len(a), 2, 4))  # error of the point along u and n, by that of A along u and n, and of B
    rows[:, 0, 0], rows[:, 0, 1], rows[:, 0, 3] = 1, turn, -turn
    rows[:, 1, 1], rows[:, 1, 3] = 1 - t, t
    local = error[:, None, None] ** 2 * np.eye(2) + ends[:, None, None] ** 2 * rows @ rows.transpose(0, 2, 1)
    axes = np.column_stack([u, n])
    return SetOff(points, np.asarray(axes @ local @ axes.T))


class _Own(NamedTuple):
    one: tuple[float, float, float] | None
    two: tuple[float, float, float] | None
    along: float
    off: float
    lies: str
    edge: str


def read_ordinates(
    data: Given, name: str, *, units: str = "mm", known: Mapping[str, float] | None = None, sigma_mm: float = 2.0
) -> Taken:
    """Read a file of ordinates from straight-edges.

    Parameters
    ----------
    data : bytes or Table
        A CSV or XLSX file with the columns of docs/formats.md, "Ordinates".
    name, units, known
        As in `read_marks`.
    sigma_mm : float
        Error of a reading that does not state its own, one standard deviation [mm].

    Raises
    ------
    BadMarks
        The file is no table, has no rows, or lacks a required column.
    """
    sheet = Sheet.open(data, name, FORM, units)
    entries = sheet.entries(_own, "mark", known or {})
    one_end = same_places(sheet, ((one, _edge(one), one.own.one) for one in entries), "the first end")
    other_end = same_places(sheet, ((one, _edge(one), one.own.two) for one in entries), "the second end")
    for one in entries:
        key = _edge(one)
        if one.line in sheet.refused:
            continue
        if key in one_end and key in other_end:
            _place(sheet, one, one_end[key], other_end[key], sigma_mm)
        else:
            which = "to" if key in one_end else "from"
            if line := sheet.unread(*key[:2], "edge", one.own.edge, f"{which}_height"):
                sheet.complain([one], f"the ends of its straight-edge stand in line {line}, which cannot be read.")
                continue
            sheet.complain(
                [one],
                f"the straight-edge has no {which}_height and {which}_half_breadth; give them in one of the rows of "
                "this frame, side and edge.",
            )
    return sheet.taken()


def _edge(entry: Entry[_Own]) -> tuple[str, str, str]:
    return entry.frame, entry.side, entry.own.edge


def _place(sheet: Sheet, entry: Entry[_Own], first: Array, second: Array, sigma_mm: float) -> None:
    own = entry.own
    one, two, end_sigma = first[:2], second[:2], float(max(first[2], second[2]))
    side = hand(own.lies, one, two)
    if side is None:
        sheet.complain([entry], f"{advice(own.lies)}.")
        return
    (sigma,) = one_sigma([entry], sigma_mm)
    try:
        found = set_off(one, two, own.along, own.off, side=side, sigma=sigma, end_sigma=end_sigma)
        other = set_off(one, two, own.along, own.off, side="left" if side == "right" else "right")
    except BadMarks as error:
        sheet.complain([entry], str(error))
        return
    length = float(np.hypot(*(two - one)))
    if not -own.off <= own.along <= length + own.off:
        sheet.warnings.append(
            f"{sheet.name} line {entry.line}: {own.along:.0f} mm along a straight-edge whose ends are {length:.0f} mm "
            "apart; look at the reading and at the ends."
        )
    read = {
        "from_mm": one.tolist(), "to_mm": two.tolist(), "along_mm": own.along, "off_mm": own.off, "lies": own.lies,
        "sigma_mm": entry.sigma_mm, "end_sigma_mm": end_sigma,
    }  # fmt: skip
    besides = {"sigma_mm": float(sigma), "other_mm": other.points_mm[0].tolist()}
    advised = "look at lies, and at the ends' positions"
    sheet.place(entry, "ordinates", found.points_mm[0], found.covariance_mm2[0], read, besides, advised)


def _own(cells: Cells) -> _Own:
    error = error_of(cells, "end_sigma", "from_height", "to_height")
    one = pair(cells, "from_height", "from_half_breadth")
    two = pair(cells, "to_height", "to_half_breadth")
    along = cells.length("along")
    off = not_below_zero(cells, "off", "a distance above zero; the side goes into lies")
    word = lies(cells, needed=True)
    return _Own(one and (*one, error), two and (*two, error), along or 0.0, off or 0.0, word, cells.text("edge"))
