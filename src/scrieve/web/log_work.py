"""What the logbook's pages work out: its entries, an entry stored, the surveyor's record and the bundle."""

from __future__ import annotations

from dataclasses import asdict

from scrieve import store
from scrieve.errors import ScrieveError
from scrieve.logbook import Entry, Note, bundle, entries, note_typed, prepared
from scrieve.store.people import people, signs
from scrieve.web.forms import Parcel
from scrieve.web.views import View
from scrieve.web.who import AT_HOME, asker, who

#: How a name is kept that no PIN stands behind.
UNPROVED = " (by name, no PIN)"


def lines_of(view: View) -> tuple[Entry, ...]:
    """Every entry of the boat's logbook, the latest first."""
    engine = view.file.engine
    return entries(store.acts(engine), store.every_record(engine))


def keep(view: View, sent: Parcel) -> int:
    """Store an entry as typed, with its photographs, once however often it is sent; return the record's number.

    Raises
    ------
    ScrieveError
        Nothing is in it, a figure or a photograph cannot be read, or the PIN is wrong; nothing is stored then.
    """
    engine, fields = view.file.engine, sent.fields
    note: Note = note_typed(fields | ({"photographs": "yes"} if sent.files else {}))
    signed_by = signature(view, fields)
    pictures = [prepared(data) for data in sent.files]
    digests = [store.keep_photograph(engine, jpeg) for jpeg in pictures]
    given = fields.get("corrects", "")
    corrects = int(given) if given.isascii() and given.isdigit() and len(given) < 10 else None
    detail = note.detail(digests, signed_by)
    key = fields.get("key") or None
    return store.add_record(engine, note.kind, note.member, detail, corrects=corrects, key=key, who=who())


def signature(view: View, fields: dict[str, str]) -> str:
    """Return who signs an entry, proved by his PIN; '' where it is not to be signed.

    Raises
    ------
    ScrieveError
        The PIN is not that person's.
    """
    name = " ".join(fields.get("sign", "").split())[:60]
    if not name:
        return ""
    engine = view.file.engine
    known = {person.name.casefold(): person for person in people(engine) if person.active}
    if not known and asker().person is AT_HOME:
        return name + UNPROVED
    person = known.get(name.casefold())
    if person is None:
        raise ScrieveError(f"nobody called {name!r} may sign; the people of the yard are told on their page.")
    if not person.has_pin:
        raise ScrieveError(f"{person.name} has no PIN yet; it is set on the page under one's own name.")
    if not signs(engine, person.name, fields.get("pin", "")):
        raise ScrieveError(f"that is not the PIN of {person.name}; nothing was stored.")
    return person.name


def bundle_of(view: View) -> bytes:
    """The boat as a bundle for an archive."""
    engine, kept = view.file.engine, view.kept
    boat = asdict(kept.boat) | {
        "frames": store.frames(engine),
        "planks": store.planks(engine),
        **{part: store.choices(engine, part) for part in ("jig", "glue", "lining", "board", "layout", "yard")},
    }
    answers = kept.answers
    marks = [asdict(mark) | {"answer": answers.get(mark.number, "")} for mark in view.state.every_mark]
    lines = lines_of(view)
    pictures = sorted({digest for entry in lines for digest in entry.photographs})
    return bundle(
        boat,
        marks,
        [asdict(act) for act in store.acts(engine)],
        [asdict(record) for record in store.every_record(engine)],
        lines,
        {digest: store.photograph(engine, digest) for digest in pictures},
    )


__all__ = ["UNPROVED", "bundle_of", "keep", "lines_of", "signature"]
