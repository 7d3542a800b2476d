"""`scrieve sheets`: the job pack of every frame pair and plank, written into a folder."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from itertools import chain
from pathlib import Path
from typing import cast

import click

from scrieve import store
from scrieve.chain import Kept
from scrieve.cli.boards import how_it_stands
from scrieve.cli.common import AS_JSON, BOAT, dump, length, opened, progress
from scrieve.errors import BadBoat, ScrieveError
from scrieve.sheets.board_sheet import write_boards
from scrieve.sheets.pack import write_frame, write_plank
from scrieve.sheets.pdf import Paper
from scrieve.stock.standing import LAYING
from scrieve.store.kept import kept
from scrieve.web.addresses import frame_path, plank_path, printed_path

#: Members made at once.
_AT_ONCE = min(os.cpu_count() or 1, 4)


@click.command()
@BOAT
@click.option("--to", "folder", required=True, type=click.Path(path_type=Path), help="The folder to write into.")
@click.option("--roll", default="914.4mm", show_default=True, help="Width of the roll for full-size patterns.")
@click.option("--no-roll", is_flag=True, help="No patterns on a roll.")
@click.option(
    "--paper", multiple=True, type=click.Choice(["A4", "A3"]), help="Tiled patterns as well; may be given twice."
)
@click.option("--address", default="http://127.0.0.1:8777", show_default=True,
              help="Where the pages are served; the code on a sheet leads there.")  # fmt: skip
@click.option("--date", help="Date on the sheets; today if not given.")
@AS_JSON
def sheets(
    boat: Path,
    folder: Path,
    roll: str,
    no_roll: bool,
    paper: tuple[str, ...],
    address: str,
    date: str | None,
    as_json: bool,
) -> None:
    """Write the sheets of every designed frame pair and plank of BOAT, and of the boards laid, into a folder.

    For each: a bench sheet (PDF, A4), the full-size pattern (PDF on a roll or tiled), DXF, SVG, and its tables as CSV.
    """
    with opened(boat) as engine:
        work = kept(engine)
    if not work.frames and not work.planks:
        raise BadBoat(f"{boat} has no frame or plank designed yet; begin with scrieve frame {boat} LABEL.")
    today = date or datetime.now(tz=UTC).astimezone().strftime("%Y-%m-%d")
    width = None if no_roll else length("--roll", roll, work.boat.units)
    written: list[dict[str, str | int]] = []
    if folder.exists() and not folder.is_dir():
        raise ScrieveError(f"{folder} is a file; name a folder.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for member, revision, files in chain(packs(work, width, paper, address, today), _boards(boat, address, today)):
            for name, data in files.items():
                (folder / name).write_bytes(data)
                written.append({"member": member, "revision": revision, "file": name, "bytes": len(data)})
            if not as_json:
                click.echo(f"{member}, revision {revision}: {len(files)} files")
        _contents(folder / "contents.csv", written)
    except OSError as error:
        if isinstance(error, BrokenPipeError):
            raise
        raise ScrieveError(
            f"{error.filename or folder}: cannot be written ({error.strerror}), so the sheets are not complete; "
            "name a folder that you may write to, with room in it."
        ) from error
    total = sum(int(entry["bytes"]) for entry in written)
    if as_json:
        click.echo(dump(written))
    else:
        click.echo(f"{len(written)} files, {total / 1e6:.1f} MB, in {folder}; contents.csv lists them.")


def packs(
    work: Kept, width: float | None, paper: tuple[str, ...], address: str, date: str
) -> Iterator[tuple[str, str, dict[str, bytes]]]:
    """Each member, its revision and its files, in the order they are kept; several are made at once."""
    tick = progress()
    papers = cast(tuple[Paper, ...], paper)
    base = address.rstrip("/")

    def frame(label: str) -> tuple[str, str, dict[str, bytes]]:
        revision = work.frame_revision(label)
        link = printed_path(base + frame_path(label), revision)
        design = work.frame(label, tick)
        files = write_frame(design, work.boat, revision, link=link, date=date, roll_width_mm=width, papers=papers)
        return f"frame {label}", revision, files

    def plank(name: str) -> tuple[str, str, dict[str, bytes]]:
        revision = work.plank_revision(name)
        link = printed_path(base + plank_path(name), revision)
        flat = work.plank(name, tick)
        files = write_plank(flat, work.boat, revision, link=link, date=date, roll_width_mm=width, papers=papers)
        return f"plank {name}", revision, files

    pool = ThreadPoolExecutor(_AT_ONCE)  # the typesetter, half of the work, runs beside the rest
    try:
        yield from chain(pool.map(frame, work.frames), pool.map(plank, work.planks))
    finally:
        pool.shutdown(cancel_futures=True)


def _boards(boat: Path, address: str, date: str) -> Iterator[tuple[str, str, dict[str, bytes]]]:
    """The boards' sheets, where planks are laid on boards and the laying is not out of date."""
    with opened(boat) as engine:
        if LAYING not in store.choices(engine, "layout"):
            return
        found, own = how_it_stands(engine), store.boat(engine)
    if found.laying is not None and found.laying.placements and not found.stale:
        link = f"{address.rstrip('/')}/timber"
        yield "boards", found.made_from, write_boards(found.laying, own, found.made_from, link=link, date=date)


def _contents(path: Path, written: list[dict[str, str | int]]) -> None:
    out = io.StringIO()
    writer = csv.DictWriter(out, ["member", "revision", "file", "bytes"], lineterminator="\n")
    writer.writeheader()
    writer.writerows(written)
    path.write_bytes(out.getvalue().encode("utf-8-sig"))
