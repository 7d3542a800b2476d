"""Planks made of the strakes of a lining, as the shell drawn out flat shows them: where each lies, and its state."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from sqlalchemy.engine import Engine

from scrieve import store
from scrieve.errors import ScrieveError
from scrieve.planking import StrakeChoice
from scrieve.planking.seams import station_of
from scrieve.sheets.shell_flat import ShellPlank
from scrieve.stock.parts import parts_meant
from scrieve.stock.standing import CUT, LAYING
from scrieve.web.addresses import plank_path
from scrieve.web.lining.work import Side


def shell_planks(here: Side) -> tuple[ShellPlank, ...]:
    """Return the planks made of this side's strakes; one whose strake or stations are no longer there is left out."""
    cut, laid = at_the_boards(here.view.file.engine)
    found = []
    for strake, names in here.planks.items():
        if int(strake) > here.lining.strakes:
            continue
        for name in names:
            entry = here.view.kept.planks[name]
            if entry["kind"] != "strake":
                continue
            choice = StrakeChoice.from_mapping(entry["choice"])
            try:
                first, last = _ends(here, int(strake), choice)
                state = "a plank" if _as_lined(here, int(strake), choice) else "of an earlier lining"
            except ScrieveError:
                continue
            parts = {name, f"{name} P", f"{name} S"}
            if hands := parts & cut:
                state = "cut" if name in hands or len(hands) == 2 else "a plank"
            elif state == "a plank" and parts & laid:
                state = "laid on a board"
            found.append(ShellPlank(name, int(strake), first, last, state, plank_path(name)))
    return tuple(found)


def _ends(here: Side, strake: int, choice: StrakeChoice) -> tuple[float, float]:
    reaches = np.flatnonzero(np.isfinite(here.lining.width_mm[strake - 1]))
    whole = here.lining.frames[reaches[0]].x_mm, here.lining.frames[reaches[-1]].x_mm
    ends = [
        station_of(here.hull, text) if text else x for text, x in zip((choice.first, choice.last), whole, strict=True)
    ]
    first, last = max(min(ends), whole[0]), min(max(ends), whole[1])
    if last - first < 1.0:
        raise ScrieveError("it lies beyond its strake.")
    return first, last


def _as_lined(here: Side, strake: int, choice: StrakeChoice) -> bool:
    """Whether its seams are those of the lining as it is now."""
    now = here.lining.strake(strake, choice.name, first=choice.first, last=choice.last)
    return (now.lower, now.upper) == (choice.lower, choice.upper)


def at_the_boards(engine: Engine) -> tuple[set[str], set[str]]:
    """Return the names of parts that have been cut, and of those laid on a board."""
    cuts = [record.detail for record in store.records(engine, CUT)]
    laying: Mapping[str, Any] = store.choices(engine, "layout").get(LAYING) or {}
    cut = {str(part) for detail in cuts if not detail.get("undone") for part in detail["parts"]}
    laid = {str(one["part"]) for one in laying.get("placements", ())}
    return {name for part in cut for name in parts_meant(part)}, {name for part in laid for name in parts_meant(part)}
