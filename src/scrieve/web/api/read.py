"""What the pages show, as JSON: boat, marks, sections, frames, planks, lining, boards, jig, plan, log, records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Annotated, Any, get_args

from fastapi import Query, Request
from starlette.responses import Response

from scrieve import store
from scrieve.errors import BadLength, ScrieveError
from scrieve.frames.columns.bed import bed_columns
from scrieve.frames.columns.rows import plain_columns
from scrieve.frames.columns.work import ripping_plan_columns
from scrieve.frames.ripping import plan_for
from scrieve.logbook import found as searched
from scrieve.stock.forms import mapping_of
from scrieve.store.keeping import Part
from scrieve.store.people import people
from scrieve.units import parse_length
from scrieve.web.addresses import frame_path, plank_path
from scrieve.web.api.designs import WithColumns, checks, workings, written
from scrieve.web.api.route import router, told
from scrieve.web.boat.pages import frame_states
from scrieve.web.frames.progress import progress
from scrieve.web.glue_up.forms import Day
from scrieve.web.glue_up.pages import seen as glue_seen
from scrieve.web.glue_up.work import columns_of
from scrieve.web.jig.pages import kept_of, on_bed
from scrieve.web.lining.work import Hand, Side
from scrieve.web.logbook.work import lines_of
from scrieve.web.planks.pages import see_plank
from scrieve.web.release.work import all_seen, glued_of, lesson_of
from scrieve.web.timber.work import timber
from scrieve.web.views import View
from scrieve.web.workplan import work as plan_work

pages = router("what there is")

_LINING = ("girth_mm", "height_mm", "half_breadth_mm", "width_mm", "hollow_mm")

Name = Annotated[str, Query(max_length=120)]
Frame = Annotated[str, Query(max_length=120, examples=["14"])]
Few = Annotated[int, Query(ge=1, le=5000)]


@pages.get(
    "/boat",
    summary="The boat",
    responses=told({"act": 41, "revision": "89A8CB30", "settings": {"name": "Merganser", "units": "mm"}}),
)
def boat(request: Request) -> Response:
    """Settings of the boat, the revision of its hull, and the last act: what a later change has `seen`."""
    view = View(request)
    return written(view, {
        "settings": asdict(view.boat), "revision": view.state.revision, "act": view.state.acts,
        "faired": view.hull is not None, "marks": len(view.state.every_mark), "frames": list(view.kept.frames),
        "planks": list(view.kept.planks),
    })  # fmt: skip


@pages.get(
    "/marks", summary="Marks", responses=told({"marks": [{"id": 3, "frame": "1", "height_mm": 210.0}], "more": False})
)
def marks(
    request: Request, frame: Frame = "", after: Annotated[int, Query(ge=0, lt=10**9)] = 0, limit: Few = 1000
) -> Response:
    """Marks as taken off, by their numbers, with what was answered of them and what was read of those taken off by
    tapes, ordinates, templates or arcs; how far off they lie stands in /api/hull.

    At most `limit` after number `after`; `more` says that there are others.
    """
    view = View(request)
    there = [mark for mark in view.state.every_mark if mark.number > after and frame in ("", mark.frame)]
    names = ("frame", "station_mm", "height_mm", "half_breadth_mm", "side", "label", "kind", "sigma_mm", "note", "way")
    rows = [
        {"id": mark.number, "answer": view.kept.answers.get(mark.number, "")}
        | {name: getattr(mark, name) for name in names}
        | {"readings": mark.readings or None}
        for mark in there[:limit]
    ]
    return written(view, {"marks": rows, "more": len(there) > limit})


@pages.get("/section", summary="The fair line at a frame or station")
def section(request: Request, at: Frame, points: Annotated[int, Query(ge=2, le=5000)] = 200) -> Response:
    """The fair line at a frame's label, or at a station in the boat's units (`3600`, `11-9-6`), heel to head."""
    view = View(request)
    hull = view.ready()
    where: str | float = at
    if at not in hull.stations:
        entry = view.kept.frames.get(at, {})
        try:
            where = entry["station_mm"] if entry.get("station_mm") is not None else parse_length(at, view.boat.units)
        except BadLength as error:
            raise BadLength(f"{at!r} is no frame of this hull and no station: {error}") from error
    line = hull.section(where, points)
    names = ("s_mm", "half_breadth_mm", "height_mm", "sd_mm", "bevel_rad", "curvature_per_mm")
    found = {"at": at, "station_mm": line.station_mm, "revision": view.state.revision, "girth_mm": line.girth_mm}
    return written(view, found | {name: getattr(line, name) for name in names})


@pages.get("/frames", summary="Frames, and how far each is")
def frames(request: Request) -> Response:
    """Every frame: marks, suspects, the last step done, the next, and what is out of date."""
    view = View(request)
    states = frame_states(view.kept, view.hull)
    rows = [
        asdict(state) | {"step": at.step, "words": at.words, "next": at.next, "stale": at.stale,
                         "page": frame_path(state.label)}
        for state, at in zip(states, progress(view, states), strict=True)
    ]  # fmt: skip
    return written(view, {"frames": rows})


@pages.get("/planks", summary="Planks")
def planks(request: Request) -> Response:
    """Every plank, with why it cannot be drawn where it cannot; the whole of one stands in /api/plank."""
    view = View(request)
    sights = [see_plank(view, name) for name in view.kept.planks]
    rows = [
        {"name": each.name, "kind": each.kind, "revision": each.revision, "page": plank_path(each.name),
         "cannot": str(each.said) if each.said else None, "choice": view.kept.planks[each.name]["choice"]}
        for each in sights
    ]  # fmt: skip
    return written(view, {"planks": rows})


@pages.get("/lining", summary="A side lined off")
def lining(request: Request, side: Annotated[Hand, Query()] = "pair") -> Response:
    """Marks of the seams at the frames, widths of the strakes, what was chosen, its butts, and which break a rule."""
    view = View(request)
    view.ready()
    here = Side(view, side)
    found = here.lining
    return written(view, {
        "side": side, "choice": asdict(here.choice), "strakes": found.strakes, "remarks": found.remarks,
        "frames": [{"label": frame.label, "station_mm": frame.x_mm} for frame in found.frames],
        **{name: getattr(found, name) for name in _LINING},
        "butts": here.butts.mapping(),
        "joints": [asdict(joint) | {"where": here.layout.where(joint.x_mm)} for joint in here.layout.joints],
        "breaches": [breach.text for breach in here.breaches],
    })  # fmt: skip


@pages.get("/boards", summary="Boards and what lies on them")
def boards(request: Request) -> Response:
    """The rack, the parts still to be cut, and where each is laid."""
    view = View(request)
    view.ready()
    found = timber(view)
    laid = found.laying.placements if found.laying else ()
    return written(view, {
        "boards": [mapping_of(board) for board in found.boards], "parts": [part.name for part in found.parts],
        "placements": [asdict(each) for each in laid], "missing": list(found.at_hand.missing),
        "stale": found.stale, "cut": found.cut, "cannot": [list(pair) for pair in found.said],
    })  # fmt: skip


@pages.get("/jig", summary="The jig, or a frame set on it")
def jig(request: Request, frame: Frame = "", columns: WithColumns = False) -> Response:
    """How the jig stands; with `frame`, every bracket of that frame's setting and what changes."""
    view = View(request)
    kept = kept_of(view)
    found: dict[str, Any] = {
        "bed": kept.bed.to_mapping() if kept.bed else None,
        "setting": kept.setting.to_mapping() if kept.setting else None,
        "on_the_bench": asdict(kept.bench), "order": [turn.frame for turn in kept.plan.turns] if kept.plan else [],
    }  # fmt: skip
    if frame:
        view.ready()
        on = on_bed(view, frame, kept)
        found |= {
            "frame": frame, "of": on.key, "ticked": sorted(on.ticked(kept)), "workings": workings(on.workings),
            "brackets": [
                {"number": b.number, "along_mm": b.along_mm, "travel_mm": b.travel_mm, "swivel_rad": b.swivel_rad}
                for b in on.jig.brackets
            ],
            "changes": [asdict(change) for change in on.change.changes], "departure_mm": on.lie.error_mm,
            "checks": checks(on.limits),
        } | ({"columns": plain_columns(bed_columns(on))} if columns else {})  # fmt: skip
    return written(view, found)


@pages.get("/glue-up", summary="The glue-up of a frame on a day")
def glue_up(
    request: Request,
    frame: Frame,
    air: Name = "",
    rh: Name = "",
    people_: Annotated[str, Query(alias="people", max_length=20)] = "",
    columns: WithColumns = False,
) -> Response:
    """The card: batches, clamps, times, the stops to be signed. `air` in °C and `rh` in per cent; 20 and 65 without."""
    view = View(request)
    found = glue_seen(view, frame, Day(air=air, rh=rh, people=people_))
    card = found.card
    return written(view, {
        "frame": frame, "revision": found.revision, "area_m2": card.area_m2, "net_g": card.net_g,
        "gross_g": card.gross_g, "pots_g": [pot.mass_g for pot in card.pots], "clamps": card.clamp_count,
        "open_used_min": card.open_used_min, "closed_used_min": card.closed_used_min,
        "release_h": card.release.release_h, "people_needed": card.people_needed, "signed": found.signed,
        "stops": [{"key": s.key, "what": s.what, "value": s.value, "limit": s.limit} for s in card.stops],
        "cautions": card.cautions, "workings": workings(card.workings),
    } | ({"columns": plain_columns(columns_of(found))} if columns else {}))  # fmt: skip


@pages.get("/release", summary="A frame off the jig")
def release(request: Request, frame: Frame, columns: WithColumns = False) -> Response:
    """Every measuring that stands, how far the frame was off its line, what to do, and what the next jig learns."""
    view = View(request)
    view.ready()
    units, engine = view.boat.units, view.file.engine
    design, _, revision = view.frame(frame)
    lesson = lesson_of(engine, glued_of(engine, frame, design, revision)[0], units)
    rows = [
        {"id": each.record.number, "at": each.record.at, "when": each.taken.when, "hand": each.taken.hand,
         "verdict": each.found.verdict, "worst_mm": each.found.worst_mm, "worst_s_mm": each.found.worst_s_mm,
         "worst_sd_mm": each.found.worst_sd_mm, "tolerance_mm": each.found.tolerance_mm,
         "suspects": each.found.suspects, "do": each.text}
        | ({"columns": plain_columns(each.columns)} if columns else {})
        for each in all_seen(engine, frame, design, units)
    ]  # fmt: skip
    learnt = {"factor": lesson.learnt.factor, "sd": lesson.learnt.sd, "frames": len(lesson.springs)}
    found = {"frame": frame, "revision": revision, "measured": rows, "learnt": learnt,
             "workings": workings(lesson.workings)}  # fmt: skip
    if columns:
        found["columns"] = plain_columns(ripping_plan_columns(plan_for(design)))
    return written(view, found)


@pages.get("/plan", summary="The work plan")
def plan(request: Request) -> Response:
    """Every operation planned, from when to when and by whom; what is late; finish and how much better it could be."""
    view = View(request)
    view.ready()
    found = plan_work.stand(
        view.file.engine, view.kept, lambda label: view.frame(label)[::2], lambda name: view.plank(name)[0]
    )
    plan = found.plan
    rows = [
        {"op": e.op, "starts": e.starts.isoformat(), "ends": e.ends.isoformat(), "people": e.people, "jig": e.jig}
        for e in (plan.entries if plan else ())
    ]
    done = {op: {"started": did.started.isoformat(), "finished": did.finished.isoformat() if did.finished else None}
            for op, did in found.job.done.items()}  # fmt: skip
    return written(view, {
        "stale": found.stale, "finish": plan.finish.isoformat() if plan and plan.entries else None,
        "gap": plan.gap if plan else None, "operations": rows, "done": done,
        "late": found.late(plan_work.clock()), "said": found.said,
    })  # fmt: skip


@pages.get("/log", summary="The logbook")
def log(
    request: Request,
    find: Name = "",
    member: Name = "",
    day: Name = "",
    who: Name = "",
    what: Name = "",
    start: Annotated[int, Query(alias="from", ge=0, le=10**7)] = 0,
    limit: Few = 200,
) -> Response:
    """Entries that hold the words and are of that member, day, person and kind; the latest first."""
    view = View(request)
    kept = searched(lines_of(view), find, member, day, who, what)
    return written(view, {"count": len(kept), "entries": [asdict(each) for each in kept[start : start + limit]]})


@pages.get("/records", summary="Records")
def records(
    request: Request,
    kind: Annotated[str, Query(max_length=40, examples=["release"])] = "",
    member: Frame = "",
    after: Annotated[int, Query(ge=0, lt=10**9)] = 0,
    limit: Few = 500,
) -> Response:
    """Records that stand (none that was corrected), whole, oldest first: releases, glue-ups, signatures, entries."""
    view = View(request)
    there = [r for r in store.records(view.file.engine, kind or None, member or None) if r.number > after]
    rows = [
        {"id": r.number, "kind": r.kind, "member": r.member, "at": r.at, "who": r.who, "corrects": r.corrects,
         "detail": r.detail}
        for r in there[:limit]
    ]  # fmt: skip
    return written(view, {"records": rows, "more": len(there) > limit})


@pages.get("/people", summary="Names of the people of the yard")
def names(request: Request) -> Response:
    """Who may sign in, by name and role."""
    view = View(request)
    there = [person for person in people(view.file.engine) if person.active]
    return written(view, {"people": [{"name": person.name, "role": person.role} for person in there]})


@pages.get("/choices", summary="What was settled of a part")
def choices(request: Request, part: Annotated[str, Query(max_length=40, examples=["jig"])]) -> Response:
    """The latest choices of one part of the yard, by name: jig, glue, lining, board, layout, yard, frame or plank."""
    view = View(request)
    if part not in (known := get_args(Part)):
        raise ScrieveError(f"part {part!r}: say one of {', '.join(known)}.")
    found: Mapping[str, Any] = store.choices(view.file.engine, next(each for each in known if each == part))
    return written(view, {"part": part, "choices": found})
