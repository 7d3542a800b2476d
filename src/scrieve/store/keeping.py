"""What is kept of a boat, act by act: values in, values out, one transaction each; the engine comes first."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, fields, replace
from typing import Any, Literal, get_args

from sqlalchemy import Connection, Engine, func, insert, select, update

from scrieve.boat import Boat
from scrieve.errors import BadBoat, BadMarks
from scrieve.store import schema
from scrieve.store.acting import act, last
from scrieve.store.conflict import Conflict
from scrieve.store.connect import reading, the_boat, writing
from scrieve.store.delivery import once, own_acts, plain_json
from scrieve.takeoff.marks import Mark, Way

Answer = Literal["measured again", "keep", "drop"]
#: What stands as the answer to a mark whose storing was undone.
TAKEN_BACK = "taken back"
#: What a choice may be for; `jig` is the bed and its present setting, `yard` what holds for every member.
Part = Literal["frame", "plank", "jig", "glue", "lining", "board", "skin", "part", "layout", "yard"]

_BOAT = [field.name for field in fields(Boat)]
_MARK = [field.name for field in fields(Mark)]
_COVARIANCE = ("var_height_mm2", "var_half_breadth_mm2", "cov_mm2")
#: What marks of the first version of the file did not have, as it stands where there is nothing to say.
_LATER: dict[str, Any] = {**dict.fromkeys(_COVARIANCE), "way": "offsets", "raw": ""}


def boat(engine: Engine) -> Boat:
    """Return the boat."""
    with reading(engine, at_once=True) as db:
        return _boat(db, the_boat(db))


def _boat(db: Connection, boat_id: int) -> Boat:
    row = db.execute(select(*(schema.boat.c[name] for name in _BOAT)).where(schema.boat.c.id == boat_id)).one()
    return Boat(**row._mapping)


def settings_in(db: Connection, boat_id: int) -> dict[str, Any]:
    """Return the boat's settings as plain values."""
    return asdict(_boat(db, boat_id))


def boat_at(engine: Engine, seen: int | None = None) -> Boat:
    """Return the boat's settings as they stand, or as they stood at the act `seen`."""
    with reading(engine) as db:
        before = None if seen is None else _settings_at(db, the_boat(db), seen)
        return Boat(**before) if before else _boat(db, the_boat(db))


def keep_boat(
    engine: Engine, boat: Boat, *, seen: int | None = None, key: str | None = None, who: str = "builder"
) -> int:
    """Keep the boat's changed settings; return the number of the act, which tells what they were.

    Parameters
    ----------
    seen : int, optional
        The last act that whoever changes them has seen (`last_act`).

    Raises
    ------
    Conflict
        They were changed by an act after `seen`, to something else.
    """
    new = asdict(boat)
    plain_json(new)
    table = schema.boat.c

    def do() -> int:
        was = settings_in(db, boat_id)
        changed = int(db.execute(select(table.act).where(table.id == boat_id)).scalar_one())
        if seen is not None and changed > seen and changed not in own_acts() and was != new:
            first = _settings_at(db, boat_id, seen)
            if first != was:  # else it was changed, and changed back
                raise Conflict("the boat", first, was, new, **_by(db, boat_id, changed))
        number = act(db, boat_id, who, "changed the boat", new, was={"boat": was}, now={"boat": new})
        db.execute(update(schema.boat).where(table.id == boat_id).values(new | {"act": number}))
        return number

    with writing(engine) as (db, boat_id):
        return once(db, boat_id, key, "boat", new, do)


def _settings_at(db: Connection, boat_id: int, seen: int) -> Any:
    """Return what the boat's settings were at the act `seen`: what the next change of them found."""
    table = schema.acts.c
    changes = select(table.was).where(table.boat_id == boat_id, table.number > seen, table.now.is_not(None))
    for was in db.execute(changes.order_by(table.number)).scalars():
        if was and "boat" in was:
            return was["boat"]
    return None


def _by(db: Connection, boat_id: int, number: int) -> dict[str, Any]:
    """Return who made an act, when, and the act to be named as seen from now on."""
    table = schema.acts.c
    row = db.execute(select(table.who, table.at).where(table.boat_id == boat_id, table.number == number)).first()
    return {"who": row.who if row else "", "at": row.at if row else "", "act": last(db, boat_id)[0]}


def add_marks(
    engine: Engine, marks: Iterable[Mark], *, key: str | None = None, source: str = "", who: str = "builder"
) -> list[int]:
    """Store marks, all or none; return their numbers, counted on from the last in the boat.

    Parameters
    ----------
    marks : iterable of Mark
        Their own `number` is passed over.
    key : str, optional
        Names this delivery: the same key again stores nothing and returns the numbers of the first time.
    source : str
        The file they came from, or what else tells the builder.

    Raises
    ------
    BadMarks
        A mark cannot be stored: no frame, a number that is not finite, a side that is none.
    BadBoat
        The key was used for other marks, or the file cannot be written.
    """
    new = [_checked(mark) for mark in marks]
    plain_json([key, source])
    with writing(engine) as (db, boat_id):
        content = [_content(m) for m in new]
        return once(db, boat_id, key, "marks", content, lambda: _add(db, boat_id, new, source, who))


def _add(db: Connection, boat_id: int, new: list[Mark], source: str, who: str) -> list[int]:
    numbers = _insert(db, boat_id, new, source)
    if numbers:
        ends = [numbers[0], numbers[-1]]
        was = {"answers": [[*ends, TAKEN_BACK]]}
        now = {"answers": [[*ends, ""]], **_told(new, numbers)}
        act(db, boat_id, who, "added marks", {"numbers": ends, "source": source}, was=was, now=now)
    return numbers


def _insert(db: Connection, boat_id: int, new: list[Mark], source: str) -> list[int]:
    last = db.execute(select(func.max(schema.marks.c.number)).where(schema.marks.c.boat_id == boat_id)).scalar() or 0
    numbers = list(range(last + 1, last + 1 + len(new)))
    if new:
        numbered = zip(new, numbers, strict=True)
        shared = {"boat_id": boat_id, "source": source}
        db.execute(insert(schema.marks), [_row(m) | shared | {"number": n} for m, n in numbered])
    return numbers


def _told(new: Iterable[Mark], numbers: list[int]) -> dict[str, Any]:
    """Return what an act says of the marks that came with it: first and last number, and a digest of them."""
    numbered = [replace(mark, number=number) for mark, number in zip(new, numbers, strict=True)]
    return {"marks": [numbers[0], numbers[-1]], "digest": marks_digest(numbered)}


def marks_digest(marks: Iterable[Mark]) -> str:
    """Return the SHA-256 of marks, every field of them."""
    return hashlib.sha256(plain_json([_row(mark) for mark in marks]).encode()).hexdigest()


def _checked(mark: Mark) -> Mark:
    """Return the mark in plain numbers, its own number still open."""
    where = f"a mark of frame {mark.frame}" + (f", line {mark.line}" if mark.line else "")
    lengths = {"station": mark.station_mm, "height": mark.height_mm, "half_breadth": mark.half_breadth_mm}
    if mark.sigma_mm is not None:
        lengths["sigma"] = mark.sigma_mm
    for name, value in lengths.items():
        if not math.isfinite(value):
            raise BadMarks(f"{where}, {name}: {value}; give a length in mm.")
    if not mark.frame.strip():
        raise BadMarks(f"{where}: no frame; give the frame's number or name.")
    if mark.half_breadth_mm < 0:
        raise BadMarks(f"{where}: half-breadth {mark.half_breadth_mm:g} mm; give it above zero, the side as P or S.")
    if mark.sigma_mm is not None and mark.sigma_mm <= 0:
        raise BadMarks(f"{where}: measuring error {mark.sigma_mm:g} mm; give a value above zero, or none.")
    if mark.side not in ("P", "S", ""):
        raise BadMarks(f"{where}: side {mark.side!r}; give P, S or nothing.")
    if mark.way not in get_args(Way):
        raise BadMarks(f"{where}: way {mark.way!r}; say one of {', '.join(get_args(Way))}.")
    up, out, both = _covariance(mark, where)
    new = replace(
        mark,
        number=0,
        line=int(mark.line),
        station_mm=float(mark.station_mm) + 0.0,  # a zero has no sign in a file, and so none on a server
        height_mm=float(mark.height_mm) + 0.0,
        half_breadth_mm=float(mark.half_breadth_mm) + 0.0,
        sigma_mm=None if mark.sigma_mm is None else float(mark.sigma_mm),
        var_height_mm2=up,
        var_half_breadth_mm2=out,
        cov_mm2=both,
    )
    plain_json(_row(new))
    return new


def _covariance(mark: Mark, where: str) -> tuple[float, float, float] | tuple[None, None, None]:
    """Return the mark's covariance in plain numbers, judged."""
    given = mark.var_height_mm2, mark.var_half_breadth_mm2, mark.cov_mm2
    if all(value is None for value in given):
        return None, None, None
    up, out, both = (math.nan if value is None else float(value) for value in given)
    if not all(math.isfinite(value) for value in (up, out, both)):
        raise BadMarks(f"{where}: its covariance is not whole; give {', '.join(_COVARIANCE)}, or none of them.")
    if not (up > 0 and out > 0 and both**2 <= up * out):
        raise BadMarks(
            f"{where}: covariance {up:g}, {out:g}, {both:g} mm² cannot be; variances are above zero, and the third is "
            "no larger than the root of their product."
        )
    return up, out, both + 0.0


def _row(mark: Mark) -> dict[str, Any]:
    return {name: getattr(mark, name) for name in _MARK}


def _content(mark: Mark) -> dict[str, Any]:
    """Return what a delivery is known by: of plain offsets the row, as in the first version, whose keys still fit.

    Of a mark that was found from other readings, these alone: the point hangs on the boat's error too, and on rounding.
    """
    row = {name: value for name, value in _row(mark).items() if name not in _LATER or value != _LATER[name]}
    if mark.way == "offsets" or not mark.readings:
        return row
    of_file = ("frame", "station_mm", "side", "label", "kind", "note", "line", "way")
    return {name: row[name] for name in of_file} | {"read": mark.readings}


def marks(engine: Engine, *, standing: bool = False, taken_back: bool = True, after: int = 0) -> tuple[Mark, ...]:
    """Return the marks in order of their numbers; with `after`, those of greater numbers only.

    With `standing`, those whose latest answer is 'drop', 'measured again' or 'taken back' are left out; without
    `taken_back`, only those whose storing was undone.
    """
    told = standing or not taken_back
    with reading(engine, at_once=not told) as db:
        found = marks_in(db, the_boat(db), after)
        said = answers_in(db, the_boat(db)) if told else {}
    if standing:
        return tuple(mark for mark in found if said.get(mark.number, "keep") == "keep")
    return tuple(mark for mark in found if said.get(mark.number) != TAKEN_BACK)


def marks_in(db: Connection, boat_id: int, after: int = 0) -> tuple[Mark, ...]:
    """Return the marks of a boat in order of their numbers, those after a number."""
    table = schema.marks.c
    query = select(*(table[name] for name in _MARK)).where(table.boat_id == boat_id, table.number > after)
    return tuple(Mark(*row) for row in db.execute(query.order_by(table.number)))


def answer(
    engine: Engine,
    number: int | Iterable[int],
    what: Answer,
    *,
    replacement: Mark | None = None,
    note: str = "",
    seen: int | None = None,
    key: str | None = None,
    who: str = "builder",
) -> int | None:
    """Keep the builder's answer to a suspect mark; return the number of the mark that replaces it, if one does.

    Parameters
    ----------
    number : int or iterable of int
        The mark, or several that get the same answer.
    what : {'measured again', 'keep', 'drop'}
        'keep': it stands as it is. 'drop': it stands aside, and stays in the file. 'measured again': it stands aside
        for `replacement`, which is stored in the same transaction.
    seen : int, optional
        The last act that whoever answers has seen (`last_act`).
    key : str, optional
        Names this delivery, as in `add_marks`.

    Raises
    ------
    BadMarks
        There is no such mark, the answer is none of these, or 'measured again' comes without the new mark.
    Conflict
        One of the marks was given another answer by an act after `seen`.
    """
    numbers = [number] if isinstance(number, int) else sorted(set(number))
    if what not in get_args(Answer):
        raise BadMarks(f"answer {what!r}: say one of {', '.join(get_args(Answer))}.")
    if (what == "measured again") != (replacement is not None):
        raise BadMarks("'measured again' and the new mark go together; for other answers give no new mark.")
    replacement = None if replacement is None else _checked(replacement)
    plain_json([key, note])
    content = [numbers, what, _content(replacement) if replacement else None, note]
    with writing(engine) as (db, boat_id):
        return once(
            db,
            boat_id,
            key,
            "answer",
            content,
            lambda: _answer(db, boat_id, numbers, what, replacement, note, seen, who),
        )


def _answer(
    db: Connection,
    boat_id: int,
    numbers: list[int],
    what: str,
    replacement: Mark | None,
    note: str,
    seen: int | None,
    who: str,
) -> int | None:
    table = schema.marks.c
    there = set(db.execute(select(table.number).where(table.boat_id == boat_id, table.number.in_(numbers))).scalars())
    if missing := [str(number) for number in numbers if number not in there]:
        raise BadMarks(f"no mark {', '.join(missing)} in this boat; look the number up in the list of marks.")
    if not numbers:
        return None
    before = answers_in(db, boat_id)
    if seen is not None:
        _answered_since(db, boat_id, numbers, what, seen, before)
    was: dict[str, Any] = {"answers": [[number, number, before.get(number, "")] for number in numbers]}
    now: dict[str, Any] = {"answers": [[number, number, what] for number in numbers]}
    new = None
    if replacement:
        new = _insert(db, boat_id, [replacement], "measured again")[0]
        was["answers"].append([new, new, TAKEN_BACK])
        now["answers"].append([new, new, ""])
        now |= _told([replacement], [new])
    detail = {"numbers": numbers, "replaced_by": new, "note": note}
    number = act(db, boat_id, who, f"answered: {what}", detail, was=was, now=now)
    shared = {"boat_id": boat_id, "what": what, "replaced_by": new, "note": note, "act": number}
    db.execute(insert(schema.answers), [{"number": number} | shared for number in numbers])
    return new


def _answered_since(
    db: Connection, boat_id: int, numbers: list[int], what: str, seen: int, before: Mapping[int, str]
) -> None:
    table = schema.answers.c
    query = select(table.number, table.what, table.act).where(table.boat_id == boat_id, table.number.in_(numbers))
    rows = db.execute(query.order_by(table.id)).all()
    for number in numbers:
        mine = [row for row in rows if row.number == number]
        if not mine or mine[-1].act <= seen or mine[-1].act in own_acts():
            continue
        now = mine[-1].what
        old = [row.what for row in mine if row.act <= seen]
        if now == what == "measured again" or now not in (what, old[-1] if old else ""):
            by = _by(db, boat_id, mine[-1].act)
            told = {"answer": before.get(number, now)}
            raise Conflict(f"mark {number}", {"answer": old[-1] if old else ""}, told, {"answer": what}, **by)


def answers(engine: Engine) -> dict[int, str]:
    """Return the latest answer to each mark that has one."""
    with reading(engine, at_once=True) as db:
        return answers_in(db, the_boat(db))


def answers_in(db: Connection, boat_id: int) -> dict[int, str]:
    """Return the latest answer to each mark of a boat that has one."""
    table = schema.answers.c
    rows = db.execute(select(table.number, table.what).where(table.boat_id == boat_id).order_by(table.id))
    return {number: what for number, what in dict(rows.all()).items() if what}


def keep_frame(
    engine: Engine,
    frame: str,
    choice: Mapping[str, Any],
    *,
    seen: int | None = None,
    key: str | None = None,
    who: str = "builder",
) -> int:
    """Keep the builder's choice for a frame (a plain mapping with a JSON form); return the number of the act.

    Earlier choices stay in the store. The same `key` again stores nothing and returns the number of the first time.

    Parameters
    ----------
    seen : int, optional
        The last act that whoever chooses has seen (`last_act`).

    Raises
    ------
    BadBoat
        The frame has no name, a number is not finite, the key was used for something else, or the store cannot be
        written.
    Conflict
        An act after `seen` has chosen something else for this frame.
    """
    return _keep(engine, "frame", frame, choice, key, who, seen)


def keep_plank(
    engine: Engine,
    name: str,
    choice: Mapping[str, Any],
    *,
    seen: int | None = None,
    key: str | None = None,
    who: str = "builder",
) -> int:
    """Keep the builder's choice for a plank; as `keep_frame`."""
    return _keep(engine, "plank", name, choice, key, who, seen)


def forget_frame(engine: Engine, frame: str, *, key: str | None = None, who: str = "builder") -> int:
    """Take a frame off the list of those to be made; its choices stay in the store."""
    return _keep(engine, "frame", frame, None, key, who)


def forget_plank(engine: Engine, name: str, *, key: str | None = None, who: str = "builder") -> int:
    """Take a plank off the list of those to be made; its choices stay in the store."""
    return _keep(engine, "plank", name, None, key, who)


def _keep(
    engine: Engine,
    part: Part,
    name: str,
    choice: Mapping[str, Any] | None,
    key: str | None,
    who: str,
    seen: int | None = None,
) -> int:
    if not name.strip():
        raise BadBoat(f"the {part} has no name; give the one that stands on it.")
    plain = None if choice is None else json.loads(plain_json(dict(choice)))
    plain_json([key, name])

    def do() -> int:
        found = choice_in(db, boat_id, part, name)
        was, changed = found or (None, 0)
        if seen is not None and changed > seen and changed not in own_acts() and was != plain:
            first, _ = choice_in(db, boat_id, part, name, seen) or (None, 0)
            if first != was:  # else it was changed, and changed back
                raise Conflict(f"{part} {name}", first, was, plain, **_by(db, boat_id, changed))
        return put_choice(db, boat_id, part, name, was, plain, who)

    with writing(engine) as (db, boat_id):
        return once(db, boat_id, key, part, [name, plain], do)


def put_choice(
    db: Connection, boat_id: int, part: str, name: str, was: Any, now: Any, who: str, undoes: int | None = None
) -> int:
    """Write a choice and its act; return the act's number."""
    said = f"chose for a {part}" if now is not None else f"forgot a {part}"
    old, new = ({"part": part, "name": name, "choice": value} for value in (was, now))
    number = act(db, boat_id, who, said, {"name": name, "choice": now}, was=old, now=new, undoes=undoes)
    row = {"boat_id": boat_id, "part": part, "name": name, "choice": now, "act": number}
    db.execute(insert(schema.choices).values(row))
    return number


def choice_in(
    db: Connection, boat_id: int, part: str, name: str, seen: int | None = None
) -> tuple[dict[str, Any] | None, int] | None:
    """Return the choice that stands, or stood at the act `seen`, and the act that made it; None where there is none."""
    table = schema.choices.c
    query = select(table.choice, table.act).where(table.boat_id == boat_id, table.part == part, table.name == name)
    if seen is not None:
        query = query.where(table.act <= seen)
    row = db.execute(query.order_by(table.id.desc()).limit(1)).first()
    return (row.choice, row.act) if row else None


def choice_at(engine: Engine, part: Part, name: str, seen: int | None = None) -> dict[str, Any] | None:
    """Return the choice of a name as it stands, or as it stood at the act `seen`; None where there was none."""
    with reading(engine, at_once=True) as db:
        found = choice_in(db, the_boat(db), part, name, seen)
    return found[0] if found else None


def frames(engine: Engine) -> dict[str, dict[str, Any]]:
    """Return the latest choice for each frame to be made, in the order in which they were first chosen."""
    return _choices(engine, "frame")


def planks(engine: Engine) -> dict[str, dict[str, Any]]:
    """Return the latest choice for each plank to be made, in the order in which they were first chosen."""
    return _choices(engine, "plank")


def keep_choice(
    engine: Engine,
    part: Part,
    name: str,
    choice: Mapping[str, Any] | None,
    *,
    seen: int | None = None,
    key: str | None = None,
    who: str = "builder",
) -> int:
    """Keep the builder's choice for anything that is chosen; as `keep_frame`. None forgets it."""
    return _keep(engine, part, name, choice, key, who, seen)


def choices(engine: Engine, part: Part) -> dict[str, dict[str, Any]]:
    """Return the latest choice of each name of one part, in the order in which they were first chosen."""
    return _choices(engine, part)


def _choices(engine: Engine, part: Part) -> dict[str, dict[str, Any]]:
    with reading(engine) as db:
        return choices_in(db, the_boat(db), part)


def choices_in(db: Connection, boat_id: int, part: str) -> dict[str, dict[str, Any]]:
    """Return the latest choice of each name of one part of a boat."""
    table = schema.choices.c
    mine = table.boat_id == boat_id, table.part == part
    names = db.execute(select(table.name, func.max(table.id)).where(*mine).group_by(table.name).order_by(
        func.min(table.id))).all()  # fmt: skip
    latest = [number for _, number in names]
    found = dict(db.execute(select(table.id, table.choice).where(table.id.in_(latest))).all()) if latest else {}
    return {name: found[number] for name, number in names if found[number] is not None}
