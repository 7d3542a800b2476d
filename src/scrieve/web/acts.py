"""What can be done from the pages: answer a suspect mark, design a frame pair. Sent twice, stored once."""

from __future__ import annotations

from typing import get_args

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import BadMarks, NoSuchFrame, ScrieveError
from scrieve.revision import revision
from scrieve.store.keeping import Answer
from scrieve.web.addresses import frame_path, own_path
from scrieve.web.forms import FrameForm, Sent
from scrieve.web.frame_pages import frame_page, frames_page
from scrieve.web.frame_trial import tried
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
        choice, station, _ = tried(view, form)
        stored = {"choice": choice.to_mapping(), "station_mm": station}
        if of := view.kept.frames.get(form.label, {}).get("of"):
            stored["of"] = of
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
