"""Two people changed the same thing: the second is shown both, and says which stands. Used by every form that asks.

A form is sent with the act that its page has seen. Where somebody has changed the same thing since, nothing is stored
and `conflict_page` shows what it was, what it is now and what was sent; its buttons send the form again with what has
now been seen, and with how it is to be settled.
"""

from __future__ import annotations

import base64
import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Engine
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from scrieve import store
from scrieve.frames.written import SETTINGS
from scrieve.logbook import SETTLED
from scrieve.store.conflict import Conflict, merged
from scrieve.store.delivery import plain_json
from scrieve.store.keeping import Part
from scrieve.units import Units, format_length
from scrieve.web.forms import CARRIED
from scrieve.web.people.who import who
from scrieve.web.views import View

_FORMS = ("key", "seen", "first", "settle")
#: What only holds other values: not part of their names.
_HOLDERS = ("choice",)
_LONGEST = 70


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


def as_seen(engine: Engine, part: Part, name: str, sent: Mapping[str, str]) -> dict[str, Any] | None:
    """Return a choice as the sender of a form saw it when he first opened it; None where there was none."""
    return store.choice_at(engine, part, name, Seen.of(sent).first)


def keep_settled(
    engine: Engine,
    part: Part,
    name: str,
    made: Mapping[str, Any],
    sent: Mapping[str, str],
    *,
    alone: bool = True,
    usual: Mapping[str, Any] | None = None,
    fit: Callable[[dict[str, Any]], object] = dict,
) -> int:
    """Keep what was made of a form unless somebody has changed the same meanwhile; return the number of the act.

    Parameters
    ----------
    made : mapping
        The whole choice; where the form is not `alone`, those of its values that the form is about.
    sent : mapping
        The form as it was sent.
    alone : bool
        Whether no other form makes anything of this choice; else what others make of the rest of it stands.
    usual : mapping, optional
        What stands where nothing has been kept yet.
    fit : callable
        Given what is to be kept, raises where it cannot be used: both changes together may not go.

    Raises
    ------
    Conflict
        What the form is about was changed since its sender opened it.
    """
    seen, made = Seen.of(sent), json.loads(plain_json(dict(made)))
    usual = None if usual is None else json.loads(plain_json(dict(usual)))
    before, act = as_seen(engine, part, name, sent) or usual, seen.act
    now = store.choice_at(engine, part, name) or usual
    while True:
        if alone:
            kept = seen.settled(before, now, made)
        else:
            mine = {key: seen.settled((before or {}).get(key), (now or {}).get(key), made[key]) for key in made}
            kept = {**(now or {}), **mine}
        if seen.both:
            fit(kept)
        try:
            return store.keep_choice(engine, part, name, kept, seen=act, who=who())
        except Conflict as found:
            there = {"seen": found.seen or usual, "now": found.now or usual, "sent": found.sent}
            if not alone:
                theirs = {key for key in made if (there["seen"] or {}).get(key) != (there["now"] or {}).get(key)}
                if not theirs:  # the rest of it was changed, by another form
                    now, act = there["now"], found.act
                    continue
                there = {side: {key: (value or {}).get(key) for key in made} for side, value in there.items()}
            told = SETTLED.get((part, name), found.what)
            raise Conflict(told, **there, who=found.who, at=found.at, act=found.act) from None


def keep_plank(view: View, name: str, entry: Mapping[str, Any], sent: Mapping[str, str]) -> None:
    """Keep a plank once it has been drawn, unless somebody has changed it meanwhile.

    Raises
    ------
    Conflict
        It was changed since the form `sent` was opened.
    ScrieveError
        It cannot be drawn.
    """

    def fit(drawn: Mapping[str, Any]) -> object:
        return view.kept.with_plank(name, drawn).plank(name)

    fit(entry)
    keep_settled(view.file.engine, "plank", name, entry, sent, fit=fit)


def not_changed(
    engine: Engine,
    part: Part,
    name: str,
    sent: Mapping[str, str],
    of: Callable[[dict[str, Any] | None], Mapping[str, Any]],
    after: Mapping[str, Any] | None = None,
    *,
    again: str,
) -> None:
    """Refuse an act on a choice (a part taken off its board) where what it bears on is not as its sender saw it.

    Parameters
    ----------
    of : callable
        Takes out of the choice what the act bears on, told in words by name; None where there is no choice.
    after : mapping, optional
        The same once the act is done; where it stands so already, nothing is in the way. As it was seen, if not given.
    again : str
        What the button says that does it all the same.

    Raises
    ------
    Conflict
        Somebody has changed that since, to something else.
    """
    seen = Seen.of(sent).act
    if seen is None:
        return
    mine = (part, name)
    since = store.acts(engine, after=seen)
    theirs = [each for each in since if each.now and (each.now.get("part"), each.now.get("name")) == mine]
    if not theirs:
        return
    before, now = (dict(of(store.choice_at(engine, part, name, act))) for act in (seen, None))
    if now not in (before, after):
        last, told = theirs[-1], SETTLED.get(mine, f"{part} {name}")
        then = before if after is None else dict(after)
        raise Conflict(told, before, now, then, who=last.who, at=last.at, act=since[-1].number, again=again)


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
    fields, file = dict(getattr(request.state, "sent", {})), getattr(request.state, "sent_file", b"")
    carried = {CARRIED: base64.urlsafe_b64encode(file).decode()} if file else {}
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
        fields={name: value for name, value in fields.items() if name not in _FORMS} | carried,
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
    >>> name_of(("people", "Ann", "off"))
    'people Ann: off'
    """
    *within, key = [part for part in path if part not in _HOLDERS] or ["it"]
    if key in SETTINGS:
        return SETTINGS[key].name
    words = " ".join(_word(part) for part in within)
    return f"{words}: {_word(key)}" if words else _word(key)


def _word(key: str) -> str:
    for ending in ("_mm", "_rad", "_n", "_c", "_kg", "_s"):
        key = key.removesuffix(ending)
    return key.replace("_", " ")


def written(path: tuple[str, ...], value: Any, units: Units) -> str:
    """Return a value as it is shown, lengths in the builder's units.

    Examples
    --------
    >>> written(("stands",), [{"along_mm": 2625.0, "rail": 3}, {"along_mm": 2500.0, "rail": 4}], "mm")
    'along 2625.0 mm, rail 3; along 2500.0 mm, rail 4'
    """
    key = path[-1] if path else ""
    if value is None or value == "":
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        if key.endswith("_mm") and math.isfinite(value):
            return format_length(float(value), units, 1) + (" mm" if units == "mm" else "")
        return f"{math.degrees(value):.2f}°" if key.endswith("_rad") else f"{value:g}"
    if isinstance(value, list):
        rows = any(isinstance(each, (list, Mapping)) for each in value)
        text = ("; " if rows else ", ").join(written(path, each, units) for each in value)
        return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"
    if isinstance(value, Mapping):
        return ", ".join(f"{_word(each)} {written((each,), of, units)}" for each, of in value.items())
    return str(value)
