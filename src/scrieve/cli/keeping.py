"""`scrieve move`, `backup`, `check`, `undo`: where a boat is kept, and that she is kept safe."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from scrieve import store
from scrieve.cli.common import AS_JSON, BOAT, PlaceOfBoat, dump, opened, table
from scrieve.errors import BadBoat, ScrieveError
from scrieve.store import Place
from scrieve.store.checking import way_out


@click.command()
@click.argument("boat", type=PlaceOfBoat(files_too=True))
@click.argument("to", type=PlaceOfBoat(files_too=True))
@click.option("--copy", is_flag=True, help="Copy her: the boat left behind may be worked on further.")
@click.option("--people", is_flag=True, help="Who may sign in to the store of BOAT may sign in to that of TO as well.")
@AS_JSON
def move(boat: Path | Place, to: Path | Place, copy: bool, people: bool, as_json: bool) -> None:
    """Carry BOAT to another store TO: a new file, FILE#NAME, or postgresql://…#NAME.

    What arrives is compared with what was sent, count by count and digest by digest, before anything is kept of it.
    """
    moved = store.move(boat, to, copy=copy, people=people)
    found = moved.content
    if as_json:
        told = {"came": moved.came, "known": moved.known, "left": moved.left}
        click.echo(
            dump(
                {name: asdict(each) for name, each in found.items()} | ({"people": told} if any(told.values()) else {})
            )
        )
        return
    rows = [["table", "rows", "digest"], *([name, str(each.rows), each.digest[:12]] for name, each in found.items())]
    click.echo(table(rows))
    click.echo(f"{Place.of(boat)} {'copied' if copy else 'moved'} to {Place.of(to)}: counts and digests agree.")
    if moved.came:
        click.echo(f"may sign in there as here: {', '.join(moved.came)}")
    if moved.known:
        click.echo(f"were there already, and are as they were: {', '.join(moved.known)}")
    if moved.left:
        click.echo(f"may not sign in there: {', '.join(moved.left)} ('--people' takes them along)")


@click.command()
@BOAT
@click.option("--to", type=click.Path(path_type=Path), help="The new file, or a folder for it.")
@AS_JSON
def backup(boat: Path | Place, to: Path | None, as_json: bool) -> None:
    """Copy the store of BOAT to a new boat file while others go on working, and prove the copy by restoring it."""
    copy = store.backup(boat, to)
    if as_json:
        boats = {name: {each: asdict(found) for each, found in tables.items()} for name, tables in copy.boats.items()}
        click.echo(dump({"copy": str(copy.path), "bytes": copy.size, "boats": boats}))
        return
    marks = sum(tables["marks"].rows for tables in copy.boats.values())
    boats_said = ", ".join(copy.boats)
    size = f"{copy.size / 1e6:.1f} MB"
    click.echo(f"{copy.path}: {boats_said}; {marks} marks, {size}. Restored from it once: nothing differs.")


@click.command()
@BOAT
@AS_JSON
def check(boat: Path | Place, as_json: bool) -> None:
    """Look the store of BOAT through: its pages, its rows, and what is there against what the acts say."""
    place = Place.of(boat)
    try:
        found = store.check(place)
    except BadBoat as error:
        if "damaged" not in str(error):
            raise
        raise BadBoat(f"{error}\n{way_out(place)}") from error
    if as_json:
        click.echo(dump([asdict(each) for each in found]))
    else:
        rows = [["boat", "what", "verdict", "found"]]
        rows += [[each.boat or "(store)", each.what, "sound" if each.ok else "NOT SOUND", each.found] for each in found]
        click.echo(table(rows))
    if wrong := sum(not each.ok for each in found):
        raise ScrieveError(f"{place}: {wrong} of {len(found)} not sound. {way_out(place)}")


@click.command()
@BOAT
@click.argument("to", type=click.Path(path_type=Path))
@AS_JSON
def salvage(boat: Path | Place, to: Path, as_json: bool) -> None:
    """Save what can be read of the damaged file BOAT into the new file TO; the damaged one is not touched."""
    saved = store.salvage(boat, to)
    if as_json:
        click.echo(dump({name: asdict(each) for name, each in saved.items()}))
        return
    rows = [["table", "rows read", "made good from the acts", "missing"]]
    rows += [[name, str(each.rows), str(each.made_good or "-"), each.missing or "-"] for name, each in saved.items()]
    click.echo(table(rows))
    click.echo(f"{to}: saved. Compare it with your latest copy before you work on with either.")


@click.command()
@BOAT
@click.option("--acts", default=1, show_default=True, type=click.IntRange(1, 1000), help="How many of the last acts.")
@click.option("--number", type=click.IntRange(1), help="This act instead; one that took another back brings it back.")
@AS_JSON
def undo(boat: Path | Place, acts: int, number: int | None, as_json: bool) -> None:
    """Take the last acts in BOAT back, each by a new act; nothing is deleted."""
    with opened(boat) as engine:
        taken = store.undo(engine, acts, number=number)
    if as_json:
        click.echo(dump([asdict(each) for each in taken]))
        return
    for each in taken:
        click.echo(f"taken back: act {each.number}, {each.what}, by {each.who} at {each.at[:16].replace('T', ' ')} UTC")
