"""Finding: what is typed at the head of a page leads to the frame, plank, board or page that is so called."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.takeoff.frame_names import frames_meant
from scrieve.web.addresses import frame_path, plank_path
from scrieve.web.boat.pages import frame_states
from scrieve.web.views import View

pages = APIRouter()

#: Pages by the words that lead to them.
PLACES = (
    ("boat", "/"),
    ("in the round", "/round"),
    ("take-off, marks", "/marks"),
    ("new marks", "/marks/new"),
    ("fairing, suspects", "/fairing"),
    ("frames", "/frames"),
    ("jig", "/jig"),
    ("glue-up", "/glue-up"),
    ("release, off the jig", "/release"),
    ("planking", "/planks"),
    ("lining off, strakes, seams, butts", "/planks/lining"),
    ("timber, boards", "/timber"),
    ("logbook, record", "/log"),
    ("sheets, patterns", "/sheets"),
    ("first run, tour in ten steps, help", "/tour"),
    ("words, glossary", "/words"),
)


@dataclass(frozen=True, slots=True)
class Found:
    """One thing that may be meant: what it is, its name, and its page."""

    kind: str
    name: str
    path: str


def everything(view: View) -> list[Found]:
    """All that has a name and a page."""
    found = [Found("frame", state.label, frame_path(state.label)) for state in frame_states(view.kept, view.hull)]
    found += [Found("plank", name, plank_path(name)) for name in view.kept.planks]
    found += [Found("board", name, "/timber") for name in store.choices(view.file.engine, "board")]
    return found + [Found("page", words, path) for words, path in PLACES]


def meant(words: str, found: Sequence[Found]) -> list[Found]:
    """Return what `words` may mean, the likeliest first: exactly so called, beginning so, holding all the words.

    Examples
    --------
    >>> there = [Found("frame", "14", "/frames/14"), Found("frame", "4", "/frames/4"), Found("plank", "strake 4", "/p")]
    >>> [each.name for each in meant("4", there)], [each.name for each in meant("frame 14", there)]
    (['4', 'strake 4', '14'], ['14'])
    """
    asked = words.casefold().split()
    if not asked:
        return []

    def rank(each: Found) -> int | None:
        name = each.name.casefold()
        full = f"{each.kind} {name}"
        if " ".join(asked) in (name, full):
            return 0
        if all(any(part.strip(",") == word for part in full.split()) for word in asked):
            return 1
        if full.startswith(" ".join(asked)) or name.startswith(" ".join(asked)):
            return 2
        return 3 if all(word in full for word in asked) else None

    ranked = [(rank(each), place, each) for place, each in enumerate(found)]
    return [each for found_rank, _, each in sorted((r, p, e) for r, p, e in ranked if r is not None)]


@pages.get("/find")
def find(request: Request, what: Annotated[str, Query(max_length=80)] = "") -> Response:
    """Lead to the one thing that is so called, or list what may be meant."""
    view = View(request)
    found = meant(what, everything(view))
    called = [
        each
        for each in found
        if what.casefold().strip() in (each.name.casefold(), f"{each.kind} {each.name}".casefold())
    ]
    if len(called) == 1:
        return RedirectResponse(called[0].path, 303)
    if not found:
        stations = {mark.frame: mark.station_mm for mark in view.state.every_mark}
        name = " ".join(what.split()).removeprefix("frame ")
        found = [Found("frame", label, frame_path(label)) for label in frames_meant(name, stations)]
    return view.page("find.html", what=what, found=found[:60])
