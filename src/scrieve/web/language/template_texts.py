"""The visible texts of a page's template: each run of them is one message, which a catalogue may put in other words.

A message is what stands between two marks that divide (a block's tag, a statement): `Station {1}, <2>not measured</2>`.
`{1}` stands for an expression, or for an inline element in which there is nothing to translate; `<2>` and `</2>` for an
inline tag and its end. Both keep what the template has there, escaping and all; a translation is text, never markup.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

#: Attributes whose value is read by somebody.
VISIBLE = ("alt", "aria-label", "data-kept", "data-label", "label", "placeholder", "title")
#: Tags within a sentence; every other divides.
# fmt: off
INLINE = frozenset({
    "a", "abbr", "b", "bdi", "br", "cite", "code", "em", "i", "kbd", "q", "s", "small", "span", "strong", "sub",
    "sup", "time", "u", "var", "wbr",
})
# fmt: on
_EMPTY = frozenset({"br", "wbr"})
#: What stands within these is data, a command or a program, and stays as it is.
_AS_IT_IS = frozenset({"bdi", "code", "kbd", "pre", "script", "style", "textarea"})
_ENDS = {"{{": "}}", "{%": "%}"}
_PLACE = re.compile(r"\{(\w+)\}|<(/?)(\d+)>")
_TAG = re.compile(r"<(/?)([A-Za-z][A-Za-z0-9]*)")
_VALUE = re.compile(rf'(?<![\w-])({"|".join(VISIBLE)})="')
_LETTER = re.compile(r"[^\W\d_]")

#: Gives the words for a message; None where there are none.
Lookup = Callable[[str], str | None]


@dataclass(frozen=True, slots=True)
class _Item:
    """One piece of a template: 'text', 'expression', 'open', 'close', 'empty' (inline), or 'edge', which divides."""

    kind: str
    source: str
    name: str = ""


def translated(source: str, lookup: Lookup) -> str:
    """Return a template with its messages put in other words, and every shown value asked for at the time.

    Parameters
    ----------
    source : str
        Of the template.
    lookup : callable
        Gives the words for a message, or None: then it stays. They are put in as text; words whose placeholders are
        not those of the message are refused by `fits`, which is for the catalogue's reader to ask.

    Examples
    --------
    >>> translated('<p>Frame <bdi>{{ f }}</bdi> is <b>out of date</b>.</p>', {"Frame {1} is <2>out of date</2>.":
    ...     "<2>Veraltet</2>: Spant {1} {{ 1 }} <i>"}.get)
    '<p><b>Veraltet</b>: Spant <bdi>{{ f }}</bdi> &#123;&#123; 1 &#125;&#125; &lt;i&gt;</p>'
    """
    out: list[str] = []
    run: list[_Item] = []
    silent: list[str] = []
    for item in _items(source):
        quiet = bool(silent)
        if item.name in _AS_IT_IS or item.name == "option":
            if item.kind in ("open", "edge-open") and (item.name != "option" or " value=" not in item.source):
                silent.append(item.name)
            elif item.kind in ("close", "edge-close") and silent and silent[-1] == item.name:
                silent.pop()
        if item.kind.startswith("edge"):
            out.append(_run(run, lookup))
            run = []
            out.append(item.source if quiet and silent else _attributes(item.source, lookup))
        else:
            run.append(_Item("kept", item.source) if quiet and silent and item.kind != "edge" else item)
    return "".join((*out, _run(run, lookup)))


def messages(source: str) -> list[str]:
    """Return the messages of a template, as they stand in it, the same one as often as it does.

    Examples
    --------
    >>> messages('<h1 title="To be seen">{% if a %}Marks{% endif %}</h1>{# no #}<pre>scrieve serve</pre>')
    ['To be seen', 'Marks']
    """
    found: list[str] = []

    def note(message: str) -> None:
        found.append(message)

    translated(source, note)
    return found


def fits(message: str, words: str) -> bool:
    """Return whether words have the placeholders of a message, each as often, and tags that close as they should.

    Examples
    --------
    >>> fits("{1} of <2>{3}</2>", "<2>{3}</2>: {1}"), fits("{1} of {2}", "{1} of 2"), fits("<1>a</1>", "</1>a<1>")
    (True, False, False)
    """
    if sorted(_PLACE.findall(message)) != sorted(_PLACE.findall(words)):
        return False
    still_open: list[str] = []
    for name, end, number in _PLACE.findall(words):
        if name:
            continue
        if not end:
            still_open.append(number)
        elif not still_open or still_open.pop() != number:
            return False
    return not still_open


def _items(source: str) -> list[_Item]:
    found: list[_Item] = []
    text = at = 0

    def cut(kind: str, end: int, name: str = "") -> None:
        nonlocal at, text
        if source[text:at]:
            found.append(_Item("text", source[text:at]))
        found.append(_Item(kind, source[at:end], name))
        text = at = end

    while at < len(source):
        two = source[at : at + 2]
        if two == "{#":
            cut("edge", source.index("#}", at) + 2)
        elif two in _ENDS:
            cut("expression" if two == "{{" else "edge", _jinja_end(source, at))
        elif tag := _TAG.match(source, at):
            name = tag[2].lower()
            kind = "empty" if name in _EMPTY else "close" if tag[1] else "open"
            cut(kind if name in INLINE else f"edge-{kind}", _tag_end(source, at), name)
        elif source.startswith("<!", at):
            cut("edge", source.index(">", at) + 1)
        else:
            at += 1
    if source[text:]:
        found.append(_Item("text", source[text:]))
    return found


def _jinja_end(source: str, at: int) -> int:
    end, depth, quote = _ENDS[source[at : at + 2]], 0, ""
    at += 2
    while at < len(source):
        one = source[at]
        if quote:
            at += one == "\\"
            quote = "" if one == quote else quote
        elif one in "'\"":
            quote = one
        elif depth == 0 and source.startswith(end, at):
            return at + 2
        elif one in "([{":
            depth += 1
        elif one in ")]}":
            depth -= 1
        at += 1
    return at


def _tag_end(source: str, at: int) -> int:
    quote = ""
    while at < len(source):
        if source[at : at + 2] in _ENDS:
            at = _jinja_end(source, at)
            continue
        one = source[at]
        if quote:
            quote = "" if one == quote else quote
        elif one in "'\"":
            quote = one
        elif one == ">":
            return at + 1
        at += 1
    return at


def _attributes(tag: str, lookup: Lookup) -> str:
    """Return a tag (or another piece) with the attributes that are read by somebody put in other words."""
    if not tag.startswith("<"):
        return tag
    out, at = "", 0
    while found := _VALUE.search(tag, at):
        end = found.end()
        while tag[end] != '"':
            end = _jinja_end(tag, end) if tag[end : end + 2] in _ENDS else end + 1
        run: list[_Item] = []
        value = ""
        for item in _items(tag[found.end() : end]):
            if item.kind in ("text", "expression"):
                run.append(item)
            else:
                value += _run(run, lookup) + item.source
                run = []
        out += tag[at : found.end()] + value + _run(run, lookup)
        at = end
    return out + tag[at:]


def _run(run: Sequence[_Item], lookup: Lookup) -> str:
    """Return one run of texts, expressions and inline tags in other words; tags without their other half divide it."""
    partner = _partners(run)
    parts: list[Sequence[_Item]] = []
    start = 0
    for i, item in enumerate(run):
        if item.kind in ("open", "close") and i not in partner:
            parts += [run[start:i], [item]]
            start = i + 1
    if parts:
        return "".join(_run(part, lookup) if len(part) != 1 or part[0].kind not in ("open", "close")
                       else _attributes(part[0].source, lookup) for part in (*parts, run[start:]))  # fmt: skip
    tops = _tops(run, partner)
    if any(run[i].kind == "open" for i, _ in tops) and not any(_wordy(run[i]) for i, _ in tops):
        # links in a row, or a sentence that is bold as a whole: each is a message by itself
        return "".join(
            _attributes(run[i].source, lookup) + _run(run[i + 1 : end], lookup) + run[end].source
            if run[i].kind == "open" else _message(run[i : end + 1], {}, lookup)
            for i, end in tops
        )  # fmt: skip
    return _message(run, partner, lookup)


def _tops(run: Sequence[_Item], partner: dict[int, int]) -> list[tuple[int, int]]:
    """First and last of what stands side by side in a run: an inline element as a whole, or one other item."""
    found, i = list[tuple[int, int]](), 0
    while i < len(run):
        found.append((i, partner.get(i, i)))
        i = found[-1][1] + 1
    return found


def _partners(run: Sequence[_Item]) -> dict[int, int]:
    found: dict[int, int] = {}
    still_open: list[int] = []
    for i, item in enumerate(run):
        if item.kind == "open":
            still_open.append(i)
        elif item.kind == "close":
            for back in reversed(still_open):
                if run[back].name == item.name:
                    found |= {back: i, i: back}
                    del still_open[still_open.index(back) :]
                    break
    return found


def _message(run: Sequence[_Item], partner: dict[int, int], lookup: Lookup) -> str:
    message, places, numbers, i = "", dict[str, str](), 0, 0
    names: dict[int, int] = {}
    while i < len(run):
        item = run[i]
        if item.kind == "text":
            message += re.sub(r"[ \t\r\n\f]+", " ", html.unescape(item.source))
            i += 1
            continue
        end = i
        if item.kind == "open" and not any(_wordy(each) for each in run[i : partner[i]]):
            end = partner[i]
        if item.kind in ("open", "close") and end == i:
            if item.kind == "open":
                numbers += 1
                names[partner[i]] = numbers
                place = f"<{numbers}>"
            else:
                place = f"</{names[i]}>"
        else:
            numbers += 1
            place = f"{{{numbers}}}"
        places[place] = "".join(_shown(each, lookup) for each in run[i : end + 1])
        message += place
        i = end + 1
    kept = "".join(_shown(each, lookup) for each in run)
    if not _LETTER.search(_PLACE.sub("", message)):
        return kept
    words = lookup(message.strip(" "))
    if words is None:
        return kept
    lead, tail = (" " if message.startswith(" ") else ""), (" " if message.endswith(" ") else "")
    out, at = lead, 0
    for found in _PLACE.finditer(words):
        out += _plain(words[at : found.start()]) + places.get(found[0], _plain(found[0]))
        at = found.end()
    return out + _plain(words[at:]) + tail


def _wordy(item: _Item) -> bool:
    return item.kind == "text" and bool(_LETTER.search(html.unescape(item.source)))


def _plain(text: str) -> str:
    """Return text for a template: neither markup nor anything that the template would take for its own."""
    return html.escape(text).replace("{", "&#123;").replace("}", "&#125;")


def _shown(item: _Item, lookup: Lookup) -> str:
    if item.kind == "expression":
        inner = item.source[2:-2]
        head = "-" if inner.startswith("-") else ""
        tail = "-" if inner.endswith("-") else ""
        return f"{{{{{head} ({inner[len(head) : len(inner) - len(tail)]}) | told {tail}}}}}"
    return _attributes(item.source, lookup) if item.kind in ("open", "empty") else item.source
