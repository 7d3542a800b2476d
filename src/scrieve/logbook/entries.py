"""Entries of the logbook, made of the acts and the records of a boat: one line of time, nothing left out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

#: Kinds of record whose member is the label of a frame.
OF_FRAMES = ("signature", "glue-up", "release", "fitted", "jig proved", "curing", "cure")
#: What of a record's particulars is no figure to be read.
_UNSAID = ("photographs", "plan", "made_from", "signed_by", "choice", "key")
_MOST_SAID = 12
#: Nor of a choice: how it was found, and what it holds by.
_INNER = ("of", "rounds", "seed", "seconds", "stands", "stopped")
#: How the act begins that wrote a record.
_WROTE = "recorded:"
#: What is settled, in words, where part and name of a choice do not say it well.
SETTLED: Mapping[tuple[str, str], str] = {
    ("yard", "work yard"): "the yard", ("yard", "work prices"): "the prices", ("yard", "work strakes"): "the strakes",
    ("yard", "glue-up"): "how the shop glues up", ("yard", "release"): "how the shop judges a release",
    ("layout", "rules"): "the shop's rules for boards", ("layout", "laying"): "what lies on the boards",
    ("layout", "ripping"): "what is ripped out of boards",
    ("jig", "bed"): "the jig's bed", ("jig", "setting"): "how the jig stands", ("jig", "plan"): "the order of the jig",
    ("yard", "work plan"): "the plan",
}  # fmt: skip
_DID = {
    "chose for a frame": "designed a frame pair", "chose for a plank": "drew a plank",
    "chose for a board": "put a board in the rack", "chose for a glue": "put in a glue's data sheet",
    "chose for a lining": "lined off", "chose for a skin": "laid the skins",
    "forgot a frame": "took a frame off the list", "forgot a plank": "took a plank off the list",
    "forgot a board": "took a board off the rack",
}  # fmt: skip
_NAMES = {"sigma": "error of a mark", "half beam": "half of the greatest beam", "planking": "marks to its"}


class Act(Protocol):
    """An act as the store gives it."""

    @property
    def at(self) -> str:
        """When: UTC, ISO 8601."""
        ...

    @property
    def who(self) -> str:
        """Who did it."""
        ...

    @property
    def what(self) -> str:
        """What was done."""
        ...

    @property
    def detail(self) -> Mapping[str, Any]:
        """The particulars."""
        ...

    @property
    def number(self) -> int:
        """Its number in the boat."""
        ...

    @property
    def undoes(self) -> int | None:
        """The act that it takes back."""
        ...


class Record(Protocol):
    """A record as the store gives it."""

    @property
    def number(self) -> int:
        """Its number in the boat."""
        ...

    @property
    def kind(self) -> str:
        """What was done."""
        ...

    @property
    def member(self) -> str:
        """The frame, plank or board; empty for the whole boat."""
        ...

    @property
    def at(self) -> str:
        """When: UTC, ISO 8601."""
        ...

    @property
    def who(self) -> str:
        """Who wrote it down."""
        ...

    @property
    def detail(self) -> Mapping[str, Any]:
        """What was done or measured."""
        ...

    @property
    def corrects(self) -> int | None:
        """The record that it puts right."""
        ...


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry: `number` of its record, 0 where it is an act alone; `act` the act that wrote it, 0 where none tells.

    `values` are pairs of name and text; `corrected_by` the record that put it right; `signed_by` who signed it with a
    PIN; `photographs` digests of what belongs to it.
    """

    at: str
    who: str
    member: str
    what: str
    text: str
    values: tuple[tuple[str, str], ...] = ()
    photographs: tuple[str, ...] = ()
    number: int = 0
    act: int = 0
    corrects: int | None = None
    corrected_by: int | None = None
    signed_by: str = ""

    @property
    def day(self) -> str:
        """The day, YYYY-MM-DD."""
        return self.at[:10]


def entries(acts: Iterable[Act], records: Sequence[Record]) -> tuple[Entry, ...]:
    """Return every entry, the latest first.

    An act that only says that a record was written is left out: the record itself stands there.

    Parameters
    ----------
    acts : iterable of Act
        In order.
    records : sequence of Record
        Every record, those that were corrected too.
    """
    acts = tuple(acts)
    wrote = {act.detail.get("number"): act.number for act in acts if act.what.startswith(_WROTE)}
    put_right = {record.corrects: record.number for record in records if record.corrects is not None}
    lines = [_of_record(record, put_right.get(record.number), wrote.get(record.number, 0)) for record in records]
    stood: dict[tuple[str, str], Mapping[str, Any]] = {}
    for act in acts:
        if not act.what.startswith(_WROTE):
            of = (act.what.rpartition(" ")[2], str(act.detail.get("name", "")))
            lines.append(_of_act(act, stood.get(of)))
            if "choice" in act.detail:
                stood[of] = act.detail["choice"] or {}
    return tuple(sorted(lines, key=lambda entry: (entry.at, entry.number, entry.act), reverse=True))


def act_called(what: str, name: str = "") -> tuple[str, str]:
    """Return what an act is called in the shop, and the name that is still to be told with it.

    Examples
    --------
    >>> act_called("chose for a board", "B2"), act_called("chose for a jig", "bed"), act_called("answered: drop")
    (('put a board in the rack', 'B2'), ("settled the jig's bed", ''), ('answered: drop', ''))
    """
    begun, _, part = what.rpartition(" a ")
    if settled := SETTLED.get((part, name)):
        return f"{'settled' if begun == 'chose for' else 'forgot'} {settled}", ""
    return _DID.get(what, what), name


def _of_record(record: Record, corrected_by: int | None, act: int) -> Entry:
    detail = record.detail
    pairs = told({name: value for name, value in detail.items() if name not in ("text", "values", *_UNSAID)})
    given = detail.get("values")
    own = tuple((str(pair[0]), str(pair[1])) for pair in given) if isinstance(given, list) else ()
    photographs = detail.get("photographs")
    member = record.member
    if member and record.kind in OF_FRAMES and "values" not in detail:  # written by hand it names its member in full
        member = f"frame {member}"
    return Entry(
        record.at,
        record.who,
        member,
        record.kind,
        str(detail.get("text", "")),
        (*own, *pairs),
        tuple(photographs) if isinstance(photographs, list) else (),
        record.number,
        act,
        corrects=record.corrects,
        corrected_by=corrected_by,
        signed_by=str(detail.get("signed_by", "")),
    )


def _of_act(act: Act, before: Mapping[str, Any] | None) -> Entry:
    """An act; of something chosen, what of it was changed against `before`, or all of it where it is new."""
    name = act.detail.get("name") if isinstance(act.detail, Mapping) else None
    what, member = act_called(act.what, str(name or ""))
    part = next((part for part in ("frame", "plank", "board") if f" {part}" in f" {act.what}"), "")
    if member and part:
        member = f"{part} {member}"
    pairs = told({key: value for key, value in act.detail.items() if key not in ("name", "choice")})
    if isinstance(choice := act.detail.get("choice"), Mapping):
        pairs = (*pairs, *(_chosen(choice) if before is None else _changed(before, choice)).items())
    if act.undoes is not None:
        pairs = (("takes back act", str(act.undoes)), *pairs)
    return Entry(act.at, act.who, member, what, "", pairs, act=act.number)


def _chosen(choice: Mapping[str, Any]) -> dict[str, str]:
    held = (*_INNER, "made_from") if "placements" in choice else _INNER
    choice = {name: value for name, value in choice.items() if name not in held}
    inner = choice.get("choice")
    rest = {name: value for name, value in choice.items() if name != "choice" or not isinstance(value, Mapping)}
    return dict(told({**inner, **rest} if isinstance(inner, Mapping) else rest))


def _changed(before: Mapping[str, Any], now: Mapping[str, Any]) -> dict[str, str]:
    """What differs of two choices, as it was and as it is.

    Examples
    --------
    >>> _changed({"choice": {"sided_mm": 45.0, "timber": "larch"}}, {"choice": {"sided_mm": 48.0, "timber": "larch"}})
    {'sided': '45 mm → 48 mm'}
    """
    old, new = _chosen(before), _chosen(now)
    return {
        name: f"{old.get(name, 'none')} → {new.get(name, 'none')}"
        for name in dict.fromkeys([*old, *new])
        if old.get(name) != new.get(name)
    }


def told(detail: Mapping[str, Any], before: str = "") -> tuple[tuple[str, str], ...]:
    """Return the particulars as pairs of words and figures; what is long is counted instead.

    Examples
    --------
    >>> told({"glue": "epoxy", "shop": {"temperature_c": 18.0}, "offsets_mm": [1.0, 2.0], "note": ""})
    (('glue', 'epoxy'), ('shop temperature', '18 °C'), ('offsets', '1 mm, 2 mm'))
    """
    found: list[tuple[str, str]] = []
    for name, value in detail.items():
        if name in _INNER:
            continue
        words, unit = _words(name)
        words = f"{before} {_NAMES.get(words, words)}".strip()
        if isinstance(value, Mapping):
            found += told(value, words)
        elif isinstance(value, (list, tuple)):
            plain = [each for each in value if not isinstance(each, (list, tuple, Mapping))]
            if value and len(plain) == len(value) and len(value) <= _MOST_SAID:
                found.append((words, ", ".join(_figure(each, unit) for each in value)))
            elif value:
                found.append((words, f"{len(value)} figures"))
        elif value not in (None, ""):
            found.append((words, _figure(value, unit)))
    return tuple(found)


_UNITS = {"mm": "mm", "c": "°C", "pct": "%", "n": "N", "g": "g", "s": "s", "h": "h", "min": "min", "kg": "kg", "m": "m"}


def _words(name: str) -> tuple[str, str]:
    words = str(name).replace("-", "_").split("_")
    unit = _UNITS.get(words[-1], "") if len(words) > 1 else ""
    return " ".join(words[:-1] if unit else words), unit


def _figure(value: object, unit: str) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = f"{value:.6g}" if isinstance(value, float) else str(value)
    return f"{text} {unit}" if unit else text


def found(
    lines: Iterable[Entry], words: str = "", member: str = "", day: str = "", who: str = "", what: str = ""
) -> tuple[Entry, ...]:
    """Return the entries that hold all `words`, and are of that member, day, person and kind, where these are given."""
    asked = words.casefold().split()
    kept = []
    for entry in lines:
        whole = " ".join(
            [entry.at, entry.who, entry.member, entry.what, entry.text, *(f"{a} {b}" for a, b in entry.values)]
        )
        whole = whole.casefold()
        same = (
            member.casefold() in ("", entry.member.casefold(), entry.member.casefold().rpartition(" ")[2])
            and day in ("", entry.day)
            and who.casefold() in ("", entry.who.casefold())
            and what in ("", entry.what)
        )
        if same and all(word in whole for word in asked):
            kept.append(entry)
    return tuple(kept)
