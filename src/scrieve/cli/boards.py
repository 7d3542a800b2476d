"""`scrieve boards`: boards in the rack, and the planks laid on them."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import click
from sqlalchemy import Engine

from scrieve import store
from scrieve.cli.common import (
    AS_JSON,
    BOAT,
    UNITS,
    BoatFirst,
    dump,
    opened,
    progress,
    read_file,
    say_all,
    stopped_by_hand,
    table,
    whole,
)
from scrieve.errors import BadBoard
from scrieve.sheets.bench import Table
from scrieve.sheets.board_dxf import read_boards_dxf
from scrieve.sheets.board_ripping import ripping_tables
from scrieve.sheets.board_sheet import write_boards
from scrieve.sheets.board_tables import cutting_list, off_cut_list, order_list
from scrieve.sheets.figures import sized, thickness
from scrieve.stock.board import Board, rectangular
from scrieve.stock.by_hand import held
from scrieve.stock.forms import mapping_of, read_boards
from scrieve.stock.laying import Progress, lay_parts
from scrieve.stock.layout import kept_laying
from scrieve.stock.result import result_of
from scrieve.stock.rip_kept import RIPPING, FrameStrips, boards_free, kept_ripping
from scrieve.stock.rip_kept import rip as rip_out
from scrieve.stock.standing import CUT, LAYING, OFF, UNDONE, Standing, cut_record, fresh, standing, uncut
from scrieve.store.kept import kept
from scrieve.units import parse_length
from scrieve.wording import in_units


@click.group(cls=BoatFirst)
@BOAT
@click.pass_context
def boards(ctx: click.Context, boat: Path) -> None:
    """The rack of BOAT: boards added, listed, and the planks laid on them."""
    ctx.obj = boat


@boards.command()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--square", nargs=4, metavar="NAME LENGTH WIDTH THICKNESS", help="One square-edged board, as typed.")
@click.option("--timber", default="", help="Timber of the board typed.")
@click.option("--cost", type=click.FloatRange(0), help="Cost of the board typed, in the shop's money.")
@UNITS
@AS_JSON
@click.pass_obj
def add(boat: Path, file: Path | None, square: tuple[str, ...] | None, timber: str, cost: float | None,
        units: str | None, as_json: bool) -> None:  # fmt: skip
    """Add the boards of FILE (CSV, XLSX or DXF, as docs/boards.md tells), or one square-edged board."""
    with opened(boat) as engine:
        unit = units or store.boat(engine).units
        if (file is None) == (not square):
            raise BadBoard("give a FILE of boards, or one board with --square.")
        if square:
            length, width, thick = (parse_length(text, unit) for text in square[1:])
            found: tuple[Board, ...] = (rectangular(square[0], length, width, thick, timber=timber.lower(), cost=cost),)
        else:
            assert file is not None
            read = read_boards_dxf if file.suffix.lower() == ".dxf" else read_boards
            reading = read(read_file(file), file.name, units=unit)  # type: ignore[arg-type]
            whole(reading.bad, file.name, skip_bad=False)
            say_all(reading.warnings)
            found = reading.boards
        how_it_stands(engine).may_add(found)
        for board in found:
            store.keep_choice(engine, "board", board.name, mapping_of(board))
    names = [board.name for board in found]
    click.echo(dump({"added": names}) if as_json else f"{len(names)} in the rack: {', '.join(names)}.")


@boards.command()
@click.argument("name")
@AS_JSON
@click.pass_obj
def drop(boat: Path, name: str, as_json: bool) -> None:
    """Take the board NAME off the rack."""
    with opened(boat) as engine:
        if name not in {board.name for board in how_it_stands(engine).boards}:
            raise BadBoard(f"board {name!r} is not in the rack.")
        typed = name in store.choices(engine, "board")
        store.keep_choice(engine, "board", name, None if typed else OFF)
    click.echo(dump({"dropped": name}) if as_json else f"board {name} is off the rack.")


@boards.command(name="list")
@AS_JSON
@click.pass_obj
def listed(boat: Path, as_json: bool) -> None:
    """The boards in the rack."""
    with opened(boat) as engine:
        units = store.boat(engine).units
        rack = how_it_stands(engine).boards
    if as_json:
        click.echo(dump({"boards": [mapping_of(board) | {"area_mm2": board.area_mm2} for board in rack]}))
        return
    if not rack:
        click.echo("No boards yet: scrieve boards BOAT add FILE")
        return
    rows = [("board", "length", "mean width", "thickness", "defects", "cost", "timber")]
    for one in rack:
        cost = "–" if one.cost is None else f"{one.cost:.2f}"
        rows.append((one.name, sized(one.length_mm, units), sized(one.area_mm2 / one.length_mm, units),
                     thickness(one.thickness_mm, units), str(len(one.defects)), cost, one.timber or "–"))  # fmt: skip
    click.echo(table(rows))


@boards.command()
@click.option("--seconds", type=click.FloatRange(1, 600), help="Search for at most so long (at first 30).")
@click.option("--rounds", type=click.IntRange(1), help="Search so many rounds: the same seed and rounds lay the same.")
@click.option("--seed", type=click.IntRange(0), help="Another seed searches another way (at first 1).")
@AS_JSON
@click.pass_obj
def lay(boat: Path, seconds: float | None, rounds: int | None, seed: int | None, as_json: bool) -> None:
    """Lay all planks on all boards; cutting list, off-cuts, yield, and what to order.

    Ctrl-C stops the search with the best so far, a second one with nothing. The laying is kept in BOAT. The shop's
    rules (grain, knots, kerf) are those of the timber page.
    """
    with opened(boat) as engine:
        found = how_it_stands(engine, seconds=seconds, seed=seed)
        rack, parts, shop, units = found.boards, found.parts, found.shop, store.boat(engine).units
        if not rack:
            raise BadBoard("there are no boards to lay anything on; add them with 'scrieve boards BOAT add'.")
        say_all([f"plank {name} is not laid: {why}" for name, why in found.said])
        if not parts:
            raise BadBoard("there is nothing to lay: no plank is drawn that is not cut already.")
        tick = progress()

        def so_far(one: Progress) -> bool:
            tick(f"{one.laid} of {one.parts} parts on {one.boards} boards, {one.rounds} rounds", 0.5)
            return not pressed()

        with stopped_by_hand() as pressed:
            laying = lay_parts(rack, parts, saw=shop.saw, keep=shop.keep, seed=shop.seed, rounds=rounds or 100_000,
                               held=held(found.laying, rack, [part.name for part in found.at_hand.parts]),
                               seconds=None if rounds else shop.seconds, progress=so_far)  # fmt: skip
        tick("", 1.0)
        store.keep_choice(engine, "layout", LAYING, kept_laying(laying, found.made_from))
    result = in_units(result_of(laying), units) if not as_json else result_of(laying)
    if as_json:
        click.echo(dump(_json(result, laying.rounds, found.made_from)))
        return
    lines = [f"{len(result.cuts)} of {len(laying.parts)} parts on {len(result.uses)} of {len(rack)} boards; yield "
             f"{result.share_kept:.0%} of what is used up, {result.share:.0%} of the boards cut into; by volume "
             f"{result.share_volume:.0%}."]  # fmt: skip
    if result.cost is not None:
        lines.append(f"Cost of what is used up: {result.cost:.2f}.")
    lines += [f"{one.part} finds no place: {one.why}" for one in result.missing]
    lines += _told(cutting_list(result.cuts, units)) + _told(off_cut_list(result.off_cuts, units))
    lines += _told(order_list(result.orders, units))
    lines.append(f"Laid with seed {laying.seed} in {laying.rounds} rounds; revision {found.made_from}.")
    click.echo("\n".join(lines))


@boards.command()
@click.option("--to", "folder", required=True, type=click.Path(path_type=Path), help="The folder to write into.")
@click.option("--date", help="Date on the sheet; today if not given.")
@AS_JSON
@click.pass_obj
def sheets(boat: Path, folder: Path, date: str | None, as_json: bool) -> None:
    """Write the boards' sheets into a folder: pictures and lists (PDF, A4), tables (CSV), each board (DXF)."""
    with opened(boat) as engine:
        found, own = how_it_stands(engine), store.boat(engine)
    today = date or datetime.now(tz=UTC).astimezone().strftime("%Y-%m-%d")
    files = write_boards(fresh(found), own, found.made_from, date=today)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            (folder / name).write_bytes(data)
    except OSError as error:
        raise BadBoard(f"{error.filename or folder}: cannot be written ({error.strerror}); name a folder that you may "
                       "write to.") from error  # fmt: skip
    told = f"{len(files)} files in {folder}, revision {found.made_from}."
    click.echo(dump({"revision": found.made_from, "files": sorted(files)}) if as_json else told)


@boards.command()
@click.option("--seconds", type=click.FloatRange(1, 600), default=15.0, show_default=True, help="Time for the solver.")
@AS_JSON
@click.pass_obj
def rip(boat: Path, seconds: float, as_json: bool) -> None:
    """Rip the laminations of all designed frame pairs out of the boards on which no plank is laid."""
    with opened(boat) as engine:
        work, found = kept(engine), how_it_stands(engine)
        wanted = [
            FrameStrips(label, work.frame_revision(label), tuple(work.frame(label).order)) for label in work.frames
        ]
        ripped = rip_out(boards_free(found.boards, found.laying), wanted, found.shop, seconds=seconds)
        store.keep_choice(engine, "layout", RIPPING, kept_ripping(ripped))
    if as_json:
        click.echo(dump(kept_ripping(ripped)))
        return
    lines = [f"{ripped.share:.0%} of the clear pieces ripped becomes laminations; revision {ripped.made_from}."]
    click.echo("\n".join(sum((_told(one) for one in ripping_tables(ripped, found.boards, work.boat.units)), lines)))


@boards.command()
@click.argument("name")
@click.option("--back", is_flag=True, help="It was noted by mistake: put the board back.")
@AS_JSON
@click.pass_obj
def cut(boat: Path, name: str, back: bool, as_json: bool) -> None:
    """The board NAME is cut as it was laid: its parts are done, its off-cuts go to the rack."""
    with opened(boat) as engine:
        found = how_it_stands(engine)
        if back:
            store.add_record(engine, CUT, name, UNDONE, corrects=uncut(found, name))
        else:
            work = kept(engine)
            planks = [(plank, work.plank_revision(plank)) for plank in work.planks]
            store.add_record(engine, CUT, name, cut_record(found, name, planks))
        after = how_it_stands(engine)
    fresh = [board.name for board in after.boards if board.name not in {one.name for one in found.boards}]
    done = [part for part, board in after.cut.items() if board == name]
    if as_json:
        click.echo(dump({"board": name, "back": back, "parts": done, "added": fresh}))
    elif back:
        click.echo(f"board {name} is back in the rack.")
    else:
        click.echo(f"board {name} is cut: {', '.join(done)}; off-cuts kept: {', '.join(fresh) or 'none'}.")


def how_it_stands(engine: Engine, *, seconds: float | None = None, seed: int | None = None) -> Standing:
    """Return how the timber stands; `seconds` and `seed` stand in for those of the shop's rules."""
    work = kept(engine)
    cuts = [(record.number, record.detail) for record in store.records(engine, CUT)]
    layout = store.choices(engine, "layout")
    planks = [(name, work.plank_revision(name), partial(work.plank, name)) for name in work.planks]
    found = standing(store.choices(engine, "board"), cuts, layout, planks)
    shop = replace(found.shop, seconds=seconds or found.shop.seconds, seed=found.shop.seed if seed is None else seed)
    return replace(found, shop=shop)


def _told(found: Table) -> list[str]:
    return ["", found.title, table([found.columns, *found.rows])] if found.rows else []


def _json(result: Any, rounds: int, made_from: str) -> dict[str, Any]:
    return {
        "revision": made_from,
        "rounds": rounds,
        "cuts": [asdict(one) for one in result.cuts],
        "off_cuts": [{"board": mapping_of(one.board), "outline": one.outline} for one in result.off_cuts],
        "missing": [asdict(one) for one in result.missing],
        "orders": [asdict(one) for one in result.orders],
        "yield": result.share,
        "yield_off_cuts_kept": result.share_kept,
        "yield_by_volume": result.share_volume,
        "cost": result.cost,
        "workings": [asdict(one) for one in result.workings],
    }
