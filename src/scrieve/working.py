"""A figure that shows its working, and a figure held against its limit: formula, inputs, source, caution."""

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


@dataclass(frozen=True, slots=True)
class Check:
    """One figure held against a limit.

    `found` and `limit` are written out with their units; `ok` is the verdict. `source` says where the limit comes from
    ('common practice, no source' where that is so), `caution` what to do where it is passed.
    """

    name: str
    found: str
    limit: str
    ok: bool
    source: str
    caution: str = ""
