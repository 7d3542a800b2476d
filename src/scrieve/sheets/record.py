"""The record of a restoration: sections of words, facts, tables, drawings and photographs, set as A4 pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from scrieve.sheets.bench import Table
from scrieve.sheets.drawing import Drawing, printable
from scrieve.sheets.pdf import fitted, table_data
from scrieve.sheets.typeset import typeset


@dataclass(frozen=True, slots=True)
class Section:
    """One section: words, facts (name and value), drawings with captions, tables, and photographs with captions (JPEG).

    `level` 1 begins a chapter, 2 a member within it.
    """

    title: str
    words: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    drawings: tuple[tuple[str, Drawing], ...] = ()
    tables: tuple[Table, ...] = ()
    photographs: tuple[tuple[str, bytes], ...] = ()
    level: int = 1


def record_pdf(boat: str, note: str, revision: str, sections: Sequence[Section], *, date: str = "") -> bytes:
    """Return the record as a PDF; the same data give the same bytes. `date` stands in the heading as given."""
    data: dict[str, Any] = {
        "boat": printable(boat),
        "note": printable(note),
        "revision": printable(revision),
        "date": printable(date),
        "sections": [
            {
                "title": printable(section.title),
                "level": section.level,
                "words": [printable(text) for text in section.words],
                "facts": [[printable(name), printable(value)] for name, value in section.facts],
                "drawings": [fitted(caption, drawing) for caption, drawing in section.drawings],
                "tables": [table_data(table) for table in section.tables],
                "photographs": [{"said": printable(said), "jpeg": list(jpeg)} for said, jpeg in section.photographs],
            }
            for section in sections
        ],
    }
    return typeset("record.typ", data)
