"""The pages in another language: templates compiled in its words, values looked up as they are shown.

English is what the templates and modules hold; nothing here runs for it.
"""

from __future__ import annotations

import json
import re
from collections.abc import MutableMapping
from contextvars import ContextVar
from functools import lru_cache
from typing import Any

from jinja2 import Environment, Template, nodes
from markupsafe import Markup
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from scrieve.web.language.catalogue import Catalogue, shown
from scrieve.web.language.template_texts import translated

#: What the pages are written in.
ENGLISH = Catalogue("en", {})
#: The language of the request that is being answered; None is English.
spoken: ContextVar[Catalogue | None] = ContextVar("spoken", default=None)


#: The words for scripts, under the address of any version (scrieve.web.server.fixed).
_TABLE = re.compile(r"/static/([0-9a-f]{16}/)?table\.js")


class Templates(Environment):
    """Templates as they are written; while a request is answered in another language, those of that language."""

    def get_template(
        self, name: str | Template, parent: str | None = None, globals: MutableMapping[str, Any] | None = None
    ) -> Template:
        """Return a template in the language spoken."""
        if book := spoken.get():
            return environment(self, book).get_template(name, parent, globals)
        return super().get_template(name, parent, globals)


class _InOtherWords(Environment):
    """Templates in the language of a catalogue."""

    def __init__(self, catalogue: Catalogue, **how: Any) -> None:
        super().__init__(**how)
        self.catalogue = catalogue
        self.filters["told"] = lambda value: told(value, catalogue)

    def preprocess(self, source: str, name: str | None = None, filename: str | None = None) -> str:
        """Put a template's messages in other words before it is compiled."""
        return translated(super().preprocess(source, name, filename), self.catalogue.texts.get)

    def _generate(self, source: nodes.Template, *args: Any, **how: Any) -> Any:
        for each in source.find_all(nodes.Filter):
            if each.name == "told" and each.node is not None:
                for const in shown_constants(each.node):
                    const.value = shown(self.catalogue, const.value)
        return super()._generate(source, *args, **how)


def told(value: Any, catalogue: Catalogue) -> Any:
    """Return what is shown for a value: a plain text that the catalogue has is put in other words.

    Markup is left alone: it has been made of texts that went through here themselves.

    Examples
    --------
    >>> book = Catalogue("xx", {"cut": "<b>"})
    >>> told("cut", book), told(Markup("cut"), book), told(3, book)
    ('<b>', Markup('cut'), 3)
    """
    if isinstance(value, str) and not isinstance(value, Markup):
        return shown(catalogue, value)
    return value


def shown_constants(node: nodes.Expr) -> list[nodes.Const]:
    """Return the texts written in an expression that come to be shown: branches, joined parts, what a table has."""
    if isinstance(node, nodes.Const):
        return [node] if isinstance(node.value, str) else []
    if isinstance(node, nodes.CondExpr):
        return [c for each in (node.expr1, node.expr2) if each is not None for c in shown_constants(each)]
    if isinstance(node, nodes.Concat):
        return [c for each in node.nodes for c in shown_constants(each)]
    if isinstance(node, (nodes.Add, nodes.Or, nodes.And)):
        return shown_constants(node.left) + shown_constants(node.right)
    if isinstance(node, nodes.Getitem) and isinstance(node.node, nodes.Dict):
        return [c for pair in node.node.items for c in shown_constants(pair.value)]
    if isinstance(node, nodes.Call) and isinstance(node.node, nodes.Getattr) and isinstance(node.node.node, nodes.Dict):
        # {'a': 'text'}.get(key, 'text')
        return [c for pair in node.node.node.items for c in shown_constants(pair.value)]
    return []


@lru_cache(maxsize=8)
def environment(english: Environment, catalogue: Catalogue) -> Environment:
    """Return the templates of `english` in the language of a catalogue."""
    found = _InOtherWords(
        catalogue,
        loader=english.loader,
        autoescape=english.autoescape,
        undefined=english.undefined,
        trim_blocks=english.trim_blocks,
        lstrip_blocks=english.lstrip_blocks,
    )
    found.globals |= english.globals | {"language": catalogue}
    found.filters = english.filters | found.filters
    return found


class InLanguage:
    """ASGI middleware: what is answered is answered in a language. Its words for scripts take the place of none."""

    def __init__(self, app: ASGIApp, catalogue: Catalogue) -> None:
        self.app, self.catalogue = app, catalogue

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        token = spoken.set(self.catalogue)
        try:
            if scope["type"] == "http" and _TABLE.fullmatch(scope["path"]):
                await _table(self.catalogue)(scope, receive, send)
            else:
                await self.app(scope, receive, send)
        finally:
            spoken.reset(token)


def _table(catalogue: Catalogue) -> Response:
    said = {english: words for english, words in catalogue.texts.items() if english in catalogue.scripts}
    text = json.dumps(said, ensure_ascii=True, separators=(",", ":"))
    head = {"Cache-Control": "no-cache"}
    return Response(f"export const TABLE = {text};\n", media_type="text/javascript", headers=head)
