"""One request for a page: the state of the boat it is answered from, and how the answer is written."""

from __future__ import annotations

import hashlib
import secrets
import shlex
from functools import cached_property
from pathlib import Path
from typing import Any
from urllib.parse import quote

from jinja2 import StrictUndefined
from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from scrieve import __version__
from scrieve.athand import AtHand
from scrieve.boat import Boat
from scrieve.chain import Kept
from scrieve.errors import ScrieveError
from scrieve.fairing.result import FairHull, MarkOff
from scrieve.frames.choice import MadeFrom
from scrieve.frames.design import FrameDesign
from scrieve.planking import PlankDesign
from scrieve.sheets.bench import BenchSheet
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.figures import by_rule, degrees, length, off_by, plus_minus, sized, thickness, unit
from scrieve.sheets.figures import thin_unit as small_unit
from scrieve.sheets.frame_sheet import frame_bench_sheet
from scrieve.sheets.plank_sheet import plank_bench_sheet
from scrieve.sheets.svg import page_svg
from scrieve.store import Conflict
from scrieve.store.people import people
from scrieve.takeoff.alike import told_alike
from scrieve.web import addresses
from scrieve.web.boatfile import BoatFile, Fairing, State
from scrieve.web.language.languages import ENGLISH, Templates, spoken
from scrieve.web.learning import words
from scrieve.web.people.who import NOBODY, asker
from scrieve.web.server.fixed import VersionedLoader
from scrieve.web.server.once import keyed
from scrieve.web.server.remembered import remembered
from scrieve.wording import said

__all__ = ["ENVIRONMENT", "HERE", "View", "drawn", "off_by", "small_unit", "write"]

HERE = Path(__file__).parent
#: Changes with every start of the program, so that a page of an older program is never taken for this one's.
_START = secrets.token_hex(4)


def drawn(drawing: Drawing) -> Markup:
    """Return a drawing for a page. Its links are left out of the tab order: the frames are listed beside it."""
    return Markup(page_svg(drawing).replace('<a class="pick"', '<a class="pick" tabindex="-1"'))


def _environment() -> Templates:
    env = Templates(
        loader=VersionedLoader(HERE / "templates", HERE / "static"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.globals |= {
        "degrees": degrees,
        "drawn": drawn,
        "length": length,
        "off_by": off_by,
        "plus_minus": plus_minus,
        "sized": sized,
        "small_unit": small_unit,
        "thickness": thickness,
        "by_rule": by_rule,
        "unit": unit,
        "frame_path": addresses.frame_path,
        "plank_path": addresses.plank_path,
        "marks_path": addresses.marks_path,
        "file_path": addresses.file_path,
        "station_path": addresses.station_path,
        "word_path": words.anchor,
        "hands": {"P": "port", "S": "starboard", "": "both sides"},
        "version": __version__,
        "language": ENGLISH,
    }
    env.filters["worded"] = said
    env.filters["told_alike"] = told_alike
    env.filters["sentence"] = lambda text: text[:1].upper() + text[1:]
    return env


ENVIRONMENT = _environment()


def write(template: str, status: int = 200, **context: Any) -> HTMLResponse:
    """Return a page that hangs on no boat."""
    text = ENVIRONMENT.get_template(template).render(
        {"boat": None, "where": "", "shut_out": asker().person is NOBODY, **context}
    )
    return HTMLResponse(text, status, headers={"Cache-Control": "no-store"})


#: Frames and planks designed last, with their bench sheets.
_frames: AtHand[tuple[FrameDesign, BenchSheet]] = AtHand(160)
_planks: AtHand[tuple[PlankDesign, BenchSheet]] = AtHand(80)


class View:
    """What one request sees: one state of the boat file, with its fair hull where there is one yet."""

    def __init__(self, request: Request) -> None:
        self.request = request
        self.file: BoatFile = request.app.state.boat
        self.state: State = self.file.state()

    @property
    def kept(self) -> Kept:
        """What is stored."""
        return self.state.kept

    @property
    def boat(self) -> Boat:
        """The boat."""
        return self.kept.boat

    @cached_property
    def fairing(self) -> Fairing:
        """How far the hull is."""
        return self.file.fairing(self.state)

    @property
    def hull(self) -> FairHull | None:
        """The fair hull; None where it is not faired yet, or cannot be."""
        return self.fairing.hull

    @property
    def cannot(self) -> ScrieveError | None:
        """Why there is no fair hull; None where there is one, or where it is still being made."""
        return self.fairing.error

    @cached_property
    def offs(self) -> dict[int, MarkOff]:
        """How each mark lies to the hull, by its number."""
        return {off.number: off for off in self.hull.offs} if self.hull else {}

    def frame(self, label: str) -> tuple[FrameDesign, BenchSheet, str]:
        """Return a designed frame pair, its bench sheet and its revision; raise what `Kept.frame` raises."""
        revision = self.kept.frame_revision(label)

        def make() -> tuple[FrameDesign, BenchSheet]:
            design = self.kept.frame(label)
            return design, frame_bench_sheet(design, self.boat, revision)

        return *_frames.get(revision, make), revision

    def plank(self, name: str) -> tuple[PlankDesign, BenchSheet]:
        """Return a plank and its bench sheet; raise what `Kept.plank` raises."""
        revision = self.kept.plank_revision(name)

        def make() -> tuple[PlankDesign, BenchSheet]:
            design = self.kept.plank(name)
            return design, plank_bench_sheet(design, self.boat, revision)

        # a spiled plank's revision knows nothing of the boat, its sheet does
        return _planks.get((revision, self.boat), make)

    def key(self, *what: object) -> str:
        """Key of an act sent from this state: the same button pressed twice is one act."""
        return hashlib.sha256(repr((self.state.acts, self.state.revision, what)).encode()).hexdigest()[:24]

    @property
    def etag(self) -> str:
        """Names what this address would answer now."""
        ready = self.fairing.done.is_set()
        known = people(self.file.engine)  # no acts of the boat, and yet a page may ask for a PIN
        what = (self.state.acts, self.state.revision, ready, str(self.request.url))
        seen = (_START, *what, asker().person, known, hash(spoken.get()))
        return f'W/"{hashlib.sha256(repr(seen).encode()).hexdigest()[:20]}"'

    def early(self) -> Response | None:
        """Return the answer where no page need be made: not faired yet, or seen before; None where one must be."""
        if not self.fairing.done.is_set():
            return self.wait()
        if self.request.headers.get("if-none-match") == self.etag:
            return Response(status_code=304, headers={"ETag": self.etag, "Cache-Control": "no-cache"})
        return remembered(self.request, self.etag)

    def ready(self) -> FairHull:
        """Return the fair hull for a file or for JSON, which cannot ask again by themselves.

        Raises
        ------
        HTTPException
            503 while it is being faired.
        CannotFair
            It cannot be.
        """
        if self.cannot:
            raise self.cannot
        if self.hull is None:
            raise HTTPException(503, "The hull is being faired; ask again in a moment.", {"Retry-After": "1"})
        return self.hull

    def hull_from(self, made_from: MadeFrom) -> FairHull:
        """Return the hull that a member is made from: that of both sides, or one side's own; raises what `ready` and
        `Kept.hull` do.
        """
        both = self.ready()
        return both if made_from == "both" else self.kept.hull(made_from=made_from)

    def wait(self) -> Response:
        """Return the page that asks again by itself until the hull is faired."""
        response = self.page("fairing.html", 202, fairing=self.fairing)
        del response.headers["etag"]
        response.headers["cache-control"] = "no-store"
        return response

    def page(self, template: str, status: int = 200, **context: Any) -> Response:
        """Return a page of this boat; errors among what is given tell their lengths in its units."""
        units = self.boat.units
        context = {name: said(value, units) if isinstance(value, ScrieveError) and not isinstance(value, Conflict)
                   else value for name, value in context.items()}  # fmt: skip
        given = {
            "boat": self.boat,
            "u": units,
            "view": self,
            "where": self.request.url.path,
            "here": quote(self.request.url.path) + (f"?{self.request.url.query}" if self.request.url.query else ""),
            "me": asker().person if asker().token else None,
            "boat_file": shlex.quote(str(self.file.path)),
        }
        text = keyed(ENVIRONMENT.get_template(template).render(given | context), self.key, self.state.acts)
        return HTMLResponse(text, status, headers={"ETag": self.etag, "Cache-Control": "no-cache"})
