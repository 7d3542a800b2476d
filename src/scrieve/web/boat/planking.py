"""Planks and lined-off strakes on the three drawings of the hull, each hatched by its state and leading to its page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

import numpy as np

from scrieve import store
from scrieve.athand import AtHand
from scrieve.errors import ScrieveError
from scrieve.fairing.result import FairHull
from scrieve.planking import Lining, StrakeChoice
from scrieve.planking.seams import Strip, strake_strip, strip_between
from scrieve.sheets.drawing import Array, Drawing, Hatch, Item, Text, polyline
from scrieve.sheets.hull import LETTER_MM
from scrieve.sheets.shell_flat import HATCHES
from scrieve.web.addresses import lining_path, plank_path
from scrieve.web.lining.planks import at_the_boards, shell_planks
from scrieve.web.lining.work import Hand, Side
from scrieve.web.views import View

_SIDES: dict[Hand, Literal["", "P", "S"]] = {"pair": "", "port": "P", "starboard": "S"}
_NAMES = {"": "both sides", "P": "port side", "S": "starboard side"}
#: Points along each edge of a plank.
_ALONG = 33

_edges: AtHand[Array] = AtHand(400)


@dataclass(frozen=True, slots=True, eq=False)
class Area:
    """A plank or strake on the hull: lower and upper edge (2, n, 3) [mm], its state, and where it leads to."""

    edges: Array
    side: Literal["", "P", "S"]
    name: str
    state: str
    link: str
    plank: bool


def areas(view: View) -> tuple[Area, ...]:
    """Return every strake that is lined off, then every plank whose place on the hull is known; as far as each can be
    laid.
    """
    strakes: list[Area] = []
    states: dict[str, str] = {}
    linings = store.choices(view.file.engine, "lining")
    for hand in _SIDES:
        if "choice" not in linings.get(hand, {}):
            continue
        side = Side(view, hand)
        try:
            lining = side.lining
            states |= {plank.name: plank.state for plank in shell_planks(side)}
            renewed = {run.number for run in side.layout.strakes if run.renew and side.butts.renew}
        except ScrieveError:  # its own page tells why
            continue
        for number in range(1, lining.strakes + 1):
            state = "to be renewed" if number in renewed and not side.planks.get(str(number)) else "lined off"
            make = partial(_strake, lining, number)
            edges = _laid(("strake", side.content, number), make)
            if edges is not None:
                link = lining_path(hand, number, "strake")
                strakes.append(Area(edges, _SIDES[hand], f"strake {number}", state, link, False))
    cut, laid = at_the_boards(view.file.engine)
    planks = []
    for name, entry in view.kept.planks.items():
        if entry["kind"] != "strake":  # a spiled plank knows its shape, not its place on the hull
            continue
        choice = StrakeChoice.from_mapping(entry["choice"])
        edges = _laid((view.kept.plank_revision(name), name), partial(_plank, view, choice))
        if edges is not None:
            parts = {name, f"{name} P", f"{name} S"}
            state = states.get(name) or ("cut" if parts & cut else "laid on a board" if parts & laid else "a plank")
            planks.append(Area(edges, choice.side, f"plank {name}", state, plank_path(name), True))
    return (*strakes, *planks)


def with_planking(
    drawings: Sequence[tuple[str, Drawing]], hull: FairHull, found: Sequence[Area]
) -> list[tuple[str, Drawing]]:
    """Return profile, half-breadth plan and body plan with planks and strakes under their lines.

    The profile shows the port side, the half-breadth plan the starboard side, the body plan each on its own half; where
    nothing is known of that side, the other is shown, and said.
    """
    if not found:
        return list(drawings)
    return [(title, _drawn(title, drawing, hull, found)) for title, drawing in drawings]


def _drawn(title: str, drawing: Drawing, hull: FairHull, found: Sequence[Area]) -> Drawing:
    n, items = drawing.one_to, list[Item]()
    if title == "Body plan":
        broadest, foot, at = _broadest(hull), _foot(drawing, "after frames (port)"), 0.0
        sides = set[str]()
        for way, hand in ((1, "S"), (-1, "P")):
            seen = _seen(found, hand)
            sides |= {area.side for area in seen}
            for area in seen:
                there = way * (area.edges[0, :, 0] - broadest) <= 0
                if there.sum() > 1:
                    across, up = np.abs(area.edges[:, there, 1]) * way, area.edges[:, there, 2]
                    items += _area(area, np.stack([across, up], axis=-1), n)
        if sides == {"P", "S"} or "" in sides:  # each half as the drawing has it
            return replace(drawing, items=(*items, *drawing.items))
        foot -= 1.6 * LETTER_MM * n
    else:
        seen = _seen(found, "P" if title == "Profile" else "S")
        sides = {area.side for area in seen}
        for area in seen:
            across = area.edges[..., 2] if title == "Profile" else np.abs(area.edges[..., 1])
            items += _area(area, np.stack([area.edges[..., 0], across], axis=-1), n)
        at, foot = sum(hull.x_range) / 2, _foot(drawing, "forward")
    told = f"planking: {_NAMES[max(sides)]}"  # what is of both sides alike goes with either
    items.append(Text((at, foot), told, LETTER_MM * n, align="middle"))
    return replace(drawing, items=(*items, *drawing.items))


def _seen(found: Sequence[Area], hand: str) -> list[Area]:
    """What is drawn of a side: its own, or the other's where nothing is known of it; what is of both in any case."""
    side = hand if any(area.side in ("", hand) for area in found) else {"P": "S", "S": "P"}[hand]
    return [area for area in found if area.side in ("", side)]


def _foot(drawing: Drawing, beside: str) -> float:
    """The height at which some lettering of a drawing stands."""
    return next(item.at[1] for item in drawing.items if isinstance(item, Text) and item.text == beside)


def _area(area: Area, edges: Array, n: float) -> list[Item]:
    """One plank or strake, its edges (2, n, 2) in the plane of the paper."""
    ring = np.vstack([edges[0], edges[1, ::-1]])
    title = f"{area.name}, {_NAMES[area.side]}: {area.state}"
    items: list[Item] = []
    if area.state in HATCHES:
        items.append(Hatch(ring, HATCHES[area.state], 1.4 * n))
    items.append(polyline(ring, "SEAM EDGE" if area.plank else "LAMINATIONS", closed=True, link=area.link, title=title))
    return items


def _broadest(hull: FairHull) -> float:
    """Station of the broadest frame [mm], where the body plan passes from one side to the other."""
    stations = list(hull.stations.values()) or np.linspace(*hull.x_range, 9).tolist()
    grid = hull.point(np.array(stations)[:, None], np.linspace(0.0, 1.0, 61))
    return float(stations[int(np.argmax(np.abs(grid[..., 1]).max(axis=1)))])


def _laid(key: tuple[object, ...], make: partial[Array]) -> Array | None:
    try:
        return _edges.get(key, make)
    except ScrieveError:  # its own page tells why
        return None


def _strake(lining: Lining, number: int) -> Array:
    reaches = np.flatnonzero(np.isfinite(lining.width_mm[number - 1]))
    x = [lining.frames[int(k)].x_mm for k in reaches]
    lower, upper = lining.seams[number - 1], lining.seams[number]
    first, last = max(x[0], lower.first_mm, upper.first_mm), min(x[-1], lower.last_mm, upper.last_mm)
    return _along(strip_between(lining.hull, lower, upper, name=f"strake {number}", first=f"{first}", last=f"{last}"))


def _plank(view: View, choice: StrakeChoice) -> Array:
    return _along(strake_strip(view.hull_from(choice.hull), choice))


def _along(strip: Strip) -> Array:
    x = strip.station(np.linspace(0.0, 1.0, _ALONG))
    return np.stack([strip.hull.point(x, strip.lower(x)), strip.hull.point(x, strip.upper(x))])
