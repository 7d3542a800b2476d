"""The boat, the take-off, and the list of frames."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve.chain import Kept
from scrieve.fairing.result import FairHull, MarkOff
from scrieve.sheets.drawing import Drawing
from scrieve.sheets.hull import body_plan, half_breadth_plan, profile
from scrieve.takeoff.marks import Mark
from scrieve.units import parse_length
from scrieve.web.addresses import frame_path, station_path
from scrieve.web.views import View

pages = APIRouter()


@dataclass(frozen=True, slots=True)
class FrameState:
    """One frame in a list: what has been done of it. `ready` is False where its hull does not reach it."""

    label: str
    station_mm: float | None
    marks: int
    suspects: int
    designed: bool

    @property
    def words(self) -> str:
        """The state in words."""
        found = [f"{self.marks} marks" if self.marks else "not measured"]
        found += [f"{self.suspects} suspect"] if self.suspects else []
        found += ["designed"] if self.designed else []
        return ", ".join(found)


def frame_states(kept: Kept, hull: FairHull | None) -> list[FrameState]:
    """Return the state of every frame that has marks, a place on the hull, or a design; forward to aft."""
    stations: dict[str, float] = {}
    for mark in kept.marks:
        stations.setdefault(mark.frame, mark.station_mm)
    stations |= dict(hull.stations) if hull else {}
    for label, entry in kept.frames.items():
        if label not in stations and entry.get("station_mm") is not None:
            stations[label] = entry["station_mm"]
    marks = Counter(mark.frame for mark in kept.marks)
    suspects = Counter(off.frame for off in hull.suspects) if hull else Counter[str]()
    for label, entry in kept.frames.items():
        if of := entry.get("of"):  # a blank for one hand: the marks of that side
            hand = "P" if entry["choice"].get("hands") == "port" else "S"
            marks[label] = sum(mark.frame == of and mark.side in (hand, "") for mark in kept.marks)
    labels = sorted({*stations, *kept.frames}, key=lambda label: (stations.get(label, float("inf")), label))
    return [
        FrameState(label, stations.get(label), marks[label], suspects[label], label in kept.frames) for label in labels
    ]


def hull_drawings(kept: Kept, hull: FairHull) -> list[tuple[str, Drawing]]:
    """Return profile, half-breadth plan and body plan, every frame leading to its page."""
    without: Mapping[str, float] = {
        label: entry["station_mm"]
        for label, entry in kept.frames.items()
        if label not in hull.stations and entry.get("station_mm") is not None and entry.get("of") not in hull.stations
    }
    units = kept.boat.units
    return [
        ("Profile", profile(hull, link=frame_path, not_measured=without, units=units)),
        ("Half-breadth plan", half_breadth_plan(hull, link=frame_path, not_measured=without, units=units)),
        ("Body plan", body_plan(hull, link=frame_path, not_measured=without, units=units)),
    ]


def suspects(view: View, hull: FairHull | None = None) -> list[tuple[Mark, MarkOff]]:
    """Return the suspect marks of the boat's hull, or of another through her marks, the furthest out first."""
    by_number = {mark.number: mark for mark in view.kept.marks}
    shown = hull or view.hull
    return [(by_number[off.number], off) for off in shown.suspects] if shown else []


def answered(view: View, frame: str = "") -> list[tuple[Mark, str]]:
    """Return the marks to which the builder has given an answer, with it."""
    return [
        (mark, view.kept.answers[mark.number])
        for mark in view.state.every_mark
        if mark.number in view.kept.answers and frame in ("", mark.frame)
    ]


@pages.get("/")
def boat(request: Request) -> Response:
    """The boat: three drawings, what the marks say, suspects, frames and planks."""
    view = View(request)
    if early := view.early():
        return early
    hull = view.hull
    return view.page(
        "boat.html",
        hull=hull,
        drawings=hull_drawings(view.kept, hull) if hull else [],
        frames=frame_states(view.kept, hull),
        suspects=suspects(view),
        answered=answered(view),
    )


@pages.get("/marks")
def marks(request: Request, frame: Annotated[str, Query()] = "") -> Response:
    """The take-off: every mark with how far it lies off the fair line, of one frame or of all."""
    view = View(request)
    if early := view.early():
        return early
    found = [mark for mark in view.state.every_mark if frame in ("", mark.frame)]
    return view.page(
        "marks.html",
        marks=found,
        frame=frame,
        labels=[state.label for state in frame_states(view.kept, view.hull) if state.marks],
        suspects=[pair for pair in suspects(view) if frame in ("", pair[0].frame)],
    )


@pages.get("/stations")
def at_station(request: Request, at: Annotated[str, Query()] = "") -> Response:
    """Lead from a station as typed to the page of the section there."""
    view = View(request)
    return RedirectResponse(station_path(parse_length(at, view.boat.units)), 303)
