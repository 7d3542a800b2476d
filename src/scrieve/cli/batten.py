"""`scrieve batten`: a fair batten along the marks of one line, read from a file; no boat is needed."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
import numpy as np

from scrieve.cli.common import AS_JSON, UNITS, dump, length, read_file, say_all, table, whole
from scrieve.errors import BadGeometry, BadMarks
from scrieve.fairing import FREE, Batten, End, lay_batten
from scrieve.sheets.figures import length as written
from scrieve.sheets.figures import off_by, plus_minus, unit
from scrieve.takeoff.columns import Cells, open_table
from scrieve.takeoff.entries import SIDES
from scrieve.units import Units

REQUIRED = ("x", "y")
LENGTHS = ("x", "y", "sigma", "hold", "station")
OPTIONAL = ("kind", "answer", "mark", "frame", "side", "note")
SAME = {"half_breadth": "x", "height": "y", "sd": "sigma", "label": "mark"}
_KNUCKLES = ("knuckle", "chine")
_ANSWERS = {"": "", "keep": "keep", "kept": "keep", "drop": "drop", "dropped": "drop"}
#: Columns of the line's points, with their decimals.
POINTS = {"s_mm": 4, "x_mm": 4, "y_mm": 4, "sd_mm": 4, "direction_deg": 5, "curvature_per_m": 6}


@dataclass(frozen=True)
class _Row:
    """One mark of the file."""

    x: float
    y: float
    sigma: float | None
    hold: float | None
    knuckle: bool
    answer: str
    label: str


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@UNITS
@click.option("--frame", help="Only the rows of this frame, where the file holds several.")
@click.option("--side", type=click.Choice(["P", "S"]), help="Only the rows of this side, and those of both.")
@click.option("--sigma", help="Measuring error of a usual mark, one standard deviation: two of three lie within it. "
              "Where none is given the marks themselves must show it.")  # fmt: skip
@click.option("--hold", multiple=True, metavar="MARK=LENGTH",
              help="Pass within so much of a mark ('3=1mm', or '3' for through it); many times.")  # fmt: skip
@click.option("--knuckle", multiple=True, type=int, metavar="MARK", help="Where it may break; many times.")
@click.option("--keep", multiple=True, type=int, metavar="MARK", help="A mark that is right; many times.")
@click.option("--drop", multiple=True, type=int, metavar="MARK", help="A mark that shall not count; many times.")
@click.option(
    "--first", metavar="fixed|DEGREES", help="The first end: through its mark, or the direction it sets off in."
)
@click.option("--last", metavar="fixed|DEGREES", help="The same of the last end.")
@click.option("--through", is_flag=True, help="Pass through every mark that counts.")
@click.option("--smoothing", type=click.FloatRange(0), help="The stiffness, where it shall not be chosen.")
@click.option("--csv", "as_csv", is_flag=True, help="Print the line's points as CSV.")
@AS_JSON
def batten(
    file: Path,
    units: str | None,
    frame: str | None,
    side: str | None,
    sigma: str | None,
    hold: tuple[str, ...],
    knuckle: tuple[int, ...],
    keep: tuple[int, ...],
    drop: tuple[int, ...],
    first: str | None,
    last: str | None,
    through: bool,
    smoothing: float | None,
    as_csv: bool,
    as_json: bool,
) -> None:
    """Lay a batten along the marks of FILE (CSV or XLSX: x and y, or half_breadth and height; in order along the line).

    Further columns: sigma, hold, kind (knuckle), answer (keep, drop), mark. Marks are counted from 1. What stands to
    the right of the line, going along it, is above zero: outside, for a frame from heel to head. Nothing is stored.
    """
    bare = units or "mm"
    if through and smoothing is not None:
        raise BadGeometry("--through and --smoothing: give one of them.")
    rows, warnings = _read(file, bare, frame, side)
    say_all(warnings)
    numbers = {"--knuckle": knuckle, "--keep": keep, "--drop": drop}
    for option, given in numbers.items():
        for number in given:
            _mark(option, number, len(rows))
    held = {i: row.hold for i, row in enumerate(rows) if row.hold is not None}
    held |= dict(_hold(one, bare, len(rows)) for one in hold)
    line = lay_batten(
        [(row.x, row.y) for row in rows],
        _errors(rows, length("--sigma", sigma, bare)),
        smoothing=0.0 if through else smoothing,
        knuckles=sorted({*(i for i, row in enumerate(rows) if row.knuckle), *(n - 1 for n in knuckle)}),
        ends=(_end("--first", first), _end("--last", last)),
        hold=held,
        keep={*(i for i, row in enumerate(rows) if row.answer == "keep"), *(n - 1 for n in keep)},
        drop={*(i for i, row in enumerate(rows) if row.answer == "drop"), *(n - 1 for n in drop)},
    )
    if as_json:
        click.echo(dump(_json(line, rows)))
    elif as_csv:
        click.echo(_csv(line), nl=False)
    else:
        click.echo(_text(line, rows, "ft" if bare in ("ft", "in") else "mm"))


def _read(file: Path, units: str, frame: str | None, side: str | None) -> tuple[list[_Row], tuple[str, ...]]:
    opened = open_table(
        read_file(file), file.name, required=REQUIRED, lengths=LENGTHS, others=OPTIONAL, same=SAME, units=units
    )
    several = {cells.text("frame") for cells in opened.cells()} - {""}
    if frame is not None and frame not in several:
        raise BadMarks(f"{file.name} holds no frame {frame}; its frames are {', '.join(sorted(several)) or 'none'}.")
    if frame is None and len(several) > 1:
        raise BadMarks(
            f"{file.name} holds {len(several)} frames; name one with --frame. One batten lies along one line."
        )
    rows, bad, hands = [], [], set()
    for cells in opened.cells():
        if frame is not None and cells.text("frame") != frame:
            continue
        hand = SIDES.get(cells.text("side").lower(), "")
        if side is not None and hand not in ("", side):
            continue
        hands.add(hand)
        row = _row(cells)
        bad += cells.bad
        if row is not None:
            rows.append(row)
    if {"P", "S"} <= hands:
        raise BadMarks(
            f"{file.name} holds marks of both sides; name one with --side P or S. One batten lies along one line."
        )
    whole(bad, file.name, False)
    return rows, opened.warnings


def _row(cells: Cells) -> _Row | None:
    if cells.bad:
        return None
    x, y = cells.length("x"), cells.length("y")
    sigma, hold = (cells.length(name) if cells.text(name) else None for name in ("sigma", "hold"))
    answer = _ANSWERS.get(cells.text("answer").lower())
    if answer is None:
        cells.complain("answer", "keep, drop, or nothing")
    if sigma is not None and sigma <= 0:
        cells.complain("sigma", "a length above zero, or nothing")
    if hold is not None and hold < 0:
        cells.complain("hold", "how near the line must pass, 0 for through the mark, or nothing")
    if cells.bad or x is None or y is None or answer is None:
        return None
    knuckle = cells.text("kind").lower() in _KNUCKLES
    return _Row(x, y, sigma, hold, knuckle, answer, cells.text("mark"))


def _errors(rows: Sequence[_Row], usual: float | None) -> list[float] | None:
    """Measuring error of each mark: its own, else the usual one; None where no mark has one."""
    found = [usual if row.sigma is None else row.sigma for row in rows]
    if missing := [i + 1 for i, value in enumerate(found) if value is None]:
        if len(missing) < len(found):
            raise BadMarks(f"mark {missing[0]} has no sigma while others have; give --sigma for those without.")
        return None
    return [float(value) for value in found if value is not None]


def _mark(option: str, number: int, count: int) -> int:
    if not 1 <= number <= count:
        raise BadGeometry(f"{option} {number}: there is no such mark; the marks are counted 1 to {count}.")
    return number - 1


def _hold(typed: str, bare: str, count: int) -> tuple[int, float]:
    number, _, within = typed.partition("=")
    if not number.strip().isdecimal():
        raise BadGeometry(f"--hold: found {typed!r}; expected a mark and how near to pass, such as 3=1mm, or 3.")
    return _mark("--hold", int(number), count), length("--hold", within, bare) or 0.0 if within else 0.0


def _end(option: str, typed: str | None) -> End:
    if typed is None:
        return FREE
    if typed.strip().lower() == "fixed":
        return End(fixed=True)
    try:
        return End(direction_rad=math.radians(float(typed.strip().removesuffix("°"))))
    except ValueError as error:
        raise BadGeometry(
            f"{option}: found {typed!r}; expected fixed, or a direction in degrees from x to y."
        ) from error


def _points(line: Batten) -> dict[str, Any]:
    return {
        "s_mm": line.s_mm,
        "x_mm": line.points_mm[:, 0],
        "y_mm": line.points_mm[:, 1],
        "sd_mm": line.sd_mm,
        "direction_deg": np.degrees(line.direction_rad),
        "curvature_per_m": line.curvature_per_mm * 1000,
    }


def _json(line: Batten, rows: Sequence[_Row]) -> dict[str, Any]:
    suspects = {suspect.mark: suspect for suspect in line.suspects}
    return {
        "length_mm": line.length_mm,
        "smoothing": line.smoothing,
        "chosen_by": line.chosen_by,
        "why": line.why,
        "noise_mm": line.noise_mm,
        "energy_per_mm": line.energy_per_mm,
        "marks": [
            {
                "id": i + 1,
                "mark": row.label,
                "s_mm": float(line.mark_s_mm[i]),
                "residual_mm": float(line.residual_mm[i]),
                "counts": bool(line.counts[i]),
                "suspect": i in suspects,
                "out_by_sd": suspects[i].out_by_sd if i in suspects else None,
            }
            for i, row in enumerate(rows)
        ],
        "knuckles_deg": np.degrees(line.knuckle_rad),
        "reversals": [{"s_mm": r.s_mm, "x_mm": r.point_mm[0], "y_mm": r.point_mm[1]} for r in line.reversals],
        "points": _points(line),
    }


def _csv(line: Batten) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(POINTS)
    columns = _points(line)
    for i in range(len(line.s_mm)):
        cells = {name: columns[name][i] for name in POINTS}
        writer.writerow(["" if not math.isfinite(v) else f"{v:.{POINTS[name]}f}" for name, v in cells.items()])
    return out.getvalue()


def _text(line: Batten, rows: Sequence[_Row], units: Units) -> str:
    error = plus_minus(line.noise_mm, units) if math.isfinite(line.noise_mm) else "not known"
    suspects = {suspect.mark: suspect for suspect in line.suspects}
    lines = [
        f"A batten of {written(line.length_mm, units)} ({unit(units)}) along {int(line.counts.sum())} of {len(rows)} "
        f"marks; measuring error {error}.",
        line.why,
    ]
    band = np.interp(line.mark_s_mm, line.s_mm, line.sd_mm)
    shown: list[list[str]] = [["mark", "along", "off the line", "line ± (2 sd)", ""]]
    for i, row in enumerate(rows):
        said = "suspect" if i in suspects else "" if line.counts[i] else "dropped"
        wide = plus_minus(2 * band[i], units) if math.isfinite(band[i]) else "–"
        name = f"{i + 1} {row.label}".rstrip()
        shown.append(
            [name, written(float(line.mark_s_mm[i]), units), off_by(float(line.residual_mm[i]), units), wide, said]
        )
    lines.append(table(shown))
    lines += [
        f"Mark {suspect.mark + 1} lies {plus_minus(suspect.out_mm, units)} off what the others say, "
        f"{suspect.out_by_sd:.1f} times its doubt, and did not count. Measure it again, or --keep {suspect.mark + 1}."
        for suspect in line.suspects
    ]
    count = len(line.reversals)
    where = ", ".join(written(r.s_mm, units) for r in line.reversals)
    lines.append(f"Hollow turns to round {count} time{'s' * (count != 1)}" + (f", at {where} along." if count else "."))
    return "\n".join(lines)
