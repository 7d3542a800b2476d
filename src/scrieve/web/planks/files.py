"""A plank's file sent to the pages: its seams, the marks of its spiling batten, or a trace of it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, get_args

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from scrieve.errors import BadMarks, BadPlank, ScrieveError
from scrieve.planking import PlankEnds, SpilingChoice, StrakeChoice
from scrieve.sheets.plank_read import Says, read_plank_file
from scrieve.store import Conflict
from scrieve.units import parse_length
from scrieve.web.addresses import plank_path
from scrieve.web.forms import Parcel, Parcelled
from scrieve.web.planks.pages import list_page, plank_page
from scrieve.web.settling import as_seen, keep_plank
from scrieve.web.views import View

pages = APIRouter()
UNITS = ("", "mm", "cm", "m", "in", "ft")


@pages.post("/planks/file")
def plank_file(request: Request, parcel: Parcelled) -> Response:
    """Keep the plank of a file where it can be drawn; else tell why beside what was typed. Nothing is half kept."""
    view = View(request)
    try:
        name, entry, warnings = entry_of_file(view, parcel)
        if entry["kind"] != "spiled":
            view.ready()

        keep_plank(view, name, entry, parcel.fields)
    except Conflict:
        raise
    except ScrieveError as error:
        return list_page(view, parcel.fields, error, 422)
    if warnings:  # told once, with the plank that they are about
        return plank_page(View(request), name, told=warnings)
    return RedirectResponse(plank_path(name), 303)


def entry_of_file(view: View, parcel: Parcel) -> tuple[str, dict[str, Any], tuple[str, ...]]:
    """Return the plank's name, what is to be kept of it, and what to look at in the file.

    Raises
    ------
    BadPlank, BadMarks, BadLength
        The form or the file cannot be read; the message says where.
    """
    sent, units = parcel.fields, view.boat.units
    name = sent.get("name", "").strip()
    if not name:
        raise BadPlank("the plank has no name; give what is written on it, such as 'strake 9'.")
    says = next((one for one in get_args(Says) if one == sent.get("says")), None)
    if says is None:
        raise BadPlank(f"the file: found {sent.get('says', '')!r}; say {', '.join(get_args(Says))}.")
    before = as_seen(view.file.engine, "plank", name, sent)
    if name in view.kept.planks and not sent.get("anew"):
        raise BadPlank(f"plank {name!r} is there already; tick 'in place of the plank of this name', or give another "
                       "name.")  # fmt: skip
    data, called = (
        (parcel.file, parcel.file_name) if parcel.file else (sent.get("table", "").encode(), "what is pasted")
    )
    if not data.strip():
        raise BadMarks("nothing was pasted, and no file was chosen.")
    unit = sent.get("unit", "")
    if unit not in UNITS:
        raise BadPlank(f"unit of the drawing: found {unit!r}; say {', '.join(UNITS[1:])}, or leave it blank.")
    found = read_plank_file(data, called, says, units=units, unit=unit, layer=sent.get("layer", "").strip(),
                            mirrored=bool(sent.get("outside")))  # fmt: skip
    if found.bad:
        raise BadMarks("some cells cannot be read, so nothing was stored:", found.bad)
    side = sent.get("side", "")
    typed = sent.get("thickness", "").strip()
    old = dict(before["choice"]) if before is not None and before["kind"] == found.kind else {}
    thickness = parse_length(typed, units) if typed else old.get("thickness_mm") or view.boat.thickness_mm
    if not thickness:
        raise BadPlank(f"plank {name!r}: its thickness is not known; give it.")
    anew = {} if found.marks is None else {"keep": ()}  # points were kept of the marks that were
    choice = {**old, **anew, **found.choice, "name": name, "side": side, "thickness_mm": thickness}
    choice["ends"] = {**asdict(PlankEnds()), **old.get("ends", {})}
    reader = SpilingChoice if found.kind == "spiled" else StrakeChoice
    entry: dict[str, Any] = {"kind": found.kind, "choice": _plain(asdict(reader.from_mapping(choice)))}
    if found.marks is not None:
        entry["marks"] = _plain(list(found.marks))
    return name, entry, found.warnings


def _plain(value: Any) -> Any:
    """Tuples as lists, as they come back from the store."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, (list, tuple)) else value
