"""How the timber stands for a page, and laying in a thread of its own: progress, stop, the result kept in the file."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from threading import Event, Lock, Thread
from typing import Any

from sqlalchemy import Engine

from scrieve import store
from scrieve.errors import ScrieveError
from scrieve.planking import PlankDesign
from scrieve.stock.by_hand import held
from scrieve.stock.laying import Laying, Progress, lay_parts
from scrieve.stock.layout import Shop, kept_laying
from scrieve.stock.rip_kept import FrameStrips
from scrieve.stock.standing import CUT, LAYING, SHOP, UNDONE, Plank, Standing, cut_record, standing, uncut
from scrieve.web.views import View

log = logging.getLogger("scrieve.web")
#: More rounds than any search is given time for.
MOST_ROUNDS = 100_000
WHO = "pages"


@dataclass
class Job:
    """One search under way; `error` where it could not be done."""

    found: Standing
    so_far: Progress | None = None
    error: ScrieveError | None = None
    stop: Event = field(default_factory=Event)
    done: Event = field(default_factory=Event)

    @property
    def best(self) -> Laying | None:
        """The best laying so far."""
        if self.so_far is None:
            return None
        return replace(self.found.at_hand, placements=self.so_far.placements)


def timber(view: View) -> Standing:
    """Return the rack, the parts that the planks ask for, and the laying."""
    engine = view.file.engine
    cuts = [(record.number, record.detail) for record in store.records(engine, CUT)]
    return standing(store.choices(engine, "board"), cuts, store.choices(engine, "layout"), _planks(view))


def _planks(view: View) -> list[Plank]:
    def design(name: str) -> PlankDesign:
        return view.plank(name)[0]

    return [(name, view.kept.plank_revision(name), lambda name=name: design(name)) for name in view.kept.planks]  # type: ignore[misc]


def keep_shop(view: View, shop: Shop) -> None:
    """Keep the shop's rules; the laying stays, to be told out of date where they matter to it."""
    store.keep_choice(view.file.engine, "layout", SHOP, shop.to_mapping(), who=WHO)


def keep_laying(view: View, kept: Mapping[str, Any]) -> None:
    """Keep a laying, as plain values."""
    store.keep_choice(view.file.engine, "layout", LAYING, kept, who=WHO)


def keep_cut(view: View, found: Standing, name: str) -> None:
    """Keep that a board is cut: one record with its parts and off-cuts."""
    planks = [(name, view.kept.plank_revision(name)) for name in view.kept.planks]
    detail = cut_record(found, name, planks)
    store.add_record(view.file.engine, CUT, name, detail, key=f"cut-{name}-{found.made_from}", who=WHO)


def keep_uncut(view: View, found: Standing, name: str) -> None:
    """Keep that a board was noted as cut by mistake."""
    number = uncut(found, name)
    store.add_record(view.file.engine, CUT, name, UNDONE, corrects=number, key=f"uncut-{number}", who=WHO)


def strips_wanted(view: View) -> list[FrameStrips]:
    """Return what each frame pair asks for; raises where one cannot be designed."""
    return [FrameStrips(label, revision, tuple(design.order))
            for label in view.kept.frames for design, _, revision in [view.frame(label)]]  # fmt: skip


def frames_wanted(view: View) -> dict[str, str]:
    """Return the frame pairs to be made, each with the revision of its design."""
    return {label: view.kept.frame_revision(label) for label in view.kept.frames}


class Layings:
    """The searches of each boat file, one at a time. Safe to be asked by several requests at once."""

    def __init__(self) -> None:
        self._jobs: dict[str, Job] = {}
        self._lock = Lock()

    def latest(self, view: View) -> Job | None:
        """Return the search begun last, done or not."""
        return self._jobs.get(str(view.file.path))

    def begin(self, view: View, found: Standing) -> Job:
        """Begin a search unless one is under way; what the builder holds stays where it is."""
        with self._lock:
            job = self._jobs.get(str(view.file.path))
            if job is None or job.done.is_set():
                job = self._jobs[str(view.file.path)] = Job(found)
                Thread(target=_lay, args=(job, view.file.engine), daemon=True, name="laying").start()
            return job


def _lay(job: Job, engine: Engine) -> None:
    def tick(so_far: Progress) -> bool:
        job.so_far = so_far
        return not job.stop.is_set()

    try:
        found, shop = job.found, job.found.shop
        laying = lay_parts(found.boards, found.parts, saw=shop.saw, keep=shop.keep, seed=shop.seed, rounds=MOST_ROUNDS,
                           held=held(found.laying, found.boards, [part.name for part in found.at_hand.parts]),
                           seconds=shop.seconds, progress=tick)  # fmt: skip
        store.keep_choice(engine, "layout", LAYING, kept_laying(laying, found.made_from), who=WHO)
    except ScrieveError as error:
        job.error = error
    except Exception:
        log.exception("laying parts on boards failed")
        job.error = ScrieveError("the boards could not be laid out: a fault of this program, told in its log.")
    finally:
        job.done.set()


LAYINGS = Layings()
