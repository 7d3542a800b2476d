"""`scrieve marks BOAT bevels`: a bevel board held against the fair hull."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from scrieve import store
from scrieve.cli.common import AS_JSON, UNITS, dump, opened, progress, read_file, say_all, table, whole
from scrieve.errors import BadMarks
from scrieve.units import Units, format_angle, format_length

if TYPE_CHECKING:
    from scrieve.fairing.bevel_board import BevelBoard, BevelOff


@click.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@UNITS
@click.option("--keep", is_flag=True, help="Keep the bevels of FILE on the boat's bevel board.")
@click.option("--tolerance", type=float, default=3.0, show_default=True, help="What a bevel may differ by, degrees.")
@AS_JSON
@click.pass_obj
def bevels(boat: Path, file: Path | None, units: str | None, keep: bool, tolerance: float, as_json: bool) -> None:
    """Hold the bevel board of FILE (CSV or XLSX: frame, bevel, face; height, girth or mark) against the fair hull.

    Without FILE, the bevels that are kept. Nothing is stored but with --keep; of a place read twice, the later stands.
    """
    from scrieve.fairing.bevel_board import compare_bevels
    from scrieve.store.kept import kept  # loaded where it is needed: the other commands on marks compute nothing
    from scrieve.takeoff.bevels import read_bevels
    from scrieve.takeoff.bevels_kept import BEVEL_BOARD, board_detail, new_bevels, standing_bevels

    if keep and file is None:
        raise BadMarks("--keep: name the file whose bevels are to be kept.")
    data = b"" if file is None else read_file(file)
    with opened(boat) as engine:
        work = kept(engine)
        readings = standing_bevels(record.detail for record in store.records(engine, BEVEL_BOARD))
        warnings: tuple[str, ...] = ()
        new: int | None = None
        if file is not None:
            taken = read_bevels(data, file.name, units=units or work.boat.units)
            whole(taken.bad, file.name, False)
            there, readings, warnings = readings, taken.bevels, taken.warnings
            if keep:
                fresh = new_bevels(readings, there)
                new = len(fresh)
                if fresh:
                    store.add_record(engine, BEVEL_BOARD, "", board_detail(fresh, file.name))
    if file is None and not readings:
        raise BadMarks(f"no bevels are kept yet; scrieve marks {boat} bevels FILE --keep")
    hull = work.hull(progress())
    found = compare_bevels(readings, hull, tolerance_rad=math.radians(tolerance), marks=work.marks)
    if as_json:
        click.echo(dump(_json(found, warnings) | ({} if new is None else {"kept": new})))
        return
    say_all([*warnings, *found.lost, *found.hints])
    if new is not None:
        say = f"{new} bevel{'' if new == 1 else 's'} kept." if new else "nothing new was kept; they are on the board."
        click.echo(say, err=True)
    click.echo(_text(found, work.boat.units))


def _json(found: BevelBoard, warnings: tuple[str, ...]) -> dict[str, Any]:
    return {
        "rms_deg": math.degrees(found.rms_rad),
        "tolerance_deg": math.degrees(found.tolerance_rad),
        "bevels": [
            {
                "line": off.reading.line,
                "frame": off.reading.frame,
                "side": off.reading.side,
                "mark": off.reading.label,
                "face": off.reading.face,
                "s_mm": off.s_mm,
                "read_deg": math.degrees(off.reading.bevel_rad),
                "hull_deg": math.degrees(off.hull_rad),
                "hull_sd_deg": math.degrees(off.hull_sd_rad),
                "residual_deg": math.degrees(off.residual_rad),
                "differs": off.differs,
            }
            for off in found.offs
        ],
        "without_place": list(found.lost),
        "hints": list(found.hints),
        "warnings": list(warnings),
    }


def _text(found: BevelBoard, units: Units) -> str:
    if not found.offs:
        return "no bevel has a place on the hull."
    head = ["frame", "mark", "face", "girth", "read", "hull", "± 2 sd", "differs by", ""]
    many = len(found.differing)
    said = "none differs" if not many else "1 differs" if many == 1 else f"{many} differ"
    rms, most = format_angle(found.rms_rad), format_angle(found.tolerance_rad)
    last = f"{len(found.offs)} bevels, {rms} off the hull (root mean square); {said} by more than {most}."
    return "\n".join([table([head, *(_row(off, units) for off in found.offs)]), last])


def _row(off: BevelOff, units: Units) -> list[str]:
    of_hull = off.hull_rad, 2 * off.hull_sd_rad
    angles = [format_angle(angle) for angle in (off.reading.bevel_rad, *of_hull, off.residual_rad)]
    where = format_length(off.s_mm, units)
    return [off.reading.frame, off.reading.label, off.reading.face, where, *angles, "look again" if off.differs else ""]
