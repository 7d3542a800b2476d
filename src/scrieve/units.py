"""Lengths in mm and feet-inches-eighths, and angles: reading what a person types, and writing it back.

Inside Scrieve every length is in mm. `3-4-5` is 3 ft 4 in and 5/8; a sign after it adds or takes a sixteenth
(`3-4-5+`, `3-4-5-`). A length below its datum is written in brackets, since `-` is already the separator.
"""

from __future__ import annotations

import math
import re
from typing import Literal

from scrieve.errors import BadLength

Units = Literal["mm", "ft"]

MM_PER_INCH = 25.4
MM_PER_FOOT = 304.8
MM_PER = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_INCH, "ft": MM_PER_FOOT}

EXPECTED = "mm or feet-inches-eighths such as 3-4-5"

_SIGNS = str.maketrans({"−": "-", "–": "-", "′": "'", "’": "'", "″": '"', "”": '"'})
_FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}

_EIGHTHS = re.compile(r"(\d{1,9})-(\d{1,9})-(\d{1,9})\s*([+-]?)")
_NUMBER = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*([a-z]*)")
_FRACTION = r"(?:(\d{1,9})(?:\s+|-))?(\d{1,9})/(\d{1,9})"
_FEET_INCHES = re.compile(
    rf"(?:(\d+(?:\.\d+)?)\s*(?:'|ft|feet)(?:\s*-(?=\s*\d))?\s*)?(?:(?:{_FRACTION}|(\d+(?:\.\d+)?))\s*(?:\"|''|in|inches)?)?"
)


def parse_length(text: str | float, units: str = "mm") -> float:
    """Read a length as a person types it; return mm.

    Parameters
    ----------
    text : str or float
        `1234`, `28mm`, `2.8 cm`, `1.2m`, `3-4-5+`, `4 5/8"`, `3' 4 5/8"`, `3'-4 5/8"`, `3ft 4in`; a value below its
        datum as `-12` in mm or `(0-1-2)` in feet-inches-eighths. A comma may be the decimal sign.
    units : {'mm', 'cm', 'm', 'in', 'ft'}
        Unit of a bare number. In 'ft' a bare number other than 0 is refused: feet, inches or eighths may be meant.

    Raises
    ------
    BadLength
        The text cannot be read; the message says what was found and what is expected.

    References
    ----------
    .. [1] docs/formats.md, "Lengths": the feet-inches-eighths rules and their check values.

    Examples
    --------
    >>> parse_length("2-3-4"), parse_length("28mm"), parse_length("(0-0-4)")
    (698.5, 28.0, -12.7)
    """
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        return _bare(float(text), str(text), units)
    found = str(text).strip()
    plain = found.translate(_SIGNS).lower()
    for sign, fraction in _FRACTIONS.items():
        plain = plain.replace(sign, " " + fraction)
    plain = plain.strip()
    if plain.startswith("(") and plain.endswith(")"):
        return -_positive(plain[1:-1].strip(), found, units)
    return _positive(plain, found, units)


def _positive(plain: str, found: str, units: str) -> float:
    if match := _EIGHTHS.fullmatch(plain):
        return _eighths(match, found)
    if match := _NUMBER.fullmatch(plain):
        number, unit = match.groups()
        if re.fullmatch(r"[+-]?\d{1,3},\d{3}", number):
            raise BadLength(f"found {found!r}: is the comma a decimal sign or for thousands? Write it without a comma.")
        value = float(number.replace(",", "."))
        if not unit:
            return _bare(value, found, units)
        unit = {"inch": "in", "inches": "in", "feet": "ft", "foot": "ft", "metres": "m", "meters": "m"}.get(unit, unit)
        if unit in MM_PER:
            return value * MM_PER[unit]
    if (match := _FEET_INCHES.fullmatch(plain)) and plain and match.lastindex:
        feet, whole, top, bottom, inches = match.groups()
        # 1-1/4 without a unit may be a slip for eighths: only a sign or a word makes it inches
        marked = any(sign in plain for sign in ("'", '"', "ft", "feet", "in", *("/" * ("-" not in plain))))
        if marked and (bottom is None or int(bottom) > 0):
            of_inch = float(inches or 0) + float(whole or 0) + (int(top) / int(bottom) if top else 0.0)
            return float(feet or 0) * MM_PER_FOOT + of_inch * MM_PER_INCH
    below = " Below the datum it stands in brackets, such as (0-0-1)." if plain.startswith("-") else ""
    raise BadLength(f"found {found!r}; expected {EXPECTED}.{below}")


def _bare(value: float, found: str, units: str) -> float:
    if not math.isfinite(value):
        raise BadLength(f"found {found!r}; expected {EXPECTED}.")
    if units == "ft" and value != 0:
        raise BadLength(
            f"found {found!r} where feet-inches-eighths are expected; write 3-4-5, or add a unit (mm, in, ft)."
        )
    if units not in MM_PER:
        raise BadLength(f"unit {units!r} is not known; use one of {', '.join(MM_PER)}.")
    return value * MM_PER[units]


def _eighths(match: re.Match[str], found: str) -> float:
    feet, inches, eighths = (int(part) for part in match.group(1, 2, 3))
    if inches > 11 or eighths > 7:
        wrong = f"inches {inches}" if inches > 11 else f"eighths {eighths}"
        raise BadLength(f"found {found!r}: {wrong}; inches run 0 to 11 and eighths 0 to 7.")
    sixteenth = {"": 0, "+": 1, "-": -1}[match.group(4)]
    return (feet * 12 + inches + eighths / 8 + sixteenth / 16) * MM_PER_INCH


def parse_packed(text: str) -> float:
    """Read inches and eighths packed as in old tables, the last digit being eighths; return mm.

    `227` is 22-7/8 in; `1 54` is 1 ft 5-4/8 in. Never tried unless asked for: a bare number is otherwise a number.

    Raises
    ------
    BadLength
        The text is not in that form.

    Examples
    --------
    >>> parse_packed("227") / 25.4, parse_packed("1 54") / 25.4
    (22.875, 17.5)
    """
    match = re.fullmatch(r"(?:(\d+)\s+)?(\d+)([0-7])", text.strip())
    if match is None or (match.group(1) and int(match.group(2)) > 11):
        raise BadLength(f"found {text!r}; expected inches and eighths packed, such as 227 or 1 54.")
    feet, inches, eighths = (int(part or 0) for part in match.groups())
    return (feet * 12 + inches + eighths / 8) * MM_PER_INCH


def format_length(mm: float, units: Units = "mm", digits: int = 0) -> str:
    """Write a length for the builder: mm with `digits` decimals, or feet-inches-eighths to the nearest sixteenth.

    Examples
    --------
    >>> format_length(698.5, "ft"), format_length(160.34, "ft"), format_length(-12.7, "ft")
    ('2-3-4', '0-6-2+', '(0-0-4)')
    >>> format_length(12.34, digits=1)
    '12.3'
    """
    if not math.isfinite(mm):
        return "–"
    if units == "mm":
        text = f"{mm:.{digits}f}"
        return text.removeprefix("-") if float(text) == 0 else text
    sixteenths = math.floor(abs(mm) / MM_PER_INCH * 16 + 0.5)
    inches, rest = divmod(sixteenths, 16)
    text = f"{inches // 12}-{inches % 12}-{rest // 2}{'+' if rest % 2 else ''}"
    return f"({text})" if mm < 0 and sixteenths else text


def format_angle(radians: float, digits: int = 1) -> str:
    """Write an angle in degrees.

    Examples
    --------
    >>> format_angle(0.1)
    '5.7°'
    >>> format_angle(-0.0001)
    '0.0°'
    """
    return f"{round(math.degrees(radians), digits) + 0.0:.{digits}f}°"
