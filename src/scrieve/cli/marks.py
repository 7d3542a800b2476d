"""`scrieve marks`: marks in, listed, and the builder's answers to suspects."""

from __future__ import annotations

import hashlib
from collections import Counter
from dataclasses import asdict
from pathlib import Path
from typing import Literal, get_args

import click

from scrieve import store
from scrieve.cli.bevels import bevels
from scrieve.cli.common import AS_JSON, BOAT, UNITS, BoatFirst, dump, opened, read_file, say_all, table, whole
from scrieve.cli.marks_judged import answers_to_rows, likely_slips, settled
from scrieve.errors import BadMarks, NoSuchFrame
from scrieve.takeoff.alike import told_alike
from scrieve.takeoff.frame_names import frames_meant
from scrieve.takeoff.marks import Way
from scrieve.takeoff.sending import doubts_of, frames_words, known_words, open_sending
from scrieve.units import format_length


@click.group(cls=BoatFirst)
@BOAT
@click.pass_context
def marks(ctx: click.Context, boat: Path) -> None:
    """Put marks into BOAT, list them, and answer what is doubted."""
    ctx.obj = boat


@marks.command()
@click.argument("file", type=click.Path(path_type=Path))
@UNITS
@click.option(
    "--kind", "way", type=click.Choice(get_args(Way)), help="How the marks were taken off; told by the columns."
)
@click.option("--skip-bad", is_flag=True, help="Store the good rows and list the rest.")
@click.option("--slips", type=click.Choice(["ask", "store", "keep", "leave"]), default="ask", show_default=True,
              help="Rows that are likely slips: ask (at a terminal; elsewhere they are told and nothing is stored), "
                   "store unjudged, keep whatever the others say, or leave out.")  # fmt: skip
@click.option("--row", "answered", multiple=True, metavar="ROW=store|keep|leave",
              help="The answer to one row that is likely a slip; may be given many times.")  # fmt: skip
@click.option("--second", is_flag=True, help="A second measuring: store rows that the boat has already, too.")
@AS_JSON
@click.pass_obj
def add(
    boat: Path,
    file: Path,
    units: str | None,
    way: Way | None,
    skip_bad: bool,
    slips: str,
    answered: tuple[str, ...],
    second: bool,
    as_json: bool,
) -> None:
    """Add the marks of FILE (CSV or XLSX: frame, station, height, half_breadth; side, mark, sigma, kind, note).

    Ordinates, tapes, templates and arcs have forms of their own: docs/formats.md.

    Nothing is stored unless every row can be read, and every row that is likely a slip, judged by the fair line so far,
    has been answered. Rows that the boat has already are left out: a file sent twice, or
    put right and sent again, is stored once.
    """
    data = read_file(file)
    keep: frozenset[int] = frozenset()
    left = 0
    with opened(boat) as engine:
        settings, there = store.boat(engine), store.marks(engine, taken_back=False)
        gone = len(store.marks(engine)) - len(there)  # taken back, a file may be sent again
        reading = open_sending(data, file.name, there, settings, way=way, units=units, second=second)
        whole(reading.bad, file.name, skip_bad)
        if not reading.marks and not reading.known:
            raise BadMarks("\n".join([f"{file.name}: no mark in it to store; give each mark a row.", *reading.bad]))
        numbers = list(reading.known)
        given = answers_to_rows(answered)
        if reading.marks and slips != "store":
            found = likely_slips(engine, reading, data, file.name, there, units)
            reading, keep, left = settled(reading, found, given, slips, file.name)
        if reading.marks:
            rows = [mark.line for mark in reading.marks]  # what is new of a file hangs on what the boat has
            said = data + f"|{units or settings.units}|{reading.way}|{second}|{rows}|{gone}".encode()
            numbers = store.add_marks(
                engine, reading.marks, key=hashlib.sha256(said).hexdigest(), source=file.name
            )  # fmt: skip
        rows_kept = [n for n, mark in zip(numbers, reading.marks, strict=False) if mark.line in keep]
        if rows_kept:
            store.answer(engine, rows_kept, "keep", note="as answered when it was sent")
        after = store.marks(engine, taken_back=False)
        added = len(after) - len(there)
        doubts = doubts_of(numbers, store.marks(engine, standing=True), settings)
    frames = Counter(mark.frame for mark in reading.marks)
    if as_json:
        click.echo(
            dump(
                {
                    "added": added,
                    "kind": reading.way,
                    "numbers": numbers,
                    "left_out": len(reading.known),
                    "frames": dict(frames),
                    "not_stored": list(reading.bad),
                    "slips_left_out": left,
                    "slips_kept": rows_kept,
                    "warnings": list(reading.warnings),
                    "doubts": [asdict(doubt) for doubt in doubts],
                }
            )
        )
        return
    say_all([*told_alike(reading.bad), *told_alike(reading.warnings), *(doubt.text for doubt in doubts)])
    if reading.way != "offsets" and way is None:
        say_all([f"{file.name} is read as {reading.way}, by its columns; --kind states another form."])
    if left:
        say_all([f"{file.name}: {left} likely slip{'' if left == 1 else 's'} left out, as answered."])
    if not added and left:
        click.echo(f"{file.name}: nothing new was stored.")
    elif not added:
        click.echo(f"{file.name} was added before; its {len(numbers)} marks are in the boat, once.")
    else:
        say_all(filter(None, [known_words(len(reading.known))]))
        click.echo(f"{frames_words(reading.marks)} added. Next: scrieve fair {boat}")


@marks.command(name="list")
@click.option("--frame", "label", help="Only this frame.")
@AS_JSON
@click.pass_obj
def list_marks(boat: Path, label: str | None, as_json: bool) -> None:
    """List the marks."""
    with opened(boat) as engine:
        units, said = store.boat(engine).units, store.answers(engine)
        every = store.marks(engine)
        met = frames_meant(label, {mark.frame: mark.station_mm for mark in every}) if label else ()
        there = [mark for mark in every if label is None or mark.frame in met]
    if as_json:
        click.echo(dump([{**asdict(mark), "answer": said.get(mark.number)} for mark in there]))
        return
    rows = [["number", "frame", "side", "mark", "kind", "station", "height", "half-breadth", "answer"]]
    for mark in there:
        lengths = [format_length(v, units, 1) for v in (mark.station_mm, mark.height_mm, mark.half_breadth_mm)]
        rows.append(
            [str(mark.number), mark.frame, mark.side, mark.label, mark.kind, *lengths, said.get(mark.number, "")]
        )
    if there:
        click.echo(table(rows))
    elif label is None:
        click.echo(f"no marks yet; scrieve marks {boat} add FILE")
    else:
        raise NoSuchFrame(f"no marks on frame {label!r}; scrieve marks {boat} list shows all there are.")


def _say(boat: Path, numbers: tuple[int, ...], what: Literal["keep", "drop"], note: str) -> None:
    with opened(boat) as engine:
        store.answer(engine, numbers, what, note=note)
    word = "kept, whatever the others say" if what == "keep" else "dropped; still in the file, but no longer counted"
    click.echo(f"mark{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}: {word}.")


@marks.command()
@click.argument("numbers", nargs=-1, required=True, type=int)
@click.option("--note", default="", help="Why, for the record.")
@click.pass_obj
def keep(boat: Path, numbers: tuple[int, ...], note: str) -> None:
    """Keep marks that are suspect: looked at again, and right."""
    _say(boat, numbers, "keep", note)


@marks.command()
@click.argument("numbers", nargs=-1, required=True, type=int)
@click.option("--note", default="", help="Why, for the record.")
@click.pass_obj
def drop(boat: Path, numbers: tuple[int, ...], note: str) -> None:
    """Drop marks: they stay in the file, but do not count."""
    _say(boat, numbers, "drop", note)


marks.add_command(bevels)
