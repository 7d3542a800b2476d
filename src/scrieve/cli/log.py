"""`scrieve log`, `scrieve record`, `scrieve bundle`: the logbook, the record a surveyor reads, and the archive."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict
from functools import reduce
from pathlib import Path
from typing import Any

import click

from scrieve.cli.common import AS_JSON, BOAT, BoatFirst, dump, opened, read_file
from scrieve.errors import ScrieveError
from scrieve.logbook import Entry, entries, found
from scrieve.logbook.written import NOTE
from scrieve.store import Place, acts, every_record

_ASKED = (
    click.option("--member", default="", help="Only of this frame, plank or board, such as 'frame 14'."),
    click.option("--day", default="", help="Only of this day (UTC), such as 2026-03-14."),
    click.option("--who", default="", help="Only what this person wrote or did."),
    click.option("--what", default="", help="Only of this kind, such as fitted."),
    click.option("--last", default=40, show_default=True, type=click.IntRange(1), help="Only the last so many."),
    AS_JSON,
    click.pass_obj,
)


def _asking(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command that lists entries the options that say which."""
    return reduce(lambda given, option: option(given), reversed(_ASKED), command)


@click.group(cls=BoatFirst)
@BOAT
@click.pass_context
def log(ctx: click.Context, boat: Path | Place) -> None:
    """Write in the logbook of BOAT, and read it."""
    ctx.obj = boat


@log.command()
@click.argument("text", default="")
@click.option("--kind", default=NOTE, show_default=True, help="What was done: fitted, inspected, deviation...")
@click.option("--member", default="", help="Frame, plank or board that it is of, such as 'frame 14'; else the boat.")
@click.option("--figure", "figures", multiple=True, help="A figure, 'gap at the scarf: 0.4 mm'; may be given again.")
@click.option("--temperature", default="", help="Of the shed [°C].")
@click.option("--humidity", default="", help="Of the shed [%].")
@click.option("--photograph", "photographs", multiple=True, type=click.Path(path_type=Path),
              help="A picture (JPEG, PNG) to go with it; may be given again.")  # fmt: skip
@click.option("--corrects", default=0, type=click.IntRange(0), help="Number of the entry that this puts right.")
@click.option("--sign", default="", help="Who signs it; where the yard has people, with --pin-file.")
@click.option("--pin-file", type=click.Path(path_type=Path), help="Take the PIN from this file's first line.")
@AS_JSON
@click.pass_obj
def add(boat: Path | Place, /, pin_file: Path | None, photographs: Sequence[Path], figures: Sequence[str],
        corrects: int, as_json: bool, **typed: str) -> None:  # fmt: skip
    """Write TEXT into the logbook."""
    from scrieve.web.desk import at_desk
    from scrieve.web.forms import Parcel
    from scrieve.web.logbook.work import keep

    fields = typed | {"values": "\n".join(figures), "corrects": str(corrects or "")}
    if pin_file:
        fields["pin"] = read_file(pin_file).decode(errors="replace").splitlines()[0].strip()
    with at_desk(boat) as view:
        number = keep(view, Parcel(fields, files=tuple(read_file(path) for path in photographs)))
    click.echo(dump({"entry": number}) if as_json else f"entry {number} stored")


@log.command("list")
@_asking
def listed(boat: Path | Place, /, last: int, as_json: bool, **asked: str) -> None:
    """List the latest entries, the latest last."""
    _show(boat, "", last, as_json, asked)


@log.command()
@click.argument("words", nargs=-1, required=True)
@_asking
def search(boat: Path | Place, /, words: Sequence[str], last: int, as_json: bool, **asked: str) -> None:
    """List the entries that hold all WORDS."""
    _show(boat, " ".join(words), last, as_json, asked)


def _show(boat: Path | Place, words: str, last: int, as_json: bool, asked: dict[str, str]) -> None:
    with opened(boat) as engine:
        every = found(entries(acts(engine), every_record(engine)), words, **asked)
    shown = every[:last][::-1]
    if as_json:
        click.echo(dump({"found": len(every), "entries": [_plain(entry) for entry in shown]}))
        return
    if not shown:
        click.echo("no entry of that kind")
        return
    for entry in shown:
        click.echo(_line(entry))
    if len(every) > last:
        click.echo(f"{len(every) - last} earlier ones: --last {len(every)} shows all")


def _plain(entry: Entry) -> dict[str, Any]:
    return asdict(entry) | {"values": [list(pair) for pair in entry.values]}


def _line(entry: Entry) -> str:
    head = f"{entry.at[:16].replace('T', ' ')}  {entry.who}"
    head += f"  entry {entry.number}" if entry.number else ""
    what = ", ".join(part for part in (entry.member, entry.what) if part)
    said = [entry.text, "; ".join(f"{name}: {value}" for name, value in entry.values)]
    notes = [f"{len(entry.photographs)} photographs" if len(entry.photographs) > 1 else "1 photograph"]
    more = [
        *(notes if entry.photographs else []),
        *([f"signed {entry.signed_by}"] if entry.signed_by else []),
        *([f"puts entry {entry.corrects} right"] if entry.corrects else []),
        *([f"put right by entry {entry.corrected_by}"] if entry.corrected_by else []),
    ]
    tail = f" ({'; '.join(more)})" if more else ""
    return f"{head}  {what}: {' '.join(part for part in said if part)}".rstrip(": ") + tail


_TO = click.option("--to", type=click.Path(path_type=Path), required=True, help="The file to write.")


@click.command()
@BOAT
@_TO
@AS_JSON
def record(boat: Path | Place, to: Path, as_json: bool) -> None:
    """Write the record of BOAT that a surveyor reads, as a PDF."""
    from scrieve.web.desk import at_desk
    from scrieve.web.logbook.record import record_of

    with at_desk(boat) as view:
        if view.cannot:
            raise view.cannot
        _write(to, record_of(view), as_json)


@click.command()
@BOAT
@_TO
@AS_JSON
def bundle(boat: Path | Place, to: Path, as_json: bool) -> None:
    """Write BOAT as a bundle for an archive: JSON, CSV and photographs in a ZIP file."""
    from scrieve.web.desk import at_desk
    from scrieve.web.logbook.work import bundle_of

    with at_desk(boat) as view:
        _write(to, bundle_of(view), as_json)


def _write(to: Path, data: bytes, as_json: bool) -> None:
    try:
        to.write_bytes(data)
    except OSError as error:
        raise ScrieveError(f"{to}: cannot be written ({error.strerror}); look at the name and the folder.") from error
    click.echo(dump({"file": str(to), "bytes": len(data)}) if as_json else f"{to}: {len(data) / 1e6:.1f} MB")
