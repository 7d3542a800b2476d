"""Pages in another language: of a catalogue in which every letter is another, so that what was not looked up shows."""

from __future__ import annotations

import html
import importlib
import re
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest
from boats import HOSTILE_FRAME, HOSTILE_PLANK, client_of
from jinja2 import DictLoader

from scrieve.web.language.catalogue import BadCatalogue, Catalogue, Entry, parse, read_catalogue, written
from scrieve.web.language.languages import InLanguage, Templates, spoken

ROOT = Path(__file__).parents[2]
POT = ROOT / "src" / "scrieve" / "web" / "texts.pot"
PLAIN = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
STRANGE = str.maketrans(PLAIN, "абцдефгхийклмнопярстувщхузАБЦДЕФГХИЙКЛМНОПЯРСТУВЩХУЗ")
PLACE = re.compile(r"(\{\w+\}|</?\d+>)")
#: Main pages, and their words that are no English: names, units, kinds of file, what is typed as a command.
PAGES = ["/", "/marks?frame=17", "/fairing", "/frames", "/frames/14", "/jig", "/glue-up?frame=14", "/release?frame=14",
         "/planks", "/planks/garboard", "/planks/lining?side=port", "/timber", "/plan", "/log", "/sheets", "/settings",
         "/undo", "/find?what=keel", "/words", "/tour", "/marks/new"]  # fmt: skip
NO_ENGLISH = {"Scrieve", "Merganser", "PDF", "ZIP", "DXF", "SVG", "CSV", "UTC", "ISO", "PIN", "JSON", "sapele", "larch"}
#: Left in English as yet: fields of a record by their stored names, a remark added to a figure.
NO_ENGLISH |= {"numbers", "not", "measured", "yet"}
#: Data, drawings, tables of figures; choices that are sent as they are shown.
ASIDE = frozenset(["bdi", "code", "kbd", "pre", "svg", "table", "textarea", "script", "style", "datalist", "select"])
#: Figures and how they came about, what was judged of them, and acts as the store tells them.
ASIDE_CLASSES = frozenset(
    [
        "workings",
        "why-rows",
        "checks",
        "cautions",
        "facts",
        "inputs",
        "breaches",
        "suspects",
        "verdict-line",
        "fig",
        "of-table",
    ]
)
VOID = frozenset(["area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"])


#: What a form sends, where links lead, and what scripts and styles go by. Keys are made of the whole page: they differ.
SENT = re.compile(r'\s(?:name|value|href|action|id|class)="([^"]*)"|<option>([^<]*)')


def strange(text: str) -> str:
    """Every letter another; placeholders as they are."""
    return "".join(part if PLACE.fullmatch(part) else part.translate(STRANGE) for part in PLACE.split(text))


@pytest.fixture(scope="module")
def catalogue(tmp_path_factory) -> Catalogue:
    path = tmp_path_factory.mktemp("texts") / "xx.po"
    entries = [
        Entry(e.english, strange(e.english), e.places) for e in parse(POT.read_text("utf-8"), "pot") if e.english
    ]
    path.write_text(written(entries, "Language: xx\n"), encoding="utf-8")
    return read_catalogue(path)


@pytest.fixture(scope="module")
def abroad(merganser, catalogue):
    """The demo boat's pages in that language: as `create_app(..., language=)` sets them before all else."""
    with client_of(InLanguage(merganser, catalogue)) as client:
        yield client


class Reader(HTMLParser):
    """What is read on a page, without what stands aside."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.depth = 0

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if self.depth or tag in ASIDE or ASIDE_CLASSES & set((given.get("class") or "").split()):
            self.depth += tag not in VOID
        else:
            self.found += [given[name] or "" for name in ("alt", "aria-label", "placeholder", "title") if name in given]

    def handle_endtag(self, tag):
        self.depth -= self.depth > 0 and tag not in VOID

    def handle_data(self, data):
        if not self.depth:
            self.found.append(data)


def visible(page: str) -> str:
    reader = Reader()
    reader.feed(page)
    text = " ".join(reader.found)
    text = text.replace(HOSTILE_FRAME, "").replace(HOSTILE_PLANK, "")
    return re.sub(r"(frame|plank) (garboard|topside 1\d port|strake 9|\d+|)(?!\w)", "", text)  # members, by name


def test_no_plain_english_is_left_on_the_main_pages(abroad):
    left: dict[str, set[str]] = {}
    for path in PAGES:
        reply = abroad.get(path)
        assert reply.status_code == 200, path
        assert '<html lang="xx"' in reply.text
        words = set(re.findall(r"(?<![\w.])[A-Za-z]{3,}(?![\w.])", visible(reply.text))) - NO_ENGLISH
        if words:
            left[path] = words
    assert not left


def test_what_is_refused_is_told_in_other_words_too(abroad):
    here = {"Origin": "http://127.0.0.1:8777"}
    large = {"note": "x" * 65_000}
    refused = {
        413: abroad.post("/marks/answer", data=large, headers=here),
        403: abroad.post("/marks/answer", data={}, headers={"Origin": "http://elsewhere.example"}),
        415: abroad.post("/marks/answer", content=b"{}", headers=here | {"Content-Type": "application/json"}),
        400: abroad.post("/marks/answer", content="\xe9".encode("latin-1"),
                         headers=here | {"Content-Type": "application/x-www-form-urlencoded"}),
        404: abroad.get("/nowhere"),
        405: abroad.post("/words", data={}, headers=here),
    }  # fmt: skip
    refused[4130] = abroad.post("/marks/file", files={"file": ("a.csv", b"x" * 5_000_001)}, headers=here)
    left = {}
    for status, reply in refused.items():
        assert reply.status_code == (413 if status == 4130 else status)
        left[status] = set(re.findall(r"(?<![\w.])[A-Za-z]{3,}(?![\w.])", visible(reply.text))) - NO_ENGLISH
    assert not any(left.values()), left


def test_what_is_sent_stays_as_it_was(pages, abroad):
    """Names and values of fields, addresses, and choices that are sent as shown: the same in every language."""
    for path in ("/frames/14", "/settings", "/planks/lining?side=port", "/marks/new"):
        both = [re.findall(SENT, re.sub(r'"[0-9a-f]{24}"', '""', client.get(path).text)) for client in (pages, abroad)]
        assert both[0] == both[1], path


def test_a_hostile_catalogue_is_shown_and_not_obeyed(merganser):
    nasty = '<script>alert(1)</script> "onclick=x {{ view.file }} {% raw %} {# &lt;'
    book = Catalogue("xx", {"Frames": nasty, "Find a frame, plank, board or page": nasty, "Frame {1}": nasty + "{1}"})
    with client_of(InLanguage(merganser, book)) as client:
        text = client.get("/frames").text
    assert "<script>alert" not in text
    assert '"onclick' not in text
    assert text.count("&lt;script&gt;alert(1)&lt;/script&gt;") > 2
    assert "{{ view.file }}" in html.unescape(text)


def test_placeholders_keep_their_escaping():
    book = Catalogue("xx", {"Frame {1} is <2>cut</2>": "<2>Sawn</2> is {1}"})
    english = Templates(
        autoescape=True, loader=DictLoader({"a": '<p title="Frame {{ f }}">Frame {{ f }} is <b>cut</b></p>'})
    )
    token = spoken.set(book)
    try:
        page = english.get_template("a").render(f="<i>")
    finally:
        spoken.reset(token)
    assert page == '<p title="Frame &lt;i&gt;"><b>Sawn</b> is &lt;i&gt;</p>'
    assert english.get_template("a").render(f="1") == '<p title="Frame 1">Frame 1 is <b>cut</b></p>'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('msgid "{1} of {2}"\nmsgstr "{1}"\n', "has not the placeholders of"),
        ('msgid "a <1>b</1>"\nmsgstr "</1>b<1>"\n', "has not the placeholders of"),
        ('msgid "a"\nmsgid_plural "b"\nmsgstr "c"\n', "line 2: found 'msgid_plural"),
        ('msgid "a"\n', "half an entry"),
        ('msgid ""\nmsgstr "Language: <b>\\n"\n', "language '<b>'"),
    ],
)
def test_a_catalogue_that_cannot_be_is_refused(tmp_path, text, said):
    path = tmp_path / "xx.po"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadCatalogue, match=re.escape(said)):
        read_catalogue(path)


def test_the_catalogue_has_every_text_of_templates_and_scripts_once():
    """Run `python tools/texts.py` where this fails: a text of a page was changed, and its entry was not."""
    sys.path.insert(0, str(ROOT / "tools"))
    try:
        tool = importlib.import_module("texts")
    finally:
        sys.path.pop(0)
    entries = [each for each in parse(POT.read_text("utf-8"), "pot") if each.english]
    assert len({each.english for each in entries}) == len(entries)
    here = {each.english for each in entries if any(p.startswith(("templates/", "static/")) for p in each.places)}
    said = {text for text, _ in (*tool.of_templates(), *tool.of_scripts()) if text}
    assert here == said


def test_scripts_are_handed_their_own_texts(abroad, pages):
    table = abroad.get("/static/table.js").text
    assert f'"{strange("Take back")}"' in table.encode().decode("unicode_escape")
    assert len(table) < 20_000
    assert "export const TABLE = {};" in pages.get("/static/table.js").text


#: In a script: a comment, or what the program alone reads; any other text.
TOKENS = re.compile(
    r"""(//[^\n]*|/\*.*?\*/|^import\s[^;]*;|new\ Error\(.*?\)
      |(?:querySelector(?:All)?|closest|matches)(?:\?\.)?\([^)]*\)) | ("(?:[^"\\\n]|\\.)*"|`(?:[^`\\]|\\.)*`)""",
    re.X | re.S | re.M,
)
#: What makes an element, or gives it words that are read: the text that stands right after it.
GIVES = re.compile(
    r"""(?:(?:textContent|innerText|title|placeholder|ariaLabel)\s*[:=]\s*(?:[\w.!=?" ]*\?\s*)?
      |\bmade\("\w+",\s*|\bkey\(|"(?:aria-label|title|placeholder|alt)",\s*|\b(?:append|prepend|before|after|replaceWith|alert|confirm)\()$""",
    re.X,
)
#: Names of keys, headers and errors, shaders, classes, and states as the bodies of the hull bear them.
NAMES = re.compile(
    r"Escape|Enter|Range|Arrow(Left|Right)|AbortError|Date|Content-Type|Kept-[A-Z].*|#version 300 es.*|#define.*|\(.*\)"
    r"|message said|buttons on-device|input:.*|moulded surface|not designed|lined off|on the jig",
    re.S,
)


def shown_in_script(code: str) -> list[str]:
    """Texts of a script that somebody would read, and that are handed to nothing that puts them in other words."""
    found = []
    code = re.sub(r'inWords\(\s*"(?:[^"\\]|\\.)*"', "inWords(0", code)
    for token in TOKENS.finditer(code):
        text = re.sub(r"\$\{[^}]*\}", " ", (token[2] or "")[1:-1])
        prose = re.search(r"[A-Za-z]{2,}[,.:]? [A-Za-z]{2,}|^\W*[A-Z][a-z]+", text) and not NAMES.fullmatch(text)
        given = GIVES.search(code[: token.start()]) and re.search(r"[A-Za-z]{3,}", text)
        if prose or given:
            found.append(text)
    return found


def test_every_script_text_goes_through_the_one_place():
    static = ROOT / "src/scrieve/web/static"
    loose = {path.name: shown_in_script(path.read_text("utf-8")) for path in sorted(static.glob("*.js"))}
    assert not {name: texts for name, texts in loose.items() if texts}


@pytest.mark.parametrize(
    "code",
    [
        'button.textContent = dark ? "paper" : "night";',
        'button.setAttribute("aria-label", `Show the pages as ${name}`);',
        'all.append(made("p", `Source: ${working.source}`, "note"));',
        'const b = made("button", "keypad", { type: "button" });',
        'said.append("nothing was stored");',
    ],
)
def test_a_text_of_a_script_that_bypasses_it_is_found(code):
    assert shown_in_script(code)


def test_the_catalogue_holds_what_is_read_and_no_codes():
    """Names of protocols, databases, layers of drawings and queries, of which each was in it once."""
    held = {entry.english for entry in parse(POT.read_text("utf-8"), "pot")}
    codes = {"no-store", "gzip", "sqlite", "busy", "MOULDED LINE", "BEGIN IMMEDIATE", "DejaVu Sans Mono", "-wal"}
    assert not held & codes
    assert not [text for text in held if "AcDb" in text or text.startswith("SELECT ")]
    assert {"Sided", "springback", "What waits on what"} <= held
