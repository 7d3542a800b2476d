"""Long searches through the API: begun, looked at, stopped with the best so far, and an order of the jig kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, replace
from datetime import date
from typing import Annotated, Any, Literal

from fastapi import Query, Request
from pydantic import ConfigDict, Field
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from scrieve import jobs, store
from scrieve.errors import BadPlank, ScrieveError
from scrieve.jobs import Watched
from scrieve.jobs.work_plan import PLAN
from scrieve.store.keeping import Part
from scrieve.web.api.designs import plain
from scrieve.web.api.route import Body, Label, Words, readable, router, told
from scrieve.web.jig import planning as jig_planning
from scrieve.web.jig.order import keep_order, start_order
from scrieve.web.lining.work import Hand, Planned, Side, butts_lane
from scrieve.web.people.who import who
from scrieve.web.timber.work import LANE, LAYINGS, timber
from scrieve.web.timber.work import Job as LayingJob
from scrieve.web.views import View
from scrieve.web.workplan import jobs as plan_jobs
from scrieve.web.workplan.pages import begin_changes, seek

pages = router("long searches")

#: Which search: boards laid, the work planned, the order in which the jig is set, the butts of a side, and the work
#: planned under changes of the yard, side by side.
What = Literal["laying", "plan", "jig order", "butts", "what-if"]
_RUNNING = {"what": "plan", "id": 7, "state": "running", "at": "searching", "share": 0.4, "error": None}


class SearchIn(Body):
    """Which search, and what to do: `begin` it, `stop` it with the best so far, `keep` what was found, of the jig's
    order and of butts, or `forget` the plan or the jig's order that was kept.

    What the other fields say holds for `begin` alone.
    """

    model_config = ConfigDict(json_schema_extra={"examples": [{"what": "plan", "do": "begin"}]})
    what: What
    do: Literal["begin", "stop", "keep", "forget"]
    wait_s: Annotated[float, Field(ge=0, le=30, description="Wait so long for the end before answering.")] = 0.0
    day: Annotated[date | None, Field(description="plan: not before this day.")] = None
    anew: Annotated[bool, Field(description="plan: from nothing; else little of the plan that stands is moved.")] = True
    without: Annotated[list[Label], Field(max_length=500, default_factory=list, description="jig order: left out.")]
    after: Annotated[
        dict[Label, list[Label]],
        Field(max_length=500, default_factory=dict, description="jig order: what must be fitted before a frame."),
    ]
    keep_order: Annotated[bool, Field(description="jig order: as numbered; the poses alone are sought.")] = False
    away: Annotated[str, Field(max_length=80, description="what-if: who is away; nobody, unless named.")] = ""
    away_days: Annotated[int, Field(ge=1, le=365, description="what-if: for so many days.")] = 10
    colder_k: Annotated[float, Field(ge=0, le=30, description="what-if: the shed colder by so much [K].")] = 5.0
    seconds: Annotated[float, Field(ge=1, le=600, description="what-if: to search for each change.")] = 20.0
    side: Annotated[Hand, Field(description="butts: the side that is lined off.")] = "pair"
    butts: Annotated[
        dict[Label, Words],
        Field(max_length=20, default_factory=dict, description="butts: settings that change, as /api/lining has them."),
    ]


def _laying(view: View, sent: SearchIn) -> None:
    LAYINGS.begin(view, timber(view))


def _plan(view: View, sent: SearchIn) -> None:
    seek(view, sent.day, anew=sent.anew)


def _order(view: View, sent: SearchIn) -> None:
    after = {frame: tuple(first) for frame, first in sent.after.items()}
    start_order(view, sent.without, after, keep_order=sent.keep_order)


def _butts(view: View, sent: SearchIn) -> None:
    here = Side(view, sent.side)
    if "choice" not in here.stored:
        raise BadPlank(f"side {sent.side!r} has not been lined off; send its lining to /api/choices first.")
    there = here.butts.mapping()
    if strange := sorted(set(sent.butts) - set(there)):
        raise BadPlank(f"butts: no setting is called {strange[0]!r}; known are {', '.join(there)}.")
    here.settle_butts(replace(here.butts, **sent.butts), {}, plan=True)


def _what_if(view: View, sent: SearchIn) -> None:
    begin_changes(view, away=sent.away, away_days=sent.away_days, colder_k=sent.colder_k, seconds=sent.seconds)


BEGIN: Mapping[What, Callable[[View, SearchIn], None]] = {
    "laying": _laying, "plan": _plan, "jig order": _order, "butts": _butts, "what-if": _what_if,
}  # fmt: skip


def _found(job: Watched) -> Mapping[str, Any]:
    """The best so far, or what came of it, by the sort of search."""
    match job:
        case LayingJob() if best := job.best:
            return {"parts": len(job.found.parts), "laid": len(best.placements)}
        case plan_jobs.Job() if job.job.lane == "what-if":
            return {"changes": [
                {"name": one.name, "finish": one.plan.finish.isoformat() if one.plan and one.plan.entries else None,
                 "why_not": one.why_not}
                for one in job.outcomes
            ]}  # fmt: skip
        case plan_jobs.Job():
            return {"best_days": job.best, "least_days": job.bound, "gap": job.gap}
        case jig_planning.Job():
            kept = job.kept
            turns = [turn.frame for turn in kept.turns] if kept else []
            return {"minutes": kept.minutes if kept else job.best_min, "order": turns}
        case Planned():
            plan, now = job.result, job.progress
            if plan is not None:
                return {"joints": plan.joints, "bound": plan.bound, "proved": plan.proved,
                        "planks": [asdict(one) for one in plan.planks],
                        "butts": [asdict(one) for one in plan.layout.joints]}  # fmt: skip
            return {"joints": now.joints, "bound": now.bound} if now else {}
    return {}


def _latest(view: View, what: What, side: Hand) -> Watched | None:
    lanes = {"laying": LANE, "butts": butts_lane(side)}
    job = jobs.latest(view.file.engine, lanes.get(what, what))
    kinds = {
        "laying": LayingJob,
        "plan": plan_jobs.Job,
        "jig order": jig_planning.Job,
        "butts": Planned,
        "what-if": plan_jobs.Job,
    }
    return None if job is None else kinds[what](view.file.engine, job)


def _told(view: View, what: What, side: Hand) -> dict[str, Any]:
    job = _latest(view, what, side)
    if job is None:
        return {"what": what, "state": None}
    return {"what": what, "id": job.job.number, "state": job.job.state, "at": job.at, "share": job.job.share,
            "begun": job.job.asked, "who": job.job.who, "error": str(job.error) if job.error else None,
            **_found(job)}  # fmt: skip


def _answer(found: Mapping[str, Any]) -> Response:
    return JSONResponse(plain(found), headers={"Cache-Control": "no-store"})


@pages.get("/jobs", summary="Long searches", responses=told(_RUNNING | {"best_days": 41.0, "least_days": 38.0}))
def look(
    request: Request,
    what: What,
    wait_s: Annotated[float, Query(ge=0, le=30, description="Wait so long for the end before answering.")] = 0.0,
    side: Annotated[Hand, Query(description="butts: of which side.")] = "pair",
) -> Response:
    """How far the search begun last is: its state (`waiting`, `running`, `done`, `stopped`, `failed`), the best so far.

    What it found is read where it is kept: /api/boards, /api/plan, and once they are kept /api/choices?part=jig and
    /api/lining; a plan of butts is told here as well.
    """
    view = View(request)
    job = _latest(view, what, side)
    if job is not None and wait_s:
        job.done.wait(wait_s)
    return _answer(_told(view, what, side))


def _forget(view: View, what: What) -> None:
    """Take the plan, or the order of the jig, off what is kept; /api/undo brings it back."""
    kept: Mapping[What, tuple[Part, str]] = {"plan": ("yard", PLAN), "jig order": ("jig", "plan")}
    if what not in kept:
        raise ScrieveError(f"{what}: 'forget' is for the plan and the jig's order.")
    part, name = kept[what]
    if store.choices(view.file.engine, part).get(name) is None:
        raise ScrieveError(f"{what}: none is kept that could be forgotten.")
    store.keep_choice(view.file.engine, part, name, None, who=who())


@pages.post("/jobs", summary="Begin, stop or keep a search", responses=told(_RUNNING))
def act(request: Request, sent: SearchIn) -> Response:
    """Begin a search, stop it with the best so far, keep the order of the jig or the butts that were found, or forget
    the order or the plan that was kept.

    One that is under way is not begun twice. Boards laid and a plan are kept by themselves when the search ends.
    """
    view = View(request)
    if sent.do == "begin":
        view.ready()
        with readable("the search"):
            BEGIN[sent.what](view, sent)
    elif sent.do == "keep":
        if sent.what == "butts":
            Side(view, sent.side).keep_plan({})
        elif sent.what == "jig order":
            keep_order(view)
        else:
            raise ScrieveError(
                f"{sent.what}: what it finds is kept by itself; 'keep' is for the jig's order and butts."
            )
    elif sent.do == "forget":
        _forget(view, sent.what)
        return _answer(_told(view, sent.what, sent.side))
    job = _latest(view, sent.what, sent.side)
    if job is None:
        raise HTTPException(404, f"No {sent.what} has been sought yet.")
    if sent.do == "stop":
        job.stop.set()
    if sent.wait_s:
        job.done.wait(sent.wait_s)
    return _answer(_told(view, sent.what, sent.side))
