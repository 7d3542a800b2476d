"""What can still be read of a damaged file, saved into a new one; the damaged file is not touched."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Table, insert, select

from scrieve.errors import BadBoat
from scrieve.store import schema
from scrieve.store.acting import act
from scrieve.store.connect import clear, engine_of
from scrieve.store.file import blank_file, check_head
from scrieve.store.place import Place

#: In the order in which rows may be put in; sittings and jobs are not worth it.
_TABLES = (schema.boat, *schema.CARRIED, schema.people)
#: Where not even the last row of a table can be found: rows are sought in spans of so many numbers, until so many
#: spans on end hold nothing that can be read. A page holds fewer rows than a span.
_SPAN, _BARREN = 512, 8
_JSON = {"choice", "detail", "was", "now", "answer"}


@dataclass(frozen=True, slots=True)
class Saved:
    """What was saved of one table: rows read, rows made good from the acts, and in words what is missing."""

    rows: int
    made_good: int
    missing: str


def salvage(damaged: str | os.PathLike[str] | Place, to: str | os.PathLike[str] | Place) -> dict[str, Saved]:
    """Read every row that can be read, leaf by leaf round the damage, into a new file; return what was saved.

    Choices, answers and the boat's settings that cannot be read are made good from the acts, which tell them too. Rows
    that refer to what is lost are left out. An act in the new file tells what was done.

    Raises
    ------
    BadBoat
        It is no boat file of this Scrieve, its list of tables cannot be read, or the new file is there or cannot be
        made.
    """
    source, target = Place.of(damaged), Place.of(to)
    if source.is_server or target.is_server:
        raise BadBoat("what is damaged on a server is mended with its own tools; this is for files.")
    if target.file.exists():
        raise BadBoat(f"{target}: there is a file of that name already; choose another name.")
    check_head(source.file)
    half = target.file.with_name(f".{target.file.name}.{os.getpid()}.half")
    try:
        with tempfile.TemporaryDirectory(prefix="scrieve-salvage-") as folder:
            rows, broken = _read(source, Path(folder))
        with clear(target):
            blank_file(half)
            found = _write(half, rows, broken)
        with contextlib.closing(sqlite3.connect(half)) as raw:
            raw.execute("PRAGMA journal_mode=DELETE")
        half.replace(target.file)
    except OSError as error:
        raise BadBoat(f"{error.filename or target}: {error.strerror}; choose another place.") from error
    finally:
        for end in ("", "-wal", "-shm", "-journal"):
            half.with_name(half.name + end).unlink(missing_ok=True)
    return found


def _read(source: Place, folder: Path) -> tuple[dict[str, list[dict[str, Any]]], set[str]]:
    """Return every row that can be read of a copy of the file, by table; and the tables that were damaged."""
    shutil.copy(source.file, folder / "damaged")
    with contextlib.suppress(FileNotFoundError):
        shutil.copy(source.file.with_name(f"{source.file.name}-wal"), folder / "damaged-wal")
    rows: dict[str, list[dict[str, Any]]] = {}
    broken: set[str] = set()
    with contextlib.closing(sqlite3.connect(folder / "damaged", isolation_level=None)) as db:
        db.row_factory = sqlite3.Row
        try:
            number = int(db.execute("PRAGMA user_version").fetchone()[0])
            there = {name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        except sqlite3.DatabaseError as error:
            raise BadBoat(
                f"{source}: not even the list of its tables can be read ({error}); nothing can be saved of it by this. "
                "Open your latest copy."
            ) from error
        if number != schema.SCHEMA or schema.boat.name not in there:
            raise BadBoat(f"{source}: it is no boat file of this Scrieve (schema {number}, ours {schema.SCHEMA}).")
        for table in _TABLES:
            found = list(_rows(db, table.name, broken)) if table.name in there else []
            rows[table.name] = [_plain(dict(row)) for row in found]
    return rows, broken


def _rows(db: sqlite3.Connection, table: str, broken: set[str]) -> Iterator[sqlite3.Row]:
    """Give the rows of a table, passing over those that cannot be read."""
    try:
        last = int(db.execute(f"SELECT coalesce(max(id), 0) FROM {table} NOT INDEXED").fetchone()[0])
    except sqlite3.DatabaseError:
        broken.add(table)
    else:
        yield from _between(db, table, 1, last, broken)
        return
    barren = low = 0
    while barren < _BARREN:  # the end is destroyed: on until so many spans hold nothing
        found = list(_between(db, table, low + 1, low + _SPAN, broken))
        yield from found
        barren, low = (0 if found else barren + 1), low + _SPAN


def _between(db: sqlite3.Connection, table: str, low: int, high: int, broken: set[str]) -> Iterator[sqlite3.Row]:
    """Give the rows of a span of a table; the halves of what fails are tried again."""
    # a limit, so that the page after the last row is not looked into
    query = f"SELECT * FROM {table} NOT INDEXED WHERE id BETWEEN ? AND ? ORDER BY id LIMIT ?"
    spans = [(low, high)]
    while spans:
        low, high = spans.pop()
        try:
            found = db.execute(query, (low, high, high - low + 1)).fetchall()
        except sqlite3.ProgrammingError:
            raise
        except sqlite3.DatabaseError:
            broken.add(table)
            if low < high:
                middle = (low + high) // 2
                spans += [(middle + 1, high), (low, middle)]
            continue
        yield from found


def _plain(row: dict[str, Any]) -> dict[str, Any]:
    return {name: json.loads(value) if name in _JSON and isinstance(value, str) else value
            for name, value in row.items()}  # fmt: skip


def _write(half: Path, rows: Mapping[str, list[dict[str, Any]]], broken: set[str]) -> dict[str, Saved]:
    engine = engine_of(Place(str(half)))
    found: dict[str, Saved] = {}
    try:
        with engine.begin() as db:
            for boat in _boats(rows):
                db.execute(insert(schema.boat), boat)
            kept: dict[str, set[tuple[int, int]]] = {}
            for table in _TABLES:
                good = _good(table, rows[table.name], kept)
                made = _made_good(table, rows, kept)
                if table in (schema.choices, schema.answers):  # the latest stands: in the order of their acts
                    good = [{name: row[name] for name in row if name != "id"} for row in good]
                for row in () if table is schema.boat else sorted([*good, *made], key=lambda row: row.get("act", 0)):
                    db.execute(insert(table), row)
                missing = _missing(table, rows[table.name], len(rows[table.name]) - len(good), table.name in broken)
                found[table.name] = Saved(len(good), len(made), missing)
            for boat_id in db.execute(select(schema.boat.c.id)).scalars():
                told = {name: each.missing for name, each in found.items() if each.missing}
                act(db, boat_id, "scrieve", "saved from a damaged file", told)
    finally:
        engine.dispose()
    return found


def _boats(rows: Mapping[str, list[dict[str, Any]]]) -> list[dict[str, Any]]:
    """The boats' own rows; of one that cannot be read what the acts tell of her settings."""
    found = {row["id"]: row for row in rows["boat"]}
    for row in rows["acts"]:
        lost = "made_good" in found.get(row["boat_id"], {"made_good": True})
        if lost and row["what"] in ("made the boat", "changed the boat"):
            found[row["boat_id"]] = {**row["detail"], "id": row["boat_id"], "made_good": True,
                                     "known_as": f"boat {row['boat_id']}", "act": row["number"]}  # fmt: skip
    return [{name: value for name, value in row.items() if name in schema.boat.c} for row in found.values()]


def _good(table: Table, rows: list[dict[str, Any]], kept: dict[str, set[tuple[int, int]]]) -> list[dict[str, Any]]:
    """Rows that refer to nothing lost."""
    good = []
    for row in rows:
        if table is schema.answers and (row["boat_id"], row["number"]) not in kept["marks"]:
            continue
        if table is schema.records and row["corrects"] and (row["boat_id"], row["corrects"]) not in kept["records"]:
            row = row | {"corrects": None}  # what it corrects is lost; it stands by itself
        if "number" in row:
            kept.setdefault(table.name, set()).add((row["boat_id"], row["number"]))
        good.append(row)
    kept.setdefault(table.name, set())
    return good


def _made_good(
    table: Table, rows: Mapping[str, list[dict[str, Any]]], kept: dict[str, set[tuple[int, int]]]
) -> list[dict[str, Any]]:
    """Choices and answers that acts tell of, and that could not be read."""
    made: list[dict[str, Any]] = []
    if table not in (schema.choices, schema.answers):
        return made
    there = {(row["boat_id"], row["act"]) for row in rows[table.name] if "act" in row}
    for row in rows["acts"]:
        of, now = {"boat_id": row["boat_id"], "act": row["number"]}, row["now"] or {}
        if (row["boat_id"], row["number"]) in there:
            continue
        if table is schema.choices and "choice" in now:
            made.append({name: now[name] for name in ("part", "name", "choice")} | of)
        if table is schema.answers and not str(row["what"]).startswith("added"):
            for low, high, what in now.get("answers", ()):
                numbers = [n for n in range(low, high + 1) if (row["boat_id"], n) in kept["marks"] and what]
                made += [{"number": n, "what": what, "note": "", **of} for n in numbers]
    return made


def _missing(table: Table, rows: list[dict[str, Any]], loose: int, broken: bool) -> str:
    """Say what is not there: numbers that are skipped, rows that referred to what is lost."""
    told = []
    for boat_id in sorted({row["boat_id"] for row in rows if "boat_id" in row}):
        numbers = sorted({row["number"] for row in rows if row["boat_id"] == boat_id and "number" in row})
        gaps = [(a + 1, b - 1) for a, b in zip([0, *numbers], numbers, strict=False) if b - a > 1]
        if table.name != "answers":
            told += [f"{a}" if a == b else f"{a} to {b}" for a, b in gaps]
    said_so = [f"numbers {', '.join(told)}"] if told else []
    if broken and not told:
        said_so.append("part of it cannot be read; how much is not known")
    elif broken:
        said_so.append("and perhaps the last of them")
    if loose:
        said_so.append(f"{loose} that referred to what is lost")
    return "; ".join(said_so)
