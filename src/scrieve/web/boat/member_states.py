"""How each frame stands by its marks and its design, and the marks that were doubted or answered."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from scrieve.chain import Kept
from scrieve.fairing.result import FairHull, MarkOff
from scrieve.takeoff.marks import Mark
from scrieve.web.views import View

#: So many suspects about a kept mark are told as its doing: so far apart round the girth and in frames. Our own limits.
_MANY_AGAINST, _NEAR, _FRAMES_ABOUT = 5, 0.3, 4


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


def suspects(view: View, hull: FairHull | None = None) -> list[tuple[Mark, MarkOff]]:
    """Return the suspect marks of the boat's hull, or of another through her marks, the furthest out first."""
    by_number = {mark.number: mark for mark in view.kept.marks}
    shown = hull or view.hull
    return [(by_number[off.number], off) for off in shown.suspects] if shown else []


def one_against_many(view: View, hull: FairHull | None = None) -> list[tuple[Mark, int]]:
    """Return the kept marks that have pulled the hull away from the marks about them, with how many are suspect there.

    A kept mark counts however far out it lies. Where it was kept by mistake, those that bear each other out go instead.
    """
    shown = hull or view.hull
    if shown is None:
        return []
    order = {label: at for at, label in enumerate(shown.stations)}
    kept = [off for off in shown.offs if view.kept.answers.get(off.number) == "keep"]
    about: Counter[int] = Counter()
    for off in shown.suspects:
        apart = {one.number: abs(order[one.frame] - order[off.frame]) for one in kept if abs(one.v - off.v) < _NEAR}
        if apart and min(apart.values()) <= _FRAMES_ABOUT:
            about[min(apart, key=lambda number: apart[number])] += 1
    by_number = {mark.number: mark for mark in view.kept.marks}
    return [(by_number[number], many) for number, many in about.most_common() if many >= _MANY_AGAINST]


def answered(view: View, frame: str = "") -> list[tuple[Mark, str]]:
    """Return the marks to which the builder has given an answer, with it."""
    return [
        (mark, view.kept.answers[mark.number])
        for mark in view.state.every_mark
        if mark.number in view.kept.answers and frame in ("", mark.frame)
    ]
