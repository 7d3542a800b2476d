"""The work planned under several changes of the yard, side by side, as a job; nothing of it is kept with the boat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from scrieve.jobs.kinds import Kind, Tick
from scrieve.jobs.plain import plain, read
from scrieve.jobs.work_plan import gather, with_setting_times
from scrieve.workplan.members import Job as Work
from scrieve.workplan.search import Progress
from scrieve.workplan.whatif import Change, compare


def asked(changes: Sequence[Change], work: Work, now: datetime, seconds: float) -> dict[str, Any]:
    """Return what the job is given: the yard under each change, the work left, and the seconds to search for each."""
    found: dict[str, Any] = plain({"changes": tuple(changes), "work": work, "now": now, "seconds": seconds})
    return found


def plan_each(given: Mapping[str, Any], tick: Tick) -> Any:
    """Plan the work under each change; return the outcomes."""
    work, changes = with_setting_times(given, tick), read(given["changes"])
    at, share = "", 0.0

    def begun(n: int, name: str) -> None:
        nonlocal at, share
        at, share = f"{n + 1} of {len(changes)}: {name}", n / len(changes)
        tick(at, share, None)

    def told(now: Progress) -> bool:
        return tick(at, share, plain({"best": now.best, "bound": now.bound}))

    return plain(compare(changes, work, read(given["now"]), seconds=float(given["seconds"]), tick=told, told=begun))


KIND = Kind(f"{__name__}:plan_each", gather=gather)
