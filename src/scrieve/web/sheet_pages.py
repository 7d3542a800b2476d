"""The sheets: what can be printed of each member, and each file, made when it is asked for."""

from __future__ import annotations

import io
import zipfile
from datetime import date
from typing import Annotated, get_args

from fastapi import APIRouter, HTTPException, Query, Request
from starlette.responses import Response

from scrieve import store
from scrieve.athand import AtHand
from scrieve.errors import ScrieveError
from scrieve.sheets.pack import ROLL_MM, write_frame, write_plank
from scrieve.sheets.pdf import Paper
from scrieve.stock.standing import LAYING
from scrieve.units import Units, parse_length
from scrieve.web.addresses import frame_path, plank_path, printed_path
from scrieve.web.frames.pages import see
from scrieve.web.planks.pages import see_plank
from scrieve.web.server.hosts import host_name, is_loopback
from scrieve.web.timber.work import timber
from scrieve.web.views import View

pages = APIRouter()

ROLL = "pattern-roll.pdf"
TILED: dict[str, Paper] = {f"pattern-{paper}.pdf": paper for paper in get_args(Paper)}
TYPES = {
    "pdf": "application/pdf",
    "dxf": "image/vnd.dxf",
    "svg": "image/svg+xml",
    "csv": "text/csv; charset=utf-8",
    "zip": "application/zip",
}
Files = dict[str, bytes]


#: Job packs made last: a bench sheet or a tiled pattern takes half a second.
_packs: AtHand[Files] = AtHand(24)


@pages.get("/sheets")
def sheets(request: Request, roll: Annotated[str, Query()] = "") -> Response:
    """Every member that has been designed, with its revision and its files; `roll` is the width of the paper."""
    view = View(request)
    roll_width(roll, view.boat.units)
    if early := view.early():
        return early
    return view.page(
        "sheets.html",
        frames=[see(view, label) for label in view.kept.frames],
        planks=[see_plank(view, name) for name in view.kept.planks],
        laid=_laid(view),
        coded=bool(link_to(view, "/")),
        roll=roll,
        usual=ROLL_MM,
    )


@pages.get("/sheets/file")
def one_file(
    request: Request,
    of: Annotated[str, Query()],
    label: Annotated[str, Query()],
    kind: Annotated[str, Query()],
    roll: Annotated[str, Query()] = "",
) -> Response:
    """One file of a member's sheets, to be saved; `kind` 'all.zip' holds every one."""
    view = View(request)
    width = roll_width(roll, view.boat.units) if kind in (ROLL, "all.zip") else None
    papers = tuple(paper for tiled, paper in TILED.items() if kind in (tiled, "all.zip"))
    today = date.today().isoformat()
    if of == "frame":
        view.ready()
        sight = see(view, label)
        if sight.design is None:
            raise sight.said or ScrieveError(f"frame {label!r} has not been designed, so it has no sheets yet.")
        design, revision, path = sight.design, sight.revision, frame_path(label)
        link = code_of(view, path, revision)
        files = _packs.get(
            (of, revision, width, papers, today, link),
            lambda: write_frame(design, view.boat, revision, link=link, date=today, roll_width_mm=width, papers=papers),
        )
    elif of == "plank":
        flat = see_plank(view, label)
        if flat.design is None:
            raise flat.said or ScrieveError(f"plank {label!r} has no sheets.")
        plank, revision = flat.design, flat.revision
        link = code_of(view, plank_path(label), revision)
        files = _packs.get(
            (of, revision, width, papers, today, link),
            lambda: write_plank(plank, view.boat, revision, link=link, date=today, roll_width_mm=width, papers=papers),
        )
    else:
        raise HTTPException(404)
    name, data = zipped(files) if kind == "all.zip" else _named(files, kind)
    headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-cache"}
    return Response(data, media_type=TYPES[name.rsplit(".", 1)[1]], headers=headers)


def _laid(view: View) -> bool:
    """Whether planks are laid on boards, and the laying is not out of date."""
    if LAYING not in store.choices(view.file.engine, "layout"):
        return False
    found = timber(view)
    return found.laying is not None and bool(found.laying.placements) and not found.stale


def roll_width(text: str, units: Units) -> float:
    """Return the width of the roll as typed [mm]; where nothing is, a usual one."""
    return parse_length(text, units) if text.strip() else ROLL_MM


def _stem(files: Files) -> str:
    return next(name for name in files if name.endswith("-bench.pdf")).removesuffix("-bench.pdf")


def _named(files: Files, kind: str) -> tuple[str, bytes]:
    stem = _stem(files)
    for name in (f"{stem}-{kind}", f"{stem}.{kind}"):
        if name in files:
            return name, files[name]
    raise HTTPException(404)


def zipped(files: Files) -> tuple[str, bytes]:
    """Return a job pack as one file: its name and its bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as pack:
        for name, data in files.items():
            pack.writestr(name, data)
    return f"{_stem(files)}.zip", out.getvalue()


def code_of(view: View, path: str, revision: str) -> str:
    """Address for the code on a sheet of a revision; the page that it leads to tells whether it is out of date."""
    return link_to(view, printed_path(path, revision))


def link_to(view: View, path: str) -> str:
    """Address for the code on a sheet; '' where these pages are not seen from any other device."""
    if is_loopback(host_name(view.request.headers.get("host", ""))):
        return ""
    return str(view.request.base_url).rstrip("/") + path
