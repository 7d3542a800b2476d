"""The page that lines off a side: settings, shell drawn out flat, stealers, butts, fastenings and caulking."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Annotated, Any, get_args

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve.athand import AtHand
from scrieve.errors import BadPlank, ScrieveError
from scrieve.planking import BUTT_RULES, ButtPlan, short_of_room, wide_bays
from scrieve.planking.butts.rules import SCARF_SHIFTS
from scrieve.planking.butts.scarfs import SCARF_RULES
from scrieve.planking.lining.choice import RULES
from scrieve.sheets.bench import Table
from scrieve.sheets.csvs import table_csv
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.figures import length, sized, unit
from scrieve.sheets.shell_flat import lining_tables, shell_flat_drawing
from scrieve.store import Conflict
from scrieve.timber.fastenings import COUNT_RULES
from scrieve.timber.species import species_names
from scrieve.units import Units, parse_length
from scrieve.web.addresses import lining_path, plank_path
from scrieve.web.forms import Sent
from scrieve.web.lining.forms import ButtsForm, LiningForm
from scrieve.web.lining.planks import shell_planks
from scrieve.web.lining.work import Hand, Side
from scrieve.web.views import View
from scrieve.wording import in_units

pages = APIRouter()
#: How long a request waits for stealers that are looked for [s].
PATIENCE_S = 0.3
_drawings: AtHand[Drawing] = AtHand(12)
_HULLS: Mapping[str, str] = {
    "both": "both sides as one", "port": "port by itself", "starboard": "starboard by itself",
}  # fmt: skip
HANDS: tuple[Hand, ...] = get_args(Hand)


@dataclass(frozen=True)
class Told:
    """What was typed and refused: which form, what stood in it, and why."""

    form: str = ""
    typed: Any = None
    error: ScrieveError | None = None


@pages.get("/planks/lining")
def lining(
    request: Request,
    side: Annotated[Hand, Query()] = "pair",
    strake: Annotated[int, Query(ge=0, le=60)] = 0,
) -> Response:
    """A side lined off, or the form to do it."""
    view = View(request)
    if not view.fairing.done.is_set():
        return view.wait()
    return _page(view, Side(view, side), strake)


@pages.get("/planks/lining.csv")
def lining_csv(
    request: Request, side: Annotated[Hand, Query()] = "pair", what: Annotated[str, Query(max_length=40)] = "girth"
) -> Response:
    """One table of a lining for a spreadsheet."""
    view = View(request)
    here = Side(view, side)
    tables = [*lining_tables(here.lining, view.boat.units), strakes_table(here, view.boat.units)]
    found = next((table for table in tables if table.name == what), None)
    if found is None:
        raise BadPlank(f"table {what!r}: there are {', '.join(table.name for table in tables)}.")
    head = {"Content-Disposition": f'attachment; filename="lining-{side}-{what}.csv"', "Cache-Control": "no-store"}
    return Response(table_csv(found), media_type="text/csv; charset=utf-8", headers=head)


@pages.post("/planks/lining")
def sent_lining(request: Request, sent: Sent) -> Response:
    """Take one form of the page, by its name: settings, stealers, butts, fastening or plank."""
    view, hand = sent_side(request, sent)
    forms = {"settings": _settings, "stealers": _stealers, "butts": _butts, "fastening": _fastening, "plank": _plank}
    form = sent.get("form", "")
    if form not in forms:
        raise BadPlank(f"form {form!r} is none of this page; send it from there.")
    return forms[form](view, hand, sent)


def _settings(view: View, hand: Hand, sent: dict[str, str]) -> Response:
    """Keep the settings of a lining where it can be laid; else give back what was typed."""
    here = Side(view, hand)
    form = LiningForm.typed(sent)
    try:
        was = Side.as_seen(view, hand, sent).choice
        choice = form.with_seams_of(view.kept.planks, view.boat.units).choice(was.side, was, view.boat.units)
        here.lined(choice)
        here.keep(sent, choice=_stored(choice))
    except Conflict:
        raise
    except ScrieveError as error:
        return _page(view, here, 0, Told("lining", form, error), 422)
    return RedirectResponse(lining_path(hand, place="shell"), 303)


def _stealers(view: View, hand: Hand, sent: dict[str, str]) -> Response:
    """Take the stealers proposed over into the settings."""
    here = Side(view, hand)
    try:
        study = here.stealers(30.0)
        if study.error or study.value is None:
            raise study.error or ScrieveError("the stealers are still being looked for; send this again in a moment.")
        choice = replace(here.choice, strakes=here.lining.strakes, stealers=study.value)
        here.lined(choice)
        here.keep(sent, choice=_stored(choice))
    except Conflict:
        raise
    except ScrieveError as error:
        return _page(view, here, 0, Told("stealers", None, error), 422)
    return RedirectResponse(lining_path(hand, place="shell"), 303)


def _butts(view: View, hand: Hand, sent: dict[str, str]) -> Response:
    """Judge butts, plan them, stop the plan, or take it over: as the button says."""
    here = Side(view, hand)
    do = sent.get("do", "check")
    form = here.butts
    try:
        acts: dict[str, Callable[[], None]] = {"stop": here.stop_plan, "keep": lambda: here.keep_plan(sent)}
        if do in acts:
            acts[do]()
        else:
            form = ButtsForm.typed(sent)
            if do == "rack":
                form = replace(form, stock=here.rack())
                if not form.stock:
                    raise BadPlank("no board in the rack is thick enough and as wide as the narrowest strake at its "
                                   "widest; add boards on the timber page.")  # fmt: skip
            here.settle_butts(form, sent, plan=do == "plan")
    except Conflict:
        raise
    except ScrieveError as error:
        return _page(view, here, 0, Told("butts", form, error), 422)
    return RedirectResponse(lining_path(hand, place="butts"), 303)


def _fastening(view: View, hand: Hand, sent: dict[str, str]) -> Response:
    """Keep how the planking is fastened and caulked."""
    here = Side(view, hand)
    try:
        units = view.boat.units
        moulded, cotton = sent.get("moulded", "").strip(), sent.get("cotton", "").strip()
        try:
            grams = float(cotton or 0)
        except ValueError:
            raise BadPlank(f"cotton in a metre: found {cotton!r}; give grams, or leave it blank.") from None
        old = Side.as_seen(view, hand, sent).fastening_choice.frame_moulded_mm
        changes = {
            "fastening": {
                "rule": sent.get("rule", ""),
                "frame_timber": sent.get("timber", "").strip(),
                "frame_moulded_mm": 0.0
                if not moulded
                else old
                if moulded == length(old, units)
                else parse_length(moulded, units),
            },
            "caulking": {"rule": sent.get("seam", "metric"), "cotton_g_per_m": grams},
        }
        trial = Side(view, hand)
        trial.stored = {**here.stored, **changes}
        _ = trial.fastenings, trial.caulked
        here.keep(sent, **changes)
    except Conflict:
        raise
    except ScrieveError as error:
        return _page(view, here, 0, Told("fastening", sent, error), 422)
    return RedirectResponse(lining_path(hand, place="fastenings"), 303)


def _plank(view: View, hand: Hand, sent: dict[str, str]) -> Response:
    """Put a plank of a strake into the boat's planks."""
    here = Side(view, hand)
    strake, which = (int(text) if (text := sent.get(name, "")).isdecimal() else 0 for name in ("strake", "which"))
    try:
        name = here.make_plank(strake, which, sent.get("name", ""), sent)
    except Conflict:
        raise
    except ScrieveError as error:
        return _page(view, here, strake, Told("plank", sent, error), 422)
    return RedirectResponse(plank_path(name), 303)


def sent_side(request: Request, sent: Mapping[str, str]) -> tuple[View, Hand]:
    """Return the view, the hull fair, and the side that a form names."""
    view = View(request)
    view.ready()
    hand = next((hand for hand in HANDS if hand == sent.get("side")), None)
    if hand is None:
        raise BadPlank(f"side: found {sent.get('side', '')!r}; say pair, port or starboard.")
    return view, hand


def _stored(choice: Any) -> dict[str, Any]:
    return asdict(choice)


def strakes_table(here: Side, units: Units) -> Table:
    """Return every strake with its widths, true length, fastenings, butts and state."""
    lining, layout = here.lining, here.layout
    states = here.states()
    count = (
        {land.strake: land.nails for land in here.nails.lands}
        if here.nails
        else {strake.strake: strake.total for strake in here.fastenings.strakes}
    )
    rows = []
    for run in layout.strakes:
        width = lining.width_mm[run.number - 1]
        there = width[width == width]
        joints = [joint for joint in layout.joints if joint.strake == run.number]
        rows.append((
            str(run.number), length(float(there.min()), units), length(float(there.max()), units),
            length(run.length_to(run.last_mm), units), str(count.get(run.number, 0)),
            ", ".join(layout.where(joint.x_mm).removeprefix("bay ") for joint in joints) or "none",
            states.get(run.number, "lined off"),
        ))  # fmt: skip
    heads = ("strake", f"narrowest ({unit(units)})", f"widest ({unit(units)})", f"true length ({unit(units)})",
             "fastenings", "butts", "state")  # fmt: skip
    note = "Lengths along the middle of the strake, on the face of the frames. Strake 1 is the lowest."
    return Table("Strakes", heads, tuple(rows), note, name="strakes")


def plan_words(plan: ButtPlan) -> str:
    """How good a plan is, in words."""
    if plan.proved:
        return f"{plan.joints} butts; no plan with fewer keeps these rules with this stock (proved)."
    fewer = f"fewer than {plan.bound} cannot be; whether fewer than {plan.joints} can, was not settled in the time"
    return f"{plan.joints} butts; {fewer}."


def _page(view: View, here: Side, strake: int, told: Told = Told(), status: int = 200) -> Response:
    u = view.boat.units
    given: dict[str, Any] = {
        "side": here, "hand_names": HANDS, "told": told, "strake": 0, "cannot": view.cannot, "lined": None,
        "form": told.typed if told.form == "lining" else LiningForm.of(here.choice, u), "rules": RULES,
        "lining_path": lining_path, "waits": False, "frames": list(view.hull.stations) if view.hull else [],
        "hulls": _HULLS,
    }  # fmt: skip
    if view.hull is not None and "choice" in here.stored:
        try:
            given |= _shown(view, here, strake, told)
        except ScrieveError as error:
            given["cannot"] = error
    response = view.page("lining.html", status, **given)
    del response.headers["etag"]  # butts and stealers are found aside: the same address may answer more
    response.headers["cache-control"] = "no-store"
    return response


def _shown(view: View, here: Side, strake: int, told: Told) -> dict[str, Any]:
    u = view.boat.units
    lining = here.lining
    study = here.stealers(PATIENCE_S)
    new = [stealer for stealer in study.value or () if stealer not in here.choice.stealers]
    layout, layout_error = None, None
    try:
        layout = here.layout
        found = here.breaches
    except ScrieveError as error:  # the lining has changed under the butts that were typed
        layout_error, found = error, ()
        here.butts = replace(here.butts, there="", renew="", closed="")
        layout = here.layout
    job = here.planned
    plan = job.study.value if job and job.study else None
    shown_joints = plan.layout.joints if plan else layout.joints
    breached = tuple(joint for breach in found for joint in breach.joints)
    renewed = {run.number: "to be renewed" for run in here.layout.strakes if run.renew and here.butts.renew}
    planks = shell_planks(here)
    drawing = _drawings.get(
        (here.hand, here.content, u, tuple(renewed.items()), planks, shown_joints, breached),
        lambda: shell_flat_drawing(
            lining, renewed, shown_joints, breached, u, lambda number: lining_path(here.hand, number, "strake"), planks
        ),
    )
    runs = here.runs(strake) if 1 <= strake <= lining.strakes else ()
    return {
        "lined": lining, "drawing": drawing, "plank_states": {plank.state for plank in planks},
        "tables": lining_tables(lining, u), "strakes": strakes_table(here, u),
        "checks_found": in_units(lining.checks, u), "workings_found": in_units(lining.workings, u),
        "remarks": (*in_units(lining.remarks, u), *here.cautions), "new_stealers": new,
        "short": short_of_room(lining),
        "stealers_pending": not study.done.is_set(),
        "stealers_error": study.error, "butts": told.typed if told.form == "butts" else here.butts,
        "butt_rules": BUTT_RULES, "scarf_rules": SCARF_RULES, "shifts": list(SCARF_SHIFTS),
        "breaches": in_units(found, u), "layout": layout, "layout_error": layout_error,
        "wide": wide_bays(layout), "job": job, "plan": plan, "plan_words": plan_words(plan) if plan else "",
        "plan_error": job.study.error if job and job.study else None,
        "plan_table": _plan_table(plan, u) if plan else None,
        "waits": not study.done.is_set() or bool(job and not job.done),
        "schedule": here.fastenings, "screw_checks": in_units(here.fastenings.checks, u),
        "screw_workings": in_units(
            here.nails.workings if here.nails else (*here.fastenings.workings, *here.caulked.workings), u
        ),
        "nails": here.nails,
        "caulked": here.caulked, "timbers": species_names(), "count_rules": list(COUNT_RULES),
        "strake": strake if runs else 0, "runs": runs,
    }  # fmt: skip


def _plan_table(plan: ButtPlan, units: Units) -> Table:
    where = plan.layout.where
    rows = tuple(
        (str(plank.strake), where(plank.first_mm).removeprefix("bay "), where(plank.last_mm).removeprefix("bay "),
         length(plank.length_mm, units), length(plank.stock_mm, units))
        for plank in plan.planks
    )  # fmt: skip
    blocks = f" {len(plan.blocks)} butt blocks, each the length of its bay less clearance." if plan.blocks else ""
    note = f"Length of board with trim at both ends ({sized(50.0, units)} each).{blocks}"
    heads = ("strake", "from", "to", f"board wanted ({unit(units)})", f"board taken ({unit(units)})")
    return Table("Planks of the plan", heads, rows, note, name="plan")
