"""How the timber stands for a page, and laying as a job: progress, stop, the result kept in the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from scrieve import jobs, store
from scrieve.errors import BadBoard
from scrieve.jobs import boards
from scrieve.planking import PlankDesign
from scrieve.stock.laying import Laying
from scrieve.stock.layout import Shop
from scrieve.stock.rip_kept import FrameStrips
from scrieve.stock.standing import CUT, LAYING, SHOP, UNDONE, Plank, Standing, cut_record, standing, uncut
from scrieve.web.people.who import who
from scrieve.web.settling import keep_settled
from scrieve.web.views import View

#: The lane of jobs that lay the boards.
LANE = "laying"


class Job(jobs.Watched):
    """One search; `so_far` is its `Progress`."""

    @property
    def found(self) -> Standing:
        """The timber as it stood when the search was asked for."""
        standing: Standing = self.given["standing"]
        return standing

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


def keep_shop(view: View, shop: Shop, sent: Mapping[str, str]) -> None:
    """Keep the shop's rules; the laying stays, to be told out of date where they matter to it."""
    keep_settled(
        view.file.engine, "layout", SHOP, shop.to_mapping(), sent, usual=Shop().to_mapping(), fit=Shop.from_mapping
    )


def keep_laying(view: View, kept: Mapping[str, Any], seen: int) -> None:
    """Keep a laying, as plain values, made from the state after the act `seen`."""
    store.keep_choice(view.file.engine, "layout", LAYING, kept, seen=seen, who=who())


def keep_cut(view: View, found: Standing, name: str) -> None:
    """Keep that a board is cut: one record with its parts and off-cuts."""
    planks = [(name, view.kept.plank_revision(name)) for name in view.kept.planks]
    detail = cut_record(found, name, planks)
    store.add_record(view.file.engine, CUT, name, detail, key=f"cut-{name}-{view.state.acts}", who=who())


def keep_uncut(view: View, found: Standing, name: str) -> None:
    """Keep that a board was noted as cut by mistake."""
    number = uncut(found, name)
    store.add_record(view.file.engine, CUT, name, UNDONE, corrects=number, key=f"uncut-{number}", who=who())


def strips_wanted(view: View) -> list[FrameStrips]:
    """Return what each frame pair asks for; raises where one cannot be designed."""
    return [FrameStrips(label, revision, tuple(design.order))
            for label in view.kept.frames for design, _, revision in [view.frame(label)]]  # fmt: skip


def frames_wanted(view: View) -> dict[str, str]:
    """Return the frame pairs to be made, each with the revision of its design."""
    return {label: view.kept.frame_revision(label) for label in view.kept.frames}


class Layings:
    """The searches of each boat, one at a time."""

    def latest(self, view: View) -> Job | None:
        """Return the search begun last, done or not."""
        found = jobs.latest(view.file.engine, LANE)
        return None if found is None else Job(view.file.engine, found)

    def begin(self, view: View, found: Standing) -> Job:
        """Begin a search unless one is under way; what the builder holds stays where it is.

        Raises
        ------
        BadBoard
            There are no boards, or nothing to lay.
        """
        if not found.boards:
            raise BadBoard("there are no boards to lay anything on; add them first.")
        if not found.parts:
            raise BadBoard("there is nothing to lay: no plank is drawn that is not cut already.")
        engine = view.file.engine
        return Job(engine, jobs.begin(engine, "laying boards", LANE, boards.asked(found), who()))


LAYINGS = Layings()
