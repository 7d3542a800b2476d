"""Gather the English texts of the pages into one catalogue, src/scrieve/web/texts.pot; `--check` only says whether it
is up to date (exit code 1 where it is not).

Where they come from: the messages of the templates, the texts within their expressions, what scripts say through
`inWords`, and texts written in the modules of the pages (and of the tables that pages show).
"""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

from jinja2 import nodes

from scrieve.web.language.catalogue import AROUND, Entry, written
from scrieve.web.language.languages import shown_constants
from scrieve.web.language.template_texts import messages, translated
from scrieve.web.views import ENVIRONMENT

SOURCE = Path(__file__).parents[1] / "src" / "scrieve"
CATALOGUE = SOURCE / "web" / "texts.pot"
HEAD = """Content-Type: text/plain; charset=UTF-8
Content-Transfer-Encoding: 8bit
Language: en
"""
#: Modules whose texts are read on pages; of the core only what pages list.
MODULES = ("web/*.py", "web/*/*.py", "sheets/*.py", "*/*.py", "*/*/*.py")
#: Calls whose texts nobody reads.
# fmt: off
_UNREAD_CALLS = frozenset({
    "get", "getattr", "setattr", "compile", "match", "search", "sub", "fullmatch", "finditer", "split", "rsplit",
    "partition", "strip", "lstrip", "rstrip", "startswith", "endswith", "replace", "encode", "decode", "format",
    "strftime", "TypeVar", "NewType", "ContextVar", "getLogger", "warning", "exception", "choices", "keep_choice",
    "records", "add_record", "execute", "text", "removeprefix", "removesuffix", "add_middleware", "loads", "dumps",
    "info", "debug", "mount", "Column", "field", "pop", "Text", "Polyline", "Path", "Circle",
})
# fmt: on
#: Modules whose texts another program reads, or the one who started this one.
# fmt: off
_UNREAD_MODULES = ("cli/", "store/migrations/", "web/api/", "web/language/", "web/server/guard", "web/server/hosts",
                   "web/server/certificates", "web/server/serving")
# fmt: on
#: And those whose texts the commands alone tell, or paper, or nobody.
# fmt: off
_NOT_ON_PAGES = frozenset({
    "fairing/batten_checks.py", "jobs/cluster.py", "jobs/crew.py", "jobs/plain.py", "sheets/dxf.py", "sheets/pack.py",
    "sheets/svg.py", "sheets/typeset.py", "store/checking.py", "store/copies.py", "store/moving.py",
    "store/salvage.py", "store/schema.py", "web/server/fixed.py", "web/server/once.py", "web/server/remembered.py",
    "workplan/project.py", "workplan/project_file.py",
})
# fmt: on
#: What a database says is told apart by pieces no longer than this; what a page says of it is longer.
_LONGEST_OF_A_DATABASE = 30
#: Errors that are faults of the program: a page shows a number instead.
_FAULTS = ("AssertionError", "KeyError", "NotImplementedError", "RuntimeError", "TypeError", "ValueError")
#: Words of protocols, databases and drawings.
# fmt: off
_CODES = frozenset({
    "Bearer", "BEGIN IMMEDIATE", "REPEATABLE READ", "accent", "coarse", "faces", "faint", "http", "https", "ink",
    "keys", "lax", "level", "location", "maskable", "minimal-ui", "no-cache", "no-store", "points", "sqlite",
    "standalone", "static", "strict", "templates", "upright",
})
# fmt: on
_WORD = re.compile(r"[^\W\d_]{2,}")
_SAID = re.compile(r"""\binWords\(\s*("(?:[^"\\]|\\.)*")""")


def of_templates() -> Iterator[tuple[str, str]]:
    """Every text of the templates, with the template."""
    for path in sorted((SOURCE / "web" / "templates").glob("*.html")):
        source = path.read_text(encoding="utf-8")
        place = f"templates/{path.name}"
        yield from ((message, place) for message in messages(source) if '="' not in message)
        tree = ENVIRONMENT.parse(translated(source, lambda _: None))
        shown = {id(c) for each in tree.find_all(nodes.Filter) if each.name == "told" and each.node is not None
                 for c in shown_constants(each.node)}  # fmt: skip
        for const in _handed_on(tree, shown):
            if _WORD.search(const):
                yield const.strip(AROUND), place


def _handed_on(node: nodes.Node, shown: set[int], handed: bool = False) -> Iterator[str]:
    """Texts in expressions: those that are shown there, and what is handed to a macro or a list and looks like text."""
    for child in node.iter_child_nodes():
        if isinstance(child, nodes.Const):
            if isinstance(child.value, str) and (id(child) in shown or (handed and _prose(child.value))):
                yield child.value
        elif (
            isinstance(child, (nodes.Compare, nodes.Test))
            or getattr(child, "name", "") in ("urlencode", "xmlattr")
            or (isinstance(node, nodes.Pair) and child is node.key)
        ):
            continue
        elif isinstance(child, nodes.Concat) and handed:
            number = 0
            text = ""
            for part in child.nodes:
                number += not isinstance(part, nodes.Const)
                text += str(part.value) if isinstance(part, nodes.Const) else f"{{{number}}}"
            if _prose(re.sub(r"\{\d+\}", "", text)):
                yield text
            yield from _handed_on(nodes.List([each for each in child.nodes if not isinstance(each, nodes.Const)]),
                                  shown, handed)  # fmt: skip
        elif isinstance(child, nodes.Call) and _names_a_field(child):
            yield from _handed_on(
                nodes.List([child.node, *child.args[1:], *(each.value for each in child.kwargs)]), shown, True
            )
        elif isinstance(child, nodes.Getitem) or (isinstance(child, nodes.Filter) and child.node is not None):
            yield from _handed_on(nodes.List([child.node]), shown, handed)
        else:
            into = isinstance(child, (nodes.Call, nodes.Assign, nodes.List, nodes.Tuple, nodes.Pair, nodes.Macro))
            yield from _handed_on(child, shown, (handed or into) and not isinstance(child, nodes.Output))


def _names_a_field(call: nodes.Call) -> bool:
    """Whether what a call is given first is a name: of a field of a form, of a part of it, of a key."""
    of = call.node
    name = of.name if isinstance(of, nodes.Name) else of.attr if isinstance(of, nodes.Getattr) else ""
    return name in ("begin", "choice", "fault", "field", "get", "key", "marked", "tick", "wrong", "startswith")


def _prose(text: str) -> bool:
    """Whether a text looks as if it were written to be read."""
    if (
        not _WORD.search(text)
        or re.fullmatch("[A-Z -]{5,}", text)
        or re.search(r"[_\\]|^\W*[/#?&=.%]|^\w+/\w|^[\w-]+[=;:]\S|^data-", text.strip())
    ):
        return False
    return " " in text.strip() or bool(re.fullmatch(r"[A-Z]?[a-zé’'-]+", text.strip()))


def of_modules() -> Iterator[tuple[str, str]]:
    """Texts written in modules; one with values in it as `Frame {1} is {2}`."""
    read = set[str]()
    for pattern in MODULES:
        for path in sorted(SOURCE.glob(pattern)):
            place = path.relative_to(SOURCE).as_posix()
            if place in read or place in _NOT_ON_PAGES or place.startswith(_UNREAD_MODULES):
                continue
            read.add(place)
            for text in _written(ast.parse(path.read_text(encoding="utf-8")), top=True):
                if place != "store/connect.py" or len(text) > _LONGEST_OF_A_DATABASE:
                    yield text.strip(AROUND), place


def _written(node: ast.AST, top: bool = False, single: bool = False) -> Iterator[str]:
    if isinstance(node, ast.JoinedStr):
        number, text = 0, ""
        for part in node.values:
            if isinstance(part, ast.Constant):
                text += str(part.value)
            else:
                number += 1
                text += f"{{{number}}}"
                yield from _written(part)
        own = re.sub(r"\{\d+\}", "", text)
        if " " in text.strip() and len("".join(_WORD.findall(own))) > 4 and _prose(own) and "<" not in text:
            yield text
        return
    if isinstance(node, ast.Constant):
        said = node.value
        if (
            isinstance(said, str)
            and said not in _CODES
            and _prose(said)
            and (single or " " in said.strip() or said[:1].isupper())
        ):
            yield said
        return
    if isinstance(node, ast.AnnAssign):
        if node.value is not None and not isinstance(node.value, ast.Constant):
            yield from _written(node.value, single=single)
        return
    if isinstance(node, ast.Subscript):  # not its place: a key, or the names of a Literal
        if not isinstance(node.value, ast.Name):
            yield from _written(node.value, single=single)
        return
    if isinstance(node, ast.Compare):  # what is held against names is told where they are shown
        for child in ast.iter_child_nodes(node):
            if not isinstance(child, (ast.Constant, ast.Subscript, ast.Tuple, ast.List)):
                yield from _written(child, single=single)
        return
    if isinstance(node, ast.Call):
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name in _UNREAD_CALLS or (isinstance(node.func, ast.Attribute) and isinstance(node.func.value, ast.Name)
                                     and node.func.value.id in ("re", "pages", "logging", "log", "store")):  # fmt: skip
            return
        yield from _written(node.func)
        for value in (*node.args, *(each.value for each in node.keywords)):  # a word alone is read in a value's field
            yield from _written(value, single=name[:1].isupper())
        return
    if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and getattr(node.exc.func, "id", "") in _FAULTS:
        return
    if isinstance(node, (ast.Assert, ast.Set)) or _names(node):
        return
    if isinstance(node, (ast.For, ast.comprehension)):  # what is gone through by its words is not read by them
        for child in ast.iter_child_nodes(node):
            loose = child is node.iter and isinstance(child, (ast.Tuple, ast.List))
            for each in child.elts if loose else (child,):  # type: ignore[attr-defined]
                yield from _written(each, single=False)
        return
    if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "__all__":
        return
    if isinstance(node, ast.Dict):
        for key in node.keys:
            if isinstance(key, ast.Constant) and " " in str(key.value):
                yield from _written(key)
        for value in node.values:
            yield from _written(value, single=True)
        return
    if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)):
        for statement in node.body:
            if not (isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)):
                yield from _written(statement)
        return
    for child in ast.iter_child_nodes(node):
        if top and isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
            continue
        if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
            continue
        listed = isinstance(node, (ast.Assign, ast.Tuple, ast.List, ast.Return, ast.IfExp))
        yield from _written(child, single=single or listed)


def _names(node: ast.AST) -> bool:
    """Whether a node is a row of names such as ("height", "half"): what they are for is told elsewhere."""
    if not isinstance(node, (ast.Tuple, ast.List)) or len(node.elts) < 2:
        return False
    return all(isinstance(each, ast.Constant) and isinstance(each.value, str) and each.value.islower()
               and " " not in each.value for each in node.elts)  # fmt: skip


def of_tables() -> Iterator[tuple[str, str]]:
    """Names, cautions and remarks of the tables that the core reads."""
    for path in sorted(SOURCE.glob("*/*.toml")):
        for key, text in _values(tomllib.loads(path.read_text(encoding="utf-8"))):
            if (" " in text or key == "name") and _prose(text):
                yield text.strip(AROUND), path.relative_to(SOURCE).as_posix()


def _values(table: object, key: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(table, dict):
        for name, value in table.items():
            if name not in ("source", "sources", "aliases"):
                yield from _values(value, name)
    elif isinstance(table, list):
        for value in table:
            yield from _values(value, key)
    elif isinstance(table, str):
        yield key, table


def of_scripts() -> Iterator[tuple[str, str]]:
    """What scripts say."""
    for path in sorted((SOURCE / "web" / "static").glob("*.js")):
        for found in _SAID.findall(path.read_text(encoding="utf-8")):
            yield ast.literal_eval(found), f"static/{path.name}"


def gathered() -> list[Entry]:
    """Every text once, in order, with all places."""
    places: dict[str, dict[str, None]] = {}
    for text, place in (*of_templates(), *of_scripts(), *of_modules(), *of_tables()):
        places.setdefault(text, {})[place] = None
    return [Entry(text, "", tuple(found)) for text, found in places.items() if text]


def main() -> int:
    """Write the catalogue, or check it."""
    text = written(gathered(), HEAD)
    if "--check" not in sys.argv:
        CATALOGUE.write_text(text, encoding="utf-8")
        return 0
    if CATALOGUE.exists() and CATALOGUE.read_text(encoding="utf-8") == text:
        return 0
    sys.stderr.write(f"{CATALOGUE.name} is not what the pages say; run: python tools/texts.py\n")
    return 1


if __name__ == "__main__":
    sys.exit(main())
