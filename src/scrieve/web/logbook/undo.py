"""Taking back: the last acts with what each would restore, the page that asks, and forgetting a member."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve import store
from scrieve.errors import BadBoat, NoSuchFrame, NoSuchPlank, ScrieveError
from scrieve.logbook import SETTLED, act_called
from scrieve.store import Act, Conflict
from scrieve.store.keeping import Part
from scrieve.store.undoing import changed_since, taken_back
from scrieve.units import Units
from scrieve.web.addresses import frame_path, own_path, plank_path
from scrieve.web.forms import Sent
from scrieve.web.people.who import who
from scrieve.web.settling import name_of, not_changed, written
from scrieve.web.views import View

pages = APIRouter()

#: Acts to a page, and values of one that are told.
A_PAGE, _MOST_TOLD = 40, 8
#: What can be forgotten: where its list stands.
_LISTS = {"frame": "/frames", "plank": "/planks", "board": "/timber"}
_PARTS: Mapping[str, Part] = {"frame": "frame", "plank": "plank"}


@dataclass(frozen=True, slots=True)
class Line:
    """One act in the list: `restores` says what taking it back would do; `bar` why it cannot be, '' where it can."""

    act: Act
    words: str
    restores: tuple[str, ...]
    bar: str


@dataclass(frozen=True, slots=True)
class Now:
    """What stands now, against which it is seen whether an act can still be taken back."""

    choices: Mapping[tuple[str, str], Any]
    boat: Any
    answers: Mapping[int, str]
    gone: frozenset[int]
    records: frozenset[int]


def lines(view: View, last: int, count: int = A_PAGE) -> list[Line]:
    """Return the acts up to the one numbered `last`, the latest first."""
    engine, units = view.file.engine, view.boat.units
    every = store.acts(engine, after=max(last - count, 0))
    choices: dict[tuple[str, str], Any] = {}
    boat: Any = None
    for act in every:
        if act.now and "choice" in act.now:
            choices[act.now["part"], act.now["name"]] = act.now["choice"]
        boat = act.now["boat"] if act.now and "boat" in act.now else boat
    corrected = frozenset(changed_since(store.every_record(engine)))
    now = Now(choices, boat, store.answers(engine), frozenset(taken_back(every)), corrected)
    return [_line(act, now, units) for act in reversed(every) if act.number <= last]


def _line(act: Act, now: Now, units: Units) -> Line:
    name = act.detail.get("name") or act.detail.get("member") if isinstance(act.detail, Mapping) else ""
    what, name = act_called(act.what, str(name or ""))
    words = what + (f": {name}" if name else "")
    return Line(act, words, _restores(act, units), _bar(act, now))


def _bar(act: Act, now: Now) -> str:
    done = act.now
    if act.number in now.gone:
        return "taken back already"
    if done is None:
        return "cannot be taken back; change by hand what it did"
    changed = "changed again since: take the later act back first"
    if "choice" in done:
        return "" if now.choices[done["part"], done["name"]] == done["choice"] else changed
    if "boat" in done:
        return "" if now.boat == done["boat"] else changed
    if "answers" in done:
        said = ((n, what) for first, last, what in done["answers"] for n in range(first, last + 1))
        return "" if all(now.answers.get(n, "") == what for n, what in said) else changed
    return changed if done.get("record") in now.records else ""


def _restores(act: Act, units: Units) -> tuple[str, ...]:
    was, now = act.was or {}, act.now or {}
    if "choice" in now:
        of = now["part"], now["name"]
        return _of_choice(SETTLED.get(of, " ".join(of)), was["choice"], now["choice"], units)
    if "boat" in now:
        return _differing(was["boat"], now["boat"], units)
    if "answers" in now:
        return tuple(
            f"mark {first if first == last else f'{first} to {last}'}: {what or 'counts, as measured'}"
            for first, last, what in was["answers"]
        )
    if "record" in now:
        stands = "what it put right stands again" if act.detail.get("corrects") else "it counts no longer, and stays"
        return (f"record {now['record']}: {stands}",)
    return ()


def _of_choice(what: str, was: Any, now: Any, units: Units) -> tuple[str, ...]:
    if was is None:
        return (f"{what}: off the list, as before",)
    if now is None:
        return (f"{what}: back, as it was",)
    return _differing(was, now, units)


def _differing(was: Any, now: Any, units: Units) -> tuple[str, ...]:
    found = Conflict("", was, was, now).differences
    told = [
        f"{name_of(each.path)}: {was_} again, now {now_}"
        for each in found[:_MOST_TOLD]
        for was_, now_ in [(written(each.path, each.seen, units), written(each.path, each.sent, units))]
    ]
    more = len(found) - len(told)
    return (*(text if len(text) < 160 else f"{text[:157]}…" for text in told), *([f"and {more} more"] if more else []))


Number = Annotated[int, Query(ge=0, le=10**9)]


@pages.get("/undo")
def undo(request: Request, act: Number = 0, to: Number = 0) -> Response:
    """The last acts, each with what it would restore; with `act`, the page that asks."""
    view = View(request)
    if act:
        found = lines(view, act, 1)
        if not found or found[0].act.number != act:
            raise BadBoat(f"there is no act {act}; look its number up in the list of acts.")
        return view.page("undo.html", asked=found[0], lines=[], older=0, newer=False)
    return _list(view, to)


def _list(view: View, to: int = 0, error: str = "", status: int = 200) -> Response:
    last = min(to or view.state.acts, view.state.acts)
    shown = lines(view, last)
    older = last - A_PAGE if last > A_PAGE else 0
    return view.page(
        "undo.html", status, asked=None, lines=shown, older=older, newer=last < view.state.acts, error=error
    )


@pages.post("/undo")
def take_back(request: Request, sent: Sent) -> Response:
    """Take acts back, the latest first; lead back to where that was asked."""
    view = View(request)
    try:
        for number in _numbers(sent.get("acts", "")):
            store.undo(view.file.engine, number=number, who=who())
    except ScrieveError as error:
        view = View(request)
        return _list(view, 0, str(error), 422)
    return RedirectResponse(own_path(sent.get("back", "/undo")), 303)


def _numbers(text: str) -> Sequence[int]:
    parts = text.split(".")
    if not 0 < len(parts) <= 200 or not all(part.isascii() and part.isdigit() and len(part) < 10 for part in parts):
        raise BadBoat(f"acts {text[:40]!r}: give the number of an act.")
    return sorted({int(part) for part in parts}, reverse=True)


@pages.get("/forget")
def ask(request: Request, of: str = "", label: str = "") -> Response:
    """The page that asks before a frame, a plank or a board is forgotten."""
    view = View(request)
    there(view, of, label)
    back = {"frame": frame_path(label), "plank": plank_path(label), "board": "/timber"}[of]
    return view.page("forget.html", of=of, label=label, back=back)


@pages.post("/forget")
def forget(request: Request, sent: Sent) -> Response:
    """Take a frame or plank off the list of those to be made. Its marks, records and choices stay in the store."""
    view = View(request)
    of, label = sent.get("of", ""), sent.get("label", "")
    if of == "board":
        raise BadBoat("a board is taken off the rack by the form of the timber's page.")
    there(view, of, label)
    engine, part = view.file.engine, _PARTS[of]
    not_changed(
        engine, part, label, sent, lambda entry: (entry or {}).get("choice", {}), again="Forget it all the same"
    )
    store.keep_choice(engine, part, label, None, who=who())
    return RedirectResponse(_LISTS[of], 303)


def there(view: View, of: str, label: str) -> None:
    """Refuse what is not on the list of frames, planks or boards."""
    if of not in _LISTS:
        raise BadBoat(f"{of!r} cannot be forgotten; say frame, plank or board.")
    if of == "frame" and label not in view.kept.frames:
        raise NoSuchFrame(f"frame {label!r} has not been designed, so there is nothing to forget.")
    if of == "plank" and label not in view.kept.planks:
        raise NoSuchPlank(f"there is no plank {label!r}.")
