"""A bench sheet: what one member's sheet says, before it is set in type; plain text only."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from scrieve.errors import BadGeometry
from scrieve.sheets.drawing import Drawing
from scrieve.working import Check

# a figure alone in its cell: 12.3, -4°, 3-4-5+, (0-1-2), 12.5 mm, ±0.4, 1:12
_FIGURE = re.compile(r"[(±+\-−–]?\s?\d[\d.,:\-+×/ ]*\)?\s?(?:mm|m|°|kg|g|l|N|kN|%|deg)?|[–-]?")


@dataclass(frozen=True, slots=True)
class Table:
    """A table: column headings with their units, and rows of text, one cell for each column.

    `big` sets the figures large enough to be read from the jig; `note` stands below the table; `name` is the short
    name of its file (the title, where it is empty). `after` is the number of the drawing, from 0, below which it is
    set; without it the table follows the checks.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""
    big: bool = False
    name: str = ""
    after: int | None = None

    def __post_init__(self) -> None:
        for n, row in enumerate(self.rows, 1):
            if len(row) != len(self.columns):
                raise BadGeometry(
                    f"table {self.title!r} row {n}: found {len(row)} cells; there are {len(self.columns)} columns."
                )

    @property
    def figures(self) -> tuple[bool, ...]:
        """For each column, whether it holds figures (set to the right); among three of them a word may stand."""
        return tuple(_are_figures([row[i] for row in self.rows]) for i in range(len(self.columns)))


@dataclass(frozen=True, slots=True)
class BenchSheet:
    """What is needed at the bench for one member. `link` is the address of its page (empty: no code is printed)."""

    title: str
    boat: str
    member: str
    revision: str
    link: str
    drawings: tuple[tuple[str, Drawing], ...]
    tables: tuple[Table, ...]
    checks: tuple[Check, ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    summary: tuple[tuple[str, str], ...] = ()


def is_figure(cell: str) -> bool:
    """Whether a cell holds a figure alone, so that it is set to the right.

    Examples
    --------
    >>> is_figure("-12.5 mm"), is_figure("3-4-5+"), is_figure("14 P"), is_figure("–")
    (True, True, False, True)
    """
    return _FIGURE.fullmatch(cell.strip()) is not None


def _are_figures(cells: Sequence[str]) -> bool:
    if not any(c.isdigit() for cell in cells for c in cell):
        return False
    words = [cell for cell in cells if not is_figure(cell)]
    return 4 * len(words) <= len(cells) and all(cell.isalpha() for cell in words)


def rows(*columns: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    """Rows of a table from its columns, all of one length."""
    return tuple(zip(*columns, strict=True))
