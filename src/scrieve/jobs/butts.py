"""The plan of a side's butts, as a job; nothing is kept with the boat until the builder takes the plan over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from scrieve.jobs.kinds import Kind, Tick
from scrieve.jobs.plain import plain, read
from scrieve.planking.butts.joints import ShellLayout
from scrieve.planking.butts.plan import PlankStock, PlanSettings, Progress, plan_butts
from scrieve.planking.butts.rules import ButtRules


def asked(
    content: str, layout: ShellLayout, boards: Sequence[PlankStock], rules: ButtRules, settings: PlanSettings
) -> dict[str, Any]:
    """Return what the job is given; `content` names what the page asked from."""
    given = {"layout": layout, "boards": tuple(boards), "rules": rules, "settings": settings}
    return {"content": content, **{name: plain(value) for name, value in given.items()}}


def plan(given: Mapping[str, Any], tick: Tick) -> Any:
    """Look for the plan."""
    settings: PlanSettings = read(given["settings"])

    def told(now: Progress) -> bool:  # says whether to stop
        share = now.seconds / settings.seconds if settings.seconds else 0.0
        return not tick("looking for a plan of butts", min(share, 1.0), plain(now))

    found = plan_butts(read(given["layout"]), read(given["boards"]), read(given["rules"]), settings, tick=told)
    return plain(found)


KIND = Kind(f"{__name__}:plan")
