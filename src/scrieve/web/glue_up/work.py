"""A glue-up as it is kept: reckoned from the boat's file, signed, done. What the page and the command share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from sqlalchemy import Engine

from scrieve import store
from scrieve.errors import BadJig, BadLamination
from scrieve.frames.choice import FrameChoice
from scrieve.frames.columns.glue_up import glue_up_columns
from scrieve.frames.columns.rows import Columns
from scrieve.frames.design import FrameDesign
from scrieve.frames.glue_up.card import GlueUpCard, card_for
from scrieve.frames.glue_up.minutes import GlueUpPlan
from scrieve.frames.jig.setting_kept import JigKept, frame_on_bed
from scrieve.frames.parts import Jig
from scrieve.frames.release.off_jig import as_glued
from scrieve.sheets.glue_sheet import clock
from scrieve.timber.conditions import Stop
from scrieve.timber.data_sheet import DataSheet, data_sheet
from scrieve.web.glue_up.forms import Day, plan_kept

#: The shop's plan is kept under this name.
PLAN_NAME = "glue-up"


@dataclass(frozen=True)
class GlueUp:
    """A frame pair's glue-up on one day; `signed` is who signed which stop, by its key.

    `jig` is the frame's setting on the bed that has been described, None where none has been or the frame does not go
    on it: the clamps then stand at the brackets of the design's own rails.
    """

    frame: str
    design: FrameDesign
    revision: str
    sheet: DataSheet
    plan: GlueUpPlan
    day: Day
    card: GlueUpCard
    signed: Mapping[str, str]
    jig: Jig | None = None

    @property
    def unsigned(self) -> tuple[Stop, ...]:
        """The stops that nobody has signed."""
        return tuple(stop for stop in self.card.stops if stop.key not in self.signed)


def own_sheet(engine: Engine, choice: FrameChoice) -> DataSheet:
    """The data sheet of a frame's glue: the builder's figures over the family's, the frame's own spread between."""
    kept = store.choices(engine, "glue").get(choice.glue, {})
    own: dict[str, Any] = {"spread_g_m2": choice.spread_g_m2} if choice.spread_g_m2 else {}
    return data_sheet(choice.glue, own | kept.get("own", {}), kept.get("source", ""))


def glue_up(engine: Engine, frame: str, design: FrameDesign, revision: str, day: Day) -> GlueUp:
    """Reckon the glue-up of a designed frame.

    Raises
    ------
    BadLamination
        What was typed of the day cannot be read or used.
    """
    sheet = own_sheet(engine, design.choice)
    plan = plan_kept(store.choices(engine, "yard").get(PLAN_NAME), day.people)
    jig = _on_bed(engine, design, revision)
    card = card_for(design, day.conditions(), plan, sheet, jig)
    signed = {
        record.detail["key"]: f"{record.detail['name']}, {record.at[:16].replace('T', ' ')}"
        for record in store.records(engine, "signature", frame)
        if "key" in record.detail and "name" in record.detail
    }
    _ = day.start_min
    return GlueUp(frame, design, revision, sheet, plan, day, card, signed, jig)


def _on_bed(engine: Engine, design: FrameDesign, revision: str) -> Jig | None:
    kept = JigKept.of(store.choices(engine, "jig"))
    if kept.bed is None:
        return None
    try:
        return frame_on_bed(design, revision, kept).jig
    except BadJig:  # the jig's own page tells why
        return None


def columns_of(found: GlueUp) -> dict[str, Columns]:
    """How the figures of the card's tables came about, by table and column."""
    start = found.day.start_min
    return glue_up_columns(
        found.card, found.design, lambda minutes: clock(start, minutes), "after" if start is None else "at", found.jig
    )


def signature(found: GlueUp, stop_key: str, name: str, signed: str) -> dict[str, Any]:
    """What is kept of a name under a stop, for the limit and the value that stand there.

    `signed` is the name as `signed_by` gives it to be kept.

    Raises
    ------
    BadLamination
        There is no such stop on that day, or no name.
    """
    stop = next((each for each in found.card.stops if each.key == stop_key), None)
    if stop is None:
        raise BadLamination("that stop has changed since the page was made; look at the card again.")
    name = name.strip()[:100]
    if not name:
        raise BadLamination(f"{stop.what}: nobody's name was typed; the stop stands.")
    return {"key": stop.key, "what": stop.what, "limit": stop.limit, "value": stop.value, "name": name,
            "signed_by": signed}  # fmt: skip


def done_detail(found: GlueUp, name: str, note: str) -> dict[str, Any]:
    """What is kept of a glue-up that was done: the day, the pots, the design, and the line the frame is to have.

    Raises
    ------
    BadLamination
        The day was not given.
    """
    if not found.day.given:
        raise BadLamination("type the day's temperature and humidity before the glue-up is kept.")
    card = found.card
    glued = as_glued(found.design, found.revision)
    return {
        "by": name.strip()[:100],
        "note": note.strip()[:500],
        "conditions": asdict(card.conditions),
        "hour": found.day.hour,
        "plan": asdict(card.plan),
        "glue": found.sheet.family.name,
        "sheet": found.sheet.to_mapping(),
        "pots_g": [round(pot.mass_g, 1) for pot in card.pots],
        "closed_used_min": round(card.closed_used_min, 1),
        "release_h": card.release.release_h,
        "stops": [
            {"key": s.key, "what": s.what, "value": s.value, "signed": found.signed.get(s.key, "")} for s in card.stops
        ],
        "revision": found.revision,
        "factor_used": glued.factor_used,
        "glued": glued.to_mapping(),
    }
