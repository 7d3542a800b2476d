"""What the page that lines off a side works out: the lining, stealers, butts and their plan, fastenings, caulking."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from itertools import chain, count, pairwise
from typing import Any, Literal, get_args

import numpy as np

from scrieve import jobs, store
from scrieve.athand import AtHand
from scrieve.errors import BadPlank, NoSuchPlank, ScrieveError
from scrieve.fairing.result import FairHull
from scrieve.fairing.sides import thin_words
from scrieve.frames.choice import MadeFrom
from scrieve.jobs import butts as butts_job
from scrieve.planking import (
    Breach,
    ButtPlan,
    Caulking,
    CaulkingChoice,
    ClinkerFastenings,
    EndJoint,
    FasteningChoice,
    FasteningSchedule,
    Lining,
    LiningChoice,
    PlankEnds,
    ShellLayout,
    Stealer,
    StrakeChoice,
    breaches,
    caulking,
    clinker_fastenings,
    crossings_of,
    fastening_schedule,
    line_off,
    propose_stealers,
    seam_lengths,
)
from scrieve.planking.butts.plan import Progress
from scrieve.planking.butts.scarfs import SCARF_RULES
from scrieve.planking.choice import Joint
from scrieve.planking.lining.layout import unmarked_frames
from scrieve.revision import revision
from scrieve.stock.forms import board_from
from scrieve.web.lining.forms import SIDES, ButtsForm, boards_to_hand, joint_text, stock_text
from scrieve.web.people.who import who
from scrieve.web.settling import as_seen, keep_plank, keep_settled
from scrieve.web.studies import Studies, Study
from scrieve.web.views import View

Hand = Literal["pair", "port", "starboard"]
_linings: AtHand[Lining] = AtHand(12)
#: How long a search that is stopped for another has to end [s].
_STOPPING_S = 5.0


def butts_lane(hand: Hand) -> str:
    """Lane of the jobs that plan the butts of a side: one at a time."""
    return f"butts {hand}"


class Planned(jobs.Watched):
    """A plan of butts that is being looked for, or was; `content` names what it was asked from."""

    @property
    def content(self) -> str:
        """Names hull, lining and settings."""
        return str(self.job.what["content"])

    @property
    def most_s(self) -> float:
        """How long the search may take."""
        return float(self.given["settings"].seconds)

    @property
    def progress(self) -> Progress | None:
        """How the search stands."""
        found: Progress | None = self.so_far
        return found

    @property
    def study(self) -> Study[ButtPlan]:
        """The plan, or why there is none, once the search has ended."""
        found: Study[ButtPlan] = Study(self.content, self.result, self.error)
        if self.job.ended:
            found.done.set()
        return found


@dataclass(frozen=True, slots=True)
class PlankRun:
    """One plank of a strake, from joint to joint: where it runs, in words and in mm, and how its ends are finished."""

    first_mm: float
    last_mm: float
    first: str
    last: str
    length_mm: float
    ends: PlankEnds
    first_said: str
    last_said: str


class Side:
    """One side of the boat as it is lined off: what is stored of it, and all that comes of it.

    Parameters
    ----------
    view : View
        With the fair hull there.
    hand : str
        'pair', 'port' or 'starboard'.
    """

    def __init__(self, view: View, hand: Hand) -> None:
        self.view, self.hand = view, hand
        self.stored: Mapping[str, Any] = store.choices(view.file.engine, "lining").get(hand, {})

    @property
    def hull(self) -> FairHull:
        """The fair hull that the lining lies on; raises what `View.ready` and `Kept.hull` do."""
        return self._hull_of(self.choice)

    def _hull_of(self, choice: LiningChoice) -> FairHull:
        return self.view.hull_from(choice.hull)

    @property
    def hulls(self) -> tuple[MadeFrom, ...]:
        """What this side can be lined off from: both sides as one, and each side of its own that has marks."""
        own = {"pair": ("port", "starboard"), "port": ("port",), "starboard": ("starboard",)}[self.hand]
        there = {mark.side for mark in self.view.kept.marks}
        told = [name for name in get_args(MadeFrom) if name in own and {"P", "S"} <= there]
        return tuple(dict.fromkeys(["both", *told, self.choice.hull]))

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to know where it is lined off from one side's own marks, and these are few."""
        made_from = self.choice.hull
        return () if made_from == "both" else thin_words(self.view.kept.marks, SIDES[made_from], math.nan)

    @cached_property
    def choice(self) -> LiningChoice:
        """The lining as stored, or with what is usual."""
        if "choice" in self.stored:
            return LiningChoice.from_mapping(self.stored["choice"])
        thickness = self.view.boat.thickness_mm or 25.0
        return LiningChoice(f"{self.hand}, lined off", SIDES[self.hand], thickness_mm=thickness)  # type: ignore[arg-type]

    @cached_property
    def butts(self) -> ButtsForm:
        """How butts are judged and planned, as stored."""
        return ButtsForm.typed(self.stored.get("butts", {}))

    @cached_property
    def planks(self) -> Mapping[str, Any]:
        """Planks made of strakes: number of the strake -> names, of those still in the boat."""
        made = self.stored.get("planks", {})
        there = self.view.kept.planks
        return {number: [name for name in names if name in there] for number, names in made.items()}

    @classmethod
    def as_seen(cls, view: View, hand: Hand, sent: Mapping[str, str]) -> Side:
        """The side as the sender of a form saw it when he opened it."""
        found = cls(view, hand)
        found.stored = as_seen(view.file.engine, "lining", hand, sent) or {}
        return found

    def keep(self, sent: Mapping[str, str], **changes: Any) -> None:
        """Store what a form makes of some of what is chosen of this side; the rest stays as it is by now.

        Raises
        ------
        Conflict
            Somebody has changed the same since the form was opened.
        ScrieveError
            Both changes together cannot be laid.
        """

        def fit(both: Mapping[str, Any]) -> None:
            trial = Side(self.view, self.hand)
            trial.stored = both
            _ = trial.breaches, trial.fastenings, trial.caulked

        keep_settled(self.view.file.engine, "lining", self.hand, changes, sent, alone=False, fit=fit)

    @cached_property
    def content(self) -> str:
        """Names hull and choice, and so the lining."""
        return revision(self.view.kept.revision_of(self.choice.hull), self.choice)

    def lined(self, choice: LiningChoice) -> Lining:
        """Line the side off; raises as `line_off` does."""
        made_from = self.view.kept.revision_of(choice.hull)
        return _linings.get((made_from, revision(choice)), lambda: line_off(self._hull_of(choice), choice))

    @cached_property
    def lining(self) -> Lining:
        """The side lined off as stored; raises as `line_off` does."""
        return self.lined(self.choice)

    def stealers(self, patience_s: float) -> Study[tuple[Stealer, ...]]:
        """Stealers that the girth calls for, looked for aside; those already chosen come first."""
        studies: Studies = self.view.request.app.state.studies
        fixed = replace(self.choice, strakes=self.lining.strakes)
        return studies.get(
            self.view.state.revision,
            ("stealers", revision(fixed)),
            lambda tick: propose_stealers(self.hull, fixed, tick),
            patience_s,
        )

    # -- butts

    @cached_property
    def layout(self) -> ShellLayout:
        """The shell with the butts that are there."""
        unmarked = unmarked_frames(self.view.kept.frames, self.hull.stations)
        return self.butts.layout(self.lining, self.view.boat.units, unmarked)

    @cached_property
    def breaches(self) -> tuple[Breach, ...]:
        """Every breach of the chosen rules by the butts that are there."""
        return breaches(self.layout, self.butts.judged_by())

    @property
    def _plan_content(self) -> str:
        return revision(self.content, self.butts.mapping())

    @cached_property
    def planned(self) -> Planned | None:
        """The plan that is looked for, or was found, from what is stored now."""
        found = jobs.latest(self.view.file.engine, butts_lane(self.hand))
        if found is None or found.what["content"] != self._plan_content:
            return None
        return Planned(self.view.file.engine, found)

    def settle_butts(self, form: ButtsForm, sent: Mapping[str, str], *, plan: bool) -> None:
        """Keep how butts are judged and planned where it can be used, and look for a plan from it if asked to.

        Raises
        ------
        Conflict
            Somebody has changed the same since the form was opened.
        ScrieveError
            A value cannot be used; nothing was kept.
        """
        trial = Side(self.view, self.hand)
        trial.butts = form
        _ = trial.breaches, form.settings(self.choice.thickness_mm)
        if plan or form.stock:
            form.boards(self.view.boat.units)
        self.keep(sent, butts=form.mapping())
        if plan:
            Side(self.view, self.hand).begin_plan()

    def begin_plan(self) -> None:
        """Look for a plan of butts, aside; one that is being looked for from other settings is stopped.

        Raises
        ------
        BadPlank
            The settings cannot be used, or the search before does not end.
        """
        units, layout, engine = self.view.boat.units, self.layout, self.view.file.engine
        boards, rules = self.butts.boards(units), self.butts.judged_by()
        settings = self.butts.settings(self.choice.thickness_mm)
        before = jobs.latest(engine, butts_lane(self.hand))
        if before is not None and not before.ended and before.what["content"] != self._plan_content:
            running = Planned(engine, before)
            running.stop.set()
            if not running.done.wait(_STOPPING_S):
                raise BadPlank("the search before is still being stopped; try again in a moment.")
        what = butts_job.asked(self._plan_content, layout, boards, rules, settings)
        Planned(engine, jobs.begin(engine, "plan of butts", butts_lane(self.hand), what, who())).done.wait(0.3)

    def stop_plan(self) -> None:
        """End the search with the best so far."""
        if self.planned:
            self.planned.stop.set()

    def keep_plan(self, sent: Mapping[str, str]) -> None:
        """Take the butts of the plan over as those that are there.

        Raises
        ------
        ScrieveError
            There is no plan from what is stored now.
        """
        job = self.planned
        if job is None or job.result is None:
            raise ScrieveError("there is no plan of butts from these settings; plan them first.")
        layout = job.result.layout
        there = "\n".join(joint_text(joint, layout, self.butts.kind()) for joint in layout.joints)
        self.keep(sent, butts={**self.butts.mapping(), "there": there})

    def rack(self) -> str:
        """Lengths of the boards in the rack that give planks of this side, as typed; empty where none does."""
        rack = (board_from(one) for one in store.choices(self.view.file.engine, "board").values())
        thickness = self.choice.thickness_mm + self.choice.planing_mm
        widest = float(np.nanmin(np.nanmax(self.lining.width_mm, axis=1)))  # the least of the strakes' widest places
        return stock_text(boards_to_hand(rack, thickness, widest), self.view.boat.units)

    # -- planks

    def runs(self, strake: int, joints: tuple[EndJoint, ...] | None = None) -> tuple[PlankRun, ...]:
        """The planks of a strake, forward first, between the butts that are there and where nibs are let into it.

        Raises
        ------
        NoSuchPlank
            The lining has no such strake.
        """
        if not 1 <= strake <= self.lining.strakes:
            raise NoSuchPlank(f"strake {strake} is not in this lining, which has strakes 1 to {self.lining.strakes}.")
        layout = self.layout
        run = layout.run(strake)
        shown = layout.joints if joints is None else joints
        joints_at: dict[float, Joint] = {joint.x_mm: joint.kind for joint in shown if joint.strake == strake}
        cuts = set(joints_at)
        rule = SCARF_RULES.get(self.butts.joint)
        for nib in self.lining.nibs:
            if nib.receiver == strake:
                cuts.add(self.lining.frames[nib.frame].x_mm)
        at = [run.first_mm, *sorted(x for x in cuts if run.first_mm < x < run.last_mm), run.last_mm]
        names = {x: label for label, x in layout.frames if label in self.hull.stations}
        slope = rule.slope if rule else PlankEnds().scarf_slope
        nib_mm = rule.nib * self.choice.thickness_mm if rule else 0.0
        found = []
        for low, high in pairwise(at):
            first_joint, last_joint = (joints_at.get(x) or self.lining.end_at(strake, x) for x in (low, high))
            ends = PlankEnds(first_joint, last_joint, slope, nib_mm)
            first, last = (names.get(x, f"{x:.1f}") for x in (low, high))
            found.append(
                PlankRun(low, high, first, last, run.length_to(high) - run.length_to(low), ends, layout.where(low),
                         layout.where(high))
            )  # fmt: skip
        return tuple(found)

    def usual_name(self, strake: int, which: int, of: int) -> str:
        """What plank `which` of so many of a strake is called unless the builder says otherwise.

        Its own name if it was made before; else one that no other plank of the boat has.
        """
        kept, made = self.view.kept.planks, self.planks.get(str(strake), [])
        usual = f"strake {strake}" + (f"-{which}" if of > 1 else "")
        word = {"pair": "lined off"}.get(self.hand, self.hand)
        names = chain([usual, f"{usual} {word}"], (f"{usual} {word} {n}" for n in count(2)))
        return next(name for name in names if name in made or name not in kept)

    def make_plank(self, strake: int, which: int, name: str, sent: Mapping[str, str]) -> str:
        """Put one plank of a strake into the boat's planks, once it has been drawn; return its name.

        Raises
        ------
        Conflict
            It is there already, and was changed since the form `sent` was opened.
        ScrieveError
            The name is taken, there is no such plank, or it cannot be drawn.
        """
        runs = self.runs(strake)
        if not 1 <= which <= len(runs):
            raise NoSuchPlank(f"strake {strake} has planks 1 to {len(runs)} as its butts stand.")
        run = runs[which - 1]
        name = name.strip() or self.usual_name(strake, which, len(runs))
        kept = self.view.kept
        made = self.planks.get(str(strake), [])
        if name in kept.planks and name not in made:
            raise NoSuchPlank(f"a plank {name!r} is there already, made from something else; give another name.")
        choice: StrakeChoice = self.lining.strake(strake, name, first=run.first, last=run.last, ends=run.ends)
        entry = {"kind": "strake", "choice": _plain(asdict(choice))}

        keep_plank(self.view, name, entry, sent)
        there = Side(self.view, self.hand).planks  # another may have been made while this one was drawn
        made = [other for other in there.get(str(strake), []) if other != name]
        self.keep({}, planks={**there, str(strake): [*made, name]})
        return name

    def states(self) -> dict[int, str]:
        """State of each strake, as the drawing hatches it."""
        found = {run.number: "to be renewed" for run in self.layout.strakes if run.renew and self.butts.renew}
        return found | {int(number): "a plank" for number, names in self.planks.items() if names}

    # -- fastenings and caulking, of one side

    @cached_property
    def fastening_choice(self) -> FasteningChoice:
        """How the planking is fastened, as stored; its thickness is the lining's."""
        given = {**self.stored.get("fastening", {}), "thickness_mm": self.choice.thickness_mm}
        return FasteningChoice.from_mapping(given)

    @cached_property
    def fastenings(self) -> FasteningSchedule:
        """The schedule of one side; raises as `fastening_schedule` does."""
        butts: dict[int, int] = {}
        for joint in self.layout.joints:
            butts[joint.strake] = butts.get(joint.strake, 0) + 1
        hoods = {nib.stealer.strake: 1 for nib in self.lining.nibs}
        return fastening_schedule(crossings_of(self.lining), self.fastening_choice, butts=butts, hood_ends=hoods)

    @cached_property
    def nails(self) -> ClinkerFastenings | None:
        """Nails and roves of one side along its lands; None for carvel."""
        if self.choice.build != "clinker":
            return None
        chosen = self.fastening_choice
        return clinker_fastenings(self.lining, spares=chosen.spares, hood_end=chosen.hood_end)

    @cached_property
    def caulking_choice(self) -> CaulkingChoice:
        """How seams are caulked, as stored; the thickness is the lining's."""
        given = {**self.stored.get("caulking", {}), "thickness_mm": self.choice.thickness_mm}
        return CaulkingChoice.from_mapping(given)

    @cached_property
    def caulked(self) -> Caulking:
        """Quantities of one side; raises as `caulking` does."""
        widths: dict[int, float] = {}
        x = [frame.x_mm for frame in self.lining.frames]
        for joint in self.layout.joints:
            near = min(range(len(x)), key=lambda k: abs(x[k] - joint.x_mm))
            width = float(self.lining.width_mm[joint.strake - 1, near])
            widths[joint.strake] = widths.get(joint.strake, 0.0) + (width if width == width else 0.0)
        return caulking(seam_lengths(self.lining, widths), self.caulking_choice)


def _plain(value: Any) -> Any:
    """Tuples as lists, as they come back from the store."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, (list, tuple)) else value
