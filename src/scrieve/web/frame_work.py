"""What stands beside a designed frame on its page: other ways to build it, and what was settled and done so far."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from scrieve import store
from scrieve.errors import BadLamination
from scrieve.frames.choice import FrameChoice
from scrieve.frames.design import FrameDesign
from scrieve.frames.options import Option, rank_options
from scrieve.frames.written import SETTINGS, read_setting, write_setting
from scrieve.units import Units, parse_length
from scrieve.web.athand import AtHand
from scrieve.web.views import View

#: More ways than these at a time keep the builder waiting.
MOST_WAYS = 24

_ways: AtHand[tuple[Option, ...]] = AtHand(40)


@dataclass(frozen=True, slots=True)
class Asked:
    """What other ways are asked for, as typed: timbers, thicknesses and shares steamed, parted by ';'."""

    timbers: str = ""
    thicknesses: str = ""
    steamed: str = "0"

    @classmethod
    def of(cls, choice: FrameChoice, units: Units) -> Asked:
        """What is asked at first: the frame's own timber, from thin to thick, straight."""
        sizes = "5; 6; 8; 10" if units == "mm" else '3/16"; 1/4"; 5/16"; 3/8"'
        return cls(choice.timber, sizes, f"{100 * choice.steamed_share:g}" if choice.steamed_share else "0")


def ways(design: FrameDesign, asked: Asked, units: Units, revision: str) -> tuple[Option, ...]:
    """Return the ways asked for, best first.

    Raises
    ------
    ScrieveError
        What was typed cannot be read, or not one way can be laid; the message says which.
    """
    timbers, sizes, shares = (
        [part.strip() for part in text.split(";") if part.strip()]
        for text in (asked.timbers, asked.thicknesses, asked.steamed or "0")
    )
    thick = [parse_length(size, units) for size in sizes]
    steamed = [read_setting("steamed_share", share) for share in shares] or [0.0]
    number = max(len(timbers), 1) * len(thick) * len(steamed)
    if not 0 < number <= MOST_WAYS:
        raise BadLamination(f"{number} ways to build it: give 1 to {MOST_WAYS}, timbers × thicknesses × shares.")
    return _ways.get(
        (revision, asked, units), lambda: rank_options(design.section, design.choice, timbers, thick, steamed)
    )


def taken(option: Option, units: Units) -> dict[str, str]:
    """Return the fields of the form that takes an option."""
    keys = ("stack", "count", "lamination_mm", "steamed_share")
    return {"timber": option.choice.timber} | {
        key: write_setting(key, getattr(option.choice, key), units) for key in keys
    }


@dataclass(frozen=True, slots=True)
class Step:
    """One step in a frame's history: when, who, what, and what changed in it."""

    at: str
    who: str
    what: str
    changes: tuple[str, ...] = ()


def history(view: View, label: str) -> tuple[Step, ...]:
    """Return what was settled for a frame and recorded of it, the latest first."""
    found: list[Step] = []
    before: Mapping[str, Any] = {}
    for act in store.acts(view.file.engine):
        if act.what not in ("chose for a frame", "forgot a frame") or act.detail.get("name") != label:
            continue
        kept = (act.detail.get("choice") or {}).get("choice", {})
        what = "taken off the list" if not kept else "settled anew" if before else "settled"
        changes = _changes(before, kept, view.boat.units) if before and kept else ()
        found.append(Step(act.at, act.who, what, changes))
        before = kept
    records = store.records(view.file.engine)
    found += [
        Step(record.at, record.who, record.kind) for record in records if record.member in (label, f"frame {label}")
    ]
    found.sort(key=lambda step: step.at)
    return tuple(found[::-1])


def _changes(before: Mapping[str, Any], after: Mapping[str, Any], units: Units) -> tuple[str, ...]:
    old, new = (FrameChoice.from_mapping(choice) for choice in (before, after))
    plain = {"timber": "timber", "sided_mm": "sided", "moulded_mm": "moulded", "margin": "margin"}
    said = []
    for key in (*plain, *SETTINGS):
        was, now = getattr(old, key), getattr(new, key)
        if was != now:
            name = plain.get(key) or SETTINGS[key].name
            texts = [_told(key, value, units) for value in (was, now)]
            said.append(f"{name}: {texts[0]} → {texts[1]}")
    return tuple(said)


def _told(key: str, value: Any, units: Units) -> str:
    if key in SETTINGS:
        return write_setting(key, value, units) or "none"
    return write_setting("kerf_mm", value, units) if key.endswith("_mm") and math.isfinite(value) else str(value)
