"""On which boards a plank lies, or out of which it was cut."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy.engine import Engine

from scrieve import store
from scrieve.stock.parts import parts_meant
from scrieve.stock.standing import CUT, LAYING


@dataclass(frozen=True, slots=True)
class OnBoard:
    """A part of a plank, and its board: laid on it, or `cut` out of it."""

    part: str
    board: str
    cut: bool


def on_boards(engine: Engine, plank: str) -> tuple[OnBoard, ...]:
    """Return where the parts of a plank are: port and starboard are parts of their own where it is for both hands."""
    own = {plank, f"{plank} P", f"{plank} S"}
    cuts = [record.detail for record in store.records(engine, CUT)]
    found = [OnBoard(str(part), str(detail["board"]), True) for detail in cuts if not detail.get("undone")
             for part in detail["parts"]]  # fmt: skip
    laying: Mapping[str, Any] = store.choices(engine, "layout").get(LAYING) or {}
    gone = {one.part for one in found}
    found += [OnBoard(str(one["part"]), str(one["board"]), False) for one in laying.get("placements", ())
              if str(one["part"]) not in gone]  # fmt: skip
    return tuple(sorted((one for one in found if own & set(parts_meant(one.part))), key=lambda one: one.part))
