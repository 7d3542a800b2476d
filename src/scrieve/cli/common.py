"""What the commands share: the boat file, lengths as typed, files to read, progress, and printing."""

from __future__ import annotations

import json
import math
import signal
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click
from sqlalchemy import Engine

from scrieve import store
from scrieve.errors import BadLength, BadMarks, ScrieveError
from scrieve.store import Place
from scrieve.takeoff.alike import told_alike
from scrieve.takeoff.tables import MOST_BYTES
from scrieve.units import parse_length
from scrieve.wording import said


class PlaceOfBoat(click.ParamType[Path | Place]):
    """A boat as typed: a file, a boat in a store, or with the setting of a store the name of a boat in that."""

    name = "boat"

    def __init__(self, files_too: bool = False) -> None:
        self.files_too = files_too

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path | Place:
        """Read it."""
        if isinstance(value, (Path, Place)):
            return value
        kept_in = (ctx.find_root().params.get("store") if ctx else None) or ""
        if self.files_too and (Path(value).exists() or Path(value).suffix or len(Path(value).parts) > 1):
            kept_in = ""
        place = Place.of(value, kept_in)
        return place if place.is_server or place.boat else Path(value)


PLACE = PlaceOfBoat()
BOAT = click.argument("boat", type=PLACE)
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")
UNITS = click.option(
    "--units", type=click.Choice(["mm", "cm", "m", "in", "ft"]), help="Unit of bare numbers; ft: feet-inches-eighths."
)


class BoatFirst(click.Group):
    """A group whose boat comes before its command; says so where they are changed over."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command."""
        if args and args[0] not in self.commands and str(ctx.params.get("boat")) in self.commands:
            raise click.UsageError(f"the boat comes first: scrieve {self.name} {args[0]} {ctx.params['boat']} …", ctx)
        return super().resolve_command(ctx, args)


@contextmanager
def opened(boat: Path | Place) -> Iterator[Engine]:
    """Open the boat and let go of her again."""
    engine = store.open_boat(boat)
    try:
        yield engine
    except ScrieveError as error:
        if " mm" in str(error) and not isinstance(error, BadMarks):  # what a file was refused for quotes the file
            error.args = (said(error, store.boat(engine).units), *error.args[1:])
        raise
    finally:
        engine.dispose()


def length(option: str, typed: str | None, units: str = "mm") -> float | None:
    """Read a length as typed after an option; None stays None."""
    if typed is None:
        return None
    try:
        return parse_length(typed, units)
    except BadLength as error:
        raise BadLength(f"{option}: {error}") from error


def read_file(path: Path) -> bytes:
    """Read a file that the user named."""
    if path.is_dir():
        raise BadMarks(f"{path} is a folder; name a file.")
    try:
        with path.open("rb") as file:
            return file.read(MOST_BYTES + 1)  # the reader refuses a file that goes on
    except FileNotFoundError as error:
        raise BadMarks(f"{path}: no such file; look at the name and the folder.") from error
    except OSError as error:
        raise BadMarks(f"{path}: cannot be read ({error.strerror}); check the name, and who may read it.") from error


def whole(bad: Sequence[str], what: str, skip_bad: bool) -> None:
    """Stop with every remark where a file has cells that cannot be read, unless bad rows are to be skipped."""
    if bad and not skip_bad:
        many = "1 cell or row" if len(bad) == 1 else f"{len(bad)} cells or rows"
        raise BadMarks(f"{many} of {what} cannot be read, so nothing was stored:", told_alike(bad))


def say_all(texts: Iterable[str]) -> None:
    """Print warnings, a line each, on stderr."""
    for text in texts:
        click.echo(f"look at this: {text}", err=True)


def progress() -> Callable[[str, float], None]:
    """Say how far long work is: on a terminal in place, elsewhere a line at each step that took over two seconds."""
    last = time.monotonic()
    live = sys.stderr.isatty()

    def tick(what: str, share: float) -> None:
        nonlocal last
        if live:
            click.echo(f"\r{share:4.0%}  {what:<60}" if share < 1 else "\r" + " " * 66 + "\r", err=True, nl=False)
        elif time.monotonic() - last > 2 and share < 1:
            click.echo(f"{share:4.0%}  {what}", err=True)
            last = time.monotonic()

    return tick


@contextmanager
def stopped_by_hand() -> Iterator[Callable[[], bool]]:
    """Give what tells whether Ctrl-C was pressed: a search then ends with its best so far; a second one breaks off."""
    pressed = False

    def press(_number: int, _frame: object) -> None:
        nonlocal pressed
        if pressed:
            raise KeyboardInterrupt
        pressed = True

    before = signal.signal(signal.SIGINT, press)
    try:
        yield lambda: pressed
    finally:
        signal.signal(signal.SIGINT, before)


def dump(value: Any) -> str:
    """JSON with no NaN or infinity in it, and in ASCII, so that no terminal spoils it."""
    return json.dumps(clean(value), allow_nan=False)


def clean(value: Any) -> Any:
    """Plain values for JSON: arrays as lists, what is not finite as null."""
    if isinstance(value, dict):
        return {str(key): clean(item) for key, item in value.items()}
    if hasattr(value, "tolist"):
        return clean(value.tolist())
    if isinstance(value, (list, tuple)):
        return [clean(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def table(rows: Sequence[Sequence[str]]) -> str:
    """Lines of a table: the first row its heads; the first column to the left, the others to the right."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            cell.ljust(w) if i == 0 else cell.rjust(w) for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines)
