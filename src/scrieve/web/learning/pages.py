"""Learning: a first run in ten steps, and the words of the trade."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from scrieve.web.learning.tour import steps
from scrieve.web.learning.words import WORDS
from scrieve.web.views import View

pages = APIRouter()


@pages.get("/tour")
def tour(request: Request) -> Response:
    """The ten steps, with what is done of them."""
    view = View(request)
    if early := view.early():
        return early
    found = steps(view)
    return view.page("tour.html", steps=found, now=next((n for n, step in enumerate(found) if not step.done), None))


@pages.get("/words")
def words(request: Request) -> Response:
    """The words of the trade, each with an anchor."""
    return View(request).page("words.html", groups=WORDS)
