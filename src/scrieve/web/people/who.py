"""Who asks: signed in on the network, or whoever sits at this machine. Stores are told by `who()`."""

from __future__ import annotations

from contextvars import ContextVar
from dataclasses import dataclass

from scrieve.store.people import Person

#: At one's own machine nobody signs in, and everything may be done.
AT_HOME = Person(0, "builder", "keeper", True, False)
#: One who has not signed in: he is shown where that is done, and what a new tablet needs.
NOBODY = Person(-1, "nobody", "look", False, False)


@dataclass(frozen=True, slots=True)
class Asker:
    """Who sent the request that is being answered; `token` of the sitting, '' at one's own machine."""

    person: Person
    token: str = ""


_asking: ContextVar[Asker | None] = ContextVar("asking", default=None)


def asking(asker: Asker) -> None:
    """Set who asks, for the rest of this request."""
    _asking.set(asker)


def asker() -> Asker:
    """Return who asks; outside a request whoever sits at this machine."""
    return _asking.get() or Asker(AT_HOME)


def who() -> str:
    """Return the name under which an act of this request is kept."""
    return asker().person.name
