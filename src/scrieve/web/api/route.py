"""How JSON is taken and answered: sent from these pages or by a script, of bounded size, refused as {error, do}."""

from __future__ import annotations

import json
from collections.abc import Callable, Coroutine, Iterator, Mapping
from contextlib import contextmanager
from typing import Annotated, Any

from fastapi import APIRouter, Request
from fastapi.exceptions import RequestValidationError
from fastapi.routing import APIRoute
from pydantic import BaseModel, ConfigDict, Field
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response
from starlette.types import Message

from scrieve.errors import ScrieveError
from scrieve.web.server.hosts import same_origin

MOST_BYTES = 5_000_000
#: More than this of lists and mappings within one another is no boat's [levels].
_DEEPEST = 30

Millimetres = Annotated[float, Field(ge=-100_000, le=100_000)]
Label = Annotated[str, Field(min_length=1, max_length=80)]
Words = Annotated[str, Field(max_length=4000)]
Number = Annotated[int, Field(ge=1, lt=10**9)]
Act = Annotated[int | None, Field(ge=0, lt=10**9, description="The last act that the sender has seen.")]


class Body(BaseModel):
    """What is sent: no field but those named, no number that is none."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, str_strip_whitespace=True)


class Refusal(BaseModel):
    """Why nothing was answered or stored, and what to do."""

    error: str = Field(title="What was found", examples=["frame '99' has no marks; give the station where it stands."])
    do: str = Field(title="What to do", examples=["Put it right and send it again; nothing was changed."])


def _refusal(description: str) -> dict[str, Any]:
    return {"model": Refusal, "description": description}


REFUSALS: dict[int | str, dict[str, Any]] = {
    400: _refusal("The JSON cannot be read."),
    401: _refusal("No token, or one that has ended."),
    403: _refusal("The role does not hold it, or it was sent from elsewhere."),
    404: _refusal("Not in this boat."),
    409: _refusal("Somebody changed the same thing since `seen`."),
    413: _refusal("More than 5 MB."),
    415: _refusal("Not sent as application/json."),
    421: _refusal("Asked for under a foreign name."),
    422: _refusal("A value cannot be used; the text says which."),
    503: _refusal("The hull is being faired, or the store cannot be had; ask again in a moment."),
    507: _refusal("The disk is full: nothing was stored. Once there is room, send it again under its key."),
}


class JsonRoute(APIRoute):
    """A route that reads JSON with care and tells what was wrong with it."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Return the handler, its request read and checked first."""
        handler = super().get_route_handler()

        async def handle(request: Request) -> Response:
            if request.method not in ("GET", "HEAD"):
                request = await _read(request)
            try:
                return await handler(request)
            except RequestValidationError as error:
                return refused(_faults(error))

        return handle


def refused(text: str, status: int = 422, do: str = "") -> JSONResponse:
    """Return a refusal."""
    way = do or "Put it right and send it again; nothing was changed. docs/api.md tells what is taken."
    return JSONResponse({"error": text, "do": way}, status, headers={"Cache-Control": "no-store"})


async def _read(request: Request) -> Request:
    headers = request.headers
    from_page = headers.get("origin"), headers.get("sec-fetch-site")
    script = headers.get("authorization", "").startswith("Bearer ") or from_page == (None, None)
    if not script:  # a browser tells with each POST where it comes from, and no page can send a script's header
        here = headers.get("host", ""), request.url.scheme
        if not same_origin(*here, *from_page):
            raise HTTPException(403, "This was not sent from these pages; nothing was stored.")
    if headers.get("content-type", "").split(";")[0].strip().lower() != "application/json":
        raise HTTPException(415, "Send this as application/json; nothing was stored.")
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > MOST_BYTES:
            raise HTTPException(413, "More than 5 MB were sent; nothing was stored.")
    try:
        _shallow(json.loads(bytes(body) or b"null"))
    except (ValueError, RecursionError) as error:
        raise HTTPException(400, "The JSON cannot be read; nothing was stored.") from error

    async def receive() -> Message:
        return {"type": "http.request", "body": bytes(body), "more_body": False}

    return Request(request.scope, receive)


def _shallow(value: Any, depth: int = 0) -> None:
    """Raise ValueError for what is nested too deeply."""
    if depth > _DEEPEST:
        raise ValueError("nested too deeply")
    if isinstance(value, (dict, list)):
        for each in value.values() if isinstance(value, dict) else value:
            _shallow(each, depth + 1)


def _faults(error: RequestValidationError) -> str:
    found = []
    for fault in list(error.errors())[:5]:
        where = ".".join(str(part) for part in fault["loc"][1:]) or str(fault["loc"][0])
        found.append(f"{where[:120]}: {fault['msg']}")
    return "; ".join(found).encode("utf-8", "replace").decode() + "."


@contextmanager
def readable(what: str) -> Iterator[None]:
    """Turn what plain values of a wrong kind do to their reader into a refusal.

    Raises
    ------
    ScrieveError
        As the block raised it, or that `what` cannot be read.
    """
    try:
        yield
    except (ScrieveError, HTTPException):
        raise
    except (TypeError, ValueError, LookupError, AttributeError, OverflowError) as error:
        raise ScrieveError(f"{what} cannot be read: {str(error)[:200]}.") from error


def router(tag: str) -> APIRouter:
    """Return a router of the API."""
    return APIRouter(prefix="/api", route_class=JsonRoute, responses=REFUSALS, tags=[tag])


def told(example: Mapping[str, Any], description: str = "Done.") -> dict[int | str, dict[str, Any]]:
    """Return the `responses` of a route that answers like the example."""
    return {200: {"description": description, "content": {"application/json": {"example": dict(example)}}}}
