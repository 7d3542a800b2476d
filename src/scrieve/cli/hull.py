"""`scrieve fair` and `scrieve shape`: the fair hull, and any section of it."""

from __future__ import annotations

import csv
import io
import math
from pathlib import Path
from typing import Any

import click
import numpy as np

from scrieve.chain import Kept
from scrieve.cli.common import AS_JSON, BOAT, dump, opened, progress, table
from scrieve.cli.places import station_at
from scrieve.fairing import FairHull, Section, dents
from scrieve.sheets.figures import by_rule, off_by, plus_minus, thin_unit
from scrieve.store.kept import kept
from scrieve.units import Units, format_length
from scrieve.wording import in_units

#: Columns of a shape, in the order in which they are printed, with their decimals.
COLUMNS = {
    "s_mm": 4,
    "half_breadth_mm": 4,
    "height_mm": 4,
    "sd_mm": 4,
    "bevel_deg": 5,
    "curvature_per_m": 6,
}


@click.command()
@BOAT
@AS_JSON
def fair(boat: Path, as_json: bool) -> None:
    """Find the fair hull through the marks of BOAT, and the marks that do not belong."""
    with opened(boat) as engine:
        work = kept(engine)
    hull = work.hull(progress())
    click.echo(dump(_hull_json(hull, work)) if as_json else _hull_text(hull, work, boat))


def _hull_json(hull: FairHull, work: Kept) -> dict[str, Any]:
    return {
        "boat": work.boat.name,
        "revision": work.hull_revision,
        "rms_mm": hull.rms_mm,
        "error_mm": hull.error_mm,
        "marks": [
            {
                "id": off.number,
                "frame": off.frame,
                "side": off.side,
                "mark": mark.label,
                "residual_mm": off.residual_mm,
                "along_mm": off.along_mm,
                "out_by_sd": off.out_by_sd,
                "suspect": off.suspect,
                "guess": off.guess,
            }
            for off, mark in zip(hull.offs, work.marks, strict=True)
        ],
        "frames": [_frame_json(hull, label) for label in hull.stations],
        "dents": [
            {
                "frame": dent.frame,
                "side": dent.side,
                "marks": list(dent.marks),
                "off_mm": dent.off_mm,
                "most_mm": dent.most_mm,
                "sd_mm": dent.sd_mm,
            }
            for dent in dents(hull)
        ],
    }


def _frame_json(hull: FairHull, label: str) -> dict[str, Any]:
    section = hull.section(label)
    there = [off for off in hull.offs if off.frame == label]
    counted = [off.residual_mm for off in there if off.counts]
    return {
        "frame": label,
        "station_mm": section.station_mm,
        "girth_mm": section.girth_mm,
        "marks": len(there),
        "suspects": sum(off.suspect for off in there),
        "rms_mm": float(np.sqrt(np.mean(np.square(counted)))) if counted else None,
        "sd_mm": float(section.sd_mm.max()),
    }


def _hull_text(hull: FairHull, work: Kept, boat: Path) -> str:
    units = work.boat.units
    lines = [
        f"{work.boat.name}: {len(hull.offs)} marks on {len(hull.stations)} frames, revision {work.hull_revision}.",
        f"Marks lie {plus_minus(hull.rms_mm, units)} off the fair hull (root mean square); by that a usual mark is "
        f"good to ± {plus_minus(hull.error_mm, units)}.",
    ]
    small = thin_unit(units)
    rows = [["frame", "station", "marks", f"off, rms {small}", f"line ± {small} (2 sd)"]]
    for entry in (_frame_json(hull, label) for label in hull.stations):
        off = "–" if entry["rms_mm"] is None else _size(entry["rms_mm"], units)
        at = format_length(entry["station_mm"], units)
        rows.append([entry["frame"], at, str(entry["marks"]), off, _size(2 * entry["sd_mm"], units)])
    lines += ["", table(rows), "", *(in_units(dent.told(), units) for dent in dents(hull))]
    lines += [
        f"Mark {off.number} on frame {off.frame} was kept, {off.out_by_sd:.1f} standard deviations from what all other "
        "marks say: the fair hull goes by it all the same. Measure it once more."
        for off in hull.kept_far
    ]
    if not hull.suspects:
        lines.append("No mark is suspect.")
        return "\n".join(lines)
    lines.append("Suspect marks, which did not count. Measure them again; or keep, or drop them:")
    named = {mark.number: mark for mark in work.marks}
    for suspect in hull.suspects:
        mark = named[suspect.number]
        name = f" {mark.label!r}" if mark.label else ""
        text = f"frame {suspect.frame} {suspect.side}".rstrip()
        text += f", mark {suspect.number}{name}, {format_length(mark.height_mm, units)} up: "
        way = "outside" if suspect.residual_mm > 0 else "inside"
        text += f"{by_rule(abs(suspect.residual_mm), units)} {way} the fair line"
        text += f", {by_rule(abs(suspect.along_mm), units)} along it" if abs(suspect.along_mm) >= 1 else ""
        lines.append("  " + text + (f" ({suspect.guess})" if suspect.guess else "") + ".")
    number = hull.suspects[0].number
    lines.append(f"  scrieve marks {boat} keep {number}   or   scrieve marks {boat} drop {number}")
    return "\n".join(lines)


@click.command()
@BOAT
@click.option("--at", multiple=True, metavar="FRAME|STATION",
              help="A frame's label, or a station (3600mm, 11-9-6); may be given many times.")  # fmt: skip
@click.option("--points", default=200, show_default=True, type=click.IntRange(3, 10_000), help="Points, heel to head.")
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV (the default is a short table).")
@AS_JSON
def shape(boat: Path, at: tuple[str, ...], points: int, as_csv: bool, as_json: bool) -> None:
    """Print sections of the fair hull, at frames with or without marks and at any station between.

    Bevels are above zero where the hull swells going aft. Curvature is above zero where the frame is hollow inboard.
    """
    with opened(boat) as engine:
        work = kept(engine)
    hull = work.hull(progress())
    wanted = at or tuple(hull.stations)
    sections = [hull.section(station_at(hull, work, one), points) for one in wanted]
    if as_json:
        click.echo(dump([{"frame": s.frame, "station_mm": s.station_mm, **_columns(s)} for s in sections]))
    elif as_csv:
        click.echo(_shape_csv(sections), nl=False)
    else:
        click.echo("\n\n".join(_shape_text(section, work.boat.units) for section in sections))


def _columns(section: Section) -> dict[str, Any]:
    return {
        "s_mm": section.s_mm,
        "half_breadth_mm": section.half_breadth_mm,
        "height_mm": section.height_mm,
        "sd_mm": section.sd_mm,
        "bevel_deg": np.degrees(section.bevel_rad),
        "curvature_per_m": section.curvature_per_mm * 1000,
    }


def _size(mm: float, units: Units) -> str:
    return off_by(abs(mm), units).lstrip("+")


def _shape_csv(sections: list[Section]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["frame", "station_mm", *COLUMNS])
    for section in sections:
        columns = _columns(section)
        for i in range(len(section.s_mm)):
            row = [f"{columns[name][i]:.{digits}f}" for name, digits in COLUMNS.items()]
            writer.writerow([section.frame, f"{section.station_mm:.4f}", *row])
    return out.getvalue()


def _shape_text(section: Section, units: Units) -> str:
    name = f"frame {section.frame}, " if section.frame else ""
    rows = [["girth", "half-breadth", "height", f"± {thin_unit(units)} (2 sd)", "bevel", "radius"]]
    for s in np.linspace(0, section.girth_mm, 15):
        here = {key: float(np.interp(s, section.s_mm, value)) for key, value in _columns(section).items()}
        radius = 1000 / here["curvature_per_m"] if abs(here["curvature_per_m"]) > 1e-2 else math.inf
        rows.append(
            [
                format_length(s, units),
                format_length(here["half_breadth_mm"], units, 1),
                format_length(here["height_mm"], units, 1),
                _size(2 * here["sd_mm"], units),
                f"{here['bevel_deg']:.1f}°",
                format_length(radius, units),
            ]
        )
    return f"{name}station {format_length(section.station_mm, units)}, inside of planking\n{table(rows)}"
