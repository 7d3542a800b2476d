"""What a device's outbox sends: told plainly what became of it, and stored only as the one who typed it, in its boat.

The outbox of a page (static/outbox.js) sends each entry with the boat and the person that it was typed for. Of an entry
that was stored it is told where to go on, instead of being led there; so it never takes one page for another.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from urllib.parse import parse_qs, unquote, urlsplit

from fastapi import APIRouter
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from scrieve.web.people.who import asker

pages = APIRouter()


@pages.get("/here")
async def here() -> Response:
    """A sign of life, for pages that wait for the server."""
    return Response("here", media_type="text/plain", headers={"Cache-Control": "no-store"})


def typed_at(request: Request) -> datetime:
    """When what a request sends was typed: now, less the time that it waited on the device (by its own watch)."""
    age = request.headers.get("kept-age", "")
    waited = int(age) if age.isascii() and age.isdigit() and len(age) < 8 else 0
    return datetime.now(UTC) - timedelta(seconds=waited)


class FromOutbox:
    """ASGI middleware: a form sent by an outbox is answered to it; `boat_name` tells which boat is served."""

    def __init__(self, app: ASGIApp, *, boat_name: Callable[[], str]) -> None:
        self.app, self.boat_name = app, boat_name

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        headers = Headers(scope=scope) if scope["type"] == "http" else Headers()
        if "kept-on-device" not in headers or scope["method"] != "POST":
            await self.app(scope, receive, send)
            return
        boat, by = (unquote(headers.get(name, ""))[:200] for name in ("kept-on-device", "kept-by"))
        person = asker().person.name if asker().token else ""
        if by and person != by:
            text = f"{by} typed it: {by} signs in, and it is sent."
            await JSONResponse({"error": text}, 401)(scope, receive, send)
            return
        served = await run_in_threadpool(self.boat_name)
        if boat and boat != served:
            text = f"It was typed for the boat {boat}; these are the pages of {served}."
            await JSONResponse({"error": text}, 409)(scope, receive, send)
            return
        await self.app(scope, receive, _telling(scope, receive, send))


def _telling(scope: Scope, receive: Receive, send: Send) -> Send:
    """Tell where an entry that was stored leads, instead of leading there."""
    led = False

    async def tell(message: Message) -> None:
        nonlocal led
        if message["type"] == "http.response.start" and message["status"] == 303:
            led = True
            to = Headers(raw=message["headers"]).get("location", "/")
            if "changed" in parse_qs(urlsplit(to).query):
                text = "The setting has changed since that page was opened; nothing was ticked."
                await JSONResponse({"error": text}, 409)(scope, receive, send)
                return
            message = {**message, "status": 204, "headers": list(message["headers"])}
            told = MutableHeaders(scope=message)
            for name in ("location", "content-length"):
                del told[name]
            told["Kept-Location"] = to
            await send(message)
            await send({"type": "http.response.body", "body": b""})
        elif not led:
            await send(message)

    return tell
