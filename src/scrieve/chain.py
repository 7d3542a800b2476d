"""The chain from what was measured and chosen to what is made: pure functions, each result under its revision.

What is stored (`Kept`) goes in; the fair hull, the designed frames and the planks come out. A revision is a short hash
of everything that a result was computed from, so that a printed sheet can be compared with the screen.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from threading import Lock
from typing import Any

from scrieve import __version__
from scrieve.athand import AtHand
from scrieve.boat import Boat, Side
from scrieve.errors import NoSuchFrame, NoSuchPlank
from scrieve.fairing.hull import Tick, fair
from scrieve.fairing.result import FairHull
from scrieve.fairing.section import Section
from scrieve.fairing.sides import one_side, own_marks, thin_words
from scrieve.frames.choice import MadeFrom
from scrieve.frames.design import FrameChoice, FrameDesign, design_frame
from scrieve.frames.release.off_jig import timber_and_glue
from scrieve.planking import (
    PlankDesign,
    SkinChoice,
    SpilingBatten,
    SpilingChoice,
    SpilingMark,
    StrakeChoice,
    design_diagonal,
    design_plank,
    design_spiled_plank,
)
from scrieve.revision import revision
from scrieve.takeoff.frame_names import frames_meant, part_hand
from scrieve.takeoff.marks import Mark

#: Points on the moulded line from which a frame is designed.
FRAME_POINTS = 400
_SIDES: Mapping[MadeFrom, Side] = {"port": "P", "starboard": "S"}
#: Hulls kept at hand in one process, and frames and planks.
_AT_HAND, _MEMBERS_AT_HAND = 4, 40


@dataclass(frozen=True)
class Kept:
    """All that is stored of one boat: settings, marks that stand, answers to suspects, frames and planks to be made.

    `frames` maps a label to {'choice': settings of a FrameChoice, 'station_mm': its station where the hull has no marks
    there, else None}; a blank for one hand of frame 14, '14 P', also names that frame: 'of': '14', and stands at its
    station. A choice's `hull` tells whose marks it is made from.

    `planks` maps a name to {'kind': 'strake', 'spiled' or 'diagonal', 'choice': its settings, 'marks': spiling marks of
    a spiled plank}; of a strake too, `hull` tells whose marks it is made from.

    `springs` maps `timber_and_glue` of a choice to the factor on computed springback learnt from measured releases and
    its standard deviation for the next frame. It is used where the builder has set no factor of his own.
    """

    boat: Boat
    marks: tuple[Mark, ...]
    answers: Mapping[int, str] = field(default_factory=dict)
    frames: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    planks: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    springs: Mapping[tuple[str, str], tuple[float, float]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        measured = {mark.frame: mark.station_mm for mark in reversed(self.marks)}
        at = {label: measured.get(entry.get("of") or "") for label, entry in self.frames.items()}
        if any(x is not None for x in at.values()):
            placed = {
                label: entry if at[label] is None else {**entry, "station_mm": at[label]}
                for label, entry in self.frames.items()
            }
            object.__setattr__(self, "frames", placed)

    @cached_property
    def hull_revision(self) -> str:
        """Revision of the fair hull; reckoned once, for it goes over every mark. What was said of marks that are not
        among them has no bearing: marks stored and taken back leave the hull as it was.
        """
        return revision(__version__, self.boat, self.marks, self._said_of(self.marks))

    def _said_of(self, marks: Iterable[Mark]) -> list[tuple[int, str]]:
        """What was answered of these marks, by their numbers."""
        there = {mark.number for mark in marks}
        return sorted(item for item in self.answers.items() if item[0] in there)

    @cached_property
    def _side_revisions(self) -> Mapping[MadeFrom, str]:
        found: dict[MadeFrom, str] = {}
        for name, side in _SIDES.items():
            own = own_marks(self.marks, side)
            # the frames that only the other side has are places of this one too
            places = sorted({(mark.frame, mark.station_mm) for mark in self.marks})
            found[name] = revision(__version__, self.boat, own, self._said_of(own), places, side)
        return found

    def revision_of(self, made_from: MadeFrom) -> str:
        """Revision of the hull of both sides, or of one side by itself, on which the other's marks have no bearing."""
        return self.hull_revision if made_from == "both" else self._side_revisions[made_from]

    @property
    def made_from(self) -> tuple[MadeFrom, ...]:
        """The sides by themselves from which frames or planks are made."""
        chosen = {entry.get("choice", {}).get("hull") for entry in (*self.frames.values(), *self.planks.values())}
        return tuple(name for name in _SIDES if name in chosen)

    def frame_revision(self, label: str) -> str:
        """Revision of one designed frame pair; a learnt factor is part of it where it is used."""
        entry = self._frame(label)
        choice = FrameChoice.from_mapping(entry["choice"])
        hull, learnt = self.revision_of(choice.hull), self.spring(choice)
        return revision(hull, entry) if learnt is None else revision(hull, entry, learnt)

    def spring(self, choice: FrameChoice) -> tuple[float, float] | None:
        """The learnt factor and its sd that a frame of this choice is designed with; None where there is none."""
        return self.springs.get(timber_and_glue(choice)) if choice.spring_factor == 1.0 else None

    def plank_revision(self, name: str) -> str:
        """Revision of one plank; a spiled one does not hang on the hull."""
        entry = self._plank(name)
        hull = __version__ if entry["kind"] == "spiled" else self.revision_of(entry["choice"].get("hull", "both"))
        return revision(hull, entry)

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

    def with_plank(self, name: str, entry: Mapping[str, Any]) -> Kept:
        """The same boat with one plank more, or with another in the place of the one of that name."""
        return replace(self, planks={**self.planks, name: entry})

    def hull(self, tick: Tick | None = None, made_from: MadeFrom = "both") -> FairHull:
        """Fair hull through the marks that stand, or through those of one side, computed once for each revision.

        Raises
        ------
        CannotFair
            Frames or marks are missing; the message says which, and of which side.
        """
        if made_from != "both":
            side = _SIDES[made_from]
            return _hulls.get(
                self.revision_of(made_from), lambda: one_side(self.marks, self.boat, side, self.answers, tick)
            )
        return _hulls.get(self.hull_revision, lambda: fair(self.marks, self.boat, answers=self.answers, tick=tick))

    def frame(self, label: str, tick: Tick | None = None) -> FrameDesign:
        """One frame pair, designed on the fair hull.

        Raises
        ------
        NoSuchFrame
            It has not been designed, or the hull does not reach it.
        """
        entry = self._frame(label)
        return _frames.get(
            (self.frame_revision(label), label),
            lambda: self.design(FrameChoice.from_mapping(entry["choice"]), entry.get("station_mm"), tick, label),
        )

    def design(
        self, choice: FrameChoice, station_mm: float | None = None, tick: Tick | None = None, label: str = ""
    ) -> FrameDesign:
        """A frame pair of any choice on the hull it is made from, with both faces cut from that and the factor learnt
        for its timber; at the frame `label` (left out: the choice's own), or at a station.

        Raises
        ------
        NoSuchFrame
            The hull does not reach it.
        """
        hull = self.hull(tick, choice.hull)
        section = hull.section((label or choice.frame) if station_mm is None else station_mm, FRAME_POINTS)

        def cut(x_mm: float) -> Section | None:
            try:
                return hull.section(x_mm, FRAME_POINTS, doubt=False)
            except NoSuchFrame:  # past the end of the hull: the slope at the station must do
                return None

        learnt = self.spring(choice)
        if learnt is None:
            found = design_frame(section, choice, cut)
        else:
            factor, sd = learnt
            found = design_frame(section, replace(choice, spring_factor=factor), cut, sd)
        if choice.hull == "both":
            return found
        return replace(found, cautions=(*self._thin(choice.hull, section.station_mm), *found.cautions))

    def _thin(self, made_from: MadeFrom, station_mm: float) -> tuple[str, ...]:
        return () if made_from == "both" else thin_words(self.marks, _SIDES[made_from], station_mm)

    def plank(self, name: str, tick: Tick | None = None) -> PlankDesign:
        """One plank, drawn flat from the hull or from its spiling marks.

        Raises
        ------
        NoSuchPlank
            It is not in this boat.
        BadPlank
            No plank lies between the seams, or through the marks.
        """
        return _planks.get(self.plank_revision(name), lambda: self._draw(self._plank(name), tick))

    def _draw(self, entry: Mapping[str, Any], tick: Tick | None) -> PlankDesign:
        if entry["kind"] == "spiled":
            marks = tuple(SpilingMark(**mark) for mark in entry["marks"])
            return design_spiled_plank(SpilingBatten(marks), SpilingChoice.from_mapping(entry["choice"]))
        choice: StrakeChoice | SkinChoice
        if entry["kind"] == "diagonal":
            choice = SkinChoice.from_mapping(entry["choice"])
            found = design_diagonal(self.hull(tick, choice.hull), choice)
        else:
            choice = StrakeChoice.from_mapping(entry["choice"])
            found = design_plank(self.hull(tick, choice.hull), choice)
        if choice.hull == "both":
            return found
        return replace(found, cautions=(*self._thin(choice.hull, math.nan), *found.cautions))


def set_apart(label: str, entry: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """Entries of two blanks, one for each hand from its own side's marks, in place of the pair's.

    Parameters
    ----------
    label : str
        The frame's.
    entry : mapping
        The pair's, as in `Kept.frames`.

    Raises
    ------
    NoSuchFrame
        It is a blank for one hand already.
    """
    if entry.get("of"):
        raise NoSuchFrame(f"frame {label!r} is a blank for one hand already.")
    made = {}
    for name, side in _SIDES.items():
        own = f"{label} {side}"
        choice = {**entry["choice"], "frame": own, "hull": name, "hands": name}
        made[own] = {"choice": choice, "station_mm": entry.get("station_mm"), "of": label}
    return made


def entry_of(kept: Kept, label: str, stations: Mapping[str, float], first: Mapping[str, Any]) -> Mapping[str, Any]:
    """What is known of a frame that is to be made, as in `Kept.frames`; empty where nothing is.

    Frame 14 stands where marks of 14 P and 14 S are; 14 P is port's blank of a frame 14 that was measured.

    Parameters
    ----------
    kept : Kept
    label : str
        The frame's.
    stations : mapping of label -> station [mm]
        The frames that were measured.
    first : mapping
        What the choice of a frame begins with that is designed for the first time.

    Raises
    ------
    NoSuchFrame
        The name may mean two frames that stand apart, or one half of a frame that is to be made as a pair.
    """
    if label in kept.frames or label in stations:
        return kept.frames.get(label, {})
    met = frames_meant(label, stations)
    if not met:
        return {}
    hand = part_hand(label)[1]
    if hand and not part_hand(met[0])[1]:
        (of,) = met
        if of in kept.frames:
            raise NoSuchFrame(
                f"frame {of} is to be made as a pair; make of it two blanks, one for each hand, on its page or with "
                f"'scrieve frame BOAT {of} --apart', and {of} {hand} is one of them."
            )
        made = set_apart(of, {"choice": dict(first), "station_mm": stations[of]})[f"{of} {hand}"]
        return {**made, "choice": {**made["choice"], "frame": label}}
    return {"station_mm": stations[met[0]]}


def set_together(label: str, entry: Mapping[str, Any], measured: bool) -> dict[str, dict[str, Any]]:
    """The pair's entry again, from both sides as one, with what was settled for one of its two blanks.

    `measured` tells whether the pair's frame has marks, and so a station of its own.

    Raises
    ------
    NoSuchFrame
        `label` is no blank for one hand of another frame.
    """
    if not entry.get("of"):
        raise NoSuchFrame(f"frame {label!r} is no blank for one hand.")
    choice = {**entry["choice"], "frame": entry["of"], "hull": "both", "hands": "pair"}
    return {entry["of"]: {"choice": choice, "station_mm": None if measured else entry.get("station_mm")}}


class _Hulls:
    """The last few hulls, by revision; one is computed at a time."""

    def __init__(self) -> None:
        self._kept: AtHand[FairHull] = AtHand(_AT_HAND)
        self._lock = Lock()

    def get(self, key: str, make: Callable[[], FairHull]) -> FairHull:
        with self._lock:
            return self._kept.get(key, make)


_hulls = _Hulls()
_frames: AtHand[FrameDesign] = AtHand(_MEMBERS_AT_HAND)
_planks: AtHand[PlankDesign] = AtHand(_MEMBERS_AT_HAND)
