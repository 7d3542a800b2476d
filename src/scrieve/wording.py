"""Texts that carry their lengths: they read in mm, and tell themselves in feet, inches and eighths where asked.

A check or a working is made in the core, which knows no units but mm; the page or sheet that prints it says
`in_units(check, "ft")`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar

from scrieve.units import MM_PER_INCH, Units, format_length

T = TypeVar("T")

#: Thicknesses, hollows and what is left to plane are told to this part of an inch.
FINEST = 64


@dataclass(frozen=True, slots=True)
class Length:
    """A length within a text [mm]: `digits` decimals in mm (None: as short as it goes); `small` where eighths are too
    coarse; `metres` where it is told in m and not in mm. Beyond `limit`, that is told where rounding would hide it."""

    mm: float
    digits: int | None = 0
    small: bool = False
    metres: bool = False
    limit: float = math.inf

    def told(self, units: Units) -> str:
        """The length with its unit, as the builder writes it."""
        text = self._rounded(units)
        if self.mm > self.limit and text == replace(self, mm=self.limit)._rounded(units):
            return f"just over {text}"
        return text

    def _rounded(self, units: Units) -> str:
        if not math.isfinite(self.mm):
            return "–"
        if units == "ft":
            return inches(self.mm) if self.small else format_length(self.mm, "ft")
        if self.metres:
            return f"{self.mm / 1000:.{self.digits or 0}f} m"
        return f"{self.mm:g} mm" if self.digits is None else f"{format_length(self.mm, digits=self.digits)} mm"


def length(mm: float, digits: int = 0) -> Length:
    """A length told to `digits` decimals of a mm, or in feet, inches and eighths."""
    return Length(float(mm), digits)


def metres(mm: float, digits: int = 1) -> Length:
    """A radius or the run of a plank: told in metres, or in feet, inches and eighths."""
    return Length(float(mm), digits, metres=True)


def small(mm: float, digits: int | None = 1, limit: float = math.inf) -> Length:
    """A thickness, a hollow, a residual: told to `digits` decimals of a mm, or in 64ths of an inch.

    Examples
    --------
    >>> in_units(tell("{off} off", off=small(1.1, 2, limit=1.0)), "ft")
    'just over 3/64 in off'
    """
    return Length(float(mm), digits, small=True, limit=limit)


def inches(mm: float) -> str:
    """Inches and the nearest 64th, reduced.

    Examples
    --------
    >>> inches(7.9375), inches(30.1625), inches(-3.175), inches(0.1), inches(0)
    ('5/16 in', '1 3/16 in', '-1/8 in', 'under 1/64 in', '0 in')
    """
    parts = math.floor(abs(mm) / MM_PER_INCH * FINEST + 0.5)
    if parts == 0:
        return "0 in" if mm == 0 else f"under 1/{FINEST} in"
    whole, rest = divmod(parts, FINEST)
    common = math.gcd(rest, FINEST)
    fraction = f"{rest // common}/{FINEST // common}" if rest else ""
    return ("-" if mm < 0 else "") + " ".join(part for part in (str(whole) if whole else "", fraction) if part) + " in"


class Told(str):
    """A text in mm that remembers the lengths in it."""

    template: str
    values: dict[str, Any]

    def told(self, units: Units) -> str:
        """The text in other units."""
        return self.template.format_map({name: _told(value, units) for name, value in self.values.items()})


def tell(template: str, /, **values: Any) -> str:
    """Fill a text in, keeping its lengths.

    Parameters
    ----------
    template : str
        With fields in braces, as `str.format` takes them.
    values
        Lengths (`length`, `small`), texts made by `tell`, or anything that is printed as it is.

    Returns
    -------
    str
        In mm; `in_units` gives it in the builder's units.

    Examples
    --------
    >>> found = tell("{t} on R {r}", t=small(8, None), r=length(914.4))
    >>> found, in_units(found, "ft")
    ('8 mm on R 914 mm', '5/16 in on R 3-0-0')
    """
    text = Told(template.format_map({name: _told(value, "mm") for name, value in values.items()}))
    text.template, text.values = template, dict(values)
    return text


def by_itself(one: Length | str) -> str:
    """Return one length by itself as a text that keeps it.

    Examples
    --------
    >>> by_itself(small(7.9375)), in_units(by_itself(small(7.9375)), "ft")
    ('7.9 mm', '5/16 in')
    """
    return tell("{it}", it=one)


def joined(told: Sequence[str], between: str = ", ") -> str:
    """Join texts made by `tell` into one that keeps their lengths.

    Examples
    --------
    >>> in_units(joined([by_itself(length(304.8)), "2 frame spaces"], " and "), "ft")
    '1-0-0 and 2 frame spaces'
    """
    fields = {f"_{k}": each for k, each in enumerate(told)}
    return tell(between.join(f"{{{name}}}" for name in fields), **fields)


def in_units(value: T, units: Units) -> T:
    """A text, a check, a working, or a tuple of them, with every length in it told in the builder's units."""
    if isinstance(value, Told):
        return value.told(units)  # type: ignore[return-value]
    if isinstance(value, tuple):
        return tuple(in_units(each, units) for each in value)  # type: ignore[return-value]
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{field.name: in_units(getattr(value, field.name), units) for field in fields(value)})
    return value


#: A text between single quotes, left as it was typed; or lengths of which the last names the unit, as in '5 to 60 mm'.
_LENGTHS = re.compile(
    r"(?<!\w)'[^']*'(?!\w)|(?<![\w.])-?\d+(?:\.\d+)?(?:(?: to | and | or | × |, )-?\d+(?:\.\d+)?)* mm\b(?! ?[²³])"
)
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def said(what: object, units: Units) -> str:
    """Return what an error or a remark says, its lengths told in the builder's units.

    Such texts are made where no units are known but mm. A length of a decimal, or under 100 mm, is told in inches.

    Examples
    --------
    >>> said("a lap of 38.1 mm runs below the heel at station 3048 mm; found '12 mm'.", "ft")
    "a lap of 1 1/2 in runs below the heel at station 10-0-0; found '12 mm'."
    """
    text = what.args[0] if isinstance(what, Exception) and what.args and isinstance(what.args[0], Told) else what
    told = in_units(text, units) if isinstance(text, Told) else str(text)
    return told if units == "mm" else _LENGTHS.sub(_in_feet, told)


def _in_feet(found: re.Match[str]) -> str:
    if found[0].startswith("'"):
        return found[0]
    return _NUMBER.sub(lambda number: _as_read(number[0]), found[0].removesuffix(" mm"))


def _as_read(number: str) -> str:
    mm = float(number)
    return inches(mm) if "." in number or abs(mm) < 100 else format_length(mm, "ft")


def _told(value: Any, units: Units) -> Any:
    if isinstance(value, Length):
        return value.told(units)
    return value.told(units) if isinstance(value, Told) else value
