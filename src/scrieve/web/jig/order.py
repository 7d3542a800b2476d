"""The order in which a set of frames is glued on the jig: worked out aside, looked at, kept, printed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import BadJig, ScrieveError
from scrieve.frames.columns.bed import turn_columns
from scrieve.frames.jig.setting_kept import JigKept, PlanKept, read_after
from scrieve.revision import revision as revision_of
from scrieve.sheets import frame_setting
from scrieve.store import Conflict
from scrieve.units import Units
from scrieve.web.column_whys import ColumnWhy, column_whys
from scrieve.web.forms import Sent
from scrieve.web.jig.pages import jig_path, kept_of, pdf_of, usual_bed
from scrieve.web.jig.planning import Job, Planning
from scrieve.web.people.who import who
from scrieve.web.settling import not_changed
from scrieve.web.sheet_pages import code_of
from scrieve.web.views import View
from scrieve.wording import in_units

pages = APIRouter()


def planning_of(view: View) -> Planning:
    """The boat's one planning."""
    return Planning(view.file.engine)


@pages.get("/jig/order.pdf")
def plan_pdf(request: Request) -> Response:
    """The order kept, with how the jig stands for each turn, to be printed; where none is, it leads to the order."""
    view = View(request)
    view.ready()
    kept = kept_of(view)
    if kept.plan is None:
        return RedirectResponse(jig_path("/order"), 303)
    stale = [label for label, good in _good(view, kept).items() if not good]
    marks = revision_of(kept.plan.to_mapping())
    link = code_of(view, jig_path("/order"), marks)
    return pdf_of(frame_setting.plan_bench_sheet(kept.plan, view.boat, marks, stale=stale, link=link), "jig-order")


@pages.get("/jig/order")
def order(request: Request) -> Response:
    """The order of gluing: how far it is, what was found, and what is kept."""
    view = View(request)
    if early := view.early():
        return early
    return _order(view)


def _good(view: View, kept: JigKept) -> dict[str, bool]:
    """Whether each turn of the order kept still holds: for the frame's design as it is, and the bed."""
    bed, good = kept.bed or usual_bed(view), {}
    for turn in kept.plan.turns if kept.plan else ():
        now = view.kept.frame_revision(turn.frame) if turn.frame in view.kept.frames else ""
        good[turn.frame] = kept.plan is not None and kept.plan.turn(turn.frame, now, bed) is not None
    return good


def _lasts(view: View, kept: JigKept, job: Job) -> bool:
    """Whether what an order was sought from, the bed and the designs, is still as it was."""
    now = {label: view.kept.frame_revision(label) for label in job.frames if label in view.kept.frames}
    return bool(job.given["bed"] == (kept.bed or usual_bed(view)) and dict(job.given["frames"]) == now)


def turn_whys(plan: PlanKept, units: Units) -> tuple[ColumnWhy, ...]:
    """How the figures of an order's turns came about."""
    table = frame_setting.order_table(plan, units)
    return column_whys(table, turn_columns(plan.turns, plan.bed), units)


def _order(view: View, sent: dict[str, str] | None = None, error: ScrieveError | None = None) -> Response:
    kept = kept_of(view)
    job = planning_of(view).job
    response = view.page(
        "jig_order.html",
        422 if error else 200,
        kept=kept,
        job=job,
        running=job is not None and not job.done.is_set(),
        labels=list(view.kept.frames),
        sent=sent or {},
        error=error,
        good=_good(view, kept),
        whys_of=lambda plan: turn_whys(plan, view.boat.units),
        checks_of=lambda plan: frame_setting.turn_checks(plan, view.boat.units),
        workings_of=lambda plan: in_units(plan.workings, view.boat.units),
        ended=None if error or job is None or not _lasts(view, kept, job) else job.error,
        fresh=bool(job and job.kept and job.kept != kept.plan),
        revision=revision_of(kept.plan.to_mapping()) if kept.plan else "",
    )
    del response.headers["etag"]
    response.headers["cache-control"] = "no-store"
    return response


def start_order(view: View, without: Sequence[str], after: Mapping[str, tuple[str, ...]], *, keep_order: bool) -> None:
    """Begin to work out the order of all frames but those left out; `after`: what must be fitted before which.

    Raises
    ------
    BadJig
        A frame is not among those designed, or an order is being worked out already.
    """
    kept = kept_of(view)
    if strange := [label for label in without if label not in view.kept.frames]:
        raise BadJig(f"to leave out: frame {strange[0]!r} is not among those designed.")
    labels = [label for label in view.kept.frames if label not in without]
    if strange := [name for frame, first in after.items() for name in (frame, *first) if name not in labels]:
        raise BadJig(f"what must be fitted first: frame {strange[0]!r} is not among those to be made.")
    view.ready()
    frames = {label: view.kept.frame_revision(label) for label in labels}
    planning_of(view).start(frames, kept.bed or usual_bed(view), kept.setting, after, keep_order)


def keep_order(view: View, sent: Mapping[str, str] | None = None) -> None:
    """Keep the order that was found last; `sent` is the form that asks for it.

    Raises
    ------
    BadJig
        None was, or not the one that the form's page showed.
    Conflict
        Another order was kept since the form was opened.
    """
    job = planning_of(view).job
    if job is None or job.kept is None:
        raise BadJig("no order has been worked out; work it out first.")
    if (sent or {}).get("job", str(job.job.number)) != str(job.job.number):
        raise BadJig("another order has been worked out since this page was opened; look at it before it is kept.")
    found = job.kept.to_mapping()
    not_changed(view.file.engine, "jig", "plan", sent or {}, order_told, order_told(found), again="Keep the new order")
    store.keep_choice(view.file.engine, "jig", "plan", found, who=who())


def order_told(plan: Mapping[str, Any] | None) -> Mapping[str, str]:
    """An order as it is kept, in words."""
    if plan is None:
        return {"order": "none"}
    turns = ", ".join(turn["frame"] for turn in plan["turns"])
    return {"order": turns, "setting time": f"{plan['minutes']:.0f} min"}


@pages.post("/jig/order")
def begin(request: Request, sent: Sent) -> Response:
    """Begin to work out an order, stop it, or keep what was found."""
    view = View(request)
    planning = planning_of(view)
    what = sent.get("what", "")
    if what == "stop":
        if job := planning.job:
            job.stop.set()
            job.done.wait(5.0)
        return RedirectResponse(jig_path("/order"), 303)
    if what == "forget":
        not_changed(view.file.engine, "jig", "plan", sent, order_told, order_told(None), again="Forget it all the same")
        store.keep_choice(view.file.engine, "jig", "plan", None, who=who())
        return RedirectResponse(jig_path("/order"), 303)
    try:
        if what == "keep":
            keep_order(view, sent)
            return RedirectResponse(jig_path("/order"), 303)
        out = [line.strip() for line in sent.get("without", "").splitlines() if line.strip()]
        start_order(view, out, read_after(sent.get("after", "").splitlines()), keep_order=bool(sent.get("keep_order")))
    except Conflict:
        raise
    except ScrieveError as error:
        return _order(view, sent, error)
    return RedirectResponse(jig_path("/order"), 303)
