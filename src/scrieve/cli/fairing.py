"""`scrieve sides`, `next`, `fairness` and `lines`: what the Fairing page tells, from a terminal."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from scrieve.boat import Boat
from scrieve.cli.common import AS_JSON, BOAT, dump, length, opened, progress, table
from scrieve.cli.places import station_at
from scrieve.errors import BadGeometry
from scrieve.fairing import (
    FairHull,
    HullLine,
    Plane,
    default_diagonals,
    diagonal_plane,
    fairness,
    hardly_checked,
    level_line,
    line_in,
    next_marks,
    upright_line,
)
from scrieve.fairing import sides as compare_sides
from scrieve.sheets.figures import length as written
from scrieve.sheets.figures import plus_minus, unit
from scrieve.store.kept import kept
from scrieve.wording import in_units

if TYPE_CHECKING:
    from scrieve.chain import Kept
    from scrieve.fairing.lines_plan import Run
    from scrieve.sheets.bench import Table

#: Columns of a line's points after its name, run and frame, with their decimals.
POINTS = {
    "station_mm": 4,
    "half_breadth_mm": 4,
    "height_mm": 4,
    "ordinate_mm": 4,
    "sd_mm": 4,
    "direction_deg": 5,
    "curvature_per_m": 6,
}


@click.command()
@BOAT
@AS_JSON
def sides(boat: Path, as_json: bool) -> None:
    """Hold port against starboard, frame by frame: how they differ, and whether measuring error explains it.

    Needs marks with a side (P or S) on both sides. Above zero: port lies further out.
    """
    with opened(boat) as engine:
        work = kept(engine)
    found = compare_sides(work.marks, work.boat, "compared", answers=work.answers, tick=progress())
    if as_json:
        frames = [
            {
                "frame": one.frame,
                "station_mm": one.station_mm,
                "mean_mm": one.mean_mm,
                "mean_sd_mm": one.mean_sd_mm,
                "largest_mm": one.largest_mm,
                "largest_sd_mm": one.largest_sd_mm,
                "largest_at_half_breadth_mm": one.largest_at_mm[0],
                "largest_at_height_mm": one.largest_at_mm[1],
                "port_head_out_mm": one.head_mm[0],
                "port_head_up_mm": one.head_mm[1],
                "chance": one.chance,
                "real": one.real,
            }
            for one in found.frames
        ]
        shift = found.shift
        move = shift and {name: getattr(shift, name) for name in ("out_mm", "out_sd_mm", "up_mm", "up_sd_mm")}
        wrong = [{"id": one.number, "frame": one.frame, "side": one.side} for one in found.wrong_side]
        click.echo(dump({"boat": work.boat.name, "frames": frames, "port_moved": move, "wrong_side": wrong}))
        return
    from scrieve.web.fairing.tables import sides_table  # loads the pages, which are slow to begin

    made, remarks = sides_table(found, work.boat.units)
    click.echo("\n".join([_heading(work), _text(made), "", *remarks]))


@click.command("next")
@BOAT
@click.option("--frame", "frames", multiple=True, metavar="FRAME|STATION",
              help="A frame to be made; many times. At first those of the boat's list, else all.")  # fmt: skip
@click.option("--count", default=10, show_default=True, type=click.IntRange(1, 100), help="How many places.")
@AS_JSON
def next_places(boat: Path, frames: tuple[str, ...], count: int, as_json: bool) -> None:
    """Tell where one more mark would most narrow the ± of the frames to be made, the best place first.

    Each place takes those before it in the list as measured.
    """
    with opened(boat) as engine:
        work = kept(engine)
    hull = work.hull(progress())
    wanted, which = _wanted(hull, work, frames)
    places = next_marks(hull, wanted, count)
    names = _names(work)
    if as_json:
        click.echo(
            dump(
                [
                    {
                        "frame": one.frame or names.get(one.station_mm, ""),
                        "kind": one.kind,
                        "station_mm": one.station_mm,
                        "height_mm": one.height_mm,
                        "half_breadth_mm": one.half_breadth_mm,
                        "gain": one.gain,
                        "sd_before_mm": one.sd_before_mm,
                        "sd_after_mm": one.sd_after_mm,
                    }
                    for one in places
                ]
            )
        )
        return
    units = work.boat.units
    rows = [["frame", "station", "height", "half-breadth", "", "± of the lines (2 sd)"]]
    for one in places:
        name = one.frame or names.get(one.station_mm, "–")
        at = [written(mm, units) for mm in (one.station_mm, one.height_mm, one.half_breadth_mm)]
        rows.append([name, *at, one.kind, plus_minus(2 * one.sd_after_mm, units)])
    before = plus_minus(2 * places[0].sd_before_mm, units)
    lines = [
        _heading(work),
        f"For {which}, whose lines are now good to ± {before} (2 sd); lengths in {unit(units)}.",
        table(rows),
        "Each place takes those above it as measured.",
        *([in_units(late, units)] if (late := hardly_checked(hull)) else []),
    ]
    click.echo("\n".join(lines))


def _wanted(hull: FairHull, work: Kept, frames: Iterable[str]) -> tuple[tuple[str | float, ...], str]:
    """Frames whose ± matters, and which those are, in words: those named, those to be made, or all."""
    if named := tuple(station_at(hull, work, one) for one in frames):
        return named, "the frame named" if len(named) == 1 else f"the {len(named)} frames named"
    low, high = hull.x_range
    made: list[str | float] = []
    for label, entry in work.frames.items():
        station = entry.get("station_mm")
        if label in hull.stations:
            made.append(label)
        elif station is not None and low <= station <= high:
            made.append(float(station))
    if not made:
        return tuple(hull.stations), "all frames"
    return tuple(made), "the frame pair to be made" if len(made) == 1 else f"the {len(made)} frame pairs to be made"


def _names(work: Kept) -> dict[float, str]:
    """Labels of frames to be made that have no marks, by their stations."""
    found = {entry.get("station_mm"): label for label, entry in work.frames.items()}
    return {float(station): label for station, label in found.items() if station is not None}


@click.command("fairness")
@BOAT
@click.option("--counted", is_flag=True, help="Leave marks that did not count out of 'by the marks'.")
@AS_JSON
def fairness_report(boat: Path, counted: bool, as_json: bool) -> None:
    """Report how fair the diagonals are, by the marks themselves and as faired: kinks and reversals."""
    with opened(boat) as engine:
        work = kept(engine)
    report = fairness(work.hull(progress()), counted_only=counted)
    if as_json:
        click.echo(
            dump(
                {
                    "boat": work.boat.name,
                    "revision": work.hull_revision,
                    "worst_before_mm": report.worst_before_mm,
                    "worst_after_mm": report.worst_after_mm,
                    "lines": [
                        {
                            "line": line.name,
                            "side": line.side,
                            "frames": line.frames,
                            "station_mm": line.x_mm,
                            "before_mm": line.before_mm,
                            "after_mm": line.after_mm,
                            "kink_before_mm": line.before.kink_mm,
                            "kink_before_at": line.frames[line.before.kink_at] if line.before.kink_at >= 0 else None,
                            "kink_after_mm": line.after.kink_mm,
                            "kink_after_at": line.frames[line.after.kink_at] if line.after.kink_at >= 0 else None,
                            "taken_out_mm": line.taken_out_mm,
                            "moved_mm": line.moved_mm,
                            "reversals_before": line.before.reversals,
                            "reversals_after": line.reversals,
                        }
                        for line in report.lines
                    ],
                }
            )
        )
        return
    from scrieve.web.fairing.tables import fairness_table

    if not report.lines:
        click.echo(f"{_heading(work)}\nNo diagonal crosses enough frames to be judged.")
        return
    units = work.boat.units
    worst = [plus_minus(mm, units) for mm in (report.worst_before_mm, report.worst_after_mm)]
    made = fairness_table(report, units)
    click.echo(
        "\n".join(
            [_heading(work), _text(made), f"Largest kink {worst[0]} by the marks, {worst[1]} as faired.", made.note]
        )
    )


@click.command("lines")
@BOAT
@click.option("--waterline", "waterlines", multiple=True, metavar="HEIGHT", help="May be given many times.")
@click.option("--buttock", "buttocks", multiple=True, metavar="HALF-BREADTH", help="May be given many times.")
@click.option("--diagonal", "diagonals", multiple=True, metavar="HEIGHT@DEGREES",
              help="Height at the centreline, and its slope down going outwards (1250mm@40); many times.")  # fmt: skip
@click.option("--csv", "as_csv", is_flag=True, help="Print every point as CSV (the default is a table by frames).")
@AS_JSON
def hull_lines(
    boat: Path,
    waterlines: tuple[str, ...],
    buttocks: tuple[str, ...],
    diagonals: tuple[str, ...],
    as_csv: bool,
    as_json: bool,
) -> None:
    """Print waterlines, buttocks and diagonals of the fair hull; at first the diagonals that it proposes.

    The ordinate of a waterline is its half-breadth, of a buttock its height, of a diagonal the distance out from the
    centreline, as if laid flat.
    """
    with opened(boat) as engine:
        work = kept(engine)
    bare = "in" if work.boat.units == "ft" else "mm"
    levels = [length("--waterline", one, bare) or 0.0 for one in waterlines]
    uprights = [length("--buttock", one, bare) or 0.0 for one in buttocks]
    sloped = [_sloped(one, bare) for one in diagonals]
    hull = work.hull(progress())
    found = [level_line(hull, one) for one in levels] + [upright_line(hull, one) for one in uprights]
    if not (found or sloped):
        sloped = list(default_diagonals(hull))
    found += [line_in(hull, plane) for plane in sloped]
    if empty := [_line_name(line, work.boat) for line in found if not line.runs]:
        raise BadGeometry(f"{', '.join(empty)}: the hull does not reach it; take another.")
    if as_json:
        click.echo(dump([_line_json(hull, line, work.boat) for line in found]))
    elif as_csv:
        click.echo(_lines_csv(hull, found, work.boat), nl=False)
    else:
        click.echo(_lines_text(hull, found, work))


def _sloped(typed: str, bare: str) -> Plane:
    """Read a diagonal: its height at the centreline, @, and its slope in degrees."""
    height, at, angle = typed.partition("@")
    try:
        slope = float(angle.strip().removesuffix("°"))
    except ValueError:
        slope = float("nan")
    if not at or not np.isfinite(slope):
        raise BadGeometry(f"--diagonal: found {typed!r}; expected its height and slope in degrees, such as 1250mm@40.")
    return diagonal_plane((0.0, length("--diagonal", height, bare) or 0.0), float(np.radians(slope)))


def _line_name(line: HullLine, boat: Boat) -> str:
    y, z = (written(mm, boat.units) for mm in line.plane.origin_mm)
    if line.plane.kind == "diagonal":
        return f"diagonal {z}@{np.degrees(line.plane.angle_rad):g}"
    return f"{line.plane.kind} {z if line.plane.kind == 'waterline' else y}"


def _frames_of(hull: FairHull, run: Run) -> list[str]:
    """Label of the frame at each point of a run, empty between frames."""
    labels = {station: label for label, station in hull.stations.items()}
    return [labels.get(x, "") for x in run.x_mm.tolist()]


def _columns(run: Run) -> dict[str, Any]:
    return {
        "station_mm": run.x_mm,
        "half_breadth_mm": run.half_breadth_mm,
        "height_mm": run.height_mm,
        "ordinate_mm": run.ordinate_mm,
        "sd_mm": run.sd_mm,
        "direction_deg": np.degrees(run.direction_rad),
        "curvature_per_m": run.curvature_per_mm * 1000,
    }


def _line_json(hull: FairHull, line: HullLine, boat: Boat) -> dict[str, Any]:
    return {
        "line": _line_name(line, boat),
        "kind": line.plane.kind,
        "height_mm": line.plane.origin_mm[1],
        "half_breadth_mm": line.plane.origin_mm[0],
        "slope_deg": float(np.degrees(line.plane.angle_rad)) if line.plane.kind == "diagonal" else None,
        "runs": [
            {"starts": run.starts, "ends": run.ends, "frames": _frames_of(hull, run), **_columns(run)}
            for run in line.runs
        ],
    }


def _lines_csv(hull: FairHull, lines: Iterable[HullLine], boat: Boat) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["line", "run", "frame", *POINTS])
    for line in lines:
        for number, run in enumerate(line.runs, 1):
            columns = _columns(run)
            for i, frame in enumerate(_frames_of(hull, run)):
                cells = [f"{columns[name][i]:.{digits}f}" for name, digits in POINTS.items()]
                writer.writerow([_line_name(line, boat), number, frame, *cells])
    return out.getvalue()


def _lines_text(hull: FairHull, lines: list[HullLine], work: Kept) -> str:
    """One row a frame, one column a line; where a line crosses a frame twice both ordinates stand there."""
    units = work.boat.units
    rows = [["frame", "station", *(_line_name(line, work.boat) for line in lines)]]
    for label, x in hull.stations.items():
        cells = []
        for line in lines:
            here = [y for run in line.runs for at, y in zip(run.x_mm.tolist(), run.ordinate_mm.tolist(), strict=True)
                    if at == x]  # fmt: skip
            cells.append(" / ".join(written(y, units, 1) for y in sorted(here)) or "–")
        rows.append([label, written(x, units), *cells])
    return "\n".join([_heading(work), table(rows), _ends(lines, work.boat)]).rstrip()


def _ends(lines: Iterable[HullLine], boat: Boat) -> str:
    """Where lines run out at the heel or the head, by their stations."""
    said = []
    for line in lines:
        for run in line.runs:
            ends = [(run.starts, run.x_mm[0]), (run.ends, run.x_mm[-1])]
            said += [
                f"{_line_name(line, boat)} runs out at the {where}, station {written(float(x), boat.units)}."
                for where, x in ends
                if where in ("heel", "head")
            ]
    return "\n".join(said)


def _heading(work: Kept) -> str:
    return f"{work.boat.name}: {len(work.marks)} marks, revision {work.hull_revision}."


def _text(made: Table) -> str:
    return table([list(made.columns), *(list(row) for row in made.rows)])
