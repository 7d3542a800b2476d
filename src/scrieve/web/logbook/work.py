"""What the logbook's pages work out: its entries, an entry stored, the surveyor's record and the bundle."""

from __future__ import annotations

from dataclasses import asdict, replace

from scrieve import store
from scrieve.logbook import Entry, Note, bundle, entries, note_typed, prepared
from scrieve.store.checking import chains
from scrieve.store.keeping import Part
from scrieve.web.forms import Parcel
from scrieve.web.people.signing import UNPROVED, signed_by
from scrieve.web.people.who import who
from scrieve.web.views import View
from scrieve.workplan.kinds import KINDS
from scrieve.workplan.status import RECORD

_PARTS: tuple[Part, ...] = ("jig", "glue", "lining", "skin", "board", "part", "layout", "yard")


def lines_of(view: View) -> tuple[Entry, ...]:
    """Every entry of the boat's logbook, the latest first."""
    engine = view.file.engine
    return tuple(_in_words(entry) for entry in entries(store.acts(engine), store.every_record(engine)))


def _in_words(entry: Entry) -> Entry:
    """An entry of work that was begun, finished or signed, told in the words of the plan."""
    told = dict(entry.values)
    signed = entry.signed_by or (entry.who + UNPROVED if told.get("what") == "signed" else "")
    of, _, key = told.pop("op", "").rpartition(": ")
    kind = next((kind for kind in KINDS["frame" if of.startswith("frame ") else "plank"] if kind.key == key), None)
    if entry.what != RECORD or kind is None:
        return entry
    if told.get("jig") == "0":
        del told["jig"]
    took = told.pop("minutes", "")
    text = ": ".join(part for part in (kind.words, told.pop("what", "")) if part)
    note = told.pop("note", "")
    pairs = {"time": told.pop("at", "").replace("T", " "), **told, "took": took and f"{took} min"}
    return replace(entry, text=f"{text}. {note}" if note else text, signed_by=signed,
                   values=tuple((name, value) for name, value in pairs.items() if value))  # fmt: skip


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
    """Return who signs an entry, proved by his PIN; '' where it is not to be signed; raises as `signed_by`."""
    if not fields.get("sign", "").strip():
        return ""
    return signed_by(view.file.engine, fields["sign"], fields.get("pin", ""))[1]


def bundle_of(view: View) -> bytes:
    """The boat as a bundle for an archive."""
    engine, kept = view.file.engine, view.kept
    boat = asdict(kept.boat) | {
        "frames": store.frames(engine),
        "planks": store.planks(engine),
        **{
            part: store.choices(engine, part)
            for part in ("jig", "glue", "lining", "skin", "board", "part", "layout", "yard")
        },
    }
    answers = kept.answers
    marks = [asdict(mark) | {"answer": answers.get(mark.number, "")} for mark in view.state.stored]
    chain = chains(engine)
    lines = lines_of(view)
    pictures = sorted({digest for entry in lines for digest in entry.photographs})
    return bundle(
        boat,
        marks,
        [asdict(act) | {"chain": chain[act.number]} for act in store.acts(engine)],
        [asdict(record) for record in store.every_record(engine)],
        lines,
        {digest: store.photograph(engine, digest) for digest in pictures},
    )
