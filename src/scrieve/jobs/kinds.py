"""The kinds of job, by name. A kind is loaded where a job of it is asked for or done, so that a worker stays light."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import Any

from sqlalchemy import Engine

#: Told what is being done, how much of all of it (0 to 1), and the best so far as plain JSON values or None; returns
#: False once the computation is to stop, and give the best so far.
Tick = Callable[[str, float, Any], bool]
#: A computation: what it is given, as JSON, and its tick; returns its result, as JSON. It knows no store, and runs in
#: any process on any machine that has this version of Scrieve.
Work = Callable[[Mapping[str, Any], Tick], Any]


def _as_asked(_engine: Engine, what: Mapping[str, Any]) -> Mapping[str, Any]:
    return what


def _nowhere(_engine: Engine, _what: Mapping[str, Any], _result: Any, _key: str, _who: str) -> None:
    return None


@dataclass(frozen=True)
class Kind:
    """One kind of job.

    Attributes
    ----------
    work : str
        The computation, as 'module:function', so that it can be sent by name.
    gather : callable
        Engine of the boat and what was asked -> what `work` is given; reads from the boat what was named by revision.
    keep : callable
        Engine of the boat, what was asked, result, a key and who asked: keeps the result with the boat, once however
        often it is called with the same key.
    """

    work: str
    gather: Callable[[Engine, Mapping[str, Any]], Mapping[str, Any]] = _as_asked
    keep: Callable[[Engine, Mapping[str, Any], Any, str, str], None] = _nowhere


#: Where each kind is: a module with a `KIND`.
KINDS: dict[str, str] = {
    "laying boards": "scrieve.jobs.boards",
    "plan of butts": "scrieve.jobs.butts",
    "order of the jig": "scrieve.jobs.jig_order",
    "plan of the work": "scrieve.jobs.work_plan",
    "what if": "scrieve.jobs.what_if",
}


def kind_of(name: str) -> Kind:
    """Return a kind by its name."""
    found: Kind = import_module(KINDS[name]).KIND
    return found


def do_work(name: str, given: Mapping[str, Any], tick: Tick) -> Any:
    """Do the computation that is named 'module:function', here and now."""
    module, _, function = name.partition(":")
    work: Work = getattr(import_module(module), function)
    return work(given, tick)
