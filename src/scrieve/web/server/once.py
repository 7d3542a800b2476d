"""What is sent twice is stored once, and answered the second time as it was the first.

A form carries a `key`, which `keyed` puts into every form of a page; another program sends it as the header
Idempotency-Key. Whatever is stored while such a request is answered belongs to one delivery of the store, which knows
it again also after this program was started anew.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping, Sequence

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from scrieve import store
from scrieve.athand import AtHand
from scrieve.errors import DiskFull, StoreAway
from scrieve.store.delivery import Delivery

_FORM = re.compile(r'(<form\b[^>]*\bmethod="post"[^>]*>)(.*?)(?=</form>)', re.DOTALL)
_ANSWERS = 500
#: No more acts than this are offered to be taken back at once.
_MOST_OFFERED = 30


class AnsweredBefore(Exception):
    """A form that was stored already: its sender is led to where he was led the first time."""

    def __init__(self, location: str, status: int) -> None:
        super().__init__(location)
        self.location, self.status = location, status


class Once:
    """ASGI middleware: whatever a request stores is one delivery."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self.answers: AtHand[tuple[str, int]] = AtHand(_ANSWERS)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http" or scope["method"] in ("GET", "HEAD"):
            await self.app(scope, receive, send)
            return
        header = Headers(scope=scope).get("idempotency-key", "").strip()[:200]
        key = _digest("header", scope["path"], header) if header else ""

        head = Headers(scope=scope)
        by_hand = head.get("sec-fetch-mode", "navigate") == "navigate" or "kept-at-once" in head

        async def noted(message: Message) -> None:
            if message["type"] == "http.response.start" and message["status"] == 422 and delivery.away:
                message["status"] = away_status(delivery.away)  # what was typed is right: the page shows it again
            if message["type"] == "http.response.start" and message["status"] == 303 and not header:
                location = Headers(raw=message["headers"]).get("location")
                if location and delivery.key and delivery.stored:
                    self.answers.put(delivery.key, (location, message["status"]))
                if by_hand and 0 < len(delivery.acts) <= _MOST_OFFERED:
                    message["headers"] = [*message["headers"], (b"set-cookie", _offer(scope["path"], delivery.acts))]
            await send(message)

        with store.delivered(key, strict=bool(header), called=header) as delivery:
            scope.setdefault("state", {}).update(delivery=delivery, answers=self.answers)
            await self.app(scope, receive, noted)


def claim(request: Request, fields: Mapping[str, str], file: bytes = b"") -> None:
    """Take note of a form's key; what it holds is part of it, so that an older page changed and sent again counts anew.

    Raises
    ------
    AnsweredBefore
        The same was stored already.
    """
    request.state.sent, request.state.sent_file = dict(fields), file
    delivery: Delivery | None = getattr(request.state, "delivery", None)
    if delivery is None or delivery.key or not fields.get("key"):
        return
    delivery.key = _digest(request.url.path, *(part for pair in sorted(fields.items()) for part in pair), file)
    answers: AtHand[tuple[str, int]] = request.state.answers
    if found := answers.peek(delivery.key):
        raise AnsweredBefore(*found)


def away_status(error: StoreAway) -> int:
    """How an answer tells that the store could not be had: 507 without room for it, 503 else."""
    return 507 if isinstance(error, DiskFull) else 503


def told_before(_request: Request, error: Exception) -> RedirectResponse:
    """Answer a form that was stored already."""
    assert isinstance(error, AnsweredBefore)
    return RedirectResponse(error.location, error.status)


def keyed(page: str, key: Callable[..., str], seen: int) -> str:
    """Put a key, and the last act that the page knows of, into every form of a page that stores something.

    Examples
    --------
    >>> keyed('<form method="post"><button>Go</button></form>', lambda *what: "k", 7)[:60]
    '<form method="post"><input type="hidden" name="seen" value="'
    """

    def fill(found: re.Match[str]) -> str:
        head, body = found[1], found[2]
        more = "" if 'name="seen"' in body else f'<input type="hidden" name="seen" value="{seen}">'
        if 'name="key"' not in body:
            more += f'<input type="hidden" name="key" value="{key("form", head, body)}">'
        return head + more + body

    return _FORM.sub(fill, page)


def _offer(path: str, acts: Sequence[int]) -> bytes:
    """The acts just made, for the page that the sender is led to: it offers to take them back (undo.js)."""
    numbers = ".".join(str(number) for number in acts) + ("u" if path == "/undo" else "")
    return f"stored={numbers}; Max-Age=60; Path=/; SameSite=Lax".encode()


def _digest(*parts: str | bytes) -> str:
    found = hashlib.sha256()
    for part in parts:
        plain = part if isinstance(part, bytes) else part.encode("utf-8", "surrogatepass")
        found.update(len(plain).to_bytes(8, "big") + plain)
    return found.hexdigest()[:40]
