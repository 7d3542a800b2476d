"""What takes longer than a page may: each study is made once, in a thread of its own, and kept for its revision."""

from __future__ import annotations

import logging
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from threading import Event, Lock, Thread
from typing import Any, Generic, TypeVar, cast

from scrieve.errors import ScrieveError

log = logging.getLogger("scrieve.web")
T = TypeVar("T")
#: Told of progress; raises where nobody waits for the study any more.
Tick = Callable[[str, float], None]

#: Studies kept at hand: drawings in all their choices, and what they are made from.
_MOST = 32


@dataclass
class Study(Generic[T]):
    """One study of one revision; `value` or `error` once it is `done`."""

    revision: str
    value: T | None = None
    error: ScrieveError | None = None
    done: Event = field(default_factory=Event)


class _GivenUp(Exception):
    """Stops a study of a revision that has passed."""


class Studies:
    """The studies of one boat. Safe to be asked by several requests at once."""

    def __init__(self) -> None:
        self._kept: OrderedDict[Hashable, Study[Any]] = OrderedDict()
        self._lock = Lock()
        self._latest = ""

    def get(self, revision: str, what: Hashable, make: Callable[[Tick], T], patience_s: float = 0.0) -> Study[T]:
        """Return the study `what` of a revision, begun if need be; wait at most `patience_s` for it.

        `make` is given a tick to call now and then, which stops it once another revision has been asked for.
        """
        with self._lock:
            self._latest = revision
            found = self._kept.get((revision, what))
            if found is None:
                found = self._kept[revision, what] = Study(revision)
                Thread(target=self._make, args=(found, what, make), daemon=True, name="study").start()
            self._kept.move_to_end((revision, what))
            while len(self._kept) > _MOST:
                self._kept.popitem(last=False)
        found.done.wait(max(patience_s, 0.0))
        return cast("Study[T]", found)

    def _make(self, study: Study[T], what: Hashable, make: Callable[[Tick], T]) -> None:
        def tick(_what: str, _share: float) -> None:
            if self._latest != study.revision:
                raise _GivenUp

        try:
            study.value = make(tick)
        except ScrieveError as error:
            study.error = error
        except _GivenUp:
            with self._lock:  # asked for again, it is made again
                if self._kept.get((study.revision, what)) is study:
                    del self._kept[study.revision, what]
            log.info("study %s of revision %s given up for a newer one", what, study.revision)
            study.error = ScrieveError("the marks have changed meanwhile; look again.")
        except Exception:
            log.exception("study %s of revision %s failed", what, study.revision)
            study.error = ScrieveError(
                "this could not be worked out: a fault of this program, told in its log. What is stored is safe."
            )
        finally:
            study.done.set()
