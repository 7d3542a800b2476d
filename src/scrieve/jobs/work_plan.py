"""The plan of the work, as a job; the plan is kept with the boat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Engine

from scrieve import store
from scrieve.chain import Kept
from scrieve.frames.jig.setting_kept import JigKept
from scrieve.jobs.designs import boat_as_stored, designing
from scrieve.jobs.kinds import Kind, Tick
from scrieve.jobs.plain import plain, read
from scrieve.jobs.setting_times import setting_times
from scrieve.workplan.members import Job as Work
from scrieve.workplan.plan import Plan
from scrieve.workplan.search import Progress
from scrieve.workplan.solve import make_plan
from scrieve.workplan.yard import Yard

#: Under what the plan is kept.
PLAN = "work plan"


def asked(yard: Yard, work: Work, now: datetime, seconds: float, before: Plan | None, made_from: str) -> dict[str, Any]:
    """Return what the job is given: the yard, and the work that is left from `now` on; `before` is the plan from which
    little is to be moved."""
    given = {"yard": yard, "work": work, "now": now, "seconds": seconds, "before": before, "made_from": made_from}
    found: dict[str, Any] = plain(given)
    return found


def gather(engine: Engine, what: Mapping[str, Any]) -> Mapping[str, Any]:
    """Add the boat and the jig as they are stored, from which the jig's setting times come."""
    return {**what, "boat": boat_as_stored(engine), "jig": plain(store.choices(engine, "jig"))}


def with_setting_times(given: Mapping[str, Any], tick: Tick) -> Work:
    """Return the work, with what the jig's changes take."""
    work: Work = read(given["work"])
    kept: Kept = read(given["boat"])

    def told(what: str) -> bool:
        return tick(what, 0.0, None)

    frames = [member.name for member in work.frames]
    times = setting_times(JigKept.of(read(given["jig"])), frames, designing(kept, tick), kept.boat.units, told)
    return replace(work, setups=times)


def plan(given: Mapping[str, Any], tick: Tick) -> Any:
    """Look for the plan; return it as it is kept."""
    work, seconds = with_setting_times(given, tick), float(read(given["seconds"]))

    def told(now: Progress) -> bool:
        return tick(now.what, min(now.seconds / seconds, 1.0), plain({"best": now.best, "bound": now.bound}))

    found = make_plan(read(given["yard"]), work, read(given["now"]), before=read(given["before"]), seconds=seconds,
                      tick=told, made_from=given["made_from"])  # fmt: skip
    return plain(found.to_mapping())


def keep(engine: Engine, _what: Mapping[str, Any], result: Any, key: str, who: str) -> None:
    """Keep the plan with the boat."""
    store.keep_choice(engine, "yard", PLAN, read(result), key=key, who=who)


KIND = Kind(f"{__name__}:plan", gather=gather, keep=keep)
