"""Two people changed the same thing: the second is shown both, and says which stands. Used by every form that asks.

A form is sent with the act that its page has seen. Where somebody has changed the same thing since, nothing is stored
and `conflict_page` shows what it was, what it is now and what was sent; its buttons send the form again with what has
now been seen, and with how it is to be settled.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from scrieve.frames.written import SETTINGS
from scrieve.store.conflict import Conflict, merged
from scrieve.units import Units, format_length
from scrieve.web.views import View

_FORMS = ("key", "seen", "first", "settle")


@dataclass(frozen=True, slots=True)
class Seen:
    """What the sender of a form has seen: the last act of his page, and that of the page which he first filled in."""

    act: int | None = None
    first: int | None = None
    both: bool = False

    @classmethod
    def of(cls, fields: Mapping[str, str]) -> Seen:
        """Read it from a form; a form without it writes over whatever is there."""
        act, first = (_number(fields.get(name, "")) for name in ("seen", "first"))
        return cls(act, act if first is None else first, fields.get("settle") == "both")

    def settled(self, before: Any, now: Any, sent: Any) -> Any:
        """Return what is to be stored: what was sent, or where it is to be so, both changes together."""
        return merged(before, now, sent) if self.both else sent


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


def conflict_page(request: Request, error: Conflict) -> Response:
    """Return what was seen, what is there now and what was sent, and the ways to settle it (409)."""
    if request.url.path.startswith("/api/"):
        found = {"seen": error.seen, "now": error.now, "sent": error.sent, "by": error.who, "at": error.at}
        way = "Look at both, and send it again with the act that you have now seen."
        return JSONResponse(
            {"error": str(error), "do": way, "act": error.act, **found}, 409, headers={"Cache-Control": "no-store"}
        )
    view = View(request)
    fields = dict(getattr(request.state, "sent", {}))
    units = view.boat.units
    rows = [
        (name_of(each.path), *(written(each.path, value, units) for value in (each.seen, each.now, each.sent)),
         each.seen != each.now, each.seen != each.sent)
        for each in error.differences
    ]  # fmt: skip
    response = view.page(
        "conflict.html",
        409,
        error=error,
        rows=rows,
        fields={name: value for name, value in fields.items() if name not in _FORMS},
        first=fields.get("first") or fields.get("seen", ""),
        action=request.url.path,
        back=request.headers.get("referer") or "/",
    )
    response.headers["cache-control"] = "no-store"
    del response.headers["etag"]
    return response


def name_of(path: tuple[str, ...]) -> str:
    """Return a value's name in words.

    Examples
    --------
    >>> name_of(("choice", "sided_mm")), name_of(("half_beam_mm",))
    ('sided', 'half beam')
    """
    key = next((part for part in reversed(path) if not part.isdigit()), "it")
    if key in SETTINGS:
        return SETTINGS[key].name
    for ending in ("_mm", "_rad", "_n", "_c", "_kg", "_s"):
        key = key.removesuffix(ending)
    return key.replace("_", " ")


def written(path: tuple[str, ...], value: Any, units: Units) -> str:
    """Return a value as it is shown, lengths in the builder's units."""
    key = path[-1] if path else ""
    if value is None or value == "":
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        if key.endswith("_mm") and math.isfinite(value):
            return format_length(float(value), units, 1) + (" mm" if units == "mm" else "")
        return f"{math.degrees(value):.2f}°" if key.endswith("_rad") else f"{value:g}"
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
