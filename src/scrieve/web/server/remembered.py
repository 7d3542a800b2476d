"""Pages as they were answered before: the same address, of the same state of the boat, to the same person.

What a page shows is named by its ETag (`View.etag`): the state of the boat, the hull, the address and who asks. A page
that may answer 'not changed' to one who has it may as well be given again, as it was, to one who has not. Only such are
kept: a page that goes with the clock, or waits for something, carries no ETag or never asks for the earlier answer.
"""

from __future__ import annotations

import gzip
from collections import OrderedDict
from threading import Lock

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: Most of it that is kept, as it goes over the wire [bytes].
MOST_BYTES = 24_000_000


class Remembered:
    """ASGI middleware, outside of what packs the answers, so that they are kept as they are sent."""

    def __init__(self, app: ASGIApp, most_bytes: int = MOST_BYTES) -> None:
        self.app, self.most = app, most_bytes
        self._kept: OrderedDict[str, tuple[str, bool, bytes]] = OrderedDict()
        self._size, self._lock = 0, Lock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http" or scope["method"] != "GET":
            await self.app(scope, receive, send)
            return
        state = scope.setdefault("state", {})
        state["remembered"] = self
        start: Message = {}

        async def noted(message: Message) -> None:
            nonlocal start
            if message["type"] == "http.response.start":
                start = message
            elif message["type"] == "http.response.body" and not message.get("more_body") and start["status"] == 200:
                headers, etag = Headers(raw=start["headers"]), state.get("asked_for", "")
                if etag and headers.get("etag") == etag and "set-cookie" not in headers:
                    packed = headers.get("content-encoding") == "gzip"
                    self._put(etag, (headers.get("content-type", ""), packed, message.get("body", b"")))
            await send(message)

        await self.app(scope, receive, noted)

    def again(self, etag: str, asked: Headers) -> Response | None:
        """Return the answer named by `etag`, if it is still there and whoever asks does not want it made anew."""
        with self._lock:
            if etag in self._kept:
                self._kept.move_to_end(etag)
            found = self._kept.get(etag)
        if found is None or "no-cache" in asked.get("cache-control", ""):
            return None
        kind, packed, body = found
        headers = {"ETag": etag, "Cache-Control": "no-cache", "Content-Type": kind, "Vary": "Accept-Encoding"}
        if packed and "gzip" in asked.get("accept-encoding", ""):
            headers["Content-Encoding"] = "gzip"
        elif packed:
            body = gzip.decompress(body)
        return Response(body, headers=headers)

    def _put(self, etag: str, answer: tuple[str, bool, bytes]) -> None:
        with self._lock:
            had = self._kept.pop(etag, None)
            self._size += len(answer[2]) - (len(had[2]) if had else 0)
            self._kept[etag] = answer
            while self._size > self.most:
                self._size -= len(self._kept.popitem(last=False)[1][2])


def remembered(request: Request, etag: str) -> Response | None:
    """Return what was answered under `etag` before; None, and the answer that follows is kept, where there is none."""
    keeper: Remembered | None = getattr(request.state, "remembered", None)
    if keeper is None or "x-typing" in request.headers:  # asked while it is typed: never the same twice
        return None
    request.state.asked_for = etag
    return keeper.again(etag, request.headers)
