"""The jig: described once, how it stands, one frame set on it, and its brackets one by one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from threading import Lock
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import BadJig, ScrieveError
from scrieve.frames.choice import FrameChoice
from scrieve.frames.columns.bed import bed_columns
from scrieve.frames.jig.bed import JigBed
from scrieve.frames.jig.setting_kept import FrameOnBed, JigKept, frame_on_bed
from scrieve.sheets import frame_setting
from scrieve.sheets.bench import BenchSheet
from scrieve.sheets.pack import file_name
from scrieve.sheets.pdf import bench_sheet_pdf
from scrieve.store import Conflict
from scrieve.web.column_whys import table_whys
from scrieve.web.faults import at_fault, in_words
from scrieve.web.forms import Sent
from scrieve.web.jig import form
from scrieve.web.jig.steps import steps as steps_at_the_bench
from scrieve.web.people.who import who
from scrieve.web.settling import as_seen, keep_settled, not_changed
from scrieve.web.sheet_pages import code_of
from scrieve.web.views import View
from scrieve.wording import in_units

pages = APIRouter()
#: Reading what is kept of the jig and keeping it changed is one act, whoever ticks meanwhile.
_keeping = Lock()


def kept_of(view: View) -> JigKept:
    """What is kept of the jig."""
    return JigKept.of(store.choices(view.file.engine, "jig"))


def usual_bed(view: View) -> JigBed:
    """The bed offered where none has been described: with the rails of the first frame designed."""
    for entry in view.kept.frames.values():
        return JigBed.of(FrameChoice.from_mapping(entry["choice"]))
    return JigBed()


def on_bed(view: View, label: str, kept: JigKept) -> FrameOnBed:
    """One designed frame on the bed; raise what `View.frame` and `frame_on_bed` raise."""
    design, _, revision = view.frame(label)
    return frame_on_bed(design, revision, kept, view.boat.units)


def jig_path(page: str = "", **query: str) -> str:
    """Address of a page of the jig."""
    return "/jig" + page + ("?" + urlencode(query) if query else "")


@pages.get("/jig")
def jig(request: Request, frame: Annotated[str | None, Query()] = None) -> Response:
    """The jig and how it stands; with `frame`, that frame set on it."""
    view = View(request)
    if early := view.early():
        return early
    return _jig(view) if frame is None else _frame(view, frame)


def _jig(view: View, typed: dict[str, str] | None = None, error: ScrieveError | None = None) -> Response:
    kept = kept_of(view)
    bed = kept.bed or usual_bed(view)
    units = view.boat.units
    standing = frame_setting.setting_table(kept.setting, units) if kept.setting and kept.setting.stands else None
    return view.page(
        "jig.html",
        422 if error else 200,
        groups=form.GROUPS,
        values=typed or form.shown(bed, units),
        at=at_fault(error, form.NAMES, typed or {}),
        stored=kept.bed is not None,
        kept=kept,
        standing=standing,
        labels=list(view.kept.frames),
        error=in_words(error, form.NAMES, typed or {}, units) if error else None,
    )


def _frame(view: View, label: str) -> Response:
    kept = kept_of(view)
    units = view.boat.units
    found, said = None, None
    try:
        found = on_bed(view, label, kept)
    except BadJig as error:
        said = error
    context: dict[str, Any] = {"label": label, "kept": kept, "found": found, "said": said}
    if found:
        tables = [
            frame_setting.bracket_table(found, units),
            frame_setting.proof_table(found, units),
            frame_setting.bay_table(found, units),
        ]
        context |= {
            "drawing": frame_setting.bed_drawing(found, units),
            "tables": tables,
            "whys": table_whys(tables, bed_columns(found), units),
            "checks": in_units(found.limits, units),
            "workings": in_units(found.workings, units),
            "ticked": found.ticked(kept),
        }
    return view.page("jig_frame.html", 422 if said else 200, **context)


@pages.get("/jig/sheet.pdf")
def sheet_pdf(request: Request, frame: Annotated[str, Query()]) -> Response:
    """A frame's place on the jig, with its change list, to be printed."""
    view = View(request)
    view.ready()
    found = on_bed(view, frame, kept_of(view))
    revision = view.kept.frame_revision(frame)
    link = code_of(view, jig_path(frame=frame), revision)
    sheet = frame_setting.setting_bench_sheet(found, view.boat, revision, link)
    return pdf_of(sheet, f"frame-{file_name(frame)}-jig")


def pdf_of(sheet: BenchSheet, name: str) -> Response:
    """A bench sheet as the answer to be printed."""
    headers = {"Content-Disposition": f'attachment; filename="{name}.pdf"', "Cache-Control": "no-cache"}
    data = bench_sheet_pdf(sheet, date=date.today().isoformat())
    return Response(data, media_type="application/pdf", headers=headers)


@pages.post("/jig/bed")
def keep_bed(request: Request, sent: Sent) -> Response:
    """Keep the bed as typed; else give back what was typed."""
    view = View(request)
    seen = as_seen(view.file.engine, "jig", "bed", sent)
    before = JigBed.from_mapping(seen) if seen else usual_bed(view)
    typed = form.typed(sent)
    try:
        bed = form.bed_of(typed, before, view.boat.units)
        usual = usual_bed(view).to_mapping()
        keep_settled(view.file.engine, "jig", "bed", bed.to_mapping(), sent, usual=usual, fit=JigBed.from_mapping)
    except Conflict:
        raise
    except ScrieveError as error:
        return _jig(view, typed, error)
    return RedirectResponse(jig_path(), 303)


@pages.post("/jig/setting")
def keep_setting(request: Request, sent: Sent) -> Response:
    """Forget how the jig stands, or keep that it stands for a frame."""
    view = View(request)
    label, what = sent.get("frame", ""), sent.get("what", "")
    if what == "forget":
        with _keeping:
            not_changed(view.file.engine, "jig", "setting", sent, setting_told, setting_told(None),
                        again="Forget it all the same")  # fmt: skip
            store.keep_choice(view.file.engine, "jig", "setting", None, who=who())
        return RedirectResponse(jig_path(), 303)
    if what != "set":
        raise BadJig(f"found {what!r}; say set or forget.")
    change_setting(view, label, lambda found, kept: found.set_whole(kept), sent=sent)
    return RedirectResponse(jig_path(frame=label), 303)


def setting_told(setting: Mapping[str, Any] | None) -> Mapping[str, str]:
    """How the jig stands by a setting as it is kept, in words."""
    bench = (setting or {}).get("bench") or {}
    if not bench.get("frame"):
        return {"set for": "nobody knows"}
    return {"set for": f"frame {bench['frame']}", "brackets ticked": f"{len(bench['ticked'])}"}


def change_setting(
    view: View,
    label: str,
    act: Callable[[FrameOnBed, JigKept], JigKept],
    of: str | None = None,
    sent: Mapping[str, str] | None = None,
) -> bool:
    """Keep the setting as an act leaves it; False where the figures are no longer those the page has shown.

    Raises
    ------
    Conflict
        The jig has been set for another frame, or was forgotten, since the form `sent` was opened.
    """
    with _keeping:
        kept = kept_of(view)
        found = on_bed(view, label, kept)
        if of is not None and of != found.key:
            return False
        after = act(found, kept)
        if (kept.bench.frame, kept.bench.of) != (label, found.key):  # two who set brackets for one frame are at one
            told = setting_told(after.setting_mapping())
            not_changed(view.file.engine, "jig", "setting", sent or {}, setting_told, told,
                        again=f"It is for frame {label} all the same")  # fmt: skip
        if after != kept:
            store.keep_choice(view.file.engine, "jig", "setting", after.setting_mapping(), who=who())
    return True


@pages.get("/jig/bench")
def bench(
    request: Request,
    frame: Annotated[str, Query()] = "",
    bracket: Annotated[int | None, Query()] = None,
    away: Annotated[float | None, Query()] = None,
    prove: Annotated[bool, Query()] = False,
    changed: Annotated[bool, Query()] = False,
) -> Response:
    """One bracket in large figures; without one named, the first that is not ticked; after the last, the checks."""
    view = View(request)
    if early := view.early():
        return early
    if not frame:  # no frame is named: the jig's page lists them
        return RedirectResponse(jig_path(), 303)
    kept = kept_of(view)
    units = view.boat.units
    try:
        found = on_bed(view, frame, kept)
    except BadJig as error:
        return view.page("jig_frame.html", 422, label=frame, kept=kept, found=None, said=error)
    steps = steps_at_the_bench(found, kept, units)
    open_steps = [n for n, step in enumerate(steps) if not step.done]
    at = next((n for n, step in enumerate(steps) if bracket and step.number == bracket), None)
    if away is not None:
        at = next((n for n, s in enumerate(steps) if not s.number and abs(s.along_mm - away) < 1.0), None)
    if at is None and open_steps and not prove:
        at = open_steps[0]
    tables = (frame_setting.bracket_table(found, units), frame_setting.proof_table(found, units))
    return view.page(
        "jig_bench.html",
        label=frame,
        found=found,
        steps=steps,
        at=at,
        left=len(open_steps),
        changed=changed,
        proof=tables[1],
        whys=table_whys(tables, bed_columns(found), units),
        proved=store.records(view.file.engine, "jig proved", frame),
    )


@pages.post("/jig/bench")
def tick(request: Request, sent: Sent) -> Response:
    """Keep that one bracket stands as shown, or that it does not; lead on to the next."""
    view = View(request)
    label, what, of = sent.get("frame", ""), sent.get("what", ""), sent.get("of", "")
    if what == "proved":
        detail = {"of": of, "frame": label, "revision": view.kept.frame_revision(label)}
        key = sent.get("key") or None
        store.add_record(view.file.engine, "jig proved", label, detail, key=key, who=who())
        return RedirectResponse(jig_path(frame=label), 303)
    try:
        number, along = int(sent.get("bracket", "0")), float(sent.get("away", "nan"))
    except ValueError:
        raise BadJig("the bracket is no number; go back and press the button again.") from None

    def act(found: FrameOnBed, kept: JigKept) -> JigKept:
        if what == "away":
            return found.take_away(kept, along)
        return found.untick(kept, number) if what == "undo" else found.tick(kept, number)

    same = change_setting(view, label, act, of, sent)
    if what == "undo" or not same:
        more = {} if same else {"changed": "1"}
        return RedirectResponse(jig_path("/bench", frame=label, bracket=str(number), **more), 303)
    return RedirectResponse(jig_path("/bench", frame=label), 303)
