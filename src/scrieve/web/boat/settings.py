"""The boat's own settings: name, face of the planking, thickness, units, measuring error, beam, note."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.boat import Boat
from scrieve.errors import BadBoat, BadLength, ScrieveError
from scrieve.sheets.figures import length
from scrieve.store import Conflict
from scrieve.units import parse_length
from scrieve.web.forms import Sent
from scrieve.web.people.who import who
from scrieve.web.settling import Seen
from scrieve.web.views import View

pages = APIRouter()

_LENGTHS = {"thickness_mm": "thickness", "sigma_mm": "sigma", "half_beam_mm": "beam"}
_TEXTS = ("name", "planking", "units", "note")


def form_of(boat: Boat) -> dict[str, str]:
    """Return the form filled with what the boat has."""
    found = {name: str(getattr(boat, name)) for name in _TEXTS}
    for name, field in _LENGTHS.items():
        value = getattr(boat, name)
        found[field] = "" if value is None else length(value * (2 if field == "beam" else 1), boat.units)
    return found


def read_form(fields: Mapping[str, str], before: Boat) -> Boat:
    """Return the boat as typed; what still reads as before stays as it was, to the last bit.

    Raises
    ------
    ScrieveError
        A value cannot be read or used; the message says which.
    """
    shown, changed = form_of(before), {}
    for name in _TEXTS:
        if name in fields and fields[name].strip() != shown[name]:
            changed[name] = fields[name].strip()
    new: dict[str, Any] = dict(changed)
    for name, field in _LENGTHS.items():
        text = fields.get(field, shown[field]).strip()
        if text == shown[field]:
            continue
        if not text and field == "beam":
            new[name] = None
            continue
        try:
            new[name] = parse_length(text, before.units) / (2 if field == "beam" else 1)
        except BadLength as error:
            raise BadLength(f"{field}: {error}") from error
    if new.get("units", "mm") not in ("mm", "ft"):
        raise BadBoat(f"units: found {new['units']!r}; say mm or ft.")
    return replace(before, **new)


@pages.get("/settings")
def settings(request: Request) -> Response:
    """The boat's settings, to be changed."""
    view = View(request)
    return view.early() or _page(view, form_of(view.boat))


def _page(view: View, form: Mapping[str, str], error: ScrieveError | None = None, status: int = 200) -> Response:
    return view.page("settings.html", status, form=form, error=error)


@pages.post("/settings")
def keep(request: Request, sent: Sent) -> Response:
    """Keep the boat's settings; the hull is faired anew from them."""
    view = View(request)
    seen, engine = Seen.of(sent), view.file.engine
    before = store.boat_at(engine, seen.first)
    try:
        mine = asdict(read_form(sent, before))
        boat = Boat(**seen.settled(asdict(before), asdict(view.boat), mine))
        store.keep_boat(engine, boat, seen=seen.act, who=who())
    except Conflict:
        raise
    except ScrieveError as error:
        return _page(view, {**form_of(view.boat), **sent}, error, 422)
    return RedirectResponse("/", 303)
