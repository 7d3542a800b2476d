"""What can be done from the pages: answer a suspect mark, design a frame pair. Sent twice, stored once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.chain import entry_of
from scrieve.errors import BadMarks, NoSuchFrame, ScrieveError
from scrieve.frames.design import FrameChoice
from scrieve.frames.forms import first
from scrieve.revision import revision
from scrieve.store import Conflict
from scrieve.store.keeping import Answer
from scrieve.web.addresses import frame_path, own_path
from scrieve.web.forms import FrameForm, Sent
from scrieve.web.frames.pages import frame_page, frames_page
from scrieve.web.frames.trial import tried
from scrieve.web.people.who import who
from scrieve.web.settling import Seen
from scrieve.web.views import View

pages = APIRouter()

#: Marks that are answered by one act, such as all of a dent.
MOST_AT_ONCE = 200


@pages.post("/marks/answer")
def answer(request: Request, sent: Sent) -> Response:
    """Keep the builder's answer to a mark, or to all of a dent; lead back to the page it came from."""
    view = View(request)
    number, what = sent.get("number", ""), sent.get("what", "")
    numbers = number.split()
    if not (0 < len(numbers) <= MOST_AT_ONCE) or not all(n.isascii() and n.isdigit() and len(n) < 10 for n in numbers):
        raise BadMarks(f"mark {number[:40]!r}: give the number of a mark.")
    if what not in ("keep", "drop"):
        raise BadMarks(f"answer {what!r}: say keep or drop.")
    said: Answer = next(each for each in get_args(Answer) if each == what)
    several = [int(n) for n in numbers]
    store.answer(view.file.engine, several, said, seen=Seen.of(sent).act, key=_key(sent, number, said), who=who())
    return RedirectResponse(own_path(sent.get("back", "/")), 303)


@pages.post("/frames/design")
def design(request: Request, sent: Sent) -> Response:
    """Keep the choice for a frame pair where a pair can be designed from it; else give back what was typed."""
    view = View(request)
    form, seen, engine = FrameForm.typed(sent), Seen.of(sent), view.file.engine
    before, now = (store.choice_at(engine, "frame", form.label, act) for act in (seen.first, None))
    try:
        view.state = view.state.with_frame(form.label, before)  # the form is read against what its sender saw
        choice, station, _ = tried(view, form)
        stored = {"choice": choice.to_mapping(), "station_mm": station}
        stations = view.hull.stations if view.hull else {}
        if of := entry_of(view.kept, form.label, stations, first(view.boat.units)).get("of"):
            stored["of"] = of
        kept = seen.settled(before, now, stored)
        if kept != stored:
            view.kept.design(FrameChoice.from_mapping(kept["choice"]), kept["station_mm"])
        store.keep_frame(engine, form.label, kept, seen=seen.act, key=_key(sent, form, seen), who=who())
    except Conflict:
        raise
    except ScrieveError as error:
        if sent.get("on") == "frame" and form.label:
            try:
                return frame_page(view, form.label, form, error, 422)
            except NoSuchFrame:  # it is none yet: the list has the form too
                return frames_page(view, form, error, 422)
        return frames_page(view, form, error, 422)
    return RedirectResponse(frame_path(form.label), 303)


def _key(sent: Mapping[str, str], *content: object) -> str | None:
    """Key of an act: the content is part of it, so that an older page changed and sent again is another act."""
    return f"{sent['key']}-{revision(content)}" if sent.get("key") else None
