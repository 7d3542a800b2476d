"""Figures as the builder reads them, with the unit that goes into a column's heading."""

from __future__ import annotations

from collections.abc import Sequence

from scrieve.sheets.bench import Table
from scrieve.units import MM_PER_INCH, Units, format_length
from scrieve.wording import inches
from scrieve.working import Working


def unit(units: Units) -> str:
    """Name of the unit of a length: 'mm', or feet-inches-eighths.

    Examples
    --------
    >>> unit("mm"), unit("ft")
    ('mm', 'ft-in-8ths')
    """
    return "mm" if units == "mm" else "ft-in-8ths"


def length(mm: float | None, units: Units, digits: int = 0) -> str:
    """Write a length without its unit; '–' where there is none.

    Examples
    --------
    >>> length(698.5, "mm", 1), length(698.5, "ft"), length(None, "mm")
    ('698.5', '2-3-4', '–')
    """
    return "–" if mm is None else format_length(mm, units, digits)


def sized(mm: float, units: Units, digits: int = 0) -> str:
    """Write a length with its unit where the figure alone would not tell.

    Examples
    --------
    >>> sized(45, "mm"), sized(38.1, "ft")
    ('45 mm', '0-1-4')
    """
    return format_length(mm, units, digits) + (" mm" if units == "mm" else "")


def thin_unit(units: Units) -> str:
    """Name of the unit of a thickness, for which eighths are too coarse."""
    return "mm" if units == "mm" else "in"


def thin(mm: float | None, units: Units) -> str:
    """Write a thickness: mm with one decimal, or inches with three.

    Examples
    --------
    >>> thin(8.57, "mm"), thin(8.57, "ft")
    ('8.6', '0.337')
    """
    if mm is None:
        return "–"
    return f"{mm:z.1f}" if units == "mm" else f"{mm / MM_PER_INCH:z.3f}"


def thickness(mm: float, units: Units) -> str:
    """Write a thickness with its unit.

    Examples
    --------
    >>> thickness(28, "mm"), thickness(28.575, "ft")
    ('28.0 mm', '1.125 in')
    """
    return f"{thin(mm, units)} {thin_unit(units)}"


def ruled(mm: float | None, units: Units) -> str:
    """Write what a saw, gauge or bracket is set to by a rule, without its unit (`thin_unit`): mm with one decimal, or
    inches and 64ths; '–' where there is none.

    Examples
    --------
    >>> ruled(50.8, "mm"), ruled(2.0, "ft"), ruled(101.0, "ft"), ruled(None, "ft")
    ('50.8', '5/64', '3 31/32', '–')
    """
    if mm is None:
        return "–"
    return f"{mm:z.1f}" if units == "mm" else inches(mm).removesuffix(" in")


def by_rule(mm: float, units: Units) -> str:
    """Write what is set by a rule with its unit.

    Examples
    --------
    >>> by_rule(5, "mm"), by_rule(3.175, "ft")
    ('5.0 mm', '1/8 in')
    """
    return f"{ruled(mm, units)} {thin_unit(units)}"


def off_by(mm: float, units: Units) -> str:
    """Write a small departure with its sign: mm with one decimal, or inches with two.

    Examples
    --------
    >>> off_by(1.44, "mm"), off_by(-0.04, "mm"), off_by(25.4, "ft")
    ('+1.4', '0.0', '+1.00')
    """
    text = f"{mm:+.1f}" if units == "mm" else f"{mm / MM_PER_INCH:+.2f}"
    return text[1:] if float(text) == 0 else text


def plus_minus(mm: float, units: Units) -> str:
    """Write a measuring error or departure without sign, with its unit.

    Examples
    --------
    >>> plus_minus(1.46, "mm"), plus_minus(1.46, "ft")
    ('1.5 mm', '0.06 in')
    """
    return f"{off_by(abs(mm), units).lstrip('+')} {thin_unit(units)}"


def written_off(mm: float, units: Units) -> str:
    """Write a departure for lettering on a drawing: whole mm, or inches with one decimal; with its sign.

    Examples
    --------
    >>> written_off(-304.8, "mm"), written_off(-304.8, "ft")
    ('-305', '-12.0')
    """
    return f"{mm:+.0f}" if units == "mm" else f"{mm / MM_PER_INCH:+.1f}"


def degrees(radians: float | None) -> str:
    """Write an angle in degrees with its sign, one decimal; '–' where there is none.

    Examples
    --------
    >>> degrees(0.1), degrees(-0.0001), degrees(None)
    ('+5.7', '0.0', '–')
    """
    if radians is None:
        return "–"
    text = f"{radians * 57.29577951308232:+.1f}"
    return text[1:] if float(text) == 0 else text


def workings_table(workings: Sequence[Working]) -> Table:
    """How each headline figure came about."""
    return Table(
        "How the figures came about",
        ("figure", "value", "formula", "source"),
        tuple((w.figure, w.value, w.formula, w.source) for w in workings),
        name="workings",
    )
