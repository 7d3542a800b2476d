"""The logbook: written in, searched, by member and by day; photographs; the record and the bundle."""

from __future__ import annotations

import itertools
import re
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import ScrieveError
from scrieve.logbook import found
from scrieve.logbook.written import KINDS
from scrieve.store.undoing import taken_back
from scrieve.web.addresses import own_path
from scrieve.web.boat.pages import frame_states
from scrieve.web.forms import Parcelled
from scrieve.web.logbook.record import record_of
from scrieve.web.logbook.work import bundle_of, keep, lines_of
from scrieve.web.views import View

pages = APIRouter()

#: Entries to a page.
A_PAGE = 60

_EMPTY = dict.fromkeys(("kind", "member", "text", "values", "temperature", "humidity", "sign", "corrects"), "")

Words = Annotated[str, Query(max_length=120)]


@pages.get("/log")
def log(
    request: Request,
    find: Words = "",
    member: Words = "",
    day: Words = "",
    who: Words = "",
    what: Words = "",
    start: Annotated[int, Query(alias="from", ge=0, le=10**7)] = 0,
    corrects: Annotated[int, Query(ge=0, le=10**9)] = 0,
) -> Response:
    """The logbook, the latest first, with the form that writes in it."""
    view = View(request)
    asked = {"find": find, "member": member, "day": day, "who": who, "what": what}
    return _page(view, asked, start, _EMPTY | {"corrects": str(corrects or ""), "member": member})


def _page(
    view: View, asked: dict[str, str], start: int, typed: dict[str, str], error: str = "", status: int = 200
) -> Response:
    lines = lines_of(view)
    kept = found(lines, asked["find"], asked["member"], asked["day"], asked["who"], asked["what"])
    shown = kept[start : start + A_PAGE]
    days = [(day, list(group)) for day, group in itertools.groupby(shown, key=lambda entry: entry.day)]
    given = {name: value for name, value in asked.items() if value}
    before, after = (
        "/log?" + urlencode(given | {"from": at}) if there else ""
        for at, there in ((max(start - A_PAGE, 0), start > 0), (start + A_PAGE, start + A_PAGE < len(kept)))
    )
    put_right = next((entry for entry in lines if entry.number and str(entry.number) == typed.get("corrects")), None)
    return view.page(
        "log.html",
        status,
        days=days,
        undone=_able(view),
        count=len(kept),
        asked=asked,
        typed=typed,
        put_right=put_right,
        error=error,
        newer=before,
        older=after,
        kinds=KINDS,
        key=view.key("log", typed),
        people=sorted({entry.who for entry in lines}),
        whats=sorted({entry.what for entry in lines}),
        members=[
            *(f"frame {state.label}" for state in frame_states(view.kept, view.hull)),
            *(f"plank {name}" for name in view.kept.planks),
        ],
    )


def _able(view: View) -> set[int]:
    """Acts that may be taken back, or done again: the page that asks tells whether a later one stands against it."""
    acts = store.acts(view.file.engine)
    return {act.number for act in acts if act.now is not None} - taken_back(acts)


@pages.post("/log")
def write_in(request: Request, sent: Parcelled) -> Response:
    """Store an entry; led back to where it was written."""
    view = View(request)
    try:
        keep(view, sent)
    except ScrieveError as error:
        asked = dict.fromkeys(("find", "member", "day", "who", "what"), "")
        return _page(view, asked, 0, _EMPTY | sent.fields, str(error), 422)
    return RedirectResponse(own_path(sent.fields.get("back", "/log")), 303)


@pages.get("/log/photographs/{digest}")
def photograph(request: Request, digest: str) -> Response:
    """One photograph, by the SHA-256 of its bytes."""
    if not re.fullmatch(r"[0-9a-f]{64}", digest):
        raise HTTPException(404)
    try:
        jpeg = store.photograph(request.app.state.boat.engine, digest)
    except ScrieveError as error:
        raise HTTPException(404, str(error)) from error
    return Response(jpeg, media_type="image/jpeg", headers={"Cache-Control": "private, max-age=31536000, immutable"})


@pages.get("/log/record.pdf")
def record(request: Request) -> Response:
    """The record that a surveyor reads, as a PDF."""
    view = View(request)
    if not view.cannot:  # a hull that cannot be faired is told of in the record, and all that was written down
        view.ready()
    name = 'attachment; filename="record.pdf"'
    headers = {"Content-Disposition": name, "Cache-Control": "no-store"}
    return Response(record_of(view), media_type="application/pdf", headers=headers)


@pages.get("/log/bundle.zip")
def archive(request: Request) -> Response:
    """The boat as a bundle for an archive: JSON, CSV and photographs."""
    view = View(request)
    name = 'attachment; filename="boat-bundle.zip"'
    return Response(
        bundle_of(view),
        media_type="application/zip",
        headers={"Content-Disposition": name, "Cache-Control": "no-store"},
    )
