"""A figure that shows its working: formula, inputs, source, caution."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Working:
    """How one figure came about, for the page and the sheet.

    `formula` is in plain text or Unicode mathematics, `inputs` pairs a name with its value and unit, `source` says
    where the formula or limit comes from ('common practice, no source' where that is so).
    """

    figure: str
    value: str
    formula: str
    inputs: tuple[tuple[str, str], ...]
    source: str
    caution: str = ""
