"""The logbook: what was done, by whom, when and under what conditions, as a surveyor reads it; pure, no store in it."""

from scrieve.logbook.bundle import bundle
from scrieve.logbook.entries import Act, Entry, Record, entries, found, told
from scrieve.logbook.photographs import prepared
from scrieve.logbook.written import NOTE, Note, note_typed

__all__ = ["NOTE", "Act", "Entry", "Note", "Record", "bundle", "entries", "found", "note_typed", "prepared", "told"]
