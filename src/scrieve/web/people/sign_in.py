"""Signing in, where pages are open to a network: who sits behind a request, whether he may, and how often one may try.

At one's own machine (pages bound to it alone) nobody signs in. The cookie holds a random token and its signature under
the store's own key; the store keeps only the token's digest. A script sends the token as `Authorization: Bearer`.
"""

from __future__ import annotations

import hashlib
import hmac
import time
from collections import OrderedDict
from collections.abc import Callable
from threading import Lock
from typing import Any
from urllib.parse import quote

from sqlalchemy import Engine
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import Request, cookie_parser
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from scrieve.store.people import LONGEST, Person, people, signing_key, sitting
from scrieve.web.people.rules import rule
from scrieve.web.people.who import AT_HOME, NOBODY, Asker, asking

COOKIE = "scrieve"
#: Tries of one name, or from one address, before one has to wait; then twice as long each time, up to this [s].
FREE_TRIES = 5
LONGEST_WAIT_S = 900.0
_MOST_KEPT = 10_000


def signed(token: str, key: bytes) -> str:
    """Return a token with its signature."""
    return f"{token}.{hmac.new(key, token.encode(), hashlib.sha256).hexdigest()}"


def token_of(given: str, key: bytes) -> str:
    """Return the token of a signed one; '' where the signature is not ours.

    Examples
    --------
    >>> token_of(signed("abc", b"k"), b"k"), token_of(signed("abc", b"other"), b"k"), token_of("abc", b"k")
    ('abc', '', '')
    """
    token, _, signature = given.rpartition(".")
    right = hmac.new(key, token.encode(), hashlib.sha256).hexdigest()
    return token if hmac.compare_digest(signature.encode(), right.encode()) else ""


class Tries:
    """How often a name was tried, and from where; after five failures each further one costs twice the wait."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._lock = clock, Lock()
        self._failed: OrderedDict[str, tuple[int, float]] = OrderedDict()

    def wait_s(self, *keys: str) -> float:
        """Return how long must be waited before the next try; 0 where none must."""
        with self._lock:
            return max(0.0, *(self._failed.get(key, (0, 0.0))[1] - self._clock() for key in keys))

    def failed(self, *keys: str) -> None:
        """Count a failure."""
        with self._lock:
            for key in keys:
                count = self._failed.pop(key, (0, 0.0))[0] + 1
                wait = min(2.0 ** (count - FREE_TRIES), LONGEST_WAIT_S) if count >= FREE_TRIES else 0.0
                self._failed[key] = (count, self._clock() + wait)
            while len(self._failed) > _MOST_KEPT:
                self._failed.popitem(last=False)

    def succeeded(self, *keys: str) -> None:
        """Forget the failures."""
        with self._lock:
            for key in keys:
                self._failed.pop(key, None)


class SignIn:
    """ASGI middleware: finds who asks, and refuses what his role does not hold.

    Parameters
    ----------
    engine : Engine
        The store whose people they are.
    at_home : bool
        The pages are bound to this machine alone: everybody is whoever sits at it.
    refused : callable
        Makes the page for one who may not.
    """

    def __init__(
        self, app: ASGIApp, *, engine: Engine, at_home: bool, refused: Callable[[Request, str], Response]
    ) -> None:
        self.app, self.engine, self.at_home, self.refused = app, engine, at_home, refused
        self._key: bytes | None = None

    @property
    def key(self) -> bytes:
        """The store's signing key."""
        if self._key is None:
            self._key = signing_key(self.engine)
        return self._key

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        if self.at_home:
            asking(Asker(AT_HOME))
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        least = rule(scope["method"], scope["path"])
        person, token = await run_in_threadpool(self._sitting, Headers(scope=scope))
        if least is not None and (person is None or not person.may(least)):
            await self._refuse(request, person, least)(scope, receive, send)
            return
        asking(Asker(person or NOBODY, token))
        await self.app(scope, receive, send)

    def _sitting(self, headers: Headers) -> tuple[Person | None, str]:
        bearer = headers.get("authorization", "")
        if bearer.startswith("Bearer "):
            token = bearer.removeprefix("Bearer ").strip()
        else:
            token = token_of(cookie_parser(headers.get("cookie", "")).get(COOKIE, ""), self.key)
        found = sitting(self.engine, token) if token else None
        return found, token if found else ""

    def _refuse(self, request: Request, person: Person | None, least: str) -> Response:
        api = request.url.path.startswith("/api/")
        if person is None:
            if api or request.method not in ("GET", "HEAD"):
                told = {"error": "Nobody is signed in.", "do": "Sign in, or send a token."}
                return (
                    JSONResponse(told, 401, headers={"WWW-Authenticate": "Bearer", "Cache-Control": "no-store"})
                    if api
                    else RedirectResponse("/sign-in", 303)
                )
            back = quote(request.url.path + (f"?{request.url.query}" if request.url.query else ""), safe="")
            return RedirectResponse(f"/sign-in?back={back}", 303, headers={"Cache-Control": "no-store"})
        text = f"{person.name} may {_MAY[person.role]}; this asks for: {least}."
        if api:
            return JSONResponse({"error": text, "do": "Ask the keeper of the yard."}, 403)
        return self.refused(request, text)


_MAY = {
    "look": "look at everything",
    "bench": "enter what was measured and done",
    "lead hand": "settle shapes, designs and plans",
    "keeper": "do everything",
}


def set_cookie(answer: Response, request: Request, token: str, key: bytes) -> None:
    """Put the signed token into the answer."""
    how: dict[str, Any] = {"httponly": True, "samesite": "lax", "secure": request.url.scheme == "https", "path": "/"}
    answer.set_cookie(COOKIE, signed(token, key), max_age=int(LONGEST.total_seconds()), **how)


def has_people(engine: Engine) -> bool:
    """Whether anybody may sign in."""
    return any(person.active for person in people(engine))
