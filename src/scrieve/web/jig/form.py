"""The form that describes the jig: the fields of a `JigBed` as typed, in the builder's units."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from scrieve.errors import BadJig, BadLength
from scrieve.frames.jig.bed import JigBed
from scrieve.sheets.figures import length
from scrieve.units import Units, parse_length

Kind = Literal["length", "count", "degrees", "minutes", "choice", "yes"]


@dataclass(frozen=True, slots=True)
class Asked:
    """One field of the form: its name in `JigBed`, what it is called, what it is, and what it may be."""

    name: str
    label: str
    kind: Kind
    hint: str = ""
    options: tuple[str, ...] = ()


GROUPS: tuple[tuple[str, tuple[Asked, ...]], ...] = (
    (
        "Bed",
        (
            Asked("length_mm", "Length along the datum line", "length"),
            Asked("depth_mm", "Depth out from the datum line", "length"),
            Asked("rails", "Rails, or columns of holes", "count"),
            Asked("pitch_mm", "Rails, middle to middle", "length"),
            Asked("first_mm", "First rail from the left end", "length"),
            Asked("row_mm", "Rows of holes, apart", "length", "empty: brackets slide on rails"),
        ),
    ),
    (
        "Brackets",
        (
            Asked("brackets", "How many there are", "count"),
            Asked("travel_least_mm", "Least travel", "length", "datum line (or hole) to bearing face"),
            Asked("travel_most_mm", "Most travel", "length"),
            Asked("swivel_most_rad", "Stop of the swivel, either way (°)", "degrees"),
            Asked("face_width_mm", "Width of a bracket's face", "length"),
            Asked("face", "Its face", "choice", options=("flat", "round")),
            Asked("bearing", "Face of the packet on the brackets", "choice", options=("inside", "outside")),
            Asked("between", "Can be clamped between rails", "yes", "no, where brackets are pinned in holes"),
        ),
    ),
    (
        "Times",
        (
            Asked("move_min", "Move one bracket (minutes)", "minutes"),
            Asked("mm_min", "Each 100 mm of its travel (minutes)", "minutes", "100 mm are 4 in near enough"),
            Asked("swivel_min", "Set one swivel (minutes)", "minutes", "0: the face finds its own angle"),
            Asked("frame_min", "Each frame, whatever is moved (minutes)", "minutes"),
        ),
    ),
)
_FIELDS = tuple(each for _, group in GROUPS for each in group)
#: What each field is called, by its name.
NAMES = {each.name: each.label for each in _FIELDS}


def shown(bed: JigBed, units: Units) -> dict[str, str]:
    """Return the fields filled from a bed."""
    return {each.name: _text(each, getattr(bed, each.name), units) for each in _FIELDS}


def typed(sent: Mapping[str, str]) -> dict[str, str]:
    """Return the fields as they were sent; white space round a value goes."""
    return {each.name: sent.get(each.name, "").strip() for each in _FIELDS}


def bed_of(given: Mapping[str, str], before: JigBed, units: Units) -> JigBed:
    """Read the bed typed.

    A field that still reads as before is not changed: rounding for the page must not creep into the jig.

    Raises
    ------
    BadJig, BadLength
        A value cannot be read or used; the message says which.
    """
    values: dict[str, Any] = {}
    for each in _FIELDS:
        text = given[each.name]
        if text == _text(each, getattr(before, each.name), units):
            continue
        values[each.name] = _read(each, text, units)
    return replace(before, **values).checked()


def _text(asked: Asked, value: Any, units: Units) -> str:
    if asked.kind == "length":
        digits = 0 if value is None or float(value).is_integer() else 1
        return "" if value is None else length(value, units, digits)
    if asked.kind == "degrees":
        return f"{math.degrees(value):.3g}"
    if asked.name == "mm_min":
        return f"{100 * value:g}"
    if asked.kind == "yes":
        return "yes" if value else ""
    return f"{value:g}" if asked.kind == "minutes" else str(value)


def _read(asked: Asked, text: str, units: Units) -> Any:
    if asked.kind == "yes":
        return bool(text)
    if asked.kind == "choice":
        return text
    if not text and asked.name == "row_mm":
        return None
    if asked.kind == "length":
        try:
            return parse_length(text, units)
        except BadLength as error:
            raise BadLength(f"{asked.label}: {error}") from error
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        raise BadJig(f"{asked.label}: found {text!r}; give a number.") from None
    if asked.kind == "count":
        if not (math.isfinite(value) and value.is_integer() and value <= 1000):
            raise BadJig(f"{asked.label}: found {text!r}; give a whole number, 1000 at most.")
        return int(value)
    if asked.kind == "degrees":
        return math.radians(value)
    return value / 100 if asked.name == "mm_min" else value
