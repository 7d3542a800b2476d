"""The chain from what was measured and chosen to what is made: pure functions, each result under its revision.

What is stored (`Kept`) goes in; the fair hull, the designed frames and the planks come out. A revision is a short hash
of everything that a result was computed from, so that a printed sheet can be compared with the screen.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from threading import Lock
from typing import Any

from scrieve import __version__
from scrieve.boat import Boat
from scrieve.errors import NoSuchFrame, NoSuchPlank
from scrieve.fairing.hull import Tick, fair
from scrieve.fairing.result import FairHull
from scrieve.fairing.section import Section
from scrieve.frames.design import FrameChoice, FrameDesign, design_frame
from scrieve.frames.off_jig import timber_and_glue
from scrieve.planking import (
    PlankDesign,
    SpilingBatten,
    SpilingChoice,
    SpilingMark,
    StrakeChoice,
    design_plank,
    design_spiled_plank,
)
from scrieve.revision import revision
from scrieve.takeoff.marks import Mark

#: Points on the moulded line from which a frame is designed.
FRAME_POINTS = 400
#: Hulls kept at hand in one process.
_AT_HAND = 4


@dataclass(frozen=True)
class Kept:
    """All that is stored of one boat: settings, marks that stand, answers to suspects, frames and planks to be made.

    `frames` maps a label to {'choice': settings of a FrameChoice, 'station_mm': its station where the hull has no marks
    there, else None}; `planks` maps a name to {'kind': 'strake' or 'spiled', 'choice': its settings, 'marks': spiling
    marks of a spiled plank}.

    `springs` maps `timber_and_glue` of a choice to the factor on computed springback learnt from measured releases and
    its standard deviation for the next frame. It is used where the builder has set no factor of his own.
    """

    boat: Boat
    marks: tuple[Mark, ...]
    answers: Mapping[int, str] = field(default_factory=dict)
    frames: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    planks: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    springs: Mapping[tuple[str, str], tuple[float, float]] = field(default_factory=dict)

    @cached_property
    def hull_revision(self) -> str:
        """Revision of the fair hull; reckoned once, for it goes over every mark."""
        return revision(__version__, self.boat, self.marks, sorted(self.answers.items()))

    def frame_revision(self, label: str) -> str:
        """Revision of one designed frame pair; a learnt factor is part of it where it is used."""
        entry = self._frame(label)
        learnt = self.spring(FrameChoice.from_mapping(entry["choice"]))
        return revision(self.hull_revision, entry) if learnt is None else revision(self.hull_revision, entry, learnt)

    def spring(self, choice: FrameChoice) -> tuple[float, float] | None:
        """The learnt factor and its sd that a frame of this choice is designed with; None where there is none."""
        return self.springs.get(timber_and_glue(choice)) if choice.spring_factor == 1.0 else None

    def plank_revision(self, name: str) -> str:
        """Revision of one plank; a spiled one does not hang on the hull."""
        entry = self._plank(name)
        return revision(__version__ if entry["kind"] == "spiled" else self.hull_revision, entry)

    def _frame(self, label: str) -> Mapping[str, Any]:
        try:
            return self.frames[label]
        except KeyError:
            raise NoSuchFrame(f"frame {label!r} has not been designed; design it first.") from None

    def _plank(self, name: str) -> Mapping[str, Any]:
        try:
            return self.planks[name]
        except KeyError:
            raise NoSuchPlank(f"plank {name!r} is not in this boat; give its seams or spiling marks first.") from None

    def hull(self, tick: Tick | None = None) -> FairHull:
        """Fair hull through the marks that stand, computed once for each revision.

        Raises
        ------
        CannotFair
            Frames or marks are missing; the message says which.
        """
        return _hulls.get(self.hull_revision, lambda: fair(self.marks, self.boat, answers=self.answers, tick=tick))

    def frame(self, label: str, tick: Tick | None = None) -> FrameDesign:
        """One frame pair, designed on the fair hull.

        Raises
        ------
        NoSuchFrame
            It has not been designed, or the hull does not reach it.
        """
        entry = self._frame(label)
        return self.design(FrameChoice.from_mapping(entry["choice"]), entry.get("station_mm"), tick, label)

    def design(
        self, choice: FrameChoice, station_mm: float | None = None, tick: Tick | None = None, label: str = ""
    ) -> FrameDesign:
        """A frame pair of any choice on the fair hull, with both faces cut from it and the factor learnt for its
        timber; at the frame `label` (left out: the choice's own), or at a station.

        Raises
        ------
        NoSuchFrame
            The hull does not reach it.
        """
        hull = self.hull(tick)
        section = hull.section((label or choice.frame) if station_mm is None else station_mm, FRAME_POINTS)

        def cut(x_mm: float) -> Section | None:
            try:
                return hull.section(x_mm, FRAME_POINTS)
            except NoSuchFrame:  # past the end of the hull: the slope at the station must do
                return None

        learnt = self.spring(choice)
        if learnt is None:
            return design_frame(section, choice, cut)
        factor, sd = learnt
        return design_frame(section, replace(choice, spring_factor=factor), cut, sd)

    def plank(self, name: str, tick: Tick | None = None) -> PlankDesign:
        """One plank, drawn flat from the hull or from its spiling marks.

        Raises
        ------
        NoSuchPlank
            It is not in this boat.
        BadPlank
            No plank lies between the seams, or through the marks.
        """
        entry = self._plank(name)
        if entry["kind"] == "spiled":
            marks = tuple(SpilingMark(**mark) for mark in entry["marks"])
            return design_spiled_plank(SpilingBatten(marks), SpilingChoice.from_mapping(entry["choice"]))
        return design_plank(self.hull(tick), StrakeChoice.from_mapping(entry["choice"]))


class _AtHand:
    """The last few hulls, by revision; one is computed at a time."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, FairHull] = OrderedDict()
        self._lock = Lock()

    def get(self, key: str, make: Any) -> FairHull:
        with self._lock:
            if key not in self._kept:
                self._kept[key] = make()
                while len(self._kept) > _AT_HAND:
                    self._kept.popitem(last=False)
            self._kept.move_to_end(key)
            return self._kept[key]


_hulls = _AtHand()
