"""The Fairing page: body plan with marks, diagonals, port against starboard, suspects, and where to measure next."""

from __future__ import annotations

import time
from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from typing import Annotated, TypeVar

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import BadMarks, ScrieveError
from scrieve.fairing.fairness import Fairness, fairness
from scrieve.fairing.lines_plan import default_diagonals, line_in
from scrieve.fairing.next_mark import NextMark, hardly_checked, next_marks
from scrieve.fairing.result import FairHull
from scrieve.fairing.sides import Sides, sides
from scrieve.sheets.bench import Table
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.fairing_drawings import asymmetry_drawing, diagonals_drawing, fairing_body_plan
from scrieve.store import Conflict
from scrieve.takeoff.marks import Mark
from scrieve.units import Units
from scrieve.web.addresses import own_path
from scrieve.web.boat.member_states import answered, one_against_many, suspects
from scrieve.web.column_whys import ColumnWhy, column_whys
from scrieve.web.fairing.dented import open_dents, opposed
from scrieve.web.fairing.frame import OneFrame, first_frame, one_frame
from scrieve.web.fairing.look import By, Look, Show
from scrieve.web.fairing.sides import hull_by, lopsided
from scrieve.web.fairing.tables import fairness_table, sides_table
from scrieve.web.fairing.trial import read, readings
from scrieve.web.fairing.workings import fairness_columns, hull_workings, places_columns, sides_columns
from scrieve.web.forms import Sent
from scrieve.web.people.who import who
from scrieve.web.settling import Seen
from scrieve.web.studies import Studies, Study, Tick
from scrieve.web.views import View
from scrieve.wording import in_units

pages = APIRouter()
T = TypeVar("T")

#: How long a request waits for what is worked out aside, all of it together [s].
PATIENCE_S = 0.3
#: How many places to measure next are named.
PLACES = 8


@dataclass(frozen=True, slots=True)
class Retyped:
    """A mark measured again, as typed: lengths still text."""

    number: int
    height: str = ""
    half_breadth: str = ""
    hold: bool = False


@dataclass(frozen=True)
class Picture:
    """What a view has to show: its drawing, table and remarks once they are there; `error` where they cannot be."""

    drawing: Drawing | None = None
    table: Table | None = None
    remarks: tuple[str, ...] = ()
    error: ScrieveError | None = None
    pending: bool = False
    one: OneFrame | None = None
    whys: tuple[ColumnWhy, ...] = ()


class _Room:
    """One request for the page: what is worked out aside, within one patience."""

    def __init__(self, view: View, hull: FairHull, look: Look) -> None:
        self.view, self.hull, self.look = view, hull, look
        self.studies: Studies = view.request.app.state.studies
        self.until = time.monotonic() + PATIENCE_S

    def _study(self, what: Hashable, make: Callable[[Tick], T]) -> Study[T]:
        return self.studies.get(self.view.state.revision, what, make, self.until - time.monotonic())

    @property
    def wanted(self) -> tuple[tuple[str | float, ...], str]:
        """The frames whose ± matters, and which those are, in words."""
        low, high = self.hull.x_range
        made: list[str | float] = []
        for label, entry in self.view.kept.frames.items():
            station = entry.get("station_mm")
            if label in self.hull.stations:
                made.append(label)
            elif station is not None and low <= station <= high:
                made.append(float(station))
        if made:
            return tuple(made), f"the {len(made)} frame pairs to be made"
        return tuple(self.hull.stations), "all frames"

    def places(self) -> Study[tuple[NextMark, ...]]:
        wanted, _ = self.wanted
        hull = self.hull
        return self._study(("next", self.look.by, wanted), lambda tick: next_marks(hull, wanted, PLACES))

    def link(self, label: str) -> str:
        """Every frame that was measured leads to itself, enlarged."""
        return self.look.path(show="frame", frame=label) + "#drawing"

    def picture(self, next_ones: tuple[NextMark, ...], typed: Retyped | None, told: ScrieveError | None) -> Picture:
        if self.look.show == "frame":
            return self._one(typed, told)
        if self.look.show == "diagonals":
            return self._diagonals()
        if self.look.show == "sides":
            return self._sides()
        hull, look, units = self.hull, self.look, self.view.boat.units
        study = self._study(
            ("body", look, next_ones, units),
            lambda tick: fairing_body_plan(
                hull,
                bands=look.bands,
                whiskers=look.marks,
                combs=((look.frame,) if look.frame else tuple(hull.stations)) if look.combs else (),
                teeth_times=look.teeth_times,
                measure_next=next_ones,
                stretch=look.stretch,
                link=self.link,
                units=units,
            ),
        )
        return Picture(study.value, error=study.error, pending=not study.done.is_set())

    def _one(self, typed: Retyped | None, told: ScrieveError | None) -> Picture:
        asked = typed or Retyped(0)
        try:
            one = one_frame(
                self.view,
                self.hull,
                self.look,
                number=asked.number,
                height=asked.height,
                half_breadth=asked.half_breadth,
                hold=asked.hold,
                told=told,
            )
        except ScrieveError as error:
            return Picture(error=error)
        return Picture(one.drawing, one=one)

    def _diagonals(self) -> Picture:
        hull, look, units = self.hull, self.look, self.view.boat.units

        def make(tick: Tick) -> tuple[Drawing, Fairness]:
            planes = default_diagonals(hull)
            report = fairness(hull, planes)
            lines = [line_in(hull, plane) for plane in planes]
            shown = report if look.marks else None
            drawing = diagonals_drawing(
                hull, lines, shown, combs=look.combs, stretch=look.stretch, link=self.link, units=units
            )
            return drawing, report

        study = self._study(("diagonals", look, units), make)
        if study.value is None:
            return Picture(error=study.error, pending=not study.done.is_set())
        drawing, report = study.value
        table = fairness_table(report, units)
        return Picture(drawing, table, whys=column_whys(table, fairness_columns(report), units))

    def _sides(self) -> Picture:
        kept, look, units = self.view.kept, self.look, self.view.boat.units
        there = {mark.side for mark in kept.marks}
        if not {"P", "S"} <= there:
            only = {"P": "port", "S": "starboard"}.get(next(iter(there - {""}), ""), "")
            found = f"only {only} was measured" if only else "the marks stand for both sides"
            return Picture(
                error=ScrieveError(
                    f"Port and starboard cannot be compared: {found}. Measure the other side of some frames too, "
                    "with P or S in the column 'side'."
                )
            )
        study: Study[Sides] = self._study(
            "sides", lambda tick: sides(kept.marks, kept.boat, "compared", answers=kept.answers, tick=tick)
        )
        if study.value is None:
            return Picture(error=study.error, pending=not study.done.is_set())
        table, remarks = sides_table(study.value, units)
        return Picture(
            asymmetry_drawing(study.value, stretch=look.stretch, link=self.link, units=units),
            table,
            remarks,
            whys=column_whys(table, sides_columns(study.value), units),
        )


@pages.get("/fairing")
def fairing(
    request: Request,
    show: Annotated[Show, Query()] = "body",
    times: Annotated[int, Query(ge=0, le=1000)] = 0,
    marks: Annotated[bool, Query()] = True,
    bands: Annotated[bool, Query()] = True,
    combs: Annotated[bool, Query()] = False,
    places: Annotated[bool, Query()] = True,
    frame: Annotated[str, Query(max_length=200)] = "",
    by: Annotated[By, Query()] = "",
    teeth: Annotated[int, Query(ge=1, le=1000)] = 100,
    mark: Annotated[int | None, Query(ge=1, lt=10**9)] = None,
    height: Annotated[str, Query(max_length=40)] = "",
    half_breadth: Annotated[str, Query(max_length=40)] = "",
    hold: Annotated[bool, Query()] = False,
) -> Response:
    """The fairing of the hull as the address asks for it.

    `mark` takes hold of a mark: in the view of one frame to try it at `height` and `half_breadth`, in the others to
    open the form that measures it again.
    """
    view = View(request)
    if early := view.early():
        return early
    look = Look(show, times, marks, bands, combs, places, frame, by, teeth)
    return fairing_page(view, look, Retyped(mark, height, half_breadth, hold) if mark else None)


def fairing_page(
    view: View, look: Look, typed: Retyped | None = None, error: ScrieveError | None = None, status: int = 200
) -> Response:
    """Return the page; `typed` and `error` are a mark measured again that was refused."""
    hull, cannot = view.hull, None
    if look.by and hull is not None:
        hull, cannot = hull_by(view, look.by, PATIENCE_S)
    picture, places, wanted = Picture(error=cannot, pending=look.by != "" and hull is None and cannot is None), None, ""
    if hull is not None:
        if look.show == "frame" and not look.frame:
            look = replace(look, frame=first_frame(hull))
        room = _Room(view, hull, look)
        _, wanted = room.wanted
        if look.show == "body" and look.places:
            places = room.places()
        picture = room.picture((places.value or ()) if places else (), typed, error)
    waits = picture.pending or (places is not None and not places.done.is_set())
    dented = open_dents(view, hull, look.by)
    by_number = {mark.number: mark for mark in view.state.every_mark}
    doubted = suspects(view, hull)
    listed = {mark.number for mark, _ in doubted} | (
        {typed.number} if typed and picture.one and picture.one.chosen else set()
    )
    if typed is not None and typed.number not in by_number and error is None:
        error = BadMarks(f"no mark {typed.number} in this boat; the take-off lists their numbers.")
    response = view.page(
        "fairing_page.html",
        status,
        look=look,
        here=look.path(),
        where="/fairing",
        hull=hull,
        whole=view.hull,
        two_sides={"P", "S"} <= {mark.side for mark in view.kept.marks},
        lopsided=lopsided(view.kept.marks, view.hull) if view.hull else (),
        picture=picture,
        places=places,
        places_whys=_places_whys((places.value or ()) if places else (), view.boat.units),
        workings={w.figure: w for w in in_units(hull_workings(hull), view.boat.units)} if hull else {},
        wanted=wanted,
        hardly_checked=in_units(hardly_checked(hull), view.boat.units) if hull else "",
        unmeasured=_unmeasured(view),
        waits=waits,
        suspects=doubted,
        dented=[(dent, in_units(dent.told(), view.boat.units)) for dent in dented],
        opposed=() if look.by else opposed(dented),
        against=one_against_many(view, hull),
        answered=answered(view),
        typed=typed,
        other=by_number.get(typed.number) if typed and typed.number not in listed else None,
        error=error,
    )
    if waits:  # what is missing comes with the next look
        del response.headers["etag"]
        response.headers["cache-control"] = "no-store"
    return response


def _places_whys(places: tuple[NextMark, ...], units: Units) -> tuple[ColumnWhy, ...]:
    """Workings of the table of places, whose last column tells by how much each narrows the ±."""
    head = ("no.", "frame", "height", "half-breadth", "mark", "± falls by")
    rows = tuple((f"place {n}", *[""] * 5) for n in range(1, len(places) + 1))
    return column_whys(Table("Measure here next", head, rows), places_columns(places), units) if places else ()


def _unmeasured(view: View) -> dict[float, str]:
    """Labels of frames to be made where no mark is yet, by their stations."""
    return {
        entry["station_mm"]: label
        for label, entry in view.kept.frames.items()
        if entry.get("station_mm") is not None and not (view.hull and label in view.hull.stations)
    }


@pages.post("/marks/again")
def again(request: Request, sent: Sent) -> Response:
    """Keep a mark measured again: the old one stands aside for the new one, in one act."""
    view = View(request)
    number = sent.get("number", "")
    if not (number.isascii() and number.isdigit() and len(number) < 10):
        raise BadMarks(f"mark {number!r}: give the number of a mark.")
    typed = Retyped(int(number), sent.get("height", "").strip(), sent.get("half_breadth", "").strip())
    back = own_path(sent.get("back", "/fairing"))
    try:
        old = next((mark for mark in view.state.every_mark if mark.number == typed.number), None)
        if old is None:
            raise BadMarks(f"no mark {number} in this boat; the take-off lists their numbers.")
        new = _measured_again(view, old, typed)
        if view.kept.answers.get(old.number) != "measured again":
            key = sent.get("key") or None
            seen = Seen.of(sent).act
            store.answer(view.file.engine, old.number, "measured again", replacement=new, seen=seen, key=key, who=who())
        elif not any(_alike(new, mark) for mark in view.state.every_mark if mark.number > old.number):
            raise BadMarks(
                f"mark {number} was measured again before, and its new mark counts in its place; measure that one "
                "again, or drop it."
            )
    except Conflict:
        raise
    except ScrieveError as error:
        return fairing_page(view, Look.of(back), typed, error, 422)
    return RedirectResponse(back, 303)


def _measured_again(view: View, old: Mark, typed: Retyped) -> Mark:
    """Return the mark that takes the place of `old`: a plain reading of height and half-breadth."""
    height, half = read(typed.height, typed.half_breadth, view.boat.units)
    shown = readings(old, view.boat.units)  # what still reads as before was not rounded by being shown
    return replace(
        old,
        height_mm=old.height_mm if typed.height == shown[0] else height,
        half_breadth_mm=old.half_breadth_mm if typed.half_breadth == shown[1] else half,
        sigma_mm=old.sigma_mm if old.way == "offsets" else None,
        note=f"mark {old.number} measured again",
        number=0,
        line=0,
        var_height_mm2=None,
        var_half_breadth_mm2=None,
        cov_mm2=None,
        way="offsets",
        raw="",
    )


def _alike(new: Mark, stored: Mark) -> bool:
    return replace(stored, number=0) == new
