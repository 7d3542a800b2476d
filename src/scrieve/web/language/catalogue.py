"""A catalogue of texts in another language: the subset of the PO format (GNU gettext manual, "The Format of PO Files")
that is written here - comments, `msgid`, `msgstr` - and what is shown for a text that is looked up in it.

Python's own `gettext` reads only the compiled form, and that by numbers of plural forms we have none of.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from scrieve.errors import ScrieveError
from scrieve.web.language.template_texts import fits

_STRING = re.compile(r'"((?:[^"\\]|\\.)*)"\s*$')
_ESCAPES = {"n": "\n", "t": "\t", "r": "\r", '"': '"', "\\": "\\"}
_CODE = re.compile(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*")
_PLACE = re.compile(r"\{\w+\}")
#: What is around a text that is part of a longer one.
AROUND = " \t\n;,"
_COUNTED = re.compile(r"([\d.,]+ )(\S.*)")
_LETTER = re.compile(r"[^\W\d_]")
#: What parts the texts of a list, and the longest text that is looked at in parts.
_BETWEEN = {" ": re.compile(r"(?<=[.:]) "), "; ": re.compile("; "), ", ": re.compile(", ")}
_LONGEST = 2000
#: A catalogue larger than this is none of ours.
_MOST_BYTES = 4_000_000
#: Languages that run from right to left, by code.
_LEFTWARD = frozenset({"ar", "dv", "fa", "he", "ps", "sd", "ug", "ur", "yi"})


class BadCatalogue(ScrieveError, ValueError):
    """A file of texts that cannot be read, or does not fit its English."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One text: English, in the other language ('' where it is missing), and where it stands."""

    english: str
    words: str = ""
    places: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False, slots=True)
class Catalogue:
    """The texts of one language.

    Attributes
    ----------
    code : str
        Of the language, as in HTML's `lang`.
    texts : mapping
        English to the other language; only what is there.
    scripts : frozenset of str
        The English of those that the pages' scripts say.
    """

    code: str
    texts: Mapping[str, str]
    scripts: frozenset[str] = frozenset()

    @property
    def direction(self) -> str:
        """How it is written: 'ltr' or 'rtl'."""
        return "rtl" if self.code.split("-")[0].lower() in _LEFTWARD else "ltr"


def read_catalogue(path: Path) -> Catalogue:
    """Return the catalogue of a file.

    Raises
    ------
    BadCatalogue
        It cannot be read, or a text has not the placeholders of its English: with the file and the text.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise BadCatalogue(f"{path}: cannot be read ({error.strerror}); give a file of texts.") from error
    if len(raw) > _MOST_BYTES:
        raise BadCatalogue(f"{path}: {len(raw)} bytes; a file of texts has {_MOST_BYTES} at most.")
    try:
        entries = parse(raw.decode("utf-8-sig"), str(path))
    except UnicodeDecodeError as error:
        raise BadCatalogue(f"{path}: not written as UTF-8 (byte {error.start}); save it so.") from error
    head = next((entry.words for entry in entries if not entry.english), "")
    told = re.search(r"^Language:[ \t]*(\S+)", head, re.M)
    code = (told[1] if told else path.stem).replace("_", "-")
    if not _CODE.fullmatch(code):
        raise BadCatalogue(f"{path}: language {code!r}; write 'Language: xx' into its head, xx as in de or pt-BR.")
    texts = {entry.english: entry.words for entry in entries if entry.english and entry.words}
    for english, words in texts.items():
        if not fits(english, words):
            raise BadCatalogue(
                f"{path}: {words!r} has not the placeholders of {english!r}; each of them must stand in it as often, "
                "and what is opened must be closed."
            )
    scripts = frozenset(each.english for each in entries if any(place.endswith(".js") for place in each.places))
    return Catalogue(code, texts, scripts)


def parse(text: str, name: str) -> list[Entry]:
    r"""Return the entries of a file in order; the head is the one whose English is ''.

    Raises
    ------
    BadCatalogue
        A line is none of the format's, or tells of plural forms or contexts, which are not used here.

    Examples
    --------
    >>> parse('#: web/a.html\nmsgid "Boat"\nmsgstr ""\n"Bo"\n"ot"\n', "xx.po")
    [Entry(english='Boat', words='Boot', places=('web/a.html',))]
    """
    found: list[Entry] = []
    fields: dict[str, str] = {}
    places: list[str] = []
    current = ""

    def finish() -> None:
        nonlocal current
        if fields:
            if "msgstr" not in fields or "msgid" not in fields:
                raise BadCatalogue(f"{name}: {fields} is half an entry; it needs msgid and msgstr.")
            found.append(Entry(fields["msgid"], fields["msgstr"], tuple(places)))
            fields.clear()
            places.clear()
        current = ""

    for number, line in enumerate(text.splitlines(), 1):
        line = line.strip()
        if not line:
            finish()
        elif line.startswith("#"):
            if "msgstr" in fields:
                finish()
            if line.startswith("#:"):
                places += line[2:].split()
        else:
            word, _, rest = line.partition(" ") if not line.startswith('"') else (current, "", line)
            string = _STRING.match(rest.strip())
            if word not in ("msgid", "msgstr") or string is None:
                raise BadCatalogue(f"{name} line {number}: found {line[:60]!r}; expected msgid or msgstr and a string.")
            if word == "msgid" and "msgstr" in fields and rest is not line:
                finish()
            current = word
            fields[word] = fields.get(word, "") + re.sub(r"\\(.)", lambda m: _ESCAPES.get(m[1], m[1]), string[1])
    finish()
    return found


def written(entries: Iterable[Entry], head: str) -> str:
    r"""Return entries as a file; `head` is its head, lines such as 'Language: xx'.

    Examples
    --------
    >>> print(written([Entry('a "b"', "c")], "Language: xx\n"))
    msgid ""
    msgstr ""
    "Language: xx\n"
    <BLANKLINE>
    msgid "a \"b\""
    msgstr "c"
    <BLANKLINE>
    """
    lines = ['msgid ""', 'msgstr ""', *(_quoted(line + "\n") for line in head.splitlines()), ""]
    for entry in entries:
        lines += [f"#: {place}" for place in entry.places]
        lines += [f"msgid {_quoted(entry.english)}", f"msgstr {_quoted(entry.words)}", ""]
    return "\n".join(lines)


def _quoted(text: str) -> str:
    text = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t")
    return f'"{text}"'


@lru_cache(maxsize=8192)
def shown(catalogue: Catalogue, text: str) -> str:
    """Return a text made while the page was made, in the language: as a whole, or by the pattern that it follows.

    What no entry fits stays as it is: a name, a figure, a text nobody has put in other words yet.

    Examples
    --------
    >>> book = Catalogue("xx", {"cut": "gezaagd", "Frame {1} is {2}": "Spant {1} is {2}"})
    >>> shown(book, " cut"), shown(book, "Frame 14 is cut"), shown(book, "Old frame")
    (' gezaagd', 'Spant 14 is gezaagd', 'Old frame')
    """
    return _within(catalogue, text, 3)


def _within(catalogue: Catalogue, text: str, depth: int) -> str:
    core = text.strip(AROUND)
    if not core:
        return text
    at = text.index(core)
    return text[:at] + _in_words(catalogue, core, depth) + text[at + len(core) :]


def _in_words(catalogue: Catalogue, text: str, depth: int) -> str:
    if text in catalogue.texts:
        return catalogue.texts[text]
    if words := catalogue.texts.get(text[:1].lower() + text[1:]):  # written small, shown at the head of a line
        return words[:1].upper() + words[1:]
    counted = _COUNTED.fullmatch(text)
    if counted and counted[2] in catalogue.texts:
        return counted[1] + catalogue.texts[counted[2]]
    if not depth or len(text) > _LONGEST or not _LETTER.search(text):
        return text
    fitting = list(_fitting(catalogue, text))
    for within, words in fitting:
        if not any(between in each for each in within.values() for between in ("; ", ", ", ". ")):
            return _filled(catalogue, within, words, depth)
    for between, exact in _BETWEEN.items():  # sentences, or a list of such texts
        parts = exact.split(text)
        found = [_in_words(catalogue, part, depth - 1) for part in parts]
        if len(parts) > 1 and all(a != b or not _LETTER.search(a) for a, b in zip(parts, found, strict=True)):
            return between.join(found)
    return _filled(catalogue, *fitting[0], depth) if fitting else text


def _filled(catalogue: Catalogue, within: Mapping[str, str], words: str, depth: int) -> str:
    return _PLACE.sub(lambda place: _within(catalogue, within[f"p{place[0][1:-1]}"], depth - 1), words)


def _fitting(catalogue: Catalogue, text: str) -> Iterator[tuple[Mapping[str, str], str]]:
    """Patterns that a text follows, with what stands in their places. What they write themselves is most of it: a
    pattern of few words would fit half of all there is."""
    for literal, letters, pattern, words in _patterns(catalogue):
        if literal in text and (found := _compiled(pattern).fullmatch(text)):
            within = found.groupdict()
            if letters >= _letters("".join(within.values())):
                yield within, words


def _letters(text: str) -> int:
    return sum(map(str.isalpha, text))


@lru_cache(maxsize=4096)
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.S)


@lru_cache(maxsize=16)
def _patterns(catalogue: Catalogue) -> list[tuple[str, int, str, str]]:
    """Texts with places: the longest text of its own, its letters, the pattern, the words; the fullest first."""
    found = []
    for english, words in catalogue.texts.items():
        parts, names = _PLACE.split(english), _PLACE.findall(english)
        if names and "<" not in english and len(set(names)) == len(names):
            exact = re.escape(parts[0]) + "".join(
                f"(?P<p{name[1:-1]}>.*?){re.escape(part)}" for name, part in zip(names, parts[1:], strict=True)
            )
            found.append((max(parts, key=len), _letters("".join(parts)), exact, words))
    return sorted(found, key=lambda each: -each[1])


def texts_of_pages() -> str:
    """Return the catalogue of the pages' English, in which nothing is filled in yet."""
    return (Path(__file__).parents[1] / "texts.pot").read_text(encoding="utf-8")
