"""`scrieve frame`: a pair of frames designed on the fair hull."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import click
from sqlalchemy import Engine

from scrieve import store
from scrieve.boat import Boat
from scrieve.chain import Kept, entry_of, set_apart, set_together
from scrieve.cli.common import AS_JSON, BOAT, dump, length, opened, progress, read_file, say_all, table, whole
from scrieve.errors import BadLamination, BadLength, BadMarks, NoSuchFrame, ScrieveError
from scrieve.fairing import FairHull
from scrieve.frames.columns.design import design_columns
from scrieve.frames.columns.rows import plain_columns
from scrieve.frames.design import FrameChoice, FrameDesign
from scrieve.frames.forms import LIMITS_MM, MOST_LAMINATIONS, FrameRow, first, read_frames
from scrieve.frames.jig.setting import travel_told
from scrieve.frames.release.off_jig import timber_and_glue
from scrieve.frames.written import SETTINGS, read_setting
from scrieve.sheets.figures import by_rule, ruled, thin_unit
from scrieve.sheets.frame_predicted import cuts_table, scarf_table, shape_words, strength_table
from scrieve.sheets.frame_sheet import moulded_words
from scrieve.store.kept import kept
from scrieve.takeoff.offsets import SAME_STATION_MM
from scrieve.units import format_angle, format_length
from scrieve.wording import in_units


@click.command()
@BOAT
@click.argument("label", required=False)
@click.option("--from", "file", type=click.Path(path_type=Path),
              help="Design each frame of a list (CSV or XLSX; see docs/formats.md).")  # fmt: skip
@click.option("--station", help="Where the frame stands, if it has no marks: 6000mm or 19-8-2.")
@click.option("--timber", help="One timber, or two in turn: sapele/larch.")
@click.option("--sided", help="Finished fore-and-aft size.")
@click.option("--moulded", help="Finished in-and-out size (at the heel, with --moulded-head).")
@click.option("--moulded-head", help="Finished in-and-out size at the head, for a frame that tapers.")
@click.option("--lamination", help="Thickness of each lamination, if it is not to be computed.")
@click.option(
    "--count", type=click.IntRange(2, MOST_LAMINATIONS), help="Number of laminations, if it is not to be computed."
)
@click.option("--pitch", help="Rails of the jig, middle to middle (at first 250 mm).")
@click.option("--bearing", type=click.Choice(["inside", "outside"]), help="Face of the packet on the brackets.")
@click.option("--moulding-edge", type=click.Choice(["fore", "aft", "auto"]), help="Face that carries the moulded line.")
@click.option("--kerf", help="Saw kerf when the blank is ripped in two.")
@click.option("--cleaning", help="Wood to clean off each face of the packet and each sawn face.")
@click.option("--planing", help="Wood to plane off each lamination as sawn.")
@click.option("--trim", help="Length to spare past heel and head.")
@click.option("--margin", type=float, help="Share of the breaking strain allowed (shop default 0.5).")
@click.option("--spring-factor", type=float, help="Learnt factor on the computed springback.")
@click.option("--glue", help="Family of glue, such as epoxy or resorcinol.")
@click.option("--spread", type=float, help="Spread in g/m², from the maker's data sheet.")
@click.option("--waterline", multiple=True, help="Height to be marked on both halves; may be given many times.")
@click.option("--hull", type=click.Choice(["both", "port", "starboard"]),
              help="Whose marks its line is faired from: both sides as one (at first), or one side's own.")  # fmt: skip
@click.option("--hands", type=click.Choice(["pair", "port", "starboard"]),
              help="What the blank gives: both halves (at first), or the frame of one side alone.")  # fmt: skip
@click.option("--apart", is_flag=True,
              help="Two blanks instead of a pair, 'LABEL P' and 'LABEL S', each from its own marks.")  # fmt: skip
@click.option("--set", "others", multiple=True, metavar="SETTING=TEXT",
              help="Any other setting, as docs/formats.md writes them: --set 'heel_cut=plumb at 20'; nothing after = "
                   "takes it back. May be given many times.")  # fmt: skip
@click.option("--forget", is_flag=True, help="Take frame LABEL off the list of those to be made.")
@AS_JSON
def frame(
    boat: Path, label: str | None, file: Path | None, forget: bool, apart: bool, as_json: bool, **typed: Any
) -> None:
    """Design the pair of frames LABEL: laminations, springback, blank, jig, bevels, marks to carry.

    What is not given keeps its last value for this frame, or its default. The choice is kept in BOAT.
    """
    with opened(boat) as engine:
        if forget:
            known = store.frames(engine)
            if label not in known:
                raise NoSuchFrame(
                    f"frame {label!r} is not among those to be made: {', '.join(known) or 'there are none'}."
                )
            store.forget_frame(engine, label)
            click.echo(f"frame {label}: no longer to be made; sheets written before stay where they are.")
            return
        settings = store.boat(engine)
        given = _settings(typed, settings)
        wanted = _wanted(label, file, length("--station", typed["station"], settings.units), given, settings)
        designs = _designs(engine, wanted, apart)
        work = kept(engine)
    if as_json:
        found = [_frame_json(design, work.frame_revision(name)) for name, design in designs.items()]
        click.echo(dump(found if file or apart else found[0]))
        return
    texts = [frame_text(design, settings, work.frame_revision(name)) for name, design in designs.items()]
    click.echo("\n\n".join(texts))


def _settings(typed: Mapping[str, Any], boat: Boat) -> dict[str, Any]:
    """Settings of a FrameChoice from what was typed; what was not is left out."""
    lengths = {
        f"{name}_mm": length(f"--{name.replace('_', '-')}", typed[name], boat.units)
        for name in ("sided", "moulded", "moulded_head", "lamination", "pitch", "kerf", "cleaning", "planing", "trim")
    }
    for name, value in lengths.items():
        low, high = LIMITS_MM[name.removesuffix("_mm")]
        if value is not None and not low <= value <= high:
            option = name.removesuffix("_mm").replace("_", "-")
            raise BadLength(f"--{option}: {value:g} mm; give {low:g} to {high:g} mm.")
    named = ("timber", "count", "bearing", "moulding_edge", "margin", "spring_factor", "glue", "hull", "hands")
    others = {name: typed[name] for name in named}
    others["spread_g_m2"] = typed["spread"]
    heights = [length("--waterline", one, boat.units) for one in typed["waterline"]]
    given = {**lengths, **others, "waterlines_mm": heights or None}
    settings = {name: value for name, value in given.items() if value is not None}
    for one in typed["others"]:
        key, parted, text = one.partition("=")
        if not parted:
            raise BadLamination(f"--set {one!r}: give a setting, =, and its text: --set 'heel_cut=plumb at 20'.")
        name = key.strip() if key.strip() in SETTINGS else f"{key.strip()}_mm"
        settings[name] = read_setting(name if name in SETTINGS else key.strip(), text, boat.units)
    return settings


def _wanted(
    label: str | None, file: Path | None, station: float | None, given: Mapping[str, Any], boat: Boat
) -> list[FrameRow]:
    """The frames to be designed: the one named, or those of the list, each with what was typed for all of them."""
    if file is None:
        if label is None:
            raise NoSuchFrame("which frame? Give its label, or a list with --from FILE.")
        return [FrameRow(label.strip(), station, given)]
    if label is not None or station is not None:
        raise NoSuchFrame("the list names its frames and stations; leave out the label and --station, or the list.")
    reading = read_frames(read_file(file), file.name, units=boat.units)
    whole(reading.bad, file.name, skip_bad=False)
    say_all(reading.warnings)
    if not reading.rows:
        raise NoSuchFrame(f"{file.name}: no frame in the list; give each pair a row.")
    return [replace(row, settings={**row.settings, **given}) for row in reading.rows]


def _designs(engine: Engine, wanted: Sequence[FrameRow], apart: bool = False) -> dict[str, FrameDesign]:
    """Design the frames, or each side of them apart, and keep the choices once all are seen to work."""
    work, tick = kept(engine), progress()
    hull = work.hull(tick)
    entries: dict[str, dict[str, Any]] = {}
    designs: dict[str, FrameDesign] = {}
    bad: list[str] = []
    for row in wanted:
        try:
            entry = _choice(work, hull, row)
            made = set_apart(row.frame, entry) if apart else {row.frame: entry}
            trial = replace(work, frames={**work.frames, **made})
            designs |= {label: trial.frame(label, tick) for label in made}
            entries |= made
        except ScrieveError as error:
            if len(wanted) == 1:
                raise
            text = str(error)
            bad.append(text if text.startswith(f"frame {row.frame}") else f"frame {row.frame}: {text}")
    if bad:
        raise BadMarks(f"{len(bad)} of {len(wanted)} frames cannot be made so; no choice was stored:", bad)
    stored = store.frames(engine)
    for label, entry in entries.items():
        if stored.get(label) != entry:
            store.keep_frame(engine, label, entry)
    for row in wanted:  # a pair and its two blanks are not made both
        gone = [row.frame] if apart else [label for label, entry in stored.items() if entry.get("of") == row.frame]
        for label in gone:
            if label in stored:
                store.forget_frame(engine, label)
    return designs


def _pair_before(work: Kept, hull: FairHull, label: str) -> Mapping[str, Any]:
    """What was settled for the two blanks of a frame that is to be a pair again; empty where there are none."""
    for own, entry in work.frames.items():
        if entry.get("of") == label:
            return set_together(own, entry, label in hull.stations)[label]
    return {}


def _choice(work: Kept, hull: FairHull, row: FrameRow) -> dict[str, Any]:
    """What is to be kept of one frame: what was, and what is given now."""
    label, new = row.frame, first(work.boat.units)
    before = work.frames.get(label) or _pair_before(work, hull, label) or entry_of(work, label, hull.stations, new)
    choice = FrameChoice.from_mapping({**before.get("choice", new), **row.settings, "frame": label})
    station = before.get("station_mm") if row.station_mm is None else row.station_mm
    if before.get("of"):
        return {"choice": choice.to_mapping(), "station_mm": station, "of": before["of"]}
    if label not in hull.stations:
        if station is None:
            raise NoSuchFrame(
                f"frame {label} has no marks; say where it stands with --station, and it is made from the fair hull."
            )
        return {"choice": choice.to_mapping(), "station_mm": station}
    measured = hull.stations[label]
    if row.station_mm is not None and abs(row.station_mm - measured) > SAME_STATION_MM:
        say_all([f"frame {label} has marks at station {measured:g} mm; the station {row.station_mm:g} is not used."])
    return {"choice": choice.to_mapping(), "station_mm": None}


def _frame_json(design: FrameDesign, revision: str) -> dict[str, Any]:
    """What the bench needs of a frame, as plain values."""
    return {
        "frame": design.choice.frame,
        "station_mm": design.section.station_mm,
        "revision": revision,
        "choice": design.choice.to_mapping(),
        "moulding_edge": design.moulding_edge,
        "packet": asdict(design.packet),
        "springback": {
            "mean": design.springback_mean,
            "least": design.springback.min(),
            "most": design.springback.max(),
        },
        "blank": asdict(design.blank),
        "jig": {
            "pitch_mm": design.jig.pitch_mm,
            "bearing": design.jig.bearing,
            "heel": design.jig.heel,
            "error_mm": design.jig.error_mm,
            "pitch_for_1mm": design.jig.pitch_for_1mm,
            "brackets": [asdict(bracket) for bracket in design.jig.brackets],
            "face_mm": design.jig.face_mm,
        },
        "bevels": [asdict(mark) for mark in design.bevels],
        "glue": asdict(design.glue),
        "closing": asdict(design.closing),
        "strength": asdict(design.strength),
        "scarfs": None if design.scarfs is None else asdict(design.scarfs),
        "order": [asdict(strip) for strip in design.order],
        "marks_to_carry": [asdict(mark) for mark in design.marks_to_carry],
        "bench_checks": [asdict(check) for check in design.bench_checks],
        "checks": [asdict(check) for check in design.checks],
        "cautions": design.cautions,
        "workings": [asdict(working) for working in design.workings],
        "columns": plain_columns(design_columns(design)),
    }


def frame_text(design: FrameDesign, boat: Boat, revision: str) -> str:
    """The design in short, for the terminal."""

    def mm(value: float, digits: int = 0) -> str:
        return format_length(value, boat.units, digits) + (" mm" if boat.units == "mm" else "")

    packet, blank, jig = design.packet, design.blank, design.jig
    thick = sorted({lamination.thickness_mm for lamination in packet.laminations})
    radius = min(lamination.radius_mm for lamination in packet.laminations)
    ripped = "for one hand, not ripped"
    if design.choice.hands == "pair":
        ripped = f"ripped in two (kerf {by_rule(design.choice.kerf_mm, boat.units)})"
    strain = max(lamination.strain for lamination in packet.laminations)
    lines = [
        f"Frame {design.choice.frame}, {design.choice.hands_words}: sided {mm(design.choice.sided_mm)}, moulded "
        f"{moulded_words(design, boat.units)}, station {mm(design.section.station_mm)}, revision {revision}.",
        f"Laminations: {len(packet.laminations)} of {' and '.join(ruled(t, boat.units) for t in thick)} "
        f"{thin_unit(boat.units)}, "
        f"{timber_and_glue(design.choice)[0]}, inside first; tightest radius {mm(radius)}, strain {strain:.2%}.",
        f"Springback: {packet.springback:.2%} of the bend is lost on release; the jig is set that much tighter.",
        f"Made from {design.choice.hull_words}.",
        f"Blank: {by_rule(blank.siding_mm, boat.units)} sided × {by_rule(blank.depth_mm, boat.units)} deep × "
        f"{mm(blank.length_mm)} long, {ripped}; least wood to spare beyond cleaning "
        f"{by_rule(blank.spare_mm, boat.units)}.",
        shape_words(design, boat.units),
        f"Glue ({design.glue.family}): {design.glue.net_g:.0f} g on the joints, {design.glue.gross_g:.0f} g to mix.",
        "",
        f"Jig: rails {mm(jig.pitch_mm)} apart, brackets on the {jig.bearing} face, heel to the {jig.heel}.",
    ]
    rows = [["bracket", "rail", "along", f"travel {thin_unit(boat.units)}", "swivel"]]
    for bracket in jig.brackets:
        place = str(bracket.rail) if bracket.rail else "extra"
        travel = travel_told(bracket.travel_mm, boat.units)
        swivel = format_angle(bracket.swivel_rad)
        rows.append([str(bracket.number), place, format_length(bracket.along_mm, boat.units, 0), travel, swivel])
    lines += [table(rows), "", f"Bevels, moulding edge on the {design.moulding_edge} face:"]
    rows = [["mark", "girth", "height", "outer edge", "inner edge", "", f"wood {thin_unit(boat.units)}"]]
    for mark in design.bevels:
        at = [format_length(value, boat.units) for value in (mark.s_mm, mark.height_mm)]
        rows.append(
            [
                str(mark.number),
                *at,
                *(format_angle(abs(bevel)) for bevel in (mark.bevel_rad, mark.inner_bevel_rad)),
                mark.word,
                ruled(mark.wood_mm, boat.units),
            ]
        )
    lines += [table(rows), ""]
    lines += [table(_lamination_rows(design, boat)), ""]
    for own in (cuts_table(design, boat.units), scarf_table(design, boat.units), strength_table(design, boat.units)):
        if own is not None:
            lines += [f"{own.title}:", table([own.columns, *own.rows]), ""]
    carried = sorted({mark.text for mark in design.marks_to_carry if mark.s_mm is None})
    lines.append(
        "Mark on it before it leaves the jig:"
        if design.choice.hands != "pair"
        else "Mark on the halves before they leave the jig, port and starboard opposite hand:"
    )
    lines += [f"  {text}" for text in carried]
    lines += ["  heel, head and bevel marks 1 to " + str(len(design.bevels)), ""]
    for check in in_units(design.checks, boat.units):
        verdict = "met    " if check.ok else "NOT MET"
        lines.append(f"{verdict} {check.name}: {check.found}; limit {check.limit} ({check.source}).")
        if not check.ok and check.caution:
            lines.append(f"        {check.caution}")
    lines.append("")
    lines += [f"Caution: {text}" for text in in_units(design.cautions, boat.units)]
    return "\n".join(lines)


def _lamination_rows(design: FrameDesign, boat: Boat) -> list[list[str]]:
    rows = [["lamination", "timber", thin_unit(boat.units), "heel to head", "to cut"]]
    for lamination in design.packet.laminations:
        lengths = [format_length(v, boat.units) for v in (lamination.developed_mm, lamination.length_mm)]
        rows.append([str(lamination.number), lamination.timber, ruled(lamination.thickness_mm, boat.units), *lengths])
    return rows
