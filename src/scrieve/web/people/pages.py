"""Signing in and out, one's own password and PIN, and the people of the yard."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import RedirectResponse, Response

from scrieve.errors import ScrieveError
from scrieve.store.people import (
    LEAST_PASSWORD,
    ROLES,
    add_person,
    change_person,
    get_up,
    known,
    people,
    signing_key,
    sit_down,
)
from scrieve.web.addresses import own_path
from scrieve.web.forms import Sent
from scrieve.web.people.sign_in import COOKIE, Tries, set_cookie
from scrieve.web.people.who import AT_HOME, asker
from scrieve.web.views import View, write

pages = APIRouter()
_tries = Tries()


def _page(back: str, name: str = "", error: str = "", status: int = 200) -> Response:
    return write("sign_in.html", status, back=own_path(back), name=name, error=error, where="/sign-in")


@pages.get("/sign-in")
def sign_in_page(back: Annotated[str, Query(max_length=2000)] = "/") -> Response:
    """Ask for name and password."""
    return _page(back)


@pages.post("/sign-in")
def sign_in(request: Request, sent: Sent) -> Response:
    """Begin a sitting, or say that name and password do not belong together; after five failures one must wait."""
    engine = request.app.state.boat.engine
    name, back = sent.get("name", "")[:80], sent.get("back", "/")
    keys = (f"name {name.casefold()}", f"from {request.client.host if request.client else ''}")
    if wait := _tries.wait_s(*keys):
        answer = _page(back, name, f"Too many tries; wait {wait:.0f} seconds and try again.", 429)
        answer.headers["retry-after"] = f"{wait:.0f}"
        return answer
    person = known(engine, name, sent.get("password", ""))
    if person is None:
        _tries.failed(*keys)
        return _page(back, name, "Name and password do not belong together.", 401)
    _tries.succeeded(*keys)
    answer = RedirectResponse(own_path(back), 303, headers={"Cache-Control": "no-store"})
    set_cookie(answer, request, sit_down(engine, person, request.headers.get("user-agent", "")), signing_key(engine))
    return answer


@pages.post("/sign-out")
def sign_out(request: Request, _: Sent) -> Response:
    """End the sitting."""
    if asker().token:
        get_up(request.app.state.boat.engine, asker().token)
    answer = RedirectResponse("/sign-in", 303, headers={"Cache-Control": "no-store"})
    answer.delete_cookie(COOKIE, path="/")
    return answer


@pages.get("/me")
def me(request: Request) -> Response:
    """Who is signed in, with forms for a new password and the PIN with which one signs."""
    return _me(request)


def _me(request: Request, error: str = "", done: str = "", status: int = 200, *, has_pin: bool = False) -> Response:
    """The page of whoever asks; `has_pin` from this request on."""
    at_home = asker().person is AT_HOME
    person = replace(asker().person, has_pin=has_pin or asker().person.has_pin)
    return View(request).page("me.html", status, person=person, at_home=at_home, error=error, done=done,
                              least=LEAST_PASSWORD)  # fmt: skip


@pages.post("/me")
def change_me(request: Request, sent: Sent) -> Response:
    """Store a new password or PIN of one's own, once the present password is given."""
    person = asker().person
    engine = request.app.state.boat.engine
    try:
        if person is AT_HOME:
            raise ScrieveError("at your own machine nobody signs in; 'scrieve people' lets somebody in on the network.")
        keys = (f"name {person.name.casefold()}",)
        if wait := _tries.wait_s(*keys):
            raise ScrieveError(f"too many tries; wait {wait:.0f} seconds.")
        if known(engine, person.name, sent.get("password", "")) is None:
            _tries.failed(*keys)
            raise ScrieveError("the present password is not that; nothing was changed.")
        if sent.get("new"):
            change_person(engine, person.name, password=sent["new"])
        if sent.get("pin"):
            change_person(engine, person.name, pin=sent["pin"])
    except ScrieveError as error:
        return _me(request, str(error), status=422)
    if sent.get("new"):  # a new password ends every sitting, this one too
        return RedirectResponse("/sign-in", 303, headers={"Cache-Control": "no-store"})
    pin = bool(sent.get("pin"))
    return _me(request, done="The PIN is stored." if pin else "Nothing was changed.", has_pin=pin)


@pages.get("/people")
def yard(request: Request) -> Response:
    """The people of the yard: who may sign in, and in which role."""
    return _yard(request)


def _yard(request: Request, error: str = "", status: int = 200) -> Response:
    view = View(request)
    return view.page("people.html", status, people=people(view.file.engine), roles=ROLES, error=error,
                     least=LEAST_PASSWORD)  # fmt: skip


@pages.post("/people")
def change_yard(request: Request, sent: Sent) -> Response:
    """Add somebody, or change role, password or leave of somebody."""
    engine = request.app.state.boat.engine
    try:
        if sent.get("do") == "add":
            add_person(engine, sent.get("name", ""), sent.get("role", ""), sent.get("password", ""))
        else:
            role, seen = sent.get("role") or None, sent.get("was") or None
            change_person(
                engine,
                sent.get("name", ""),
                role=None if role == seen else role,
                password=sent.get("password") or None,
                active={"gone": False, "back": True}.get(sent.get("do", "")),
                seen=seen,
            )
    except ScrieveError as error:
        return _yard(request, str(error), 422)
    return RedirectResponse("/people", 303)
