"""`scrieve plank`: a strake between its seams drawn flat, or a plank from spiling marks."""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import click

from scrieve import store
from scrieve.boat import Boat
from scrieve.chain import Kept
from scrieve.cli.common import (
    AS_JSON,
    BOAT,
    UNITS,
    dump,
    kept,
    length,
    opened,
    progress,
    read_file,
    say_all,
    table,
    whole,
)
from scrieve.errors import BadPlank
from scrieve.planking import PlankDesign, PlankEnds, SpilingChoice, StrakeChoice, read_seams, read_spiling
from scrieve.units import format_angle, format_length

_JOINT = click.Choice(["butt", "scarf", "hood"])


@click.command()
@BOAT
@click.argument("name")
@click.option("--seams", type=click.Path(path_type=Path),
              help="Its two seams: CSV or XLSX with frame, edge, height or girth.")  # fmt: skip
@click.option("--spiling", type=click.Path(path_type=Path),
              help="Its spiling marks: CSV or XLSX with frame, edge, kind, x, y, opening.")  # fmt: skip
@UNITS
@click.option("--thickness", help="Finished thickness; the boat's planking if not given.")
@click.option("--side", type=click.Choice(["P", "S"]), help="Port or starboard; the pair if not given.")
@click.option("--first", help="Frame or station of its first end; as far as both seams go if not given.")
@click.option("--last", help="Frame or station of its last end.")
@click.option("--across", type=click.Choice(["straight", "round"]),
              help="straight: a solid plank, hollowed to the frames; round: a thin skin, bent both ways.")  # fmt: skip
@click.option("--first-end", type=_JOINT, default="butt", show_default=True, help="How the first end is finished.")
@click.option("--last-end", type=_JOINT, default="butt", show_default=True, help="How the last end is finished.")
@click.option(
    "--scarf-slope", type=click.FloatRange(4, 50), default=12.0, show_default=True, help="Slope of a scarf, to 1."
)
@click.option("--seam-rule", type=click.Choice(["metric", "inch"]),
              help="A caulked seam stands open 3.5 mm in 25, or 1/16 in the inch (sources disagree).")  # fmt: skip
@click.option("--seam-opening", help="Opening of the seam outside, both edges together, if neither rule is wanted.")
@click.option("--tolerance", help="Spiling: how far a point may be moved in fairing the edge.")
@click.option(
    "--keep", multiple=True, metavar="POINT", help="Spiling: a point that stands out and is right ('12 upper')."
)
@AS_JSON
def plank(boat: Path, name: str, as_json: bool, **typed: Any) -> None:
    """Draw the plank NAME flat, from its seams on the fair hull or from spiling marks, with all the bench needs."""
    with opened(boat) as engine:
        settings = store.boat(engine)
        work = kept(engine)
        entry = _entry(name, typed, work) if typed["seams"] or typed["spiling"] else work.planks.get(name)
        if entry is None:
            raise BadPlank(
                f"plank {name!r}: give its two seams with --seams FILE, or its spiling marks with --spiling FILE."
            )
        trial = replace(work, planks={**work.planks, name: entry})
        design = trial.plank(name, progress())
        if work.planks.get(name) != entry:
            store.keep_plank(engine, name, entry)
        revision = trial.plank_revision(name)
    click.echo(dump(_plank_json(design, revision)) if as_json else plank_text(design, settings, revision))


def _entry(name: str, typed: dict[str, Any], work: Kept) -> dict[str, Any]:
    """What is to be kept of the plank, from the options and its file."""
    boat = work.boat
    if typed["seams"] and typed["spiling"]:
        raise BadPlank("a plank is drawn from its seams or from its spiling marks; give one of the two files.")
    thickness = length("--thickness", typed["thickness"], boat.units) or boat.thickness_mm
    if not thickness:
        raise BadPlank("the plank's thickness is not known; give --thickness.")
    shared: dict[str, Any] = {
        "name": name,
        "thickness_mm": thickness,
        "side": typed["side"] or "",
        "ends": PlankEnds(typed["first_end"], typed["last_end"], typed["scarf_slope"]),
        "seam_rule": typed["seam_rule"] or "metric",
        "seam_opening_mm": length("--seam-opening", typed["seam_opening"], boat.units),
    }
    path: Path = typed["seams"] or typed["spiling"]
    data, units = read_file(path), typed["units"] or boat.units
    if typed["spiling"]:
        batten = read_spiling(data, path.name, units=units)
        whole(batten.bad, path.name, skip_bad=False)
        say_all(batten.warnings)
        tolerance = length("--tolerance", typed["tolerance"], boat.units)
        if tolerance is not None:
            shared["tolerance_mm"] = tolerance
        spiled = SpilingChoice(**shared, keep=typed["keep"])
        return {
            "kind": "spiled",
            "choice": _plain(asdict(spiled)),
            "marks": _plain([asdict(m) for m in batten.batten.marks]),
        }
    seams = read_seams(data, path.name, units=units)
    whole(seams.bad, path.name, skip_bad=False)
    say_all(seams.warnings)
    strake = StrakeChoice(
        **shared,
        lower=seams.lower,
        upper=seams.upper,
        first=_end("--first", typed["first"], work),
        last=_end("--last", typed["last"], work),
        across=typed["across"] or "straight",
    )
    return {"kind": "strake", "choice": _plain(asdict(strake))}


def _end(option: str, typed: str | None, work: Kept) -> str:
    """Where a plank ends: a frame's label as it stands, or a station as typed, in mm."""
    if not typed or typed in {mark.frame for mark in work.marks}:
        return typed or ""
    return repr(length(option, typed, "mm"))


def _plain(value: Any) -> Any:
    """Tuples as lists, so that what is kept compares equal to what comes back."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, (list, tuple)) else value


def _plank_json(design: PlankDesign, revision: str) -> dict[str, Any]:
    return {
        "name": design.name,
        "side": design.side,
        "kind": design.kind,
        "revision": revision,
        "drawn": design.drawn,
        "thickness_mm": design.thickness_mm,
        "lower_mm": design.lower_mm,
        "upper_mm": design.upper_mm,
        "frames": [asdict(line) for line in design.frames],
        "board": asdict(design.board),
        "seam_opening_mm": design.seam_opening_mm,
        "lengths_mm": design.lengths_mm,
        "strain_max": design.strain_max,
        "edge_set_mm": design.edge_set_mm,
        "twist_rad": design.twist_rad,
        "bend_radius_mm": design.bend_radius_mm,
        "residuals": [asdict(remark) for remark in design.residuals],
        "checks": [asdict(check) for check in design.checks],
        "cautions": design.cautions,
        "workings": [asdict(working) for working in design.workings],
    }


def plank_text(design: PlankDesign, boat: Boat, revision: str) -> str:
    """The plank in short, for the terminal."""

    def mm(value: float | None, digits: int = 0) -> str:
        return "–" if value is None else format_length(value, boat.units, digits)

    unit = " mm" if boat.units == "mm" else ""
    board = design.board
    hand = {"P": ", port", "S": ", starboard", "": ""}[design.side]
    lines = [
        f"Plank {design.name}{hand}: {mm(design.thickness_mm)}{unit} thick, revision {revision}. {design.drawn}",
        f"Board: {mm(board.length_mm)} × {mm(board.width_mm)} × {mm(board.thickness_mm)}{unit} of clear wood; crown "
        f"{mm(board.crown_mm)}{unit}. Seam open outside {design.seam_opening_mm:.1f} mm.",
    ]
    if design.edge_set_mm is not None and design.twist_rad is not None and design.strain_max is not None:
        lines.append(
            f"Edge-set left in it {design.edge_set_mm:.1f} mm, twist {format_angle(design.twist_rad)}, greatest strain "
            f"of the flat shape {design.strain_max:.3%}."
        )
    rows = [["frame", "along", "lower", "upper", "width", "bevel lower", "bevel upper", "hollow mm"]]
    for line in design.frames:
        bevels = ["–" if b is None else format_angle(b) for b in (line.lower_bevel_rad, line.upper_bevel_rad)]
        hollow = "–" if line.hollow_mm is None else f"{line.hollow_mm:.1f}"
        offsets = [mm(v, 1) for v in (line.lower_mm[0], line.lower_mm[1], line.upper_mm[1], line.width_mm)]
        rows.append([line.label, *offsets, *bevels, hollow])
    lines += ["", table(rows), ""]
    for check in design.checks:
        if not check.ok:
            lines.append(f"NOT MET: {check.name}: {check.found}; limit {check.limit} ({check.source}). {check.caution}")
    met = sum(check.ok for check in design.checks)
    lines.append(f"{met} of {len(design.checks)} checks met.")
    return "\n".join(lines)
