"""Taking marks off on the page: typed and judged row by row, pasted, or as a file; stored as `marks add` does."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from scrieve import store
from scrieve.athand import AtHand
from scrieve.errors import BadMarks, NoSuchFrame, ScrieveError
from scrieve.fairing.result import FairHull
from scrieve.takeoff.alike import told_alike
from scrieve.takeoff.bevels import is_bevel_board, read_bevels
from scrieve.takeoff.doubt import mark_name
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.sending import Sending, doubts_of, frames_words, known_words, open_sending
from scrieve.takeoff.tables import read_table
from scrieve.web.api.designs import plain
from scrieve.web.forms import Parcel, Parcelled
from scrieve.web.people.who import who
from scrieve.web.takeoff.assessing import Assessment, Doubted, assess, doubted, table_text
from scrieve.web.takeoff.bevels_pages import keep_and_show, take_board
from scrieve.web.takeoff.forms import FIRST_ROWS, FORMS, KNOWN, MOST_ROWS, TYPED, Typed, in_page_words
from scrieve.web.takeoff.workings import marks_whys
from scrieve.web.views import View

pages = APIRouter()
#: Stands for a hand that has yet to be chosen: no reader takes it for one.
_WHICH_HAND = "?"
#: A text pasted is called so in the messages.
PASTED = "the pasted table"
#: What may be answered of a row that is likely a slip.
ROW_ANSWERS = {"leave": "leave it out", "store": "store it, to be doubted", "keep": "store and keep it"}
#: Larger tables are not judged row by row: that would keep the page waiting.
MOST_JUDGED = 5000
#: The longest text that is given back into the page to be put right [characters].
_MOST_GIVEN_BACK = 400_000
#: So many marks are listed after a sending; all of them stand under Take-off.
_MOST_SHOWN = 400


@dataclass(frozen=True)
class Receipt:
    """What one sending stored, for the page that follows: beyond what can be told from the boat at any time."""

    numbers: tuple[int, ...]
    said: str
    left_out: int = 0
    bad: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    text: str = ""
    slips: tuple[str, ...] = ()
    judged: bool = False


#: Receipts of the last sendings, by what they are asked for under.
_receipts: AtHand[Receipt] = AtHand(64)


@dataclass(frozen=True)
class Pasted:
    """A table as pasted, or the text of a file that was refused."""

    text: str = ""
    name: str = PASTED
    way: str = ""
    second: bool = False
    bad: tuple[str, ...] = ()
    good: int = 0
    slips: tuple[Doubted, ...] = ()
    said: Mapping[int, str] = field(default_factory=dict)
    alone: str = ""
    error: ScrieveError | None = field(default=None, compare=False)


def _hull(view: View) -> tuple[FairHull | None, str]:
    """Return the fair hull so far without waiting for it, and why there is none."""
    fairing = view.file.fairing(view.state, 0.0)
    if fairing.error is not None:
        return None, str(fairing.error).rstrip(".")
    hull = fairing.hull or view.file.last_hull
    return hull, "" if hull else "the hull is just being faired"


@pages.get("/marks/new")
def new(
    request: Request,
    way: Annotated[str, Query()] = "offsets",
    frame: Annotated[str, Query()] = "",
    side: Annotated[str | None, Query()] = None,
) -> Response:
    """The form of one way of taking off, empty. Where hands are told apart, which one it is has to be said."""
    view = View(request)
    hand = _first_hand(view) if side is None else side
    return _form_page(view, Typed.read({"way": way, "frame": frame, "side": hand}))


def _first_hand(view: View) -> str:
    """What an empty form has for the hand: where the boat tells hands apart, it has yet to be chosen."""
    return _WHICH_HAND if any(mark.side for mark in view.state.every_mark) else ""


def _form_page(
    view: View,
    typed: Typed,
    *,
    said: Assessment | None = None,
    bad: Sequence[tuple[int, str]] = (),
    good: int = 0,
    stored: Receipt | None = None,
    error: ScrieveError | None = None,
    pasted: Pasted | None = None,
    anyway: bool = False,
    answers: Mapping[int, str] | None = None,
    status: int = 200,
) -> Response:
    stations = {mark.frame: mark.station_mm for mark in view.state.every_mark}
    labels = sorted({*stations, *view.kept.frames}, key=lambda label: (stations.get(label, float("inf")), label))
    last = max([FIRST_ROWS, *(number + 1 for number in typed.rows)])
    response = view.page(
        "takeoff_new.html",
        status,
        typed=typed,
        form=typed.form,
        forms=FORMS,
        labels=labels,
        stations=stations,
        row_numbers=range(1, min(last, MOST_ROWS) + 1),
        known_numbers=range(1, KNOWN + 1),
        said=said or Assessment(),
        bad=bad,
        bad_rows={number for number, _ in bad},
        good=good,
        stored=stored,
        error=error,
        pasted=pasted or Pasted(way=""),
        anyway=anyway,
        answers=answers or {},
        most_rows=MOST_ROWS,
        row_answers=ROW_ANSWERS,
    )
    response.headers["cache-control"] = "no-store"
    del response.headers["etag"]
    return response


@pages.post("/marks/new")
def typed(request: Request, sent: Parcelled) -> Response:
    """Store a form of marks, or judge it; what cannot be read, or is likely a slip, comes back as it was typed."""
    view = View(request)
    form = Typed.read(sent.fields)
    do = sent.fields.get("do", "store")
    hull, why = _hull(view)
    if do == "judge":
        said = assess(form, view.kept, view.state.every_mark, hull, why)
        return _form_page(
            view, form, said=said, bad=[(row, one.words) for row, one in said.rows.items() if one.state == "bad"]
        )
    if not form.filled:
        each = "bevel" if form.form.way == "bevels" else "mark"
        nothing = BadMarks(f"nothing is typed into the rows yet; give each {each} a row.")
        return _form_page(view, form, error=nothing, status=422)
    if form.form.way == "bevels":
        return _typed_bevels(view, form, sent, hull, why)
    try:
        sending = _sending(view, form, sent.fields.get("second") == "yes")
    except ScrieveError as error:
        return _form_page(view, form, error=error, status=422)
    bad = in_page_words(sending.bad)
    good = len(sending.marks) + len(sending.known)
    said = assess(form, view.kept, view.state.every_mark, hull, why)
    if bad and (do not in ("good", "anyway") or not good):
        return _form_page(view, form, said=said, bad=bad, good=good, status=422)
    stored_rows = {mark.line for mark in sending.marks}
    slips = [row for row in said.slips if row in stored_rows]
    answers = {row: what for row, what in _row_answers(sent.fields).items() if row in slips}
    if do == "anyway":
        answers = dict.fromkeys(slips, "store")
    elif len(answers) < len(slips):
        return _form_page(view, form, said=said, bad=bad, good=good, anyway=True, answers=answers, status=422)
    sending, keep = _as_answered(sending, answers)
    source = f"typed on the page, {form.form.name.lower()}"
    receipt = _store(view, sending, _key(sent.fields.get("key", ""), sending), source, keep=keep)
    names = {mark.line: mark_name(replace(mark, line=0, number=0), view.boat.units) for mark in sending.marks}
    told = [(names[row], said.rows[row].words, what) for row, what in answers.items() if row in names]
    receipt = replace(receipt, slips=_slips_stored(told), judged=True)
    if not bad:
        return _to_receipt(receipt)
    left = {n: row for n, row in form.rows.items() if n in _rows_named(sending.bad)}
    return _form_page(
        View(request), replace(form, rows=left), bad=bad, stored=replace(receipt, bad=()),
        said=Assessment(others=(*receipt.slips, *receipt.warnings)),
    )  # fmt: skip


def _typed_bevels(view: View, form: Typed, sent: Parcel, hull: FairHull | None, why: str) -> Response:
    """Keep bevels that were typed, where every row can be read."""
    try:
        if form.side == _WHICH_HAND:
            raise BadMarks("which hand? Say port, starboard, or both alike.")
        taken = read_bevels(form.table(), TYPED, units=view.boat.units)
        if not taken.bad:
            return keep_and_show(view, taken.bevels, "typed on the page", sent.fields.get("key", ""))
    except ScrieveError as error:
        return _form_page(view, form, error=error, status=422)
    said = assess(form, view.kept, view.state.every_mark, hull, why)
    return _form_page(view, form, said=said, bad=in_page_words(taken.bad), status=422)


def _sending(view: View, form: Typed, second: bool) -> Sending:
    way = form.form.way
    assert way != "bevels"
    return open_sending(form.table(), TYPED, view.state.every_mark, view.boat, way=way, second=second)


def _rows_named(bad: Sequence[str]) -> set[int]:
    return {
        int(number)
        for text in bad
        for number in re.findall(r"\d+", (re.match(rf"{TYPED} line (\d+(?:, \d+)*)", text) or [""])[0])
    }


def _key(key: str, sending: Sending) -> str | None:
    """Key of an act: the content is part of it, so that an older page changed and sent again is another act."""
    if not key:
        return None
    content = hashlib.sha256(repr(sending.marks).encode()).hexdigest()[:24]
    return f"{key[:80]}-{content}"


def _store(
    view: View, sending: Sending, key: str | None, source: str, text: str = "", keep: frozenset[int] = frozenset()
) -> Receipt:
    """Store what is new of a sending, as `scrieve marks add` does; return the receipt. `keep` are rows whose marks the
    builder keeps, whatever the others say.
    """
    engine = view.file.engine
    numbers = list(sending.known)
    added: Sequence[Mark] = sending.marks
    if added:
        numbers = store.add_marks(engine, added, key=key, source=source, who=who())
        kept = [number for number, mark in zip(numbers, added, strict=True) if mark.line in keep]
        if kept:
            store.answer(engine, kept, "keep", key=key and f"{key}-keep", who=who())
    doubts = doubts_of(numbers, view.file.state().kept.marks, view.boat)
    words = f"{frames_words(added)} stored" if added else "Nothing new was stored"
    left = known_words(len(sending.known))
    return Receipt(
        tuple(numbers), f"{words}.{' ' + left if left else ''}", len(sending.known), sending.bad,
        (*(words for _, words in in_page_words(told_alike(sending.warnings))), *(one.text for one in doubts)), text,
    )  # fmt: skip


def _to_receipt(receipt: Receipt) -> Response:
    name = hashlib.sha256(repr(receipt).encode()).hexdigest()[:16]
    _receipts.get(name, lambda: receipt)
    numbers = ",".join(_runs(receipt.numbers))
    return RedirectResponse("/marks/stored?" + urlencode({"numbers": numbers, "receipt": name}), 303)


def _runs(numbers: Sequence[int]) -> list[str]:
    """Write numbers as runs.

    Examples
    --------
    >>> _runs([4, 1, 2, 3, 9])
    ['1-4', '9']
    """
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1][-1] = number
        else:
            runs.append([number, number])
    return [f"{a}-{b}" if b > a else str(a) for a, b in runs]


@pages.get("/marks/stored")
def stored(
    request: Request,
    numbers: Annotated[str, Query(pattern=r"^[\d,-]*$", max_length=2000)] = "",
    receipt: Annotated[str, Query(max_length=40)] = "",
) -> Response:
    """What was just stored, and what the traps say of it."""
    view = View(request)
    wanted: set[int] = set()
    for run in filter(None, numbers.split(",")):
        first, _, last = run.partition("-")
        if not first.isdigit() or (last and not last.isdigit()):
            raise BadMarks(f"numbers {numbers!r}: give numbers of marks, such as 12-25.")
        low, high = int(first), int(last or first)
        wanted |= {mark.number for mark in view.state.every_mark if low <= mark.number <= high}
    there = [mark for mark in view.state.every_mark if mark.number in wanted]
    try:
        found = _receipts.get(receipt, _lost)
    except NoSuchFrame:  # another start of the program: the boat still tells the most of it
        doubts = doubts_of(wanted, view.kept.marks, view.boat)
        found = Receipt(tuple(sorted(wanted)), f"{frames_words(there)} stored.", warnings=tuple(d.text for d in doubts))
    frames = list(dict.fromkeys(mark.frame for mark in there))
    shown = there[:_MOST_SHOWN]
    whys = marks_whys(view, shown, len(frames) > 1)
    response = view.page("takeoff_stored.html", receipt=found, there=shown, frames=frames, whys=whys)
    response.headers["cache-control"] = "no-store"
    del response.headers["etag"]
    return response


def _lost() -> Receipt:
    raise NoSuchFrame("no such receipt.")


@pages.post("/marks/file")
def file(request: Request, sent: Parcelled) -> Response:
    """Store a table that was pasted, or a file; refused, its text comes back to be put right."""
    view = View(request)
    way = sent.fields.get("way", "")
    back = Typed.read({"way": sent.fields.get("form", "offsets"), "side": _first_hand(view)})
    name = sent.file_name or sent.fields.get("name") or PASTED
    data = sent.file or sent.fields.get("text", "").encode()
    second = sent.fields.get("second") == "yes"
    given = Pasted(sent.fields.get("text", ""), name, way, second)
    try:
        if sent.file_name and not data.strip():
            raise BadMarks(f"{name}: the file is empty; save the table again and choose it anew.")
        if not data.strip():
            raise BadMarks("nothing was pasted, and no file was chosen; the first row names the columns.")
        if sent.file:
            given = replace(given, text=_text_of(data, name))
        if way and way not in FORMS:
            raise BadMarks(f"form {way!r}; say one of {', '.join(FORMS)}.")
        chosen = FORMS[way].way if way else None
        if chosen == "bevels" or (chosen is None and is_bevel_board(data, name)):
            return take_board(view, sent)
        sending = open_sending(data, name, view.state.every_mark, view.boat, way=chosen, second=second)
        good = len(sending.marks) + len(sending.known)
        if sending.bad and (sent.fields.get("do") != "good" or not good):
            given = replace(given, bad=sending.bad, good=good)
            return _form_page(view, back, pasted=given, status=422)
        if not good:
            raise BadMarks(f"{name}: no mark in it to store; give each mark a row.")
        said = _row_answers(sent.fields)
        slips: list[Doubted] = []
        alone = ""
        judged = sent.fields.get("do") != "anyway" and len(sending.marks) <= MOST_JUDGED
        if judged and sending.marks:
            slips, alone = doubted(sending, data, name, view.kept, view.state.every_mark, _hull(view)[0])
        if any(one.row not in said for one in slips):
            return _form_page(view, back, pasted=replace(given, slips=tuple(slips), said=said, alone=alone), status=422)
        sending, keep = _as_answered(sending, {one.row: said[one.row] for one in slips})
        receipt = _store(
            view, sending, _key(sent.fields.get("key", ""), sending), name, given.text if sending.bad else "", keep
        )
        told = [(one.name, one.words, said[one.row]) for one in slips]
        receipt = replace(receipt, slips=_slips_stored(told), judged=judged)
        if left := sum(said[one.row] == "leave" for one in slips):
            receipt = replace(receipt, said=f"{receipt.said} Left out as answered: {left}.")
        if len(sending.marks) > MOST_JUDGED:
            many = f"More than {MOST_JUDGED} marks at once are not judged row by row; the fairing will."
            receipt = replace(receipt, said=f"{receipt.said} {many}")
        if not way and sending.way != "offsets":
            receipt = replace(
                receipt, said=f"{receipt.said} Read as {FORMS[sending.way].name.lower()}, by the columns."
            )
    except ScrieveError as error:
        return _form_page(view, back, pasted=replace(given, error=error), status=422)
    return _to_receipt(receipt)


def _row_answers(fields: Mapping[str, str]) -> dict[int, str]:
    """Return what was answered of each row that is likely a slip."""
    found = {}
    for name, text in fields.items():
        row = name.removeprefix("row.")
        if row != name and row.isascii() and row.isdigit() and len(row) < 10 and text in ROW_ANSWERS:
            found[int(row)] = text
    return found


def _as_answered(sending: Sending, said: Mapping[int, str]) -> tuple[Sending, frozenset[int]]:
    """Return the sending without rows left out, and the rows whose marks are kept whatever the others say."""
    kept = tuple(mark for mark in sending.marks if said.get(mark.line) != "leave")
    return replace(sending, marks=kept), frozenset(row for row, what in said.items() if what == "keep")


def _slips_stored(told: Sequence[tuple[str, str, str]]) -> tuple[str, ...]:
    """Return what the receipt says of likely slips that were stored, from whose, what was said and what answered."""
    as_answered = {"store": "stored to be doubted", "keep": "stored and kept"}
    return tuple(f"{name}, {as_answered[what]}: {words}" for name, words, what in told if what in as_answered)


def _text_of(data: bytes, name: str) -> str:
    """Return a file as CSV text for the page; empty where it is too long to be put right there."""
    text = table_text(read_table(data, name))
    return text if len(text) <= _MOST_GIVEN_BACK else ""


@pages.post("/api/judge")
def judged(request: Request, sent: Parcelled) -> Response:
    """Judge a form of marks as it is typed; nothing is stored."""
    view = View(request)
    hull, why = _hull(view)
    said = assess(Typed.read(sent.fields), view.kept, view.state.every_mark, hull, why)
    return JSONResponse(plain(said.to_json()), headers={"Cache-Control": "no-store"})
