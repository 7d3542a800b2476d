"""Signing: a name under a hold point, a stop or an entry, proved by the person's PIN where people sign in."""

from __future__ import annotations

from sqlalchemy import Engine

from scrieve.errors import ScrieveError
from scrieve.store.people import people, signs
from scrieve.web.people.sign_in import Tries
from scrieve.web.people.who import AT_HOME, asker

#: How a name is kept that no PIN stands behind.
UNPROVED = " (by name, no PIN)"

_tries = Tries()


def signed_by(engine: Engine, name: str, pin: str) -> tuple[str, str]:
    """Return the name that signs, as the yard writes it, and as it is kept under what is signed: marked where no PIN
    stands behind it.

    At one's own machine, where the yard has no people, a name alone signs.

    Raises
    ------
    ScrieveError
        Nobody of that name may sign, or the PIN is not that person's, or it was tried too often.
    """
    typed = " ".join(name.split())[:60]
    if not typed:
        raise ScrieveError("a name is needed to sign.")
    known = {person.name.casefold(): person for person in people(engine) if person.active}
    if not known and asker().person is AT_HOME:
        return typed, typed + UNPROVED
    person = known.get(typed.casefold())
    if person is None:
        raise ScrieveError(f"nobody called {typed!r} may sign; the people of the yard are told on their page.")
    if not person.has_pin:
        raise ScrieveError(f"{person.name} has no PIN yet; it is set on the page under one's own name.")
    if wait := _tries.wait_s(person.name):
        raise ScrieveError(f"the PIN of {person.name} was tried too often; wait {wait:.0f} seconds.")
    if not signs(engine, person.name, pin):
        _tries.failed(person.name)
        raise ScrieveError(f"that is not the PIN of {person.name}; nothing was stored.")
    _tries.succeeded(person.name)
    return person.name, person.name


def needs_pin(engine: Engine) -> bool:
    """Whether signing asks for a PIN: the yard has people who sign in."""
    return asker().person is not AT_HOME or any(person.active for person in people(engine))
