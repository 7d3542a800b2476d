"""Typesetting: data in, PDF out; the same bytes for the same data on any machine."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

import typst

#: Stamped into every file, so that the same data give the same bytes (the sheet's own date stands in its heading).
TIMESTAMP = 946_684_800


class SheetFault(RuntimeError):
    """A template went wrong: a fault of the program, not of its user."""


def typeset(template: str, data: dict[str, Any]) -> bytes:
    """Return the PDF of `templates/<template>` filled with `data` (passed as JSON, so that no text is ever markup).

    Only the letters embedded in the typesetter are used, unless the text holds letters that these lack (scripts other
    than Latin, Greek and Cyrillic): then the machine's own are looked through as well.

    Raises
    ------
    SheetFault
        The typesetter failed or warned.
    """
    source = (resources.files("scrieve.sheets") / "templates" / template).read_bytes()
    text = json.dumps(data, ensure_ascii=False, allow_nan=False)
    try:
        pdf, warnings = typst.compile_with_warnings(
            source,
            sys_inputs={"data": text},
            ignore_system_fonts=not _other_script(text),
            timestamp=TIMESTAMP,
        )
    except typst.TypstError as error:
        raise SheetFault(f"{template}: {error}") from error
    if warnings:
        raise SheetFault(f"{template}: {'; '.join(str(w.message) for w in warnings)}")
    if not isinstance(pdf, bytes):
        raise SheetFault(f"{template}: the typesetter gave no page")
    return pdf


def _other_script(text: str) -> bool:
    return any("\u0590" <= c <= "\u1dff" or c >= "\u2e80" for c in text if c > "\u058f" and c != "�")
