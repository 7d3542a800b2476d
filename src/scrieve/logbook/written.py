"""An entry that a person writes: what, of which member, under what conditions, with figures, photographs and a name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from scrieve.errors import ScrieveError

#: Kind of the records that are written by hand.
NOTE = "note"
#: What an entry may be of; a yard may use words of its own.
KINDS = ("note", "found", "taken off", "made", "fitted", "fastened", "inspected", "deviation", "timber", "conditions")
MOST_TEXT = 4000
MOST_VALUES = 40


@dataclass(frozen=True, slots=True)
class Note:
    """An entry as it is stored."""

    kind: str
    member: str
    text: str
    values: tuple[tuple[str, str], ...] = ()
    temperature_c: float | None = None
    humidity_pct: float | None = None

    def detail(self, photographs: Sequence[str] = (), signed_by: str = "") -> dict[str, Any]:
        """Plain values for the record."""
        found: dict[str, Any] = {"text": self.text, "values": [list(pair) for pair in self.values]}
        if self.temperature_c is not None:
            found["temperature_c"] = self.temperature_c
        if self.humidity_pct is not None:
            found["humidity_pct"] = self.humidity_pct
        if photographs:
            found["photographs"] = list(photographs)
        if signed_by:
            found["signed_by"] = signed_by
        return found


def note_typed(sent: Mapping[str, str]) -> Note:
    """Read an entry as typed: `kind`, `member`, `text`, `values` (a line each, 'name: figure'), `temperature`,
    `humidity`.

    Raises
    ------
    ScrieveError
        There is nothing in it, or a figure cannot be read; the message says which.

    Examples
    --------
    >>> note_typed({"text": "scarf opened", "values": "gap: 0.4 mm", "temperature": "17,5"}).values
    (('gap', '0.4 mm'),)
    """
    kind = " ".join(sent.get("kind", NOTE).split())[:40] or NOTE
    text = sent.get("text", "").strip()
    values = []
    for n, line in enumerate(filter(None, (line.strip() for line in sent.get("values", "").splitlines())), 1):
        name, colon, figure = line.partition(":")
        if not colon or not name.strip() or not figure.strip():
            raise ScrieveError(f"figures, line {n}: found {line[:60]!r}; write 'name: figure', such as 'gap: 0.4 mm'.")
        values.append((name.strip()[:80], figure.strip()[:200]))
    if len(values) > MOST_VALUES:
        raise ScrieveError(f"figures: {len(values)} lines; write {MOST_VALUES} at most to one entry.")
    if len(text) > MOST_TEXT:
        raise ScrieveError(f"the entry is {len(text)} signs long; {MOST_TEXT} at most, then write another.")
    if not text and not values and sent.get("photographs", "") != "yes":
        raise ScrieveError("the entry says nothing yet; write what was done or seen, a figure, or add a photograph.")
    temperature = _figure("temperature", sent.get("temperature", ""), -40, 60, "°C")
    humidity = _figure("humidity", sent.get("humidity", ""), 0, 100, "%")
    member = " ".join(sent.get("member", "").split())[:80]
    return Note(kind, member, text, tuple(values), temperature, humidity)


def _figure(name: str, typed: str, low: float, high: float, unit: str) -> float | None:
    plain = typed.strip().removesuffix(unit).strip().replace(",", ".")
    if not plain:
        return None
    try:
        value = float(plain)
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        raise ScrieveError(f"{name}: found {typed!r}; give {low:g} to {high:g} {unit}.")
    return value
