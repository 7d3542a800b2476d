"""What a form was refused for, told at the field: which field it is, and the reason in the words of the page."""

from __future__ import annotations

import re
from collections.abc import Mapping

from scrieve.errors import ScrieveError
from scrieve.frames.written import SETTINGS
from scrieve.units import Units, format_length

#: Names of the fields of a frame's form as its page has them.
FRAME_NAMES: Mapping[str, str] = {
    "station": "Station",
    "timber": "Timber",
    "sided": "Sided",
    "moulded": "Moulded",
} | {key: setting.name for key, setting in SETTINGS.items()}

#: 'frame 14, sided_mm: found 4500.0; give 5 to 1000 mm.' and 'jig, rails: found 2; …'
_NAMED = re.compile(r"^(?:frame .+?|jig), (\w+)((?:, [^:]*)?): found (.*); ([^;]*)$", re.DOTALL)
#: What else tells the field: how the message begins, and the fields that it can be of, the likeliest last.
_TOLD: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("timber ", ("stack", "old_timber", "timber")),
    ("glue ", ("glue",)),
    ("notch ", ("notches",)),
)


def at_fault(error: ScrieveError | None, names: Mapping[str, str], typed: Mapping[str, str]) -> str:
    """Return the field that an error is about, '' where it is about none of them.

    Parameters
    ----------
    error : ScrieveError or None
    names : mapping
        Field to the name with which a message about it begins.
    typed : mapping
        Field to what stands in it.

    Examples
    --------
    >>> from scrieve.errors import BadLamination
    >>> at_fault(BadLamination("Sided: found 'thick'; expected mm."), {"sided": "Sided"}, {})
    'sided'
    """
    text = str(error or "")
    for field, name in names.items():
        if text.lower().startswith(f"{name.lower()}:"):
            return field
    if (named := _NAMED.match(text)) and (field := _field(named[1], names)):
        return field
    if number := re.search(r"lamination (\d+) is not in a stack", text):
        held = [key for key in ("ends", "prebent", "prebent_radius") if f"{number[1]}:" in typed.get(key, "")]
        return held[0] if held else ""
    for beginning, fields in _TOLD:
        if text.lower().startswith(beginning):
            quoted = re.search(r"'([^']*)'", text)
            there = [key for key in fields if quoted and quoted[1] and quoted[1] in typed.get(key, "")]
            return there[0] if there else fields[-1]
    return ""


def by_beginning(error: ScrieveError | None, beginnings: Mapping[str, tuple[str, ...]], else_: str = "") -> str:
    """Return the field whose message begins so, `else_` where none does; '' where there is no error.

    Examples
    --------
    >>> from scrieve.errors import BadLamination
    >>> by_beginning(BadLamination("relative humidity: 140 %; give 0.1 to 100 %."), {"rh": ("humidity", "relative")})
    'rh'
    """
    if error is None:
        return ""
    text = str(error).lower()
    found = (field for field, starts in beginnings.items() if text.startswith(tuple(each.lower() for each in starts)))
    return next(found, else_)


def _field(name: str, names: Mapping[str, str]) -> str:
    """The field of a setting by its name in the core: the same, or without its unit."""
    short = name.removesuffix("_mm")
    return next((each for each in (name, short) if each in names), "")


def in_words(error: ScrieveError, names: Mapping[str, str], typed: Mapping[str, str], units: Units) -> str:
    """Return what an error says with the field as the page calls it, what was typed, and limits in the units shown.

    Examples
    --------
    >>> from scrieve.errors import BadLamination
    >>> wide = BadLamination("frame 14, sided_mm: found 4500.0; give 5 to 1000 mm.")
    >>> in_words(wide, {"sided": "Sided"}, {"sided": "4500"}, "mm")
    "Sided: found '4500'; give 5 to 1000 mm."
    """
    text = str(error)
    named = _NAMED.match(text)
    if named is None or not (field := _field(named[1], names)):
        return text
    found = repr(typed[field]) if typed.get(field) else named[3]
    remedy = named[4]
    if units == "ft":
        remedy = re.sub(r"([\d.]+) to ([\d.]+) mm", _span, remedy)
        remedy = re.sub(r"([\d.]+) mm", lambda told: format_length(float(told[1]), "ft"), remedy)
    return f"{names[field]}{named[2]}: found {found}; {remedy}"


def _span(limits: re.Match[str]) -> str:
    low, high = (format_length(float(limits[i]), "ft") for i in (1, 2))
    return f"{low} to {high}"
