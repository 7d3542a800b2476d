"""`scrieve lining`: a side lined off, its butts judged and planned, its strakes made planks, diagonal skins."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, get_args

import click
import numpy as np
from sqlalchemy import Engine

from scrieve import store
from scrieve.chain import Kept
from scrieve.cli.common import AS_JSON, BOAT, BoatFirst, dump, opened, progress, table
from scrieve.errors import BadPlank, NoSuchPlank
from scrieve.fairing.sides import thin_words
from scrieve.frames.choice import MadeFrom
from scrieve.planking import (
    BUTT_RULES,
    Lining,
    LiningChoice,
    PlankEnds,
    SkinChoice,
    breaches,
    clinker_fastenings,
    lay_skin,
    line_off,
    plan_butts,
    propose_stealers,
)
from scrieve.planking.butts.plan import Progress
from scrieve.planking.butts.rules import SCARF_SHIFTS
from scrieve.planking.lining.choice import RULES
from scrieve.planking.lining.layout import unmarked_frames
from scrieve.planking.seams import strake_strip
from scrieve.sheets.figures import length, sized, unit
from scrieve.sheets.shell_flat import lining_tables
from scrieve.stock.forms import board_from
from scrieve.store.kept import kept
from scrieve.units import parse_length
from scrieve.web.lining.forms import SIDES, ButtsForm, LiningForm, boards_to_hand, joint_text, stock_text
from scrieve.wording import in_units

SIDE = click.option("--side", type=click.Choice(list(SIDES)), default="pair", show_default=True, help="Which side.")


@click.group(cls=BoatFirst)
@BOAT
@click.pass_context
def lining(ctx: click.Context, boat: Path) -> None:
    """The planking of BOAT lined off: seams and widths, butts, planks of strakes, diagonal skins."""
    ctx.obj = boat


@lining.command()
@SIDE
@click.option("--strakes", help="How many; proposed if not given.")
@click.option("--rule", type=click.Choice(list(RULES)), help="How the girth is shared out (at first equal).")
@click.option(
    "--hull", type=click.Choice(get_args(MadeFrom)), help="Whose marks the hull is faired from (at first both)."
)
@click.option("--build", type=click.Choice(["carvel", "clinker"]), help="Edge to edge, or lapping (at first carvel).")
@click.option("--lap", help="Clinker: width of the lap (at first twice the thickness).")
@click.option("--widest", help="Widest strake that the boards give.")
@click.option("--narrowest", help="Narrowest strake.")
@click.option("--end-narrowest", help="Narrowest strake at the ends.")
@click.option("--thickness", help="Thickness of the planking.")
@click.option("--stock", help="Thickness of the stock, which limits backing out.")
@click.option("--first", help="Frame or station at which the region begins.")
@click.option("--last", help="Frame or station at which it ends.")
@click.option("--lower", help="Lower seam of the region: 'girth: 5 640, 18 712'; at first the rabbet.")
@click.option("--upper", help="Upper seam of the region; at first the sheer.")
@click.option(
    "--stays", multiple=True, help="A seam that stays: 'seam 9, 8 below, height: 14 812, 18 790'; many times."
)
@click.option("--widths", multiple=True, help="Widths set at a frame: '14: 110, 115, -, 120'; many times.")
@click.option("--limit", multiple=True,
              help="Narrowest and widest at a place: '5 to 14: 90 to 140'; many times; 'none': none.")  # fmt: skip
@click.option("--stealer", multiple=True, help="A strake that ends short: '5 forward 14'; many times; 'none': none.")
@click.option("--at", multiple=True, metavar="FRAME", help="Print the widths at this frame only; many times.")
@click.option("--marks", type=click.Choice(["girth", "height", "half_breadth"]), help="Print the seams' marks as well.")
@click.option("--keep", is_flag=True, help="Keep it in the boat.")
@AS_JSON
@click.pass_obj
def off(
    boat: Path, /, side: str, at: tuple[str, ...], marks: str | None, keep: bool, as_json: bool, **typed: Any
) -> None:
    """Line a side off: strakes proposed, fair seams, widths at frames. What is not given keeps its last value."""
    with opened(boat) as engine:
        work = kept(engine)
        stored, before = _stored(engine, work, side)
        units = work.boat.units
        form = LiningForm.of(before, units)
        said = {name: value for name, value in typed.items() if isinstance(value, str)}
        for name, many in (("stays", "kept"), ("widths", "set_widths"), ("stealer", "stealers"), ("limit", "limits")):
            if typed[name]:
                said[many] = "" if typed[name] == ("none",) else "\n".join(typed[name])
        form = replace(form, **said)
        choice = form.choice(SIDES[side], before, units)
        hull = work.hull(progress(), choice.hull)
        laid = line_off(hull, choice)
        new = () if choice.stealers else propose_stealers(hull, replace(choice, strakes=laid.strakes))
        if keep:
            _keep(engine, side, stored, choice=asdict(choice))
    nails = clinker_fastenings(laid) if choice.build == "clinker" else None
    if as_json:
        click.echo(
            dump(
                _lining_json(laid)
                | ({"nails": asdict(nails)} if nails else {})
                | {"stealers": [asdict(one) for one in new], "kept": keep}
            )
        )
        return
    own = "" if choice.hull == "both" else f", from {choice.hull}'s own marks"
    lines = [f"{laid.strakes} strakes, {side}{own}."]
    if choice.hull != "both":
        lines += thin_words(work.marks, SIDES[choice.hull], math.nan)
    lines += [in_units(text, units) for text in laid.remarks]
    shown = lining_tables(laid, units)
    for found in shown:
        if found.name in ("widths", marks):
            if strange := [label for label in at if label not in {row[0] for row in found.rows}]:
                raise BadPlank(f"--at {strange[0]}: no frame of this lining; its frames are "
                               f"{', '.join(row[0] for row in found.rows)}.")  # fmt: skip
            rows = [row for row in found.rows if not at or row[0] in at]
            lines += ["", found.title, table([found.columns, *rows])]
    lines.append("")
    for check in in_units(laid.checks, units):
        if not check.ok:
            lines.append(f"NOT MET: {check.name}: {check.found}; limit {check.limit}. {check.caution}")
    for one in new:
        reach = "forward" if one.end == "first" else "aft"
        lines.append(f"A stealer is called for: --stealer '{one.strake} {reach} {one.frame}'.")
    if nails is not None:
        lines.append(f"Nails along {len(nails.lands)} lands: {nails.total} with the hood ends, {nails.order} and as "
                     "many roves to order, one side. No seam is caulked.")  # fmt: skip
    lines.append(f"{sum(check.ok for check in laid.checks)} of {len(laid.checks)} checks met. "
                 + ("Kept in the boat." if keep else "Not kept; --keep keeps it."))  # fmt: skip
    click.echo("\n".join(lines))


@lining.command()
@SIDE
@click.option("--rules", type=click.Choice(list(BUTT_RULES)), help="Set of rules.")
@click.option("--boards", "stock", help="Boards to hand: '5000 x 6, 4000'.")
@click.option("--rack", is_flag=True, help="Take the lengths of the boards in the rack.")
@click.option(
    "--there", multiple=True, help="A joint that is there: '3 14-15', '3 14-15 scarf'; many times; 'none': none."
)
@click.option("--renew", help="Strakes to be renewed: '1-4, 7'; at first all.")
@click.option("--closed", help="Bays that take no butt: '7-8, 20-21'.")
@click.option("--unmarked", help="Frames without marks: '20 6000, 21 6300'.")
@click.option("--joint", help="butt, or the name of a rule for scarfs.")
@click.option("--shift", type=click.Choice(list(SCARF_SHIFTS)),
              help="How scarfs keep apart from scarfs (at first as butts).")  # fmt: skip
@click.option("--opposite", help="Joints of the other garboard: '14-15'.")
@click.option("--keel", help="Scarfs of the keel: '18-19'.")
@click.option("--seconds", help="How long a plan is looked for.")
@click.option("--plan", is_flag=True, help="Plan butts; without it those that are there are judged.")
@click.option("--keep", is_flag=True, help="Keep what was typed, and the butts planned, in the boat.")
@AS_JSON
@click.pass_obj
def butts(boat: Path, /, side: str, rack: bool, there: tuple[str, ...], plan: bool, keep: bool, as_json: bool,
          **typed: str | None) -> None:  # fmt: skip
    """Judge the butts of a side that is lined off, or plan them from the boards to hand."""
    with opened(boat) as engine:
        work = kept(engine)
        units = work.boat.units
        stored, choice = _stored(engine, work, side, needed=True)
        laid = line_off(work.hull(progress(), choice.hull), choice)
        form = replace(ButtsForm.typed(stored.get("butts", {})), **{k: v for k, v in typed.items() if v is not None})
        if there:
            form = replace(form, there="" if there == ("none",) else "\n".join(there))
        if rack:
            boards = (board_from(one) for one in store.choices(engine, "board").values())
            least = float(np.min(np.nanmax(laid.width_mm, axis=1)))
            usable = boards_to_hand(boards, choice.thickness_mm + choice.planing_mm, least)
            form = replace(form, stock=stock_text(usable, units))
            if not form.stock:
                raise BadPlank(
                    "no board in the rack is thick enough and as wide as the narrowest strake at its widest."
                )
        layout = form.layout(laid, units, unmarked_frames(work.frames, laid.hull.stations))
        rules = form.judged_by()
        found = None
        if plan:
            tick = progress()

            def so_far(one: Progress) -> bool:
                tick(f"{one.joints if one.joints is not None else 'no'} butts, not under {one.bound}", 0.5)
                return False

            settings = form.settings(choice.thickness_mm)
            found = plan_butts(layout, form.boards(units), rules, settings, tick=so_far)
            tick("", 1.0)
            layout = found.layout
            form = replace(form, there="\n".join(joint_text(joint, layout, form.kind()) for joint in layout.joints))
        broken = in_units(breaches(layout, rules), units)
        if keep:
            _keep(engine, side, stored, butts=form.mapping())
    if as_json:
        planned = None if found is None else {
            "joints": found.joints, "bound": found.bound, "proved": found.proved,
            "planks": [asdict(one) for one in found.planks],
        }  # fmt: skip
        click.echo(dump({"joints": [asdict(joint) for joint in layout.joints], "breaches": [b.text for b in broken],
                         "source": broken[0].source if broken else "", "plan": planned, "kept": keep}))  # fmt: skip
        return
    lines = []
    if found is not None:
        proved = (
            "no plan with fewer keeps the rules (proved)" if found.proved else f"fewer than {found.bound} cannot be"
        )
        lines.append(f"{_many(found.joints, 'butt')} planned; {proved}.")
        rows = [("strake", "from", "to", f"board wanted ({unit(units)})", f"board taken ({unit(units)})")]
        rows += [(str(p.strake), layout.where(p.first_mm), layout.where(p.last_mm), length(p.length_mm, units),
                  length(p.stock_mm, units)) for p in found.planks]  # fmt: skip
        lines.append(table(rows))
    lines.append(
        f"{_many(len(layout.joints), 'butt')}: "
        + (f"{_many(len(broken), 'breach')}." if broken else "every rule kept.")
    )
    lines += [f"{breach.text} ({breach.source})" for breach in broken]
    click.echo("\n".join(lines))


@lining.command()
@SIDE
@click.argument("strake", type=click.IntRange(1))
@click.option("--name", help="What to call it; at first 'strake N'.")
@click.option("--first", default="", help="Frame or station of its first end.")
@click.option("--last", default="", help="Frame or station of its last end.")
@AS_JSON
@click.pass_obj
def plank(boat: Path, side: str, strake: int, name: str | None, first: str, last: str, as_json: bool) -> None:
    """Make the strake STRAKE of a side that is lined off one of the boat's planks, whole or between two places."""
    with opened(boat) as engine:
        work = kept(engine)
        stored, choice = _stored(engine, work, side, needed=True)
        laid = line_off(work.hull(progress(), choice.hull), choice)
        called = name or f"strake {strake}"
        made = {number: list(names) for number, names in stored.get("planks", {}).items()}
        mine = made.setdefault(str(strake), [])
        if called in work.planks and called not in mine:
            raise NoSuchPlank(f"a plank {called!r} is there already, made from something else; give another --name.")
        drawn = laid.strake(strake, called, first=first, last=last)
        strip = strake_strip(laid.hull, drawn)
        ends = PlankEnds(laid.end_at(strake, strip.first_mm), laid.end_at(strake, strip.last_mm))
        entry = {"kind": "strake", "choice": asdict(replace(drawn, ends=ends))}
        design = work.with_plank(called, entry).plank(called)
        store.keep_plank(engine, called, entry)
        mine[:] = [*[other for other in mine if other != called], called]
        _keep(engine, side, stored, planks=made)
        units = work.boat.units
    if as_json:
        click.echo(dump({"name": called, "length_mm": design.board.plank_length_mm, "board": asdict(design.board)}))
    else:
        click.echo(f"plank {called}: {sized(design.board.plank_length_mm, units)} long, of a board "
                   f"{sized(design.board.length_mm, units)} × {sized(design.board.width_mm, units)}; "
                   f"see scrieve plank {boat} {called!r}.")  # fmt: skip


@lining.command()
@click.option("--angle", type=click.FloatRange(15, 165), default=45.0, show_default=True,
              help="Of the planks to the run of the strakes, halfway up; over 90 they rise going forward.")  # fmt: skip
@click.option("--width", default="125mm", show_default=True, help="Width of the planks halfway up.")
@click.option("--thickness", required=True, help="Thickness of this layer.")
@click.option("--under", help="The second layer: thickness of the first, on which it lies.")
@click.option("--first", default="", help="Frame or station at which the region begins.")
@click.option("--last", default="", help="Frame or station at which it ends.")
@click.option(
    "--hand", type=click.Choice(["P", "S", "pair"]), default="pair", show_default=True, help="Port or starboard."
)
@click.option("--plank", "number", type=click.IntRange(1), help="Draw this plank and keep it in the boat.")
@click.option("--name", help="What to call that plank; at first 'inner N' or 'outer N'.")
@AS_JSON
@click.pass_obj
def skin(boat: Path, angle: float, width: str, thickness: str, under: str | None, first: str, last: str, hand: str,
         number: int | None, name: str | None, as_json: bool) -> None:  # fmt: skip
    """Lay a diagonal skin over a side: its planks with their widths; with --plank, one of them is drawn and kept."""
    with opened(boat) as engine:
        work = kept(engine)
        units = work.boat.units
        layer = "outer" if under else "inner"
        called = name or f"{layer} {number or ''}".strip()
        choice = SkinChoice(
            called, parse_length(thickness, units), angle, parse_length(width, units), 2 if under else 1,
            parse_length(under, units) if under else 0.0, number or 1, "" if hand == "pair" else hand,  # type: ignore[arg-type]
            first=first, last=last,
        )  # fmt: skip
        laid = lay_skin(work.hull(progress()), choice)
        if number:
            before = work.planks.get(called)
            if before is not None and before["kind"] != "diagonal":
                raise NoSuchPlank(
                    f"a plank {called!r} is there already, made from something else; give another --name."
                )
            entry = {"kind": "diagonal", "choice": asdict(choice)}
            work.with_plank(called, entry).plank(called)
            store.keep_plank(engine, called, entry)
    if as_json:
        click.echo(dump({"planks": [asdict(one) for one in laid.planks], "kept": called if number else None}))
        return
    heads = ("plank", f"length ({unit(units)})", f"narrowest ({unit(units)})", f"widest ({unit(units)})", "remark")
    rows = [(str(one.number), *(length(mm, units) for mm in (one.length_mm, one.least_mm, one.greatest_mm)),
             "takes a corner: leave it long" if one.corner else "") for one in laid.planks]  # fmt: skip
    click.echo(f"{len(laid.planks)} planks, {layer} layer.\n" + table([heads, *rows]))
    if number:
        click.echo(f"plank {called} is kept in the boat.")


def _many(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}{'es' if what.endswith('ch') else 's'}"


def _stored(engine: Engine, work: Kept, side: str, needed: bool = False) -> tuple[Mapping[str, Any], LiningChoice]:
    """What is stored of a side, and its lining as chosen, or with what is usual."""
    stored: Mapping[str, Any] = store.choices(engine, "lining").get(side, {})
    if "choice" in stored:
        return stored, LiningChoice.from_mapping(stored["choice"])
    if needed:
        raise BadPlank(
            f"side {side!r} has not been lined off; begin with scrieve lining BOAT off --side {side} --keep."
        )
    thickness = work.boat.thickness_mm or 25.0
    return stored, LiningChoice(f"{side}, lined off", SIDES[side], thickness_mm=thickness)  # type: ignore[arg-type]


def _keep(engine: Engine, side: str, stored: Mapping[str, Any], **changes: Any) -> None:
    store.keep_choice(engine, "lining", side, {**stored, **changes})


def _lining_json(laid: Lining) -> dict[str, Any]:
    return {
        "strakes": laid.strakes,
        "frames": [asdict(frame) for frame in laid.frames],
        "girth_mm": laid.girth_mm, "height_mm": laid.height_mm, "half_breadth_mm": laid.half_breadth_mm,
        "width_mm": laid.width_mm, "hollow_mm": laid.hollow_mm,
        "remarks": list(laid.remarks),
        "checks": [asdict(check) for check in laid.checks],
    }  # fmt: skip
