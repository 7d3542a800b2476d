"""The application: routes, errors turned into pages in one place, and the guard before them."""

from __future__ import annotations

from pathlib import Path

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.staticfiles import StaticFiles

from scrieve.errors import CannotFair, NoSuchFrame, NoSuchPlank, ScrieveError, StoreAway
from scrieve.store import Conflict, Place
from scrieve.web import acts, sheet_pages
from scrieve.web.api import acts as api_acts
from scrieve.web.api import designs as api
from scrieve.web.api import document as api_document
from scrieve.web.api import jobs as api_jobs
from scrieve.web.api import read as api_read
from scrieve.web.api import readings as api_readings
from scrieve.web.api import work as api_work
from scrieve.web.api import write as api_write
from scrieve.web.api import yard as api_yard
from scrieve.web.away import offline as offline_pages
from scrieve.web.away import outbox as outbox_pages
from scrieve.web.away.outbox import FromOutbox
from scrieve.web.boat import finding
from scrieve.web.boat import pages as boat_pages
from scrieve.web.boat import round_pages as solid_pages
from scrieve.web.boat import settings as settings_pages
from scrieve.web.boatfile import BoatFile
from scrieve.web.fairing import members as fairing_members
from scrieve.web.fairing import pages as fairing_pages
from scrieve.web.frames import pages as frame_pages
from scrieve.web.glue_up import pages as glue_pages
from scrieve.web.jig import order as jig_order
from scrieve.web.jig import pages as jig_pages
from scrieve.web.language.catalogue import Catalogue
from scrieve.web.language.languages import InLanguage
from scrieve.web.learning import pages as learning_pages
from scrieve.web.lining import pages as lining_pages
from scrieve.web.logbook import pages as log_pages
from scrieve.web.logbook import undo as undo_pages
from scrieve.web.people import pages as sign_in_pages
from scrieve.web.people.sign_in import SignIn
from scrieve.web.planks import files as plank_files
from scrieve.web.planks import pages as plank_pages
from scrieve.web.planks import skin as plank_skin
from scrieve.web.release import pages as release_pages
from scrieve.web.server.fixed import Fixed
from scrieve.web.server.guard import Guard
from scrieve.web.server.hosts import KnownHosts
from scrieve.web.server.once import AnsweredBefore, Once, away_status, told_before
from scrieve.web.server.remembered import Remembered
from scrieve.web.settling import conflict_page
from scrieve.web.studies import Studies
from scrieve.web.takeoff import bevels_pages
from scrieve.web.takeoff import pages as takeoff_pages
from scrieve.web.timber import pages as timber_pages
from scrieve.web.views import HERE, write
from scrieve.web.workplan import pages as plan_pages
from scrieve.wording import said

#: The modules that hold the addresses.
PARTS = (
    takeoff_pages,
    bevels_pages,
    boat_pages,
    settings_pages,
    fairing_members,
    fairing_pages,
    frame_pages,
    jig_pages,
    jig_order,
    glue_pages,
    release_pages,
    lining_pages,
    plan_pages,
    plank_files,
    plank_skin,
    plank_pages,
    timber_pages,
    sheet_pages,
    solid_pages,
    finding,
    sign_in_pages,
    log_pages,
    undo_pages,
    outbox_pages,
    offline_pages,
    learning_pages,
    acts,
    api,
    api_read,
    api_write,
    api_work,
    api_jobs,
    api_acts,
    api_yard,
    api_readings,
    api_document,
)


#: What is refused, by the status of the answer: its heading, and what is said where the refusal itself says nothing.
_REFUSED = {
    400: ("Not understood", ""),
    403: ("Not from these pages", ""),
    404: ("No such page", "There is no page at this address."),
    405: ("Not done here", "This address does not take what was sent."),
    409: ("Changed meanwhile", ""),
    413: ("Too large", ""),
    415: ("Not understood", ""),
    503: ("Not yet", ""),
}


def create_app(path: Path | Place, *, host: str = "127.0.0.1", language: Catalogue | None = None) -> FastAPI:
    """Return the pages of one boat file; its hull is faired at once, in a thread of its own.

    Parameters
    ----------
    path : Path or Place
        The boat file, or a boat in a store.
    host : str
        The address these pages are bound to: asked for under other names than its own, they refuse.
    language : Catalogue, optional
        In whose words they speak; English, unless given.

    Raises
    ------
    BadBoat
        The file is missing, damaged, or not a boat file.
    """
    boat = BoatFile(path)
    app = FastAPI(title="Scrieve", docs_url=None, redoc_url=None, openapi_url=None, redirect_slashes=False)
    app.state.boat = boat
    app.state.studies = Studies()
    app.mount("/static", StaticFiles(directory=HERE / "static"), name="static")
    for part in PARTS:
        app.include_router(part.pages)
    app.add_exception_handler(ScrieveError, _told)
    app.add_exception_handler(AnsweredBefore, told_before)
    app.add_exception_handler(HTTPException, _refused)
    app.add_exception_handler(RequestValidationError, _unreadable)
    app.add_middleware(Once)
    app.add_middleware(FromOutbox, boat_name=lambda: boat.state().kept.boat.name)
    app.add_middleware(GZipMiddleware, minimum_size=2000, compresslevel=4)  # 9 takes five times as long for 7 % less
    app.add_middleware(Remembered)
    hosts = KnownHosts(host)
    app.add_middleware(SignIn, engine=boat.engine, at_home=hosts.alone, refused=_may_not)
    app.add_middleware(Fixed, folder=HERE / "static")
    app.add_middleware(Guard, hosts=hosts, refused=_foreign_host, failed=_failed)
    if language:
        app.add_middleware(InLanguage, catalogue=language)
    boat.fairing(boat.state(), patience_s=0.0)
    return app


def _answer(request: Request, status: int, heading: str, text: str, way: str, *links: tuple[str, str]) -> Response:
    if request.url.path.startswith("/api/"):
        return JSONResponse({"error": text, "do": way}, status, headers={"Cache-Control": "no-store"})
    return write("error.html", status, heading=heading, text=text, way=way, links=links)


def _told(request: Request, error: Exception) -> Response:
    if isinstance(error, Conflict):
        return conflict_page(request, error)
    text = str(error)
    if " mm" in text and not request.url.path.startswith("/api/"):
        text = said(error, request.app.state.boat.state().kept.boat.units)
    if isinstance(error, (NoSuchFrame, NoSuchPlank)):
        link = ("/frames", "All frames") if isinstance(error, NoSuchFrame) else ("/planks", "All planks")
        return _answer(request, 404, "Not in this boat", text, "The list leads to all there are.", link)
    if isinstance(error, CannotFair):
        links = ("/marks/new", "Take marks off"), ("/marks", "To the marks")
        return _answer(request, 422, "No fair hull yet", text, "It is faired as soon as they are there.", *links)
    if isinstance(error, StoreAway):
        way = "What was stored before is there. Once it is put right, send this again: it is stored once."
        return _answer(request, away_status(error), "The store cannot be had", text, way)
    return _answer(request, 422, "That cannot be done", text, "Put it right and try again; nothing was changed.")


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    heading, text = _REFUSED.get(error.status_code, ("That cannot be done", ""))
    text = text or str(error.detail)
    answer = _answer(request, error.status_code, heading, text, "Start from the boat's page.")
    answer.headers.update(error.headers or {})
    return answer


def _unreadable(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    names = ", ".join(str(fault["loc"][-1]) for fault in error.errors())
    return _answer(request, 422, "Not understood", f"Missing or not readable: {names}.", "Start from the boat's page.")


def _may_not(request: Request, text: str) -> Response:
    return _answer(request, 403, "Not for you to do", text, "Ask the keeper of the yard.")


def _foreign_host(request: Request, host: str) -> Response:
    text = f"These pages were asked for under the name {host or '(none)'}, which is not this machine's."
    way = "Use the address that 'scrieve serve' has printed."
    return _answer(request, 421, "Asked for under a foreign name", text, way)


def _failed(request: Request, number: str) -> Response:
    text = f"A fault of this program, number {number}. What is stored is safe."
    way = f"The window in which it runs tells more beside the number {number}; go back and try another way."
    return _answer(request, 500, "Something went wrong", text, way)
