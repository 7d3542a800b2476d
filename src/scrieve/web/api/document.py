"""The API told as an OpenAPI document, made from the routes themselves."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from fastapi import APIRouter
from fastapi.openapi.utils import get_openapi
from starlette.responses import Response

from scrieve import __version__
from scrieve.web.api import acts as api_acts
from scrieve.web.api import designs as api
from scrieve.web.api import jobs as api_jobs
from scrieve.web.api import read as api_read
from scrieve.web.api import readings as api_readings
from scrieve.web.api import work as api_work
from scrieve.web.api import write as api_write
from scrieve.web.api import yard as api_yard

pages = APIRouter(prefix="/api")

_KEY = {
    "name": "Idempotency-Key",
    "in": "header",
    "required": False,
    "description": "The same key again stores nothing, and is answered as the first time.",
    "schema": {"type": "string", "maxLength": 200},
    "example": "tablet-3-000117",
}
_ABOUT = (
    "One boat. Lengths are mm, angles rad, curvatures 1/mm; a number that is none is null. What is refused is answered "
    "with `error`, what was found, and `do`, what to do. docs/api.md has examples."
)


@cache
def document() -> dict[str, Any]:
    """Return the document, as plain values."""
    parts = (api, api_read, api_write, api_work, api_jobs, api_acts, api_yard, api_readings)
    routes = [route for part in parts for route in part.pages.routes]
    found = get_openapi(title="Scrieve", version=__version__, description=_ABOUT, routes=routes)
    found.setdefault("components", {})["securitySchemes"] = {
        "bearer": {"type": "http", "scheme": "bearer", "description": "Of `scrieve people BOAT token NAME`; none is "
                   "asked for at the machine itself."}
    }  # fmt: skip
    found["security"] = [{"bearer": []}, {}]
    for path in found["paths"].values():
        if "post" in path:
            path["post"].setdefault("parameters", []).append(_KEY)
    return found


@pages.get("/openapi.json")
def openapi() -> Response:
    """The document."""
    return Response(json.dumps(document(), ensure_ascii=False), media_type="application/json",
                    headers={"Cache-Control": "no-cache"})  # fmt: skip
