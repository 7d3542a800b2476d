"""The store: one boat in one SQLite file; rows in, values out, no sums."""

from scrieve.store.file import create, open_boat
from scrieve.store.keeping import (
    Act,
    acts,
    add_marks,
    answer,
    answers,
    boat,
    forget_frame,
    forget_plank,
    frames,
    keep_boat,
    keep_frame,
    keep_plank,
    marks,
    planks,
)

__all__ = [
    "Act",
    "acts",
    "add_marks",
    "answer",
    "answers",
    "boat",
    "create",
    "forget_frame",
    "forget_plank",
    "frames",
    "keep_boat",
    "keep_frame",
    "keep_plank",
    "marks",
    "open_boat",
    "planks",
]
