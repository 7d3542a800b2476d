"""`scrieve plank`: a strake between its seams drawn flat, or a plank from spiling marks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any, get_args

import click

from scrieve import store
from scrieve.boat import Boat
from scrieve.chain import Kept
from scrieve.cli.common import (
    AS_JSON,
    BOAT,
    UNITS,
    dump,
    length,
    opened,
    progress,
    read_file,
    say_all,
    table,
    whole,
)
from scrieve.errors import BadPlank, NoSuchPlank
from scrieve.planking import (
    BUTT_RULES,
    Comparison,
    PlankDesign,
    PlankEnds,
    SpilingChoice,
    StrakeChoice,
    compare_planks,
)
from scrieve.planking.butts.end_rules import OwnEnds, end_checks, end_shifts, ends_beside
from scrieve.planking.butts.scarfs import SCARF_RULES
from scrieve.planking.choice import Joint
from scrieve.planking.lining.layout import unmarked_frames
from scrieve.sheets.plank_read import Says, read_plank_file
from scrieve.sheets.plank_sheet import plank_tables
from scrieve.sheets.plank_views import comparison_table
from scrieve.store.kept import kept
from scrieve.units import Units, format_angle, format_length
from scrieve.wording import in_units, said, small

_JOINT = click.Choice(get_args(Joint))


@click.command()
@BOAT
@click.argument("name")
@click.option("--seams", type=click.Path(path_type=Path),
              help="Its two seams: CSV or XLSX with frame, edge, height or girth.")  # fmt: skip
@click.option("--spiling", type=click.Path(path_type=Path),
              help="Its spiling marks: CSV or XLSX with frame, edge, kind, x, y, opening.")  # fmt: skip
@click.option("--traced", type=click.Path(path_type=Path),
              help="The old plank or a template traced: DXF with its outline, edges, or points of them.")  # fmt: skip
@click.option("--layer", help="Traced: the layer of the DXF file that holds the outline.")
@click.option("--outside", is_flag=True, help="Traced: its outside was traced; turn it over.")
@UNITS
@click.option("--thickness", help="Finished thickness; the boat's planking if not given.")
@click.option("--side", type=click.Choice(["P", "S", "pair"]), help="Port, starboard, or at first the pair.")
@click.option("--hull", type=click.Choice(["both", "port", "starboard"]),
              help="Whose marks the hull is faired from: both sides as one (at first), or one side's own.")  # fmt: skip
@click.option("--first", help="Frame or station of its first end; at first as far as both seams go.")
@click.option("--last", help="Frame or station of its last end.")
@click.option("--across", type=click.Choice(["straight", "round"]),
              help="straight: a solid plank, hollowed to the frames; round: a thin skin, bent both ways.")  # fmt: skip
@click.option("--build", type=click.Choice(["carvel", "clinker", "panel"]),
              help="carvel, edge to edge; clinker, lapping its neighbour below; panel, of plywood.")  # fmt: skip
@click.option("--lap", help="Clinker: width of the lap (at first twice the thickness).")
@click.option("--sheet", nargs=2, metavar="LENGTH WIDTH", help="Panel: size of a sheet (at first 2440 1220).")
@click.option("--sheet-joint", type=click.Choice(["scarf", "butt block"]), help="Panel: how sheets are joined.")
@click.option("--first-end", type=_JOINT, help="How the first end is finished (at first a butt).")
@click.option("--last-end", type=_JOINT, help="How the last end is finished (at first a butt).")
@click.option("--scarf-slope", type=click.FloatRange(4, 40), help="Slope of a scarf, to 1 (at first 12).")
@click.option("--scarf-rule", type=click.Choice(list(SCARF_RULES)), help="Slope and nib of a scarf by a named rule.")
@click.option("--butt-rules", type=click.Choice(list(BUTT_RULES)),
              help="Hold its ends against a set of rules, with the other planks of its side.")  # fmt: skip
@click.option("--seam-rule", type=click.Choice(["metric", "inch"]),
              help="A caulked seam stands open 3.5 mm in 25, or 1/16 in the inch (sources disagree).")  # fmt: skip
@click.option("--seam-opening", help="Opening of the seam outside, both edges together, if neither rule is wanted.")
@click.option("--tolerance", help="How far a seam or edge may pass from a mark in fairing it.")
@click.option("--keep", multiple=True, metavar="POINT",
              help="Spiling: a point that stands out and is right ('12 upper'); many times; 'none': none.")  # fmt: skip
@click.option("--radius", nargs=2, multiple=True, metavar="FRAME LENGTH",
              help="Spiling: outside radius of a frame, for hollowing; may be given many times.")  # fmt: skip
@click.option("--against", metavar="PLANK", help="Lay it over another: one spiled or traced, one from the hull.")
@click.option("--forget", is_flag=True, help="Take the plank NAME off the list of those to be made.")
@AS_JSON
def plank(boat: Path, name: str, forget: bool, as_json: bool, **typed: Any) -> None:
    """Draw the plank NAME flat, from its seams on the fair hull or from spiling marks, with all the bench needs.

    What is not given keeps its last value for this plank, or its default. The choice is kept in BOAT.
    """
    with opened(boat) as engine:
        if forget:
            known = store.planks(engine)
            if name not in known:
                raise NoSuchPlank(
                    f"plank {name!r} is not among those to be made: {', '.join(known) or 'there are none'}."
                )
            store.forget_plank(engine, name)
            click.echo(f"plank {name}: no longer to be made; sheets written before stay where they are.")
            return
        settings = store.boat(engine)
        work = kept(engine)
        entry = _entry(name, typed, work)
        trial = work.with_plank(name, entry)
        design = trial.plank(name, progress())
        if work.planks.get(name) != entry:
            store.keep_plank(engine, name, entry)
        revision = trial.plank_revision(name)
        compared = _compared(trial, design, typed["against"])
        ends = own_ends(trial, name) if typed["butt_rules"] else None
    if as_json:
        more: dict[str, Any] = {"against": _against_json(compared)} if compared else {}
        if ends:
            rules = BUTT_RULES[typed["butt_rules"]]
            more |= {"butt_rules": [asdict(check) for check in end_checks(ends, rules)],
                     "shifts": [asdict(shift) for shift in end_shifts(ends, rules)]}  # fmt: skip
        click.echo(dump(_plank_json(design, revision) | more))
    else:
        click.echo(plank_text(design, settings, revision))
        if ends:
            click.echo(ends_text(ends, typed["butt_rules"], settings.units))
        if compared:
            found = comparison_table(compared, settings.units)
            click.echo("\n" + table([found.columns, *found.rows]))
            for check in compared.checks:
                caution = "" if check.ok else f" {check.caution}"
                click.echo(f"{check.name}: {check.found}; limit {check.limit}.{caution}")


def own_ends(trial: Kept, name: str) -> OwnEnds:
    """The ends of a plank drawn from its seams, with those of the planks beside it."""
    choices = {}
    for other, entry in trial.planks.items():
        if entry["kind"] == "strake":
            choices[other] = StrakeChoice.from_mapping(entry["choice"])
    if name not in choices:
        raise BadPlank(f"--butt-rules: plank {name!r} is not drawn from its seams, so where it ends on the hull is not "
                       "known.")  # fmt: skip
    if choices[name].build == "panel":
        raise BadPlank(f"--butt-rules: {name!r} is a panel; rules for the butts of planks do not speak of plywood.")
    hull = trial.hull(progress(), choices[name].hull)
    return ends_beside(hull, choices, name, unmarked_frames(trial.frames, hull.stations))


def ends_text(ends: OwnEnds, rules: str, units: Units) -> str:
    """Whether the ends of a plank keep a set of rules, and how far each lies from the joints beside it."""
    lines, asked = [], BUTT_RULES[rules]
    for check in in_units(end_checks(ends, asked), units):
        met = "kept" if check.ok else f"NOT MET. {check.caution}"
        lines.append(f"{check.name}: {check.found}; {check.limit} ({check.source}): {met}")
    rows = [
        (shift.at, ", ".join(shift.names), f"{shift.off:+d}", shift.other_at, f"{shift.spaces:g}",
         format_length(shift.apart_mm, units), in_units(shift.asked, units), "kept" if shift.ok else "NOT MET")
        for shift in end_shifts(ends, asked)
    ]  # fmt: skip
    if rows:
        heads = ("end", "plank beside it", "strakes off", "its end", "spaces apart", f"apart ({units})", "asked", "")
        lines.append(table([heads, *rows]))
    return "\n".join(lines)


def _compared(trial: Kept, design: PlankDesign, against: str | None) -> Comparison | None:
    """The plank laid over another one, the spiled over the expanded."""
    if not against:
        return None
    other = trial.plank(against)
    if {design.kind, other.kind} != {"strake", "spiled"}:
        raise BadPlank(f"--against {against}: one of the two must be spiled or traced, the other drawn from its seams.")
    return compare_planks(design, other) if design.kind == "spiled" else compare_planks(other, design)


def _against_json(found: Comparison) -> dict[str, Any]:
    return {
        "greatest_mm": found.greatest_mm,
        "bow_mm": found.bow_mm,
        "turned_over": found.turned_over,
        "frames": [asdict(row) for row in found.frames],
        "checks": [asdict(check) for check in found.checks],
    }


def _entry(name: str, typed: Mapping[str, Any], work: Kept) -> dict[str, Any]:
    """What is to be kept of the plank: what was, what its file says, and the options given now."""
    before = work.planks.get(name)
    if sum(bool(typed[way]) for way in ("seams", "spiling", "traced")) > 1:
        raise BadPlank(
            "a plank is drawn from its seams, from its spiling marks or from a trace; give one of the three files."
        )
    if not (typed["seams"] or typed["spiling"] or typed["traced"] or before):
        raise BadPlank(
            f"plank {name!r}: give its two seams with --seams FILE, its spiling marks with --spiling FILE, or a trace "
            "with --traced FILE."
        )
    if (typed["layer"] or typed["outside"]) and not typed["traced"]:
        raise BadPlank("--layer and --outside go with --traced FILE.")
    if before and before["kind"] == "diagonal" and not (typed["seams"] or typed["spiling"] or typed["traced"]):
        idle = ("name", "units", "against", "seams", "spiling", "traced", "layer", "outside")
        if strange := [option for option, value in typed.items() if option not in idle and value not in (None, ())]:
            raise BadPlank(f"--{strange[0].replace('_', '-')}: plank {name!r} is of a diagonal skin; change it with "
                           "scrieve lining BOAT skin, or on its page.")  # fmt: skip
        return dict(before)
    kind = (
        "spiled" if typed["spiling"] or typed["traced"] else "strake" if typed["seams"] else str((before or {})["kind"])
    )
    old = before if before and before["kind"] == kind else {}
    file = _file(typed, typed["units"] or work.boat.units)
    anew = {"keep": ()} if "marks" in file else {}  # points were kept of the marks that were
    choice = {**old.get("choice", {}), **anew, **file.pop("choice", {}), "name": name, **_settings(kind, typed, work)}
    choice["ends"] = {**asdict(PlankEnds()), **choice.get("ends", {}), **_ends(typed)}
    if choice.get("steps"):  # an end that is moved lies at the nib no longer
        choice["steps"] = [one for one in choice["steps"] if typed[one["end"]] is None]
    if not choice.get("thickness_mm"):
        choice["thickness_mm"] = work.boat.thickness_mm
    if not choice["thickness_mm"]:
        raise BadPlank(f"plank {name!r}: its thickness is not known; give --thickness.")
    if typed["scarf_rule"]:
        choice["ends"]["nib_mm"] = SCARF_RULES[typed["scarf_rule"]].nib * choice["thickness_mm"]
    elif typed["scarf_slope"]:
        choice["ends"]["nib_mm"] = 0.0
    whole_choice: SpilingChoice | StrakeChoice
    if kind == "spiled":
        whole_choice = SpilingChoice.from_mapping(choice)
        marks = file.get("marks", old.get("marks"))
        return {"kind": kind, "choice": _plain(asdict(whole_choice)), "marks": _plain(marks)}
    whole_choice = StrakeChoice.from_mapping(choice)
    return {"kind": kind, "choice": _plain(asdict(whole_choice))}


def _file(typed: Mapping[str, Any], units: Units) -> dict[str, Any]:
    """What the file of seams or of spiling marks holds; empty where none is given."""
    path: Path | None = typed["seams"] or typed["spiling"] or typed["traced"]
    if path is None:
        return {}
    says: Says = "traced" if typed["traced"] else "spiling" if typed["spiling"] else "seams"
    found = read_plank_file(read_file(path), path.name, says, units=units, unit=typed["units"] or "",
                            layer=typed["layer"] or "", mirrored=typed["outside"])  # fmt: skip
    whole(found.bad, path.name, skip_bad=False)
    say_all(said(text, units) for text in found.warnings)
    return {"choice": dict(found.choice)} | ({} if found.marks is None else {"marks": list(found.marks)})


def _settings(kind: str, typed: Mapping[str, Any], work: Kept) -> dict[str, Any]:
    """Settings of the plank from the options given; what was not given is left out."""
    strange = (
        ("keep", "radius")
        if kind == "strake"
        else ("first", "last", "across", "hull", "build", "lap", "sheet", "sheet_joint")
    )
    for option in strange:
        if typed[option] not in (None, ()):
            way = "from its seams; that is for spiling" if kind == "strake" else "from spiling; that is for seams"
            raise BadPlank(f"--{option}: this plank is drawn {way}. Leave it out.")
    units = work.boat.units
    given: dict[str, Any] = {
        f"{name}_mm": length(f"--{name.replace('_', '-')}", typed[name], units)
        for name in ("thickness", "seam_opening", "tolerance", "lap")
    }
    given |= {name: _end(f"--{name}", typed[name], work) for name in ("first", "last") if typed[name] is not None}
    given |= {name: typed[name] for name in ("across", "seam_rule", "hull", "build", "sheet_joint")}
    given["sheet_mm"] = tuple(length("--sheet", side, units) for side in typed["sheet"]) if typed["sheet"] else None
    given["side"] = "" if typed["side"] == "pair" else typed["side"]
    given["keep"] = () if typed["keep"] == ("none",) else typed["keep"] or None
    given["radius_mm"] = [(frame, length("--radius", radius, units)) for frame, radius in typed["radius"]] or None
    found = {name: value for name, value in given.items() if value is not None}
    if typed["seam_rule"] and typed["seam_opening"] is None:
        found["seam_opening_mm"] = None  # the rule is wanted again
    return found


def _ends(typed: Mapping[str, Any]) -> dict[str, Any]:
    if typed["scarf_rule"] and typed["scarf_slope"]:
        raise BadPlank("--scarf-slope and --scarf-rule both give the slope of the scarf; give one of them.")
    rule = SCARF_RULES[typed["scarf_rule"]].slope if typed["scarf_rule"] else None
    given = {"first": typed["first_end"], "last": typed["last_end"], "scarf_slope": rule or typed["scarf_slope"]}
    return {name: value for name, value in given.items() if value is not None}


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
        "rabbets": [asdict(cut) for cut in design.rabbets],
        "lands": [asdict(land) for land in design.lands],
        "joints": [asdict(joint) for joint in design.joints],
        "pieces": [asdict(piece) for piece in design.pieces],
        "checks": [asdict(check) for check in design.checks],
        "cautions": design.cautions,
        "workings": [asdict(working) for working in design.workings],
    }


def plank_text(design: PlankDesign, boat: Boat, revision: str) -> str:
    """The plank in short, for the terminal."""

    def mm(value: float | None, digits: int = 0) -> str:
        return "–" if value is None else format_length(value, boat.units, digits)

    def fine(value: float) -> str:
        return small(value).told(boat.units)

    unit = " mm" if boat.units == "mm" else ""
    board = design.board
    hand = {"P": ", port", "S": ", starboard", "": ""}[design.side]
    lines = [
        f"Plank {design.name}{hand}: {mm(design.thickness_mm)}{unit} thick, revision {revision}.",
        f"Drawn: {design.drawn}.",
        f"Board: {mm(board.length_mm)} × {mm(board.width_mm)} × {mm(board.thickness_mm)}{unit} of clear wood; crown "
        f"{mm(board.crown_mm)}{unit}. Seam open outside {fine(design.seam_opening_mm)}.",
    ]
    if isinstance(design.choice, StrakeChoice) and design.choice.hull != "both":
        lines.append(f"Made from {design.choice.hull}'s own marks.")
    if design.edge_set_mm is not None and design.twist_rad is not None and design.strain_max is not None:
        lines.append(
            f"Edge-set left in it {fine(design.edge_set_mm)}, twist {format_angle(design.twist_rad)}, greatest strain "
            f"of the flat shape {design.strain_max:.3%}."
        )
    rows = [["frame", "along", "lower", "upper", "width", "bevel lower", "bevel upper", "hollow"]]
    for line in design.frames:
        bevels = ["–" if b is None else format_angle(b) for b in (line.lower_bevel_rad, line.upper_bevel_rad)]
        hollow = "–" if line.hollow_mm is None else fine(line.hollow_mm)
        offsets = [mm(v, 1) for v in (line.lower_mm[0], line.lower_mm[1], line.upper_mm[1], line.width_mm)]
        rows.append([line.label, *offsets, *bevels, hollow])
    lines += ["", table(rows), ""]
    for found in plank_tables(design, boat.units):
        if found.name in ("land", "rabbet", "sheets", "spiling", "nails"):  # what only some planks have
            lines += [found.title, table([found.columns, *found.rows]), ""]
    for check in in_units(design.checks, boat.units):
        if not check.ok:
            lines.append(f"NOT MET: {check.name}: {check.found}; limit {check.limit} ({check.source}). {check.caution}")
    met = sum(check.ok for check in design.checks)
    lines.append(f"{met} of {len(design.checks)} checks met.")
    return "\n".join(lines)
