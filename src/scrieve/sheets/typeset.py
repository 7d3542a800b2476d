"""Typesetting: data in, PDF out; the same bytes for the same data on any machine."""

from __future__ import annotations

import json
import re
from functools import lru_cache
from importlib import resources
from typing import Any

import typst

#: Letters that the embedded ones lack; the sign for an unreadable letter stands in them.
_OTHER_SCRIPT = re.compile("[\u0590-\u1dff\u2e80-\ufffc\ufffe-\U0010ffff]")

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
    text = json.dumps(data, ensure_ascii=False, allow_nan=False)
    other_scripts = _OTHER_SCRIPT.search(text) is not None
    try:
        pdf, warnings = typst.compile_with_warnings(
            _source(template),
            sys_inputs={"data": text},
            font_paths=_letters(other_scripts),
            ignore_system_fonts=not other_scripts,
            timestamp=TIMESTAMP,
        )
    except typst.TypstError as error:
        raise SheetFault(f"{template}: {error}") from error
    if warnings:
        raise SheetFault(f"{template}: {'; '.join(str(w.message) for w in warnings)}")
    if not isinstance(pdf, bytes):
        raise SheetFault(f"{template}: the typesetter gave no page")
    return pdf


@lru_cache
def _source(template: str) -> bytes:
    return (resources.files("scrieve.sheets") / "templates" / template).read_bytes()


@lru_cache
def _letters(other_scripts: bool) -> typst.Fonts:
    """The letters to set in, found once."""
    return typst.Fonts(include_system_fonts=other_scripts)
