"""The boat, the take-off, and the list of frames."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np
from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve.athand import AtHand
from scrieve.chain import Kept
from scrieve.fairing.result import FairHull
from scrieve.sheets.drawing import Array, Drawing, Hatch, HatchStyle, Item, polyline
from scrieve.sheets.hull import LETTER_MM, body_plan, half_breadth_plan, profile
from scrieve.takeoff.marks import Mark
from scrieve.units import parse_length
from scrieve.web.addresses import frame_path, station_path
from scrieve.web.boat.attention import attention
from scrieve.web.boat.member_states import FrameState, answered, frame_states, one_against_many, suspects
from scrieve.web.boat.planking import Area, areas, with_planking
from scrieve.web.frames.progress import STEPS, Progress, progress
from scrieve.web.takeoff.workings import marks_whys
from scrieve.web.views import View

__all__ = ["FrameState", "answered", "frame_states", "hull_drawings", "pages", "suspects"]

pages = APIRouter()

#: The three drawings: most of what is done to a boat leaves her hull as it is.
_drawings: AtHand[tuple[tuple[str, Drawing], ...]] = AtHand(4)


def hull_drawings(kept: Kept, hull: FairHull) -> list[tuple[str, Drawing]]:
    """Return profile, half-breadth plan and body plan, every frame leading to its page."""
    without: Mapping[str, float] = {
        label: entry["station_mm"]
        for label, entry in kept.frames.items()
        if label not in hull.stations and entry.get("station_mm") is not None and entry.get("of") not in hull.stations
    }
    units = kept.boat.units

    def make() -> tuple[tuple[str, Drawing], ...]:
        return (
            ("Profile", profile(hull, link=frame_path, not_measured=without, units=units)),
            ("Half-breadth plan", half_breadth_plan(hull, link=frame_path, not_measured=without, units=units)),
            ("Body plan", body_plan(hull, link=frame_path, not_measured=without, units=units)),
        )

    return list(_drawings.get((kept.hull_revision, units, tuple(without.items())), make))


#: Hatching of a frame by the steps done: as its tile has it. The last, fitted, is boxed instead.
_HATCHES: Mapping[int, tuple[HatchStyle, ...]] = {
    1: ("diagonal",), 2: ("diagonal", "level"), 3: ("cross",), 4: ("level",), 5: ("level", "upright"), 6: (),
}  # fmt: skip


#: More marks than these are folded by frame: one table of them keeps a browser busy.
_MANY = 40
#: Points along a section where it is hatched.
_ALONG = 61


def with_states(
    drawings: Sequence[tuple[str, Drawing]],
    hull: FairHull,
    far: Mapping[str, Progress],
    stations: Mapping[str, float],
) -> list[tuple[str, Drawing]]:
    """Return the three drawings with every frame that is begun hatched by how far it is, under their lines."""
    first, last = hull.x_range
    begun = [
        (frame, stations[label])
        for label, frame in far.items()
        if frame.done and label in stations and first - 1e-6 <= stations[label] <= last + 1e-6
    ]
    if not begun:
        return list(drawings)
    places = sorted(stations.values())
    room = float(np.median(np.diff(places))) if len(places) > 1 else 200.0
    grid = hull.point(np.array(list(hull.stations.values()))[:, None], np.linspace(0.0, 1.0, _ALONG))
    broadest = float(grid[int(np.argmax(grid[..., 1].max(axis=1))), 0, 0]) if len(grid) else first
    drawn = []
    for title, drawing in drawings:
        strips: list[Item] = []
        for frame, x in begun:
            section = hull.point(x, np.linspace(0.0, 1.0, _ALONG))[:, 1:3]
            if title == "Body plan":
                wide = 0.9 * LETTER_MM * drawing.one_to
                boxes = _within_section(section, wide, [side for side in (1, -1) if side * (broadest - x) >= 0])
            else:
                wide = 2 * min(0.4 * room, LETTER_MM * drawing.one_to)
                low, high = (section[0, 1], section[-1, 1]) if title == "Profile" else (0.0, section[:, 0].max())
                left, right = x - wide / 2, x + wide / 2
                boxes = [np.array([(left, low), (right, low), (right, high), (left, high)])]
            for box in boxes:
                strips += [Hatch(box, style, wide / 3) for style in _HATCHES[frame.done]]
                if not _HATCHES[frame.done]:
                    strips.append(polyline(box, "PROFILE", closed=True, title=f"frame {frame.label}, {frame.step}"))
        drawn.append((title, replace(drawing, items=(*strips, *drawing.items))))
    return drawn


def _within_section(section: Array, wide_mm: float, sides: Sequence[int]) -> list[Array]:
    """A strip inside a section in the body plan: side +1 forward frames to the right, -1 after ones to the left."""
    t = np.gradient(section, axis=0)
    inward = np.column_stack([-t[:, 1], t[:, 0]]) / np.maximum(np.hypot(t[:, 0], t[:, 1]), 1e-9)[:, None]
    strip = np.vstack([section, (section + wide_mm * inward)[::-1]])
    return [strip * (side, 1) for side in sides]


@pages.get("/")
def boat(request: Request) -> Response:
    """The boat: what needs attention, three drawings, what the marks say, suspects, frames and planks."""
    view = View(request)
    if not view.fairing.done.is_set():
        return view.wait()
    hull = view.hull
    frames = frame_states(view.kept, hull)
    far = progress(view, frames)
    curing = any(one.step == "glued" for one in far)  # an hour may pass there without anything being stored
    if not curing and (early := view.early()):
        return early
    drawings = hull_drawings(view.kept, hull) if hull else []
    planking: tuple[Area, ...] = ()
    if hull:
        stations = {frame.label: frame.station_mm for frame in frames if frame.station_mm is not None}
        drawings = with_states(drawings, hull, {one.label: one for one in far}, stations)
        planking = areas(view)
        drawings = with_planking(drawings, hull, planking)
    response = view.page(
        "boat.html",
        hull=hull,
        matters=attention(view, far),
        drawings=drawings,
        planking={area.state for area in planking},
        frames=frames,
        far={one.label: one for one in far if one.done},
        steps=[name for name, _ in STEPS],
        suspects=suspects(view),
        against=one_against_many(view),
        answered=answered(view),
    )
    if curing:
        del response.headers["etag"]
    return response


@dataclass(frozen=True, slots=True)
class FrameMarks:
    """The marks of one frame, how many are suspect or stand aside, and how far those that count lie off [mm]."""

    label: str
    marks: Sequence[Mark]
    suspects: int
    aside: int
    rms_mm: float | None


def _by_frame(view: View, marks: Sequence[Mark]) -> list[FrameMarks]:
    those: dict[str, list[Mark]] = {}
    for mark in marks:
        those.setdefault(mark.frame, []).append(mark)
    found = []
    for label, group in those.items():
        offs = [view.offs[mark.number] for mark in group if mark.number in view.offs]
        counted = [off.residual_mm for off in offs if off.counts]
        aside = sum(view.kept.answers.get(mark.number) in ("drop", "measured again") for mark in group)
        rms = float(np.sqrt(np.mean(np.square(counted)))) if counted else None
        found.append(FrameMarks(label, group, sum(off.suspect for off in offs), aside, rms))
    return found


@pages.get("/marks")
def marks(request: Request, frame: Annotated[str, Query()] = "") -> Response:
    """The take-off: every mark with how far it lies off the fair line, of one frame or of all."""
    view = View(request)
    if early := view.early():
        return early
    found = [mark for mark in view.state.every_mark if frame in ("", mark.frame)]
    folded = not frame and len(found) > _MANY
    return view.page(
        "marks.html",
        marks=found,
        frame=frame,
        by_frame=_by_frame(view, found) if folded else (),
        whys=() if folded else marks_whys(view, found, not frame),
        labels=[state.label for state in frame_states(view.kept, view.hull) if state.marks],
        suspects=[pair for pair in suspects(view) if frame in ("", pair[0].frame)],
        against=one_against_many(view),
    )


@pages.get("/stations")
def at_station(request: Request, at: Annotated[str, Query()] = "") -> Response:
    """Lead from a station as typed to the page of the section there."""
    view = View(request)
    return RedirectResponse(station_path(parse_length(at, view.boat.units)), 303)
