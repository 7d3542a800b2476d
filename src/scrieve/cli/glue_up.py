"""`scrieve glue-up`: the card of a frame's glue-up, its stops signed by name, what was done, and how it cures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import click
from sqlalchemy import Engine

from scrieve import store
from scrieve.boat import Boat
from scrieve.cli.common import AS_JSON, BOAT, dump, opened, progress, say_all, table
from scrieve.cli.work import designed, write_pdf
from scrieve.errors import BadLamination
from scrieve.frames.columns.rows import plain_columns
from scrieve.sheets.figures import sized
from scrieve.sheets.glue_sheet import clock, glue_bench_sheet, glue_summary
from scrieve.timber.data_sheet import FIGURES, data_sheet
from scrieve.web.glue_up.curing import KIND, Curing, curing_of, hour_told, look_typed
from scrieve.web.glue_up.forms import PLAN, Day, own_typed, plan_typed
from scrieve.web.glue_up.work import PLAN_NAME, GlueUp, columns_of, done_detail, glue_up, signature
from scrieve.web.people.signing import UNPROVED
from scrieve.wording import in_units


@click.command("glue-up")
@BOAT
@click.argument("label")
@click.option("--air", help="Temperature of the air, °C.")
@click.option("--humidity", help="Relative humidity of the air, %.")
@click.option("--timber-at", help="Temperature of the timber's surface, °C; as the air if not given.")
@click.option("--glue-at", help="Temperature of the glue, °C; as the air if not given.")
@click.option("--moisture", help="Of each lamination from the inside, %: '10 10.5 9.5'.")
@click.option("--people", help="How many are at work that day.")
@click.option("--start", help="Hour at which the first pot is mixed: 8:30.")
@click.option("--figure", "figures", multiple=True, metavar="NAME=VALUE",
              help="A figure of the glue's own data sheet, kept for every frame of that glue; nothing after = takes it "
                   "back. May be given many times.")  # fmt: skip
@click.option("--read-from", help="With --figure: what the figures were read from.")
@click.option("--shop", "shop", multiple=True, metavar="NAME=VALUE",
              help="How the shop glues up (people, clamp_min…), kept for every frame; many times.")  # fmt: skip
@click.option("--sign", "signs", multiple=True, metavar="STOP=NAME",
              help="Put a name under a stop, for its limit and value of that day; many times.")  # fmt: skip
@click.option("--done", "done_by", metavar="NAME", help="Keep that it is in the clamps, by whom.")
@click.option("--note", default="", help="With --done: a note.")
@click.option("--look", "looks", multiple=True, metavar="HOUR=°C",
              help="While it cures: °C at the glue line, by hours since closing, or now=18; many times.")  # fmt: skip
@click.option("--by", default="", help="With --look: who read it.")
@click.option("--pdf", type=click.Path(path_type=Path, dir_okay=False), help="Write the card as a PDF.")
@AS_JSON
def glue_up_card(boat: Path, label: str, as_json: bool, pdf: Path | None, **typed: Any) -> None:
    """The glue-up of frame LABEL: laminations in order, pots, clock, clamps, stops to be signed, earliest release.

    Names under stops, what was done, and temperatures while it cures are kept in BOAT, the same for the pages.
    """
    _go_together(typed)
    asked = {"air": "air", "rh": "humidity", "timber": "timber_at", "glue": "glue_at", "mc": "moisture"}
    fields = {name: typed[option] or "" for name, option in asked.items()}
    day = Day.typed({**fields, "people": typed["people"] or "", "hour": typed["start"] or ""})
    with opened(boat) as engine:
        settings = store.boat(engine)
        design, revision = designed(engine, label, progress())
        _keep_shop(engine, settings, design.choice.glue, typed)
        found = glue_up(engine, label, design, revision, day)
        for word in typed["signs"]:
            stop, name = _pair("--sign", word, "STOP=NAME")
            key = next((each.key for each in found.card.stops if stop in (each.id, each.key)), None)
            if key is None:
                known = ", ".join(each.id for each in found.card.stops) or "none stands"
                raise BadLamination(f"--sign: no stop {stop!r} on that day; the stops are: {known}.")
            store.add_record(engine, "signature", label, signature(found, key, name, name + UNPROVED))
        found = glue_up(engine, label, design, revision, day)
        if typed["done_by"] is not None:
            store.add_record(engine, "glue-up", label, done_detail(found, typed["done_by"], typed["note"]))
        _keep_looks(engine, label, typed["looks"], typed["by"])
        curing = curing_of(engine, label)
        if pdf:
            sheet = glue_bench_sheet(found.card, settings, revision, start_min=day.start_min, signed=found.signed)
            write_pdf(pdf, sheet, date.today().isoformat())
    if not day.given:
        say_all([f"the day was not given; the card is as if the air were {found.card.conditions.air_c:g} °C."])
    click.echo(dump(_json(found, curing)) if as_json else glue_up_text(found, curing, settings))


def _go_together(typed: dict[str, Any]) -> None:
    if typed["read_from"] and not typed["figures"]:
        raise BadLamination("--read-from goes with --figure.")
    if typed["note"] and typed["done_by"] is None:
        raise BadLamination("--note goes with --done.")
    if typed["by"] and not typed["looks"]:
        raise BadLamination("--by goes with --look.")


def _pair(option: str, word: str, way: str) -> tuple[str, str]:
    name, parted, text = word.partition("=")
    if not parted or not name.strip():
        raise BadLamination(f"{option}: found {word!r}; give {way}.")
    return name.strip(), text.strip()


def _named(option: str, words: Sequence[str], known: Sequence[str]) -> dict[str, str]:
    pairs = dict(_pair(option, word, "NAME=VALUE") for word in words)
    if strange := [name for name in pairs if name not in known]:
        raise BadLamination(f"{option}: {strange[0]!r} is not known; the names are {', '.join(known)}.")
    return pairs


def _keep_shop(engine: Engine, boat: Boat, family: str, typed: dict[str, Any]) -> None:
    """Keep figures of the data sheet and of the shop over those kept before."""
    figures = _named("--figure", typed["figures"], list(FIGURES))
    shop = _named("--shop", typed["shop"], list(PLAN))
    if figures:
        kept = store.choices(engine, "glue").get(family, {})
        own = {name: value for name, value in kept.get("own", {}).items() if name not in figures}
        own |= own_typed(figures, boat.units)
        source = typed["read_from"] or kept.get("source", "")
        data_sheet(family, own, source)
        store.keep_choice(engine, "glue", family, {"own": own, "source": source})
    if shop:
        before = store.choices(engine, "yard").get(PLAN_NAME, {})
        plan = {name: value for name, value in before.items() if name not in shop} | plan_typed(shop)
        store.keep_choice(engine, "yard", PLAN_NAME, plan)


def _keep_looks(engine: Engine, label: str, looks: Sequence[str], by: str) -> None:
    for word in looks:
        curing = curing_of(engine, label)
        if curing is None:
            raise BadLamination("--look: no glue-up of this frame has been kept; say --done NAME once it is closed.")
        hour, at = _pair("--look", word, "HOUR=°C, or now=°C")
        detail, corrects = look_typed(curing, "" if hour == "now" else hour, at, by, datetime.now(UTC))
        store.add_record(engine, KIND, label, detail, corrects=corrects)


def _json(found: GlueUp, curing: Curing | None) -> dict[str, Any]:
    card = asdict(found.card)
    stops = [asdict(stop) | {"key": stop.key, "signed": found.signed.get(stop.key)} for stop in found.card.stops]
    cured = None
    if curing:
        off = None if curing.off is None else curing.off.isoformat(timespec="minutes")
        cured = {"log": curing.log, "share": curing.cure.share, "release_h": curing.cure.release_h, "off_utc": off}
    columns = plain_columns(columns_of(found))
    return card | {"revision": found.revision, "stops": stops, "curing": cured, "columns": columns}


def glue_up_text(found: GlueUp, curing: Curing | None, boat: Boat) -> str:
    """The card in short: its head, stops, pots and clamps; then how it cures."""
    card, start = found.card, found.day.start_min
    lines = [
        f"Frame {found.frame}, glue-up: {len(card.laid)} laminations, {card.joints} joints, revision {found.revision}."
    ]
    lines += [f"  {name}: {text}" for name, text in glue_summary(card, boat.units)]
    if card.stops:
        lines.append(f"Stops to be signed, {len(found.unsigned)} of {len(card.stops)} open:")
    for stop in in_units(card.stops, boat.units):
        by = found.signed.get(stop.key)
        lines.append(
            f"  {stop.id}: {stop.what}, {stop.value}; limit {stop.limit}. {stop.why}. "
            + (f"Signed: {by}" if by else "NOT SIGNED")
        )
    pots = [["pot", "g", "joints", "mix at", "used by"]]
    pots += [
        [
            f"{p.number}",
            f"{p.mass_g:.0f}",
            f"{p.first_joint}-{p.last_joint}",
            clock(start, p.mixed_min),
            clock(start, p.used_by_min),
        ]
        for p in card.pots
    ]
    lines.append(table(pots))
    lines.append(
        "Clamps, in order: "
        + "; ".join(
            (f"bracket {step.bracket}" if step.bracket else f"between, at {sized(step.s_mm, boat.units)}")
            + (f", {step.clamps} of them" if step.clamps > 1 else "")
            for step in card.clamps
        )
        + "."
    )
    release = card.release.release_h
    lines.append(
        "Clamps off: "
        + ("never at this temperature." if release is None else f"{release:.0f} h after closing, at the earliest.")
    )
    lines += [f"Caution: {text}" for text in in_units(card.cautions, boat.units)]
    if curing:
        lines.append(
            f"In the clamps since {hour_told(curing.closed)}: cured {min(curing.cure.share, 1):.0%} by the last look; "
            f"clamps off at the earliest {hour_told(curing.off)}."
        )
    return "\n".join(lines)
