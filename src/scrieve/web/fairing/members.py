"""What frames and planks are made from: both sides faired as one, or each side by itself, a pair then two blanks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, get_args

from fastapi import APIRouter, Request
from sqlalchemy import Engine
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.chain import Kept, set_apart, set_together
from scrieve.errors import BadPlank, CannotFair, NoSuchFrame, ScrieveError
from scrieve.frames.choice import MadeFrom
from scrieve.store import Conflict
from scrieve.store.keeping import Part
from scrieve.web.addresses import frame_path, own_path, plank_path
from scrieve.web.forms import Sent
from scrieve.web.people.who import who
from scrieve.web.settling import not_changed
from scrieve.web.views import View

pages = APIRouter()
_OWN: Mapping[str, MadeFrom] = {"P": "port", "S": "starboard"}
_WORDS = {"both": "both sides as one", "port": "port's own marks", "starboard": "starboard's own marks"}
_AGAIN = "Make them so all the same"


@dataclass
class Change:
    """What is to be stored: frames and planks by label, None where one is forgotten."""

    frames: dict[str, dict[str, Any] | None] = field(default_factory=dict)
    planks: dict[str, dict[str, Any]] = field(default_factory=dict)

    def on(self, kept: Kept) -> Kept:
        """What is kept once it is stored."""
        frames = {**kept.frames, **self.frames}
        return replace(
            kept,
            frames={label: entry for label, entry in frames.items() if entry is not None},
            planks={**kept.planks, **self.planks},
        )


def frame_apart(kept: Kept, label: str) -> Change:
    """Two blanks in place of a designed pair, each from its own side's marks.

    Raises
    ------
    NoSuchFrame
        The pair has not been designed, or is a blank for one hand already.
    """
    if label not in kept.frames:
        raise NoSuchFrame(f"frame {label!r} has not been designed; design it first.")
    return Change({label: None, **set_apart(label, kept.frames[label])})


def frame_together(kept: Kept, label: str) -> Change:
    """One pair again in place of the blanks for one hand, from both sides as one.

    Raises
    ------
    NoSuchFrame
        `label` is no blank for one hand.
    """
    if label not in kept.frames:
        raise NoSuchFrame(f"frame {label!r} has not been designed; design it first.")
    of = kept.frames[label].get("of", "")
    measured = any(mark.frame == of for mark in kept.marks)
    pair = set_together(label, kept.frames[label], measured)
    gone = {other: None for other, entry in kept.frames.items() if entry.get("of") == of}
    return Change({**gone, **pair})


def plank_from(kept: Kept, name: str, made_from: str) -> Change:
    """A strake on the hull of both sides as one, or of one side by itself.

    Raises
    ------
    BadPlank
        It comes from spiling marks, or `made_from` is none of these.
    """
    if made_from not in get_args(MadeFrom):
        raise BadPlank(f"plank {name!r}, made from: found {made_from!r}; say both, port or starboard.")
    entry = kept.planks.get(name)
    if entry is None or entry["kind"] == "spiled":
        raise BadPlank(f"plank {name!r} comes from spiling marks, or is not there: no hull has a part in it.")
    return Change(planks={name: {**entry, "choice": {**entry["choice"], "hull": made_from}}})


def everything(kept: Kept, apart: bool) -> Change:
    """All pairs and strakes of one side: each from its own side's marks, or from both sides as one."""
    whole = Change()
    for label, entry in kept.frames.items():
        pair = entry["choice"].get("hands", "pair") == "pair" and not entry.get("of")
        if apart and pair:
            whole.frames |= frame_apart(kept, label).frames
        elif not apart and entry.get("of"):
            if label not in whole.frames:
                whole.frames |= frame_together(kept, label).frames
        elif not apart and entry["choice"].get("hull", "both") != "both":
            whole.frames[label] = {**entry, "choice": {**entry["choice"], "hull": "both"}}
    for name, entry in kept.planks.items():
        if entry["kind"] == "spiled":
            continue
        own = _OWN.get(entry["choice"].get("side", ""), "both") if apart else "both"
        if own != entry["choice"].get("hull", "both"):
            whole.planks |= plank_from(kept, name, own).planks
    return whole


def tried(kept: Kept, change: Change) -> None:
    """Make every member of a change once.

    Raises
    ------
    ScrieveError
        Some cannot be made so; the message says which and why.
    """
    after = change.on(kept)
    bad: dict[str, None] = {}
    for label, entry in change.frames.items():
        if entry is not None:
            try:
                after.frame(label)
            except ScrieveError as error:
                bad[f"Frame {label}: {error}"] = None
    for name in change.planks:
        try:
            after.plank(name)
        except ScrieveError as error:
            bad[f"Plank {name}: {error}"] = None
    if bad:
        raise ScrieveError(f"Nothing was changed. {' '.join(bad)}")


def as_on_page(engine: Engine, change: Change, sent: Mapping[str, str]) -> None:
    """Refuse a change of members that somebody has made from something else since its form was opened.

    Raises
    ------
    Conflict
        Of all of them together, by their names.
    """
    found: list[Conflict] = []
    members: list[tuple[Part, str, Mapping[str, Any] | None]] = [
        *(("frame", name, entry) for name, entry in change.frames.items()),
        *(("plank", name, entry) for name, entry in change.planks.items()),
    ]
    for part, name, entry in members:

        def told(of: Mapping[str, Any] | None, named: str = f"{part} {name}") -> Mapping[str, Any]:
            return {named: made_from_told(of)}

        def whole(of: Mapping[str, Any] | None, named: str = f"{part} {name}") -> Mapping[str, Any]:
            return {named: of and of["choice"]}

        try:
            if entry is None:  # its settings go with it
                not_changed(engine, part, name, sent, whole, again=_AGAIN)
            else:
                not_changed(engine, part, name, sent, told, told(entry), again=_AGAIN)
        except Conflict as error:
            found.append(error)
    if found:
        seen, now, after = ({name: text for each in found for name, text in getattr(each, side).items()}
                            for side in ("seen", "now", "sent"))  # fmt: skip
        last = max(found, key=lambda each: each.at)
        what = "what members are made from"
        raise Conflict(what, seen, now, after, who=last.who, at=last.at, act=last.act, again=_AGAIN)


def made_from_told(entry: Mapping[str, Any] | None) -> str:
    """What a frame or a plank is made from, in words."""
    if entry is None:
        return "none of its own"
    return _WORDS[entry["choice"].get("hull", "both")]


@pages.post("/fairing/made-from")
def made_from(request: Request, sent: Sent) -> Response:
    """Change what one member, or every one, is made from; lead back to it."""
    view = View(request)
    if view.hull is None:
        raise view.cannot or CannotFair("the hull is still being faired; send this again in a moment.")
    back = make_from(view, sent.get("of", ""), sent.get("label", ""), sent.get("how", ""), sent)
    return RedirectResponse(back, 303)


def make_from(view: View, of: str, label: str, how: str, sent: Mapping[str, str]) -> str:
    """Change what one member, or every one, is made from; return the page that shows it.

    Parameters
    ----------
    of : str
        'frame', 'plank', or else everything.
    label : str
        Of the frame or plank.
    how : str
        'apart' or 'together'; of a plank the hull.
    sent : mapping
        What a form says besides: its key, and what its sender had seen.

    Raises
    ------
    ScrieveError
        Some cannot be made so; nothing was changed.
    Conflict
        Somebody has changed one of them since the form was opened.
    """
    kept = view.kept
    if of == "plank":
        change, back = plank_from(kept, label, how), plank_path(label)
    elif how not in ("apart", "together"):
        raise NoSuchFrame(f"made from: found {how!r}; say apart or together.")
    elif of == "frame":
        change = frame_apart(kept, label) if how == "apart" else frame_together(kept, label)
        back = frame_path(next(one for one, entry in change.frames.items() if entry is not None))
    else:
        change, back = everything(kept, how == "apart"), own_path(sent.get("back", "/fairing"))
    tried(kept, change)
    engine, key = view.file.engine, sent.get("key") or ""
    as_on_page(engine, change, sent)
    for number, (name, entry) in enumerate(change.frames.items()):
        one = f"{key}-f{number}" if key else None
        if entry is None:
            store.forget_frame(engine, name, key=one, who=who())
        else:
            store.keep_frame(engine, name, entry, key=one, who=who())
    for number, (name, entry) in enumerate(change.planks.items()):
        store.keep_plank(engine, name, entry, key=f"{key}-p{number}" if key else None, who=who())
    return back
