"""Acts taken back by new acts: nothing is deleted, and taking back can itself be taken back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Engine, insert, select, update

from scrieve.errors import BadBoat
from scrieve.store import schema
from scrieve.store.acting import Act, act, acts_in
from scrieve.store.connect import writing
from scrieve.store.delivery import once
from scrieve.store.keeping import answers_in, choice_in, put_choice, settings_in
from scrieve.store.recording import TAKEN_BACK, Record, put_record, records_in


def undo(
    engine: Engine, count: int = 1, *, number: int | None = None, key: str | None = None, who: str = "builder"
) -> tuple[Act, ...]:
    """Take the last acts back, the latest first, each by a new act; return those taken back.

    Parameters
    ----------
    count : int
        How many; those that were taken back already, and those that took another back, are passed over.
    number : int, optional
        Take back this act instead: any one, also one that took another back (which brings that one back).
    key : str, optional
        The same key again takes nothing more back.

    Raises
    ------
    BadBoat
        There are not so many acts that can be taken back, or what an act made has been changed since by another.
    """

    def do() -> list[int]:
        every = acts_in(db, boat_id)
        chosen = _last(every, count) if number is None else _one(every, number)
        for each in chosen:
            _take_back(db, boat_id, each, who)
        return [each.number for each in chosen]

    with writing(engine) as (db, boat_id):
        undone = once(db, boat_id, key, "undo", [count, number], do)
        found = {each.number: each for each in acts_in(db, boat_id)}
    return tuple(found[each] for each in undone)


def taken_back(every: Sequence[Act]) -> set[int]:
    """Return the acts that stand taken back: by an act that was not itself taken back."""
    found: set[int] = set()
    for each in reversed(every):
        if each.undoes and each.number not in found:
            found.add(each.undoes)
    return found


def latest_of(records: Iterable[Record]) -> dict[int, Record]:
    """Return what stands now for each record, by its number: itself, or the last that corrected it or a correction."""
    found: dict[int, Record] = {}
    for record in sorted(records, key=lambda each: -each.number):
        found.setdefault(record.number, record)
        if record.corrects is not None:
            found[record.corrects] = found[record.number]
    return found


def changed_since(records: Sequence[Record]) -> set[int]:
    """Return the numbers of records in whose place something else stands now."""
    latest = latest_of(records)
    return {made.number for made in records if not _alike(made, latest[made.number])}


def _alike(made: Record, stands: Record) -> bool:
    """Whether they say the same: a record may have been corrected, and the correction taken back by one like it."""
    return (stands.kind, stands.member, stands.detail) == (made.kind, made.member, made.detail)


def _last(every: tuple[Act, ...], count: int) -> list[Act]:
    gone = taken_back(every)
    live = [each for each in reversed(every) if each.undoes is None and each.number not in gone]
    chosen = live[: max(count, 0)]
    if not chosen or len(chosen) < count or any(each.now is None for each in chosen):
        able = next((i for i, each in enumerate(live) if each.now is None), len(live))
        raise BadBoat(f"{able} acts can be taken back, {count} were asked for; nothing was changed.")
    return chosen


def _one(every: tuple[Act, ...], number: int) -> list[Act]:
    found = next((each for each in every if each.number == number), None)
    if found is None:
        raise BadBoat(f"there is no act {number}; look its number up in the list of acts.")
    if number in taken_back(every):
        raise BadBoat(f"act {number} ({found.what}) was taken back already.")
    if found.now is None:
        raise BadBoat(f"act {number} ({found.what}) cannot be taken back; change by hand what it did.")
    return [found]


def _take_back(db: Connection, boat_id: int, done: Act, who: str) -> None:
    was, now = done.was or {}, done.now or {}
    if "choice" in now:
        part, name = str(now["part"]), str(now["name"])
        there, _ = choice_in(db, boat_id, part, name) or (None, 0)
        _still(done, there == now["choice"])
        put_choice(db, boat_id, part, name, there, was["choice"], who, undoes=done.number)
    elif "boat" in now:
        _still(done, settings_in(db, boat_id) == now["boat"])
        new = was["boat"]
        number = act(db, boat_id, who, "changed the boat", new, was=now, now=was, undoes=done.number)
        db.execute(update(schema.boat).where(schema.boat.c.id == boat_id).values(dict(new) | {"act": number}))
    elif "answers" in now:
        _answer_back(db, boat_id, done, was, now, who)
    elif "record" in now:
        _record_back(db, boat_id, done, int(now["record"]), who)
    else:
        raise BadBoat(f"act {done.number} ({done.what}) cannot be taken back.")


def _still(done: Act, same: bool) -> None:
    if not same:
        raise BadBoat(
            f"what act {done.number} ({done.what}) made has been changed since; take the later act back first. "
            "Nothing was changed."
        )


def _answer_back(
    db: Connection, boat_id: int, done: Act, was: Mapping[str, Any], now: Mapping[str, Any], who: str
) -> None:
    there = answers_in(db, boat_id)
    said = {number: what for first, last, what in now["answers"] for number in range(first, last + 1)}
    _still(done, all(there.get(number, "") == what for number, what in said.items()))
    numbers = [first for first, _, _ in was["answers"]]
    changed = {"was": {"answers": now["answers"]}, "now": {"answers": was["answers"]}}
    told = {"numbers": numbers, "replaced_by": None, "note": f"act {done.number} taken back"}
    number = act(db, boat_id, who, f"took back: {done.what}", told, **changed, undoes=done.number)
    table = schema.answers.c
    rows = []
    for first, last, what in was["answers"]:
        for mark in range(first, last + 1):
            before = select(table.replaced_by).where(table.boat_id == boat_id, table.number == mark, table.what == what)
            by = db.execute(before.order_by(table.id.desc()).limit(1)).scalar() if what == "measured again" else None
            shared = {"boat_id": boat_id, "number": mark, "what": what, "replaced_by": by}
            rows.append(shared | {"note": f"act {done.number} taken back", "act": number})
    db.execute(insert(schema.answers), rows)


def _record_back(db: Connection, boat_id: int, done: Act, number: int, who: str) -> None:
    records = {record.number: record for record in records_in(db, boat_id)}
    made, stands = records[number], latest_of(records.values())[number]
    _still(done, _alike(made, stands))
    if made.corrects is None:
        put_record(db, boat_id, TAKEN_BACK, made.member, {}, stands.number, who, undoes=done.number)
        return
    old = records[made.corrects]
    put_record(db, boat_id, old.kind, old.member, old.detail, stands.number, who, undoes=done.number)
