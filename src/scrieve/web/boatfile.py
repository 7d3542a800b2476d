"""The boat file as the pages read it: one state of it at a time, and its fair hull, made aside.

A state is read again only when an act has been added to the file. The hull of a state is faired in a thread of its own;
whoever asks meanwhile gets how far it is.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from threading import Event, Lock, Thread
from typing import Any

from sqlalchemy import Engine

from scrieve import store
from scrieve.chain import Kept
from scrieve.errors import BadBoat, CannotFair, ScrieveError
from scrieve.fairing.result import FairHull
from scrieve.store import Place
from scrieve.store.acting import answers_told
from scrieve.store.keeping import TAKEN_BACK
from scrieve.store.kept import kept as kept_of
from scrieve.store.kept import learnt
from scrieve.takeoff.marks import Mark

log = logging.getLogger("scrieve.web")

#: How long a request waits for a hull before it is told how far the fairing is [s].
PATIENCE_S = 0.3
#: For one who does not wait, so long after the last a new fairing is not begun: many tablets send a mark each [s].
REST_S = 2.0


@dataclass
class Fairing:
    """How far the fairing of one revision is; `hull` or `error` once it is `done`."""

    revision: str = ""
    acts: int = -1
    what: str = "starting"
    share: float = 0.0
    hull: FairHull | None = None
    error: ScrieveError | None = None
    done: Event = field(default_factory=Event)
    ended: float | None = None

    @property
    def rests(self) -> bool:
        """Whether it is under way, or was until a moment ago: while marks come in, not each has the hull faired."""
        return self.ended is None or time.monotonic() - self.ended < REST_S


class _Superseded(Exception):
    """Stops a fairing that nobody waits for any more."""


@dataclass(frozen=True)
class State:
    """One state of the boat file. `acts` counts what has been done to the boat, and so names the state."""

    kept: Kept
    stored: tuple[Mark, ...]
    acts: int

    @cached_property
    def every_mark(self) -> tuple[Mark, ...]:
        """The marks of the boat: those that count, those that do not, but none whose storing was taken back."""
        gone = {number for number, what in self.kept.answers.items() if what == TAKEN_BACK}
        return tuple(mark for mark in self.stored if mark.number not in gone) if gone else self.stored

    @cached_property
    def revision(self) -> str:
        """Revision of the fair hull."""
        return self.kept.hull_revision

    def with_frame(self, label: str, entry: Mapping[str, Any] | None) -> State:
        """Return this state with another choice for a frame, or none."""
        frames = {**self.kept.frames, label: dict(entry or {})}
        if entry is None:
            del frames[label]
        return replace(self, kept=replace(self.kept, frames=frames))


class BoatFile:
    """A boat file, open. Safe to be asked by several requests at once."""

    def __init__(self, path: Path | Place) -> None:
        self.path = path
        self.engine: Engine = store.open_boat(path)
        try:
            store.refuse_damaged(path, self.engine)
        except BadBoat:
            self.engine.dispose()
            raise
        self._reading, self._fairing = Lock(), Lock()
        self._state: State | None = None
        self._latest: Fairing | None = None
        self.last_hull: FairHull | None = None
        """The fair hull that was made last, of this state or one before: while marks come in, they are judged by it."""

    def state(self) -> State:
        """Return the state of the file now."""
        with self._reading:
            found = self._state and self._further(self._state)
            if found:
                self._state = found
                return found
            for _ in range(5):  # another program may write between two readings
                acts = store.last_act(self.engine)
                self._state = anew = State(kept_of(self.engine), store.marks(self.engine), acts)
                if acts == store.last_act(self.engine):
                    break
            return anew

    def _further(self, state: State) -> State | None:
        """Return the state after the acts since, where those touched no more than marks, answers and records.

        A boat of many marks is then not read anew for each mark that a tablet sends; a server is asked once or twice.
        """
        since = store.acts(self.engine, after=state.acts)
        if not since:
            return state
        said = [act.now or {} for act in since]
        if not all("answers" in now or "record" in now for now in said):
            return None
        kept, every = state.kept, state.stored
        if told := answers_told(since):
            before = every[-1].number if every else 0
            if max(told) > before:  # and none of an act that came meanwhile
                every += tuple(mark for mark in store.marks(self.engine, after=before) if mark.number <= max(told))
            answers = {number: what for number, what in {**kept.answers, **told}.items() if what}
            standing = tuple(mark for mark in every if answers.get(mark.number, "keep") == "keep")
            kept = replace(kept, marks=standing, answers=answers)
        if any(act.what == "recorded: release" or act.undoes for act in since):
            kept = replace(kept, springs=learnt(self.engine))
        return State(kept, every, since[-1].number)

    def fairing(self, state: State, patience_s: float = PATIENCE_S) -> Fairing:
        """Return the fairing of a state, begun if need be; wait at most `patience_s` for it."""
        with self._fairing:
            found = self._latest
            if found and found.acts != state.acts and patience_s <= 0 and found.rests:
                return Fairing()  # whoever waits for the hull has it begun
            if found is None or found.revision != state.revision:
                found = self._latest = Fairing(state.revision, state.acts)
                Thread(target=self._fair, args=(state.kept, found), daemon=True, name="fairing").start()
        found.done.wait(patience_s)
        return found

    def _fair(self, kept: Kept, fairing: Fairing) -> None:
        def tick(what: str, share: float) -> None:
            fairing.what, fairing.share = what, share
            if self._latest is not fairing:
                raise _Superseded

        try:
            hull = self.last_hull = kept.hull(tick)
            for side in kept.made_from:  # a side that cannot be faired by itself is told of where it is asked for
                with suppress(CannotFair):
                    kept.hull(tick, side)
            fairing.hull = hull
        except ScrieveError as error:
            fairing.error = error
        except _Superseded:
            log.info("fairing of revision %s given up for a newer one", fairing.revision)
        except Exception:
            log.exception("fairing of revision %s failed", fairing.revision)
            fairing.error = ScrieveError(
                "the hull could not be faired: a fault of this program, told in its log. The marks are safe; "
                "what was changed last may have to do with it."
            )
        finally:
            fairing.ended = time.monotonic()
            fairing.done.set()
