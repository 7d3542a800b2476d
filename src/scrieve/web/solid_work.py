"""What the picture in the round is made of: the bodies of the boat, or of one frame on the jig, with their states."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import partial
from typing import Any

from scrieve import store
from scrieve.errors import NoSuchFrame, ScrieveError
from scrieve.fairing.result import FairHull
from scrieve.fairing.section import Section
from scrieve.frames.choice import FrameChoice
from scrieve.planking import StrakeChoice
from scrieve.solids import (
    Solid,
    frame_solids,
    hull_solids,
    jig_solids,
    line_solid,
    plank_solid,
    strake_solid,
    write_solids,
)
from scrieve.web.addresses import frame_path, plank_path
from scrieve.web.athand import AtHand
from scrieve.web.boat_pages import frame_states
from scrieve.web.lining_work import Side
from scrieve.web.studies import Study, Tick
from scrieve.web.views import View

#: Points of a section that a picture needs.
POINTS = 96

_bytes: AtHand[bytes] = AtHand(6)
_frames: AtHand[tuple[Solid, ...]] = AtHand(160)
_planks: AtHand[tuple[Solid, ...]] = AtHand(160)


@dataclass
class Collected:
    """Bodies so far, what is told of each by its key, and the members that cannot be shown, with the reason."""

    solids: list[Solid]
    about: dict[str, dict[str, Any]]
    missing: list[str]

    def add(self, what: str, make: Callable[[], tuple[Solid, ...]], **about: Any) -> None:
        """Put a member's bodies in, or the reason why there are none."""
        try:
            found = make()
        except ScrieveError as error:
            self.missing.append(f"{what}: {error}")
            return
        self.solids += found
        self.about |= {solid.key: about for solid in found}


def boat_bodies(view: View) -> bytes:
    """The boat as bytes for the picture: hull, frames, planks and strakes that are lined off.

    What has been begun is waited for, so that no boat is made twice at once.
    """
    making = begin(view)
    making.done.wait()
    if making.error:
        raise making.error
    return _bytes.get(_key(view), lambda: _boat(view, view.ready()))


def begin(view: View) -> Study[bool]:
    """Begin to make the boat's bodies aside, if nobody has: the page that will ask for them comes first."""
    hull, studies = view.ready(), view.request.app.state.studies

    def make(_: Tick) -> bool:  # the bytes are kept at hand, of a few states only
        return bool(_bytes.get(_key(view), lambda: _boat(view, hull)))

    begun: Study[bool] = studies.get(view.state.revision, ("bodies", *_key(view)), make)
    return begun


def _key(view: View) -> tuple[Hashable, ...]:
    return view.state.acts, view.state.revision, view.boat.units


def _boat(view: View, hull: FairHull) -> bytes:
    found = Collected([], {}, [])
    found.add("hull", partial(hull_solids, hull), state="moulded surface")
    for state in frame_states(view.kept, hull):
        told = {"page": frame_path(state.label), "words": state.words, "doubted": state.suspects > 0}
        what = f"frame {state.label}"
        if state.designed:
            found.add(what, partial(_frame, view, state.label), state="designed", **told)
        elif state.station_mm is not None:
            found.add(what, partial(_line, hull, state.label, state.station_mm), state="not designed", **told)
    made = {name for name, entry in view.kept.planks.items() if entry["kind"] != "spiled"}
    for name in sorted(made):  # a spiled plank knows its shape, not its place on the hull
        told = {"page": plank_path(name), "words": "drawn flat"}
        found.add(f"plank {name}", partial(_plank, view, name), state="designed", **told)
    for hand in ("pair", "port", "starboard"):
        if "choice" in store.choices(view.file.engine, "lining").get(hand, {}):
            _strakes(Side(view, hand), made, found)
    return _written(found)


def _line(hull: FairHull, label: str, station_mm: float) -> tuple[Solid, ...]:
    return line_solid(hull.section(station_mm, POINTS, doubt=False), label)


def _frame(view: View, label: str) -> tuple[Solid, ...]:
    entry = view.kept.frames[label]
    choice = FrameChoice.from_mapping(entry["choice"])
    made_from = view.hull_from(choice.hull)
    at = entry.get("station_mm")

    def cut(x_mm: float) -> Section | None:
        try:
            return made_from.section(x_mm, POINTS, doubt=False)
        except NoSuchFrame:  # past the end of the hull
            return None

    def make() -> tuple[Solid, ...]:
        section = made_from.section(label if at is None else at, POINTS, doubt=False)
        return frame_solids(section, choice, label, cut)

    return _frames.get(view.kept.frame_revision(label), make)


def _plank(view: View, name: str) -> tuple[Solid, ...]:
    choice = StrakeChoice.from_mapping(view.kept.planks[name]["choice"])
    key = (view.kept.plank_revision(name), name)
    return _planks.get(key, lambda: plank_solid(view.hull_from(choice.hull), choice, f"plank {name}", name))


def _strakes(side: Side, made: set[str], found: Collected) -> None:
    """Put in the strakes of a side that is lined off, but for those of which a plank has been drawn."""
    try:
        lining = side.lining
    except ScrieveError as error:
        found.missing.append(f"strakes: {error}")
        return
    drawn = {int(number) for number, names in side.planks.items() if set(names) & made}
    for number in sorted({*range(1, lining.strakes + 1)} - drawn):
        make = partial(strake_solid, lining, number, side.choice.thickness_mm)
        told = {"page": "/planks/lining", "words": "not drawn flat yet"}
        found.add(f"strake {number}", make, state="lined off", **told)


def jig_bodies(view: View, label: str) -> bytes:
    """A designed frame on the jig as bytes for the picture; raises what `View.frame` raises."""
    design, _, revision = view.frame(label)

    def make() -> bytes:
        found = Collected([], {}, [])
        found.solids += jig_solids(design)
        return _written(found)

    return _bytes.get(("jig", revision), make)


def _written(found: Collected) -> bytes:
    return write_solids(found.solids, found.about, {"missing": found.missing})
