"""Table -> CSV text."""

from __future__ import annotations

import csv
import io

from scrieve.sheets.bench import Table, is_figure
from scrieve.sheets.drawing import printable


def table_csv(table: Table) -> str:
    """Return `table` as CSV: a row of headings, comma, CR LF (RFC 4180).

    A text that a spreadsheet would take for a formula is written with an apostrophe before it.

    Examples
    --------
    >>> table_csv(Table("Bevels", ("frame", "bevel (°)"), (("=14", "-3.5"),)))
    "frame,bevel (°)\\r\\n'=14,-3.5\\r\\n"
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerows([_cell(cell) for cell in row] for row in (table.columns, *table.rows))
    return out.getvalue()


def _cell(text: str) -> str:
    clean = printable(text)
    return f"'{clean}" if clean[:1] in ("=", "+", "-", "@") and not is_figure(clean) else clean
