"""The logbook: what was done, by whom, when and under what conditions, as a surveyor reads it; pure, no store in it."""

from scrieve.logbook.bundle import bundle
from scrieve.logbook.entries import SETTLED, Act, Entry, Record, act_called, entries, found, told
from scrieve.logbook.photographs import prepared
from scrieve.logbook.written import NOTE, Note, note_typed

# fmt: off
__all__ = [
    "NOTE", "SETTLED", "Act", "Entry", "Note", "Record", "act_called", "bundle", "entries", "found", "note_typed",
    "prepared", "told",
]
# fmt: on
