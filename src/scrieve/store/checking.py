"""Whether a store is sound: the file itself, its rows, and what the acts say against what is there."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import asdict, dataclass

from sqlalchemy import Connection, Engine, select
from sqlalchemy.exc import DBAPIError

from scrieve.errors import BadBoat, ScrieveError
from scrieve.store import schema
from scrieve.store.acting import Act, acts_in, answers_told, chained
from scrieve.store.connect import clear, engine_of, on_server, reading, said, the_boat
from scrieve.store.copies import copies_folder, latest_copy
from scrieve.store.file import check_head, names, schema_of
from scrieve.store.keeping import answers_in, choices_in, marks_digest, marks_in, settings_in
from scrieve.store.place import Place
from scrieve.store.recording import record_digest, records_in


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at: which boat ('' for the store), what, whether it is sound, and what was found."""

    boat: str
    what: str
    ok: bool
    found: str


def check(where: str | os.PathLike[str] | Place) -> tuple[Finding, ...]:
    """Look a store through; nothing is changed, and a file of an older Scrieve is not brought up to date.

    Raises
    ------
    BadBoat
        It cannot be looked at: missing, not ours, of a newer Scrieve, or damaged so that nothing can be read.
    """
    place = Place.of(where)
    if not place.is_server:
        check_head(place.file)
    engine = engine_of(place)
    found: list[Finding] = []
    try:
        with reading(engine) as db:
            number = schema_of(db, place)
            if number > schema.SCHEMA:
                raise BadBoat(f"{place}: written by a newer Scrieve (schema {number}); check it with that one.")
            older = "" if number == schema.SCHEMA else "; an older one, brought up to date when it is opened"
            found.append(Finding("", "schema", True, f"{number}{older}"))
            if not on_server(db):
                found += _file(db)
            if number == schema.SCHEMA:
                for name, boat_id in names(db).items():
                    if place.boat in ("", name):
                        found += [Finding(name, *each) for each in _boat(db, boat_id)]
    finally:
        engine.dispose()
    return tuple(found)


def refuse_damaged(where: str | os.PathLike[str] | Place, engine: Engine) -> None:
    """Look quickly through the pages of an open file (about a millisecond a megabyte), before it is worked on.

    Raises
    ------
    BadBoat
        They do not hold together; the message says what was found, and names a way out.
    """
    if on_server(engine):
        return
    place = Place.of(where)
    with reading(engine) as db:
        verdict = str(db.exec_driver_sql("PRAGMA quick_check(1)").scalar())
    if verdict != "ok":
        text = " ".join(verdict.removeprefix("*** in database main ***").split())
        raise BadBoat(f"{place}: it is damaged ({text}). {way_out(place)}")


def way_out(place: Place) -> str:
    """Say what to do with a store that is not sound."""
    folder = copies_folder(place)
    last = latest_copy(folder) if folder else None
    if last is None:
        return (
            "Stop working on it; set it aside as it is, and open your latest copy of it. Without one 'scrieve salvage' "
            "saves what can be read."
        )
    return f"Stop working on it; set it aside as it is, and open a copy. The newest beside it: {last}"


def _file(db: Connection) -> Iterator[Finding]:
    for what, pragma, sound in (
        ("the file's pages", "integrity_check(20)", [("ok",)]),
        ("rows that refer to others", "foreign_key_check", []),
    ):
        try:
            lines = [tuple(row) for row in db.exec_driver_sql(f"PRAGMA {pragma}").all()]
        except DBAPIError as error:
            lines = [(said(error),)]
        told = "; ".join(" ".join(str(cell) for cell in line) for line in lines)
        yield Finding("", what, lines == sound, told or "none lead nowhere")


def _boat(db: Connection, boat_id: int) -> Iterator[tuple[str, bool, str]]:
    for what, look in (("acts", _acts), ("settings", _settings), ("marks", _marks), ("choices", _choices),
                       ("records", _records)):  # fmt: skip
        try:
            with clear("the store"):
                yield what, *look(db, boat_id, acts_in(db, boat_id))
        except ScrieveError as error:
            yield what, False, str(error)
        except (ValueError, TypeError, KeyError) as error:
            yield what, False, f"cannot be read: {said(error)}"


def _acts(db: Connection, boat_id: int, acts: tuple[Act, ...]) -> tuple[bool, str]:
    table = schema.acts.c
    chains = db.execute(select(table.number, table.chain).where(table.boat_id == boat_id).order_by(table.number)).all()
    before = ""
    for i, (each, (_, chain)) in enumerate(zip(acts, chains, strict=True), start=1):
        if each.number != i:
            return False, f"act {i} is missing"
        if chained(before, each) != chain:
            return False, f"act {i} ({each.what}) is not as it was written"
        before = chain
    return bool(acts), f"{len(acts)}, each as it was written" if acts else "none: not even that she was made"


def chains(engine: Engine) -> dict[int, str]:
    """Return the digest that stands with each act, which joins it to those before it."""
    table = schema.acts.c
    with reading(engine) as db:
        rows = db.execute(select(table.number, table.chain).where(table.boat_id == the_boat(db)))
        return {row.number: row.chain for row in rows}


def _settings(db: Connection, boat_id: int, acts: tuple[Act, ...]) -> tuple[bool, str]:
    told = [each.detail for each in acts if each.what in ("made the boat", "changed the boat")]
    now = settings_in(db, boat_id)
    same = bool(told) and dict(told[-1]) == now
    return same, "as the acts tell" if same else "not as the acts tell"


def _marks(db: Connection, boat_id: int, acts: tuple[Act, ...]) -> tuple[bool, str]:
    marks = marks_in(db, boat_id)
    by_number = {mark.number: mark for mark in marks}
    if list(by_number) != list(range(1, len(marks) + 1)):
        return False, f"{len(marks)}, not numbered on from 1"
    told = [each for each in acts if each.now and "marks" in each.now]
    for each in told:
        first, last = each.now["marks"] if each.now else (0, -1)
        there = [by_number[n] for n in range(first, last + 1) if n in by_number]
        if len(there) != last - first + 1 or marks_digest(there) != (each.now or {})["digest"]:
            return False, f"marks {first} to {last} are not as act {each.number} stored them"
    there_now = answers_in(db, boat_id)
    if wrong := [number for number, what in answers_told(acts).items() if there_now.get(number, "") != what]:
        return False, f"the answer to mark {wrong[0]} is not as the acts tell"
    count = sum(each.now["marks"][1] - each.now["marks"][0] + 1 for each in told if each.now)
    return True, f"{len(marks)}, {count} with a digest, each as it was stored"


def _choices(db: Connection, boat_id: int, acts: tuple[Act, ...]) -> tuple[bool, str]:
    told = {
        (each.now["part"], each.now["name"]): each.now["choice"] for each in acts if each.now and "part" in each.now
    }
    for part in dict.fromkeys(part for part, _ in told):
        there = choices_in(db, boat_id, part)
        for (of, name), choice in told.items():
            if of == part and there.get(name) != choice:
                return False, f"{part} {name} is not as the acts tell"
    return True, f"{len(told)}, as the acts tell"


def _records(db: Connection, boat_id: int, acts: tuple[Act, ...]) -> tuple[bool, str]:
    records = {record.number: record for record in records_in(db, boat_id)}
    for each in acts:
        number = (each.now or {}).get("record")
        if number is not None and (
            number not in records or record_digest(records[number]) != (each.now or {})["digest"]
        ):
            return False, f"record {number} is not as act {each.number} stored it"
    loose = [record.number for record in records.values() if record.corrects and record.corrects not in records]
    return not loose, f"record {loose[0]} corrects none" if loose else f"{len(records)}, each as it was stored"


def summary(findings: tuple[Finding, ...]) -> list[dict[str, object]]:
    """Return the findings as plain values."""
    return [asdict(each) for each in findings]
