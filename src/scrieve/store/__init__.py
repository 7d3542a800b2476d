"""The store: boats in an SQLite file or a PostgreSQL database; rows in, values out, no sums."""

from scrieve.store.acting import Act, acts, last_act
from scrieve.store.checking import Finding, check, refuse_damaged
from scrieve.store.conflict import Conflict
from scrieve.store.copies import backup
from scrieve.store.delivery import delivered
from scrieve.store.file import boats, create, open_boat
from scrieve.store.keeping import (
    add_marks,
    answer,
    answers,
    boat,
    boat_at,
    choice_at,
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
from scrieve.store.moving import move
from scrieve.store.photographs import keep_photograph, photograph
from scrieve.store.place import Place
from scrieve.store.recording import Record, add_record, every_record, records
from scrieve.store.salvage import Saved, salvage
from scrieve.store.undoing import undo

__all__ = [
    "Act",
    "Conflict",
    "Finding",
    "Place",
    "Record",
    "Saved",
    "acts",
    "add_marks",
    "add_record",
    "answer",
    "answers",
    "backup",
    "boat",
    "boat_at",
    "boats",
    "check",
    "choice_at",
    "choices",
    "create",
    "delivered",
    "every_record",
    "forget_frame",
    "forget_plank",
    "frames",
    "keep_boat",
    "keep_choice",
    "keep_frame",
    "keep_photograph",
    "keep_plank",
    "last_act",
    "marks",
    "move",
    "open_boat",
    "photograph",
    "planks",
    "records",
    "refuse_damaged",
    "salvage",
    "undo",
]
