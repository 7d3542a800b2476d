"""Settings of a frame as a builder writes them in a form, a list or a command, and as they are written for him."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any

from scrieve.errors import BadLamination, BadLength, ScrieveError
from scrieve.frames.choice import FrameChoice
from scrieve.units import Units, format_length, parse_length
from scrieve.wording import inches

_DEFAULTS = {field.name: field.default for field in fields(FrameChoice)}


@dataclass(frozen=True, slots=True)
class Written:
    """One setting: its name as the builder reads it, how it is written, and an example; `options` where there are few.

    `read` takes the text and the unit of bare numbers; `write` the value and the builder's units.
    """

    name: str
    says: str
    example: str
    read: Callable[[str, str], Any]
    write: Callable[[Any, Units], str]
    options: tuple[str, ...] = ()

    @property
    def is_length(self) -> bool:
        """Whether it is one length, and no list of them."""
        return self.read is parse_length


def read_setting(key: str, text: str, units: str = "mm") -> Any:
    """Read one setting of a `FrameChoice`; an empty text is its default.

    Raises
    ------
    BadLamination
        The setting is not among `SETTINGS`, or its text cannot be read; the message shows how it is written.

    Examples
    --------
    >>> read_setting("heel_cut", "angle 15 at 20mm"), read_setting("ends", "5: 300 to 1800; 6: to 1700")
    (('angle', 20.0, 15.0), ((5, 300.0, 1800.0), (6, None, 1700.0)))
    """
    if key not in SETTINGS:
        raise BadLamination(f"setting {key!r} is not known; the settings are {', '.join(SETTINGS)}.")
    setting = SETTINGS[key]
    plain = text.strip()
    if not plain:
        return _DEFAULTS[key]
    if setting.options and plain.lower() not in setting.options:
        raise BadLamination(f"{setting.name}: found {plain!r}; say {' or '.join(setting.options)}.")
    try:
        return setting.read(plain, units)
    except (ScrieveError, ValueError) as error:
        told = str(error).rstrip(".") if isinstance(error, ScrieveError) else ""
        why = f" ({told})" if told and not told.startswith(f"found {plain!r}; expected") else ""
        raise BadLamination(f"{setting.name}: found {plain!r}; write it as {written_as(key, units)}{why}.") from error


def written_as(key: str, units: str = "mm") -> str:
    """How a setting is written, by an example, in the builder's units.

    Examples
    --------
    >>> written_as("notches"), written_as("notches", "ft")
    ('limber: outer at 300, 30 x 12', 'limber: outer at 1-0-0, 0-1-2 x 0-0-4')
    """
    return _IN_FEET.get(key, SETTINGS[key].example) if units == "ft" else SETTINGS[key].example


def write_setting(key: str, value: Any, units: Units = "mm") -> str:
    """Write a setting so that `read_setting` reads the same value; empty where it is the default and that is nothing.

    Examples
    --------
    >>> write_setting("heel_cut", ("angle", 20.0, 15.0)), write_setting("old_sided_mm", 38.1, "ft")
    ('angle 15 at 20', '0-1-4')
    """
    return "" if value is None or value == () else SETTINGS[key].write(value, units)


def _length(mm: float, units: Units) -> str:
    """A length that reads as the same: in the builder's units where these are fine enough, else in mm."""
    texts = [format_length(mm, units), inches(mm)] if units == "ft" else [f"{mm:.10g}"]
    return next((text for text in texts if _reads_as(text, mm, units)), f"{mm:.10g}mm")


def _reads_as(text: str, mm: float, units: Units) -> bool:
    try:
        return abs(parse_length(text, units) - mm) < 1e-6
    except BadLength:  # 'under 1/64 in'
        return False


def _rows(row: Callable[[str, str], Any]) -> Callable[[str, str], tuple[Any, ...]]:
    return lambda text, units: tuple(row(each.strip(), units) for each in re.split(r"[;\n]", text) if each.strip())


def _joined(row: Callable[[Any, Units], str]) -> Callable[[Any, Units], str]:
    return lambda value, units: "; ".join(row(each, units) for each in value)


def _two(text: str, sign: str) -> tuple[str, str]:
    first, parted, second = text.partition(sign)
    if not parted:
        raise ValueError(text)
    return first.strip(), second.strip()


def _ply(text: str, units: str) -> tuple[str, float]:
    timber, thickness = _two(text, ":")
    return timber, parse_length(thickness, units)


def _place_depth(text: str, units: str) -> tuple[float, float]:
    place, depth = _two(text, ":")
    return parse_length(place, units), parse_length(depth, units)


def _end(text: str, units: str) -> tuple[int, float | None, float | None]:
    number, run = _two(text, ":")
    first, last = _two(f" {run} ", " to ")
    return int(number), *(parse_length(each, units) if each else None for each in (first, last))  # type: ignore[return-value]


def _end_words(row: tuple[int, float | None, float | None], units: Units) -> str:
    first, last = ("" if place is None else _length(place, units) for place in row[1:])
    return f"{row[0]}: " + f"{first} to {last}".strip()


def _share(text: str) -> float:
    plain = text.removesuffix("%").strip()
    return float(plain) / 100


def _percent(share: float) -> str:
    return f"{100 * share:.10g} %"


def _held(text: str, units: str) -> tuple[int, float]:
    number, share = _two(text, ":")
    return int(number), _share(share)


def _radius(text: str, units: str) -> tuple[int, float]:
    number, radius = _two(text, ":")
    backwards = radius.startswith("-")
    return int(number), (-1 if backwards else 1) * parse_length(radius.lstrip("-"), units)


def _cut(text: str, units: str) -> tuple[str, float, float]:
    kind, _, place = f"{text} ".lower().partition(" at ")
    word, *rest = kind.split()
    if len(rest) > 1:
        raise ValueError(text)
    return word, parse_length(place.strip(), units) if place.strip() else 0.0, float(rest[0]) if rest else 0.0


def _cut_words(cut: tuple[str, float, float], units: Units) -> str:
    kind, place, degrees = cut
    return kind + (f" {degrees:.10g}" if degrees else "") + (f" at {_length(place, units)}" if place else "")


_NOTCH = re.compile(r"(.+?)\s*:\s*(outer|inner)\s+at\s+(.+?),\s+(.+?)\s*[x×]\s*(.+)", re.IGNORECASE)


def _notch(text: str, units: str) -> tuple[str, float, str, float, float]:
    match = _NOTCH.fullmatch(text)
    if match is None:
        raise ValueError(text)
    name, edge, *sizes = match.groups()
    place, long, deep = (parse_length(size, units) for size in sizes)
    return name, place, edge.lower(), long, deep


def _notch_words(notch: tuple[str, float, str, float, float], units: Units) -> str:
    name, place, edge, long, deep = notch
    return f"{name}: {edge} at {_length(place, units)}, {_length(long, units)} x {_length(deep, units)}"


def _yes(text: str, units: str) -> bool:
    return text.lower() == "yes"


def _size(name: str, says: str, example: str = "45") -> Written:
    return Written(name, says, example, parse_length, _length)


def _number(name: str, says: str, example: str, kind: type = float) -> Written:
    return Written(name, says, example, lambda text, units: kind(text), lambda value, units: f"{value:.10g}")


def _word(name: str, says: str, *options: str, example: str = "") -> Written:
    read: Callable[[str, str], str] = (lambda text, u: text.lower()) if options else (lambda text, u: text)
    return Written(name, says, example or options[0], read, lambda value, units: str(value), options)


#: Examples in feet, inches and eighths, of those that hold lengths.
_IN_FEET: dict[str, str] = {
    "moulded_head_mm": "0-1-6",
    "moulded_table": "0: 0-2-3; 5-0-0: 0-2-0",
    "heel_cut": "plumb at 0-0-6",
    "head_cut": "angle 15 at 0-0-6",
    "notches": "limber: outer at 1-0-0, 0-1-2 x 0-0-4",
    "lamination_mm": '5/16"',
    "step_mm": '1/64"',
    "stack": 'larch: 5/16"; sapele: 1/4"; larch: 5/16"',
    "ends": "2: 1-0-0 to 6-0-0; 3: to 5-6-0",
    "prebent_radius": "1: 5-0-0; 2: 5-3-0",
    "board_mm": "8-0-0",
    "cleaning_mm": '1/16"',
    "kerf_mm": '1/8"',
    "trim_mm": "0-3-0",
    "pitch_mm": "0-10-0",
    "waterlines_mm": "1-0-0; 2-0-0",
    "caul_mm": "0-1-0",
    "old_sided_mm": "0-1-4",
    "old_moulded_mm": "0-1-6",
    "strength_at_mm": "2-0-0; 4-6-0",
    "planing_mm": '1/16"',
    "edge_cleaning_mm": '1/16"',
    "clearance_mm": "0-4-0",
}

#: Every setting that a form or list may hold besides label, timber, siding and moulding, in the order of the work.
SETTINGS: dict[str, Written] = {
    "moulded_head_mm": _size("Moulded at the head", "for an even taper from the heel"),
    "moulded_table": Written(
        "Moulded by table",
        "places along the moulded line and the depth there; straight between",
        "0: 60; 1500: 50",
        _rows(_place_depth),
        _joined(lambda row, u: f"{_length(row[0], u)}: {_length(row[1], u)}"),
    ),
    "moulding_edge": _word("Moulding edge", "the face that carries the moulded line", "auto", "fore", "aft"),
    "heel_cut": Written(
        "Heel cut", "square, level, plumb, or an angle in degrees from square; how far inside the end", "plumb at 20",
        _cut, _cut_words,
    ),
    "head_cut": Written("Head cut", "as the heel cut", "angle 15 at 20", _cut, _cut_words),
    "notches": Written(
        "Notches and limber holes", "name, edge, middle along the moulded line, length x depth",
        "limber: outer at 300, 30 x 12", _rows(_notch), _joined(_notch_words),
    ),
    "lamination_mm": _size("Thickness of laminations", "computed where empty", "8"),
    "count": _number("Number of laminations", "computed where empty", "8", int),
    "step_mm": _size("Step of a thickness", "by which a planer is set; what is computed is rounded up to it", "0.5"),
    "stack": Written(
        "Stack", "each lamination's timber and thickness, inside first; stands before timber and thickness",
        "larch: 8; sapele: 6; larch: 8", _rows(_ply), _joined(lambda row, u: f"{row[0]}: {_length(row[1], u)}"),
    ),
    "ends": Written(
        "Dropped laminations", "number from the inside: where it begins and ends along the moulded line",
        "2: 300 to 1800; 3: to 1700", _rows(_end), _joined(_end_words),
    ),
    "steamed_share": Written(
        "Steamed to hold", "share of the curve that every lamination holds before it is laid up: measure it", "30 %",
        lambda text, units: _share(text), lambda value, units: _percent(value) if value else "",
    ),
    "prebent": Written(
        "Pre-bent, share", "the same for single laminations", "1: 40 %; 2: 30 %", _rows(_held),
        _joined(lambda row, u: f"{row[0]}: {_percent(row[1])}"),
    ),
    "prebent_radius": Written(
        "Pre-bent, radius", "the radius that single laminations hold", "1: 1500; 2: 1600", _rows(_radius),
        _joined(lambda row, u: f"{row[0]}: {'-' if row[1] < 0 else ''}{_length(abs(row[1]), u)}"),
    ),
    "board_mm": _size("Longest board", "laminations longer than it are scarfed", "2500"),
    "scarf_slope": _number("Slope of scarfs", "length over thickness", "12"),
    "scarf_rule": _word("Stagger of scarfs", "clear by a scarf's length, or as butts of planking", "clear", "butts"),
    "margin": _number("Share of the breaking strain", "to which a lamination may be bent, up to 1", "0.5"),
    "spring_factor": _number("Springback factor", "1: as learnt, and as computed until then", "1"),
    "glue": _word("Glue", "its family", example="epoxy"),
    "spread_g_m2": _number("Spread of glue, g/m²", "from the maker's data sheet", "250"),
    "planing_mm": _size("Planing of laminations", "added to each thickness as sawn", "2"),
    "cleaning_mm": _size("Cleaning of each face", "of the packet and of the sawn faces", "2"),
    "edge_cleaning_mm": _size("Cleaning of each edge", "of the blank", "2"),
    "allow_for_cleaning": Written(
        "Jig allows for cleaning off", "what is planed off carries stress: set the jig for the finished shape", "yes",
        _yes, lambda value, units: "yes" if value else "no", ("yes", "no"),
    ),
    "kerf_mm": _size("Saw kerf", "when the blank is ripped", "3"),
    "trim_mm": _size("Trimming allowance", "past heel and head, each", "75"),
    "pitch_mm": _size("Pitch of the rails", "middle to middle", "250"),
    "bearing": _word("Bearing face", "the face of the packet on the brackets", "inside", "outside"),
    "double_ends": Written(
        "Second bracket near each end", "on the frame's own rails, where it holds the packet better", "yes",
        _yes, lambda value, units: "yes" if value else "no", ("yes", "no"),
    ),
    "clearance_mm": _size("Clearance", "least travel of a bracket, on the frame's own rails", "100"),
    "waterlines_mm": Written(
        "Waterlines", "heights to mark on both halves", "300; 600", _rows(parse_length), _joined(_length)
    ),
    "clamp_n": _number("Force of one clamp, N", "for the number of clamps", "3000"),
    "caul_mm": _size("Thickness of cauls", "pressure spreads through them", "25"),
    "hull": _word(
        "Made from",
        "the marks its line is faired from: both sides as one, or one side's own",
        *("both", "port", "starboard"),
    ),
    "hands": _word("Got out of the blank", "both halves, or the frame of one side alone", "pair", "port", "starboard"),
    "old_timber": _word("Old frame, timber", "the new section is held against it", example="oak, white"),
    "old_sided_mm": _size("Old frame, sided", "finished", "38"),
    "old_moulded_mm": _size("Old frame, moulded", "finished", "45"),
    "old_kind": _word("Old frame was", "how it was got out", "steamed", "sawn"),
    "strength_at_mm": Written(
        "Told also at", "places from the heel along the moulded line", "600; 1400", _rows(parse_length),
        _joined(_length),
    ),
}  # fmt: skip

#: The settings of the old frame, which have a place of their own on the page.
OLD_FRAME = ("old_timber", "old_sided_mm", "old_moulded_mm", "old_kind", "strength_at_mm")
