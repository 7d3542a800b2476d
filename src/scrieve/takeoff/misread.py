"""Figures written down wrongly: two changed over, one too many, the last left out, a minus, another unit."""

from __future__ import annotations

import re
from collections.abc import Iterator

#: A length in plain figures, with its unit if it has one.
_PLAIN = re.compile(r"\s*(-?)(\d+)((?:[.,]\d+)?\s*[a-z]*)\s*", re.IGNORECASE)


def misread(text: str) -> Iterator[tuple[str, str]]:
    """Go through what a length may have been that was written down wrongly: the words for it, and the length as text.

    Two figures changed over come first. Of `3-4-5` its parts are changed over; what then is no length is for the
    reader of lengths to refuse.

    Examples
    --------
    >>> [now for words, now in misread("1129") if words == "two figures changed over"]
    ['1219', '1192']
    >>> dict(misread("3-4-5"))["two figures changed over"]
    '3-5-4'
    >>> ("a minus too much", "423") in misread("-423")
    True
    """
    parts = text.strip().split("-")
    if len(parts) == 3 and all(part.rstrip("+").isdecimal() for part in parts):
        for i in (0, 1):
            if parts[i] != parts[i + 1]:
                turned = [*parts[:i], parts[i + 1], parts[i], *parts[i + 2 :]]
                yield "two figures changed over", "-".join(turned)
        return
    found = _PLAIN.fullmatch(text)
    if found is None:
        return
    minus, figures, rest = found.groups()
    for i in range(len(figures) - 1):
        if figures[i] != figures[i + 1]:
            turned_over = figures[:i] + figures[i + 1] + figures[i] + figures[i + 2 :]
            yield "two figures changed over", f"{minus}{turned_over}{rest}"
    yield ("a minus too much", figures + rest) if minus else ("a minus left out", f"-{figures}{rest}")
    for i in range(len(figures)):
        if len(figures) > 1:
            yield "a figure too many", f"{minus}{figures[:i]}{figures[i + 1 :]}{rest}"
    if not re.match(r"[.,]", rest):
        for last in "0123456789":
            yield "the last figure left out", f"{minus}{figures}{last}{rest}"
