"""How each frame stands by its marks and its design, and the marks that were doubted or answered."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from scrieve.chain import Kept
from scrieve.fairing.result import FairHull, MarkOff
from scrieve.takeoff.marks import Mark
from scrieve.web.views import View


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


def answered(view: View, frame: str = "") -> list[tuple[Mark, str]]:
    """Return the marks to which the builder has given an answer, with it."""
    return [
        (mark, view.kept.answers[mark.number])
        for mark in view.state.every_mark
        if mark.number in view.kept.answers and frame in ("", mark.frame)
    ]
