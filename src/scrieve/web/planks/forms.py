"""The settings of a plank on its page, as typed; lengths still text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, get_args

from scrieve.errors import BadPlank
from scrieve.planking import PlankEnds, SkinChoice, SpilingChoice, StrakeChoice
from scrieve.planking.choice import Joint
from scrieve.sheets.figures import length
from scrieve.units import Units
from scrieve.web.forms import read_length

#: Field -> its label, and the values to choose from; none where a length or a text is typed. '' leaves it out.
JOINTS = get_args(Joint)
_LENGTHS = {
    "strake": ("thickness_mm", "tolerance_mm", "planing_mm", "trim_mm", "wany_margin_mm", "lap_mm"),
    "spiled": ("thickness_mm", "tolerance_mm", "planing_mm", "trim_mm", "wany_margin_mm"),
    "diagonal": ("thickness_mm", "width_mm", "under_mm", "planing_mm", "trim_mm", "wany_margin_mm"),
}
_CHOICES: dict[str, dict[str, tuple[str, ...]]] = {
    "strake": {
        "build": ("carvel", "clinker", "panel"), "across": ("straight", "round"),
        "sheet_joint": ("scarf", "butt block"), "seam_rule": ("metric", "inch"),
    },
    "spiled": {"seam_rule": ("metric", "inch")},
    "diagonal": {},
}  # fmt: skip
WORDS = {
    "thickness_mm": "Finished thickness", "tolerance_mm": "Fairing may pass a mark by",
    "planing_mm": "Planing, both faces",
    "trim_mm": "Trim at each end", "wany_margin_mm": "Clear of wane", "lap_mm": "Lap (0: twice the thickness)",
    "width_mm": "Width of the planks", "under_mm": "Thickness of the layer under it", "build": "Built",
    "across": "Across it lies", "sheet_joint": "Sheets joined by", "seam_rule": "Seam opens", "timber": "Timber",
    "first": "First end", "last": "Last end", "scarf_slope": "Slope of scarfs, to 1",
    "nib_mm": "Nib of scarfs (0: none)", "keep": "Points kept as they are",
    "seam_opening_mm": "Seam open outside", "angle_deg": "Angle of the planks (°)", "plank": "Number of the plank",
    "sheet_mm": "Sheet, length × width",
}  # fmt: skip
CHOICE_WORDS = {
    "metric": "3.5 mm in 25 mm",
    "inch": "1/16 in per inch",
    "straight": "straight, hollowed",
    "round": "round",
}
_NUMBERS = {"diagonal": ("angle_deg", "plank")}


def fields_of(entry: Mapping[str, Any], units: Units) -> list[tuple[str, str, str, tuple[str, ...]]]:
    """Fields of the form: name, label, value as text, and the values to choose from (none: typed)."""
    kind, choice = str(entry["kind"]), dict(entry["choice"])
    found = [(name, WORDS[name], _length(choice.get(name, _default(kind, name)), units), ()) for name in _LENGTHS[kind]]
    rows: list[tuple[str, str, str, tuple[str, ...]]] = list(found)
    for name, values in _CHOICES[kind].items():
        rows.append((name, WORDS[name], str(choice.get(name) or values[0]), values))
    rows += [(name, WORDS[name], f"{choice.get(name, _default(kind, name)):g}", ()) for name in _NUMBERS.get(kind, ())]
    if kind != "diagonal":
        ends = {**asdict(PlankEnds()), **(choice.get("ends") or {})}
        rows += [(name, WORDS[name], str(ends[name]), JOINTS) for name in ("first", "last")]
        rows.append(("scarf_slope", WORDS["scarf_slope"], f"{ends['scarf_slope']:g}", ()))
        rows.append(("nib_mm", WORDS["nib_mm"], _length(ends["nib_mm"], units), ()))
        opening = choice.get("seam_opening_mm")
        told = "" if opening is None else _length(opening, units)
        rows.append(("seam_opening_mm", WORDS["seam_opening_mm"], told, ()))
    if kind == "strake":
        sheet = choice.get("sheet_mm") or (2440.0, 1220.0)
        rows.append(("sheet_mm", WORDS["sheet_mm"], " × ".join(_length(side, units) for side in sheet), ()))
    if kind == "spiled":
        rows.append(("keep", WORDS["keep"], ", ".join(choice.get("keep", ())), ()))
    rows.append(("timber", WORDS["timber"], str(choice.get("timber", "")), ()))
    return rows


def changed(entry: Mapping[str, Any], sent: Mapping[str, str], units: Units) -> dict[str, Any]:
    """The entry with what was typed; a field that still reads as before keeps its exact value.

    Raises
    ------
    BadPlank, BadLength
        A value cannot be read; the message says which.
    """
    kind = str(entry["kind"])
    choice: dict[str, Any] = dict(entry["choice"])
    ends = {**asdict(PlankEnds()), **(choice.get("ends") or {})}
    for name, label, before, values in fields_of(entry, units):
        typed = sent.get(name, before).strip()
        if typed == before:
            continue
        if values and typed not in values:
            raise BadPlank(f"{label}: found {typed!r}; choose {' or '.join(values)}.")
        if name in ("first", "last"):
            ends[name] = typed
        elif name in ("scarf_slope", "angle_deg", "plank"):
            number = _number(label, typed)
            if name == "scarf_slope":
                ends[name] = number
            else:
                choice[name] = int(number) if name == "plank" else number
        elif name == "nib_mm":
            ends[name] = read_length(label, typed, units)
        elif name == "seam_opening_mm":
            choice[name] = read_length(label, typed, units) if typed else None
        elif name == "sheet_mm":
            sides = [side.strip() for side in typed.replace("x", "×").split("×")]
            if len(sides) != 2:
                raise BadPlank(f"{label}: found {typed!r}; write length × width.")
            choice[name] = [read_length(label, side, units) for side in sides]
        elif name.endswith("_mm"):
            choice[name] = read_length(label, typed, units)
        elif name == "keep":
            choice[name] = [point.strip() for point in typed.split(",") if point.strip()]
        else:
            choice[name] = typed
    if kind != "diagonal":
        choice["ends"] = ends
    return {**entry, "choice": choice}


def _default(kind: str, name: str) -> Any:
    if kind == "diagonal":
        return getattr(SkinChoice("x", 10.0), name)
    return getattr(StrakeChoice("x", (), (), 10.0) if kind == "strake" else SpilingChoice("x", 10.0), name)


def _length(mm: float, units: Units) -> str:
    return length(mm, units, 0 if mm == round(mm) else 1)


def _number(label: str, typed: str) -> float:
    try:
        return float(typed)
    except ValueError:
        raise BadPlank(f"{label}: found {typed!r}; give a number.") from None
