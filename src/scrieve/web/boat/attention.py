"""What needs attention on the boat, from what is stored: each with the page where it is seen to."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache, partial

from scrieve import store
from scrieve.errors import ScrieveError
from scrieve.jobs.work_plan import PLAN
from scrieve.stock.standing import LAYING
from scrieve.web.addresses import asked, frame_path
from scrieve.web.boat.member_states import suspects
from scrieve.web.fairing.dented import open_dents
from scrieve.web.fairing.look import Look
from scrieve.web.fairing.sides import lopsided
from scrieve.web.frames.progress import Progress
from scrieve.web.glue_up.curing import curing_of, hour_told
from scrieve.web.timber.work import timber
from scrieve.web.views import View
from scrieve.web.workplan import work as plan_work
from scrieve.wording import in_units
from scrieve.workplan.kinds import KINDS, MemberKind, links
from scrieve.workplan.members import Did, on_jigs
from scrieve.workplan.plan import Plan

#: Tells what stands done, reading the records when it is first asked.
Stands = Callable[[], Mapping[str, Did]]

#: Hold points told one by one; more are counted.
_MOST_HOLDS = 4
#: Dented frames told.
_MOST_DENTS = 3


@dataclass(frozen=True, slots=True)
class Matter:
    """One thing that needs attention: what, the particulars, where it leads, and what the link there says.

    `marks` are those that are kept where the builder finds that the hull is so.
    """

    what: str
    told: str
    path: str
    do: str
    marks: tuple[int, ...] = ()


def attention(view: View, frames: Sequence[Progress], now: datetime | None = None) -> tuple[Matter, ...]:
    """Return what needs attention, what stops the work first.

    Parameters
    ----------
    view : View
    frames : sequence of Progress
        How far each frame is.
    now : datetime, optional
        With a zone; the clock's, unless given.
    """
    at = now or datetime.now(UTC)
    done = cache(partial(_done, view))
    return (
        *_ready(view, frames, at, done),
        *_holds(view, done),
        *_stale(frames),
        *_sides(view),
        *_dents(view),
        *_suspects(view),
        *_timber(view),
    )


def _done(view: View) -> Mapping[str, Did]:
    """What stands done, as the plan has it."""
    try:
        return plan_work.done(store.records(view.file.engine), plan_work.yard_of(view.file.engine).jigs)
    except ScrieveError:
        return {}


def _ready(view: View, frames: Sequence[Progress], now: datetime, stands: Stands) -> list[Matter]:
    """Frames glued and not measured: those whose clamps may come off, and those that are off the jig already."""
    glued = [each for each in frames if each.step == "glued"]
    if not glued:
        return []
    done, found = stands(), []
    on = on_jigs(done)
    for frame in glued:
        path = asked("/release", frame=frame.label) + "#measure"
        release, rip = (done.get(f"frame {frame.label}: {key}") for key in ("release", "rip"))
        curing = curing_of(view.file.engine, frame.label)
        if f"frame {frame.label}: glue" in done and frame.label not in on:
            if rip is None:
                said = f"it was released {release.finished:%Y-%m-%d}" if release and release.finished else (
                    "another frame has been glued on its jig since")  # fmt: skip
                told = f"{said}, and its shape is not written down; measure it before it is ripped"
                found.append(Matter(f"Frame {frame.label} is off the jig, not measured", told, path, "measure it"))
        elif curing is not None and curing.off is not None and curing.off <= now:
            told = f"the clamps may come off since {hour_told(curing.off)}; measure it as it comes off the jig"
            found.append(Matter(f"Frame {frame.label} is ready to release", told, path, "measure it"))
    return found


def _holds(view: View, stands: Stands) -> list[Matter]:
    """Hold points of the kept plan before which everything of the member is finished."""
    kept = store.choices(view.file.engine, "yard").get(PLAN)
    if kept is None:
        return []
    try:
        entries = Plan.from_mapping(kept).entries
        ready_first = plan_work.yard_of(view.file.engine).hull.ready_first
    except ScrieveError:
        return []
    done = stands()
    left = {entry.op for entry in entries if entry.op not in done or done[entry.op].finished is None}
    before = {kind: links(kind, ready_first) for kind in KINDS}
    waiting = []
    for entry in entries:
        member, _, key = entry.op.rpartition(": ")
        kind: MemberKind = "frame" if member.startswith("frame ") else "plank"
        if entry.kind.hold and entry.op in left:
            first = [one for one, then, _ in before[kind] if then == key]
            if not any(f"{member}: {one}" in left for one in first):
                waiting.append((member, entry.kind.words))
    found = [
        Matter(f"A hold point waits: {member}", words, asked("/plan/waits", member=member), "look and sign")
        for member, words in waiting[:_MOST_HOLDS]
    ]
    if more := len(waiting) - len(found):
        found.append(
            Matter(f"{more} more hold points wait", "work stops at each until it is signed", "/plan/waits", "look")
        )
    return found


def _stale(frames: Sequence[Progress]) -> list[Matter]:
    return [
        Matter(f"Frame {frame.label} is out of date", frame.stale, frame_path(frame.label) + "#history", "look at it")
        for frame in frames
        if frame.stale
    ]


def _sides(view: View) -> list[Matter]:
    hull = view.hull
    frames = lopsided(view.kept.marks, hull) if hull else ()
    if not frames:
        return []
    shown = ", ".join(frames[:8]) + ("…" if len(frames) > 8 else "")
    told = f"at {len(frames)} frames ({shown}); faired as one, one of them is thrown out"
    return [Matter("Port and starboard do not belong to one hull", told, "/fairing?show=sides", "compare them")]


def _dents(view: View) -> list[Matter]:
    """Frames that stand in or out as a whole, the worst ones, but for those of which every mark is kept."""
    return [
        Matter(
            "A dent, or a frame out of place",
            in_units(dent.told(), view.boat.units).removesuffix("."),
            f"{Look('frame', frame=dent.frame).path()}#dents",
            "look at it",
            dent.marks,
        )
        for dent in open_dents(view, view.hull)[:_MOST_DENTS]
    ]


def _suspects(view: View) -> list[Matter]:
    found = suspects(view)
    if not found:
        return []
    labels = list(dict.fromkeys(mark.frame for mark, _ in found))
    shown = ", ".join(labels[:8]) + ("…" if len(labels) > 8 else "")
    what = "One suspect mark" if len(found) == 1 else f"{len(found)} suspect marks"
    told = f"frame{'s' if len(labels) > 1 else ''} {shown}; off the fair hull, not counted"
    return [Matter(what, told, "#suspects", "keep, drop or measure again")]


def _timber(view: View) -> list[Matter]:
    if LAYING not in store.choices(view.file.engine, "layout"):
        return []
    found = timber(view)
    if found.stale:
        told = "boards, planks or rules have changed since the parts were laid"
        return [Matter("The laying on boards is out of date", told, "/timber", "lay them again")]
    if missing := found.at_hand.missing:
        what = "Boards are short"
        shown = ", ".join(missing[:6]) + ("…" if len(missing) > 6 else "")
        return [Matter(what, f"{len(missing)} parts found no room: {shown}", "/timber#lists", "what to order")]
    return []
