"""The boat in the round, a frame on its jig likewise, and the bytes that the picture is made of."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from scrieve.sheets.drawing import Drawing
from scrieve.web.boat.pages import hull_drawings
from scrieve.web.boat.round_work import begin, boat_bodies, jig_bodies
from scrieve.web.views import View

pages = APIRouter()


@pages.get("/round")
def in_the_round(
    request: Request, frame: Annotated[str, Query(max_length=80)] = "", flat: Annotated[bool, Query()] = False
) -> Response:
    """The boat in the round; with `frame`, that frame on the jig. Without WebGL a browser is led on to the drawings."""
    view = View(request)
    if early := view.early():
        return early
    hull = view.hull
    drawings: list[tuple[str, Drawing]] = []
    if frame:
        view.kept.frame_revision(frame)
    elif hull and flat:  # not made for those who will not see them
        drawings = hull_drawings(view.kept, hull)
    page = view.page("round.html", frame=frame, drawings=drawings, hull=hull, flat=flat)
    if hull and not frame and not flat:
        begin(view)  # while the browser fetches its scripts
    return page


@pages.get("/api/bodies")
def bodies(request: Request, frame: Annotated[str, Query(max_length=80)] = "") -> Response:
    """Corners, triangles and edges of every member, or of one frame on the jig; see `scrieve.solids.written`."""
    view = View(request)
    view.ready()
    if early := view.early():
        return early
    content = jig_bodies(view, frame) if frame else boat_bodies(view)
    headers = {"ETag": view.etag, "Cache-Control": "no-cache"}
    return Response(content, media_type="application/octet-stream", headers=headers)
