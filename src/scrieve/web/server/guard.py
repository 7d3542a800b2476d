"""What stands before every page: known hosts only, HEAD answered, strict headers on every answer, faults numbered."""

from __future__ import annotations

import logging
import secrets
from collections.abc import Callable

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from scrieve.web.server.hosts import KnownHosts

log = logging.getLogger("scrieve.web")

#: Nothing from elsewhere, nothing inline, no frame round these pages.
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
        "manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",  # 'no-referrer' would take the Origin off our own forms
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}

Failed = Callable[[Request, str], Response]
Refused = Callable[[Request, str], Response]


class Guard:
    """ASGI middleware; `refused` and `failed` make the pages for a foreign host and for an unforeseen fault."""

    def __init__(self, app: ASGIApp, *, hosts: KnownHosts, refused: Refused, failed: Failed) -> None:
        self.app, self.hosts, self.refused, self.failed = app, hosts, refused, failed

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        head = scope["method"] == "HEAD"
        if head:
            scope = {**scope, "method": "GET"}
        started = False

        async def guarded(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            elif head and message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send(message)

        host = Headers(scope=scope).get("host", "")
        request = Request(scope)
        try:
            if self.hosts.accept(host):
                await self.app(scope, receive, guarded)
            else:
                await self.refused(request, host)(scope, receive, guarded)
        except Exception:
            number = secrets.token_hex(3).upper()
            log.exception("fault %s at %s %s", number, scope["method"], scope["path"])
            if started:
                raise
            await self.failed(request, number)(scope, receive, guarded)
