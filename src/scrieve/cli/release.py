"""`scrieve release`: a frame measured off the jig, what to do with it, and what the next jig learns from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any, get_args

import click

from scrieve import store
from scrieve.cli.common import AS_JSON, BOAT, dump, opened, progress, read_file, table
from scrieve.cli.work import designed, write_pdf
from scrieve.errors import BadMarks
from scrieve.frames.columns.rows import plain_columns
from scrieve.frames.release.kept import Way, When
from scrieve.frames.release.learning import Learnt
from scrieve.frames.release.off_jig import Face
from scrieve.frames.ripping import plan_for
from scrieve.sheets.figures import off_by, plus_minus, sized
from scrieve.sheets.glue_sheet import ripping_bench_sheet
from scrieve.units import Units
from scrieve.web.release.work import (
    SHOP,
    Lesson,
    Seen,
    all_seen,
    glued_of,
    held_typed,
    keep_held,
    lesson_of,
    measured,
    sheet_of,
    shop_of,
    shop_typed,
)

_WAYS = [way.replace(" ", "-") for way in get_args(Way)]


@click.command()
@BOAT
@click.argument("label")
@click.option("--at", "offsets", multiple=True, metavar="PLACE=OFFSET",
              help="An offset from the fair line at a place along the moulded line, outward above zero; give five or "
                   "more.")  # fmt: skip
@click.option(
    "--from", "file", type=click.Path(path_type=Path), help="Figures from a file, a row a line, parted by ';'."
)
@click.option("--way", type=click.Choice(_WAYS), default="offsets", show_default=True,
              help="With --from, what a row holds: place; offset, or half-breadth; height, or all three.")  # fmt: skip
@click.option(
    "--when", type=click.Choice(get_args(When)), default="off the jig", show_default=True, help="When it was measured."
)
@click.option("--hand", type=click.Choice(["P", "S"]), help="The half measured; the blank if not given.")
@click.option(
    "--face", type=click.Choice(get_args(Face)), default="outside", show_default=True, help="The line measured."
)
@click.option("--sigma", default="", help="Error of one figure (1 sd); the shop's if not given.")
@click.option("--by", default="", help="Who measured or fitted it.")
@click.option("--note", default="", help="A note kept with it.")
@click.option("--corrects", type=int, help="Number of the measuring that this puts right.")
@click.option(
    "--fastenings",
    help="Where the frame can be held, along the moulded line: '100; 700; 1300'; '' for the bevel marks.",
)
@click.option("--fastening-n", help="What one fastening may be asked, N; kept for the shop.")
@click.option("--tolerance", help="How far it may stand off, either way; kept for the shop.")
@click.option("--fitted", type=click.Choice(["P", "S", "both"]), help="Keep that it is fitted in the hull.")
@click.option("--pdf", type=click.Path(path_type=Path, dir_okay=False), help="Write the latest measuring as a PDF.")
@click.option(
    "--ripping", type=click.Path(path_type=Path, dir_okay=False), help="Write how the blank is ripped as a PDF."
)
@AS_JSON
def release(boat: Path, label: str, as_json: bool, pdf: Path | None, ripping: Path | None, **typed: Any) -> None:
    """Frame LABEL off the jig: how far it stands off its line, what to do, and the springback factor's new value.

    With figures, they are stored raw first. The same for the pages.
    """
    with opened(boat) as engine:
        settings = store.boat(engine)
        units, tick = settings.units, progress()
        design, revision = designed(engine, label, tick)
        glued, _ = glued_of(engine, label, design, revision)
        before = lesson_of(engine, glued, units).learnt
        sent = _sent(typed)
        if typed["tolerance"] or typed["fastening_n"]:
            shop = shop_of(engine)
            wanted = {
                "tolerance_mm": typed["tolerance"] or "",
                "fastening_n": typed["fastening_n"] or f"{shop.fastening_n or ''}",
            }
            store.keep_choice(engine, "yard", SHOP, shop_typed(wanted, shop, units))
        if typed["fastenings"] is not None:
            keep_held(engine, label, held_typed(typed["fastenings"], design, units), who="builder")
        if sent:
            detail, corrects = measured(engine, label, design, revision, units, sent)
            store.add_record(engine, "release", label, detail, corrects=corrects)
        if typed["fitted"]:
            hand = typed["fitted"].replace("both", "")
            store.add_record(engine, "fitted", label, {"hand": hand, "by": typed["by"], "note": typed["note"]})
        seen = all_seen(engine, label, design, units)
        glued, _ = glued_of(engine, label, design, revision)
        lesson = lesson_of(engine, glued, units)
        if pdf:
            if not seen:
                raise BadMarks(f"frame {label} has not been measured off the jig yet, so there is nothing to print.")
            write_pdf(pdf, sheet_of(seen[0], lesson, seen[0].taken.glued, settings), date.today().isoformat())
        if ripping:
            write_pdf(ripping, ripping_bench_sheet(plan_for(design), settings, revision), date.today().isoformat())
    click.echo(dump(_json(seen, before, lesson)) if as_json else release_text(label, seen, before, lesson, units))


def _sent(typed: Mapping[str, Any]) -> dict[str, str]:
    """The fields of a measuring as the page's form sends them; empty where nothing was measured."""
    file, offsets = typed["file"], typed["offsets"]
    if file and offsets:
        raise BadMarks("--at and --from: give the figures in one way.")
    if not file and not offsets:
        if typed["corrects"] is not None:
            raise BadMarks("--corrects: give the figures that put it right, with --at or --from.")
        return {}
    if offsets:
        pairs = [word.partition("=") for word in offsets]
        if bad := [word for word, (_, parted, _) in zip(offsets, pairs, strict=True) if not parted]:
            raise BadMarks(f"--at: found {bad[0]!r}; give PLACE=OFFSET, such as 600=-1.5.")
        text = "\n".join(f"{place}; {offset}" for place, _, offset in pairs)
    else:
        text = read_file(file).decode("utf-8-sig", "replace")
    way = "offsets" if offsets else typed["way"].replace("-", " ")
    same = {name: typed[name] for name in ("when", "face", "sigma", "note")}
    number = "" if typed["corrects"] is None else str(typed["corrects"])
    return {**same, "text": text, "way": way, "hand": typed["hand"] or "", "name": typed["by"], "corrects": number}


def _json(seen: list[Seen], before: Learnt, lesson: Lesson) -> dict[str, Any]:
    def factor(learnt: Learnt) -> dict[str, Any]:
        return {"factor": learnt.factor, "sd": learnt.sd, "next_sd": learnt.next_sd, "frames": learnt.frames}

    return {
        "measurings": [
            {
                "number": each.record.number,
                "at": each.record.at,
                "when": each.taken.when,
                "hand": each.taken.hand,
                "face": each.taken.face,
                "verdict": each.found.verdict,
                "worst_mm": each.found.worst_mm,
                "worst_sd_mm": each.found.worst_sd_mm,
                "worst_s_mm": each.found.worst_s_mm,
                "do": each.remedy.action,
                "text": each.text,
                "pull": None
                if each.remedy.pull is None
                else {"least_n": each.remedy.pull.least_n, "ok": each.remedy.pull.ok},
                "workings": [asdict(working) for working in each.workings],
                "columns": plain_columns(each.columns),
            }
            for each in seen
        ],
        "factor_before": factor(before),
        "factor": factor(lesson.learnt),
        "next_change_mm": lesson.next.greatest_change_mm,
        "next_sd_mm": lesson.next.greatest_sd_mm,
    }


def release_text(label: str, seen: list[Seen], before: Learnt, lesson: Lesson, units: Units) -> str:
    """The latest measuring and what is to be done, and the factor before and after."""
    lines = []
    if seen:
        last = seen[0]
        found, hand = last.found, {"P": ", port half", "S": ", starboard half", "": ""}[last.taken.hand]
        side = "outward" if found.worst_mm > 0 else "inward"
        lines = [
            f"Frame {label}, {last.taken.when}{hand}, measuring no. {last.record.number}: {found.verdict} its tolerance"
            f" of {plus_minus(found.tolerance_mm, units)}."
            if found.verdict != "doubtful"
            else f"Frame {label}, {last.taken.when}{hand}, measuring no. {last.record.number}: the marks cannot tell.",
            f"At the most {plus_minus(found.worst_mm, units)} {side} ± {plus_minus(found.worst_sd_mm, units)} (1 sd), "
            f"{sized(found.worst_s_mm, units)} along.",
            f"{last.remedy.action.capitalize()}: {last.text}",
            *([last.changed] if last.changed else []),
            table([list(last.table.columns), *map(list, last.table.rows)]),
        ]
        if last.pull and found.verdict != "within":
            lines.append(table([list(last.pull.columns), *map(list, last.pull.rows)]))
    else:
        lines = [f"Frame {label} has not been measured off the jig yet: give offsets with --at, or a file with --from."]
    learnt = lesson.learnt
    many = f"{len(lesson.springs)} frame{'' if len(lesson.springs) == 1 else 's'}"
    was = (
        f"{before.factor:.3f} ± {before.sd:.3f} before, "
        if (before.factor, before.sd) != (learnt.factor, learnt.sd)
        else ""
    )
    lines.append(f"Springback factor: {was}{learnt.factor:.3f} ± {learnt.sd:.3f} (1 sd) now, from {many}.")
    change = off_by(abs(lesson.next.greatest_change_mm), units).lstrip("+")
    still = plus_minus(lesson.next.greatest_sd_mm, units)
    lines.append(f"At this frame's next jig: {change} ± {still} against the jig it was set on.")
    if learnt.suspects:
        lines.append(f"Stands apart, look again: frame {', '.join(learnt.suspects)}.")
    return "\n".join(lines)
