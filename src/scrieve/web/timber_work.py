"""Laying all planks on all boards, in a thread of its own: progress, stop, and the result kept in the boat file."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from dataclasses import dataclass, field
from threading import Event, Lock, Thread

from sqlalchemy import Engine

from scrieve import store
from scrieve.errors import ScrieveError
from scrieve.stock.board import Board
from scrieve.stock.forms import board_from
from scrieve.stock.laying import Laying, Progress, lay_parts
from scrieve.stock.layout import LAYOUT, Shop, kept_laying, laying_from, laying_revision
from scrieve.stock.parts import Part, parts_of_plank
from scrieve.web.views import View

log = logging.getLogger("scrieve.web")
#: More rounds than any search is given time for.
MOST_ROUNDS = 100_000


@dataclass
class Job:
    """One search under way; `error` where it could not be done."""

    made_from: str
    seconds: float
    so_far: Progress | None = None
    error: ScrieveError | None = None
    stop: Event = field(default_factory=Event)
    done: Event = field(default_factory=Event)


@dataclass(frozen=True)
class Timber:
    """What the timber page stands on: the rack, what is to be cut, the shop's rules, and the laying kept.

    `said` names planks of which no part can be made, and why; `cut` parts already cut, with their boards; `stale`
    tells that boards, planks or rules are no longer those of the laying.
    """

    boards: tuple[Board, ...]
    parts: tuple[Part, ...]
    shop: Shop
    laying: Laying | None
    stale: bool
    cut: Mapping[str, str]
    said: tuple[tuple[str, str], ...]
    made_from: str


def timber(view: View) -> Timber:
    """Return what is stored of boards and the laying, and the parts that the planks ask for."""
    engine = view.file.engine
    boards = tuple(board_from(kept) for kept in store.choices(engine, "board").values())
    layout = store.choices(engine, "layout").get(LAYOUT, {})
    shop = Shop.from_mapping(layout.get("shop"))
    cut = {name: str(kept["cut_from"]) for name, kept in store.choices(engine, "part").items() if "cut_from" in kept}
    parts: list[Part] = []
    said: list[tuple[str, str]] = []
    for name in view.kept.planks:
        try:
            design, _ = view.plank(name)
            parts += parts_of_plank(design, rules=shop.rules, show=shop.show, book_matched=shop.book_matched)
        except ScrieveError as error:
            said.append((name, str(error)))
    left = tuple(part for part in parts if part.name not in cut)
    planks = {name: view.kept.plank_revision(name) for name in view.kept.planks}
    made_from = laying_revision(boards, left, shop, planks)
    kept = layout.get("laying")
    laying = laying_from(kept, boards, left, shop) if kept else None
    stale = kept is not None and kept["made_from"] != made_from
    return Timber(boards, left, shop, laying, stale, cut, tuple(said), made_from)


def keep_shop(engine: Engine, shop: Shop, *, key: str | None = None) -> None:
    """Keep the shop's rules; the laying stays, to be told stale where they matter to it."""
    layout = dict(store.choices(engine, "layout").get(LAYOUT, {}))
    store.keep_choice(engine, "layout", LAYOUT, {**layout, "shop": shop.to_mapping()}, key=key, who="pages")


def keep_laying(engine: Engine, laying: Laying, made_from: str, *, key: str | None = None) -> None:
    """Keep a laying beside the shop's rules."""
    layout = dict(store.choices(engine, "layout").get(LAYOUT, {}))
    kept = {**layout, "laying": kept_laying(laying, made_from)}
    store.keep_choice(engine, "layout", LAYOUT, kept, key=key, who="pages")


class Layings:
    """The searches of each boat file, one at a time. Safe to be asked by several requests at once."""

    def __init__(self) -> None:
        self._jobs: dict[str, Job] = {}
        self._lock = Lock()

    def latest(self, view: View) -> Job | None:
        """Return the search begun last, done or not."""
        return self._jobs.get(str(view.file.path))

    def begin(self, view: View, found: Timber) -> Job:
        """Begin a search unless one is under way."""
        with self._lock:
            job = self._jobs.get(str(view.file.path))
            if job is None or job.done.is_set():
                job = self._jobs[str(view.file.path)] = Job(found.made_from, found.shop.seconds)
                Thread(target=_lay, args=(job, view.file.engine, found), daemon=True, name="laying").start()
            return job


def _lay(job: Job, engine: Engine, found: Timber) -> None:
    def tick(so_far: Progress) -> bool:
        job.so_far = so_far
        return not job.stop.is_set()

    try:
        shop = found.shop
        laying = lay_parts(found.boards, found.parts, saw=shop.saw, keep=shop.keep, seed=shop.seed, rounds=MOST_ROUNDS,
                           seconds=shop.seconds, progress=tick)  # fmt: skip
        keep_laying(engine, laying, job.made_from)
    except ScrieveError as error:
        job.error = error
    except Exception:
        log.exception("laying parts on boards failed")
        job.error = ScrieveError("the boards could not be laid out: a fault of this program, told in its log.")
    finally:
        job.done.set()


LAYINGS = Layings()
