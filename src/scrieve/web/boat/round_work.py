"""What the picture in the round is made of: the bodies of the boat, or of one frame on the jig, with their states."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from scrieve import store
from scrieve.athand import AtHand
from scrieve.errors import NoSuchFrame, ScrieveError
from scrieve.fairing.result import FairHull
from scrieve.fairing.section import Section
from scrieve.frames.choice import FrameChoice, MadeFrom
from scrieve.planking import StrakeChoice
from scrieve.solids import (
    Solid,
    frame_solids,
    hull_solids,
    jig_solids,
    line_solid,
    plank_solid,
    sections_of,
    strake_solid,
    write_solids,
)
from scrieve.web.addresses import frame_path, plank_path
from scrieve.web.boat.member_states import FrameState, frame_states
from scrieve.web.frames.progress import progress
from scrieve.web.lining.work import Side
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
    states = frame_states(view.kept, hull)
    steps = {one.label: one for one in progress(view, states)}
    cut = _sections(view, [state.label for state in states if state.designed])
    bare = [(state.label, state.station_mm) for state in states if not state.designed and state.station_mm is not None]
    lines = dict(zip((label for label, _ in bare), _cut(hull, [x for _, x in bare]), strict=True))
    for state in states:
        words = "; ".join(filter(None, (state.words, steps[state.label].words)))
        told = {"page": frame_path(state.label), "words": words, "doubted": state.suspects > 0}
        what, step = f"frame {state.label}", steps[state.label].step
        if state.designed:
            found.add(what, partial(_frame, view, state.label, cut.get(state.label)), state=step, **told)
        elif state.station_mm is not None:
            found.add(what, partial(_line, hull, lines[state.label], state), state=step, **told)
    made = {name for name, entry in view.kept.planks.items() if entry["kind"] != "spiled"}
    for name in sorted(made):  # a spiled plank knows its shape, not its place on the hull
        told = {"page": plank_path(name), "words": "drawn flat"}
        found.add(f"plank {name}", partial(_plank, view, name), state="designed", **told)
    for hand in ("pair", "port", "starboard"):
        if "choice" in store.choices(view.file.engine, "lining").get(hand, {}):
            _strakes(Side(view, hand), made, found)
    return _written(found)


def _cut(hull: FairHull, stations: Sequence[float]) -> list[Section | None]:
    """Sections of the hull in one go; None past its ends."""
    low, high = hull.x_range
    within = [low - 1e-6 <= x <= high + 1e-6 for x in stations]
    cut = iter(hull.sections([x for x, there in zip(stations, within, strict=True) if there], POINTS))
    return [next(cut) if there else None for there in within]


def _line(hull: FairHull, section: Section | None, state: FrameState) -> tuple[Solid, ...]:
    """The moulded line of a frame from its section; without it, the hull says why there is none."""
    return line_solid(section or hull.section(f"{state.station_mm}", POINTS, doubt=False), state.label)


def _sections(view: View, labels: Iterable[str]) -> dict[str, tuple[Section, Section | None]]:
    """The sections that frames are made from, each hull cut once; without those that are at hand or cannot be cut."""
    wanted: dict[MadeFrom, list[tuple[str, float | str, FrameChoice]]] = defaultdict(list)
    for label in labels:
        if _frames.peek(view.kept.frame_revision(label)) is None:
            choice, at = _kept_frame(view, label)
            wanted[choice.hull].append((label, at, choice))
    found: dict[str, tuple[Section, Section | None]] = {}
    for hull, frames in wanted.items():
        try:
            made_from = view.hull_from(hull)
        except ScrieveError:  # each of them will say so
            continue
        there = [each for each in frames if _stands(made_from, each[1])]
        cut = sections_of(made_from, [(at, choice) for _, at, choice in there], POINTS)
        found.update(zip((label for label, _, _ in there), cut, strict=True))
    return found


def _kept_frame(view: View, label: str) -> tuple[FrameChoice, float | str]:
    entry = view.kept.frames[label]
    at = entry.get("station_mm")
    return FrameChoice.from_mapping(entry["choice"]), label if at is None else at


def _stands(hull: FairHull, at: float | str) -> bool:
    try:
        hull.station_of(at)
    except NoSuchFrame:
        return False
    return True


def _frame(view: View, label: str, cut: tuple[Section, Section | None] | None) -> tuple[Solid, ...]:
    """A frame's bodies, at hand or from its section and that at its far face; without them, it raises why."""

    def make() -> tuple[Solid, ...]:
        choice, at = _kept_frame(view, label)
        section, far = cut or sections_of(view.hull_from(choice.hull), [(at, choice)], POINTS)[0]
        return frame_solids(section, choice, label, far)

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
