"""The workings of a table's columns as a page shows them: what all rows share once, and each row's own numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scrieve.frames.columns.rows import Columns
from scrieve.sheets.bench import Table
from scrieve.units import Units
from scrieve.wording import in_units
from scrieve.working import Working


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a column: the row's name, the numbers put in with what comes of them, and its own inputs."""

    number: int
    name: str
    value: str
    inputs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ColumnWhy:
    """How the figures of one column came about; `at` is its place in the table, from 0.

    `formula` and `source` are empty where rows have their own, which then stand among their inputs.
    """

    at: int
    name: str
    formula: str
    shared: tuple[tuple[str, str], ...]
    rows: tuple[Row, ...]
    source: str
    caution: str


def column_whys(table: Table, columns: Columns, units: Units) -> tuple[ColumnWhy, ...]:
    """Return the workings of a table's columns, in the builder's units; none where its rows are others."""
    found = []
    for at, head in enumerate(table.columns):
        workings = columns.get(head.partition(" (")[0], ())
        if workings and len(workings) == len(table.rows):
            found.append(_why(at, head, table, in_units(tuple(workings), units)))
    return tuple(found)


def table_whys(
    tables: Sequence[Table], columns: Mapping[str, Columns], units: Units
) -> dict[str, tuple[ColumnWhy, ...]]:
    """Return the workings of tables by the table's short name."""
    return {table.name: column_whys(table, columns.get(table.name, {}), units) for table in tables}


def _why(at: int, head: str, table: Table, workings: tuple[Working, ...]) -> ColumnWhy:
    told = [each for each in workings if each.formula]
    shared = tuple(pair for pair in told[0].inputs if all(pair in each.inputs for each in told)) if told else ()
    first = told[0] if told else workings[0]
    same = len({each.formula for each in told}) == 1
    one_source = len({each.source for each in told}) == 1
    rows = tuple(
        Row(
            n,
            table.rows[n][0],
            each.value,
            (() if same else (("formula", each.formula),))
            + tuple(pair for pair in each.inputs if pair not in shared)
            + (() if one_source else (("source", each.source),)),
        )
        for n, each in enumerate(workings)
        if each.formula
    )
    source = first.source if one_source else ""
    return ColumnWhy(at, head, first.formula if same else "", shared, rows, source, first.caution)
