"""A frame off the jig as it is kept: what was measured, how it stands, what it teaches. Page and command share it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from sqlalchemy import Engine

from scrieve import store
from scrieve.boat import Boat
from scrieve.errors import BadGeometry, BadLength, BadMarks
from scrieve.frames.columns.rows import Columns
from scrieve.frames.columns.work import deviation_columns, pull_columns
from scrieve.frames.design import FrameDesign
from scrieve.frames.release.deviation import TOLERANCE_MM, Deviation, change_between
from scrieve.frames.release.kept import SIGMA_MM, Released, course, read_rows, springs_of
from scrieve.frames.release.learning import Learnt, NextJig, Spring, for_next_jig, learn
from scrieve.frames.release.off_jig import Glued, as_glued
from scrieve.frames.release.remedy import Remedy, planing, pull_in, what_to_do
from scrieve.sheets.bench import BenchSheet, Table
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.figures import length, off_by, sized, thickness, thin_unit
from scrieve.sheets.release_sheet import (
    course_drawing,
    deviation_drawing,
    deviation_table,
    pull_table,
    release_bench_sheet,
)
from scrieve.store import Record
from scrieve.units import Units, parse_length
from scrieve.web.column_whys import ColumnWhy, table_whys
from scrieve.web.glue_up.forms import number
from scrieve.wording import in_units
from scrieve.working import Working

#: An offset larger than this is a slip of the pen: no frame comes off its jig so far off its line [mm].
FURTHEST_MM = 200.0
#: How the shop judges a release is kept under this name.
SHOP = "release"
#: Where a frame can be held to the hull is kept under its label with this before it.
_HELD = "fastenings of frame "


@dataclass(frozen=True)
class Shop:
    """How the shop judges a release [mm, N]; the force that one fastening may be asked is the builder's to say."""

    tolerance_mm: float = TOLERANCE_MM
    sigma_mm: float = SIGMA_MM
    fastening_n: float | None = None


@dataclass(frozen=True)
class Seen:
    """One measuring of a frame, judged; `pull` tells the fastenings one by one, where it can be pulled at all."""

    record: Record
    taken: Released
    found: Deviation
    remedy: Remedy
    text: str
    drawing: Drawing
    table: Table
    pull: Table | None
    workings: tuple[Working, ...]
    changed: str
    whys: Mapping[str, tuple[ColumnWhy, ...]]
    columns: Mapping[str, Columns]


@dataclass(frozen=True)
class Lesson:
    """What all frames of this timber and glue have taught."""

    learnt: Learnt
    springs: tuple[Spring, ...]
    drawing: Drawing
    next: NextJig
    workings: tuple[Working, ...]


def shop_of(engine: Engine) -> Shop:
    """How the shop judges a release, as kept or by default."""
    kept = store.choices(engine, "yard").get(SHOP, {})
    return Shop(**{name: kept[name] for name in Shop.__dataclass_fields__ if name in kept})


#: What the sizes of the shop are called.
_SHOP_WORDS = {"tolerance_mm": "tolerance", "sigma_mm": "error of a figure"}


def size_typed(text: str, name: str, units: Units) -> float:
    """Read a length typed; what cannot be read is told by its name.

    Raises
    ------
    BadLength
        It cannot be read.
    """
    try:
        return parse_length(text, units)
    except BadLength as error:
        raise BadLength(f"{name}: {error}") from error


def shop_shown(shop: Shop, units: Units) -> dict[str, str]:
    """How the shop judges, as its form shows it."""
    return {
        "tolerance_mm": thickness(shop.tolerance_mm, units),
        "sigma_mm": thickness(shop.sigma_mm, units),
        "fastening_n": "" if shop.fastening_n is None else f"{shop.fastening_n:g}",
    }


def shop_typed(sent: Mapping[str, str], before: Shop, units: Units) -> dict[str, float]:
    """What is to be kept of the shop, as typed; a length that still reads as before is not changed by its rounding.

    Raises
    ------
    ScrieveError
        A figure cannot be read or used.
    """
    found: dict[str, float] = {}
    for name in ("tolerance_mm", "sigma_mm"):
        text, now = sent.get(name, "").strip(), getattr(before, name)
        value = now if text in ("", thickness(now, units)) else size_typed(text, _SHOP_WORDS[name], units)
        if not 0.01 <= value <= 50:
            raise BadMarks(
                f"{_SHOP_WORDS[name]}: found {text!r}; give {thickness(0.1, units)} to {thickness(50, units)}."
            )
        found[name] = value
    if sent.get("fastening_n", "").strip():
        found["fastening_n"] = number(sent["fastening_n"], "force of one fastening")
        if not 0 < found["fastening_n"] <= 1e5:
            raise BadMarks("force of one fastening: give N, above zero.")
    return found


def held_of(engine: Engine, frame: str) -> tuple[float, ...]:
    """Where the builder said that the frame can be held to the hull, along the moulded line [mm]; none: not said."""
    kept = store.choices(engine, "yard").get(_HELD + frame, {})
    return tuple(float(at) for at in kept.get("s_mm", ()))


def held_typed(text: str, design: FrameDesign, units: Units) -> tuple[float, ...]:
    """Places of fastenings as typed, parted by ';' or lines, heel to head; empty: none said.

    Raises
    ------
    ScrieveError
        A place cannot be read or lies off the frame, or there are one or two only.
    """
    places = sorted(parse_length(part, units) for part in text.replace("\n", ";").split(";") if part.strip())
    girth = float(design.section.s_mm[-1])
    if places and len(places) < 3:
        raise BadMarks(
            f"{len(places)} fastenings; three at least hold a frame to its line. Leave it empty for the bevel marks."
        )
    for at in places:
        if not 0 <= at <= girth:
            raise BadMarks(
                f"fastening at {length(at, units)}: the moulded line runs from 0 to {length(girth, units)}; measure "
                "from the heel along it."
            )
    for one, other in pairwise(places):
        if other - one < 5:
            raise BadMarks(f"two fastenings at {length(one, units)}; give each place once.")
    return tuple(places)


def keep_held(engine: Engine, frame: str, places: Sequence[float], *, seen: int | None = None, who: str) -> None:
    """Keep where a frame can be held; none: the bevel marks again."""
    choice = {"s_mm": list(places)} if places else None
    store.keep_choice(engine, "yard", _HELD + frame, choice, seen=seen, who=who)


def glued_of(engine: Engine, frame: str, design: FrameDesign, revision: str) -> tuple[Glued, str]:
    """The pair as it was last set on the jig, and what it was kept with: 'glue-up', 'release', or '' as designed now.

    A frame whose glue-up was not kept has its line from the first measuring: what that taught has changed the design.
    """
    for kind, plain, _ in _kept_lines(engine, frame):
        try:
            return Glued.from_mapping(plain), kind
        except BadGeometry:
            continue
    return as_glued(design, revision), ""


def _set_on_the_jig(
    engine: Engine, frame: str, design: FrameDesign, revision: str
) -> tuple[Glued, dict[str, Any], int | None]:
    """The pair as it was last set on the jig, with the plain values that are kept (of an older record as they stand
    there), and the number of its glue-up, None where none was kept."""
    glued, kind = glued_of(engine, frame, design, revision)
    for known, plain, of in _kept_lines(engine, frame):
        if known == kind:
            return glued, plain, of
    return glued, glued.to_mapping(), None


def _kept_lines(engine: Engine, frame: str) -> list[tuple[str, dict[str, Any], int | None]]:
    """The lines kept with glue-ups and measurings of a frame, the latest first, and the glue-up that each is of."""
    return [
        (
            record.kind,
            dict(record.detail["glued"]),
            record.number if record.kind == "glue-up" else record.detail.get("glue_up"),
        )
        for record in reversed(store.records(engine, member=frame))
        if record.kind in ("glue-up", "release") and isinstance(record.detail.get("glued"), dict)
    ]


def places(design: FrameDesign, least: int = 9) -> list[tuple[str, float]]:
    """Where offsets are asked: the bevel marks, by their numbers, and places between them where they are few."""
    found = [(f"{bevel.number}", float(bevel.s_mm)) for bevel in design.bevels]
    while 1 < len(found) < least:
        between = [("between", (a[1] + b[1]) / 2) for a, b in pairwise(found)]
        found = sorted([*found, *between], key=lambda place: place[1])
    return found


def all_seen(engine: Engine, frame: str, design: FrameDesign, units: Units) -> list[Seen]:
    """Every measuring of the frame that stands, the latest first."""
    shop, held = shop_of(engine), held_of(engine, frame)
    seen: list[Seen] = []
    for record in store.records(engine, "release", frame):
        try:
            seen.append(_seen(record, design, units, shop, held, seen))
        except (BadMarks, BadGeometry):
            continue
    return seen[::-1]


def _seen(
    record: Record, design: FrameDesign, units: Units, shop: Shop, held: Sequence[float], before: Sequence[Seen]
) -> Seen:
    taken = Released.from_mapping(record.detail)
    found = taken.deviation(shop.tolerance_mm)
    against = taken.against
    girth = [bevel.s_mm for bevel in design.bevels if bevel.s_mm <= against.girth_mm[-1] + 1]
    fastened = np.array([at for at in held if at <= against.girth_mm[-1] + 1] or girth)
    pull, plane = None, None
    if not found.suspects:  # with a mark that is likely wrong, forces and wood would be those of the slip
        plane = planing(found, against.outside_spare_mm, against.inside_spare_mm)
        with suppress(BadMarks):
            pull = pull_in(found, list(against.along(fastened)), against.ei_nmm2, shop.fastening_n)
    remedy = what_to_do(found, pull, plane)
    same = [each for each in before if taken.when == "after ripping" and each.taken.when == "off the jig"]
    changed = ""
    if same and same[-1].taken.face == taken.face:
        changed = "It cannot be compared with what was measured off the jig: that was another glue-up."
        pieces = {each.detail.get("glue_up") for each in (record, same[-1].record)} - {None}
        with suppress(BadMarks):
            if len(pieces) < 2:
                change, sd = change_between(same[-1].found, found)
                worst = int(np.argmax(np.abs(change)))
                changed = (
                    f"Since it was measured off the jig it has moved by {off_by(float(change[worst]), units)} "
                    f"± {off_by(float(sd[worst]), units).lstrip('+')} {thin_unit(units)} at the most, "
                    f"{sized(float(found.target.s_mm[worst]), units)} along."
                )
    tables = [deviation_table(found, against, girth, units)]
    columns = {"deviation": deviation_columns(found, against.along(np.array(girth)).tolist(), girth)}
    if pull is not None:
        tables.append(pull_table(pull, fastened, units, shop.fastening_n))
        columns["pull"] = pull_columns(pull, fastened.tolist())
    return Seen(
        record,
        taken,
        found,
        remedy,
        in_units(remedy.text, units),
        deviation_drawing(found, units, f"{taken.when.capitalize()}, {taken.face}"),
        tables[0],
        None if pull is None else tables[1],
        in_units((*found.workings, *remedy.workings), units),
        changed,
        table_whys(tables, columns, units),
        columns,
    )


def lesson_of(engine: Engine, glued: Glued, units: Units) -> Lesson:
    """What the frames of this timber and glue have taught, and what it means at this frame."""
    every = springs_of(record.detail for record in store.records(engine, "release"))
    mine = tuple(each for each in every if (each.timber, each.glue) == (glued.timber, glued.glue))
    learnt = learn(mine)
    against = glued.face("moulded line")
    next_jig = for_next_jig(against.target, against.lost_per_mm, learnt, factor_used=glued.factor_used)
    return Lesson(
        learnt,
        mine,
        course_drawing(mine, course(mine), f"Springback factor: {glued.timber}, {glued.glue}"),
        next_jig,
        in_units((*learnt.workings, *next_jig.workings), units),
    )


def sheet_of(seen: Seen, lesson: Lesson, glued: Glued, boat: Boat, link: str = "") -> BenchSheet:
    """One measuring as a bench sheet."""
    taken = seen.taken
    hand = {"P": ", port half", "S": ", starboard half", "": ""}[taken.hand]
    learnt = lesson.learnt
    by = seen.record.detail.get("name")
    return release_bench_sheet(
        glued.frame,
        taken.when + hand,
        seen.remedy.action.capitalize(),
        seen.text,
        seen.found,
        (
            (f"Off its line, {taken.face}", seen.drawing),
            ("Springback factor, frame by frame", lesson.drawing),
        ),
        tuple(table for table in (seen.table, seen.pull) if table is not None),
        (*seen.workings, *lesson.workings),
        (
            ("measured", f"no. {seen.record.number}, {seen.record.at[:10]}" + (f", by {by}" if by else "")),
            (
                "springback factor",
                f"{glued.timber} with {glued.glue}: {learnt.factor:.3f} ± {learnt.sd:.3f} (1 sd) from "
                f"{len(lesson.springs)} frames; this jig was set with {glued.factor_used:.3f}",
            ),
        ),
        boat,
        glued.revision,
        link,
    )


def _rows_of(text: str, way: str, units: Units, sent: Mapping[str, str], design: FrameDesign) -> Any:
    """The rows typed; a fault in one of the fields at the marks names its place."""
    try:
        rows = read_rows(text, way, units)  # type: ignore[arg-type]
        if way == "offsets" and (far := [i for i, (_, off) in enumerate(rows, 1) if abs(off) > FURTHEST_MM]):
            raise BadMarks(
                f"line {far[0]}: found {sized(rows[far[0] - 1][1], units)} off the line, more than "
                f"{sized(FURTHEST_MM, units)}; measure it again from the fair line."
            )
        return rows
    except BadMarks as error:
        line = re.search(r"^line (\d+): (.*)", str(error), re.MULTILINE)
        if line is None or sent.get("text", "").strip():
            raise
        number = int(at_marks(sent)[int(line[1]) - 1][1:])
        name, at = places(design)[number]
        where = f"mark {name}" if name.isdigit() else name
        raise BadMarks(
            f"place {number + 1} ({where}, {sized(at, units)} along): {line[2]} Nothing was stored."
        ) from error


def _below(text: str) -> str:
    """An offset typed with a minus before parts of an inch, as the brackets that stand for it elsewhere.

    Examples
    --------
    >>> _below('-1/16"'), _below("-0-0-1"), _below("-1.5"), _below("-1.5mm")
    ('(1/16")', '(0-0-1)', '-1.5', '-1.5mm')
    """
    plain = text.lstrip("-−–").strip()
    parts = plain != text and any(sign in plain for sign in "/-\"'½¼¾⅛⅜⅝⅞")
    return f"({plain})" if parts else text


def at_marks(sent: Mapping[str, str]) -> list[str]:
    """Fields of offsets at the marks that something was typed into, heel to head."""
    typed = [name for name, text in sent.items() if re.fullmatch(r"o\d+", name) and text.strip()]
    return sorted(typed, key=lambda name: int(name[1:]))


def measured(
    engine: Engine, frame: str, design: FrameDesign, revision: str, units: Units, sent: Mapping[str, str]
) -> tuple[dict[str, Any], int | None]:
    """What is kept of a measuring as typed, raw, with the line it is held against; and which one it corrects.

    Raises
    ------
    ScrieveError
        A figure cannot be read, does not fit the line, or what it corrects does not stand.
    """
    glued, line, number = _set_on_the_jig(engine, frame, design, revision)
    corrects = int(sent["corrects"]) if sent.get("corrects", "").isdecimal() else None
    if corrects is not None:
        old = {each.number: each for each in store.records(engine, "release", frame)}
        if corrects not in old:
            raise BadMarks(f"measuring no. {corrects} does not stand any more: it was corrected before.")
        line, number = dict(old[corrects].detail["glued"]), old[corrects].detail.get("glue_up")
        glued = Glued.from_mapping(line)
    text, way = sent.get("text", ""), sent.get("way", "offsets")
    if not text.strip():
        way = "offsets"
        text = "\n".join(
            f"{length(at, units)}; {_below(sent[f'o{i}'].strip())}"
            for i, (_, at) in enumerate(places(design))
            if sent.get(f"o{i}", "").strip()
        )
    shown = thickness(shop_of(engine).sigma_mm, units)
    said = sent.get("sigma", "").strip()
    sigma = shop_of(engine).sigma_mm if said in ("", shown) else size_typed(said, _SHOP_WORDS["sigma_mm"], units)
    if way not in ("offsets", "points", "placed points"):
        raise BadMarks(f"way of measuring: found {way!r}; say offsets, points or placed points.")
    rows = _rows_of(text, way, units, sent, design)
    taken = Released(
        glued,
        sent.get("when", ""),  # type: ignore[arg-type]
        sent.get("hand", ""),  # type: ignore[arg-type]
        sent.get("face", ""),  # type: ignore[arg-type]
        way,  # type: ignore[arg-type]
        rows,
        sigma,
        sent.get("note", "").strip()[:500],
    )
    if taken.when == "after ripping" and not taken.hand:
        raise BadMarks("after ripping there are two halves: say which hand was measured.")
    piece = {} if number is None else {"glue_up": number}
    name = sent.get("name", "").strip()[:100]
    return taken.to_mapping() | {"glued": line, "text": text, "name": name} | piece, corrects
