"""The list of planks, and one plank."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from scrieve.errors import ScrieveError
from scrieve.planking import PlankDesign
from scrieve.sheets.bench import BenchSheet
from scrieve.web.views import View

pages = APIRouter()


@dataclass(frozen=True)
class PlankSight:
    """One plank as its page shows it; `said` tells why there is no design."""

    name: str
    kind: str
    design: PlankDesign | None
    sheet: BenchSheet | None
    revision: str
    said: ScrieveError | None


def see_plank(view: View, name: str) -> PlankSight:
    """Return what there is to show of a plank.

    Raises
    ------
    NoSuchPlank
        It is not in this boat.
    """
    revision = view.kept.plank_revision(name)
    kind = view.kept.planks[name]["kind"]
    try:
        if kind != "spiled":
            view.ready()
        design, sheet = view.plank(name)
    except ScrieveError as error:
        return PlankSight(name, kind, None, None, revision, error)
    return PlankSight(name, kind, design, sheet, revision, None)


@pages.get("/planks")
def planks(request: Request, label: Annotated[str | None, Query()] = None) -> Response:
    """The list of planks; with `label`, the page of a plank whose name no path can carry."""
    view = View(request)
    if early := view.early():
        return early
    if label is not None:
        return view.page("plank.html", sight=see_plank(view, label))
    return view.page("planks.html", planks=[see_plank(view, name) for name in view.kept.planks])


@pages.get("/planks/{name:path}")
def plank(request: Request, name: str) -> Response:
    """One plank: flat outline, setting out, bevels, backing out, board."""
    view = View(request)
    return view.early() or view.page("plank.html", sight=see_plank(view, name))
