"""What can be done from the pages: answer a suspect mark, design a frame pair. Sent twice, stored once."""

from __future__ import annotations

from typing import get_args

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import BadMarks, CannotFair, NoSuchFrame, ScrieveError
from scrieve.frames.design import FrameChoice
from scrieve.revision import revision
from scrieve.store.keeping import Answer
from scrieve.units import parse_length
from scrieve.web.addresses import frame_path, own_path
from scrieve.web.forms import FrameForm, Sent
from scrieve.web.frame_pages import frame_page, frames_page
from scrieve.web.views import View

pages = APIRouter()
_WHO = "pages"


@pages.post("/marks/answer")
def answer(request: Request, sent: Sent) -> Response:
    """Keep the builder's answer to a mark; lead back to the page it came from."""
    view = View(request)
    number, what = sent.get("number", ""), sent.get("what", "")
    if not (number.isascii() and number.isdigit() and len(number) < 10):
        raise BadMarks(f"mark {number!r}: give the number of a mark.")
    if what not in ("keep", "drop"):
        raise BadMarks(f"answer {what!r}: say keep or drop.")
    said: Answer = next(each for each in get_args(Answer) if each == what)
    store.answer(view.file.engine, int(number), said, key=sent.get("key") or None, who=_WHO)
    return RedirectResponse(own_path(sent.get("back", "/")), 303)


@pages.post("/frames/design")
def design(request: Request, sent: Sent) -> Response:
    """Keep the choice for a frame pair where a pair can be designed from it; else give back what was typed."""
    view = View(request)
    form = FrameForm.typed(sent)
    try:
        choice, station = _tried(view, form)
        stored = {"choice": choice.to_mapping(), "station_mm": station}
        # the content is part of the key: an older page of the browser, changed and sent again, is another act
        key = f"{sent['key']}-{revision(form)}" if sent.get("key") else None
        store.keep_frame(view.file.engine, form.label, stored, key=key, who=_WHO)
    except ScrieveError as error:
        if sent.get("on") == "frame" and form.label:
            try:
                return frame_page(view, form.label, form, error, 422)
            except NoSuchFrame:  # it is none yet: the list has the form too
                return frames_page(view, form, error, 422)
        return frames_page(view, form, error, 422)
    return RedirectResponse(frame_path(form.label), 303)


def _tried(view: View, form: FrameForm) -> tuple[FrameChoice, float | None]:
    """Return the choice, and the station of a frame without marks, once a pair has been designed from them."""
    if view.hull is None:
        raise view.cannot or CannotFair("the hull is still being faired; send this again in a moment.")
    entry = view.kept.frames.get(form.label, {})
    choice = form.choice(entry.get("choice"), view.boat.units)
    station = None
    if form.label not in view.hull.stations:
        if not form.station and entry.get("station_mm") is None:
            raise NoSuchFrame(f"frame {form.label!r} has no marks; give the station where it stands.")
        station = parse_length(form.station, view.boat.units) if form.station else entry["station_mm"]
        if entry.get("station_mm") is not None and abs(station - entry["station_mm"]) < 1.0:
            station = entry["station_mm"]  # as the page had rounded it
    view.kept.design(choice, station)
    return choice, station
