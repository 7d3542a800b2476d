"""How the figures in the columns of a frame's tables came about: of each row one working, its numbers put in."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from scrieve.wording import by_itself, tell
from scrieve.working import Working

#: Workings of a table: by the name of a column, without its unit, one for each row from the top.
Columns = Mapping[str, tuple[Working, ...]]


def put_in(
    figure: str,
    numbers: str,
    result: Any,
    formula: str,
    inputs: tuple[tuple[str, Any], ...],
    source: str,
    caution: str = "",
) -> Working:
    """A working whose value is the formula with its numbers put in, and what comes of it.

    Examples
    --------
    >>> from scrieve.wording import small
    >>> sum = tell("{a} / {b}", a=small(72.1), b=15)
    >>> put_in("thickness", sum, small(5), "depth / number, rounded up", (), "geometry").value
    '72.1 mm / 15 = 5.0 mm'
    """
    named = tuple((name, by_itself(value)) for name, value in inputs)
    return Working(figure, tell("{n} = {r}", n=numbers, r=result), formula, named, source, caution)


def plain_columns(tables: Mapping[str, Columns]) -> dict[str, dict[str, list[dict[str, Any]]]]:
    """Return the workings of tables as plain values, fit for JSON: by table, by column, one for each row."""
    return {
        table: {name: [asdict(each) for each in rows] for name, rows in columns.items()}
        for table, columns in tables.items()
    }


def degrees(radians: float) -> str:
    """An angle as the tables of a frame write it.

    Examples
    --------
    >>> degrees(0.1), degrees(-0.0001)
    ('+5.7°', '0.0°')
    """
    text = f"{math.degrees(radians):+.1f}"
    return (text[1:] if float(text) == 0 else text) + "°"
