"""The store: one boat in one SQLite file; rows in, values out, no sums."""

from scrieve.store.file import create, open_boat
from scrieve.store.keeping import (
    Act,
    acts,
    add_marks,
    answer,
    answers,
    boat,
    choices,
    forget_frame,
    forget_plank,
    frames,
    keep_boat,
    keep_choice,
    keep_frame,
    keep_plank,
    marks,
    planks,
)
from scrieve.store.recording import Record, add_record, records

__all__ = [
    "Act",
    "Record",
    "acts",
    "add_marks",
    "add_record",
    "answer",
    "answers",
    "boat",
    "choices",
    "create",
    "forget_frame",
    "forget_plank",
    "frames",
    "keep_boat",
    "keep_choice",
    "keep_frame",
    "keep_plank",
    "marks",
    "open_boat",
    "planks",
    "records",
]
