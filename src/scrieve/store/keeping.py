"""What is kept of a boat, act by act: values in, values out, one transaction each; the engine comes first."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, fields, replace
from typing import Any, Literal, get_args

from sqlalchemy import Connection, Engine, func, insert, select, update

from scrieve.boat import Boat
from scrieve.errors import BadBoat, BadMarks
from scrieve.store import schema
from scrieve.store.delivery import once, plain_json
from scrieve.store.file import act, reading, writing
from scrieve.takeoff.marks import Mark, Way

Answer = Literal["measured again", "keep", "drop"]
#: What a choice may be for; `jig` is the bed and its present setting, `yard` what holds for every member.
Part = Literal["frame", "plank", "jig", "glue", "lining", "board", "part", "layout", "yard"]

_BOAT = [field.name for field in fields(Boat)]
_MARK = [field.name for field in fields(Mark)]
_COVARIANCE = ("var_height_mm2", "var_half_breadth_mm2", "cov_mm2")
#: What marks of the first version of the file did not have, as it stands where there is nothing to say.
_LATER: dict[str, Any] = {**dict.fromkeys(_COVARIANCE), "way": "offsets", "raw": ""}


@dataclass(frozen=True, slots=True)
class Act:
    """One line of the record: when (UTC, ISO 8601), who, what, and the particulars."""

    at: str
    who: str
    what: str
    detail: Mapping[str, Any]


def boat(engine: Engine) -> Boat:
    """Return the boat of this file."""
    with reading(engine) as db:
        row = db.execute(select(*(schema.boat.c[name] for name in _BOAT)).order_by(schema.boat.c.id)).one()
    return Boat(**row._mapping)


def keep_boat(engine: Engine, boat: Boat, *, who: str = "builder") -> None:
    """Keep the boat's changed settings; what they were stands in the acts."""
    plain_json(asdict(boat))
    with writing(engine) as (db, boat_id):
        db.execute(update(schema.boat).where(schema.boat.c.id == boat_id).values(asdict(boat)))
        act(db, boat_id, who, "changed the boat", asdict(boat))


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
    last = db.execute(select(func.max(schema.marks.c.number)).where(schema.marks.c.boat_id == boat_id)).scalar() or 0
    numbers = list(range(last + 1, last + 1 + len(new)))
    if new:
        numbered = zip(new, numbers, strict=True)
        shared = {"boat_id": boat_id, "source": source}
        db.execute(insert(schema.marks), [_row(m) | shared | {"number": n} for m, n in numbered])
        act(db, boat_id, who, "added marks", {"numbers": [numbers[0], numbers[-1]], "source": source})
    return numbers


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
        station_mm=float(mark.station_mm),
        height_mm=float(mark.height_mm),
        half_breadth_mm=float(mark.half_breadth_mm),
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
    return up, out, both


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


def marks(engine: Engine, *, standing: bool = False) -> tuple[Mark, ...]:
    """Return the marks in order of their numbers.

    With `standing`, those whose latest answer is 'drop' or 'measured again' are left out.
    """
    columns = [schema.marks.c[name] for name in _MARK]
    with reading(engine) as db:
        rows = db.execute(select(*columns).order_by(schema.marks.c.number)).all()
        said = _answers(db) if standing else {}
    return tuple(Mark(*row) for row in rows if said.get(row.number, "keep") == "keep")


def answer(
    engine: Engine,
    number: int | Iterable[int],
    what: Answer,
    *,
    replacement: Mark | None = None,
    note: str = "",
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
    key : str, optional
        Names this delivery, as in `add_marks`.

    Raises
    ------
    BadMarks
        There is no such mark, the answer is none of these, or 'measured again' comes without the new mark.
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
            db, boat_id, key, "answer", content, lambda: _answer(db, boat_id, numbers, what, replacement, note, who)
        )


def _answer(
    db: Connection, boat_id: int, numbers: list[int], what: str, replacement: Mark | None, note: str, who: str
) -> int | None:
    table = schema.marks.c
    there = set(db.execute(select(table.number).where(table.boat_id == boat_id)).scalars())
    if missing := [str(number) for number in numbers if number not in there]:
        raise BadMarks(f"no mark {', '.join(missing)} in this boat; look the number up in the list of marks.")
    new = _add(db, boat_id, [replacement], "measured again", who)[0] if replacement else None
    shared = {"boat_id": boat_id, "what": what, "replaced_by": new, "note": note}
    if numbers:
        db.execute(insert(schema.answers), [{"number": number} | shared for number in numbers])
        act(db, boat_id, who, f"answered: {what}", {"numbers": numbers, "replaced_by": new, "note": note})
    return new


def answers(engine: Engine) -> dict[int, str]:
    """Return the latest answer to each mark that has one."""
    with reading(engine) as db:
        return _answers(db)


def _answers(db: Connection) -> dict[int, str]:
    rows = db.execute(select(schema.answers.c.number, schema.answers.c.what).order_by(schema.answers.c.id))
    return dict(rows.all())


def keep_frame(
    engine: Engine, frame: str, choice: Mapping[str, Any], *, key: str | None = None, who: str = "builder"
) -> int:
    """Keep the builder's choice for a frame (a plain mapping with a JSON form); return the number of this choice.

    Earlier choices stay in the file. The same `key` again stores nothing and returns the number of the first time.

    Raises
    ------
    BadBoat
        The frame has no name, a number is not finite, the key was used for something else, or the file cannot be
        written.
    """
    return _keep(engine, "frame", frame, choice, key, who)


def keep_plank(
    engine: Engine, name: str, choice: Mapping[str, Any], *, key: str | None = None, who: str = "builder"
) -> int:
    """Keep the builder's choice for a plank; as `keep_frame`."""
    return _keep(engine, "plank", name, choice, key, who)


def forget_frame(engine: Engine, frame: str, *, key: str | None = None, who: str = "builder") -> int:
    """Take a frame off the list of those to be made; its choices stay in the file."""
    return _keep(engine, "frame", frame, None, key, who)


def forget_plank(engine: Engine, name: str, *, key: str | None = None, who: str = "builder") -> int:
    """Take a plank off the list of those to be made; its choices stay in the file."""
    return _keep(engine, "plank", name, None, key, who)


def _keep(engine: Engine, part: Part, name: str, choice: Mapping[str, Any] | None, key: str | None, who: str) -> int:
    if not name.strip():
        raise BadBoat(f"the {part} has no name; give the one that stands on it.")
    plain = None if choice is None else json.loads(plain_json(dict(choice)))
    plain_json([key, name])

    def do() -> int:
        row = {"boat_id": boat_id, "part": part, "name": name, "choice": plain}
        number = db.execute(insert(schema.choices).values(row).returning(schema.choices.c.id)).scalar_one()
        said = f"chose for a {part}" if plain is not None else f"forgot a {part}"
        act(db, boat_id, who, said, {"name": name, "choice": plain})
        return int(number)

    with writing(engine) as (db, boat_id):
        return once(db, boat_id, key, part, [name, plain], do)


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
    key: str | None = None,
    who: str = "builder",
) -> int:
    """Keep the builder's choice for anything that is chosen; as `keep_frame`. None forgets it."""
    return _keep(engine, part, name, choice, key, who)


def choices(engine: Engine, part: Part) -> dict[str, dict[str, Any]]:
    """Return the latest choice of each name of one part, in the order in which they were first chosen."""
    return _choices(engine, part)


def _choices(engine: Engine, part: Part) -> dict[str, dict[str, Any]]:
    table = schema.choices.c
    with reading(engine) as db:
        rows = db.execute(select(table.name, table.choice).where(table.part == part).order_by(table.id))
        latest = dict(rows.all())
    return {name: choice for name, choice in latest.items() if choice is not None}


def acts(engine: Engine) -> tuple[Act, ...]:
    """Return the record of what was done, in order."""
    table = schema.acts.c
    with reading(engine) as db:
        rows = db.execute(select(table.at, table.who, table.what, table.detail).order_by(table.id)).all()
    return tuple(Act(*row) for row in rows)
