"""`scrieve jig`: the jig described once, how it stands, a frame set on it, and the order of gluing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, fields, replace
from datetime import date
from pathlib import Path
from typing import Any

import click
from sqlalchemy import Engine

from scrieve import store
from scrieve.chain import Kept
from scrieve.cli.common import AS_JSON, BOAT, dump, length, opened, progress, table
from scrieve.cli.work import write_pdf
from scrieve.errors import BadJig, NoSuchFrame
from scrieve.frames.choice import FrameChoice
from scrieve.frames.columns.bed import bed_columns
from scrieve.frames.columns.rows import plain_columns
from scrieve.frames.jig.bed import JigBed
from scrieve.frames.jig.poses import FrameToSet, plan_settings
from scrieve.frames.jig.setting import travel_told
from scrieve.frames.jig.setting_checks import bench_rows
from scrieve.frames.jig.setting_kept import FrameOnBed, JigKept, PlanKept, frame_on_bed, read_after
from scrieve.frames.packet.designed import bent_of
from scrieve.revision import revision
from scrieve.sheets.figures import off_by, plus_minus
from scrieve.sheets.frame_setting import (
    change_words,
    place_told,
    plan_bench_sheet,
    proof_table,
    setting_bench_sheet,
)
from scrieve.store.kept import kept
from scrieve.units import Units, format_length
from scrieve.wording import in_units

#: Endings of the names in `JigBed` that tell the unit; left out where they are typed.
_ENDINGS = ("_mm", "_min", "_rad")


@click.command()
@BOAT
@click.argument("label", required=False)
@click.option("--bed", "bed_words", multiple=True, metavar="NAME=VALUE",
              help="Describe the jig: rails=16, pitch=250mm, swivel-most=70…; may be given many times.")  # fmt: skip
@click.option("--stands", is_flag=True, help="Keep that the jig now stands for frame LABEL.")
@click.option("--forget", is_flag=True, help="Forget how the jig stands.")
@click.option("--order", is_flag=True, help="Find poses and the order of gluing for all frames designed.")
@click.option("--keep", is_flag=True, help="With --order: keep what is found.")
@click.option("--as-listed", is_flag=True, help="With --order: keep the order; find poses only.")
@click.option("--without", multiple=True, metavar="FRAME", help="With --order: leave a frame out.")
@click.option("--after", multiple=True, metavar="FRAME:FIRST",
              help="With --order: FRAME comes after FIRST, which must be fitted first.")  # fmt: skip
@click.option("--pdf", type=click.Path(path_type=Path, dir_okay=False),
              help="Write the change list of LABEL as a PDF; without LABEL, the order kept, turn by turn.")  # fmt: skip
@AS_JSON
def jig(
    boat: Path,
    label: str | None,
    bed_words: tuple[str, ...],
    stands: bool,
    forget: bool,
    order: bool,
    keep: bool,
    as_listed: bool,
    without: tuple[str, ...],
    after: tuple[str, ...],
    pdf: Path | None,
    as_json: bool,
) -> None:
    """The jig: its bed and how it stands; with LABEL, that frame set on it and what to change; or the order of gluing.

    The bed, how it stands and the order kept are in BOAT, and the same for the pages.
    """
    if stands and label is None:
        raise NoSuchFrame("--stands: which frame does the jig stand for? Give its LABEL.")
    if not order and (keep or as_listed or without or after):
        raise BadJig("--keep, --as-listed, --without and --after go with --order.")
    with opened(boat) as engine:
        work = kept(engine)
        units: Units = work.boat.units
        if bed_words:
            bed = _described(bed_words, _bed(work, _kept(engine)), units)
            store.keep_choice(engine, "jig", "bed", bed.to_mapping())
        if forget:
            store.keep_choice(engine, "jig", "setting", None)
        if order:
            plan = _plan(engine, work, as_listed, without, read_after(after))
            if keep:
                store.keep_choice(engine, "jig", "plan", plan.to_mapping())
            click.echo(dump(plan.to_mapping()) if as_json else plan_text(plan, units))
            return
        if label is None:
            found = _kept(engine)
            if pdf:
                _write_plan(pdf, work, found)
            click.echo(dump(_jig_json(work, found)) if as_json else jig_text(_bed(work, found), found, units))
            return
        on_bed = frame_on_bed(work.frame(label, progress()), work.frame_revision(label), _kept(engine), units)
        if pdf:
            sheet = setting_bench_sheet(on_bed, work.boat, work.frame_revision(label))
            write_pdf(pdf, sheet, date.today().isoformat())
        if stands:
            after_it = on_bed.set_whole(_kept(engine))
            store.keep_choice(engine, "jig", "setting", after_it.setting_mapping())
    click.echo(dump(_frame_json(on_bed)) if as_json else frame_text(on_bed, units))


def _write_plan(pdf: Path, work: Kept, found: JigKept) -> None:
    if found.plan is None:
        raise BadJig("--pdf: no order is kept; find one with --order --keep, or name the frame whose list is wanted.")
    bed = _bed(work, found)
    stale = [
        turn.frame
        for turn in found.plan.turns
        if turn.frame not in work.frames or not found.plan.turn(turn.frame, work.frame_revision(turn.frame), bed)
    ]
    sheet = plan_bench_sheet(found.plan, work.boat, revision(found.plan.to_mapping()), stale=stale)
    write_pdf(pdf, sheet, date.today().isoformat())


def _kept(engine: Engine) -> JigKept:
    return JigKept.of(store.choices(engine, "jig"))


def _bed(work: Kept, found: JigKept) -> JigBed:
    """The bed described, or one of usual size with the rails of the first frame designed."""
    if found.bed:
        return found.bed
    first = next(iter(work.frames.values()), None)
    return JigBed.of(FrameChoice.from_mapping(first["choice"])) if first else JigBed()


def _described(words: Sequence[str], before: JigBed, units: Units) -> JigBed:
    """The bed with what was typed as NAME=VALUE changed; angles in degrees, times in minutes."""
    names = {_plain(field.name): field.name for field in fields(JigBed)}
    values: dict[str, Any] = {}
    for word in words:
        said, sign, text = word.partition("=")
        name = names.get(said.strip().lower().replace("_", "-"))
        if not sign or name is None:
            raise BadJig(f"--bed: found {word!r}; give NAME=VALUE, NAME being one of {', '.join(names)}.")
        values[name] = _value(name, said, text.strip(), units)
    try:
        return replace(before, **values).checked()
    except BadJig as error:  # it names the field, here is what was typed
        text = str(error)
        for plain, name in names.items():
            text = text.replace(f"jig, {name}:", f"--bed {plain}:")
        raise BadJig(text) from None


def _plain(name: str) -> str:
    """Name of a field as it is typed: 'per-mm' for what each mm of travel takes, units left out elsewhere."""
    if name == "mm_min":
        return "per-mm"
    for ending in _ENDINGS:
        name = name.removesuffix(ending)
    return name.replace("_", "-")


def _value(name: str, said: str, text: str, units: Units) -> Any:
    if name == "row_mm" and text.lower() in ("", "none"):
        return None
    if name.endswith("_mm"):
        return length(f"--bed {said}", text, units)
    if name in ("bearing", "face"):
        return text.lower()
    if name == "between":
        if text.lower() not in ("yes", "no"):
            raise BadJig(f"--bed {said}: found {text!r}; say yes or no.")
        return text.lower() == "yes"
    try:
        number = float(text)
    except ValueError:
        raise BadJig(f"--bed {said}: found {text!r}; give a number.") from None
    if name in ("rails", "brackets"):
        if not (number.is_integer() and number <= 1000):
            raise BadJig(f"--bed {said}: found {text!r}; give a whole number, 1000 at most.")
        return int(number)
    return math.radians(number) if name.endswith("_rad") else number


def _plan(
    engine: Engine, work: Kept, as_listed: bool, without: Sequence[str], after: dict[str, tuple[str, ...]]
) -> PlanKept:
    """Plan the frames designed, from how the jig stands."""
    found, tick = _kept(engine), progress()
    if strange := [name for name in (*without, *after) if name not in work.frames]:
        raise NoSuchFrame(f"frame {strange[0]!r} is not among those designed: {', '.join(work.frames) or 'none are'}.")
    labels = [name for name in work.frames if name not in without]
    work.hull(tick)
    frames = []
    for name in labels:
        design = work.frame(name)
        frames.append(FrameToSet(bent_of(design), design.choice, after=after.get(name, ())))

    def told(done: int, total: int, best: float) -> None:
        tick(f"poses and order, best so far {best:.0f} min", done / max(total, 1))

    plan = plan_settings(frames, _bed(work, found), found.setting, keep_order=as_listed, progress=told)
    return PlanKept.of(plan, {name: work.frame_revision(name) for name in labels})


def _jig_json(work: Kept, found: JigKept) -> dict[str, Any]:
    return {
        "described": found.bed is not None,
        "bed": _bed(work, found).to_mapping(),
        "setting": None if found.setting is None else found.setting.to_mapping(),
        "bench": asdict(found.bench),
        "plan": None if found.plan is None else found.plan.to_mapping(),
    }


def _frame_json(found: FrameOnBed) -> dict[str, Any]:
    jig = found.jig
    return {
        "frame": found.design.choice.frame,
        "heel": jig.heel,
        "bearing": jig.bearing,
        "planned": found.turn is not None,
        "brackets": [asdict(each) for each in jig.brackets],
        "departure_mm": found.lie.error_mm,
        "bays": [asdict(each) for each in found.lie.bays],
        "pitch_for_1mm": jig.pitch_for_1mm,
        "changes": [asdict(each) | {"by_mm": each.by_mm} for each in found.change.changes],
        "moved": found.change.moved,
        "minutes": found.change.minutes,
        "bench_checks": [asdict(check) for check in bench_rows(jig)],
        "checks": [asdict(each) for each in found.limits],
        "blocks": [asdict(each) for each in found.blocks],
        "workings": [asdict(each) for each in found.workings],
        "columns": plain_columns(bed_columns(found)),
    }


def jig_text(bed: JigBed, found: JigKept, units: Units) -> str:
    """The jig in short."""

    def mm(value: float) -> str:
        return format_length(value, units) + (" mm" if units == "mm" else "")

    lines = [
        ("Jig" if found.bed else "Jig, not described yet; a bed of usual size")
        + f": {mm(bed.length_mm)} by {mm(bed.depth_mm)}, {bed.rails} rails {mm(bed.pitch_mm)} apart, "
        f"{bed.brackets} brackets, travel {mm(bed.travel_least_mm)} to {mm(bed.travel_most_mm)}, swivel to "
        f"{math.degrees(bed.swivel_most_rad):.0f}°, {bed.bearing} face of the packet on them."
    ]
    if found.setting and found.setting.stands:
        of = f" for frame {found.bench.frame}" if found.bench.frame else ""
        lines.append(f"It stands{of}: {len(found.setting.stands)} brackets.")
    else:
        lines.append("How it stands is not known: the next frame sets every bracket anew.")
    if found.plan:
        lines.append(f"Order kept: {', '.join(found.plan.order)}; {found.plan.minutes:.0f} min of setting.")
    return "\n".join(lines)


def frame_text(found: FrameOnBed, units: Units) -> str:
    """A frame's setting: brackets, changes, departure and the tape checks."""
    thin = "mm" if units == "mm" else "in"
    jig = found.jig
    posed = "posed as the order kept has it" if found.turn else "its chord along the datum line"
    head = (
        f"Frame {found.design.choice.frame} on the jig, {posed}: heel to the {jig.heel}, {found.change.moved} of "
        f"{len(jig.brackets)} brackets to move, {found.change.minutes:.0f} min."
    )
    grid = bool(found.bed.row_mm)
    words = {
        each.bracket: change_words(each, units) if grid else each.words(units).partition(": ")[2]
        for each in found.change.changes
        if each.bracket
    }
    rows = [["bracket", "rail", f"travel {thin}", "swivel", "change"]]
    for each in jig.brackets:
        place = str(each.rail) if each.rail else format_length(each.along_mm, units)
        swivel = f"{math.degrees(each.swivel_rad):+.1f}°"
        rows.append([str(each.number), place, place_told(found, each.travel_mm, units), swivel, words[each.number]])
    away = [change.words(units) for change in found.away]
    bays = ", ".join(off_by(bay.departure_mm, units) for bay in found.lie.bays)
    checks = [["measure", "how", f"length {thin}", f"sagitta {thin}"]]
    for check in bench_rows(jig):
        sagitta = "" if check.sagitta_mm is None else travel_told(check.sagitta_mm, units)
        checks.append([check.name, check.how, travel_told(check.length_mm, units), sagitta])
    lines = [
        head,
        table(rows),
        *away,
        f"Off the wanted curve: {plus_minus(found.lie.error_mm, units)} at most; in each bay {bays} {thin}.",
        *(
            f"NOT MET {each.name}: {each.found}; limit {each.limit}. {each.caution}."
            for each in in_units(found.limits, units)
            if not each.ok
        ),
        "",
        "Before the glue is mixed:",
        table(checks),
        proof_table(found, units).note,
    ]
    return "\n".join(lines)


def plan_text(plan: PlanKept, units: Units) -> str:
    """The order with what each turn moves."""
    rows = [["frame", "moved", "stay", "travel", "minutes", "off mm" if units == "mm" else "off in"]]
    for each in plan.turns:
        counts = str(len(each.moved)), str(len(each.kept)), format_length(each.travel_mm, units)
        rows += [[each.frame, *counts, f"{each.minutes:.1f}", off_by(each.departure_mm, units).lstrip("+")]]
    bound = "" if plan.bound_minutes is None else f"; bound {plan.bound_minutes:.0f} min"
    return (
        f"{table(rows)}\nSetting time {plan.minutes:.0f} min, as numbered on one datum {plan.naive_minutes:.0f} min: "
        f"{plan.saving:.0%} saved{bound}."
    )
