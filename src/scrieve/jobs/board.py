"""The jobs of a store: asked for, claimed by one worker each, reported on, stopped, ended. Each step is one write that
takes hold only if nobody was quicker.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Literal

from sqlalchemy import Connection, Engine, Row, delete, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from scrieve.store.connect import clear, on_server, reading, shown, the_boat
from scrieve.store.schema import jobs

State = Literal["waiting", "running", "done", "stopped", "failed"]
#: A job whose worker dies is taken up so often in all; then it is more likely the job that kills them.
MOST_TRIES = 3
#: A worker that has given no sign of life for so long is taken for dead [s].
LOST_S = 12.0
_UNDER_WAY = ("waiting", "running")


@dataclass(frozen=True, slots=True)
class Job:
    """One long computation, as its row stands.

    Attributes
    ----------
    lane : str
        Of one lane of a boat only one job at a time is under way: 'plan', 'butts port'.
    kind, what
        Which computation (`scrieve.jobs.kinds`), and what it is given, as JSON.
    state : 'waiting', 'running', 'done', 'stopped' or 'failed'
        'stopped' where it was ended by hand; `result` is then the best found until then, if there was any.
    stop : bool
        Whether somebody wishes it to stop.
    at, share, best
        What it is at, how much of it is done (0 to 1), and the best so far, as JSON.
    said : str
        Of a failed job: why.
    worker, beats, tries
        Who has it, how often that one gave a sign of life, and how often it was taken up.
    """

    number: int
    boat: int
    lane: str
    kind: str
    what: Mapping[str, Any]
    who: str
    asked: str
    state: State
    stop: bool
    at: str
    share: float
    best: Any
    result: Any
    said: str
    worker: str
    beats: int
    tries: int

    @property
    def ended(self) -> bool:
        """Whether it is no longer under way."""
        return self.state not in _UNDER_WAY

    @property
    def key(self) -> str:
        """Names the job in any store: what it keeps is kept under this key, once."""
        return f"job {self.number} {self.asked}"


class _Taken(Exception):
    """Somebody else was quicker to ask for a job of this lane."""


def ask(engine: Engine, kind: str, lane: str, what: Mapping[str, Any], who: str = "builder") -> Job:
    """Ask for a computation, unless one of its lane is under way; return the one that is.

    Those of the lane that have ended make room.

    Parameters
    ----------
    engine : Engine
        Of the boat.
    """
    row = {
        "lane": lane, "busy": 1, "kind": kind, "what": what, "who": who, "asked": datetime.now(UTC).isoformat(),
        "state": "waiting", "stop": False, "at": "", "share": 0.0, "said": "", "worker": "", "beats": 0, "tries": 0,
    }  # fmt: skip
    table = jobs.c
    for _ in range(5):
        with contextlib.suppress(_Taken), writing(engine) as db:
            boat = the_boat(db)
            mine = (table.boat_id == boat) & (table.lane == lane)
            if found := db.execute(select(jobs).where(mine, table.busy == 1)).first():
                return _job(found)
            db.execute(delete(jobs).where(mine, table.busy.is_(None)))
            try:
                return _job(db.execute(insert(jobs).values(boat_id=boat, **row).returning(jobs)).one())
            except IntegrityError as error:
                raise _Taken from error
    raise RuntimeError(f"lane {lane!r} is neither free nor taken")


def look(engine: Engine, number: int) -> Job | None:
    """Return a job; None where it has made room for a newer one."""
    with reading(engine, at_once=True) as db:
        found = db.execute(select(jobs).where(jobs.c.id == number)).first()
    return _job(found) if found else None


def latest(engine: Engine, lane: str) -> Job | None:
    """Return the job of a lane of the boat that was asked for last."""
    with reading(engine, at_once=True) as db:
        mine = (jobs.c.boat_id == the_boat(db)) & (jobs.c.lane == lane)
        found = db.execute(select(jobs).where(mine).order_by(jobs.c.id.desc())).first()
    return _job(found) if found else None


def under_way(engine: Engine) -> tuple[int, int]:
    """Return how many jobs of the whole store wait, and how many run."""
    with reading(engine, at_once=True) as db:
        table = jobs.c
        rows = db.execute(
            select(table.state, func.count().label("many")).where(table.busy == 1).group_by(table.state)
        ).all()
    found = {str(row.state): int(row.many) for row in rows}
    return found.get("waiting", 0), found.get("running", 0)


def wish_stop(engine: Engine, number: int) -> None:
    """Wish a job to stop: one that waits ends at once, one that runs with the best so far."""
    table = jobs.c
    with writing(engine) as db:
        db.execute(update(jobs).where(table.id == number, table.state.in_(_UNDER_WAY)).values(stop=True))
        waits = (table.id == number) & (table.state == "waiting") & (table.tries == 0)
        db.execute(update(jobs).where(waits).values(_ended("stopped")))


# -- by workers


@dataclass
class Watch:
    """Remembers when each running job last gave a sign of life, by this machine's own clock."""

    after_s: float = LOST_S
    seen: dict[int, tuple[tuple[str, int, int], float]] = field(default_factory=dict)

    def lost(self, number: int, worker: str, tries: int, beats: int) -> bool:
        """Whether the worker of a job has given no sign of life for too long."""
        now, sign = time.monotonic(), (worker, tries, beats)
        before = self.seen.get(number)
        if before is None or before[0] != sign:
            self.seen[number] = sign, now
            return False
        return now - before[1] >= self.after_s


def claim(engine: Engine, worker: str, watch: Watch) -> Job | None:
    """Take the oldest job that waits, or whose worker is dead; None where there is none.

    Of workers that try at once one gets it.
    """
    table = jobs.c
    columns = (table.id, table.state, table.worker, table.tries, table.beats)
    with reading(engine, at_once=True) as db:
        rows = db.execute(select(*columns).where(table.busy == 1).order_by(table.id)).all()
    for row in rows:
        if row.state == "running" and not watch.lost(row.id, row.worker, row.tries, row.beats):
            continue
        as_seen = (
            (table.id == row.id) & (table.state == row.state) & (table.worker == row.worker)
            & (table.tries == row.tries) & (table.beats == row.beats)
        )  # fmt: skip
        with writing(engine) as db:
            if row.tries >= MOST_TRIES:
                said = (
                    f"its worker died {row.tries} times, so it was given up; the log of the server tells more. "
                    "With less to work out, or more memory, it may go through."
                )
                db.execute(update(jobs).where(as_seen).values(_ended("failed") | {"said": said}))
                continue
            mine = {"state": "running", "worker": worker, "tries": row.tries + 1, "beats": row.beats + 1}
            found = db.execute(update(jobs).where(as_seen).values(mine).returning(jobs)).first()
            if found is not None:
                return _job(found)
    return None


class Lost(Exception):
    """The job is no longer this worker's: it was taken for dead, and another has taken it up."""


def report(engine: Engine, job: Job, at: str, share: float, best: Any) -> bool:
    """Give a sign of life, and tell how far the job is; return whether it is wished to stop.

    Raises
    ------
    Lost
    """
    told = {"at": at, "share": share, "best": best, "beats": jobs.c.beats + 1}
    return bool(_mine(engine, job, told).stop)


def hand_in(engine: Engine, job: Job, result: Any) -> None:
    """Store the result of a job, which is still to be kept with the boat; raises as `report`."""
    _mine(engine, job, {"result": result, "beats": jobs.c.beats + 1})


def end(engine: Engine, job: Job, state: State, said: str = "") -> None:
    """End a job; raises as `report`."""
    _mine(engine, job, _ended(state) | {"said": said})


def give_back(engine: Engine, worker: str, *, died: bool = True) -> None:
    """Let others take up the jobs of a worker that is no more; where it was sent home, that does not count as a try."""
    with writing(engine) as db:
        mine = (jobs.c.state == "running") & (jobs.c.worker == worker)
        tries = jobs.c.tries - (0 if died else 1)
        db.execute(update(jobs).where(mine).values(state="waiting", worker="", tries=tries))


def put_back(engine: Engine, job: Job) -> None:
    """Let a job wait again that this worker may not finish, because it is sent home; it does not count as a try."""
    with contextlib.suppress(Lost):
        _mine(engine, job, {"state": "waiting", "worker": "", "tries": job.tries - 1})


def _mine(engine: Engine, job: Job, values: Mapping[str, Any]) -> Row[Any]:
    table = jobs.c
    held = (table.id == job.number) & (table.state == "running")
    held &= (table.worker == job.worker) & (table.tries == job.tries)
    with writing(engine) as db:
        found = db.execute(update(jobs).where(held).values(values).returning(table.stop)).first()
    if found is None:
        raise Lost(job.key)
    return found


def _ended(state: State) -> dict[str, Any]:
    return {"state": state, "busy": None}


@contextlib.contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Give a connection in a transaction; the boat is not held, for no act of hers is written."""
    lock = engine.get_execution_options().get("lock") if not on_server(engine) else None
    with clear(shown(engine)), lock or contextlib.nullcontext(), engine.begin() as db:
        yield db


def _job(row: Row[Any]) -> Job:
    values = dict(row._mapping)
    return Job(number=values.pop("id"), boat=values.pop("boat_id"),
               **{name: value for name, value in values.items() if name != "busy"})  # fmt: skip
