"""Durations as a person types them, and written back; minutes inside."""

from __future__ import annotations

import math
import re

from scrieve.errors import BadPlan

MINUTES_PER_DAY = 24 * 60
_PART = re.compile(r"(\d+(?:[.,]\d+)?)\s*(d|days?|h|hours?|min|minutes?)")
_CLOCK = re.compile(r"(\d{1,4}):([0-5]\d)")


def parse_duration(text: str | float, name: str = "duration") -> float:
    """Read a duration; return minutes.

    Parameters
    ----------
    text : str or float
        '2 h', '90 min', '1 h 30 min', '1:30' (hours and minutes), '3 d' (of 24 hours: for waits). A number alone is
        minutes.
    name : str
        What it is, for the message.

    Raises
    ------
    BadPlan
        It cannot be read, or lies outside 0 to 400 days.

    Examples
    --------
    >>> parse_duration("1:30"), parse_duration("1 h 15 min"), parse_duration("2,5 h"), parse_duration("14 d")
    (90.0, 75.0, 150.0, 20160.0)
    """
    plain = str(text).strip().lower()
    if match := _CLOCK.fullmatch(plain):
        return float(int(match[1]) * 60 + int(match[2]))
    parts = _PART.findall(plain)
    if parts and not _PART.sub("", plain).strip(" ,+"):
        per = {"d": float(MINUTES_PER_DAY), "h": 60.0, "m": 1.0}
        minutes = sum(float(number.replace(",", ".")) * per[unit[0]] for number, unit in parts)
    else:
        try:
            minutes = float(plain.replace(",", "."))
        except ValueError:
            minutes = math.nan
    if not 0 <= minutes <= 400 * MINUTES_PER_DAY:
        raise BadPlan(f"{name}: found {text!r}; expected a time such as 90 min, 1:30, 2 h or 3 d.")
    return minutes


def format_duration(minutes: float) -> str:
    """Write a duration as it can be typed.

    Examples
    --------
    >>> format_duration(90), format_duration(45), format_duration(480), format_duration(20160), format_duration(0)
    ('1 h 30 min', '45 min', '8 h', '14 d', '0 min')
    """
    whole = round(minutes)
    if whole >= MINUTES_PER_DAY and whole % MINUTES_PER_DAY == 0:
        return f"{whole // MINUTES_PER_DAY} d"
    hours, rest = divmod(whole, 60)
    return " ".join(
        part for part in (f"{hours} h" if hours else "", f"{rest} min" if rest or not hours else "") if part
    )
